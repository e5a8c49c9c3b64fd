"""The cheapest set of closer tolerances for a wanted share of parts that work.

Searched for on one sample, and borne out, or not, by a fresh sample of another seed. Parts that
work are dear to count and moments cheap, so a set is sought that keeps at a share of moments; the
share is guessed from the parts that work, and guessed again, until the set hardly changes. On the
fresh sample the set is priced with its neighbours, one step less and one more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sensitivity.engine.plan import Plan
from sensitivity.pricing.allocation_all import cheapest_of_all
from sensitivity.pricing.allocation_found import Both, Found, Step
from sensitivity.pricing.allocation_search import (
    Levels,
    Search,
    given_up,
    in_order,
    is_safe,
    limit_shares,
    one_looser,
    one_step,
    reach,
    useful,
    with_levels,
)
from sensitivity.pricing.closer_work import is_made
from sensitivity.pricing.finalists import priced_in_parts
from sensitivity.pricing.priced import Priced, one_level, price_more, varied, with_band
from sensitivity.pricing.variants import Variant, VariantPasses, passes_difference, run_variants

_ROUNDS = 5
"""Shares of moments that are tried at most for the target of parts."""
_INSIDE = 0.2
"""Nearest that a guess between two shares comes to either, as a part of the way."""
_CLOSE = 1.1
"""Ratio of the failing moments of a set too loose and one that does, to leave it at that."""
_NEAR_THE_CLOSEST = 1.5
"""Failing moments that a set worth doing may have, as a share of those of all at its closest."""
_PRICED_AFRESH = 6
"""Sets priced in parts on a fresh sample, at most: neighbours, the closest, exactly as drawn."""
A_FEW = 64
"""Parts a replicate by which it is first seen whether all at its closest may make enough work."""
_ATTEMPTS = 8
"""Fresh samples at most."""


def cheapest_set(search: Search) -> Found:
    """Search for the cheapest set, and try it on fresh samples until one bears the target out."""
    drawn: Levels = tuple(0 for _ in search.dimensions)
    every = tuple(range(len(drawn)))
    _, gains = useful(search, drawn, every)
    # Where hardly any part changes sides, these tell more of a gain than the two yields do.
    alone = search.run([with_levels(drawn, {p: search.closest[p]}) for p in every])
    high = {p: min(gains[p].high, alone.gain(p + 1).high) for p in every}
    main = tuple(place for place in every if high[place] >= 0.5 * search.worth)
    # A spread that is not centred moves the mean as it narrows, and may so lose more than it gains.
    most = tuple(search.closest[p] if gains[p].high >= 0.0 else 0 for p in every)
    search = replace(search, main=main, most=most)
    single, at_most = one_level(search.plan), search.works(most, A_FEW)
    if at_most.high >= search.target:
        at_most = search.works(most)
    if not single and at_most.high < search.target:
        return _short_of_it(search, drawn)
    if single:
        search, levels, enough = _by_moments(search, drawn)
    else:
        search, levels, enough = _by_parts(search, drawn, at_most.low)
    attempt, cheapest = 0, False
    if enough:
        levels, cheapest = cheapest_of_all(search, levels)
        best = levels
        while attempt < _ATTEMPTS:
            attempt += 1
            less, more = _neighbours(search, levels)
            found = _fresh(search, [*less, levels, *more], levels, attempt)
            if found.reached:
                minutes = search.minutes(best) + 1e-9
                return replace(found, cheapest=cheapest and found.minutes <= minutes)
            further = one_step(search, levels) if single else (more[0], False) if more else None
            if further is None:
                break
            levels = further[0]
    if levels != most and at_most.high >= search.target:
        # One by one nothing gains any more that is worth having; all together may.
        attempt += 1
        found = _fresh(search, [most], most, attempt)
        if found.reached:
            return found
    levels = _worthwhile(search, levels)
    return _fresh(search, [levels], levels, attempt + 1)


def _short_of_it(search: Search, drawn: Levels) -> Found:
    """Find what is worth doing where not even all at its closest makes enough parts work."""
    closest = search.run([search.most]).overall(1).value
    search = replace(search, at_moments=1.0 - _NEAR_THE_CLOSEST * (1.0 - closest))
    levels, reached = reach(search, drawn)
    if reached:
        levels = given_up(search, levels)
    levels = _worthwhile(search, levels)
    return _fresh(search, [levels], levels, 1)


def _by_moments(search: Search, levels: Levels) -> tuple[Search, Levels, bool]:
    """Find a set where a part that keeps works: moments are what is asked for."""
    levels, reached = reach(search, levels)
    if not reached and search.reaches(search.run([search.most]), 1):
        levels, reached = search.most, True
    return search, given_up(search, levels) if reached else levels, reached


@dataclass(frozen=True)
class _Tried:
    """A set: its failing moments that are allowed, and how many parts work at the low end."""

    failing: float
    works: float
    levels: Levels


def _by_parts(search: Search, drawn: Levels, at_most: float) -> tuple[Search, Levels, bool]:
    """Find the share of moments, and a set for it, that makes enough parts work.

    Between the drawing and all at its closest, where ``at_most`` work, by the parts that work at
    either; the logarithm of the failing moments is taken to be straight between them.
    """
    passes = search.run([search.most])
    low = _Tried(1.0 - passes.overall(0).value, search.works(drawn).low, drawn)
    if low.works >= search.target and is_safe(search.plan, passes, 0):
        return search, drawn, True
    high = _Tried(1.0 - passes.overall(1).low, at_most, search.most)
    if high.works < search.target or not is_safe(search.plan, passes, 1):
        return search, search.most, high.works >= search.target
    for _ in range(_ROUNDS):
        if low.failing < _CLOSE * high.failing:
            break
        tried = replace(search, at_moments=1.0 - _guess(low, high, search.target))
        if high.levels == search.most:
            levels, reached = reach(tried, low.levels)
        else:
            levels, reached = high.levels, True
        # What one by one is worth having may not do it; then it is priced as it stands.
        found = given_up(tried, levels) if reached else levels
        failing = 1.0 - tried.sought
        if found == high.levels:
            high = replace(high, failing=failing)
            continue
        works = search.works(found)
        if works.low >= search.target and is_safe(search.plan, search.run([found]), 1):
            high = _Tried(failing, works.low, found)
        else:
            low = _Tried(failing, works.low, levels if high.levels == search.most else low.levels)
            if not reached:
                break
    return replace(search, at_moments=1.0 - high.failing), high.levels, True


def _guess(low: _Tried, high: _Tried, target: float) -> float:
    """Guess how many failing moments may be allowed, from those with too few parts and enough."""
    way = (target - low.works) / max(high.works - low.works, 1e-9)
    way = float(np.clip(way, _INSIDE, 1.0 - _INSIDE))
    least = max(high.failing, 1e-9)
    return float(np.exp((1.0 - way) * np.log(max(low.failing, least)) + way * np.log(least)))


def _neighbours(search: Search, levels: Levels) -> tuple[list[Levels], list[Levels]]:
    """Give one step less, and one more; none where a part that keeps works."""
    if one_level(search.plan):
        return [], []
    less, more = one_looser(search, levels), one_step(search, levels)
    return [] if less is None else [less], [] if more is None else [more[0]]


def _worthwhile(search: Search, levels: Levels) -> Levels:
    """Keep a set that falls short only where it brings no danger that the drawing has not."""
    passes = search.run([levels])
    worse = is_safe(search.plan, passes, 0) and not is_safe(search.plan, passes, 1)
    return tuple(0 for _ in levels) if worse else levels


def _fresh(search: Search, near: Sequence[Levels], levels: Levels, attempt: int) -> Found:
    """Run a set, step by step, on a sample that the search has not seen.

    Of the set and its neighbours, the cheapest first, the first is taken with which enough parts
    work.
    """
    seed = int(np.random.SeedSequence([search.plan.seed, attempt]).generate_state(1)[0])
    plan = replace(search.plan, sampling=replace(search.plan.sampling, seed=seed))
    judged = None
    if not one_level(plan):
        judged = _judged(search, plan, near, levels)
        safe = _safe(search, plan, near)
        good = (each for each in near if judged.works(each).low >= search.target and each in safe)
        levels = next(good, levels)
    order = in_order(search, levels)
    states = [
        tuple(level if place in order[: count + 1] else 0 for place, level in enumerate(levels))
        for count in range(len(order))
    ]
    names = [i.name for i in plan.varying if i.kind == "build" and not is_made(i)]
    exact: Variant = {item.name: item.nominal for item in plan.varying if item.name in names}
    variants = [*(search.variant(state) for state in (*states, search.most)), exact]
    passes = run_variants(plan, variants, options=search.options)
    if judged is None:
        columns = {count: count for count in range(1, len(variants) + 1)}
        priced: Priced[int] = Priced(passes, columns)
    else:
        priced = _price_the_rest(search, plan, judged, [*states, search.most], variants)
    return _found(search, plan, passes, priced, levels, order)


def _safe(search: Search, plan: Plan, near: Sequence[Levels]) -> set[Levels]:
    """Tell with which of some sets no limit that hurts is broken too often."""
    if not any(limit.hurts for limit in plan.limits):
        return set(near)
    passes = run_variants(plan, [search.variant(each) for each in near], options=search.options)
    return {each for place, each in enumerate(near, start=1) if is_safe(plan, passes, place)}


def _judged(search: Search, plan: Plan, near: Sequence[Levels], levels: Levels) -> Priced[Levels]:
    """Price a set and its neighbours; the drawing, if it is one, with the design as stated.

    By a pilot as the set, which so serves for its band too; the drawing is one of the others.
    """
    changes = search.variant(levels)
    back: Variant = {
        item.name: item.spread
        for item in plan.varying
        if item.name in changes and item.spread is not None
    }
    others = [each for each in dict.fromkeys(near) if any(each) and each != levels]
    variants = [{**back, **search.variant(each)} for each in others]
    found = priced_in_parts(
        varied(plan, changes),
        [back, *variants] if back else variants,
        keeps=search.keeps,
        options=search.options,
    )
    columns = {each: place for place, each in enumerate(others, start=1)}
    if back:
        # The design as stated comes first wherever parts that work are told.
        first = [1, 0, *range(2, found.shares.shape[1])]
        found = replace(found, shares=found.shares[:, first])
        columns = {levels: 1, **{each: place + 1 for each, place in columns.items()}}
    return Priced(found, {**dict.fromkeys(near, 0), **columns})


def _price_the_rest(
    search: Search,
    plan: Plan,
    judged: Priced[Levels],
    states: Sequence[Levels],
    variants: Sequence[Variant],
) -> Priced[int]:
    """Price what is told of beside the set: the last of its steps, the closest, exactly as drawn.

    ``variants`` are the ``states`` and, last, every dimension exactly as drawn; columns are by
    their numbers, from 1.
    """
    columns = {
        count: judged.columns[state]
        for count, state in enumerate(states, start=1)
        if state in judged.columns
    }
    wanted = [len(variants), len(variants) - 1, *range(len(variants) - 2, 0, -1)]
    left = [number for number in wanted if number not in columns]
    left = left[: max(2, _PRICED_AFRESH - len(judged.columns))]
    numbered = Priced(judged.counted, columns)
    chosen = {number: variants[number - 1] for number in left}
    return price_more(plan, chosen, numbered, keeps=search.keeps, options=search.options)


def _found(
    search: Search,
    plan: Plan,
    passes: VariantPasses,
    priced: Priced[int],
    levels: Levels,
    order: Sequence[int],
) -> Found:
    last, closest = len(order), len(order) + 1

    def both(place: int) -> Both:
        works = priced.works(place) if place else priced.stated
        return Both(works, passes.overall(place))

    steps = []
    for count, place in enumerate(order, start=1):
        dimension = search.dimensions[place]
        gain = passes_difference(
            passes.together[:, count],
            passes.together[:, count - 1],
            passes.rows,
            passes.confidence,
        )
        works = priced.works(count) if count in priced.columns else None
        steps.append(
            Step(
                dimension=dimension,
                choice=dimension.choices[levels[place] - 1],
                overall=passes.overall(count),
                works=works,
                gain=gain,
            )
        )
    there = both(last)
    safe = is_safe(plan, passes, last)
    return Found(
        target=search.target,
        reached=there.works.low >= search.target and safe,
        fresh_seed=plan.seed,
        as_drawn=both(0),
        steps=tuple(steps),
        there=with_band(
            plan,
            there.works,
            there.share,
            search.variant(levels),
            keeps=search.keeps,
            orders=priced.orders,
            options=search.options,
        ),
        closest=both(closest),
        exact=both(closest + 1),
        drawn_shares=limit_shares(plan, passes, 0),
        shares=limit_shares(plan, passes, last),
        closest_shares=limit_shares(plan, passes, closest),
        kept_out=not safe or not is_safe(plan, passes, closest),
        making=search.making(levels),
        cheapest=False,
    )
