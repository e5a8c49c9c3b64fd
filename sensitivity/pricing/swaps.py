"""Why one design keeps more often than another: what differs, put into the first one at a time.

Everything else stays as in the first, on the same uniforms, so what changes is that difference's
own. What only one of the designs has cannot be put into the other alone: it is what is left when
all that both have is as in the other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Estimate, estimate
from sensitivity.engine.monte_carlo import each_replicate
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.replicate import cut_rows, row_blocks
from sensitivity.engine.sampling import draw, replicate_uniforms
from sensitivity.pricing.variants import (
    Variant,
    limits_met,
    moved_difference,
    passes_difference,
    possible,
)
from sensitivity.spreads.spread import Spread, quantile
from sensitivity.study.study import Input
from sensitivity.system.system import Values

Floats = NDArray[np.float64]

POINTS, FEWEST_POINTS = 1024, 64
"""Points of a replicate, at most and at least."""


@dataclass(frozen=True, slots=True)
class Swap:
    """What one difference makes, put into the first design alone.

    Attributes
    ----------
    first, other : Input or None
        The input as in either design; None where the swap is of all that both have, or the rest.
    overall : Estimate
        Share of parts and moments that keep every limit more for it.
    limits : mapping of str to Estimate
        The same of each limit.
    shifts : mapping of str to Estimate
        By how much it moves the mean of each limited result, in its unit.
    """

    first: Input | None
    other: Input | None
    overall: Estimate
    limits: Mapping[str, Estimate]
    shifts: Mapping[str, Estimate]

    @property
    def name(self) -> str:
        """The input's name; empty of what is no single input."""
        return self.first.name if self.first is not None else ""


@dataclass(frozen=True)
class Swaps:
    """All that differs between two designs, and what it makes of the first.

    Attributes
    ----------
    each : tuple of Swap
        Of every input that both have and that differs, what changes most first.
    together : Swap or None
        All of these at once; None where they are fewer than two.
    rest : Swap or None
        What is left to the other design then; None where it is the other design.
    only_first, only_other : tuple of str
        Inputs that only one of them has, or that differ and go to a model that only one has.
    """

    each: tuple[Swap, ...]
    together: Swap | None
    rest: Swap | None
    only_first: tuple[str, ...]
    only_other: tuple[str, ...]


def swapped(first: Plan, other: Plan, *, options: RunOptions = DEFAULTS) -> Swaps:
    """Find what each difference between two designs makes of the first.

    Parameters
    ----------
    first, other : Plan
        Of the same columns, sampling and limits.
    options : RunOptions
        Who computes, and who is told.
    """
    first, other = _few(first), _few(other)
    ours, theirs = _alike(first, other), _alike(other, first)
    pairs = [(ours[name], theirs[name]) for name in ours if _differ(ours[name], theirs[name])]
    only_first = tuple(item.name for item in first.inputs if item.name not in ours)
    only_other = tuple(item.name for item in other.inputs if item.name not in theirs)
    alone: list[Variant] = [{new.name: _as_variant(new)} for _, new in pairs]
    every: Variant = {name: change for variant in alone for name, change in variant.items()}
    counted = _counted(first, [*alone, every], options)
    target = _counted(other, [], options)
    rows, confidence = 2 * first.sampling.points, first.sampling.confidence
    limits = [limit.result for limit in first.limits]

    def told(place: int, pair: tuple[Input, Input] | None) -> Swap:
        found = counted[:, place]
        ours, theirs = pair or (None, None)
        return Swap(
            ours,
            theirs,
            overall=moved_difference(_count(found[:, 0]), _count(found[:, 1]), rows, confidence),
            limits={
                name: _between(found[:, 3 + n], counted[:, 0, 3 + n], rows, confidence)
                for n, name in enumerate(limits)
            },
            shifts=_shifts(found, counted[:, 0], limits, confidence),
        )

    each = [told(place, pair) for place, pair in enumerate(pairs, start=1)]
    each.sort(key=lambda swap: -abs(swap.overall.value))
    last, end = counted[:, -1], target[:, 0]
    rest = None
    if only_first or only_other or not np.array_equal(last[:, 2:], end[:, 2:], equal_nan=True):
        rest = Swap(
            None,
            None,
            overall=_between(end[:, 2], last[:, 2], rows, confidence),
            limits={
                name: _between(end[:, 3 + n], last[:, 3 + n], rows, confidence)
                for n, name in enumerate(limits)
            },
            shifts=_shifts(end, last, limits, confidence),
        )
    together = told(len(pairs) + 1, None) if len(pairs) > 1 else None
    return Swaps(tuple(each), together, rest, only_first, only_other)


