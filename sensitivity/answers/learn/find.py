"""What trials say: of a part and its settings, of each dimension, of the physics, of the fault.

A slip is allowed for: each dimension has its stated chance to have been made wrong (``blunder`` in
the study, 1 in 50 unless said), and then lies anywhere within five stated half-widths of its
middle, equally likely. So all figures here, before the trials too, are of parts of which some have
slipped, and fewer work than ``run`` says of parts that have not.

Parts that work are counted among 4096 rows that each stand for as much, what is tried of them among
half of these; settings are screened on 512, every third and then those about the best of them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from sensitivity.answers.learn.readings import SettlingReading, failing_margin, settling_readings
from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.engine.moments import Variant, of_kinds
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan, plan_run
from sensitivity.errors import CallError
from sensitivity.learning.bench import bench_of, trials_for
from sensitivity.learning.evaluation import events_of, results_of
from sensitivity.learning.kept_doubts import kept_doubts, refuse_heard
from sensitivity.learning.next_trial import NextTrial, nearest_limit, next_trials
from sensitivity.learning.observations import Trial
from sensitivity.learning.posterior import EqualRows, Posterior, posterior
from sensitivity.learning.standing import some_of, standing
from sensitivity.learning.suspects import (
    Suspect,
    between,
    odd_readings,
    suspects,
    symptom_of,
    together,
    with_slips,
    without_symptom,
)
from sensitivity.learning.trials_file import ToldTrial
from sensitivity.presentation.units_said import Said, said_by
from sensitivity.pricing.assembly_settings import AssemblySettings, BestSetting
from sensitivity.pricing.assembly_verdicts import settings_to_try
from sensitivity.spreads.spread import Spread
from sensitivity.study.doubts import Doubts
from sensitivity.study.study import Input, Limit, Study

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

ROWS, FEWEST_ROWS, A_POINT = 4096, 512, 16
"""Rows that each stand for as much, in all: one for 16 points of the sampling, in these bounds."""
SCREENED = (64, 8)
"""Rows of a replicate, and replicates, on which settings are screened."""
EVERY = 3
"""Of many settings of one input these are screened first, then those about the best."""
REMEDIES = 3
"""Suspects of which it is asked how many would work if they were made anew."""


@dataclass(frozen=True)
class Dimension:
    """What the trials say of one input.

    Attributes
    ----------
    item : Input
        As stated.
    before, after : (float, float)
        Between which values it lies with nine chances in ten, in its unit.
    middle : (float, float)
        Its medians.
    out : float
        Chance that it lies outside its stated ends, after.
    """

    item: Input
    before: tuple[float, float]
    after: tuple[float, float]
    middle: tuple[float, float]
    out: float

    @property
    def told(self) -> float:
        """How much it was narrowed or moved, as a share of its range before."""
        width = max(self.before[1] - self.before[0], 1e-300)
        narrowed = 1.0 - (self.after[1] - self.after[0]) / width
        return max(abs(narrowed), 2.0 * abs(self.middle[1] - self.middle[0]) / width)


@dataclass(frozen=True)
class Remedy:
    """One or several suspects made anew, as stated and without a slip: how many then work."""

    names: tuple[str, ...]
    works: Proportion
    gain: Estimate


@dataclass(frozen=True)
class Fault:
    """What was seen to fail, and what that says.

    Attributes
    ----------
    seen : tuple of str
        Results whose limits were seen broken, or that read as they seldom do.
    expected : float
        How often so much is seen of parts as known without it.
    suspects : tuple of Suspect
        Every input, the most telling first.
    together : tuple of tuple of str
        Those named that are so correlated that they are suspected as one.
    remedies : tuple of Remedy
        Of the first suspects.
    """

    seen: tuple[str, ...]
    expected: float
    suspects: tuple[Suspect, ...]
    together: tuple[tuple[str, ...], ...]
    remedies: tuple[Remedy, ...]

    @property
    def named(self) -> tuple[Suspect, ...]:
        """Suspects of which the symptom is settled to say something."""
        return tuple(one for one in self.suspects if one.named)


@dataclass(frozen=True)
class Learnt:
    """What trials say.

    Attributes
    ----------
    study : Study
    plan : Plan
    told : tuple of ToldTrial
        The trials, and how they were told.
    known : Posterior
        With all that was seen.
    slips : mapping of str to Spread
        Of the dimensions that may have slipped.
    before, now : Proportion
        Parts that work: before the trials, and of those that behave as this one did.
    settings : AssemblySettings or None
        Tried of what can be set.
    best : BestSetting or None
        The best of them, on rows of which a quarter at most chose it.
    barred : tuple of Limit
        Limits that hurt, by which settings were left out.
    dimensions, doubts : tuple of Dimension
        What is made, and the physics; those that the trials say most of first.
    fault : Fault or None
        Where a limit was seen broken, or a reading is seldom as it was.
    readings : tuple of SettlingReading
        What to read next, the most telling first.
    of_failure : bool
        Whether they are judged by the failure, and not by how near to its limits the part stands.
    trials : tuple of NextTrial
        Which trial to make next, safe ones first.
    kept : Doubts or None
        What is to be kept of the physics.
    """

    study: Study
    plan: Plan
    told: tuple[ToldTrial, ...]
    known: Posterior
    slips: Mapping[str, Spread]
    before: Proportion
    now: Proportion
    settings: AssemblySettings | None
    best: BestSetting | None
    barred: tuple[Limit, ...]
    dimensions: tuple[Dimension, ...]
    doubts: tuple[Dimension, ...]
    fault: Fault | None
    readings: tuple[SettlingReading, ...]
    of_failure: bool
    trials: tuple[NextTrial, ...]
    kept: Doubts | None

    @cached_property
    def said(self) -> Said:
        """How quantities are said: in the study's units."""
        return said_by(self.study)

    @property
    def set_well(self) -> BestSetting | None:
        """The best setting, if it is better than where things stand."""
        return self.best if self.best is not None and self.best.gain.low > 0.0 else None


