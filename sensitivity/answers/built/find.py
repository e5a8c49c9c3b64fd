"""A study plus what was measured so far: how likely it works now, what matters, where to set it.

Each reading takes the place of what the study states of that dimension: its nominal is what was
read, its spread the instrument's about it, as ``measured`` in a study does. What the drawing said
of the dimension is left out. That is the plain choice: a part that was measured is believed to be
what was read, whether or not the process that made it kept to what is stated of it. (Joining the
two would narrow the spread by the word of a process that may have slipped.) An instrument coarser
than the drawing's own spread therefore tells less than the drawing, and is named.

An adjustable input that was measured counts as set, and is left where it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sensitivity.answers.built.conformity import Conformity, conformity
from sensitivity.answers.built.readings import Measured
from sensitivity.engine.intervals import Estimate, Proportion, proportion
from sensitivity.engine.monte_carlo import run_replicates
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan, plan_run
from sensitivity.engine.result import assemble
from sensitivity.errors import CallError
from sensitivity.pricing.assembly_settings import (
    AssemblySettings,
    BestSetting,
    assembly_settings_of,
    place_of_best,
    set_at,
)
from sensitivity.pricing.instruments import instruments_for
from sensitivity.pricing.ranking import Ranking, rank
from sensitivity.pricing.value_of_information import fold_of
from sensitivity.pricing.variants import (
    Variant,
    VariantPasses,
    moved_difference,
    passes_difference,
    run_variants,
)
from sensitivity.spreads.workshop import workshop_spread
from sensitivity.study.study import Study

Counts = NDArray[np.int64]

LEVEL = 0.01
"""A yield less than one point in a hundred below the best counts as level with it."""


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
    as_drawn, now : Proportion
        Yield before anything was measured, and of those that read as this one does.
    change : Estimate
        The one less the other.
    settings : AssemblySettings or None
        Those tried of what is still to be set; None where nothing is.
    at_settings : tuple of Proportion
        Yield at each of them.
    best : BestSetting or None
        The best of them; ``level`` ends where the yield is a point in a hundred below.
    ranking : Ranking
        What matters now, with the adjustable inputs at their best if that is better.
    """

    study: Study
    plan: Plan
    parts: tuple[Part, ...]
    as_drawn: Proportion
    now: Proportion
    change: Estimate
    settings: AssemblySettings | None
    at_settings: tuple[Proportion, ...]
    best: BestSetting | None
    ranking: Ranking

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
    settings = assembly_settings_of(plan)
    drawn: Variant = {
        one.item.name: one.item.nominal if one.item.spread is None else one.item.spread
        for one in measured
    }
    variants = (drawn, *(settings.variants if settings is not None else ()))
    passes = run_variants(plan, variants, options=options)
    gain = passes.gain(1)
    as_drawn, change = passes.overall(1), Estimate(-gain.value, -gain.high, -gain.low)
    if now.correlations != study.correlations:
        # Readings end a correlation that the drawing had; the drawing is sampled with it.
        whole = replace(study, sampling=plan.sampling)
        drawn_plan = plan_run(whole, indices=False, columns=plan.columns)
        before = run_variants(drawn_plan, [], options=options)
        as_drawn = before.overall(0)
        change = passes_difference(
            passes.together[:, 0], before.together[:, 0], passes.rows, passes.confidence
        )
    best = None if settings is None else _best(passes, settings)
    at = best.at if best is not None and best.gain.low > 0.0 else {}
    set_study = replace(now, inputs=set_at(now.inputs, at))
    set_plan = replace(plan, inputs=set_study.inputs)
    summaries = run_replicates(
        set_plan,
        workers=options.workers,
        executor=options.executor,
        progress=options.progress(),
    )
    return Built(
        study=now,
        plan=plan,
        parts=tuple(_part(one) for one in measured),
        as_drawn=as_drawn,
        now=passes.overall(0),
        change=change,
        settings=settings,
        at_settings=tuple(passes.overall(place) for place in range(2, len(variants) + 1)),
        best=best,
        ranking=rank(assemble(set_study, set_plan, summaries)),
    )


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


def _best(passes: VariantPasses, settings: AssemblySettings) -> BestSetting:
    """Find the best setting; its yield and gain are of a choice made without the replicate scored.

    So the largest of many yields is not taken for the yield of the best.
    """
    at_settings, rows = passes.together[:, 2:], passes.rows
    folds = fold_of(at_settings.shape[0])
    chosen = np.array([place_of_best(at_settings[folds != fold].sum(axis=0)) for fold in folds])
    replicates = np.arange(folds.size)
    place = place_of_best(at_settings.sum(axis=0))
    level = None
    if len(settings.inputs) == 1:
        near = at_settings.sum(axis=0) >= at_settings.sum(axis=0).max() - LEVEL * rows * folds.size
        values = settings.points[_run_about(near, place), 0]
        level = (float(values[0]), float(values[-1]))
    return BestSetting(
        at=settings.at(place),
        overall=proportion(at_settings[replicates, chosen], rows, passes.confidence),
        gain=moved_difference(
            passes.gained[replicates, chosen + 2],
            passes.lost[replicates, chosen + 2],
            rows,
            passes.confidence,
        ),
        level=level,
    )


def _run_about(near: NDArray[np.bool_], place: int) -> slice:
    """Find the unbroken run of settings about one."""
    off = np.flatnonzero(~near)
    first = int(off[off < place].max(initial=-1)) + 1
    last = int(off[off > place].min(initial=near.size))
    return slice(first, last)
