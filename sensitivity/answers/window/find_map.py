"""Parts that work over the nominals of two inputs.

Every pair is tried at moments; a few of those that keep most often are priced in parts that work,
the second time next to the best of the first. Pairs that keep as often lie along a ridge, so those
priced are taken far apart along it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from sensitivity.answers.window.find import FLAT
from sensitivity.answers.window.settings import (
    MOST_SETTINGS,
    Asked,
    EndBy,
    as_stated,
    ends_by,
    input_of,
    on_the_drawings_rule,
    planned,
    range_to_try,
    settings_to_try,
)
from sensitivity.engine.intervals import Estimate, Proportion, proportion
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.two_levels import TwoLevels
from sensitivity.errors import CallError
from sensitivity.presentation.units_said import Said, said_by
from sensitivity.pricing.finalists import MOST_FINALISTS
from sensitivity.pricing.hurting import choosable, danger
from sensitivity.pricing.priced import Priced, one_level, price_more, with_band
from sensitivity.pricing.variants import Variant, VariantPasses, at_setting, run_variants
from sensitivity.study.study import Input, Study

Floats = NDArray[np.float64]
Pair = tuple[int, int]

_WANTED = 14
_FIRST = 5
_RIDGE = 0.9
"""Pairs that keep for this share of what the best does may be those of which most work."""


@dataclass(frozen=True)
class WindowMap:
    """Parts over the nominals of two inputs; ``[i][j]`` is at ``first[i]``, ``second[j]``.

    Attributes
    ----------
    stated, there : TwoLevels
        As drawn, and at the chosen pair (as drawn where none is better).
    overall : tuple of tuple of Proportion
        Share of parts and moments that keep every limit.
    works : mapping of pair to Proportion
        Parts that work, where they were priced.
    best, at_a_moment : (int, int)
        Where most parts work, of the pairs priced; and where most keep at a moment.
    asked : (Asked, Asked)
        What the call said of each.
    ends : ((EndBy, EndBy), (EndBy, EndBy))
        What the first and the last setting of each are the ends of.
    chosen : (int, int) or None
        The pair nearest to the drawing among those level with the best; None where the drawing
        itself is.
    gain : Estimate
        Parts that work more at the best pair than as drawn.
    drawn_shares, there_shares : mapping of str to Proportion
        Share of moments at which each limit is kept, as drawn and at the chosen pair.
    kept_out, least_only : bool
        Whether a limit that hurts forbids any of the pairs, or all.
    """

    study: Study
    plan: Plan
    items: tuple[Input, Input]
    target: float
    stated: TwoLevels
    there: TwoLevels
    asked: tuple[Asked, Asked]
    ends: tuple[tuple[EndBy, EndBy], tuple[EndBy, EndBy]]
    first: tuple[float, ...]
    second: tuple[float, ...]
    overall: tuple[tuple[Proportion, ...], ...]
    works: Mapping[Pair, Proportion]
    best: Pair
    at_a_moment: Pair
    chosen: Pair | None
    gain: Estimate
    drawn_shares: Mapping[str, Proportion]
    there_shares: Mapping[str, Proportion]
    kept_out: bool
    least_only: bool

    @cached_property
    def said(self) -> Said:
        """How quantities are said: in the study's units, and in the steps that were asked for."""
        said = said_by(self.study)
        for each in self.asked:
            said = each.said_in(said)
        return said

    @property
    def holding(self) -> int:
        """Number of pairs priced at which the lower end of the parts that work is the target."""
        return sum(share.low >= self.target for share in self.works.values())


