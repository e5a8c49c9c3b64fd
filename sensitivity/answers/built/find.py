"""A study plus what was measured so far: how likely it works now, what matters, where to set it.

Readings of dimensions and of results, and what the study states, make one joint posterior
(``knowledge``, ``learning/posterior``): a reading of a sum tells of each of its parts, and of
several together. Parts are then rows of it. An adjustable input that was measured counts as set,
and is left where it is.

Settings are tried on the same parts at the same moments and judged by how many of them work, as
are the figures before and after: 256 parts a replicate, at 12 settings at most, those that serve
the most of these parts at a moment each.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial

import numpy as np
from numpy.typing import NDArray

from sensitivity.answers.built.conformity import Conformity, conformity
from sensitivity.answers.built.knowledge import Known, Widened, know
from sensitivity.answers.built.matters import Matter, as_read, what_matters
from sensitivity.answers.built.moments import kept_at_a_moment, settings_for
from sensitivity.answers.built.readings import Measured
from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.engine.kept import FEWEST_MOMENTS, moments_for
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.two_levels import TwoLevels, share_proportion
from sensitivity.errors import CallError
from sensitivity.learning.band import band_of
from sensitivity.learning.posterior import EqualRows, Posterior
from sensitivity.learning.standing import some_of, verdict_table
from sensitivity.presentation.units_said import Said, said_by
from sensitivity.pricing.assembly_settings import AssemblySettings, BestSetting, place_of_best
from sensitivity.pricing.assembly_verdicts import settings_to_try
from sensitivity.pricing.finalists import Finalists, paired_difference
from sensitivity.pricing.instruments import instruments_for
from sensitivity.pricing.priced import one_level
from sensitivity.pricing.value_of_information import fold_of
from sensitivity.pricing.variants import Variant
from sensitivity.spreads.spread import normal, standard_deviation
from sensitivity.spreads.workshop import workshop_spread
from sensitivity.study.study import Input, Limit, Reading, Study

Floats = NDArray[np.float64]

FEWER = 4
"""Of the moments that a share wants, one in so many is taken: a mean over parts is then out by
0.0005 for 256 of 1024 (``pricing/assembly_verdicts``)."""
LEVEL = 0.01
"""A share less than one point in a hundred below the best counts as level with it."""
PARTS, PARTS_OF_ONE_LEVEL, SCREENED = 256, 1024, 64
"""Parts a replicate; where nothing varies from moment to moment; and to screen settings on."""
AT_A_MOMENT = 1024
"""Parts a replicate that are tried at one moment each."""
TOLD = 0.1
"""Of a dimension's own deviation: how far readings move or narrow it at least to be listed."""


@dataclass(frozen=True, slots=True)
class Part:
    """One reading, and whether the part is good.

    ``deciding_instrument`` names that of fewest minutes, finer than this, which would settle such
    a reading where this one cannot; ``coarse`` tells that this one says less than the drawing;
    ``expected`` are the ends between which 95 of 100 lie as drawn, of a result.
    """

    measured: Measured
    conformity: Conformity
    deciding_instrument: str
    coarse: bool
    expected: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Told:
    """What the readings say of an input: mean and standard deviation before and after, its unit."""

    item: Input
    before: tuple[float, float]
    after: tuple[float, float]

    @property
    def much(self) -> float:
        """How far it moved and how much it narrowed, in its own deviation before; the larger."""
        moved = abs(self.after[0] - self.before[0]) / self.before[1]
        return max(moved, abs(1.0 - self.after[1] / self.before[1]))


