"""The settings of one input as they are tried at moments, and which of them hold the target."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import isclose

import numpy as np

from sensitivity.answers.window.finalists import may_hold
from sensitivity.engine.intervals import Proportion
from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.pricing.allocation_search import limit_shares
from sensitivity.pricing.hurting import choosable, danger
from sensitivity.pricing.priced import Priced
from sensitivity.pricing.variants import Counts, Variant, VariantPasses, at_setting, run_variants
from sensitivity.study.study import Input, Study


@dataclass(frozen=True)
class Screened:
    """The settings, ascending, as they are tried at moments: ``passes`` has them in their order."""

    study: Study
    plan: Plan
    item: Input
    settings: tuple[float, ...]
    passes: VariantPasses

    def variant(self, value: float) -> Variant:
        """What a setting changes."""
        return {self.item.name: at_setting(self.item, value)}

    @property
    def variants(self) -> list[Variant]:
        """What each setting changes."""
        return [self.variant(value) for value in self.settings]

    @property
    def drawn(self) -> int | None:
        """Place of the setting as drawn, if it is one of them."""
        for place, value in enumerate(self.settings):
            if isclose(value, self.item.nominal, rel_tol=1e-9, abs_tol=1e-12):
                return place
        return None

    def overall(self, place: int) -> Proportion:
        """Share of parts and moments that keep every limit."""
        return self.passes.overall(place + 1)

    def shares(self, place: int) -> dict[str, Proportion]:
        """Share of parts and moments that keep each limit; of -1, as drawn."""
        return limit_shares(self.plan, self.passes, place + 1)

    @cached_property
    def dangers(self) -> dict[int, float]:
        """Chance of breaking a limit that hurts, its ceiling being one, by place."""
        places = range(len(self.settings))
        return {place: danger(self.plan.limits, self.shares(place)) for place in places}

    @cached_property
    def allowed(self) -> list[int]:
        """Places that no limit that hurts forbids."""
        return choosable(self.dangers)


def screened(
    study: Study, plan: Plan, item: Input, settings: Sequence[float], options: RunOptions
) -> Screened:
    """Try settings at moments."""
    variants: list[Variant] = [{item.name: at_setting(item, value)} for value in settings]
    passes = run_variants(plan, variants, options=options)
    return Screened(study, plan, item, tuple(settings), passes)


def with_more(tried: Screened, values: Collection[float], options: RunOptions) -> Screened:
    """Try further settings on the same uniforms, and put them among those tried."""
    fresh = sorted(set(values) - set(tried.settings))
    if not fresh:
        return tried
    further = run_variants(tried.plan, [tried.variant(value) for value in fresh], options=options)
    settings = np.array([*tried.settings, *fresh])
    order = np.argsort(settings)
    columns = np.concatenate([[0], order + 1])

    def joined(known: Counts, more: Counts) -> Counts:
        return np.concatenate([known, more[:, 1:]], axis=1)[:, columns]

    known = tried.passes
    passes = replace(
        known,
        together=joined(known.together, further.together),
        each=joined(known.each, further.each),
        gained=joined(known.gained, further.gained),
        lost=joined(known.lost, further.lost),
    )
    return replace(tried, settings=tuple(settings[order].tolist()), passes=passes)


def holding(tried: Screened, works: Mapping[int, Proportion], target: float) -> list[bool]:
    """Tell of each setting whether it holds the target: between two that do, it is taken to."""
    keeps = tried.study.keeps
    open_to = [p for p in tried.allowed if may_hold(tried.overall(p), target, keeps)]
    told = {place: share.low >= target for place, share in works.items()}
    return filled(range(len(tried.settings)), open_to, told)


def widest(tried: Screened, flags: Sequence[bool]) -> tuple[int, int] | None:
    """First and last place of the widest unbroken run; None where there is none."""
    settings = tried.settings
    return max(runs(flags), key=lambda run: settings[run[1]] - settings[run[0]], default=None)


def filled(places: Sequence[int], allowed: Sequence[int], told: Mapping[int, bool]) -> list[bool]:
    """Tell of every place what is told of some: of one between two, what both of them say."""
    row = sorted(told)

    def between(place: int) -> bool:
        below = [at for at in row if at < place]
        above = [at for at in row if at > place]
        return bool(below and above and told[below[-1]] and told[above[0]])

    open_to = set(allowed)
    return [
        told[place] if place in told else place in open_to and between(place) for place in places
    ]


def runs(flags: Sequence[bool]) -> list[tuple[int, int]]:
    """First and last place of each unbroken run of flags that are set."""
    edges = np.flatnonzero(np.diff([False, *flags, False]))
    return [(int(start), int(end) - 1) for start, end in zip(edges[::2], edges[1::2], strict=True)]


def by_place(tried: Screened, priced: Priced[float]) -> Priced[int]:
    """Know what was priced by the places of the settings in place of their values."""
    places = {value: place for place, value in enumerate(tried.settings)}
    return Priced(priced.counted, {places[value]: at for value, at in priced.columns.items()})


def by_value(tried: Screened, priced: Priced[int]) -> Priced[float]:
    """Know what was priced by the values of the settings, which stay when more are tried."""
    columns = {tried.settings[place]: at for place, at in priced.columns.items()}
    return Priced(priced.counted, columns)
