"""What can be set at assembly, the settings to try, and a sample of assemblies at each.

A setting moves the spread of its input, which is how well it can be set, so that the nominal
lies at the setting. All settings are tried on the same assemblies (common random numbers).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Estimate, Proportion, proportion
from sensitivity.engine.moments import crossing_plan
from sensitivity.engine.monte_carlo import each_replicate
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.errors import CallError
from sensitivity.pricing.hurting import choosable, danger
from sensitivity.pricing.readable import as_gauged
from sensitivity.pricing.round_settings import settings_to_try
from sensitivity.pricing.variants import (
    Block,
    Variant,
    at_setting,
    evaluated_blocks,
    run_variants,
)
from sensitivity.study.study import Input, Limit, Reading

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]
Flags = NDArray[np.bool_]

PILOT = 1024
MOST_DIVISIONS, NARROWER = 3, 0.6
"""How often a range is divided again, and the share of it above which that is not worth it."""

LARGEST_SAMPLE = 1 << 30
"""Bytes that the assemblies kept may take; more is refused before any is drawn."""

NO_MARGIN = -3.0
"""Margin, in standard deviations, of an assembly for which a model has no answer."""


@dataclass(frozen=True)
class AssemblySettings:
    """The adjustable inputs (k) and the settings (s, k) to try of them, each in its unit."""

    inputs: tuple[Input, ...]
    points: Floats

    @property
    def variants(self) -> tuple[Variant, ...]:
        """Each setting as a variant of the design."""
        return tuple(
            {i.name: at_setting(i, value) for i, value in zip(self.inputs, point, strict=True)}
            for point in self.points.tolist()
        )

    def at(self, place: int) -> dict[str, float]:
        """One setting, by input name."""
        names = (item.name for item in self.inputs)
        return dict(zip(names, self.points[place].tolist(), strict=True))


@dataclass(frozen=True, slots=True)
class BestSetting:
    """Where to set the adjustable inputs, and what it gains.

    Attributes
    ----------
    at : mapping of str to float
        By name, each in its input's unit.
    overall : Proportion
        Yield there.
    gain : Estimate
        Yield gained over the design as it stands.
    level : (float, float) or None
        Ends, in its unit, of the settings about it that are as good, where one input is set and
        they were asked for.
    """

    at: Mapping[str, float]
    overall: Proportion
    gain: Estimate
    level: tuple[float, float] | None = None


def set_at(inputs: Iterable[Input], at: Mapping[str, float]) -> tuple[Input, ...]:
    """Move the nominals of adjustable inputs to where they are set, their spreads along."""
    moved = []
    for item in inputs:
        if item.name in at:
            spread = at_setting(item, at[item.name])
            held = None if isinstance(spread, float) else spread
            item = replace(item, nominal=at[item.name], spread=held, drawn="")
        moved.append(item)
    return tuple(moved)


def place_of_best(works: Counts) -> int:
    """Find the place of the setting at which most work, from counts (s,); of ties the middle."""
    best = np.flatnonzero(works == works.max())
    return int(best[best.size // 2])


def assembly_settings_of(plan: Plan) -> AssemblySettings | None:
    """Lay out the settings to try; None where nothing can be set.

    One adjustable input is tried at round values some thirtieth of its range apart, at the ends of
    the range and at its nominal; two or three on a grid of such; more at the points of a
    Sobol' sequence. Where hardly any assembly of a first few works in much of the range, the
    rest of it is divided again, up to three times, so that a wide range costs no fineness; of one
    input the ends at which hardly any works are left out.

    Parameters
    ----------
    plan : Plan
        Its inputs with ``adjust`` are those that can be set.

    Returns
    -------
    AssemblySettings or None
        Settings in the inputs' own units.
    """
    items = tuple(item for item in plan.inputs if item.adjust is not None)
    if not items:
        return None
    ends = np.array([item.adjust for item in items])
    settings = AssemblySettings(items, settings_to_try(items, ends))
    few = min(plan.sampling.points, PILOT)
    pilot = crossing_plan(replace(plan, sampling=replace(plan.sampling, points=few)))
    for _ in range(MOST_DIVISIONS):
        works = _one_replicate(pilot, settings.variants, (), 0).works
        narrower = _where_some_work(settings.points, works, ends)
        if not np.any(np.diff(narrower) < NARROWER * np.diff(ends)):
            return _within(settings, narrower) if len(items) == 1 else settings
        ends = narrower
        settings = AssemblySettings(items, settings_to_try(items, ends))
    return settings


def _within(settings: AssemblySettings, ends: Floats) -> AssemblySettings:
    """Leave out the settings beyond the ends (1, 2), where hardly any assembly works."""
    along = settings.points[:, 0]
    inside = (along >= ends[0, 0]) & (along <= ends[0, 1])
    return replace(settings, points=settings.points[inside])


def _where_some_work(points: Floats, works: Flags, ends: Floats) -> Floats:
    """Find the ends (k, 2) of each input's values at which some of (n, s) work, and one more.

    Some are a hundredth of those at its best value; no assembly at all leaves the ends as they are.
    """
    narrower = ends.copy()
    for axis, column in enumerate(points.T):
        values = np.unique(column)
        share = np.array([works[:, column == value].any(axis=1).mean() for value in values])
        some = np.flatnonzero(share >= 0.01 * share.max())
        if share.max() > 0.0:
            first, last = max(some[0] - 1, 0), min(some[-1] + 1, values.size - 1)
            narrower[axis] = max(values[first], ends[axis, 0]), min(values[last], ends[axis, 1])
    return narrower


@dataclass(frozen=True)
class Assemblies:
    """Every assembly of a sample, by replicate (r) and row (n).

    Attributes
    ----------
    values : array (r, n, c)
        The dimensions that may be measured, as they are.
    works : array (r, n, s)
        1 for each that works at each setting, 0 for each that does not; a verdict in between where
        the moments leave it open, or below 0 where it stands for others (``assembly_verdicts``).
    as_drawn : array (r, n)
        The same as drawn.
    margins : array (r, n, ends)
        As drawn, its margins to the ends of the limits, positive where they are met, each in its
        own standard deviations; NaN where a model has no answer.
    """

    values: Floats
    works: Floats
    as_drawn: Floats
    margins: Floats

    @property
    def smallest(self) -> Floats:
        """The smallest margin (r, n) of each assembly."""
        return np.asarray(np.nan_to_num(self.margins, nan=NO_MARGIN).min(axis=2))


class _Rows(NamedTuple):
    values: Floats
    works: Flags
    as_drawn: Flags
    margins: Floats


def sample_assemblies(
    plan: Plan,
    settings: AssemblySettings | None,
    names: Sequence[str],
    *,
    results: Sequence[Reading] = (),
    options: RunOptions = DEFAULTS,
) -> Assemblies:
    """Draw every assembly of a plan, as stated and at each setting.

    Parameters
    ----------
    plan : Plan
        With limits.
    settings : AssemblySettings or None
        To try on each of them.
    names : sequence of str
        Inputs whose values are kept.
    results : sequence of Reading
        Results whose values are kept, in the columns after them.
    options : RunOptions
        Who works, and who is told.

    Returns
    -------
    Assemblies
        Values in the inputs' own units.

    Raises
    ------
    CallError
        Where they are more than can be kept at once.
    """
    variants = settings.variants if settings is not None else ()
    check_size(plan, 2 * plan.sampling.points, len(variants), len(names) + len(results))
    answers = each_replicate(
        partial(
            _one_replicate, crossing_plan(plan), variants, tuple(names), results=tuple(results)
        ),
        plan.sampling.replicates,
        workers=options.workers,
        executor=options.executor,
        progress=options.progress(),
    )
    return Assemblies(
        values=np.stack([rows.values for rows in answers]),
        works=np.stack([rows.works for rows in answers]).astype(np.float64),
        as_drawn=np.stack([rows.as_drawn for rows in answers]).astype(np.float64),
        margins=scaled(np.stack([rows.margins for rows in answers])),
    )


def check_size(plan: Plan, rows: int, settings: int, names: int) -> None:
    """Raise CallError where so many assemblies a replicate are more than can be kept at once."""
    count = rows * plan.sampling.replicates
    if 8 * count * (settings + names + 2 * len(plan.limits)) > LARGEST_SAMPLE:
        raise CallError(
            f"{count:,} {plan.system.vocabulary.many} at {settings + 1} settings are more "
            "than can be kept at once; ask for fewer --points, 2048 will do"
        )


def without_danger(
    plan: Plan, settings: AssemblySettings, *, options: RunOptions = DEFAULTS
) -> tuple[AssemblySettings, tuple[Limit, ...]]:
    """Leave out settings at which a limit that hurts is broken more often than its ceiling.

    Where it is at every setting, the least dangerous is left. Also names the limits that left
    some out.
    """
    passes = run_variants(plan, settings.variants, options=options)
    shares = [
        {
            limit.result: proportion(passes.each[:, place, column], passes.rows, passes.confidence)
            for column, limit in enumerate(plan.limits)
        }
        for place in range(1, len(settings.points) + 1)
    ]
    kept = choosable({place: danger(plan.limits, each) for place, each in enumerate(shares)})
    gone = [each for place, each in enumerate(shares) if place not in kept]
    barred = tuple(
        limit for limit in plan.limits if any(danger([limit], each) > 1.0 for each in gone)
    )
    return replace(settings, points=settings.points[kept]), barred


def most_serving(plan: Plan, settings: AssemblySettings, most: int) -> AssemblySettings:
    """Keep the settings that serve the most assemblies, so many at most, in their order.

    By a few assemblies at a moment each. One setting after another is taken, that which serves
    most, where an assembly counts the less, the more settings already serve it: so those kept
    lie where most work, and apart.
    """
    if len(settings.points) <= most:
        return settings
    few = min(plan.sampling.points, PILOT)
    pilot = crossing_plan(replace(plan, sampling=replace(plan.sampling, points=few)))
    works = _one_replicate(pilot, settings.variants, (), 0).works
    served = np.zeros(works.shape[0])
    kept: list[int] = []
    for _ in range(most):
        worth = (works / (1.0 + served[:, None]) ** 2).sum(axis=0)
        worth[kept] = -1.0
        kept.append(int(worth.argmax()))
        served += works[:, kept[-1]]
    return replace(settings, points=settings.points[np.sort(kept)])


def _one_replicate(
    plan: Plan,
    variants: tuple[Variant, ...],
    names: tuple[str, ...],
    replicate: int,
    *,
    results: tuple[Reading, ...] = (),
) -> _Rows:
    nominal = {item.name: item.nominal for item in plan.inputs}
    parts = []
    for block in evaluated_blocks(plan, variants, replicate):
        together = [np.logical_and.reduce(met, axis=0) for met in block.met]
        size = together[0].size
        values = np.empty((size, len(names) + len(results)))
        for column, name in enumerate(names):
            value = np.asarray(block.inputs[name])
            # What is physically impossible fails whatever is read, so any reading will do.
            values[:, column] = np.where(np.isfinite(value), value, nominal[name])
        for column, reading in enumerate(results, start=len(names)):
            answers = block.results
            if reading.at:
                answers = plan.system.evaluate({**block.inputs, **reading.at})
            values[:, column] = as_gauged(reading, answers[reading.name], size)
        works = np.zeros((size, len(variants)), dtype=np.bool_)
        for place, flags in enumerate(together[1:]):
            works[:, place] = flags
        parts.append(_Rows(values, works, together[0], _margins(plan, block, size)))
    return _Rows(*(np.concatenate(part) for part in zip(*parts, strict=True)))


def _margins(plan: Plan, block: Block, size: int) -> Floats:
    """Margins (n, ends) to each end of each limit, positive where it is met."""
    margins: list[Floats] = []
    for limit in plan.limits:
        value = np.broadcast_to(block.results[limit.result], (size,))
        margins += limit.margins(value)
    return np.stack(margins, axis=1)


def scaled(margins: Floats) -> Floats:
    """Put margins (r, n, ends) in standard deviations of each."""
    known = np.isfinite(margins)
    count = np.maximum(known.sum(axis=(0, 1)), 1)
    mean = np.where(known, margins, 0.0).sum(axis=(0, 1)) / count
    square = np.where(known, margins - mean, 0.0) ** 2
    deviation = np.sqrt(square.sum(axis=(0, 1)) / count)
    return np.asarray(margins / np.where(deviation > 0.0, deviation, 1.0))
