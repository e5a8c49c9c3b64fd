"""Whether any cheaper set of closer tolerances would do: all of them, or it is not said.

Closer work on a dimension that does not lose by it never keeps less often. So of all the sets that
are cheaper than one found only those need be tried that cannot be closer without costing as much.
A jig is made once for all the dimensions that it holds, which no step by step search can see.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from math import prod

from sensitivity.pricing.allocation_search import Levels, Search, given_up, is_safe, useful
from sensitivity.pricing.finalists import further_priced, priced_in_parts
from sensitivity.pricing.priced import one_level
from sensitivity.pricing.unsourced import few_points
from sensitivity.pricing.variants import run_variants

MOST_SETS = 5000
"""Sets that are laid out, at most."""
MOST_TRIED = 400
"""Sets that are tried at moments, at most, in one round."""
MOST_PRICED = 12
"""Sets that are priced in parts that work, at most, in one round."""
ROUNDS = 5


def cheapest_of_all(search: Search, levels: Levels) -> tuple[Levels, bool]:
    """Look for a cheaper set that reaches the target, among all of the dimensions that matter.

    Parameters
    ----------
    search : Search
        With what is sought at moments, as sharp as it takes.
    levels : tuple of int
        A set that reaches the target.

    Returns
    -------
    levels : tuple of int
        The same, or a cheaper one that reaches it.
    cheapest : bool
        Whether all that might be cheaper were tried.
    """
    drawn: Levels = tuple(0 for _ in levels)
    _, gains = useful(search, drawn, tuple(range(len(drawn))))
    # What gains nothing that is settled, at its closest and alone, is not worth a minute.
    free = [
        place
        for place, most in enumerate(search.most)
        if most and (levels[place] or (place in gains and gains[place].low > 0.0))
    ]
    if prod(search.most[place] + 1 for place in free) > MOST_SETS:
        return levels, False
    for _ in range(ROUNDS):
        near = _cheaper(search, levels, free)
        if len(near) > MOST_TRIED:
            return levels, False
        found, told = _reaching(search, near)
        if found is None:
            return levels, told
        levels = given_up(search, found) if one_level(search.plan) else found
    return levels, False


def _cheaper(search: Search, levels: Levels, free: Sequence[int]) -> list[Levels]:
    """Lay out the cheaper sets that cannot be closer in anything without costing as much."""
    most = search.minutes(levels) - 1e-9
    found = []
    for chosen in product(*(range(search.most[place] + 1) for place in free)):
        state = [0 for _ in levels]
        for place, level in zip(free, chosen, strict=True):
            state[place] = level
        if search.minutes(tuple(state)) >= most:
            continue
        closer = (
            (*state[:place], state[place] + 1, *state[place + 1 :])
            for place in free
            if state[place] < search.most[place]
        )
        if all(search.minutes(further) >= most for further in closer):
            found.append(tuple(state))
    return found


def _reaching(search: Search, near: Sequence[Levels]) -> tuple[Levels | None, bool]:
    """Find one of some sets that reaches the target; else whether it is told that none does."""
    if not near:
        return None, True
    single, search = one_level(search.plan), search.sharper()
    # Of the moments a part that works keeps this share, so a set that keeps less cannot do.
    least = search.target if single else search.keeps * search.target
    few = few_points(search.plan)
    quick = run_variants(few, [search.variant(each) for each in near], options=search.options)
    left = [each for n, each in enumerate(near, start=1) if quick.overall(n).high >= least]
    if not left:
        return None, True
    passes = search.run(left)
    if single:
        enough = [each for n, each in enumerate(left, start=1) if search.reaches(passes, n)]
        return min(enough, key=search.minutes, default=None), True
    places = [
        n
        for n in range(1, len(left) + 1)
        if passes.overall(n).high >= least and is_safe(search.plan, passes, n)
    ]
    places.sort(key=lambda n: -passes.overall(n).value)
    chosen = [left[n - 1] for n in places[:MOST_PRICED]]
    if not chosen:
        return None, True
    variants = [search.variant(each) for each in chosen]
    if search.known is None:
        priced = priced_in_parts(search.plan, variants, keeps=search.keeps, options=search.options)
    else:
        stated = replace(search.known, shares=search.known.shares[:, :1])
        priced = further_priced(search.plan, stated, variants, options=search.options)
    enough = [c for n, c in enumerate(chosen, start=1) if priced.works(n).low >= search.target]
    return min(enough, key=search.minutes, default=None), len(places) <= MOST_PRICED
