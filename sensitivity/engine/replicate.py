"""The replicate: the one unit of work.

Two samples A and B of ``points`` rows, A with each group's columns from B, their results, and
a small summary. Rows are evaluated in blocks that fit the cache, and only what a swapped column
reaches is computed again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.indices import (
    first_and_total,
    load_estimators,
    scale,
    second_order,
)
from sensitivity.engine.kept_moments import QUANTILES as QUANTILES
from sensitivity.engine.kept_moments import kept_moments
from sensitivity.engine.plan import Group, Plan
from sensitivity.engine.sampling import draw, replicate_uniforms
from sensitivity.system.system import Values, inside_range

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Drawn = dict[str, Floats]

BLOCK = 8192
"""Rows evaluated at a time: few enough for a core's own cache, and enough that the price of each
call to the array library, some hundred a model, does not tell."""

TOGETHER, KEPT_TOGETHER = 8, 1 << 15
"""Groups swapped in one call at most, and rows of theirs that are kept at once: what none of them
reaches is computed once for all."""

KEPT_FAILURES = 512
FEWEST_VALID = 0.99
"""Share of rows with an answer below which an output has no indices."""


@dataclass(frozen=True)
class Summary:
    """What is kept of one replicate; k outputs, l limits, g groups.

    ``first`` and ``total`` (k + 1, g) hold NaN where an output has no index in this
    replicate; the last row is of the pass/fail result. ``second`` is (k + 1, g, g), upper
    triangle. ``flips`` (g,) are the rows that pass or fail otherwise with a group's columns
    swapped. ``ranges`` (k, 2, s) are the ends of ranges that hold 95 % of the rows, from the
    lowest to the highest. ``failing`` (m, d) are the positions 0..1 of failing rows in each input's
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
    ranges: Floats
    extremes: Floats
    passes: NDArray[np.int64]
    passes_all: int
    first: Floats
    total: Floats
    second: Floats | None
    flips: NDArray[np.int64]
    failing: Floats
    sample: dict[str, Floats] | None


def one_replicate(plan: Plan, replicate: int) -> Summary:
    """Sample, evaluate and summarise one replicate; the same wherever it runs."""
    if plan.groups:
        load_estimators(pairs=plan.pairs)
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
    a, b = (_results(plan, sample) for sample in samples)
    met_all = np.concatenate([a.met_all, b.met_all])
    positions = _positions(plan, uniforms, np.flatnonzero(~met_all)[:KEPT_FAILURES])
    del uniforms  # half of what a large replicate holds
    swaps = _swap(plan, samples, a, b)
    keep = plan.keep_samples or replicate == 0
    return Summary(
        rows=met_all.size,
        evaluations=met_all.size + swaps.evaluations,
        invalid_evaluations=a.invalid + b.invalid + swaps.invalid,
        outside=outside,
        **kept_moments(a.outputs, b.outputs),
        passes=a.passes + b.passes,
        passes_all=int(np.count_nonzero(met_all)),
        first=swaps.first,
        total=swaps.total,
        second=swaps.second,
        flips=swaps.flips,
        failing=positions,
        sample=_sample(plan, samples, (a.outputs, b.outputs), met_all) if keep else None,
    )


def _positions(plan: Plan, uniforms: tuple[Drawn, Drawn], rows: NDArray[np.intp]) -> Floats:
    """Positions (m, d) of rows of both samples in each varying input's spread."""
    points = plan.sampling.points
    columns = []
    for item in plan.varying:
        first, second = (sample[item.name] for sample in uniforms)
        columns.append(
            np.concatenate([first[rows[rows < points]], second[rows[rows >= points] - points]])
        )
    return np.stack(columns, axis=1)


@dataclass(frozen=True)
class Evaluated:
    """Outputs (k, n) of one sample, which rows meet all limits, and how many meet each (l,)."""

    outputs: Floats
    met_all: Flags
    passes: NDArray[np.int64]
    invalid: int

    def column(self, row: int) -> Floats:
        """One output, or the pass/fail result behind the last of them."""
        return self.outputs[row] if row < len(self.outputs) else self.met_all.astype(np.float64)


@dataclass(frozen=True)
class Swaps:
    """What the column-swapped samples gave; arrays as in ``Summary``."""

    evaluations: int
    invalid: int
    first: Floats
    total: Floats
    second: Floats | None
    flips: NDArray[np.int64]


