"""Assemblies at each setting, priced in those that work: a table of verdicts (parts, settings).

An assembly is a part on two levels: one draw of the build and model inputs, tried at the same
moments of running at every setting (``engine/verdicts``). Each takes many evaluations, so fewer
are drawn than where an assembly has one moment: 512 a replicate, or 256 where several inputs are
set, at 33 settings at most. Where there are more settings, those are kept that serve the most
assemblies at a moment each. Where nothing varies from moment to moment all of the sample is drawn,
as ``sample_assemblies`` does.

The cost, stepped pipe, 27 settings: 0.86 M evaluations a replicate, 62 a part and setting; in all
about what the regressions on the larger sample took that this is in the place of.

Parts that are dropped as good are audited (``engine/kept``), and those audited count for all that
they stand for, so that the mean over parts is unbiased whatever setting each is given.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.doubt_band import BandOfReplicate, DoubtBand, doubt_band
from sensitivity.engine.kept import Order, count, count_each, hardest_first
from sensitivity.engine.moments import (
    AS_STATED,
    BUILDS,
    DOUBTS,
    Crossed,
    CrossedValues,
    Variant,
    cross,
    crossed_sample,
    crossed_values,
    crossing_plan,
    failing,
    failing_as_each,
    moments_of,
    of_kinds,
    positions,
)
from sensitivity.engine.monte_carlo import each_replicate
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.two_levels import BAND_REPLICATES, FEWEST_DOUBTS
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
from sensitivity.study.study import Limit

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

MOST_SETTINGS = 33
PARTS, PARTS_OF_SEVERAL = 512, 256
"""Parts a replicate where one input is set or none, and where several are."""
PILOT = 64
"""Parts as stated, and as many again over the settings, that tell which moments are hard."""
HARDEST = 32
"""Hardest moments, of which the smallest margins of a part are taken."""

DOUBT_POINTS = 128
"""Points of the model inputs, over all replicates of a band."""
BUILDS_EACH, BUILDS_OF_ONE_LEVEL = 128, 1024
"""Parts at each point, and where there are no moments."""


def settings_to_try(
    plan: Plan, *, options: RunOptions = DEFAULTS
) -> tuple[AssemblySettings | None, tuple[Limit, ...]]:
    """Lay out the settings that no limit that hurts forbids, and name the limits that forbid some.

    As many as a table of verdicts has where there are moments; None where nothing can be set.
    """
    settings = assembly_settings_of(plan)
    barred: tuple[Limit, ...] = ()
    if settings is None:
        return None, ()
    if any(limit.hurts for limit in plan.limits):
        settings, barred = without_danger(plan, settings, options=options)
    if of_kinds(plan, "running"):
        settings = most_serving(plan, settings, MOST_SETTINGS)
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
    names: Sequence[str],
    *,
    keeps: float,
    options: RunOptions = DEFAULTS,
) -> VerdictTable:
    """Draw assemblies, and find which work as stated and at each setting.

    Parameters
    ----------
    plan : Plan
        With limits.
    settings : AssemblySettings or None
        To try on each of them.
    names : sequence of str
        Build inputs whose values are kept.
    keeps : float
        Share of the moments at which an assembly that works keeps every limit.
    options : RunOptions
        Who works, and who is told.

    Raises
    ------
    CallError
        Where they are more than can be kept at once.
    """
    counting = counting_for(plan, keeps)
    variants = settings.variants if settings is not None else ()
    parts = parts_of(plan, settings)
    if not of_kinds(plan, "running"):
        found = sample_assemblies(plan, settings, names, options=options)
        few = min(PILOT, parts)
        task = partial(_order_alone, crossing_plan(plan), counting, few)
        orders = each_replicate(task, min(plan.sampling.replicates, BAND_REPLICATES), workers=1)
        return VerdictTable(found, tuple(orders), counting)
    check_size(plan, parts, len(variants), len(names))
    answers = each_replicate(
        partial(_one_replicate, crossing_plan(plan), counting, variants, tuple(names), parts),
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
    names: tuple[str, ...],
    parts: int,
    replicate: int,
) -> _Rows:
    sample = crossed_sample(plan, replicate, parts, counting.moments)
    stated = crossed_values(plan, sample)
    ways = [crossed_values(plan, sample, variant, stated) for variant in (AS_STATED, *variants)]
    order = _order(plan, counting, ways, parts)
    audit = audit_numbers(plan, replicate, parts)
    fails = failing_as_each(plan, ways, parts)
    counted = count_each(fails, len(ways), parts, order, counting.step, audit=audit)
    return _Rows(
        values=_values(plan, ways[0], names, parts),
        verdicts=np.stack([each.weighted for each in counted], axis=1),
        margins=_margins(plan, ways[0], parts, order.moments[:HARDEST]),
        order=order,
    )


def _order(plan: Plan, counting: Counting, ways: Sequence[CrossedValues], parts: int) -> Order:
    """Order the moments by a pilot of parts as stated, and of a few at each setting."""
    moments, pilot = np.arange(counting.moments), min(PILOT, parts)
    failed = [failing(plan, ways[0], np.arange(pilot), moments)]
    each = max(1, PILOT // max(1, len(ways) - 1))
    for place, way in enumerate(ways[1:]):
        some = (pilot + place * each + np.arange(each)) % parts
        failed.append(failing(plan, way, some, moments))
    return hardest_first(np.concatenate(failed), counting.step)


def _order_alone(plan: Plan, counting: Counting, parts: int, replicate: int) -> Order:
    sample = crossed_sample(plan, replicate, parts, counting.moments)
    return _order(plan, counting, [crossed_values(plan, sample)], parts)


def _values(plan: Plan, way: CrossedValues, names: Sequence[str], parts: int) -> Floats:
    """Values (n, c) of some inputs; what is physically impossible fails whatever is read."""
    nominal = {item.name: item.nominal for item in plan.inputs}
    values = np.empty((parts, len(names)))
    for column, name in enumerate(names):
        value = way.by_part[name][:, 0] if name in way.by_part else way.held[name]
        values[:, column] = np.where(np.isfinite(value), value, nominal[name])
    return values


def _margins(plan: Plan, way: CrossedValues, parts: int, moments: Places) -> Floats:
    """Smallest margins (n, ends) to each end of each limit among some moments."""
    answer = plan.system.evaluate(way.cut(np.arange(parts), moments))
    found: list[Floats] = []
    for limit in plan.limits:
        value = np.broadcast_to(answer[limit.result], (parts, moments.size))
        found += [np.fmin.reduce(margin, axis=1) for margin in limit.margins(value)]
    return np.stack(found, axis=1)


@dataclass(frozen=True)
class BandParts:
    """Parts at points of the model inputs, of each replicate of a band; the points' parts together.

    Attributes
    ----------
    values : array (r, k, c)
        The dimensions that may be measured, as they are.
    doubts : int
        Points of the model inputs in a replicate.
    """

    values: Floats
    doubts: int


def band_parts(plan: Plan, names: Sequence[str]) -> BandParts | None:
    """Draw the parts that a band is made of; None where no doubt of the physics is stated."""
    if not of_kinds(plan, "model"):
        return None
    doubts, builds = _band_size(plan)
    found = []
    for replicate in range(min(plan.sampling.replicates, BAND_REPLICATES)):
        sample, _ = _band_sample(plan, replicate, doubts, builds, 1)
        found.append(_values(plan, crossed_values(plan, sample), names, sample.count))
    return BandParts(np.stack(found), doubts)


def _band_size(plan: Plan) -> tuple[int, int]:
    replicates = min(plan.sampling.replicates, BAND_REPLICATES)
    wanted = max(FEWEST_DOUBTS, -(-DOUBT_POINTS // replicates))
    builds = BUILDS_EACH if of_kinds(plan, "running") else BUILDS_OF_ONE_LEVEL
    return 1 << (wanted - 1).bit_length(), builds


def _band_sample(
    plan: Plan, replicate: int, doubts: int, builds: int, moments: int
) -> tuple[Crossed, Floats]:
    """Draw the same parts at each point of the model inputs, and say where the points lie (m, d).

    The parts, points and moments are those of ``engine/doubt_band``.
    """
    names = of_kinds(plan, "model")
    (parts,) = positions(plan, replicate, BUILDS, builds)
    (points,) = positions(plan, replicate, DOUBTS, doubts)
    crossed = {name: np.tile(value, doubts) for name, value in parts.items()}
    crossed |= {name: np.repeat(points[name], builds) for name in names}
    sample = cross(plan, crossed, moments_of(plan, replicate, moments))
    return sample, np.stack([sample.parts[name][::builds] for name in names], axis=1)


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
    doubts, builds = _band_size(plan)
    sample, points = _band_sample(plan, replicate, doubts, builds, counting.moments)
    verdicts, evaluations = np.zeros(sample.count), 0
    for place in np.unique(chosen[replicate]):
        if place < 0:
            continue
        some = np.flatnonzero(chosen[replicate] == place)
        values = crossed_values(plan, sample, variants[place])
        fails = partial(_failing_of, plan, values, some)
        counted = count(fails, some.size, orders[replicate], counting.step)
        verdicts[some] = counted.verdicts
        evaluations += counted.evaluations
    used = (chosen[replicate] >= 0).reshape(doubts, builds).sum(axis=1)
    shares = verdicts.reshape(doubts, builds).sum(axis=1) / np.maximum(used, 1)
    return BandOfReplicate(shares, points, evaluations)


def _failing_of(
    plan: Plan, values: CrossedValues, some: Places, parts: Places, moments: Places
) -> NDArray[np.bool_]:
    """Tell at which moments some of all parts fail, those numbered among themselves."""
    return failing(plan, values, some[parts], moments)
