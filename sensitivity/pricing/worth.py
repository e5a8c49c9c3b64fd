"""What closer work is worth: parts that work more if a dimension's spread is halved.

A share of the variance says what decides; it does not say what care buys. A dimension that decides
much may be past helping by care, since its mean lies beyond a limit: closer work then gives more
parts that fail. So advice rests on the parts gained, on the same parts and moments as stated.

The rule, in full, for the first eight build dimensions by their index:

- ``measure``: reading it and acting on it gains parts, settled, a point in 100 or more, and more
  than halving its spread does;
- ``move a nominal``: halving the spread loses parts, and even the high end of the interval says so:
  what is aimed at lies at or beyond a limit;
- ``make closer``: halving it gains parts, settled, and a point in 100 or more;
- ``good enough as stated``: even the high end of the interval is below a point in 100;
- ``not settled``: anything between, and everything where not one part works as stated: no single
  spread shows what it is worth there.

What comes after the eighth keeps ``good enough as stated`` where its index is small beyond doubt,
and is otherwise ``not priced``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from sensitivity.engine.intervals import Estimate
from sensitivity.engine.kept import Order
from sensitivity.engine.moments import of_kinds
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.result import Result
from sensitivity.engine.two_levels import FEWEST_PARTS
from sensitivity.pricing.closer_work import is_made, share_of
from sensitivity.pricing.finalists import MOST_FINALISTS, PARTS, priced_in_parts
from sensitivity.pricing.ranking import Advice, Ranked, Ranking
from sensitivity.pricing.reading_worth import ReadingWorth
from sensitivity.study.study import Input

CLOSER = 0.5
"""Share of its spread to which each is held."""
WORTH_IT = 0.01
"""Parts gained, a share of all, for which closer work is advised."""

A_PART = 8
"""Points of a replicate to a part that is tried at all its moments as every variant."""

RULE = (
    "Each spread is halved in turn, all else as stated, on the same parts and moments. Make "
    "closer: that gains a point in 100 or more, and is settled. Move a nominal: it loses, since "
    "what is aimed at lies at or beyond a limit, and no care in making mends that. Measure: "
    "reading it, and acting on that, gains a point or more, settled, and more than halving. Good "
    "enough as stated: even the high end of the interval is below a point in 100. Not settled: "
    "between, or nothing works as stated; ask for more points. Not priced: below the eight that "
    "decide most. The total-effect index says what decides, not what care buys."
)


NO_READINGS: Mapping[str, ReadingWorth] = {}


@dataclass(frozen=True)
class Worth:
    """Parts that work more, by dimension, if its spread is halved; whether any work as stated."""

    halved: Mapping[str, Estimate]
    any_work: bool


def worth_of_closer_work(
    plan: Plan,
    ranking: Ranking,
    *,
    keeps: float,
    at_most: float = 1.0,
    orders: tuple[Order, ...] = (),
    options: RunOptions = DEFAULTS,
) -> Worth:
    """Price half the spread of the first eight build dimensions of a ranking, each alone.

    Parameters
    ----------
    plan : Plan
        With limits.
    ranking : Ranking
        Whose build dimensions are priced; what has been measured cannot be made closer.
    keeps : float
        Share of the moments at which a part that works keeps every limit.
    at_most : float
        Share of parts that fail as stated, the high end of it: no more can be gained.
    orders : tuple of Order
        Of each replicate's moments, where they are known.
    options : RunOptions
        Who computes, and who is told.

    Returns
    -------
    Worth
        Shares of parts gained, with their intervals; a group's spreads are halved together.
    """
    members = {row.name: _to_make(plan, row) for row in ranking.of_kind("build")}
    priced = priced_first(plan, ranking)
    if not priced or not plan.limits:
        return Worth({}, any_work=True)
    variants = [{item.name: share_of(item, CLOSER) for item in members[name]} for name in priced]
    found = priced_in_parts(
        plan,
        variants,
        keeps=keeps,
        parts=parts_for_finalists(plan),
        orders=orders,
        options=options,
    )
    gains = {name: _bounded(found.gain(n + 1), at_most) for n, name in enumerate(priced)}
    return Worth(gains, any_work=bool(found.shares.max() > 0.0))


def priced_first(plan: Plan, ranking: Ranking) -> list[str]:
    """Name the dimensions that are priced: the first that can be made closer."""
    rows = [row.name for row in ranking.of_kind("build") if _to_make(plan, row)]
    return rows[:MOST_FINALISTS] if plan.limits else []


def _bounded(gain: Estimate, at_most: float) -> Estimate:
    """Cut off an interval above what there is to gain."""
    return replace(gain, high=max(gain.value, min(gain.high, at_most)))


def parts_for_finalists(plan: Plan) -> int:
    """Parts a replicate: fewer where few points are asked for, more where nothing runs."""
    points = plan.sampling.points
    if of_kinds(plan, "running"):
        return max(FEWEST_PARTS, min(PARTS, points // A_PART))
    return max(FEWEST_PARTS, points // 2)


def _to_make(plan: Plan, row: Ranked) -> list[Input]:
    return [
        item
        for item in plan.varying
        if item.kind == "build" and row.name in (item.shown_group, item.name) and not is_made(item)
    ]


def word_of_worth(
    halved: Estimate, reading: ReadingWorth | None = None, *, any_work: bool = True
) -> Advice:
    """Apply the rule of this module to the parts gained by half a spread, and by a reading."""
    if reading is not None and worth_reading(reading) and reading.gain.value > halved.value:
        return "measure"
    if not any_work:
        return "not settled"
    if halved.high < 0.0:
        return "move a nominal"
    if halved.low > 0.0 and halved.value >= WORTH_IT:
        return "make closer"
    return "good enough as stated" if halved.high < WORTH_IT else "not settled"


def worth_reading(reading: ReadingWorth) -> bool:
    """Tell whether a reading gains parts, settled, and a point in 100 or more."""
    return reading.settled and reading.gain.low > 0.0 and reading.gain.value >= WORTH_IT


def advised_by_worth(
    ranking: Ranking, worth: Worth, readings: Mapping[str, ReadingWorth] = NO_READINGS
) -> Ranking:
    """Give a ranking the advice that follows from what closer work and readings are worth."""
    return replace(ranking, rows=tuple(_advised(row, worth, readings) for row in ranking.rows))


def _advised(row: Ranked, worth: Worth, readings: Mapping[str, ReadingWorth]) -> Ranked:
    halved = worth.halved.get(row.name) if row.kind == "build" else None
    if halved is not None:
        reading = readings.get(row.name)
        advice = word_of_worth(halved, reading, any_work=worth.any_work)
        read = None if reading is None else reading.gain
        return replace(row, halved=halved, read=read, advice=advice)
    kept = row.advice == "good enough as stated" and worth.any_work
    return row if kept else replace(row, advice="not priced")


def missed_on_average(result: Result) -> tuple[str, ...]:
    """Name the limited results whose mean lies at their limit or outside of it."""
    return tuple(
        output.name
        for output in result.limited
        if output.limit is not None and float(output.limit.margin(output.mean.value)) <= 0.0
    )
