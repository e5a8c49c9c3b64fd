"""The answer on two levels: how many parts work, and how often a part keeps at a moment.

W is the share of parts that keep every limit at ``keeps`` of the moments; E[R] the chance that a
part taken at random keeps them at a moment taken at random; the band says between which figures W
lies as the physics may turn out. Replicates share their moments among all their parts, which then
err alike: intervals come from between replicates only.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.bounded import Verdicts
from sensitivity.engine.doubt_band import BAND_REPLICATES as BAND_REPLICATES
from sensitivity.engine.doubt_band import (
    POINTS,
    BandOfReplicate,
    DoubtBand,
    band_builds,
    band_counted,
    band_replicate,
    band_sample,
    doubt_band,
)
from sensitivity.engine.intervals import Proportion, proportion
from sensitivity.engine.intervals import share_proportion as share_proportion
from sensitivity.engine.kept import Lot, Order, count_lots
from sensitivity.engine.moments import crossed_values, crossing_plan, failing_as_each, of_kinds
from sensitivity.engine.monte_carlo import each_replicate
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.replicate import cut_rows, row_blocks
from sensitivity.engine.sampling import draw, replicate_uniforms
from sensitivity.engine.verdicts import PILOT, Counting, counting_for, prepare
from sensitivity.errors import CallError
from sensitivity.system.system import inside_range

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]
Reason = Literal["no running inputs", "no model inputs"]
"""Why there is no second level, or no band: no input of the kind varies."""

FEWEST_PARTS = 64
LARGEST_PILOT = 512
FEWEST_CALLS = 8
"""Calls of the models that a replicate makes at least, mostly."""
SUSPECT = 3.0
"""Half-widths that the audit may correct before the pilot is doubled."""


@dataclass(frozen=True, kw_only=True)
class LevelSizes:
    """How much is sampled on two levels; what is None is as the plan wants it.

    Parameters
    ----------
    parts : int, optional
        Parts a replicate, a power of two; half the plan's points, and 64 at least.
    moments : int, optional
        Moments a replicate, a power of two; as many as ``keeps`` wants.
    pilot : int
        Parts tried at all moments.
    doubts : int
        Points of the model inputs, a power of two.
    builds : int, optional
        Parts at each of them over all replicates; 128, and 1024 where there are no moments.
    """

    parts: int | None = None
    moments: int | None = None
    pilot: int = PILOT
    doubts: int = POINTS
    builds: int | None = None


@dataclass(frozen=True)
class TwoLevels:
    """How many parts work, how often they keep, and how far the physics may move that.

    Attributes
    ----------
    works : Proportion
        W: parts that keep every limit at ``keeps`` of the moments. Of the counts, ``passes`` is
        rounded to whole parts.
    share : Proportion
        E[R]: parts at moments that keep every limit.
    keeps : float
    moments : int
        Moments of each replicate, the same for all its parts; 1 where nothing varies among them.
    parts : int
        Parts of each replicate.
    evaluations : int
        Of W and the band together.
    correction : float
        What the audit of parts dropped as good added to W, 0 or less.
    pilot : int
        Parts tried at all moments, in each replicate.
    band : DoubtBand or None
    no_band : Reason or None
        Why there is no band.
    one_level : Reason or None
        Why W is E[R] exactly, where it is.
    shares : tuple of float
        Share of parts that work, by replicate: designs that share their columns are paired by it.
    orders : tuple of Order
        Of each replicate's moments, by the pilot: variants may be counted in it.
    """

    works: Proportion
    share: Proportion
    keeps: float
    moments: int
    parts: int
    evaluations: int
    correction: float
    pilot: int
    band: DoubtBand | None
    no_band: Reason | None
    one_level: Reason | None
    shares: tuple[float, ...] = ()
    orders: tuple[Order, ...] = ()

    @property
    def value(self) -> float:
        """Share of parts that work."""
        return self.works.value

    @property
    def low(self) -> float:
        """Low end of its sampling interval."""
        return self.works.low

    @property
    def high(self) -> float:
        """High end of its sampling interval."""
        return self.works.high

    @property
    def half_width(self) -> float:
        """Half the width of its sampling interval."""
        return self.works.half_width

    @property
    def method(self) -> str:
        """How its sampling interval was got."""
        return self.works.method


def two_levels(
    plan: Plan,
    *,
    keeps: float = 0.99,
    options: RunOptions = DEFAULTS,
    sizes: LevelSizes | None = None,
    share: Proportion | None = None,
) -> TwoLevels:
    """Find how many parts work, how often they keep, and how far the physics may move that.

    Parameters
    ----------
    plan : Plan
        As ``plan_run`` fixed it.
    keeps : float
        Share of the moments, 0.5 to 0.9999, at which a part that works keeps every limit.
    options : RunOptions
        Who computes, and who is told; how much is sampled stands in the plan and in ``sizes``.
    sizes : LevelSizes, optional
        How much is sampled.
    share : Proportion, optional
        E[R] where it is known already, such as a result's ``overall``; found here if not, from
        the same points as a plain run.

    Returns
    -------
    TwoLevels

    Raises
    ------
    CallError
        Where there are no limits, ``keeps`` is out of its range, or the moments are too few.
    """
    sizes = sizes or LevelSizes()
    if not plan.limits:
        raise CallError("no limits are stated, so nothing can be said to work; state [limits]")
    counting = counting_for(plan, keeps, moments=sizes.moments, pilot=sizes.pilot)
    plan = crossing_plan(plan)
    parts = _parts(plan, sizes)
    while True:
        task = partial(levels_replicate, plan, counting, sizes, parts, share is None)
        found = each_replicate(
            task,
            plan.sampling.replicates,
            workers=options.workers,
            executor=options.executor,
            progress=options.progress(),
            meanwhile=options.meanwhile,
            at_least=FEWEST_CALLS * plan.sampling.replicates * _seconds_of_a_call(plan),
        )
        if share is None:
            passes = np.array([each.passes for each in found])
            share = proportion(passes, 2 * plan.sampling.points, plan.sampling.confidence)
        works = share_proportion(
            np.array([each.share for each in found]), parts, plan.sampling.confidence
        )
        correction = float(np.mean([each.correction for each in found]))
        if abs(correction) <= SUSPECT * works.half_width or counting.pilot >= LARGEST_PILOT:
            break
        counting = replace(counting, pilot=2 * counting.pilot)
    bands = [each.band for each in found if each.band is not None]
    moments = bool(of_kinds(plan, "running"))
    return TwoLevels(
        works=works if moments else share,
        share=share,
        keeps=keeps,
        moments=counting.moments,
        parts=parts,
        evaluations=sum(each.evaluations for each in found),
        correction=correction,
        pilot=min(counting.pilot, parts),
        band=doubt_band(plan, bands) if bands else None,
        no_band=None if bands else "no model inputs",
        one_level=None if moments else "no running inputs",
        shares=tuple(each.share for each in found),
        orders=tuple(each.order for each in found),
    )


def _seconds_of_a_call(plan: Plan) -> float:
    """Time a call of the models at one point: what each call takes, however few its points."""
    drawn = {item.name: item.nominal for item in plan.inputs}
    start = time.perf_counter()
    plan.system.evaluate({each.name: drawn[each.name] for each in plan.system.inputs})
    return time.perf_counter() - start


def _parts(plan: Plan, sizes: LevelSizes) -> int:
    if not of_kinds(plan, "build", "model"):
        return 1  # all parts are alike, and more of them would be a false certainty
    return sizes.parts or max(FEWEST_PARTS, plan.sampling.points // 2)


@dataclass(frozen=True)
class LevelsOfReplicate:
    """One replicate: W and what the audit added to it, passes of the plain sample, the band's."""

    share: float
    correction: float
    passes: int
    evaluations: int
    band: BandOfReplicate | None
    order: Order


