"""Which settings are priced in parts that work: a few, nearer to the answer from round to round.

At a moment a setting keeps for at least ``keeps`` times the share of its parts that work. So one
that keeps less often than ``keeps`` times the target holds no target, and is not priced.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from sensitivity.engine.intervals import Proportion
from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.pricing.finalists import MOST_FINALISTS
from sensitivity.pricing.priced import Priced, price_more
from sensitivity.pricing.variants import Variant

FIRST = 4
"""Settings of the first round; each further one tries one on either side."""

AT_THE_TOP = 6
"""Settings priced at most where none holds the target, so that no edges are sought."""

Works = Mapping[int, Proportion]


def may_hold(share: Proportion, target: float, keeps: float) -> bool:
    """Tell whether a setting may hold a target, from how often it keeps at a moment."""
    return share.high >= keeps * target


def candidates(
    shares: Sequence[Proportion], places: Sequence[int], target: float, keeps: float
) -> list[int]:
    """Places that may hold the target; where none may, those on the hill of good settings."""
    holding = [place for place in places if may_hold(shares[place], target, keeps)]
    if holding:
        return holding
    best = max(shares[place].value for place in places)
    return [place for place in places if shares[place].value >= 0.5 * best > 0.0]


def price_settings(
    plan: Plan,
    variants: Sequence[Variant],
    shares: Sequence[Proportion],
    places: Sequence[int],
    drawn: int | None,
    *,
    target: float,
    keeps: float,
    options: RunOptions,
) -> Priced[int]:
    """Price a few of the settings that may be chosen, at most ``MOST_FINALISTS``.

    Parameters
    ----------
    plan : Plan
        Of the design as stated.
    variants, shares : sequence
        Of every setting, in ascending order: what it changes, and how often it keeps at a moment.
    places : sequence of int
        Those that may be chosen, in ascending order; one at least.
    drawn : int or None
        Place of the setting as drawn, which is priced with the design as stated.
    target : float
        Share of parts that are to work.
    keeps : float
        Share of the moments at which a part that works keeps every limit.
    options : RunOptions
        Who computes, and who is told.
    """
    screened = max(places, key=lambda place: shares[place].value)
    among = candidates(shares, places, target, keeps) or [screened]
    priced: Priced[int] | None = None
    tried: list[int] = [] if drawn is None else [drawn]
    wanted = _first(among, screened, tried)
    while wanted:
        known = priced
        chosen = {place: variants[place] for place in wanted}
        priced = price_more(plan, chosen, known, keeps=keeps, options=options)
        if drawn is not None:
            priced = Priced(priced.counted, {**priced.columns, drawn: 0})
        tried += wanted
        works = {place: priced.works(place) for place in tried}
        holds = max(each.low for each in works.values()) >= target
        left = (MOST_FINALISTS if holds else AT_THE_TOP) - (len(tried) - (drawn is not None))
        wanted = closer(works, among, target)[: max(left, 0)]
    if priced is None:
        # The setting as drawn is the only one to price.
        nothing: dict[int, Variant] = {}
        stated = price_more(plan, nothing, keeps=keeps, options=options)
        priced = Priced(stated.counted, dict.fromkeys(tried, 0))
    return priced


def _first(among: Sequence[int], screened: int, tried: Sequence[int]) -> list[int]:
    """Spread the first round evenly over the candidates, the best at a moment among them."""
    count = min(FIRST, len(among))
    even = [among[int((place + 0.5) * len(among) / count)] for place in range(count)]
    nearest = min(range(count), key=lambda at: abs(even[at] - screened))
    even[nearest] = screened
    return sorted({*even} - {*tried})


def closer(works: Works, among: Sequence[int], target: float) -> list[int]:
    """Propose the settings next to price: at the edges of what holds the target, or at the top.

    Parameters
    ----------
    works : mapping of int to Proportion
        Those priced, by place.
    among : sequence of int
        Candidates.
    target : float
        Share of parts that work.
    """
    best = max(works, key=lambda place: works[place].value)
    holds = works[best].low >= target

    def inside(place: int) -> bool:
        return holds and works[place].low >= target

    found = []
    for side in (-1, 1):
        row = sorted((place for place in works if side * (place - best) > 0), key=_outward(best))
        inner = best
        while row and inside(row[0]):
            inner = row.pop(0)
        outer = row[0] if row else None
        between = sorted(
            (
                place
                for place in among
                if side * (place - inner) > 0 and (outer is None or side * (outer - place) > 0)
            ),
            key=_outward(best),
        )
        if between:
            # Beyond the last that holds, the end itself; else half way.
            at = -1 if outer is None and holds else len(between) // 2
            found.append(between[at])
    return found


def _outward(best: int) -> Callable[[int], int]:
    return lambda place: abs(place - best)