def find_learnt(
    study: Study,
    told: Sequence[ToldTrial],
    *,
    believe: bool = False,
    options: RunOptions = DEFAULTS,
) -> Learnt:
    """Find what trials say of a part, its dimensions, the physics and the fault.

    Parameters
    ----------
    study : Study
        As drawn, with limits.
    told : sequence of ToldTrial
        As ``read_trials`` reads them.
    believe : bool
        Go on in spite of a conflict with what is stated.
    options : RunOptions
        Who works, and who is told; the sampling is the study's.

    Raises
    ------
    CallError
        Where the study has no limits or nothing to learn of, or a trial was heard already.
    ConflictError
        Where what was seen is in conflict with what is stated.
    """
    if not study.limits:
        raise CallError(f"{study.name} states no limits, so nothing can be said to work")
    trials = tuple(one.trial for one in told)
    refuse_heard(study, trials)
    plan = plan_run(study, indices=False)
    if not of_kinds(plan, "build", "model"):
        raise CallError(
            f"{study.name}: no dimension varies and no doubt is stated, so trials teach nothing"
        )
    slips = with_slips(study)
    known = posterior(plan, trials, options=options, believe=believe, marginals=slips)
    prior = posterior(plan, (), marginals=slips)
    rows, drawn = (of.resampled(_rows_each(plan, len(of.weights))) for of in (known, prior))
    settings, barred = settings_to_try(plan, options=options)
    fault = _fault(study, plan, known, slips, trials, options)
    remade = () if fault is None else _to_remake(fault)
    variants: list[Variant] = [{name: _spread(plan, name) for name in names} for names in remade]
    few = some_of(rows, SCREENED[0], min(SCREENED[1], rows.shape[0]))
    at = _screened(plan, few, settings, study, options)
    if at is not None and settings is not None:
        variants.append(settings.variants[at])
    # What is tried is paired with what stands on half of the rows, which settles it well enough.
    half = some_of(rows, max(1, rows.shape[1] // 2), rows.shape[0])
    tried = standing(plan, half, variants, keeps=study.keeps, options=options)
    if fault is not None:
        remedies = tuple(
            Remedy(names, tried.works(place + 1), tried.gain(place + 1))
            for place, names in enumerate(remade)
        )
        fault = Fault(fault.seen, fault.expected, fault.suspects, fault.together, remedies)
    best = None
    if at is not None and settings is not None:
        last = len(variants)
        best = BestSetting(settings.at(at), tried.works(last), tried.gain(last))
    margin = (
        failing_margin(plan, known, symptom_of(trials))
        if symptom_of(trials)
        else nearest_limit(plan, known)
    )
    suspected = () if fault is None else tuple(one.item.name for one in fault.named)
    told_of = _dimensions(plan, prior, known)
    return Learnt(
        study=study,
        plan=plan,
        told=tuple(told),
        known=known,
        slips=slips,
        before=standing(plan, drawn, keeps=study.keeps, options=options).works(0),
        now=standing(plan, rows, keeps=study.keeps, options=options).works(0),
        settings=settings,
        best=best,
        barred=barred,
        dimensions=tuple(one for one in told_of if one.item.kind == "build"),
        doubts=tuple(one for one in told_of if one.item.kind == "model"),
        fault=fault,
        readings=settling_readings(study, plan, known, margin, suspected),
        of_failure=bool(symptom_of(trials)),
        trials=next_trials(study, plan, known, trials_for(study, bench_of(study))),
        kept=kept_doubts(study, plan, known),
    )


def _rows_each(plan: Plan, replicates: int) -> int:
    """Rows counted in each of so many replicates, a power of two: 4096 in all, or fewer.

    Where fewer points are asked for, as fewer rows.
    """
    points = plan.sampling.replicates * plan.sampling.points // A_POINT
    each = max(FEWEST_ROWS, min(ROWS, points)) // replicates
    return 1 << max(0, each.bit_length() - 1)


def _fault(
    study: Study,
    plan: Plan,
    known: Posterior,
    slips: Mapping[str, Spread],
    trials: Sequence[Trial],
    options: RunOptions,
) -> Fault | None:
    """Rank the suspects where a limit was seen broken; remedies are priced with the settings."""
    odd = odd_readings(trials, known)
    symptom = symptom_of(trials, odd)
    if not symptom:
        return None
    without = posterior(
        plan, without_symptom(trials, odd), options=options, believe=True, marginals=slips
    )
    flags: Flags = np.ones(without.weights.shape, dtype=np.bool_)
    for key, trial in enumerate(symptom):
        conditions = without.conditions.get(trial.identifier)
        found = results_of(plan, without.values, without.z, trial, conditions, key=key)
        flags &= events_of(plan, found, trial, without.weights)
    ranked = suspects(plan, without, known, flags, slips)
    names = [one.item.name for one in ranked if one.named]
    return Fault(
        seen=tuple(dict.fromkeys(one.result for trial in symptom for one in trial.seen)),
        expected=float((without.weights * flags).sum()),
        suspects=ranked,
        together=together(known, names),
        remedies=(),
    )


def _to_remake(fault: Fault) -> tuple[tuple[str, ...], ...]:
    """Name what might be made anew: each of the first suspects, and all that are named at once."""
    names = [one.item.name for one in fault.named if one.item.kind == "build"]
    found: list[tuple[str, ...]] = [(name,) for name in names[:REMEDIES]]
    found += [group for group in fault.together if set(group) <= set(names)]
    if len(names) > 1:
        found.append(tuple(names))
    return tuple(dict.fromkeys(found))


def _spread(plan: Plan, name: str) -> Spread:
    return next(item.spread for item in plan.varying if item.name == name and item.spread)


def _screened(
    plan: Plan,
    rows: EqualRows,
    settings: AssemblySettings | None,
    study: Study,
    options: RunOptions,
) -> int | None:
    """Find the place of the setting at which most rows work; None where nothing can be set."""
    if settings is None:
        return None
    variants, count = settings.variants, len(settings.points)
    first = list(range(0, count, EVERY if len(settings.inputs) == 1 else 1))
    shares: dict[int, float] = {}

    def count_at(places: Sequence[int]) -> int:
        some = [place for place in places if place not in shares]
        if some:
            tried = [variants[place] for place in some]
            found = standing(plan, rows, tried, keeps=study.keeps, options=options)
            shares.update(zip(some, found.shares[:, 1:].mean(axis=0).tolist(), strict=True))
        return max(shares, key=lambda place: shares[place])

    best = count_at(first)
    return count_at(range(max(0, best - EVERY + 1), min(count, best + EVERY)))


def _dimensions(plan: Plan, prior: Posterior, known: Posterior) -> list[Dimension]:
    found = []
    for item in plan.varying:
        if item.name not in known.names or item.spread is None:
            continue
        values = known.values[item.name]
        outside = (values < item.spread.low) | (values > item.spread.high)
        ranges, middles = [], []
        for each in (prior, known):
            ranges.append(between(each.values[item.name], each.weights))
            middles.append(between(each.values[item.name], each.weights, 0.0)[0])
        found.append(
            Dimension(
                item,
                ranges[0],
                ranges[1],
                (middles[0], middles[1]),
                float((known.weights * outside).sum()),
            )
        )
    return sorted(found, key=lambda one: -one.told)
