"""The replicate: the one unit of work.

Two samples A and B of ``points`` rows, A with each group's columns from B, their results, and
a small summary. Rows are evaluated in blocks that fit the cache, and only what a swapped column
reaches is computed again.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from sensitivity.indices import first_and_total, second_order, standardised
from sensitivity.plan import Plan
from sensitivity.sampling import draw, replicate_uniforms
from sensitivity.system import Values, inside_range

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

BLOCK = 2048
"""Rows evaluated at a time: some tens of such arrays fit a core's own cache."""

QUANTILES = (0.005, 0.025, 0.05, 0.25, 0.5, 0.75, 0.95, 0.975, 0.995)
COVERAGE = 0.95
KEPT_FAILURES = 512
FEWEST_VALID = 0.99
"""Share of rows with an answer below which an output has no indices."""


@dataclass(frozen=True)
class Summary:
    """What is kept of one replicate; k outputs, l limits, g groups.

    ``first`` and ``total`` (k + 1, g) hold NaN where an output has no index in this
    replicate; the last row is of the pass/fail result. ``second`` is (k + 1, g, g), upper
    triangle. ``failing`` (m, d) are the positions 0..1 of failing rows in each input's
    spread, at most ``KEPT_FAILURES`` of them.
    """

    rows: int
    evaluations: int
    invalid_evaluations: int
    outside: dict[str, int]
    invalid: NDArray[np.int64]
    mean: Floats
    deviation: Floats
    quantiles: Floats
    shortest: Floats
    extremes: Floats
    largest_share: Floats
    passes: NDArray[np.int64]
    passes_all: int
    first: Floats
    total: Floats
    second: Floats | None
    failing: Floats
    sample: dict[str, Floats] | None


def one_replicate(plan: Plan, replicate: int) -> Summary:
    """Sample, evaluate and summarise one replicate; the same wherever it runs."""
    uniforms = replicate_uniforms(plan, replicate)
    samples: list[Values] = []
    outside: dict[str, int] = {}
    for drawn in (draw(plan, one) for one in uniforms):
        inside = {}
        for quantity in plan.system.inputs:
            inside[quantity.name], count = inside_range(drawn[quantity.name], quantity)
            if count:
                outside[quantity.name] = outside.get(quantity.name, 0) + count
        samples.append(inside)
    results = _evaluate(plan, samples[0], samples[1])
    valid: list[Flags] = [np.logical_and.reduce(np.isfinite(table), axis=0) for table in results]
    passing = [passing_rows(plan, table, ok) for table, ok in zip(results, valid, strict=True)]
    both = np.concatenate(results[:2], axis=1)
    met = np.concatenate(passing[:2], axis=1)
    met_all: Flags = np.logical_and.reduce(met, axis=0)
    first, total, second = _indices(
        plan, results, [np.logical_and.reduce(table, axis=0) for table in passing]
    )
    failing = np.flatnonzero(~met_all)[:KEPT_FAILURES]
    positions = np.stack(
        [
            np.concatenate([uniforms[0][item.name], uniforms[1][item.name]])[failing]
            for item in plan.varying
        ],
        axis=1,
    )
    keep = plan.keep_samples or replicate == 0
    return Summary(
        rows=both.shape[1],
        evaluations=sum(ok.size for ok in valid),
        invalid_evaluations=sum(int(np.count_nonzero(~ok)) for ok in valid),
        outside=outside,
        invalid=np.count_nonzero(np.isnan(both), axis=1).astype(np.int64),
        **_moments(both),
        passes=np.count_nonzero(met, axis=1).astype(np.int64),
        passes_all=int(np.count_nonzero(met_all)),
        first=first,
        total=total,
        second=second,
        failing=positions,
        sample=_sample(plan, samples, both, met_all) if keep else None,
    )


def row_blocks(rows: int) -> Iterator[slice]:
    """Cut rows into blocks that fit the cache."""
    for start in range(0, rows, BLOCK):
        yield slice(start, min(start + BLOCK, rows))


def cut_rows(values: Values, rows: slice) -> Values:
    """Take a block of rows; held inputs stay numbers."""
    return {
        name: value[rows] if isinstance(value, np.ndarray) else value
        for name, value in values.items()
    }


