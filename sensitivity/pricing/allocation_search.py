"""Steps towards the cheapest set of closer tolerances, tried at moments on one sample.

Greedy by yield gained per added minute, then giving up what turns out not to be needed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from sensitivity.engine.intervals import Estimate, Proportion, proportion
from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.pricing.closer_work import Dimension
from sensitivity.pricing.finalists import PARTS, Finalists, further_priced, priced_in_parts
from sensitivity.pricing.hurting import danger
from sensitivity.pricing.priced import one_level
from sensitivity.pricing.variants import (
    Counts,
    Variant,
    VariantPasses,
    passes_difference,
    run_variants,
)
from sensitivity.spreads.spread import Spread

LEAST_MINUTES = 0.1
A_POINT, FEWEST_POINTS = 4, 256
"""Points of a plan to one by which sets are ordered at moments, and the fewest of these."""

Levels = tuple[int, ...]
"""Which choice each dimension has: 0 as stated, 1 its loosest choice, and so on."""


@dataclass(frozen=True)
class Search:
    """What a search needs: the sample, the dimensions that can be held closer, the target.

    Attributes
    ----------
    plan : Plan
    dimensions : tuple of Dimension
    target : float
        Share of parts that are to work.
    options : RunOptions
    keeps : float
        Share of the moments at which a part that works keeps every limit.
    known : Finalists or None
        Parts that work on the search's own sample, as far as they are known.
    at_moments : float or None
        Share of moments that is sought instead of the target; as sharp as it takes for the parts.
    main : tuple of int
        Places of the dimensions that matter as drawn, tried before the others.
    most : tuple of int
        Levels, with every dimension that does not lose by it at its closest.
    sharp : bool
        Whether sets are tried at moments with all of the plan's points.
    seen : dict of tuple of int to array
        Passes of the sets that were tried; in common to all that is made of this by ``replace``.
    """

    plan: Plan
    dimensions: tuple[Dimension, ...]
    target: float
    options: RunOptions
    keeps: float
    known: Finalists | None = None
    at_moments: float | None = None
    main: tuple[int, ...] = ()
    most: Levels = ()
    sharp: bool = False
    seen: dict[Levels, Counts] = field(default_factory=dict)

    @property
    def sought(self) -> float:
        """Share of moments that a set is to keep."""
        return self.target if self.at_moments is None else self.at_moments

    @property
    def worth(self) -> float:
        """Yield worth having: a tenth of the failures that are allowed."""
        return 0.1 * (1.0 - self.sought)

    @property
    def closest(self) -> Levels:
        """Every dimension by its closest choice."""
        return tuple(len(dimension.choices) for dimension in self.dimensions)

    def variant(self, levels: Levels) -> Variant:
        """Spreads that differ from those stated."""
        changes: dict[str, Spread | float] = {}
        for dimension, level in zip(self.dimensions, levels, strict=True):
            if level:
                changes.update(dimension.choices[level - 1].spreads)
        return changes

    def minutes(self, levels: Levels) -> float:
        """Bench minutes added: for each dimension, and once for each jig to be made."""
        return self.each(levels) + sum(self.making(levels).values())

    def each(self, levels: Levels) -> float:
        """Bench minutes added for the dimensions themselves."""
        return sum(
            dimension.choices[level - 1].minutes
            for dimension, level in zip(self.dimensions, levels, strict=True)
            if level
        )

    def making(self, levels: Levels) -> dict[str, float]:
        """Bench minutes for making each jig that a set needs and the design has not got."""
        chosen = [
            dimension.choices[level - 1]
            for dimension, level in zip(self.dimensions, levels, strict=True)
            if level
        ]
        return {c.process: c.making for c in chosen if c.making and c.process not in self.made}

    @cached_property
    def made(self) -> frozenset[str]:
        """Processes that the design as stated uses: their jigs are there."""
        return frozenset(item.process for item in self.plan.inputs)

    @cached_property
    def sampled(self) -> Plan:
        """The plan that sets are tried at moments by.

        Where a part is on two levels moments only order the sets, and parts of a fresh sample
        decide, so a quarter of the points will do; what can hurt is looked at with all of them.
        """
        if self.sharp or one_level(self.plan) or any(limit.hurts for limit in self.plan.limits):
            return self.plan
        sampling = self.plan.sampling
        points = min(sampling.points, max(FEWEST_POINTS, sampling.points // A_POINT))
        return replace(self.plan, sampling=replace(sampling, points=points))

    def run(self, states: Sequence[Levels]) -> VariantPasses:
        """Count the passes of several sets on the search's own sample; each set once."""
        drawn = tuple(0 for _ in self.dimensions)
        fresh = [each for each in dict.fromkeys(states) if each not in self.seen and any(each)]
        if fresh or drawn not in self.seen:
            variants = [self.variant(levels) for levels in fresh]
            found = run_variants(self.sampled, variants, options=self.options)
            for place, levels in enumerate([drawn, *fresh]):
                self.seen[levels] = found.column(place)
        return VariantPasses.of_columns(
            [self.seen[levels] for levels in (drawn, *states)],
            2 * self.sampled.sampling.points,
            self.plan.sampling.confidence,
        )

    def sharper(self) -> Search:
        """Give the same with all of the plan's points."""
        return replace(self, sharp=True, seen={})

    def works(self, levels: Levels, parts: int | None = None) -> Proportion:
        """Parts that work with a set, on the search's own sample; of fewer a replicate if asked."""
        if one_level(self.plan):
            return self.run([levels]).overall(1)
        known = self.known
        variants = [self.variant(levels)]
        if known is None:
            parts = parts or PARTS
            return priced_in_parts(
                self.plan, variants, keeps=self.keeps, parts=parts, options=self.options
            ).works(1)
        stated = replace(known, shares=known.shares[:, :1], parts=parts or known.parts)
        return further_priced(self.plan, stated, variants, options=self.options).works(1)

    def reaches(self, passes: VariantPasses, place: int) -> bool:
        """Tell whether a set keeps often enough at moments, and nothing that hurts too seldom."""
        return passes.overall(place).low >= self.sought and is_safe(self.plan, passes, place)


