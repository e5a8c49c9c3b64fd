"""In which order to measure the build dimensions, with what, and how many work after each.

A part is made, then measured, then what can be set at assembly (``adjust``) is set to suit what
was read; how well it can be set is its stated spread. Where nothing can be set, what a reading can
still do is to reject an assembly that is likelier to fail than to work: it is remade instead.

An assembly works if it keeps every limit in nearly all of its moments of running (``keeps``):
decisions are made by, and gains counted in, a table of verdicts at each setting
(``pricing/assembly_verdicts``), and not by how an assembly keeps at one moment.

The order is greedy: at each step the dimension whose reading gains most, given those read before,
with the cheapest instrument (in minutes) whose gain lies in the interval of the best one's. Where
none gains by itself, though some do together, those are read in turn. It stops where the target is
reached, where no gain is settled, or where none saves so much as one in fifty of those that still
fail. A gain counts as settled at the stated confidence shared out among all dimensions
(Bonferroni), since it is the largest of many that is looked at.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sensitivity.answers.measure.rejection import Rejection, rejection_of
from sensitivity.engine.doubt_band import DoubtBand
from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.engine.moments import AS_STATED, of_kinds
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan, plan_run
from sensitivity.engine.two_levels import TwoLevels, share_proportion
from sensitivity.errors import CallError
from sensitivity.pricing.assembly_settings import (
    Assemblies,
    AssemblySettings,
    BestSetting,
    place_of_best,
    sample_assemblies,
    set_at,
)
from sensitivity.pricing.assembly_verdicts import (
    VerdictTable,
    band_of_choices,
    band_parts,
    sample_verdicts,
    settings_to_try,
)
from sensitivity.pricing.instruments import check_instruments, instruments_for
from sensitivity.pricing.priced import with_band
from sensitivity.pricing.reading_bench import Bench, Candidate, PricedReading
from sensitivity.pricing.value_of_information import Decision
from sensitivity.pricing.value_of_readings import (
    ACCEPT,
    Knowledge,
    acceptance_decision,
    choices_for_others,
    difference,
    setting_decision,
    value_of_reading,
    with_reading,
    without_readings,
)
from sensitivity.study.study import Input, Limit, Study

Floats = NDArray[np.float64]

MOST_STEPS = 12
LEAST_SAVED = 0.02
"""Share of those that still fail which a reading must save to be worth its trouble."""

CONSIDERED = 8
"""Dimensions tried after the first step: those that would explain most of what is still unknown."""

WITH_INSTRUMENTS = 3
"""Of those, how many are tried with each instrument; the others with a perfect one alone."""


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
        Share that works with all read so far and the adjustable inputs set to suit; None without
        any.
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
    levels : TwoLevels
        How many work with nothing measured and nothing set, with the band over the doubts.
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
    band : DoubtBand or None
        Of what comes of the last step.
    barred : tuple of Limit
        Limits that hurt, by which settings were left out.
    """

    study: Study
    plan: Plan
    settings: AssemblySettings | None
    target: float | None
    levels: TwoLevels
    set_well: BestSetting | None
    ceiling: Proportion | None
    candidates: tuple[Candidate, ...]
    steps: tuple[MeasureStep, ...]
    rest: Estimate | None
    band: DoubtBand | None = None
    barred: tuple[Limit, ...] = ()

    @property
    def as_drawn(self) -> Proportion:
        """Share that works with nothing measured and nothing set."""
        return self.levels.works

    @property
    def final(self) -> Proportion:
        """Share that works after the last step: set to suit, or of those accepted."""
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
        Share that works, 0..1, at which to stop.
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
    settings, barred = settings_to_try(plan, options=options)
    names = tuple(item.name for item in items)
    table = sample_verdicts(plan, settings, names, keeps=study.keeps, options=options)
    assemblies = table.assemblies
    decision = (
        acceptance_decision(assemblies)
        if settings is None
        else setting_decision(assemblies, settings)
    )
    bench = Bench(
        decision=decision,
        values=assemblies.values,
        names=names,
        units=tuple(item.unit for item in items),
        instruments=tuple(instruments_for(item, at_hand) for item in items),
        seed=plan.seed,
        confidence=plan.sampling.confidence,
    )
    start = without_readings(decision)
    alone = bench.candidates(start, range(len(items)), with_instruments=len(items))
    as_drawn = _share(assemblies.as_drawn, plan)
    well, acceptance = None, decision
    if settings is not None:
        well = _set_well(start, assemblies, settings, plan)
        fixed = replace(plan, inputs=set_at(plan.inputs, well.at))
        there = sample_verdicts(fixed, None, (), keeps=study.keeps, options=options)
        acceptance = acceptance_decision(there.assemblies)
    now = well.overall if well else as_drawn
    steps, known, left = _order(bench, acceptance, start, alone, target, now)
    levels = _with_band(plan, table, as_drawn, study.keeps, options)
    band = levels.band
    if band is not None and (settings is not None or steps):
        band = _final_band(plan, table, settings, bench, known, steps, options)
    return Measuring(
        study=study,
        plan=plan,
        settings=settings,
        target=target,
        levels=levels,
        set_well=well,
        ceiling=None
        if settings is None
        else _share(np.clip(assemblies.works, 0.0, 1.0).max(axis=2), plan),
        candidates=tuple(sorted(alone.values(), key=lambda row: -row.perfect.value)),
        steps=steps,
        rest=_rest(bench, known, left),
        band=band,
        barred=barred,
    )