@dataclass(frozen=True)
class Built:
    """How an assembly stands with what was measured of it.

    Attributes
    ----------
    study : Study
        As drawn, but for the readings that stand alone.
    plan : Plan
        As known: of each input the mean and the standard deviation that the readings leave.
    known : Posterior
        With the readings.
    parts : tuple of Part
        What was measured.
    widened : tuple of Widened
        Dimensions whose reading contradicts what is stated of them.
    told : tuple of Told
        What the readings say of inputs that were not read themselves, most first.
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
    matters : tuple of Matter
        What of that which was not read would still gain.
    """

    study: Study
    plan: Plan
    known: Posterior
    parts: tuple[Part, ...]
    widened: tuple[Widened, ...]
    told: tuple[Told, ...]
    drawn: TwoLevels
    now: TwoLevels
    change: Estimate
    settings: AssemblySettings | None
    at_settings: tuple[Proportion, ...]
    best: BestSetting | None
    matters: tuple[Matter, ...]
    there: TwoLevels | None = None
    barred: tuple[Limit, ...] = ()

    @cached_property
    def said(self) -> Said:
        """How quantities are said: in the study's units."""
        return said_by(self.study)

    @property
    def set_well(self) -> BestSetting | None:
        """The best setting, if it is better than where things stand."""
        return self.best if self.best is not None and self.best.gain.low > 0.0 else None


