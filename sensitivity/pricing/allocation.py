"""The cheapest set of closer tolerances for a wanted yield.

Searched for on one sample, going greedily by yield gained per added minute and then giving up
what turns out not to be needed; borne out, or not, by a fresh sample of another seed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sensitivity.engine.intervals import Estimate, Proportion, proportion
from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.pricing.closer_work import Choice, Dimension, is_made
from sensitivity.pricing.variants import (
    Variant,
    VariantPasses,
    passes_difference,
    run_variants,
)
from sensitivity.spreads.spread import Spread

_LEAST_MINUTES = 0.1

Levels = tuple[int, ...]
"""Which choice each dimension has: 0 as stated, 1 its loosest choice, and so on."""


@dataclass(frozen=True, slots=True)
class Step:
    """One dimension of the set held closer, with the yield after it and all before it."""

    dimension: Dimension
    choice: Choice
    overall: Proportion
    gain: Estimate


@dataclass(frozen=True)
class Found:
    """The set that was found for a target.

    Attributes
    ----------
    reached : bool
        Whether the fresh run bears the target out. If not, ``steps`` are those worth doing.
    fresh_seed : int
        Seed of the run that all these yields come from.
    as_drawn, overall, closest, exact : Proportion
        Yield as stated; with the steps; with every dimension that does not lose by it at its
        closest choice; and with every build dimension exactly as drawn.
    closest_shares : mapping
        Each limit's yield with the dimensions at their closest, by result.
    """

    target: float
    reached: bool
    fresh_seed: int
    as_drawn: Proportion
    steps: tuple[Step, ...]
    overall: Proportion
    closest: Proportion
    closest_shares: Mapping[str, Proportion]
    exact: Proportion

    @property
    def minutes(self) -> float:
        """Bench minutes that the steps add."""
        return sum(step.choice.minutes for step in self.steps)

    @property
    def in_the_way(self) -> str:
        """The limit that is broken most often even with everything at its closest."""
        return min(self.closest_shares, key=lambda name: self.closest_shares[name].value)


@dataclass(frozen=True)
class Search:
    """What a search needs: the sample, the dimensions that can be held closer, the target.

    ``main`` are the places of the dimensions that matter as drawn, tried before the others;
    ``most`` has every dimension that does not lose by it at its closest.
    """

    plan: Plan
    dimensions: tuple[Dimension, ...]
    target: float
    options: RunOptions
    main: tuple[int, ...] = ()
    most: Levels = ()

    @property
    def worth(self) -> float:
        """Yield worth having: a tenth of the failures that the target allows."""
        return 0.1 * (1.0 - self.target)

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
        """Bench minutes added."""
        return sum(
            dimension.choices[level - 1].minutes
            for dimension, level in zip(self.dimensions, levels, strict=True)
            if level
        )

    def run(self, states: Sequence[Levels]) -> VariantPasses:
        """Count the passes of several sets on the search's own sample."""
        variants = [self.variant(levels) for levels in states]
        return run_variants(self.plan, variants, options=self.options)


def cheapest_set(search: Search) -> Found:
    """Search for the cheapest set, and try it on fresh samples until one bears the target out."""
    drawn: Levels = tuple(0 for _ in search.dimensions)
    _, gains = _useful(search, drawn, tuple(range(len(drawn))))
    main = tuple(place for place, gain in gains.items() if gain.high >= 0.5 * search.worth)
    # A spread that is not centred moves the mean as it narrows, and may so lose more than it gains.
    most = tuple(search.closest[p] if gains[p].high >= 0.0 else 0 for p in range(len(drawn)))
    search = replace(search, main=main, most=most)
    passes = search.run([drawn, most])
    levels, reached, attempt = drawn, passes.overall(1).low >= search.target, 1
    while not reached and (further := _one_step(search, levels)) is not None:
        levels, reached = further
    worthwhile = levels
    if not reached and passes.overall(2).low >= search.target:
        levels, reached = most, True
    if reached:
        levels = _given_up(search, levels)
        found = _fresh(search, levels, attempt)
        while not found.reached and (further := _one_step(search, levels)) is not None:
            levels, attempt = further[0], attempt + 1
            found = _fresh(search, levels, attempt)
        if found.reached:
            return found
        worthwhile = levels
    if passes.overall(2).high >= search.target:
        # One by one nothing gains any more that is worth having; all together may.
        attempt += 1
        found = _fresh(search, most, attempt)
        if found.reached:
            return found
    return _fresh(search, worthwhile, attempt + 1)