def is_safe(plan: Plan, passes: VariantPasses, place: int) -> bool:
    """Tell whether no limit that hurts is broken more often than its ceiling allows."""
    return danger(plan.limits, limit_shares(plan, passes, place)) <= 1.0


def limit_shares(plan: Plan, passes: VariantPasses, place: int) -> dict[str, Proportion]:
    """Share of parts and moments that keep each limit, as one variant."""
    return {
        limit.result: proportion(passes.each[:, place, row], passes.rows, passes.confidence)
        for row, limit in enumerate(plan.limits)
    }


def reach(search: Search, levels: Levels) -> tuple[Levels, bool]:
    """Go on from a set until it keeps often enough, or nothing more is worth having."""
    reached = search.reaches(search.run([levels]), 1)
    while not reached and (further := one_step(search, levels)) is not None:
        levels, reached = further
    return levels, reached


def one_step(search: Search, levels: Levels) -> tuple[Levels, bool] | None:
    """Hold one dimension closer; None where none gains anything settled and worth having.

    Returns the new levels, and whether they reach what is sought. Of the steps that reach it the
    cheapest is taken, else that with the most yield gained per added minute.
    """
    found, _ = useful(search, levels, search.main)
    if not found:
        others = tuple(place for place in range(len(levels)) if place not in search.main)
        found, _ = useful(search, levels, others)
    states = [
        with_levels(levels, {place: level})
        for place in found
        for level in range(levels[place] + 1, search.closest[place] + 1)
    ]
    if not states:
        return None
    passes = search.run([levels, *states])
    before = search.minutes(levels)
    reaching: list[tuple[float, Levels]] = []
    gaining: list[tuple[float, Levels]] = []
    for place, state in enumerate(states, start=2):
        added = search.minutes(state) - before
        gain = passes.overall(place).value - passes.overall(1).value
        if search.reaches(passes, place):
            reaching.append((added, state))
        gaining.append((gain / max(added, LEAST_MINUTES), state))
    return (min(reaching)[1], True) if reaching else (max(gaining)[1], False)


def with_levels(levels: Levels, changes: Mapping[int, int]) -> Levels:
    """Change some of the levels, by place."""
    return tuple(changes.get(place, level) for place, level in enumerate(levels))


def useful(
    search: Search, levels: Levels, among: Sequence[int]
) -> tuple[list[int], dict[int, Estimate]]:
    """Find the dimensions worth holding closer, and what the closest choice of each gains."""
    places = [place for place in among if levels[place] < search.closest[place]]
    if not places:
        return [], {}
    passes = search.run([levels, *(with_levels(levels, {p: search.closest[p]}) for p in places)])
    gains = {
        place: passes_difference(
            passes.together[:, count], passes.together[:, 1], passes.rows, passes.confidence
        )
        for count, place in enumerate(places, start=2)
    }
    found = [p for p, gain in gains.items() if gain.low > 0.0 and gain.value >= search.worth]
    return found, gains


def given_up(search: Search, levels: Levels) -> Levels:
    """Give up what is not needed: loosen one dimension, or loosen one and tighten another.

    Each round takes the cheapest set that still keeps as often as is sought.
    """
    while True:
        found, _ = useful(search, levels, search.main)
        now = search.minutes(levels)
        near = {
            with_levels(levels, {place: looser, other: closer})
            for place, level in enumerate(levels)
            for looser in range(level)
            for other in {place, *found}
            for closer in (
                range(levels[other] + 1, search.closest[other] + 1) if other != place else (looser,)
            )
        }
        priced = sorted((search.minutes(state), state) for state in near)
        cheaper = [state for minutes, state in priced if minutes < now - 1e-9]
        if not cheaper:
            return levels
        passes = search.run(cheaper)
        enough = (
            state for place, state in enumerate(cheaper, start=1) if search.reaches(passes, place)
        )
        further = next(enough, None)
        if further is None:
            return levels
        levels = further


def one_looser(search: Search, levels: Levels) -> Levels | None:
    """Loosen the one dimension by one choice that a set can best do without at moments."""
    states = [
        with_levels(levels, {place: level - 1}) for place, level in enumerate(levels) if level
    ]
    if not states:
        return None
    passes = search.run(states)
    return max(
        enumerate(states, start=1),
        key=lambda each: (passes.overall(each[0]).value, -search.minutes(each[1])),
    )[1]


def in_order(search: Search, levels: Levels) -> list[int]:
    """Order the dimensions of a set by yield gained per minute, each alone."""
    places = [place for place, level in enumerate(levels) if level]
    alone = [
        tuple(level if p == place else 0 for p, level in enumerate(levels)) for place in places
    ]
    passes = search.run(alone)
    value = {
        place: passes.gain(count).value / max(search.minutes(state), LEAST_MINUTES)
        for count, (place, state) in enumerate(zip(places, alone, strict=True), start=1)
    }
    return sorted(places, key=lambda place: -value[place])
