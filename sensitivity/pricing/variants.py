"""Variants of one design on the same uniforms: the common ground of window, tighten and measure.

A variant changes some inputs' spreads or holds them at values. The same probabilities are
turned by the changed spreads and only what they reach is evaluated again, so a difference
between two variants is the design's and not the sampling's, exactly and cheaply (common random
numbers). This is the default way of re-pricing a tolerance; ``pricing/reweighting`` is for slow
models.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.bounded import keeps
from sensitivity.engine.intervals import (
    FEWEST_EVENTS,
    Estimate,
    Proportion,
    clopper_pearson,
    estimate,
    proportion,
)
from sensitivity.engine.moments import crossing_plan
from sensitivity.engine.monte_carlo import each_replicate
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.replicate import BLOCK, cut_rows, row_blocks
from sensitivity.engine.sampling import draw, replicate_uniforms
from sensitivity.spreads.altered import moved
from sensitivity.spreads.spread import Spread, quantile
from sensitivity.spreads.workshop import workshop_spread
from sensitivity.study.study import Input
from sensitivity.system.system import Values, inside_range

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]
Flags = NDArray[np.bool_]

Variant = Mapping[str, Spread | float]
"""Inputs by name, each with the spread or the value that it has instead."""


MOST_ALIKE = 8
"""Variants of the same inputs that are tried at once on some rows; of more, rows are too few."""


@dataclass(frozen=True)
class VariantPasses:
    """Passes of each variant, the design as stated first.

    Attributes
    ----------
    rows : int
        Parts in each replicate.
    together : array (r, v + 1)
        Passes of all limits together, by replicate and variant.
    each : array (r, v + 1, l)
        Passes of each limit.
    gained, lost : array (r, v + 1)
        Parts that keep within all limits as the variant and not as stated, and the
        other way round.
    confidence : float
        Of the intervals.
    """

    rows: int
    together: Counts
    each: Counts
    gained: Counts
    lost: Counts
    confidence: float

    @classmethod
    def of_columns(cls, columns: Sequence[Counts], rows: int, confidence: float) -> VariantPasses:
        """Join columns of several variants, that of the design as stated first."""
        counts = np.stack(columns, axis=1)
        return cls(
            rows=rows,
            together=counts[:, :, 0],
            each=counts[:, :, 3:],
            gained=counts[:, :, 1],
            lost=counts[:, :, 2],
            confidence=confidence,
        )

    def column(self, variant: int) -> Counts:
        """Give what is counted of a variant (r, 3 + l), for others to be joined with."""
        own = (self.together, self.gained, self.lost)
        first = np.stack([each[:, variant] for each in own], axis=1)
        return np.concatenate([first, self.each[:, variant]], axis=1)

    def overall(self, variant: int) -> Proportion:
        """Yield of a variant; 0 is the design as stated."""
        return proportion(self.together[:, variant], self.rows, self.confidence)

    def gain(self, variant: int) -> Estimate:
        """Yield gained by a variant over the design as stated, with its interval.

        Student's t between the replicates' own differences. Where few parts change sides,
        or the replicates do not differ, the exact intervals of those gained and of those lost
        are subtracted end from end, each at half the doubt (Bonferroni): wider than need be,
        and never false certainty.
        """
        return moved_difference(
            self.gained[:, variant], self.lost[:, variant], self.rows, self.confidence
        )


def run_variants(
    plan: Plan,
    variants: Sequence[Variant],
    *,
    options: RunOptions = DEFAULTS,
) -> VariantPasses:
    """Count the passes of a design and of its variants over all replicates of a plan."""
    task = partial(variant_replicate, crossing_plan(plan), tuple(variants))
    counts = np.stack(
        each_replicate(
            task,
            plan.sampling.replicates,
            workers=options.workers,
            executor=options.executor,
            progress=options.progress(),
        )
    )
    rows = 2 * plan.sampling.points
    return VariantPasses.of_columns(list(counts.swapaxes(0, 1)), rows, plan.sampling.confidence)


def variant_replicate(plan: Plan, variants: tuple[Variant, ...], replicate: int) -> Counts:
    """Count one replicate (v + 1, 3 + l): passing all, gained, lost, and passing each limit."""
    counts = np.zeros((len(variants) + 1, 3 + len(plan.limits)), dtype=np.int64)
    for block in evaluated_blocks(plan, variants, replicate):
        before = np.logical_and.reduce(block.met[0], axis=0)
        for place, met in enumerate(block.met):
            counts[place] += _count(met, np.logical_and.reduce(met, axis=0), before)
    return counts


class Block(NamedTuple):
    """Some rows of a replicate: their inputs and results as stated, and the limits they meet.

    ``met`` holds flags (l, n), first as stated, then of each variant in its order.
    """

    inputs: Values
    results: Values
    met: list[Flags]


def evaluated_blocks(plan: Plan, variants: Sequence[Variant], replicate: int) -> Iterator[Block]:
    """Evaluate one replicate as stated and as each variant, in blocks that fit the cache.

    The plan's system takes crossed arrays (``crossing_plan``).
    """
    drawn: tuple[dict[str, Floats], ...] = replicate_uniforms(plan, replicate)
    count = plan.sampling.points
    if 2 * count <= BLOCK:
        first, second = drawn
        both = {name: np.concatenate([first[name], second[name]]) for name in first}
        drawn, count = (both,), 2 * count
    at_a_time = min(count, _rows_at_a_time(variants))
    gathered = _batches(plan, variants, at_a_time)
    for uniforms in drawn:
        stated = possible(plan, draw(plan, uniforms))
        changed = _changed(plan, variants, uniforms)
        for rows in row_blocks(count, at_a_time):
            base = cut_rows(stated, rows)
            known = plan.system.evaluate(base)
            size = rows.stop - rows.start
            met = [limits_met(plan, known, size)] * (len(variants) + 1)
            for places in gathered:
                several = _cut_once([changed[place] for place in places], rows)
                for place, flags in zip(
                    places, _as_variants(plan, base, known, several, size), strict=True
                ):
                    met[place + 1] = flags
            yield Block(base, known, met)


def _changed(
    plan: Plan, variants: Sequence[Variant], uniforms: Mapping[str, Floats]
) -> list[Values]:
    """Draw what each variant has instead; a spread that several have in common once."""
    quantities = {quantity.name: quantity for quantity in plan.system.inputs}
    drawn: dict[tuple[str, int], Floats | float] = {}

    def of(name: str, change: Spread | float) -> Floats | float:
        key = (name, id(change))  # the variants outlive this
        if key not in drawn:
            values = (
                quantile(change, uniforms[name]) if isinstance(change, Spread) else float(change)
            )
            drawn[key] = inside_range(values, quantities[name])[0]
        return drawn[key]

    return [{name: of(name, change) for name, change in each.items()} for each in variants]


def _cut_once(several: Sequence[Values], rows: slice) -> list[Values]:
    """Take a block of rows of several variants; what they have in common stays one array."""
    cut: dict[int, Floats | float] = {}

    def of(value: Floats | float) -> Floats | float:
        if not isinstance(value, np.ndarray):
            return value
        return cut.setdefault(id(value), value[rows])

    return [{name: of(value) for name, value in each.items()} for each in several]


def _rows_at_a_time(variants: Sequence[Variant]) -> int:
    """Take fewer rows where variants change the same inputs: as many more variants share theirs."""
    alike = Counter(frozenset(variant) for variant in variants)
    return BLOCK // min(MOST_ALIKE, max(alike.values(), default=1))


def _batches(plan: Plan, variants: Sequence[Variant], rows: int) -> list[list[int]]:
    """Gather variants that reach the same models, as many as fill a block together.

    A call has a price of its own, whatever its rows: some hundred small ones cost more than
    the arithmetic. Those that change the same inputs lie together, so that all else is shared.
    """
    most = max(1, BLOCK // rows)
    alike: dict[tuple[str, ...], list[int]] = {}
    for place, variant in enumerate(variants):
        alike.setdefault(plan.system.reached(frozenset(variant)), []).append(place)
    for places in alike.values():
        places.sort(key=lambda place: sorted(variants[place]))
    return [
        places[start : start + most]
        for places in alike.values()
        for start in range(0, len(places), most)
    ]


def _as_variants(
    plan: Plan, base: Values, known: Values, changes: Sequence[Values], size: int
) -> list[Flags]:
    """Mark which limits (l, n) some rows meet as each of a few variants, crossed with the rows.

    What a variant changes comes as (v, n), all else as (1, n): a model computes once what the
    variants have in common.
    """
    count = len(changes)
    names = frozenset(name for change in changes for name in change)
    if count == 1:
        return [limits_met(plan, plan.system.evaluate({**base, **changes[0]}, known, names), size)]
    inputs = {name: _in_a_row(value) for name, value in base.items()}
    for name in names:
        inputs[name] = _stacked([change.get(name, base[name]) for change in changes], size)
    before = {name: _in_a_row(value) for name, value in known.items()}
    met = limits_met(plan, plan.system.evaluate(inputs, before, names), count, size)
    return list(met.swapaxes(0, 1))


def _in_a_row(value: Floats | float) -> Floats | float:
    return value[None, :] if isinstance(value, np.ndarray) else value


def _stacked(pieces: Sequence[Floats | float], size: int) -> Floats | float:
    """Lay what several variants have over each other: (v, n), (v, 1) or what all have, once."""
    if all(isinstance(piece, float) for piece in pieces):
        return pieces[0] if len({*pieces}) == 1 else np.array(pieces)[:, None]
    if all(piece is pieces[0] for piece in pieces):
        return _in_a_row(pieces[0])
    laid = np.empty((len(pieces), size))
    for row, piece in zip(laid, pieces, strict=True):
        row[:] = piece
    return laid


def possible(plan: Plan, values: Values) -> dict[str, Floats | float]:
    """Give those values (n,) of inputs that are there, NaN where physically impossible."""
    return {
        quantity.name: inside_range(values[quantity.name], quantity)[0]
        for quantity in plan.system.inputs
        if quantity.name in values
    }


def limits_met(plan: Plan, answer: Values, *shape: int) -> Flags:
    """Mark which limits (l, *shape) each row of a shape meets; without an answer it meets none."""
    answered = keeps((), plan.outputs, answer)
    met = np.empty((len(plan.limits), *shape), dtype=np.bool_)
    with np.errstate(all="ignore"):
        for row, limit in enumerate(plan.limits):
            met[row] = answered & limit.met(answer[limit.result])
    return met


def _count(met: Flags, together: Flags, before: Flags) -> Counts:
    found = [together, together & ~before, before & ~together, *met]
    return np.array([np.count_nonzero(flags) for flags in found], dtype=np.int64)


def moved_difference(gained: Counts, lost: Counts, rows: int, confidence: float) -> Estimate:
    """Difference of two yields from the parts (r,) of each replicate that change sides.

    Student's t between the replicates' own differences. Where few parts change sides,
    or the replicates do not differ, the exact intervals of those gained and of those lost
    are subtracted end from end, each at half the doubt (Bonferroni): wider than need be, and
    never false certainty.
    """
    shares = (gained - lost) / rows
    moved = int(gained.sum() + lost.sum())
    if moved >= FEWEST_EVENTS and float(np.ptp(shares)) > 0.0:
        return estimate(shares, confidence)
    pooled, half_doubt = rows * gained.size, 0.5 + 0.5 * confidence
    up = clopper_pearson(int(gained.sum()), pooled, half_doubt)
    down = clopper_pearson(int(lost.sum()), pooled, half_doubt)
    return Estimate(float(shares.mean()), up[0] - down[1], up[1] - down[0])


def passes_difference(passes: Counts, base: Counts, rows: int, confidence: float) -> Estimate:
    """Difference of two yields on the same uniforms, with its interval.

    Student's t between the replicates' own differences. Where either yield has too few
    failures or passes for that, or too few parts change sides, the two exact intervals
    are subtracted end from end, each at half the doubt (Bonferroni): wider than need be, and
    never false certainty.
    """
    pooled = rows * passes.size
    events = min(min(int(each.sum()), pooled - int(each.sum())) for each in (passes, base))
    events = min(events, int(np.abs(passes - base).sum()))
    shares = (passes - base) / rows
    if events >= FEWEST_EVENTS and float(np.ptp(shares)) > 0.0:
        return estimate(shares, confidence)
    half_doubt = 0.5 + 0.5 * confidence
    ends = [clopper_pearson(int(each.sum()), pooled, half_doubt) for each in (passes, base)]
    return Estimate(float(shares.mean()), ends[0][0] - ends[1][1], ends[0][1] - ends[1][0])


def at_setting(item: Input, setting: float) -> Spread | float:
    """Find the spread of an input whose nominal is set to a value, or that value if it is held.

    The spread moves along. That of a process is the process's at the new nominal; errors that
    are a share of the size stay the same share of it.
    """
    if item.spread is None:
        return setting
    if item.process:
        spread, _ = workshop_spread("process", item.process, setting, item.unit)
        return spread if spread.low < spread.high else setting
    distance = setting - item.nominal
    if item.spread.shape in ("lognormal", "log_uniform"):
        distance *= item.spread.centre / item.nominal
    return moved(item.spread, distance)