def levels_replicate(
    plan: Plan, counting: Counting, sizes: LevelSizes, parts: int, plain: bool, replicate: int
) -> LevelsOfReplicate:
    """Find one replicate's W and, in the first replicates, W at points of the model inputs.

    ``plain`` asks for the passes of a plain sample too.
    """
    prepared = prepare(plan, counting, replicate, parts)
    lots = [Lot(parts, prepared.order, prepared.audit, prepared.known)]
    designs, had = [prepared.values], None
    if _has_band(plan, replicate):
        builds = band_builds(plan, sizes.builds)
        sample, had = band_sample(plan, replicate, counting.moments, builds, sizes.doubts)
        lots.append(Lot(sample.count, prepared.unaudited))
        # The moments are those of the parts that W is counted of: in step they share their calls.
        values = crossed_values(plan, sample)
        designs.append(replace(values, by_moment=prepared.values.by_moment))
    fails = failing_as_each(plan, designs, [lot.parts for lot in lots])
    counted, *others = count_lots(fails, lots, counting.step)
    band = None if had is None else band_counted(others[0], had)
    return LevelsOfReplicate(
        share=counted.share,
        correction=counted.correction,
        passes=plain_passes(plan, replicate) if plain else 0,
        evaluations=prepared.evaluations
        + counted.evaluations
        + (band.evaluations if band is not None else 0),
        band=band,
        order=prepared.order,
    )


def _has_band(plan: Plan, replicate: int) -> bool:
    return bool(of_kinds(plan, "model")) and replicate < BAND_REPLICATES


def band_of_replicate(
    plan: Plan, counting: Counting, sizes: LevelSizes, order: Order, replicate: int
) -> BandOfReplicate | None:
    """Count W at the points of the model inputs with this replicate's parts, if it has any."""
    if not _has_band(plan, replicate):
        return None
    builds = band_builds(plan, sizes.builds)
    return band_replicate(plan, counting, order, replicate, sizes.doubts, builds)


def plain_passes(plan: Plan, replicate: int) -> int:
    """Count the passes among both samples of a plain replicate, one moment to a part."""
    points = plan.sampling.points
    verdicts = Verdicts(plan, np.empty(2 * points, dtype=np.bool_))
    for number, uniforms in enumerate(replicate_uniforms(plan, replicate)):
        drawn = draw(plan, uniforms)
        inside = {
            quantity.name: inside_range(drawn[quantity.name], quantity)[0]
            for quantity in plan.system.inputs
        }
        for rows in row_blocks(points):
            place = slice(number * points + rows.start, number * points + rows.stop)
            verdicts.judge((place,), cut_rows(inside, rows))
    verdicts.finish()
    return int(np.count_nonzero(verdicts.kept))