def row_blocks(rows: int, block: int = BLOCK) -> Iterator[slice]:
    """Cut rows into blocks that fit the cache."""
    for start in range(0, rows, block):
        yield slice(start, min(start + block, rows))


def cut_rows(values: Values, rows: slice) -> Values:
    """Take a block of rows; held inputs stay numbers."""
    return {
        name: value[rows] if isinstance(value, np.ndarray) else value
        for name, value in values.items()
    }


def _results(
    plan: Plan,
    sample: Values,
    known: Evaluated | None = None,
    changed: frozenset[str] = frozenset(),
) -> Evaluated:
    """Evaluate a sample in blocks; only what ``changed`` reaches if results are known."""
    outputs = np.empty((len(plan.outputs), plan.sampling.points))
    for rows in row_blocks(plan.sampling.points):
        before = None
        if known is not None:
            before = dict(zip(plan.outputs, known.outputs[:, rows], strict=True))
        answer = plan.system.evaluate(cut_rows(sample, rows), before, changed)
        for row, name in enumerate(plan.outputs):
            outputs[row, rows] = answer[name]
    return _evaluated(plan, outputs)


def _evaluated(plan: Plan, outputs: Floats) -> Evaluated:
    """See which rows of outputs (k, n) have an answer, and which limits they meet."""
    valid: Flags = np.logical_and.reduce(np.isfinite(outputs), axis=0)
    met = passing_rows(plan, outputs, valid)
    return Evaluated(
        outputs=outputs,
        met_all=np.logical_and.reduce(met, axis=0),
        passes=np.count_nonzero(met, axis=1).astype(np.int64),
        invalid=int(np.count_nonzero(~valid)),
    )


def _swap(plan: Plan, samples: list[Values], a: Evaluated, b: Evaluated) -> Swaps:
    """Evaluate A with each group's columns from B and take its indices, one group at a time.

    Groups that reach the same models go some at a time through one call. Only for pairs are the
    swapped results kept, with those of B with each group from A.
    """
    rows = range(len(plan.outputs) + (1 if plan.limits else 0))
    shape = (len(plan.outputs) + 1, len(plan.groups))
    first, total = np.full(shape, np.nan), np.full(shape, np.nan)
    columns = [(a.column(row), b.column(row)) for row in rows]
    scales = [scale(*each) for each in columns]
    whole = [bool(np.isfinite(one).all() and np.isfinite(other).all()) for one, other in columns]
    invalid = 0
    kept: dict[int, tuple[Evaluated, Evaluated]] = {}
    flips = np.zeros(len(plan.groups), dtype=np.int64)
    for place, swapped in _each_swapped(plan, samples[0], samples[1], a):
        group = plan.groups[place]
        invalid += swapped.invalid
        flips[place] = np.count_nonzero(swapped.met_all != a.met_all)
        if plan.pairs:
            back = _results(
                plan, _exchanged(samples[1], samples[0], group), b, frozenset(group.inputs)
            )
            invalid += back.invalid
            kept[place] = swapped, back
        reached = reached_rows(plan, group)
        for row in rows:
            scaling = scales[row]
            if scaling is None:
                continue
            if whole[row] and not reached[row]:
                first[row, place] = total[row, place] = 0.0
                continue
            of_group = swapped.column(row)
            if whole[row]:
                found = first_and_total(scaling, *columns[row], of_group)
                if np.isfinite(found[1]):
                    first[row, place], total[row, place] = found
                    continue
            left = whole_rows(*columns[row], of_group)
            if left is not None:
                first[row, place], total[row, place] = first_and_total(scaling, *left)
    return Swaps(
        evaluations=plan.sampling.points * len(plan.groups) * (2 if plan.pairs else 1),
        invalid=invalid,
        first=first,
        total=total,
        second=_pairs(plan, a, b, kept) if plan.pairs else None,
        flips=flips,
    )


def reached_rows(plan: Plan, group: Group) -> list[bool]:
    """Tell which outputs, and pass or fail behind them, a group of inputs can change."""
    models = set(plan.system.reached(frozenset(group.inputs)))
    found = [model.name in models for model in plan.system.models for _ in model.results]
    return [*found, True]


