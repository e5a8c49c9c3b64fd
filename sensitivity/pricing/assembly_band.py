"""Between which figures the physics may move what comes of readings: other parts, chosen for alike.

Parts are drawn at points of the doubts, read, and set or accepted by the rules that the readings
led to; what each then comes to is counted as in the table of verdicts (``assembly_verdicts``).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.doubt_band import (
    BAND_REPLICATES,
    POINTS,
    BandOfReplicate,
    DoubtBand,
    band_builds,
    band_sample,
    doubt_band,
)
from sensitivity.engine.intervals import Proportion
from sensitivity.engine.kept import Order, count
from sensitivity.engine.moments import (
    AS_STATED,
    Crossed,
    CrossedValues,
    Variant,
    crossed_values,
    crossing_plan,
    failing,
    of_kinds,
)
from sensitivity.engine.monte_carlo import each_replicate
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.two_levels import TwoLevels
from sensitivity.engine.verdicts import Counting
from sensitivity.pricing.assembly_verdicts import VerdictTable
from sensitivity.pricing.readable import Readables, values_to_read

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

MOMENTS_TO_READ_IN = 256
"""Moments among which each of those parts has the one that a result of it is read in."""


@dataclass(frozen=True)
class BandParts:
    """Parts at points of the model inputs, of each replicate of a band; the points' parts together.

    Attributes
    ----------
    values : array (r, k, c)
        What may be read, as it is.
    doubts : int
        Points of the model inputs in a replicate.
    """

    values: Floats
    doubts: int


def band_parts(plan: Plan, readables: Readables) -> BandParts | None:
    """Draw the parts that a band is made of; None where no doubt of the physics is stated."""
    if not of_kinds(plan, "model"):
        return None
    builds = band_builds(plan)
    moments = MOMENTS_TO_READ_IN if readables.results else 1
    found = []
    for replicate in range(min(plan.sampling.replicates, BAND_REPLICATES)):
        sample, _ = band_sample(plan, replicate, moments, builds)
        stated = crossed_values(plan, sample)
        found.append(values_to_read(plan, sample, stated, readables, replicate))
    return BandParts(np.stack(found), POINTS)


def as_stated_on_two_levels(
    plan: Plan,
    table: VerdictTable,
    works: Proportion,
    share: Proportion,
    *,
    keeps: float,
    options: RunOptions = DEFAULTS,
) -> TwoLevels:
    """Put beside how many work as stated between which figures the physics may move that.

    Parameters
    ----------
    plan : Plan
        As stated.
    table : VerdictTable
        Of the same plan.
    works, share : Proportion
        Parts that work, and parts that keep at a moment, as stated.
    keeps : float
        Share of the moments that the table asks for.
    options : RunOptions
        Who works, and who is told.
    """
    band = None
    if of_kinds(plan, "model"):
        replicates = min(plan.sampling.replicates, BAND_REPLICATES)
        chosen = np.zeros((replicates, POINTS * band_builds(plan)), dtype=np.intp)
        band = band_of_choices(plan, table, (AS_STATED,), chosen, options=options)
    return TwoLevels(
        works=works,
        share=share,
        keeps=keeps,
        moments=table.counting.moments,
        parts=works.rows // plan.sampling.replicates,
        evaluations=0 if band is None else band.evaluations,
        correction=0.0,
        pilot=0,
        band=band,
        no_band="no model inputs" if band is None else None,
        one_level=None if of_kinds(plan, "running") else "no running inputs",
    )


def band_of_choices(
    plan: Plan,
    table: VerdictTable,
    variants: Sequence[Variant],
    chosen: Places,
    *,
    options: RunOptions = DEFAULTS,
) -> DoubtBand:
    """Find between which figures the physics may move the share that works, each part its own way.

    Parameters
    ----------
    plan : Plan
        With model inputs that vary.
    table : VerdictTable
        Of the same plan.
    variants : sequence of mappings of name to Spread or float
        The ways there are.
    chosen : array (r, k)
        Place of the way of each part of ``band_parts``; -1 for a part that is not used, of which
        nothing is counted.
    options : RunOptions
        Who works, and who is told.
    """
    task = partial(
        _band_replicate, crossing_plan(plan), table.counting, table.orders, tuple(variants), chosen
    )
    found: list[BandOfReplicate] = each_replicate(
        task,
        chosen.shape[0],
        workers=options.workers,
        executor=options.executor,
        progress=options.progress(),
    )
    return doubt_band(plan, found)


def _band_replicate(
    plan: Plan,
    counting: Counting,
    orders: tuple[Order, ...],
    variants: tuple[Variant, ...],
    chosen: Places,
    replicate: int,
) -> BandOfReplicate:
    sample, points = band_sample(plan, replicate, counting.moments, band_builds(plan))
    verdicts, evaluations = np.zeros(sample.count), 0
    stated = crossed_values(plan, sample)
    for values, some in _own_ways(plan, sample, stated, variants, chosen[replicate]):
        fails = partial(_failing_of, plan, values, some)
        counted = count(fails, some.size, orders[replicate], counting.step)
        verdicts[some] = counted.verdicts
        evaluations += counted.evaluations
    used = (chosen[replicate] >= 0).reshape(POINTS, -1).sum(axis=1)
    shares = verdicts.reshape(POINTS, -1).sum(axis=1) / np.maximum(used, 1)
    return BandOfReplicate(shares, used, points, evaluations)


def _own_ways(
    plan: Plan,
    sample: Crossed,
    stated: CrossedValues,
    variants: Sequence[Variant],
    chosen: Places,
) -> Iterator[tuple[CrossedValues, Places]]:
    """Give each part (n) the way chosen for it: all of them at once, or way by way.

    At once where what is set is the part's own, and not of the moment: a few calls for all parts
    cost a third of as many for each way.
    """
    ways = {
        place: crossed_values(plan, sample, variants[place], stated)
        for place in np.unique(chosen).tolist()
        if place >= 0
    }
    names = frozenset(name for place in ways for name in variants[place])
    if any(
        name not in way.by_part and name not in way.held for way in ways.values() for name in names
    ):
        for place, way in ways.items():
            yield way, np.flatnonzero(chosen == place)
        return
    by_part, held = dict(stated.by_part), dict(stated.held)
    for name in names:
        held.pop(name, None)
        value = np.empty((sample.count, 1))
        for place, way in ways.items():
            its = np.broadcast_to(way.by_part.get(name, way.held.get(name, 0.0)), value.shape)
            value[chosen == place] = its[chosen == place]
        by_part[name] = value
    yield replace(stated, by_part=by_part, held=held), np.flatnonzero(chosen >= 0)


def _failing_of(
    plan: Plan, values: CrossedValues, some: Places, parts: Places, moments: Places
) -> NDArray[np.bool_]:
    """Tell at which moments some of all parts fail, those numbered among themselves."""
    return failing(plan, values, some[parts], moments)
