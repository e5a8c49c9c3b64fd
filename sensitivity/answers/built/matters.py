"""What still matters: what each dimension or result not read yet would gain, known exactly.

On the rows that the readings left: with what can be set then set to suit or, where nothing can be,
with the assembly accepted or not (``pricing/value_of_readings``).
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Estimate
from sensitivity.engine.plan import Plan
from sensitivity.learning.evaluation import results_of
from sensitivity.learning.observations import EventSeen, Trial, ValueSeen
from sensitivity.learning.posterior import EqualRows
from sensitivity.learning.space import limits_of
from sensitivity.pricing.assembly_settings import Assemblies, AssemblySettings, scaled
from sensitivity.pricing.instruments import Readable, instruments_for
from sensitivity.pricing.value_of_readings import (
    acceptance_decision,
    setting_decision,
    value_of_reading,
    with_reading,
    without_readings,
)
from sensitivity.spreads.spread import normal
from sensitivity.study.study import Study

Floats = NDArray[np.float64]

MUCH = 1 / 3
"""Share of the largest gain from which a dimension is among those that most hangs on."""


@dataclass(frozen=True, slots=True)
class Matter:
    """What knowing one thing exactly would gain.

    ``settled`` tells whether that is above nothing, at a confidence shared out among all; ``most``
    whether it is among what most hangs on; ``instrument`` is that of fewest minutes that reads it.
    """

    item: Readable
    gain: Estimate
    settled: bool
    most: bool
    instrument: str


def what_matters(
    study: Study,
    plan: Plan,
    rows: EqualRows,
    table: Floats,
    settings: AssemblySettings | None,
    done: Collection[str],
) -> tuple[Matter, ...]:
    """Find what still matters, what gains most first.

    Parameters
    ----------
    study : Study
        With the readings that stand alone.
    plan : Plan
        Of it.
    rows : EqualRows
        Parts (r, n) as known.
    table : array (r, n, s + 1)
        Verdicts of them, as they are and at each setting.
    settings : AssemblySettings or None
        Those.
    done : collection of str
        What was read.
    """
    items: list[Readable] = [
        item
        for item in study.varying
        if item.kind == "build" and item.adjust is None and item.name not in done
    ]
    items += [reading for name, reading in study.readings.items() if name not in done]
    if not items:
        return ()
    columns = [as_read(plan, rows, item) for item in items]
    kept = [at for at, column in enumerate(columns) if float(np.ptp(column)) > 0.0]
    assemblies = Assemblies(
        values=np.empty((*rows.shape, 0)),
        works=table[:, :, 1:],
        as_drawn=table[:, :, 0],
        margins=scaled(_margins(plan, rows)),
    )
    decision = (
        acceptance_decision(assemblies)
        if settings is None
        else setting_decision(assemblies, settings)
    )
    start, confidence = without_readings(decision), plan.sampling.confidence
    strict = 1.0 - (1.0 - confidence) / max(len(kept), 1)
    found = []
    for at in kept:
        after = with_reading(decision, start, columns[at])
        settled = value_of_reading(start, after, strict).low > 0.0
        found.append((items[at], value_of_reading(start, after, confidence), settled))
    found.sort(key=lambda each: -each[1].value)
    largest = max((gain.value for _, gain, settled in found if settled), default=np.inf)
    return tuple(
        Matter(item, gain, settled, settled and gain.low >= MUCH * largest, _instrument(item))
        for item, gain, settled in found
    )


def _instrument(item: Readable) -> str:
    return next((entry.name for entry in instruments_for(item)), "")


def as_read(plan: Plan, rows: EqualRows, item: Readable) -> Floats:
    """What is to be read of each row (r, n), without the instrument's error.

    One without an answer reads as the middle of the others.
    """
    if item.name in rows.values:
        return rows.values[item.name]
    at = getattr(item, "at", {})
    trial = Trial("read", held=at, seen=(ValueSeen(item.name, 0.0, normal(0.0, 1.0)),))
    found = results_of(plan, rows.values, rows.z, trial)[item.name]
    known = np.isfinite(found)
    return np.where(known, found, float(np.median(found[known])) if known.any() else 0.0)


def _margins(plan: Plan, rows: EqualRows) -> Floats:
    """Margins (r, n, ends) to the ends of all limits, in the middle of all conditions."""
    held = {item.name: item.mean for item in plan.varying if item.kind == "running"}
    seen = tuple(EventSeen(limit.result, broken=True) for limit in plan.limits)
    found = results_of(plan, rows.values, rows.z, Trial("middle", held=held, seen=seen))
    limits = limits_of(plan)
    margins = [each for name, value in found.items() for each in limits[name].margins(value)]
    table = np.stack(margins, axis=2)
    return np.where(np.isfinite(table), table, np.nan)