def _each_swapped(
    plan: Plan, base: Values, other: Values, known: Evaluated
) -> Iterator[tuple[int, Evaluated]]:
    """Evaluate a sample with each group's columns from the other: the group's place, its results.

    The plan's system takes crossed arrays (``crossing_plan``): a column is (1, n) where no group of
    the call has it, (k, n) where one of them does.
    """
    points = plan.sampling.points
    most = max(1, min(TOGETHER, KEPT_TOGETHER // points))
    alike: dict[tuple[str, ...], list[int]] = {}
    for place, group in enumerate(plan.groups):
        alike.setdefault(plan.system.reached(frozenset(group.inputs)), []).append(place)
    for places in alike.values():
        for start in range(0, len(places), most):
            some = places[start : start + most]
            groups = [plan.groups[place] for place in some]
            yield from zip(some, _swapped_together(plan, base, other, known, groups), strict=True)


def _swapped_together(
    plan: Plan, base: Values, other: Values, known: Evaluated, groups: Sequence[Group]
) -> list[Evaluated]:
    changed = frozenset(name for group in groups for name in group.inputs)
    names = changed.union(*(plan.system.sources[m] for m in plan.system.reached(changed)))
    points, count = plan.sampling.points, len(groups)
    outputs = np.empty((count, len(plan.outputs), points))
    for rows in row_blocks(points, max(1, BLOCK // count)):
        values: dict[str, Floats | float] = {}
        for name in names & base.keys():
            value = base[name]
            values[name] = value[None, rows] if isinstance(value, np.ndarray) else value
        for name in changed:
            column = np.repeat(np.asarray(base[name])[None, rows], count, axis=0)
            for place, group in enumerate(groups):
                if name in group.inputs:
                    column[place] = np.asarray(other[name])[rows]
            values[name] = column
        before = {name: known.outputs[row, None, rows] for row, name in enumerate(plan.outputs)}
        answer = plan.system.evaluate(values, before, changed)
        for row, name in enumerate(plan.outputs):
            outputs[:, row, rows] = answer[name]
    return [_evaluated(plan, each) for each in outputs]


def _exchanged(base: Values, other: Values, group: Group) -> Values:
    return {**base, **{name: other[name] for name in group.inputs}}


def _pairs(
    plan: Plan, a: Evaluated, b: Evaluated, kept: Mapping[int, tuple[Evaluated, Evaluated]]
) -> Floats:
    """Second-order indices (k + 1, g, g) from the swapped samples, upper triangle."""
    groups = len(plan.groups)
    second = np.full((len(plan.outputs) + 1, groups, groups), np.nan)
    for row in range(len(plan.outputs) + (1 if plan.limits else 0)):
        scaling = scale(a.column(row), b.column(row))
        if scaling is None:
            continue
        for j, k in combinations(range(groups), 2):
            columns = whole_rows(
                a.column(row),
                b.column(row),
                kept[j][0].column(row),
                kept[k][0].column(row),
                kept[j][1].column(row),
            )
            if columns is not None:
                second[row, j, k] = second_order(scaling, *columns)
    return second


def whole_rows(*columns: Floats) -> tuple[Floats, ...] | None:
    """Keep the rows in which every column (n,) has an answer; None if too few do."""
    whole = np.isfinite(sum(columns))
    if whole.all():
        return columns
    whole = np.logical_and.reduce([np.isfinite(column) for column in columns])
    if whole.mean() < FEWEST_VALID:
        return None
    return tuple(column[whole] for column in columns)


def passing_rows(plan: Plan, results: Floats, valid: Flags) -> Flags:
    """Mark which limits (l, n) each row meets; a row without an answer meets none."""
    met = np.empty((len(plan.limits), results.shape[1]), dtype=np.bool_)
    for row, limit in enumerate(plan.limits):
        values = results[plan.outputs.index(limit.result)]
        met[row] = valid & limit.met(values)
    return met


def _sample(
    plan: Plan, samples: list[Values], outputs: tuple[Floats, Floats], met: Flags
) -> dict[str, Floats]:
    """Keep the rows of A and B themselves: varying inputs, outputs, and whether all limits hold."""
    kept = {
        item.name: np.concatenate([np.asarray(values[item.name]) for values in samples])
        for item in plan.varying
    }
    kept |= {
        name: np.concatenate([table[row] for table in outputs])
        for row, name in enumerate(plan.outputs)
    }
    kept["meets_all_limits"] = met.astype(np.float64)
    return kept
