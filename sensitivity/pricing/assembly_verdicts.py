"""Assemblies at each setting, priced in those that work: a table of verdicts (parts, settings).

An assembly is a part on two levels: one draw of the build and model inputs, tried at the same
moments of running at every setting (``engine/verdicts``). Each takes many evaluations, so fewer
are drawn than where an assembly has one moment: 512 a replicate, or 256 where several inputs are
set, at 33 settings at most: of more, those that serve the most assemblies at a moment each. Where
nothing varies from moment to moment all of the sample is drawn, as ``sample_assemblies`` does.

Parts that are dropped as good are audited (``engine/kept``), and those audited count for all that
they stand for, so that the mean over parts is unbiased whatever setting each is given.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.kept import (
    FEWEST_MOMENTS,
    Fails,
    Order,
    count_each,
    hardest_first,
    moments_for,
)
from sensitivity.engine.moments import (
    AS_STATED,
    CrossedValues,
    Variant,
    crossed_sample,
    crossed_values,
    crossing_plan,
    failing,
    failing_as_each,
    of_kinds,
)
from sensitivity.engine.monte_carlo import each_replicate
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.two_levels import BAND_REPLICATES
from sensitivity.engine.verdicts import Counting, audit_numbers, counting_for
from sensitivity.pricing.assembly_settings import (
    Assemblies,
    AssemblySettings,
    assembly_settings_of,
    check_size,
    most_serving,
    sample_assemblies,
    scaled,
    without_danger,
)
from sensitivity.pricing.readable import NOTHING_TO_READ, Readables, values_to_read
from sensitivity.study.study import Limit

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

FEWER = 4
"""Of the moments that a share wants, one in so many is taken: with 256 of 1024 a mean over parts is
out by 0.0005, and twice as many parts for the same work tell the more of a reading."""
MOST_SETTINGS = 33
PARTS, PARTS_OF_SEVERAL = 512, 256
"""Parts a replicate where one input is set or none, and where several are."""
PILOT = 32
"""Parts as stated, and as many again over the settings, that tell which moments are hard."""
SOON = (1.25, 2.0, 4.0)
"""Of the fewest moments that a part can have failed by: after so many, parts are dropped as failed
before the first chunk ends."""
HARDEST = 32
"""Hardest moments, of which the smallest margins of a part are taken."""


def settings_to_try(
    plan: Plan, *, most: int = MOST_SETTINGS, options: RunOptions = DEFAULTS
) -> tuple[AssemblySettings | None, tuple[Limit, ...]]:
    """Lay out the settings that no limit that hurts forbids, and name the limits that forbid some.

    So many at most where there are moments; None where nothing can be set.
    """
    settings = assembly_settings_of(plan)
    barred: tuple[Limit, ...] = ()
    if settings is None:
        return None, ()
    if any(limit.hurts for limit in plan.limits):
        settings, barred = without_danger(plan, settings, options=options)
    if of_kinds(plan, "running"):
        settings = most_serving(plan, settings, most)
    return settings, barred


@dataclass(frozen=True)
class VerdictTable:
    """Assemblies with what it takes to ask more of the same parts and moments.

    Attributes
    ----------
    assemblies : Assemblies
    orders : tuple of Order
        In which order each replicate's moments are tried.
    counting : Counting
    """

    assemblies: Assemblies
    orders: tuple[Order, ...]
    counting: Counting


def sample_verdicts(
    plan: Plan,
    settings: AssemblySettings | None,
    readables: Readables = NOTHING_TO_READ,
    *,
    keeps: float,
    parts: int | None = None,
    pilot: int = PILOT,
    options: RunOptions = DEFAULTS,
) -> VerdictTable:
    """Draw assemblies, and find which work as stated and at each setting.

    Parameters
    ----------
    plan : Plan
        With limits.
    settings : AssemblySettings or None
        To try on each of them.
    readables : Readables
        Inputs and results whose values are kept.
    keeps : float
        Share of the moments at which an assembly that works keeps every limit.
    parts : int, optional
        Most assemblies of a replicate, a power of two, where there are moments; as many as
        ``parts_of`` says unless given.
    pilot : int
        Parts as stated, and as many over the settings, that are tried at all moments.
    options : RunOptions
        Who works, and who is told.

    Raises
    ------
    CallError
        Where they are more than can be kept at once.
    """
    moments = max(FEWEST_MOMENTS, moments_for(keeps) // FEWER)
    counting = counting_for(plan, keeps, moments=moments, pilot=pilot)
    variants = settings.variants if settings is not None else ()
    parts = min(parts or PARTS, parts_of(plan, settings))
    if not of_kinds(plan, "running"):
        names = [item.name for item in readables.inputs]
        found = sample_assemblies(plan, settings, names, results=readables.results, options=options)
        few = min(pilot, parts)
        task = partial(_order_alone, crossing_plan(plan), counting, few)
        orders = each_replicate(task, min(plan.sampling.replicates, BAND_REPLICATES), workers=1)
        return VerdictTable(found, tuple(orders), counting)
    check_size(plan, parts, len(variants), len(readables.items))
    answers = each_replicate(
        partial(_one_replicate, crossing_plan(plan), counting, variants, readables, parts),
        plan.sampling.replicates,
        workers=options.workers,
        executor=options.executor,
        progress=options.progress(),
    )
    found = Assemblies(
        values=np.stack([rows.values for rows in answers]),
        works=np.stack([rows.verdicts[:, 1:] for rows in answers]),
        as_drawn=np.stack([rows.verdicts[:, 0] for rows in answers]),
        margins=scaled(np.stack([rows.margins for rows in answers])),
    )
    return VerdictTable(found, tuple(rows.order for rows in answers), counting)


def parts_of(plan: Plan, settings: AssemblySettings | None) -> int:
    """Say how many parts a replicate has: a power of two, no more than the plan's points twice."""
    if not of_kinds(plan, "build", "model"):
        return 1  # all are alike, and more of them would be a false certainty
    several = settings is not None and len(settings.inputs) > 1
    return min(PARTS_OF_SEVERAL if several else PARTS, 2 * plan.sampling.points)


