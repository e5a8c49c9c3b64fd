"""The edges of a window, nearer and nearer: settings between the last that holds and what does not.

Half way from round to round, at round values, each tried at moments and priced in parts that work
like the others. Where the builder's step is stated there is nothing between two settings.
"""

from __future__ import annotations

from sensitivity.answers.window.screened import (
    Screened,
    by_place,
    by_value,
    holding,
    widest,
    with_more,
)
from sensitivity.engine.options import RunOptions
from sensitivity.pricing.priced import Priced, one_level, price_more

ROUNDS = 4
"""Halvings of the way between what holds and what does not, at most."""


def refined_edges(
    tried: Screened, priced: Priced[int], target: float, finest: float, options: RunOptions
) -> tuple[Screened, Priced[int]]:
    """Try and price settings about the edges of the window, to a part of the first step.

    Parameters
    ----------
    tried : Screened
        The settings tried at moments.
    priced : Priced
        Parts that work, by place.
    target : float
        Share of parts that are to work.
    finest : float
        Steps between which no edge is sought, in the input's unit.
    options : RunOptions
        Who computes, and who is told.
    """
    for _ in range(ROUNDS):
        fresh = _between(tried, priced, target, finest)
        if not fresh:
            break
        known = by_value(tried, priced)
        tried = with_more(tried, fresh, options)
        if one_level(tried.plan):
            priced = Priced(tried.passes, {place: place + 1 for place in tried.allowed})
            continue
        allowed = {tried.settings[place] for place in tried.allowed}
        variants = {value: tried.variant(value) for value in fresh if value in allowed}
        if variants:
            known = price_more(
                tried.plan, variants, known, keeps=tried.study.keeps, options=options
            )
        priced = by_place(tried, known)
    return tried, priced


def _between(tried: Screened, priced: Priced[int], target: float, finest: float) -> list[float]:
    """Propose a setting half way between either edge of the window and what is known beyond it."""
    works = {place: priced.works(place) for place in priced.columns}
    held = widest(tried, holding(tried, works, target))
    if held is None:
        return []
    # What a limit that hurts forbids does not hold, priced or not.
    known = {*works, *(set(range(len(tried.settings))) - set(tried.allowed))}
    found = []
    below = max((place for place in known if place < held[0]), default=None)
    above = min((place for place in known if place > held[1]), default=None)
    for edge, beyond in ((held[0], below), (held[1], above)):
        if beyond is None:
            continue
        inner, outer = tried.settings[edge], tried.settings[beyond]
        if abs(outer - inner) < 1.5 * finest:
            continue
        middle = float(f"{finest * round(0.5 * (inner + outer) / finest):.12g}")
        if middle not in (inner, outer) and middle not in {tried.settings[p] for p in known}:
            found.append(middle)
    return found
