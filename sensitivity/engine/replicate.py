"""The replicate: the one unit of work.

Two samples A and B of ``points`` rows, A with each group's columns from B, their results, and
a small summary. Rows are evaluated in blocks that fit the cache, and only what a swapped column
reaches is computed again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.blocks import BLOCK as BLOCK
from sensitivity.engine.blocks import cut_rows as cut_rows
from sensitivity.engine.blocks import evaluate_sample
from sensitivity.engine.blocks import passing_rows as passing_rows
from sensitivity.engine.blocks import row_blocks as row_blocks
from sensitivity.engine.column_swaps import FEWEST_VALID as FEWEST_VALID
from sensitivity.engine.column_swaps import swap_columns
from sensitivity.engine.indices import load_estimators
from sensitivity.engine.kept_moments import QUANTILES as QUANTILES
from sensitivity.engine.kept_moments import kept_moments
from sensitivity.engine.plan import Plan
from sensitivity.engine.sampling import draw, replicate_uniforms
from sensitivity.system.system import Values, inside_range

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

KEPT_FAILURES, KEPT_IN_ALL = 512, 1 << 16
"""Failing rows that are kept of one replicate at most, and of all replicates together."""


def kept_failures(plan: Plan) -> int:
    """Find how many failing rows a replicate keeps: of very many replicates, fewer of each."""
    return max(1, min(KEPT_FAILURES, KEPT_IN_ALL // plan.sampling.replicates))


@dataclass(frozen=True)
class Summary:
    """What is kept of one replicate; k outputs, l limits, g groups.

    ``first`` and ``total`` (k + 1, g) hold NaN where an output has no index in this
    replicate; the last row is of the pass/fail result. ``second`` is (k + 1, g, g), upper
    triangle. ``flips`` (g,) are the rows that pass or fail otherwise with a group's columns
    swapped. ``ranges`` (k, 2, s) are the ends of ranges that hold 95 % of the rows, from the
    lowest to the highest. ``failing`` (m, d) are the positions 0..1 of failing rows in each input's
    spread, at most ``kept_failures`` of them.
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
    samples: list[Values] = []
    outside: dict[str, int] = {}
    for drawn in (draw(plan, one) for one in replicate_uniforms(plan, replicate)):
        inside = {}
        for quantity in plan.system.inputs:
            inside[quantity.name], count = inside_range(drawn[quantity.name], quantity)
            if count:
                outside[quantity.name] = outside.get(quantity.name, 0) + count
        samples.append(inside)
    a, b = (evaluate_sample(plan, sample) for sample in samples)
    met_all = np.concatenate([a.met_all, b.met_all])
    swaps = swap_columns(plan, samples, a, b)
    keep = plan.keep_samples or replicate == 0
    sample = _sample(plan, samples, (a.outputs, b.outputs), met_all) if keep else None
    moments = kept_moments(a.outputs, b.outputs)
    invalid, passes = a.invalid + b.invalid + swaps.invalid, a.passes + b.passes
    del samples, a, b  # what the positions want is as large
    return Summary(
        rows=met_all.size,
        evaluations=met_all.size + swaps.evaluations,
        invalid_evaluations=invalid,
        outside=outside,
        **moments,
        passes=passes,
        passes_all=int(np.count_nonzero(met_all)),
        first=swaps.first,
        total=swaps.total,
        second=swaps.second,
        flips=swaps.flips,
        failing=_positions(plan, replicate, np.flatnonzero(~met_all)[: kept_failures(plan)]),
        sample=sample,
    )


def _positions(plan: Plan, replicate: int, rows: NDArray[np.intp]) -> Floats:
    """Positions (m, d) of rows of both samples in each varying input's spread.

    They are drawn again, which takes a hundredth of a replicate's time; while models are evaluated
    they would be half of what it holds.
    """
    if rows.size == 0:
        return np.empty((0, len(plan.varying)))
    points, uniforms = plan.sampling.points, replicate_uniforms(plan, replicate)
    columns = []
    for item in plan.varying:
        first, second = (sample[item.name] for sample in uniforms)
        columns.append(
            np.concatenate([first[rows[rows < points]], second[rows[rows >= points] - points]])
        )
    return np.stack(columns, axis=1)


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