def _with_band(
    plan: Plan, table: VerdictTable, works: Proportion, keeps: float, options: RunOptions
) -> TwoLevels:
    share = works
    if of_kinds(plan, "running"):
        at_moments = sample_assemblies(plan, None, (), options=options).as_drawn
        share = _share(at_moments, plan)
    return with_band(plan, works, share, keeps=keeps, orders=table.orders, options=options)


def _final_band(
    plan: Plan,
    table: VerdictTable,
    settings: AssemblySettings | None,
    bench: Bench,
    known: Knowledge,
    steps: Sequence[MeasureStep],
    options: RunOptions,
) -> DoubtBand | None:
    """Find between which figures the physics may move what comes of the last step.

    Other parts are drawn at points of the doubts, read with the same instruments, and set or
    accepted by the rules that the readings led to. Parts and errors of reading are the same at
    each point of the doubts, so that only these make a difference.
    """
    parts = band_parts(plan, bench.names)
    assert parts is not None
    readings = np.empty((*parts.values.shape[:2], len(steps)))
    for column, step in enumerate(steps):
        place = bench.names.index(step.name)
        entry = next(e for e in bench.instruments[place] if e.name == step.reading.instrument)
        readings[..., column] = bench.read_of(
            parts.values[..., place], place, entry, sample=1, repeats=parts.doubts
        )
    chosen = choices_for_others(bench.decision, known, readings)
    if settings is not None:
        return band_of_choices(plan, table, settings.variants, chosen, options=options)
    used = np.where(chosen == ACCEPT, 0, -1)
    if not np.any(used == 0):
        return None
    return band_of_choices(plan, table, (AS_STATED,), used, options=options)


def _rest(bench: Bench, known: Knowledge, left: Sequence[int]) -> Estimate | None:
    """Find what all dimensions left would add if they were known exactly."""
    if not left:
        return None
    after = with_reading(bench.decision, known, bench.values[..., left])
    return value_of_reading(known, after, bench.confidence)


def _set_well(
    start: Knowledge, assemblies: Assemblies, settings: AssemblySettings, plan: Plan
) -> BestSetting:
    return BestSetting(
        at=settings.at(place_of_best(assemblies.works.sum(axis=(0, 1)))),
        overall=_share(start.paid, plan),
        gain=difference(start.paid, assemblies.as_drawn, plan.sampling.confidence),
    )


def _share(works: Floats, plan: Plan) -> Proportion:
    """Share that works, from verdicts (r, n)."""
    return share_proportion(works.mean(axis=1), works.shape[1], plan.sampling.confidence)


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
    settled, proved = 0, (known, list(left))
    while len(steps) < MOST_STEPS and (target is None or now.low < target):
        least = LEAST_SAVED * bench.share_failing(known)
        found = _best_alone(tried, least) or bench.first_of_several(
            known, bench.by_variance_explained(known, left)[:CONSIDERED], least
        )
        if found is None:
            break
        best, reading = found
        entry = next(e for e in bench.instruments[best] if e.name == reading.instrument)
        known = with_reading(bench.decision, known, bench.read(best, entry))
        rejection = rejection_of(acceptance, known, bench.confidence)
        overall = None
        if bench.decision is not acceptance:
            paid = known.paid
            overall = share_proportion(paid.mean(axis=1), paid.shape[1], bench.confidence)
        now = overall or rejection.accepted
        steps.append(MeasureStep(bench.names[best], reading, overall, rejection))
        left = [place for place in left if place != best]
        if bench.settled(proved[0], known):
            settled, proved = len(steps), (known, list(left))
        telling = bench.by_variance_explained(known, left)[:CONSIDERED]
        tried = bench.candidates(known, telling, with_instruments=WITH_INSTRUMENTS)
    # Of several that were to tell together, those that came to nothing are not advised.
    return tuple(steps[:settled]), *proved


def _best_alone(tried: Mapping[int, Candidate], least: float) -> tuple[int, PricedReading] | None:
    """Find the reading that gains most by itself, if it gains so much at least."""
    worth = {
        place: row.advised
        for place, row in tried.items()
        if row.advised is not None and row.advised.gain.value >= least
    }
    return max(worth.items(), key=lambda item: item[1].gain.value) if worth else None
