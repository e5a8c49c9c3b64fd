"""Which single reading would say most of a failure, or of how near to its limits a part stands.

Candidates are the suspects and the results that a gauge can reach, each with the instruments that
read it. A reading is worth the share that it would explain of how far the limit is missed, over the
parts that behave as this one did.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Estimate
from sensitivity.engine.plan import Plan
from sensitivity.learning.evaluation import results_of
from sensitivity.learning.observations import Trial, ValueSeen
from sensitivity.learning.posterior import Posterior
from sensitivity.learning.settling import explained
from sensitivity.learning.space import limits_of
from sensitivity.pricing.instruments import instruments_for, reading_errors
from sensitivity.spreads.spread import bounded
from sensitivity.spreads.workshop import WorkshopEntry
from sensitivity.study.study import Input, Reading, Study

Floats = NDArray[np.float64]

READ = 0x56
"""Key of the errors of readings that are tried."""
MOST = 8
"""Dimensions tried at most, beside the results."""


@dataclass(frozen=True)
class SettlingReading:
    """One reading that could be made now.

    Attributes
    ----------
    name, unit : str
        A dimension or a result, and its unit.
    instrument : WorkshopEntry
    settles : Estimate
        Share of the margin's spread that it would explain.
    middle, where : float, (float, float)
        What it reads, by what is known now: the median, and nine chances in ten.
    """

    name: str
    unit: str
    instrument: WorkshopEntry
    settles: Estimate
    middle: float
    where: tuple[float, float]

    @property
    def a_minute(self) -> float:
        """Share settled by a minute's work."""
        return self.settles.value / max(self.instrument.minutes, 1e-9)


def settling_readings(
    study: Study, plan: Plan, known: Posterior, margin: Floats, suspected: Sequence[str]
) -> tuple[SettlingReading, ...]:
    """Price the readings that could be made now, the most telling first.

    Parameters
    ----------
    study, plan : Study, Plan
        The design as stated.
    known : Posterior
        With all that was seen.
    margin : array (r, n)
        What is to be settled of each row.
    suspected : sequence of str
        Dimensions that are suspected, the most first; all dimensions where none is.
    """
    build = [item for item in plan.varying if item.kind == "build" and item.origin != "measured"]
    if suspected:
        items = [i for name in suspected for i in build if i.name == name][:MOST]
    else:
        items = _most_telling(build, known, margin, plan.sampling.confidence)
    candidates: list[tuple[Input | Reading, Floats]] = [
        (item, known.values[item.name]) for item in items
    ]
    for reading in study.readings.values():
        asked = ValueSeen(reading.name, 0.0, bounded("rectangular", -1.0, 1.0))
        trial = Trial(reading.name, "", dict(reading.at), (asked,))
        values = results_of(plan, known.values, known.z, trial)[reading.name]
        if np.isfinite(values).any():
            candidates.append((reading, values))
    found = []
    for key, (what, values) in enumerate(candidates):
        middle, where = _where(values, known.weights)
        for entry in instruments_for(what, size=None if isinstance(what, Input) else middle):
            stream = np.random.SeedSequence(plan.seed, spawn_key=(READ, key))
            uniforms = np.random.default_rng(stream).uniform(1e-9, 1.0, values.shape)
            read = values + reading_errors(entry, what.unit, values, uniforms)
            share = explained([read], margin, known.weights, plan.sampling.confidence)
            found.append(SettlingReading(what.name, what.unit, entry, share, middle, where))
    return tuple(sorted(found, key=lambda one: -one.settles.value))


def failing_margin(plan: Plan, known: Posterior, symptom: Sequence[Trial]) -> Floats:
    """Least margin (r, n) of the limits that were seen broken, in the conditions of their trial."""
    limits = limits_of(plan)
    margins = []
    for key, trial in enumerate(symptom):
        conditions = known.conditions.get(trial.identifier)
        found = results_of(plan, known.values, known.z, trial, conditions, key=key)
        for one in trial.seen:
            margin = limits[one.result].margin(found[one.result])
            margins.append(np.where(np.isfinite(margin), margin, np.nan))
    return np.asarray(np.fmin.reduce(margins))


def _most_telling(
    build: Sequence[Input], known: Posterior, margin: Floats, confidence: float
) -> list[Input]:
    told = {
        item.name: explained([known.values[item.name]], margin, known.weights, confidence).value
        for item in build
    }
    return sorted(build, key=lambda item: -told[item.name])[:MOST]


def _where(values: Floats, weights: Floats) -> tuple[float, tuple[float, float]]:
    from sensitivity.learning.suspects import between

    told = np.isfinite(values)
    kept = np.where(told, weights, 0.0)
    values = np.where(told, values, 0.0)
    return between(values, kept, 0.0)[0], between(values, kept)