def find_built(
    study: Study,
    measured: Sequence[Measured],
    *,
    believe: bool = False,
    options: RunOptions = DEFAULTS,
) -> Built:
    """Find how an assembly stands with what was measured of it.

    Parameters
    ----------
    study : Study
        As drawn, with limits.
    measured : sequence of Measured
        As ``read_measured`` reads them.
    believe : bool
        Go on in spite of a conflict between readings and what is stated.
    options : RunOptions
        Who works, and who is told; the sampling is the study's.

    Returns
    -------
    Built

    Raises
    ------
    CallError
        Where the study has no limits.
    ConflictError
        Where readings contradict what is stated, and no widening of one dimension mends that.
    """
    if not study.limits:
        raise CallError(f"{study.name} states no limits, so no reading can tell good from bad")
    known = know(study, measured, believe=believe, options=options)
    parts = PARTS_OF_ONE_LEVEL if one_level(known.plan) else PARTS
    rows, drawn = known.after.resampled(parts), known.before.resampled(parts)
    as_known = _as_known(known)
    few = some_of(rows, SCREENED, rows.shape[0])
    settings, barred = _settings(known, as_known, few, options)
    variants = settings.variants if settings is not None else ()
    single = one_level(known.plan)
    moments = None if single else max(FEWEST_MOMENTS, moments_for(study.keeps) // FEWER)
    count = partial(verdict_table, keeps=study.keeps, moments=moments, options=options)
    table, before = count(known.plan, rows, variants), count(known.drawn, drawn)
    confidence = known.plan.sampling.confidence
    counted = Finalists(study.keeps, table.mean(axis=1), parts, confidence)
    was = before[..., 0].mean(axis=1)
    best = None if settings is None else _best(counted, settings)
    there: Variant = {}
    if best is not None and settings is not None:
        place = int(np.flatnonzero((settings.points == [*best.at.values()]).all(axis=1))[0])
        there = variants[place]

    def levels(of: Posterior, works: Proportion, variant: Variant) -> TwoLevels:
        share = works if single else kept_at_a_moment(of.plan, of.resampled(AT_A_MOMENT), variant)
        band = band_of(of, variant, keeps=study.keeps, moments=moments, options=options)
        return TwoLevels(
            works=works,
            share=share,
            keeps=study.keeps,
            moments=moments or 1,
            parts=parts,
            evaluations=0 if band is None else band.evaluations,
            correction=0.0,
            pilot=0,
            band=band,
            no_band="no model inputs" if band is None else None,
            one_level="no running inputs" if single else None,
        )

    return Built(
        study=known.study,
        plan=as_known,
        known=known.after,
        parts=tuple(_part(one, known.drawn, drawn) for one in measured),
        widened=known.widened,
        told=_told(known, {one.item.name for one in measured}),
        drawn=levels(known.before, share_proportion(was, parts, confidence), {}),
        now=levels(known.after, counted.works(0), {}),
        change=paired_difference(
            counted.shares[:, 0], was[: len(counted.shares)], parts, confidence
        ),
        settings=settings,
        at_settings=tuple(counted.works(1 + place) for place in range(len(variants))),
        best=best,
        matters=what_matters(
            known.study, known.plan, rows, table, settings, {one.item.name for one in measured}
        ),
        there=None if best is None else levels(known.after, best.overall, there),
        barred=barred,
    )


def _settings(
    known: Known, as_known: Plan, rows: EqualRows, options: RunOptions
) -> tuple[AssemblySettings | None, tuple[Limit, ...]]:
    """Lay out the settings to try of parts like this one."""
    harmless = tuple(replace(limit, hurts=False) for limit in as_known.limits)
    settings, _ = settings_to_try(replace(as_known, limits=harmless), options=options)
    if settings is None:
        return None, ()
    return settings_for(known.plan, rows, settings)


def _as_known(known: Known) -> Plan:
    """Give each input of the part the mean and the deviation that the readings leave of it.

    For what wants a spread for each: which settings to try at all, and drawings.
    """
    moved = {one.item.name: one.after for one in _told(known, ())}
    inputs = []
    for item in known.plan.inputs:
        if item.name in moved and item.adjust is None and item.spread is not None:
            mean, deviation = moved[item.name]
            low, high = item.spread.low, item.spread.high
            spread = normal(min(max(mean, low), high), max(deviation, 1e-9 * (high - low)))
            item = replace(item, nominal=mean, spread=spread, drawn="")
        inputs.append(item)
    return replace(known.plan, inputs=tuple(inputs), copula=None)


def _told(known: Known, read: Collection[str]) -> tuple[Told, ...]:
    """Tell of each input but those read what the readings say of it, where that is something."""
    found = []
    for item in known.study.varying:
        if item.name not in known.after.values or item.name in read or item.spread is None:
            continue
        values = known.after.values[item.name]
        mean = known.after.mean(values).value
        deviation = known.after.mean((values - mean) ** 2).value ** 0.5
        before = (item.mean, item.standard_deviation)
        found.append(Told(item, before, (mean, deviation)))
    found = [one for one in found if one.much >= TOLD]
    return tuple(sorted(found, key=lambda one: -one.much))


def _part(one: Measured, plan: Plan, drawn: EqualRows) -> Part:
    item, tolerance, expected = one.item, None, None
    if isinstance(item, Reading):
        low, high = np.quantile(as_read(plan, drawn, item), (0.025, 0.975)).tolist()
        expected = (low, high)
    # A condition is no part, a result has no drawn spread, and an earlier reading no tolerance.
    if isinstance(item, Input) and item.kind == "build" and item.origin != "measured":
        tolerance = None if item.spread is None else (item.spread.low, item.spread.high)
    found = conformity(tolerance, one.value, one.size)
    deciding = ""
    if found.verdict == "too close to say":
        for entry in instruments_for(item):
            size, _ = workshop_spread("instrument", entry.name, one.value, item.unit)
            finer = standard_deviation(size) < found.uncertainty
            if finer and conformity(tolerance, one.value, size).verdict != "too close to say":
                deciding = entry.name
                break
    stated = item.standard_deviation if isinstance(item, Input) else 0.0
    return Part(one, found, deciding, 0.0 < stated < found.uncertainty, expected)


def _best(counted: Finalists, settings: AssemblySettings) -> BestSetting:
    """Find the best setting; its share and gain are of a choice made without the replicate scored.

    So the largest of many shares is not taken for the share of the best.
    """
    shares = counted.shares
    at_settings = shares[:, 1:]
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
    return BestSetting(
        at=settings.at(place),
        overall=share_proportion(there, counted.parts, counted.confidence),
        gain=paired_difference(there, shares[:, 0], counted.parts, counted.confidence),
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
