"""In which order to measure the build dimensions, with which instrument, and the yield after each.

A part is made, then measured, then what can be set at assembly (``adjust``) is set to suit what
was read; how well it can be set is its stated spread. Where nothing can be set, what a reading can
still do is to reject an assembly that is likelier to fail than to work: it is remade instead.

The order is greedy: at each step the dimension whose reading gains most, given those read before,
with the cheapest instrument (in minutes) whose gain lies in the interval of the best one's. It
stops where the target is reached, where no gain is settled, or where none saves so much as one in
fifty of those that still fail. A gain counts as settled at the stated confidence shared out
among all dimensions (Bonferroni), since it is the largest of many that is looked at.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import (
    FEWEST_EVENTS,
    Estimate,
    Proportion,
    clopper_pearson,
    proportion,
    student,
)
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan, plan_run
from sensitivity.errors import CallError
from sensitivity.pricing.assembly_settings import (
    Assemblies,
    AssemblySettings,
    BestSetting,
    assembly_settings_of,
    place_of_best,
    sample_assemblies,
    set_at,
)
from sensitivity.pricing.instruments import check_instruments, instruments_for
from sensitivity.pricing.value_of_information import Decision
from sensitivity.pricing.value_of_readings import (
    ACCEPT,
    Bench,
    Candidate,
    Knowledge,
    PricedReading,
    acceptance_decision,
    choices_with,
    setting_decision,
    value_of_reading,
    with_reading,
    without_readings,
)
from sensitivity.pricing.variants import moved_difference
from sensitivity.study.study import Input, Study

Counts = NDArray[np.int64]
Flags = NDArray[np.bool_]

MOST_STEPS = 12
LEAST_SAVED = 0.02
"""Share of those that still fail which a reading must save to be worth its trouble."""

CONSIDERED = 8
"""Dimensions tried after the first step: those that would explain most of what is still unknown."""

WITH_INSTRUMENTS = 3
"""Of those, how many are tried with each instrument; the others with a perfect one alone."""


@dataclass(frozen=True, slots=True)
class Rejection:
    """What rejecting comes to: the share rejected, and the yield of those accepted.

    Adjustable inputs are at the one best setting for all.
    """

    share: Proportion
    accepted: Proportion


@dataclass(frozen=True, slots=True)
class MeasureStep:
    """One reading of the order, given those before it.

    Attributes
    ----------
    name : str
        The dimension.
    reading : PricedReading
        The instrument, its minutes, and what this step adds to the step before.
    overall : Proportion or None
        Yield with all read so far and the adjustable inputs set to suit; None without any.
    rejection : Rejection
        What comes of setting nothing to suit, and rejecting what is likelier to fail.
    """

    name: str
    reading: PricedReading
    overall: Proportion | None
    rejection: Rejection


@dataclass(frozen=True)
class Measuring:
    """What to measure, in order.

    Attributes
    ----------
    as_drawn : Proportion
        Yield with nothing measured and nothing set.
    set_well : BestSetting or None
        The best of one setting for all, nothing measured; None where nothing can be set.
    ceiling : Proportion or None
        Share that work at one setting or another: no reading can do better.
    candidates : tuple of Candidate
        Each dimension alone, largest gain first.
    steps : tuple of MeasureStep
        The order.
    rest : Estimate or None
        What knowing all other dimensions exactly would add to the last step.
    """

    study: Study
    plan: Plan
    settings: AssemblySettings | None
    target: float | None
    as_drawn: Proportion
    set_well: BestSetting | None
    ceiling: Proportion | None
    candidates: tuple[Candidate, ...]
    steps: tuple[MeasureStep, ...]
    rest: Estimate | None

    @property
    def final(self) -> Proportion:
        """Yield after the last step: set to suit, or of those accepted where nothing can be set."""
        if not self.steps:
            return self.set_well.overall if self.set_well else self.as_drawn
        return self.steps[-1].overall or self.steps[-1].rejection.accepted

    @property
    def minutes(self) -> float:
        """Minutes of all readings of the order."""
        return sum(step.reading.minutes for step in self.steps)


def measurable(study: Study) -> tuple[Input, ...]:
    """Find the build dimensions that vary and are not set at assembly.

    Raises
    ------
    CallError
        Where there are none, or no limits to tell good from bad.
    """
    if not study.limits:
        raise CallError(f"{study.name} states no limits, so no reading can tell good from bad")
    found = tuple(item for item in study.varying if item.kind == "build" and item.adjust is None)
    if not found:
        raise CallError(
            f'{study.name}: no dimension of kind "build" varies (but for what is set at '
            "assembly), so there is nothing to measure"
        )
    return found


def find_measuring(
    study: Study,
    *,
    target: float | None = None,
    at_hand: Sequence[str] = (),
    options: RunOptions = DEFAULTS,
) -> Measuring:
    """Find the order in which to measure.

    Parameters
    ----------
    study : Study
        With limits, and with inputs of kind ``build`` that vary and are not set at assembly.
    target : float, optional
        Yield, 0..1, at which to stop.
    at_hand : sequence of str, optional
        Names of the only instruments to consider.
    options : RunOptions
        Who works, and who is told; the sampling is the study's.

    Returns
    -------
    Measuring

    Raises
    ------
    CallError
        Where there are no limits, nothing to measure, or an instrument is not in the table.
    """
    check_instruments(at_hand)
    items = measurable(study)
    plan = plan_run(study, indices=False)
    settings = assembly_settings_of(plan)
    assemblies = sample_assemblies(plan, settings, [item.name for item in items], options=options)
    decision = (
        acceptance_decision(assemblies)
        if settings is None
        else setting_decision(assemblies, settings)
    )
    bench = Bench(
        decision=decision,
        values=assemblies.values,
        names=tuple(item.name for item in items),
        units=tuple(item.unit for item in items),
        instruments=tuple(instruments_for(item, at_hand) for item in items),
        seed=plan.seed,
        confidence=plan.sampling.confidence,
    )
    start = without_readings(decision)
    alone = bench.candidates(start, range(len(items)), with_instruments=len(items))
    as_drawn = _yield(assemblies.as_drawn, plan)
    well, acceptance = None, decision
    if settings is not None:
        well = _set_well(start, assemblies, settings, plan)
        fixed = replace(plan, inputs=set_at(plan.inputs, well.at))
        acceptance = acceptance_decision(sample_assemblies(fixed, None, (), options=options))
    now = well.overall if well else as_drawn
    steps, known, left = _order(bench, acceptance, start, alone, target, now)
    return Measuring(
        study=study,
        plan=plan,
        settings=settings,
        target=target,
        as_drawn=as_drawn,
        set_well=well,
        ceiling=None
        if settings is None
        else _yield(np.logical_or.reduce(assemblies.works, axis=2), plan),
        candidates=tuple(sorted(alone.values(), key=lambda row: -row.perfect.value)),
        steps=steps,
        rest=_rest(bench, known, left),
    )


def _rest(bench: Bench, known: Knowledge, left: Sequence[int]) -> Estimate | None:
    """Find what all dimensions left would add if they were known exactly."""
    if not left:
        return None
    after = with_reading(bench.decision, known, bench.values[..., left])
    return value_of_reading(known, after, bench.confidence)


def _set_well(
    start: Knowledge, assemblies: Assemblies, settings: AssemblySettings, plan: Plan
) -> BestSetting:
    works, drawn = start.paid > 0.0, assemblies.as_drawn
    gained, lost = (
        np.count_nonzero(one & ~other, axis=1) for one, other in ((works, drawn), (drawn, works))
    )
    return BestSetting(
        at=settings.at(place_of_best(assemblies.works.sum(axis=(0, 1)))),
        overall=_yield(works, plan),
        gain=moved_difference(gained, lost, works.shape[1], plan.sampling.confidence),
    )


def _yield(works: Flags, plan: Plan) -> Proportion:
    return proportion(np.count_nonzero(works, axis=1), works.shape[1], plan.sampling.confidence)


def _order(
    bench: Bench,
    acceptance: Decision,
    known: Knowledge,
    tried: Mapping[int, Candidate],
    target: float | None,
    now: Proportion,
) -> tuple[tuple[MeasureStep, ...], Knowledge, list[int]]:
    """Take one reading after another; return them, what is then known, and the places left."""
    steps: list[MeasureStep] = []
    left = list(tried)
    while len(steps) < MOST_STEPS and (target is None or now.low < target):
        least = LEAST_SAVED * bench.share_failing(known)
        worth = {
            place: row.advised.gain.value
            for place, row in tried.items()
            if row.advised is not None and row.advised.gain.value >= least
        }
        if not worth:
            break
        best = max(worth, key=lambda place: worth[place])
        reading = tried[best].advised
        assert reading is not None
        entry = next(e for e in bench.instruments[best] if e.name == reading.instrument)
        known = with_reading(bench.decision, known, bench.read(best, entry))
        rejection = _rejection(acceptance, known, bench.confidence)
        overall = None
        if bench.decision is not acceptance:
            rows = known.paid.shape[1]
            overall = proportion(np.count_nonzero(known.paid, axis=1), rows, bench.confidence)
        now = overall or rejection.accepted
        steps.append(MeasureStep(bench.names[best], reading, overall, rejection))
        left = [place for place in left if place != best]
        telling = bench.by_variance_explained(known, left)[:CONSIDERED]
        tried = bench.candidates(known, telling, with_instruments=WITH_INSTRUMENTS)
    return tuple(steps), known, left


def _rejection(acceptance: Decision, known: Knowledge, confidence: float) -> Rejection:
    accepted = choices_with(acceptance, known) == ACCEPT
    works = accepted & (acceptance.payoffs[..., ACCEPT] > 0.0)
    rows = np.count_nonzero(accepted, axis=1)
    share = proportion(accepted.shape[1] - rows, accepted.shape[1], confidence)
    return Rejection(share, _share_of(np.count_nonzero(works, axis=1), rows, confidence))


def _share_of(passes: Counts, rows: Counts, confidence: float) -> Proportion:
    """Share of passes among rows that differ in number between replicates (r,).

    The ratio of the sums, with Student's t on the residuals ``passes - value rows`` over the mean
    number of rows (the ratio estimator of survey sampling, Cochran 1977, 6.3, from memory);
    exact binomial bounds where ``proportion`` takes them.
    """
    total, pooled = int(passes.sum()), int(rows.sum())
    if pooled == 0:
        return Proportion(float("nan"), 0.0, 1.0, "clopper-pearson", 0, 0)
    value = total / pooled
    if min(total, pooled - total) < FEWEST_EVENTS or int(rows.min()) == 0:
        low, high = clopper_pearson(total, pooled, confidence)
        return Proportion(value, low, high, "clopper-pearson", total, pooled)
    _, low_end, high_end = student(value + (passes - value * rows) / rows.mean(), confidence)
    return Proportion(
        value, max(0.0, float(low_end)), min(1.0, float(high_end)), "student", total, pooled
    )