def find_map(
    study: Study,
    asked: tuple[Asked, Asked],
    *,
    target: float = 0.95,
    options: RunOptions = DEFAULTS,
) -> WindowMap:
    """Find parts that work over a grid of two inputs' nominals; raises as ``find_window`` does."""
    plan = planned(study)
    one, other = (input_of(study, each.name) for each in asked)
    if one is other:
        raise CallError(f"{one.name} is named twice; a map wants two inputs")
    axes, ends, taken = [], [], []
    for item, each in zip((one, other), asked, strict=True):
        wanted = as_stated(item, each)
        low, high = range_to_try(plan, item, wanted, options)
        inches = study.units == "inch"
        wanted = on_the_drawings_rule(item, wanted, low, high, _WANTED, inches=inches)
        taken.append(wanted)
        axes.append(settings_to_try(plan, item, wanted, low, high, _WANTED, inches=inches))
        ends.append(ends_by(plan, item, wanted, low, high))
    first, second = axes
    variants: dict[Pair, Variant] = {
        (i, j): {one.name: at_setting(one, x), other.name: at_setting(other, y)}
        for i, x in enumerate(first)
        for j, y in enumerate(second)
    }
    if len(variants) > MOST_SETTINGS:
        raise CallError(f"that is a map of {len(variants)} pairs; take larger steps")
    passes = run_variants(plan, list(variants.values()), options=options)
    columns = {pair: column for column, pair in enumerate(variants, start=1)}
    shares = {pair: passes.overall(column) for pair, column in columns.items()}
    dangers = {
        pair: danger(plan.limits, _limits(plan, passes, column)) for pair, column in columns.items()
    }
    allowed = choosable(dangers)
    at_a_moment = max(allowed, key=lambda pair: shares[pair].value)
    away = _away((one, other), (first, second))
    if one_level(plan):
        priced = Priced(passes, {pair: columns[pair] for pair in allowed})
    else:
        priced = _price(plan, variants, shares, allowed, away, keeps=study.keeps, options=options)
    works = {pair: priced.works(pair) for pair in priced.columns}
    best = max(works, key=lambda pair: works[pair].value)
    gain, chosen = priced.gain(best), None
    drawn_shares = _limits(plan, passes, 0)
    as_drawn = danger(plan.limits, drawn_shares)
    if as_drawn > max(1.0, dangers[best]) or (gain.low > 0.0 and gain.value >= FLAT):
        level = [pair for pair in works if _is_level(priced.more(best, pair))]
        chosen = min(level, key=away)
    stated = with_band(
        plan,
        priced.stated,
        passes.overall(0),
        keeps=study.keeps,
        orders=priced.orders,
        options=options,
    )
    return WindowMap(
        study=study,
        plan=plan,
        items=(one, other),
        target=target,
        stated=stated,
        there=stated
        if chosen is None
        else with_band(
            plan, works[chosen], shares[chosen], variants[chosen],
            keeps=study.keeps, orders=priced.orders, options=options,
        ),
        asked=(taken[0], taken[1]),
        ends=(ends[0], ends[1]),
        first=tuple(first),
        second=tuple(second),
        overall=tuple(
            tuple(shares[i, j] for j in range(len(second))) for i in range(len(first))
        ),
        works=works,
        best=best,
        at_a_moment=at_a_moment,
        chosen=chosen,
        gain=gain,
        drawn_shares=drawn_shares,
        there_shares=drawn_shares if chosen is None else _limits(plan, passes, columns[chosen]),
        kept_out=any(each > 1.0 for each in dangers.values()),
        least_only=all(each > 1.0 for each in dangers.values()),
    )  # fmt: skip


def _limits(plan: Plan, passes: VariantPasses, column: int) -> dict[str, Proportion]:
    """Share of parts and moments that keep each limit."""
    return {
        limit.result: proportion(passes.each[:, column, row], passes.rows, passes.confidence)
        for row, limit in enumerate(plan.limits)
    }


def _price(
    plan: Plan,
    variants: Mapping[Pair, Variant],
    shares: Mapping[Pair, Proportion],
    allowed: Sequence[Pair],
    away: Callable[[Pair], float],
    *,
    keeps: float,
    options: RunOptions,
) -> Priced[Pair]:
    """Price pairs far apart among those that keep most often, then those next to the best."""
    top = max(allowed, key=lambda pair: shares[pair].value)
    ridge = [pair for pair in allowed if shares[pair].value >= _RIDGE * shares[top].value]
    level = [pair for pair in ridge if shares[pair].value >= shares[top].value - FLAT]
    wanted = dict.fromkeys([top, min(level, key=away)])
    while len(wanted) < min(_FIRST, len(ridge)):
        wanted[max(ridge, key=lambda pair: min(_apart(pair, other) for other in wanted))] = None
    known: Priced[Pair] | None = None
    while wanted:
        chosen = {pair: variants[pair] for pair in wanted}
        known = price_more(plan, chosen, known, keeps=keeps, options=options)
        left = MOST_FINALISTS - len(known.columns)
        priced = known
        best = max(priced.columns, key=lambda pair: priced.works(pair).value)
        near = [pair for pair in ridge if pair not in priced.columns and _apart(pair, best) <= 2.0]
        near.sort(key=lambda pair: (-shares[pair].value, away(pair)))
        wanted = dict.fromkeys(near[:left])
    assert known is not None
    return known


def _apart(pair: Pair, other: Pair) -> float:
    return float((pair[0] - other[0]) ** 2 + (pair[1] - other[1]) ** 2)


def _is_level(short: Estimate) -> bool:
    return short.low <= 0.0 or short.value < FLAT


def _away(
    items: tuple[Input, Input], axes: tuple[Sequence[float], Sequence[float]]
) -> Callable[[Pair], float]:
    """Squared distance of a pair from the drawing, each range being one."""
    one, other = (_moves(item, settings) for item, settings in zip(items, axes, strict=True))
    return lambda pair: float(one[pair[0]] + other[pair[1]])


def _moves(item: Input, settings: Sequence[float]) -> Floats:
    values = np.asarray(settings)
    return np.asarray(((values - item.nominal) / np.ptp(values)) ** 2)
