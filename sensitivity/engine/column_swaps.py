"""Samples with columns swapped, and the indices that follow from them.

A with each group's columns from B is evaluated in blocks, several groups in one call, and what the
indices want of a block is summed while it is in the cache: no swapped result is kept.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.blocks import BLOCK, Evaluated, evaluate_sample, judged, row_blocks
from sensitivity.engine.indices import Scale, first_and_total, scale, second_order, step_sums
from sensitivity.engine.plan import Plan
from sensitivity.system.system import Values

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Counts = NDArray[np.int64]

TOGETHER = 4
"""Groups swapped in one call: what none of them reaches is computed once for all, and what only one
of them changes once for each. Of few points more of them, or a model that takes hundreds of passes,
such as a run through a schedule, would spend a call on a few rows."""

SWAPPED_BLOCK = 2 * BLOCK
"""Rows of theirs that are evaluated at a time: what is the same for all is a fourth of that. Twice
as many again would gain some hundredths, and hold twice as much."""

FEWEST_VALID = 0.99
"""Share of rows with an answer below which an output has no indices."""


@dataclass(frozen=True)
class Swaps:
    """What the column-swapped samples gave; arrays as in ``Summary``."""

    evaluations: int
    invalid: int
    first: Floats
    total: Floats
    second: Floats | None
    flips: Counts


class _Sums(NamedTuple):
    """Sums over rows, by output and pass or fail behind the last (k + 1) and by group (g).

    ``whole`` are the rows that have an answer in A, in B and swapped.
    """

    square: Floats
    cross: Floats
    whole: Counts
    flips: Counts
    invalid: Counts


def _no_sums(outputs: int, groups: int) -> _Sums:
    shape = (outputs + 1, groups)
    return _Sums(
        square=np.zeros(shape),
        cross=np.zeros(shape),
        whole=np.zeros(shape, dtype=np.int64),
        flips=np.zeros(groups, dtype=np.int64),
        invalid=np.zeros(groups, dtype=np.int64),
    )


def swap_columns(plan: Plan, samples: list[Values], a: Evaluated, b: Evaluated) -> Swaps:
    """Evaluate A with each group's columns from B and find its indices.

    The plan's system takes crossed arrays (``crossing_plan``): a column is (1, n) where no group of
    a call has it, (k, n) where one of them does. Only for pairs are the swapped results kept, with
    those of B with each group from A.
    """
    outputs, groups, points = len(plan.outputs), len(plan.groups), plan.sampling.points
    rows = range(outputs + (1 if plan.limits else 0))
    scales = [scale(a.column(row), b.column(row)) for row in rows]
    both = np.isfinite(a.outputs) & np.isfinite(b.outputs)
    answered = np.append(np.count_nonzero(both, axis=1), points)
    sums = _no_sums(outputs, groups)
    kept = np.empty((groups, outputs, points)) if plan.pairs else None
    with np.errstate(all="ignore"):  # of a row without an answer, or out of all proportion
        for places in _alike(plan):
            found = _swapped_sums(plan, samples, a, b, scales, answered, places, kept)
            for whole, part in zip(sums, found, strict=True):
                whole[..., places] = part
    shape = (outputs + 1, groups)
    first, total = np.full(shape, np.nan), np.full(shape, np.nan)
    for row, scaling in enumerate(scales):
        if scaling is not None:
            enough = sums.whole[row] >= FEWEST_VALID * points
            indices = first_and_total(scaling, sums.square[row], sums.cross[row], sums.whole[row])
            first[row], total[row] = (np.where(enough, each, np.nan) for each in indices)
    invalid, second = int(sums.invalid.sum()), None
    if kept is not None:
        swapped = [judged(plan, each) for each in kept]
        back = [_swapped_back(plan, samples, b, place) for place in range(groups)]
        invalid += sum(each.invalid for each in back)
        second = _pairs(scales, a, b, swapped, back)
    return Swaps(
        evaluations=points * groups * (2 if plan.pairs else 1),
        invalid=invalid,
        first=first,
        total=total,
        second=second,
        flips=sums.flips,
    )


def _alike(plan: Plan) -> Iterator[list[int]]:
    """Places of groups that reach the same models, some at a time."""
    alike: dict[tuple[str, ...], list[int]] = {}
    for place, group in enumerate(plan.groups):
        alike.setdefault(plan.system.reached(frozenset(group.inputs)), []).append(place)
    together = max(TOGETHER, SWAPPED_BLOCK // plan.sampling.points)
    for places in alike.values():
        for start in range(0, len(places), together):
            yield places[start : start + together]


def _swapped_sums(
    plan: Plan,
    samples: list[Values],
    a: Evaluated,
    b: Evaluated,
    scales: list[Scale | None],
    answered: Counts,
    places: list[int],
    kept: Floats | None,
) -> _Sums:
    """Evaluate A with the columns of some groups from B, and sum what they give block by block.

    ``answered`` (k + 1,) are the rows with an answer in both A and B.
    """
    members = [plan.groups[place].inputs for place in places]
    changed = frozenset(name for names in members for name in names)
    models = plan.system.reached(changed)
    taken = changed.union(*(plan.system.sources[name] for name in models)) & samples[0].keys()
    reached = _reached_rows(plan, models)
    rest = [row for row in range(len(plan.outputs)) if row not in reached]
    sums = _no_sums(len(plan.outputs), len(places))
    sums.whole[:] = answered[:, None]
    sums.whole[reached] = 0
    elsewhere: Flags = np.logical_and.reduce(np.isfinite(a.outputs[rest]), axis=0)
    for rows in row_blocks(plan.sampling.points, max(1, SWAPPED_BLOCK // len(places))):
        before = {name: a.outputs[row, None, rows] for row, name in enumerate(plan.outputs)}
        inputs = {name: _swapped(samples, name, members, rows) for name in taken}
        answer = plan.system.evaluate(inputs, before, changed)
        valid = elsewhere[None, rows]
        for row in reached:
            value = answer[plan.outputs[row]]
            scaling = scales[row]
            if scaling is not None:
                found = step_sums(scaling, a.outputs[row, rows], b.outputs[row, rows], value)
                sums.square[row] += found.square
                sums.cross[row] += found.cross
                sums.whole[row] += found.whole
                if found.finite:
                    continue
            valid = valid & np.isfinite(value)
        sums.invalid[:] += valid.shape[1] - np.count_nonzero(valid, axis=1)
        if plan.limits:
            _add_passes(plan, answer, valid, a.met_all[rows], b.met_all[rows], scales[-1], sums)
        if kept is not None:
            for row, name in enumerate(plan.outputs):
                kept[places, row, rows] = answer[name]
    return sums


def _reached_rows(plan: Plan, models: tuple[str, ...]) -> list[int]:
    """Places of the outputs of some models among all."""
    of_each = [model.name for model in plan.system.models for _ in model.results]
    return [row for row, name in enumerate(of_each) if name in models]


def _swapped(
    samples: list[Values], name: str, members: list[tuple[str, ...]], rows: slice
) -> Floats | float:
    """Take a block of one input as several groups have it: (1, n), (g, n), or a number."""
    value = samples[0][name]
    if not isinstance(value, np.ndarray):
        return value
    if not any(name in names for names in members):
        return value[None, rows]
    other = np.asarray(samples[1][name])[rows]
    columns = np.empty((len(members), other.size))
    for place, names in enumerate(members):
        columns[place] = other if name in names else value[rows]
    return columns


def _add_passes(
    plan: Plan,
    answer: Values,
    valid: Flags,
    of_a: Flags,
    of_b: Flags,
    scaling: Scale | None,
    sums: _Sums,
) -> None:
    """Add what rows (n,) that pass or fail otherwise (g, n) give: whole numbers but for a mean."""
    met = valid
    for limit in plan.limits:
        met = met & limit.met(answer[limit.result])
    flips = np.count_nonzero(met != of_a, axis=1)
    sums.flips[:] += flips
    if scaling is not None:
        more = np.count_nonzero(met, axis=1) - np.count_nonzero(of_a)
        more_of_b = np.count_nonzero(met & of_b, axis=1) - np.count_nonzero(of_a & of_b)
        sums.square[-1] += flips
        sums.cross[-1] += more_of_b - scaling.mean * more


def _swapped_back(plan: Plan, samples: list[Values], b: Evaluated, place: int) -> Evaluated:
    """Evaluate B with one group's columns from A."""
    inputs = plan.groups[place].inputs
    exchanged = {**samples[1], **{name: samples[0][name] for name in inputs}}
    return evaluate_sample(plan, exchanged, b, frozenset(inputs))


def _pairs(
    scales: list[Scale | None],
    a: Evaluated,
    b: Evaluated,
    swapped: list[Evaluated],
    back: list[Evaluated],
) -> Floats:
    """Second-order indices (k + 1, g, g) from the swapped samples, upper triangle."""
    groups = len(swapped)
    second = np.full((len(a.outputs) + 1, groups, groups), np.nan)
    for row, scaling in enumerate(scales):
        if scaling is None:
            continue
        for j, k in combinations(range(groups), 2):
            columns = _whole_rows(
                a.column(row),
                b.column(row),
                swapped[j].column(row),
                swapped[k].column(row),
                back[j].column(row),
            )
            if columns is not None:
                second[row, j, k] = second_order(scaling, *columns)
    return second


def _whole_rows(*columns: Floats) -> tuple[Floats, ...] | None:
    """Keep the rows in which every column (n,) has an answer; None if too few do."""
    whole: Flags = np.logical_and.reduce([np.isfinite(column) for column in columns])
    if whole.all():
        return columns
    if whole.mean() < FEWEST_VALID:
        return None
    return tuple(column[whole] for column in columns)
