"""What closer tolerances buy, and the cheapest set of them that reaches a wanted yield.

Effort is the workshop table's bench minutes. The set is searched for on one sample, going greedily
by yield gained per added minute and then giving up what turns out not to be needed; it is
reported only if a fresh sample, of another seed, bears it out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sensitivity import __version__, wording
from sensitivity.decisions.variants import (
    Reweighted,
    Variant,
    VariantPasses,
    passes_difference,
    reweighted_yields,
    run_variants,
    weights_refused,
)
from sensitivity.document import SCHEMA, estimate_value, proportion_value
from sensitivity.errors import CallError
from sensitivity.intervals import Estimate, Proportion, proportion
from sensitivity.plan import Plan, plan_run
from sensitivity.progress import NoProgress, Progress
from sensitivity.quantity import conversion
from sensitivity.spread import Spread, narrowed, standard_deviation
from sensitivity.study import Input, Study
from sensitivity.workshop import (
    closer_processes,
    deviation_in_words,
    effort_trend,
    quantity_of,
    workshop_table,
)

FACTORS = (0.7, 0.5, 0.35, 0.25)
"""Shares of its spread to which an input without a process may be tightened."""

_LEAST_MINUTES = 0.1

Watch = Callable[[], Progress]
Levels = tuple[int, ...]
"""Which choice each dimension has: 0 as stated, 1 its loosest choice, and so on."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One way to hold a dimension closer.

    ``process`` is empty where the spread is merely to be ``factor`` of what it is. ``minutes`` are
    added bench minutes, for all the inputs of the dimension together.
    """

    process: str
    factor: float
    stated: str
    spreads: Mapping[str, Spread]
    minutes: float


@dataclass(frozen=True, slots=True)
class Dimension:
    """A build input, or several of one group that are made alike, and how to hold it closer.

    ``choices`` go from the loosest to the closest. ``note`` says why there are none.
    """

    name: str
    inputs: tuple[Input, ...]
    choices: tuple[Choice, ...]
    note: str


@dataclass(frozen=True, slots=True)
class Halved:
    """The yield if one dimension's spread is halved and all else stays, and what that gains.

    ``weighted`` is what it rests on where it comes from weights; ``refused`` says why there is
    no figure.
    """

    dimension: Dimension
    overall: Estimate | None
    gain: Estimate | None
    weighted: Reweighted | None = None
    refused: str = ""


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
class Tightened:
    """What halving each spread buys, ranked, and the set for the target if one was asked for."""

    study: Study
    plan: Plan
    stated: Proportion
    dimensions: tuple[Dimension, ...]
    halved: tuple[Halved, ...]
    found: Found | None


def tighten(
    study: Study,
    *,
    target: float | None = None,
    by_weights: bool = False,
    workers: int | None = None,
    watch: Watch = NoProgress,
) -> Tightened:
    """Price closer tolerances of a study's build inputs.

    Raises
    ------
    CallError
        Where the study has no limits, or no build input that varies.
    """
    if not study.limits:
        raise CallError(f"{study.name} states no limits, so a closer tolerance gains nothing")
    plan, dimensions = plan_run(study, indices=False), dimensions_of(study)
    if not dimensions:
        raise CallError(f"{study.name}: no input of kind build varies, so none can be tightened")
    halved, stated = _halve(plan, dimensions, by_weights, workers, watch)
    found = None
    if target is not None:
        search = _Search(plan, tuple(d for d in dimensions if d.choices), target, workers, watch)
        found = _cheapest(search)
    return Tightened(study, plan, stated, dimensions, halved, found)


# --- the dimensions and how each can be held closer -----------------------------------


def dimensions_of(study: Study) -> tuple[Dimension, ...]:
    """Find what can be tightened: build inputs, those of one group and made alike together."""
    alike: dict[tuple[object, ...], list[Input]] = {}
    for item in study.varying:
        if item.kind == "build" and not _is_made(item):
            alike.setdefault(_likeness(item), []).append(item)
    grouped = [items[0].group for items in alike.values() if len(items) > 1]
    return tuple(
        # Two sorts in one group are told apart by their first inputs.
        _dimension(
            items[0].name
            if len(items) == 1 or grouped.count(items[0].group) > 1
            else items[0].group,
            tuple(items),
        )
        for items in alike.values()
    )


def _is_made(item: Input) -> bool:
    """Tell whether an input has been measured, so that no process can alter it any more."""
    return item.stated.startswith("measured ")


def _likeness(item: Input) -> tuple[object, ...]:
    assert item.spread is not None
    if not item.group:
        return (item.name,)
    s = item.spread
    ends = tuple(float(f"{end - item.nominal:.9g}") for end in (s.low, s.high, s.centre))
    return (item.group, item.unit, item.process, s.shape, ends, s.scale, s.flat)


def _dimension(name: str, items: tuple[Input, ...]) -> Dimension:
    first = items[0]
    if first.process:
        found = [closer_processes(item.process, item.nominal, item.unit) for item in items]
        now = _minutes_of(first.process)
        # Of unlike sizes, what serves all of them.
        common = [row[0] for row in found[0] if all(row[0] in [r[0] for r in f] for f in found)]
        by_process = tuple(
            Choice(
                process=entry.name,
                factor=1.0,
                stated=deviation_in_words(entry),
                spreads={
                    item.name: next(row[1] for row in rows if row[0] == entry)
                    for item, rows in zip(items, found, strict=True)
                },
                minutes=len(items) * (entry.minutes - now),
            )
            for entry in common
        )
        note = "" if by_process else f"the workshop table has nothing closer than {first.process}"
        return Dimension(name, items, by_process, note)
    trend = effort_trend(quantity_of(first.unit)) if quantity_of(first.unit) else None
    if trend is None:
        note = (
            f"no process in the workshop table to judge the effort by ({first.unit or 'a number'})"
        )
        return Dimension(name, items, (), note)
    factor = conversion(first.unit, trend.unit).factor
    choices = []
    for share in FACTORS:
        spreads = {item.name: _share_of(item, share) for item in items}
        minutes = sum(
            trend.minutes(factor * standard_deviation(spreads[item.name]))
            - trend.minutes(factor * item.standard_deviation)
            for item in items
        )
        if np.isfinite(minutes):
            choices.append(Choice("", share, f"{share:g} of {first.stated}", spreads, minutes))
    note = "" if choices else "its spread is off the workshop table, so its effort is not known"
    return Dimension(name, items, tuple(choices), note)


def _minutes_of(process: str) -> float:
    return workshop_table("process")[process].minutes


def _share_of(item: Input, share: float) -> Spread:
    """Narrow a spread about its nominal; measured values about their own middle.

    What is stated one-sidedly about the nominal comes nearer to it as the work gets better; the
    bias of measured values is the nominal's to cure.
    """
    spread = item.spread
    assert spread is not None
    inside = spread.low <= item.nominal <= spread.high
    about = item.nominal if inside and spread.shape != "empirical" else spread.centre
    return narrowed(spread, share, about)


# --- halving --------------------------------------------------------------------------


def _halve(
    plan: Plan,
    dimensions: Sequence[Dimension],
    by_weights: bool,
    workers: int | None,
    watch: Watch,
) -> tuple[tuple[Halved, ...], Proportion]:
    variants: list[Variant] = [
        {item.name: _share_of(item, 0.5) for item in dimension.inputs} for dimension in dimensions
    ]
    if not by_weights:
        passes = run_variants(plan, variants, workers=workers, progress=watch())
        rows = [
            Halved(dimension, _as_estimate(passes.overall(place)), passes.gain(place))
            for place, dimension in enumerate(dimensions, start=1)
        ]
        return _ranked(rows), passes.overall(0)
    refused = [weights_refused(plan, variant) for variant in variants]
    sound = [variant for variant, reason in zip(variants, refused, strict=True) if not reason]
    weighted = iter(reweighted_yields(plan, sound, workers=workers, progress=watch()))
    rows = []
    for dimension, reason in zip(dimensions, refused, strict=True):
        if reason:
            rows.append(Halved(dimension, None, None, refused=reason))
        else:
            found = next(weighted)
            rows.append(Halved(dimension, found.overall, found.gain, found))
    return _ranked(rows), run_variants(plan, [], workers=workers, progress=watch()).overall(0)


def _as_estimate(share: Proportion) -> Estimate:
    return Estimate(share.value, share.low, share.high)


def _ranked(rows: list[Halved]) -> tuple[Halved, ...]:
    return tuple(sorted(rows, key=lambda row: -row.gain.value if row.gain else np.inf))


# --- the search -----------------------------------------------------------------------


@dataclass(frozen=True)
class _Search:
    """What a search needs: the sample, the dimensions that can be held closer, the target.

    ``main`` are the places of the dimensions that matter as drawn, tried before the others;
    ``most`` has every dimension that does not lose by it at its closest.
    """

    plan: Plan
    dimensions: tuple[Dimension, ...]
    target: float
    workers: int | None
    watch: Watch
    main: tuple[int, ...] = ()
    most: Levels = ()

    @property
    def worth(self) -> float:
        """Yield worth having: a tenth of the failures that the target allows."""
        return 0.1 * (1.0 - self.target)

    @property
    def closest(self) -> Levels:
        return tuple(len(dimension.choices) for dimension in self.dimensions)

    def variant(self, levels: Levels) -> Variant:
        changes: dict[str, Spread | float] = {}
        for dimension, level in zip(self.dimensions, levels, strict=True):
            if level:
                changes.update(dimension.choices[level - 1].spreads)
        return changes

    def minutes(self, levels: Levels) -> float:
        return sum(
            dimension.choices[level - 1].minutes
            for dimension, level in zip(self.dimensions, levels, strict=True)
            if level
        )

    def run(self, states: Sequence[Levels], plan: Plan | None = None) -> VariantPasses:
        variants = [self.variant(levels) for levels in states]
        return run_variants(
            plan or self.plan, variants, workers=self.workers, progress=self.watch()
        )


def _cheapest(search: _Search) -> Found:
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


def _one_step(search: _Search, levels: Levels) -> tuple[Levels, bool] | None:
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
    search: _Search, levels: Levels, among: Sequence[int]
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


def _given_up(search: _Search, levels: Levels) -> Levels:
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


def _fresh(search: _Search, levels: Levels, attempt: int) -> Found:
    """Run the set, step by step, on a sample that the search has not seen."""
    order = _in_order(search, levels)
    seed = int(np.random.SeedSequence([search.plan.seed, attempt]).generate_state(1)[0])
    plan = replace(search.plan, sampling=replace(search.plan.sampling, seed=seed))
    states = [
        tuple(level if place in order[: count + 1] else 0 for place, level in enumerate(levels))
        for count in range(len(order))
    ]
    names = [i.name for i in plan.varying if i.kind == "build" and not _is_made(i)]
    exact: Variant = {item.name: item.nominal for item in plan.varying if item.name in names}
    variants = [*(search.variant(state) for state in (*states, search.most)), exact]
    passes = run_variants(plan, variants, workers=search.workers, progress=search.watch())
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


def _in_order(search: _Search, levels: Levels) -> list[int]:
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


# --- in words, and as plain values ----------------------------------------------------


def halving_verdict(tightened: Tightened) -> str:
    """Say in one sentence what halving a spread buys."""
    settled = [row for row in tightened.halved if row.gain is not None and row.gain.low > 0.0]
    if not settled:
        return "Halving no one spread gains anything that is settled."
    first = settled[0]
    assert first.gain is not None
    others = len(tightened.halved) - len(settled)
    text = (
        f"Halving the spread of {wording.in_words(first.dimension.name)} buys most, "
        f"{100 * first.gain.value:.2g} more of 100"
    )
    if others:
        text += f"; for {others} of the {len(tightened.halved)} it buys nothing that is settled"
    return f"{text}."


def set_verdict(tightened: Tightened) -> str:
    """Say in shop words which tolerances reach the target, or what is in the way."""
    found = tightened.found
    assert found is not None
    wanted = wording.of_a_hundred(found.target)
    share = wording.share_of_a_hundred(found.overall)
    if found.reached and not found.steps:
        return f"As stated, about {share} of 100 keep within every limit: nothing need be closer."
    if found.reached:
        what = _what_to_do(tightened, found.steps)
        return (
            f"{what[0].upper()}{what[1:]}: about {share} of 100 keep within every limit, "
            f"against {wording.share_of_a_hundred(found.as_drawn)} as drawn, for about "
            f"{found.minutes:.0f} minutes more at the bench. All else may stay as it is."
        )
    if found.closest.high >= found.target:
        head = f"No set of tolerances tried is sure to reach {wanted}; more --points may settle it."
    else:
        head = f"No set of tolerances tried reaches {wanted}."
    return f"{head} {_why_not(tightened, found)}"


def _what_to_do(tightened: Tightened, steps: Sequence[Step]) -> str:
    """Gather the steps: ``Go to ... for a, b and c; hold d to 0.5 of its spread``."""
    gathered: dict[str, list[str]] = {}
    order = [dimension.name for dimension in tightened.dimensions]
    for step in sorted(steps, key=lambda step: order.index(step.dimension.name)):
        name = wording.in_words(step.dimension.name)
        how = step.choice.process or f"{step.choice.factor:g}"
        gathered.setdefault(how, []).append(name)
    processes = {step.choice.process for step in steps}
    parts = [
        f'go to "{wording.in_words(how)}" for {wording.listed(names)}'
        if how in processes
        else f"hold {wording.listed(names)} to {how} of the spread"
        for how, names in gathered.items()
    ]
    return "; ".join(parts)


def _why_not(tightened: Tightened, found: Found) -> str:
    limit = wording.in_words(found.in_the_way)
    broken = wording.out_of_a_hundred(1.0 - found.closest_shares[found.in_the_way].value)
    exact = wording.share_of_a_hundred(found.exact)
    adjustable = [item.name for item in tightened.study.inputs if item.adjust is not None]
    which = " or ".join(adjustable) or "INPUT"
    window = f'"spiritlevel window {tightened.study.name}.toml {which}"'
    if not adjustable:
        window += " for what you can move"
    text = (
        "With all that gains by it at its closest, about "
        f"{wording.share_of_a_hundred(found.closest)} of 100 keep within every limit; in the way "
        f"is {limit}, broken in {broken}."
    )
    if found.exact.low >= found.target:
        text += (
            f" Were every dimension exactly as drawn it would be {exact}, but the workshop table "
            f"comes no closer. A better nominal may do it: {window}."
        )
    else:
        text += (
            f" Even with every dimension exactly as drawn it would be {exact}: what is wrong is a "
            "nominal, a running condition or a doubt of the model, not a tolerance. Next: "
            f"{window}."
        )
    gain = found.overall.value - found.as_drawn.value
    if gain < 0.01:
        return f"{text} No tolerance tried is worth a point in a hundred before that."
    return (
        f"{text} What is worth doing all the same: "
        f"{_what_to_do(tightened, found.steps)}; that brings about "
        f"{wording.share_of_a_hundred(found.overall)} instead of "
        f"{wording.share_of_a_hundred(found.as_drawn)}, for about {found.minutes:.0f} minutes more."
    )


def tighten_document(tightened: Tightened) -> dict[str, Any]:
    """Lay the answer out as plain values."""
    sampling, found = tightened.plan.sampling, tightened.found
    return {
        "schema": SCHEMA,
        "spiritlevel": __version__,
        "command": "tighten",
        "title": tightened.study.title,
        "seed": tightened.plan.seed,
        "replicates": sampling.replicates,
        "points": sampling.points,
        "confidence": sampling.confidence,
        "verdict": halving_verdict(tightened) if found is None else set_verdict(tightened),
        "yield_as_drawn": proportion_value(tightened.stated),
        "halved": [
            {
                "dimension": row.dimension.name,
                "inputs": [item.name for item in row.dimension.inputs],
                "yield": None if row.overall is None else estimate_value(row.overall),
                "gain": None if row.gain is None else estimate_value(row.gain),
                "effective_sample_size": row.weighted and row.weighted.effective,
                "effective_failures": row.weighted and row.weighted.effective_failures,
                "refused": row.refused,
            }
            for row in tightened.halved
        ],
        "set": None if found is None else _found_body(found),
        "left_out": {d.name: d.note for d in tightened.dimensions if d.note},
        "study": tightened.study.text,
    }


def _found_body(found: Found) -> dict[str, Any]:
    return {
        "target": found.target,
        "reached": found.reached,
        "fresh_seed": found.fresh_seed,
        "minutes": found.minutes,
        "yield_as_drawn": proportion_value(found.as_drawn),
        "yield": proportion_value(found.overall),
        "yield_at_closest": proportion_value(found.closest),
        "limits_at_closest": {
            name: proportion_value(share) for name, share in found.closest_shares.items()
        },
        "in_the_way": "" if found.reached else found.in_the_way,
        "yield_exactly_as_drawn": proportion_value(found.exact),
        "steps": [
            {
                "dimension": step.dimension.name,
                "inputs": [item.name for item in step.dimension.inputs],
                "process": step.choice.process,
                "factor": step.choice.factor,
                "minutes": step.choice.minutes,
                "yield": proportion_value(step.overall),
                "gain": estimate_value(step.gain),
            }
            for step in found.steps
        ],
    }