@dataclass(frozen=True)
class _Rows:
    values: Floats
    verdicts: Floats
    margins: Floats
    order: Order


def _one_replicate(
    plan: Plan,
    counting: Counting,
    variants: tuple[Variant, ...],
    readables: Readables,
    parts: int,
    replicate: int,
) -> _Rows:
    sample = crossed_sample(plan, replicate, parts, counting.moments)
    stated = crossed_values(plan, sample)
    ways = [crossed_values(plan, sample, variant, stated) for variant in (AS_STATED, *variants)]
    fails = failing_as_each(plan, ways, parts)
    order = _order(counting, fails, len(ways), parts)
    audit = audit_numbers(plan, replicate, parts)
    counted = count_each(fails, len(ways), parts, order, counting.step, audit=audit)
    return _Rows(
        values=values_to_read(plan, sample, stated, readables, replicate),
        verdicts=np.stack([each.weighted for each in counted], axis=1),
        margins=_margins(plan, ways[0], parts, order.moments[:HARDEST]),
        order=order,
    )


def _order(counting: Counting, fails: Fails, ways: int, parts: int) -> Order:
    """Order the moments by a pilot of parts as stated, and of a few at each setting."""
    pilot = min(counting.pilot, parts)
    each = max(1, counting.pilot // max(1, ways - 1))
    places = [np.arange(pilot)]
    for way in range(1, ways):
        places.append(way * parts + (pilot + (way - 1) * each + np.arange(each)) % parts)
    failed = fails(np.concatenate(places), np.arange(counting.moments))
    return _sooner(hardest_first(failed, counting.step), counting)


def _sooner(order: Order, counting: Counting) -> Order:
    """Let parts be dropped as failed soon after the first moment at which they can have failed.

    At most settings most parts fail at nearly all of the hardest moments.
    """
    fewest = counting.step.most + 2
    soon = sorted({round(share * fewest) for share in SOON})
    soon = [end for end in soon if fewest <= end < order.ends[0]]
    left = np.concatenate([np.full(len(soon), np.inf), order.left])
    return replace(order, ends=(*soon, *order.ends), left=left)


def _order_alone(plan: Plan, counting: Counting, parts: int, replicate: int) -> Order:
    sample = crossed_sample(plan, replicate, parts, counting.moments)
    return _order(counting, partial(failing, plan, crossed_values(plan, sample)), 1, parts)


def _margins(plan: Plan, way: CrossedValues, parts: int, moments: Places) -> Floats:
    """Smallest margins (n, ends) to each end of each limit among some moments."""
    answer = plan.system.evaluate(way.cut(np.arange(parts), moments))
    found: list[Floats] = []
    for limit in plan.limits:
        value = np.broadcast_to(answer[limit.result], (parts, moments.size))
        found += [np.fmin.reduce(margin, axis=1) for margin in limit.margins(value)]
    return np.stack(found, axis=1)