def _one_step(search: Search, levels: Levels) -> tuple[Levels, bool] | None:
    """Hold one dimension closer; None where none gains anything settled and worth having.

    Returns the new levels, and whether they reach the target. Of the steps that reach it the
    cheapest is taken, else that with the most yield gained per added minute.
    """
    useful, _ = _useful(search, levels, search.main)
    if not useful:
        others = tuple(place for place in range(len(levels)) if place not in search.main)
        useful, _ = _useful(search, levels, others)
    states = [
        _with(levels, {place: level})
        for place in useful
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
        if passes.overall(place).low >= search.target:
            reaching.append((added, state))
        gaining.append((gain / max(added, _LEAST_MINUTES), state))
    return (min(reaching)[1], True) if reaching else (max(gaining)[1], False)


def _with(levels: Levels, changes: Mapping[int, int]) -> Levels:
    return tuple(changes.get(place, level) for place, level in enumerate(levels))


def _useful(
    search: Search, levels: Levels, among: Sequence[int]
) -> tuple[list[int], dict[int, Estimate]]:
    """Find the dimensions worth holding closer, and what the closest choice of each gains."""
    places = [place for place in among if levels[place] < search.closest[place]]
    if not places:
        return [], {}
    passes = search.run([levels, *(_with(levels, {p: search.closest[p]}) for p in places)])
    gains = {
        place: passes_difference(
            passes.together[:, count], passes.together[:, 1], passes.rows, passes.confidence
        )
        for count, place in enumerate(places, start=2)
    }
    useful = [p for p, gain in gains.items() if gain.low > 0.0 and gain.value >= search.worth]
    return useful, gains


def _given_up(search: Search, levels: Levels) -> Levels:
    """Give up what is not needed: loosen one dimension, or loosen one and tighten another.

    Each round takes the cheapest set that still reaches the target on the search's own sample.
    """
    while True:
        useful, _ = _useful(search, levels, search.main)
        now = search.minutes(levels)
        near = {
            _with(levels, {place: looser, other: closer})
            for place, level in enumerate(levels)
            for looser in range(level)
            for other in {place, *useful}
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
            state
            for place, state in enumerate(cheaper, start=1)
            if passes.overall(place).low >= search.target
        )
        further = next(enough, None)
        if further is None:
            return levels
        levels = further


def _fresh(search: Search, levels: Levels, attempt: int) -> Found:
    """Run the set, step by step, on a sample that the search has not seen."""
    order = _in_order(search, levels)
    seed = int(np.random.SeedSequence([search.plan.seed, attempt]).generate_state(1)[0])
    plan = replace(search.plan, sampling=replace(search.plan.sampling, seed=seed))
    states = [
        tuple(level if place in order[: count + 1] else 0 for place, level in enumerate(levels))
        for count in range(len(order))
    ]
    names = [i.name for i in plan.varying if i.kind == "build" and not is_made(i)]
    exact: Variant = {item.name: item.nominal for item in plan.varying if item.name in names}
    variants = [*(search.variant(state) for state in (*states, search.most)), exact]
    passes = run_variants(plan, variants, options=search.options)
    steps = []
    for count, place in enumerate(order, start=1):
        dimension = search.dimensions[place]
        steps.append(
            Step(
                dimension=dimension,
                choice=dimension.choices[levels[place] - 1],
                overall=passes.overall(count),
                gain=passes_difference(
                    passes.together[:, count],
                    passes.together[:, count - 1],
                    passes.rows,
                    passes.confidence,
                ),
            )
        )
    last, closest = passes.overall(len(order)), len(order) + 1
    return Found(
        target=search.target,
        reached=last.low >= search.target,
        fresh_seed=seed,
        as_drawn=passes.overall(0),
        steps=tuple(steps),
        overall=last,
        closest=passes.overall(closest),
        closest_shares={
            limit.result: proportion(passes.each[:, closest, row], passes.rows, passes.confidence)
            for row, limit in enumerate(plan.limits)
        },
        exact=passes.overall(closest + 1),
    )


def _in_order(search: Search, levels: Levels) -> list[int]:
    """Order the dimensions of a set by yield gained per minute, each alone."""
    places = [place for place, level in enumerate(levels) if level]
    alone = [
        tuple(level if p == place else 0 for p, level in enumerate(levels)) for place in places
    ]
    passes = search.run(alone)
    value = {
        place: passes.gain(count).value / max(search.minutes(state), _LEAST_MINUTES)
        for count, (place, state) in enumerate(zip(places, alone, strict=True), start=1)
    }
    return sorted(places, key=lambda place: -value[place])
