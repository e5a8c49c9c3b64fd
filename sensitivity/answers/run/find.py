"""The main job: replicates of a study gathered into its result, and its inputs ranked."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache, partial
from typing import TypeVar

from sensitivity.answers.levels import headline
from sensitivity.engine.monte_carlo import run_replicates
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.part_totals import PartTotals, part_groups, part_totals
from sensitivity.engine.plan import Plan, plan_run
from sensitivity.engine.rare import RareFailures, rare_failures, too_few_failures
from sensitivity.engine.result import Result, assemble, without_samples
from sensitivity.engine.shapley import ShapleyEffects, shapley_effects
from sensitivity.engine.two_levels import TwoLevels, two_levels
from sensitivity.engine.workers import aside, one_crew
from sensitivity.pricing.one_move import NominalToMove, nominal_to_move
from sensitivity.pricing.ranking import Ranking, rank
from sensitivity.pricing.reading_worth import ReadingWorth, worth_of_reading
from sensitivity.pricing.robustness import Robustness, robustness
from sensitivity.pricing.worth import advised_by_worth, priced_first, worth_of_closer_work
from sensitivity.study.study import Study

Got = TypeVar("Got")

ALONE = RunOptions(workers=1)
"""How one process does a whole stage: by itself, and telling nobody."""

NONE_TO_MOVE = NominalToMove(None, None)
DECISIVE = 14
"""Build dimensions, those that decide most, whose nominals are tried where no range is stated."""


@dataclass(frozen=True)
class Ran:
    """What a run found.

    Attributes
    ----------
    result : Result
        Of all moments alike: results, yields and indices.
    ranking : Ranking
        Inputs by what they do to pass or fail, with advice by what closer work is worth.
    seconds : float
        The time it took.
    levels : TwoLevels or None
        How many parts work, and between which figures that lies; None without limits.
    rare : RareFailures or None
        The chance of failure where the plain sample met too few failures to tell.
    shapley : ShapleyEffects or None
        Shares of correlated inputs, where indices would be no decomposition.
    robustness : Robustness or None
        What rests on spreads without a source; None without limits, or without such spreads.
    readings : tuple of ReadingWorth
        What reading each of the first dimensions gains, and each result that a gauge reaches.
    nominal : NominalToMove
        The one nominal to draw elsewhere first, or whose range to state.
    """

    result: Result
    ranking: Ranking
    seconds: float
    levels: TwoLevels | None = None
    rare: RareFailures | None = None
    shapley: ShapleyEffects | None = None
    robustness: Robustness | None = None
    part_totals: PartTotals | None = None
    readings: tuple[ReadingWorth, ...] = ()
    nominal: NominalToMove = NONE_TO_MOVE

    @property
    def study(self) -> Study:
        """The study."""
        return self.result.study

    @property
    def plan(self) -> Plan:
        """What was run."""
        return self.result.plan


def find_result(
    study: Study,
    *,
    pairs: bool = False,
    totals: bool = False,
    keep_samples: bool = False,
    beside: Callable[[Result], object] | None = None,
    options: RunOptions = DEFAULTS,
) -> Ran:
    """Run a study's replicates and gather them; arguments as of ``run``.

    ``beside`` is called with the result while others still price what closer work is worth.
    """
    with one_crew():
        return _found(study, pairs, totals, keep_samples, beside, options)


def _found(
    study: Study,
    pairs: bool,
    totals: bool,
    keep_samples: bool,
    beside: Callable[[Result], object] | None,
    options: RunOptions,
) -> Ran:
    start = time.monotonic()
    plan = plan_run(study, pairs=pairs, keep_samples=keep_samples)
    if totals:
        part_groups(plan)  # what has no indices is refused before anything is sampled
    unsampled = cache(partial(without_samples, study, plan))
    levels = None
    readings: tuple[ReadingWorth, ...] = ()
    nominal = NONE_TO_MOVE
    if plan.limits:  # first: it is what everybody asks, and may be told at once
        levels = two_levels(plan, keeps=study.keeps, options=replace(options, meanwhile=None))
        options.told(" ".join(headline(levels, study)))
    summaries = run_replicates(
        plan,
        workers=options.workers,
        executor=options.executor,
        progress=options.progress(),
        meanwhile=unsampled,
    )
    result = assemble(study, plan, summaries, unsampled=unsampled())
    overall, ranking = result.overall, rank(result)
    doubted = _aside(partial(robustness, plan, [row.name for row in ranking.rows]), options)
    if levels is not None and overall is not None:
        levels = replace(levels, share=overall)
        if levels.one_level is not None:
            levels = replace(levels, works=overall)
        read = _aside(partial(worth_of_reading, study, plan, priced_first(plan, ranking)), options)
        drawn = _aside(
            partial(
                nominal_to_move,
                plan,
                among=_decisive(ranking, plan),
                inches=study.units == "inch",
            ),
            options,
        )
        worth = worth_of_closer_work(
            plan,
            ranking,
            keeps=study.keeps,
            at_most=1.0 - levels.works.low,
            orders=levels.orders,
            options=replace(options, meanwhile=beside and partial(beside, result)),
        )
        readings, nominal = read(), drawn()
        ranking = advised_by_worth(ranking, worth, {row.name: row for row in readings})
    return Ran(
        result=result,
        ranking=ranking,
        levels=levels,
        rare=rare_failures(plan, options=options)
        if overall is not None and too_few_failures(overall)
        else None,
        shapley=shapley_effects(plan, options=options) if plan.refused else None,
        part_totals=part_totals(plan, keeps=study.keeps, options=options) if totals else None,
        robustness=doubted(),
        readings=readings,
        nominal=nominal,
        seconds=time.monotonic() - start,
    )


def _aside(stage: Callable[..., Got], options: RunOptions) -> Callable[[], Got]:
    """Begin a stage beside others where processes stand ready; it is done here, later, if not."""
    if options.executor is None:
        begun = aside(partial(stage, options=ALONE), workers=options.workers)
        if begun is not None:
            return begun
    return partial(stage, options=options)


def _decisive(ranking: Ranking, plan: Plan) -> frozenset[str]:
    """Name the build dimensions that decide most, all of a group's."""
    first = {row.name for row in ranking.of_kind("build")[:DECISIVE]}
    return frozenset(
        item.name
        for item in plan.inputs
        if item.spread is None or item.name in first or item.shown_group in first
    )
