"""In which order to measure dimensions and results, with what, and how many work after each.

A part is made, then measured, then what can be set at assembly (``adjust``) is set to suit what
was read; how well it can be set is its stated spread. Where nothing can be set, what a reading can
still do is to reject an assembly that is likelier to fail than to work: it is remade instead.

An assembly works if it keeps every limit in nearly all of its moments of running (``keeps``):
decisions are made by, and gains counted in, a table of verdicts at each setting
(``pricing/assembly_verdicts``), and not by how an assembly keeps at one moment.

What is read is a dimension, or a result that a gauge can reach: one column more for the same
estimator. Of a sum of five angles, the one height that they add up to is often all that counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial

import numpy as np
from numpy.typing import NDArray

from sensitivity.answers.measure.accepted import Accepted, accepted_between
from sensitivity.answers.measure.order import (
    MeasureStep,
    Order,
    SaidBySum,
    find_order,
    said_by_sums,
)
from sensitivity.engine.doubt_band import DoubtBand
from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.engine.moments import AS_STATED, of_kinds
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan, plan_run
from sensitivity.engine.two_levels import TwoLevels, share_proportion
from sensitivity.engine.workers import aside
from sensitivity.errors import CallError
from sensitivity.presentation.units_said import Said, said_by
from sensitivity.pricing.assembly_band import (
    as_stated_on_two_levels,
    band_of_choices,
    band_parts,
)
from sensitivity.pricing.assembly_settings import (
    Assemblies,
    AssemblySettings,
    BestSetting,
    place_of_best,
    sample_assemblies,
    set_at,
)
from sensitivity.pricing.assembly_verdicts import VerdictTable, sample_verdicts, settings_to_try
from sensitivity.pricing.instruments import check_instruments
from sensitivity.pricing.readable import Readables, instruments_of, readable_of, that_vary
from sensitivity.pricing.reading_bench import Bench, Candidate
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
from sensitivity.study.study import Limit, Study

Floats = NDArray[np.float64]

ALONE = RunOptions(workers=1)
"""For what one process does by itself, beside another."""


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
        Each dimension and each result alone, largest gain first.
    steps : tuple of MeasureStep
        The order.
    rest : Estimate or None
        What knowing all others exactly would add to the last step.
    said : tuple of SaidBySum
        Of results that are read, the dimensions that they make needless to read.
    band : DoubtBand or None
        Of what comes of the last step.
    barred : tuple of Limit
        Limits that hurt, by which settings were left out.
    accepted : Accepted or None
        Between which readings of the first step alone a part is likelier to work than to fail;
        None where something can be set to suit, or no one range says it.
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
    said: tuple[SaidBySum, ...] = ()
    band: DoubtBand | None = None
    barred: tuple[Limit, ...] = ()
    accepted: Accepted | None = None

    @cached_property
    def units_said(self) -> Said:
        """How quantities are said: in the study's units."""
        return said_by(self.study)

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


def measurable(study: Study) -> Readables:
    """Find the build dimensions that vary and are not set at assembly, and results to be gauged.

    Raises
    ------
    CallError
        Where there are none, or no limits to tell good from bad.
    """
    if not study.limits:
        raise CallError(f"{study.name} states no limits, so no reading can tell good from bad")
    built = [item for item in study.varying if item.kind == "build" and item.adjust is None]
    if not built:
        raise CallError(
            f'{study.name}: no dimension of kind "build" varies (but for what is set at '
            "assembly), so there is nothing to measure"
        )
    found = readable_of(study)
    if not found.items:
        raise CallError(
            f"{study.name}: each dimension is correlated with another, and what a reading of one "
            "tells of the other is not worked out; state a shared cause and what each adds"
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
    readables = measurable(study)
    plan = plan_run(study, indices=False)
    settings, barred = settings_to_try(plan, options=options)
    table = sample_verdicts(plan, settings, readables, keeps=study.keeps, options=options)
    assemblies = table.assemblies
    decision = (
        acceptance_decision(assemblies)
        if settings is None
        else setting_decision(assemblies, settings)
    )
    readables, values = that_vary(readables, assemblies.values)
    bench = Bench(
        decision=decision,
        values=values,
        names=readables.names,
        units=tuple(item.unit for item in readables.items),
        instruments=instruments_of(study, readables, at_hand),
        seed=plan.seed,
        confidence=plan.sampling.confidence,
    )
    start = without_readings(decision)
    as_drawn = _share(assemblies.as_drawn, plan)
    banding = partial(_with_band, plan, table, as_drawn, study.keeps)
    banded = aside(partial(banding, ALONE), workers=options.workers)
    count = len(readables.items)
    alone = bench.candidates(start, range(count), with_instruments=count)
    well, acceptance = None, decision
    if settings is not None:
        well = _set_well(start, assemblies, settings, plan)
        acceptance = acceptance_decision(_set(plan, assemblies, well, study.keeps, options))
    now = well.overall if well else as_drawn
    order = find_order(bench, acceptance, start, alone, target, now)
    levels = banding(options) if banded is None else banded()
    band = levels.band
    if band is not None and (settings is not None or order.steps):
        band = _final_band(plan, table, settings, bench, readables, order, options)
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
        steps=order.steps,
        rest=_rest(bench, order.known, order.left),
        said=said_by_sums(bench, order, range(len(readables.inputs), count)),
        band=band,
        barred=barred,
        accepted=accepted_between(decision, order.known.readings[..., 0])
        if settings is None and order.steps
        else None,
    )


def _set(
    plan: Plan, assemblies: Assemblies, well: BestSetting, keeps: float, options: RunOptions
) -> Assemblies:
    """Give the assemblies with what can be set at one setting for all as if it were drawn so."""
    drawn = {item.name: item.nominal for item in plan.inputs}
    if all(drawn[name] == value for name, value in well.at.items()):
        return assemblies
    fixed, rows = replace(plan, inputs=set_at(plan.inputs, well.at)), assemblies.as_drawn.shape[1]
    return sample_verdicts(fixed, None, keeps=keeps, parts=rows, options=options).assemblies


def _with_band(
    plan: Plan, table: VerdictTable, works: Proportion, keeps: float, options: RunOptions
) -> TwoLevels:
    share = works
    if of_kinds(plan, "running"):
        at_moments = sample_assemblies(plan, None, (), options=options).as_drawn
        share = _share(at_moments, plan)
    return as_stated_on_two_levels(plan, table, works, share, keeps=keeps, options=options)


def _final_band(
    plan: Plan,
    table: VerdictTable,
    settings: AssemblySettings | None,
    bench: Bench,
    readables: Readables,
    order: Order,
    options: RunOptions,
) -> DoubtBand | None:
    """Find between which figures the physics may move what comes of the last step.

    Other parts are drawn at points of the doubts, read with the same instruments, and set or
    accepted by the rules that the readings led to. Parts and errors of reading are the same at
    each point of the doubts, so that only these make a difference.
    """
    parts, steps = band_parts(plan, readables), order.steps
    assert parts is not None
    readings = np.empty((*parts.values.shape[:2], len(steps)))
    for column, step in enumerate(steps):
        place = bench.names.index(step.name)
        entry = bench.instrument(place, step.reading.instrument)
        readings[..., column] = bench.read_of(
            parts.values[..., place], place, entry, sample=1, repeats=parts.doubts
        )
    chosen = choices_for_others(bench.decision, order.known, readings)
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
