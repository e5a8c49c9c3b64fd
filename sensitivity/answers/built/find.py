"""A study plus what was measured so far: how likely it works now, what matters, where to set it.

Each reading takes the place of what the study states of that dimension: its nominal is what was
read, its spread the instrument's about it, as ``measured`` in a study does. What the drawing said
of the dimension is left out. That is the plain choice: a part that was measured is believed to be
what was read, whether or not the process that made it kept to what is stated of it. (Joining the
two would narrow the spread by the word of a process that may have slipped.) An instrument coarser
than the drawing's own spread therefore tells less than the drawing, and is named.

An adjustable input that was measured counts as set, and is left where it is.

Settings are tried on the same parts at the same moments and judged by how many of them work, as
are the figures before and after: 512 parts a replicate (256 where several inputs are set), at 33
settings at most, those that serve the most assemblies at a moment each. What matters now is told
by the moments alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sensitivity.answers.built.conformity import Conformity, conformity
from sensitivity.answers.built.readings import Measured
from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.engine.monte_carlo import run_replicates
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan, plan_run
from sensitivity.engine.result import assemble
from sensitivity.engine.two_levels import TwoLevels, share_proportion
from sensitivity.errors import CallError
from sensitivity.pricing.assembly_settings import (
    AssemblySettings,
    BestSetting,
    place_of_best,
    set_at,
)
from sensitivity.pricing.assembly_verdicts import parts_of, settings_to_try
from sensitivity.pricing.finalists import Finalists, paired_difference, priced_in_parts
from sensitivity.pricing.instruments import instruments_for
from sensitivity.pricing.priced import one_level, with_band
from sensitivity.pricing.ranking import Ranking, rank
from sensitivity.pricing.value_of_information import fold_of
from sensitivity.pricing.variants import (
    Variant,
    VariantPasses,
    at_setting,
    moved_difference,
    passes_difference,
    run_variants,
)
from sensitivity.spreads.workshop import workshop_spread
from sensitivity.study.study import Limit, Study

Floats = NDArray[np.float64]

LEVEL = 0.01
"""A share less than one point in a hundred below the best counts as level with it."""


@dataclass(frozen=True, slots=True)
class Part:
    """One measured part: its reading, and whether it is good.

    ``deciding_instrument`` names that of fewest minutes which would settle such a reading, where
    this one cannot; ``coarse`` tells that this one says less than the drawing.
    """

    measured: Measured
    conformity: Conformity
    deciding_instrument: str
    coarse: bool


@dataclass(frozen=True)
class Built:
    """How an assembly stands with what was measured of it.

    Attributes
    ----------
    study : Study
        With the readings in it.
    parts : tuple of Part
        What was measured.
    drawn, now : TwoLevels
        How many work before anything was measured, and of those that read as this one does.
    change : Estimate
        The parts that work of the latter less those of the former.
    settings : AssemblySettings or None
        Those tried of what is still to be set; None where nothing is.
    at_settings : tuple of Proportion
        How many work at each of them.
    best : BestSetting or None
        The best of them; ``level`` ends where a point in a hundred fewer work.
    there : TwoLevels or None
        How many work at the best.
    barred : tuple of Limit
        Limits that hurt, by which settings were left out.
    ranking : Ranking
        What matters now, with the adjustable inputs at their best if that is better.
    """

    study: Study
    plan: Plan
    parts: tuple[Part, ...]
    drawn: TwoLevels
    now: TwoLevels
    change: Estimate
    settings: AssemblySettings | None
    at_settings: tuple[Proportion, ...]
    best: BestSetting | None
    ranking: Ranking
    there: TwoLevels | None = None
    barred: tuple[Limit, ...] = ()

    @property
    def set_well(self) -> BestSetting | None:
        """The best setting, if it is better than where things stand."""
        return self.best if self.best is not None and self.best.gain.low > 0.0 else None


def study_with_readings(study: Study, measured: Sequence[Measured]) -> Study:
    """Put readings in a study, in the place of what it states.

    Correlations of what was measured go: it is what was read, whatever the other is.
    """
    by_name = {one.item.name: one for one in measured}
    inputs = []
    for item in study.inputs:
        if item.name in by_name:
            one = by_name[item.name]
            item = replace(
                item,
                nominal=one.value,
                drawn=one.words,
                spread=one.size,
                stated=one.stated,
                origin="measured",
                process="",
                basis=one.entry.says,
                adjust=None,
            )
        inputs.append(item)
    kept = tuple(row for row in study.correlations if by_name.keys().isdisjoint(row.inputs))
    return replace(study, inputs=tuple(inputs), correlations=kept)


def find_built(
    study: Study,
    measured: Sequence[Measured],
    *,
    options: RunOptions = DEFAULTS,
) -> Built:
    """Find how an assembly stands with what was measured of it.

    Parameters
    ----------
    study : Study
        As drawn, with limits.
    measured : sequence of Measured
        As ``read_measured`` reads them.
    options : RunOptions
        Who works, and who is told; the sampling is the study's.

    Returns
    -------
    Built

    Raises
    ------
    CallError
        Where the study has no limits.
    """
    if not study.limits:
        raise CallError(f"{study.name} states no limits, so no reading can tell good from bad")
    now = study_with_readings(study, measured)
    plan = plan_run(now)
    settings, barred = settings_to_try(plan, options=options)
    drawn: Variant = {
        one.item.name: one.item.nominal if one.item.spread is None else one.item.spread
        for one in measured
    }
    variants = settings.variants if settings is not None else ()
    drawn_plan = None
    if now.correlations != study.correlations:
        # Readings end a correlation that the drawing had; the drawing is sampled with it.
        whole = replace(study, sampling=plan.sampling)
        drawn_plan = plan_run(whole, indices=False, columns=plan.columns)
    priced = _priced(
        plan, (drawn, *variants), drawn_plan, study.keeps, parts_of(plan, settings), options
    )
    best = None if settings is None else _best(priced.counted, settings)
    there: Variant = {}
    if best is not None and settings is not None:
        there = {item.name: at_setting(item, best.at[item.name]) for item in settings.inputs}
    kept = run_variants(plan, [drawn, there], options=options)
    kept_drawn = kept.overall(1)
    if drawn_plan is not None:
        kept_drawn = run_variants(drawn_plan, [], options=options).overall(0)
    at = best.at if best is not None and best.gain.low > 0.0 else {}
    set_study = replace(now, inputs=set_at(now.inputs, at))
    set_plan = replace(plan, inputs=set_study.inputs)
    summaries = run_replicates(
        set_plan,
        workers=options.workers,
        executor=options.executor,
        progress=options.progress(),
    )

    def banded(of: Plan, works: Proportion, share: Proportion, variant: Variant) -> TwoLevels:
        if one_level(of):
            share = works
        return with_band(of, works, share, variant, keeps=study.keeps, options=options)

    return Built(
        study=now,
        plan=plan,
        parts=tuple(_part(one) for one in measured),
        drawn=banded(drawn_plan or plan, priced.drawn, kept_drawn, {} if drawn_plan else drawn),
        now=banded(plan, _works(priced.counted, 0), kept.overall(0), {}),
        change=priced.change,
        settings=settings,
        at_settings=tuple(_works(priced.counted, 2 + place) for place in range(len(variants))),
        best=best,
        ranking=rank(assemble(set_study, set_plan, summaries)),
        there=None if best is None else banded(plan, best.overall, kept.overall(2), there),
        barred=barred,
    )


@dataclass(frozen=True)
class _Priced:
    """Parts that work as measured, as drawn and at each setting, and what measuring changed."""

    counted: VariantPasses | Finalists
    drawn: Proportion
    change: Estimate


def _priced(
    plan: Plan,
    variants: Sequence[Variant],
    drawn_plan: Plan | None,
    keeps: float,
    parts: int,
    options: RunOptions,
) -> _Priced:
    """Price what was drawn, the first of the variants, and each setting, the others.

    Where nothing varies from moment to moment what keeps works.
    """
    if one_level(plan):
        passes = run_variants(plan, variants, options=options)
        if drawn_plan is None:
            return _Priced(passes, passes.overall(1), _reversed(passes.gain(1)))
        before = run_variants(drawn_plan, [], options=options)
        change = passes_difference(
            passes.together[:, 0], before.together[:, 0], passes.rows, passes.confidence
        )
        return _Priced(passes, before.overall(0), change)
    found = priced_in_parts(plan, variants, keeps=keeps, parts=parts, options=options)
    if drawn_plan is None:
        return _Priced(found, found.works(1), _reversed(found.gain(1)))
    alone = priced_in_parts(drawn_plan, [], keeps=keeps, parts=parts, options=options)
    change = paired_difference(found.shares[:, 0], alone.shares[:, 0], parts, found.confidence)
    return _Priced(found, alone.works(0), change)


def _reversed(gain: Estimate) -> Estimate:
    return Estimate(-gain.value, -gain.high, -gain.low)


def _works(counted: VariantPasses | Finalists, place: int) -> Proportion:
    return counted.overall(place) if isinstance(counted, VariantPasses) else counted.works(place)


def _part(one: Measured) -> Part:
    item, tolerance = one.item, None
    # A condition is no part, and an earlier reading no tolerance.
    if item.spread is not None and item.kind == "build" and item.origin != "measured":
        tolerance = (item.spread.low, item.spread.high)
    found = conformity(tolerance, one.value, one.size)
    deciding = ""
    if found.verdict == "too close to say":
        for entry in instruments_for(item):
            size, _ = workshop_spread("instrument", entry.name, one.value, item.unit)
            if conformity(tolerance, one.value, size).verdict != "too close to say":
                deciding = entry.name
                break
    coarse = item.spread is not None and found.uncertainty > item.standard_deviation
    return Part(one, found, deciding, coarse)


def _best(counted: VariantPasses | Finalists, settings: AssemblySettings) -> BestSetting:
    """Find the best setting; its share and gain are of a choice made without the replicate scored.

    So the largest of many shares is not taken for the share of the best.
    """
    if isinstance(counted, VariantPasses):
        shares, rows = counted.together / counted.rows, counted.rows
    else:
        shares, rows = counted.shares, counted.parts
    at_settings = shares[:, 2:]
    folds = fold_of(at_settings.shape[0])
    chosen = np.array([_place_of_best(at_settings[folds != fold]) for fold in folds])
    replicates = np.arange(folds.size)
    place = _place_of_best(at_settings)
    level = None
    if len(settings.inputs) == 1:
        means = at_settings.mean(axis=0)
        values = settings.points[_run_about(means >= means.max() - LEVEL, place), 0]
        level = (float(values[0]), float(values[-1]))
    there = at_settings[replicates, chosen]
    if isinstance(counted, VariantPasses):
        gained, lost = (each[replicates, chosen + 2] for each in (counted.gained, counted.lost))
        gain = moved_difference(gained, lost, rows, counted.confidence)
    else:
        gain = paired_difference(there, shares[:, 0], rows, counted.confidence)
    return BestSetting(
        at=settings.at(place),
        overall=share_proportion(there, rows, counted.confidence),
        gain=gain,
        level=level,
    )


def _place_of_best(shares: Floats) -> int:
    """Find the place of the setting (s,) at which most work, by replicate (r, s)."""
    return place_of_best(np.round(shares.sum(axis=0), 9))


def _run_about(near: NDArray[np.bool_], place: int) -> slice:
    """Find the unbroken run of settings about one."""
    off = np.flatnonzero(~near)
    first = int(off[off < place].max(initial=-1)) + 1
    last = int(off[off > place].min(initial=near.size))
    return slice(first, last)