def _evaluate(plan: Plan, a: Values, b: Values) -> list[Floats]:
    """Evaluate A, B, then A with each group from B, then (for pairs) B with each from A.

    Returns arrays (k, points).
    """
    groups = plan.groups
    count = 2 + len(groups) * (2 if plan.pairs else 1)
    tables = [np.empty((len(plan.outputs), plan.sampling.points)) for _ in range(count)]
    for rows in row_blocks(plan.sampling.points):
        block_a, block_b = cut_rows(a, rows), cut_rows(b, rows)
        known_a = plan.system.evaluate(block_a)
        known_b = plan.system.evaluate(block_b)
        answers = [known_a, known_b]
        swaps = [(block_a, block_b, known_a)]
        if plan.pairs:
            swaps.append((block_b, block_a, known_b))
        for base, other, known in swaps:
            for group in groups:
                swapped = {**base, **{name: other[name] for name in group.inputs}}
                answers.append(plan.system.evaluate(swapped, known, frozenset(group.inputs)))
        for table, answer in zip(tables, answers, strict=True):
            for row, name in enumerate(plan.outputs):
                table[row, rows] = answer[name]
    return tables


def passing_rows(plan: Plan, results: Floats, valid: Flags) -> Flags:
    """Mark which limits (l, n) each row meets; a row without an answer meets none."""
    met = np.empty((len(plan.limits), results.shape[1]), dtype=np.bool_)
    for row, limit in enumerate(plan.limits):
        values = results[plan.outputs.index(limit.result)]
        met[row] = valid
        if limit.at_least is not None:
            met[row] &= values >= limit.at_least
        if limit.at_most is not None:
            met[row] &= values <= limit.at_most
    return met


def _moments(results: Floats) -> dict[str, Floats]:
    """Moments, quantiles, shortest interval and extremes of each output over its answers."""
    count = results.shape[0]
    found = {
        "mean": np.full(count, np.nan),
        "deviation": np.full(count, np.nan),
        "quantiles": np.full((count, len(QUANTILES)), np.nan),
        "shortest": np.full((count, 2), np.nan),
        "extremes": np.full((count, 2), np.nan),
        "largest_share": np.full(count, np.nan),
    }
    for row, values in enumerate(results):
        ordered = np.sort(values)
        ordered = ordered[: ordered.size - np.count_nonzero(np.isnan(values))]
        if ordered.size < 2:
            continue
        found["mean"][row] = mean = ordered.mean()
        squares = (ordered - mean) ** 2
        # Over n, not n - 1: the mean of a low-discrepancy sample is all but exact, so the usual
        # correction for its scatter would itself be a bias, larger than the interval.
        found["deviation"][row] = np.sqrt(squares.sum() / ordered.size)
        found["quantiles"][row] = np.interp(
            np.asarray(QUANTILES) * ordered.size - 0.5, np.arange(ordered.size), ordered
        )
        found["extremes"][row] = ordered[0], ordered[-1]
        total = squares.sum()
        found["largest_share"][row] = max(squares[0], squares[-1]) / total if total > 0 else 0.0
        width = int(np.ceil(COVERAGE * ordered.size))
        if width < ordered.size:
            start = int(np.argmin(ordered[width:] - ordered[:-width]))
            found["shortest"][row] = ordered[start], ordered[start + width]
    return found


def _indices(
    plan: Plan, results: list[Floats], passing: list[Flags]
) -> tuple[Floats, Floats, Floats | None]:
    """Indices of every output and of the pass/fail result, from tables (k, n) in sample order."""
    outputs, groups = len(plan.outputs), len(plan.groups)
    first = np.full((outputs + 1, groups), np.nan)
    total = np.full((outputs + 1, groups), np.nan)
    second = np.full((outputs + 1, groups, groups), np.nan) if plan.pairs else None
    if not groups:
        return first, total, second
    for row in range(outputs + 1):
        if row < outputs:
            columns = [table[row] for table in results]
        elif plan.limits:
            columns = [met.astype(np.float64) for met in passing]
        else:
            continue
        whole = np.isfinite(sum(columns))
        if not whole.all():
            if whole.mean() < FEWEST_VALID:
                continue
            columns = [column[whole] for column in columns]
        scaled = standardised(*columns)
        if scaled is None:
            continue
        a, b, *swapped = scaled
        for group in range(groups):
            first[row, group], total[row, group] = first_and_total(a, b, swapped[group])
        if second is not None:
            for j, k in combinations(range(groups), 2):
                second[row, j, k] = second_order(a, b, swapped[j], swapped[k], swapped[groups + j])
    return first, total, second


def _sample(plan: Plan, samples: list[Values], both: Floats, met: Flags) -> dict[str, Floats]:
    """Keep the rows of A and B themselves: varying inputs, outputs, and whether all limits hold."""
    kept = {
        item.name: np.concatenate([np.asarray(values[item.name]) for values in samples])
        for item in plan.varying
    }
    kept |= {name: both[row] for row, name in enumerate(plan.outputs)}
    kept["meets_all_limits"] = met.astype(np.float64)
    return kept