def _alike(plan: Plan, other: Plan) -> dict[str, Input]:
    """Inputs of both designs that are the same, or differ and are taken by the same models.

    What is called alike, differs and goes to another model may be another thing: a length in a
    pipe of another shape.
    """
    there = {item.name: item for item in other.inputs}
    return {
        item.name: item
        for item in plan.inputs
        if item.name in there
        and item.unit == there[item.name].unit
        and (not _differ(item, there[item.name]) or _takers(plan, item) == _takers(other, item))
    }


def _takers(plan: Plan, item: Input) -> set[str]:
    """Name the models that take an input."""
    return {name for name, sources in plan.system.sources.items() if item.name in sources}


def _differ(ours: Input, theirs: Input) -> bool:
    return (ours.nominal, ours.spread) != (theirs.nominal, theirs.spread)


def _few(plan: Plan) -> Plan:
    points = max(FEWEST_POINTS, min(POINTS, plan.sampling.points))
    return replace(plan, sampling=replace(plan.sampling, points=points))


def _as_variant(item: Input) -> Spread | float:
    return item.nominal if item.spread is None else item.spread


def _count(values: Floats) -> NDArray[np.int64]:
    return values.astype(np.int64)


def _between(passes: Floats, base: Floats, rows: int, confidence: float) -> Estimate:
    return passes_difference(_count(passes), _count(base), rows, confidence)


def _shifts(
    found: Floats, base: Floats, limits: Sequence[str], confidence: float
) -> dict[str, Estimate]:
    """Differences of the means of each limited result, between replicates."""
    first = 3 + len(limits)
    with np.errstate(invalid="ignore", over="ignore"):
        moved = found[:, first:] - base[:, first:]
    return {name: estimate(moved[:, n], confidence) for n, name in enumerate(limits)}


def _counted(plan: Plan, variants: Sequence[Variant], options: RunOptions) -> Floats:
    """Count (r, v + 1, 3 + 2 l): gained, lost, kept, kept of each limit, mean of each result."""
    return np.stack(
        each_replicate(
            partial(_one_replicate, plan, tuple(variants)),
            plan.sampling.replicates,
            workers=options.workers,
            executor=options.executor,
            progress=options.progress(),
        )
    )


def _one_replicate(plan: Plan, variants: tuple[Variant, ...], replicate: int) -> Floats:
    count = len(plan.limits)
    found = np.zeros((len(variants) + 1, 3 + count))
    sums: list[list[Floats]] = [[] for _ in range(len(variants) + 1)]
    for uniforms in replicate_uniforms(plan, replicate):
        stated = possible(plan, draw(plan, uniforms))
        changes = [
            possible(
                plan,
                {
                    name: quantile(new, uniforms[name]) if isinstance(new, Spread) else new
                    for name, new in variant.items()
                },
            )
            for variant in variants
        ]
        for rows in row_blocks(plan.sampling.points):
            base, size = cut_rows(stated, rows), rows.stop - rows.start
            known = plan.system.evaluate(base)
            before = np.zeros(size, dtype=np.bool_)
            for place, change in enumerate([{}, *changes]):
                answer: Values = known
                if change:
                    inputs = {**base, **cut_rows(change, rows)}
                    answer = plan.system.evaluate(inputs, known, frozenset(change))
                met = limits_met(plan, answer, size)
                kept = np.logical_and.reduce(met, axis=0)
                before = kept if place == 0 else before
                found[place] += [
                    np.count_nonzero(kept & ~before),
                    np.count_nonzero(before & ~kept),
                    np.count_nonzero(kept),
                    *np.count_nonzero(met, axis=1),
                ]
                sums[place].append(_values(plan, answer, size))
    means = [_means(np.concatenate(each, axis=1)) for each in sums]
    return np.concatenate([found, np.stack(means)], axis=1)


def _values(plan: Plan, answer: Values, size: int) -> Floats:
    """Each limited result (l, n)."""
    return np.stack([np.broadcast_to(answer[limit.result], (size,)) for limit in plan.limits])


def _means(values: Floats) -> Floats:
    """Mean (l,) of what has an answer; NaN where nothing has. Sums that overflow are no fault."""
    known = np.isfinite(values)
    counts = np.maximum(known.sum(axis=1), 1)
    top = np.maximum(np.abs(np.where(known, values, 0.0)).max(axis=1), 1e-300)
    means = top * (np.where(known, values, 0.0) / top[:, None]).sum(axis=1) / counts
    return np.where(known.any(axis=1), means, np.nan)
