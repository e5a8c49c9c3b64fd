"""Which trial to make next: the safe ones first, by what each would settle.

Of this part: of how near to its limits it stands, with every running condition at its nominal. Of
the physics: of what the doubts do to that; and of each doubt by itself. Trials are the trade's
(``bench``); what each would read is computed of the rows as they are known now.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Estimate
from sensitivity.engine.moments import of_kinds
from sensitivity.engine.plan import Plan
from sensitivity.learning.bench import BenchTrial
from sensitivity.learning.evaluation import results_of
from sensitivity.learning.observations import EventSeen, Trial, ValueSeen
from sensitivity.learning.posterior import Posterior
from sensitivity.learning.settling import explained
from sensitivity.spreads.spread import quantile
from sensitivity.study.study import Study

Floats = NDArray[np.float64]

ERRORS = 0x55
"""Key of the errors of readings that are tried."""
WORTH_NAMING = 0.05
"""Share of a doubt below which it is not named."""


@dataclass(frozen=True)
class NextTrial:
    """A trial and what it would settle.

    Attributes
    ----------
    trial : BenchTrial
    of_part, of_physics : Estimate
        Share of how near to its limits the part stands, and of what the physics does to that.
    doubts : tuple of (str, Estimate)
        Doubts about the physics and the share of each that it would settle, most first.
    """

    trial: BenchTrial
    of_part: Estimate
    of_physics: Estimate
    doubts: tuple[tuple[str, Estimate], ...]


def next_trials(
    study: Study, plan: Plan, known: Posterior, trials: Sequence[BenchTrial]
) -> tuple[NextTrial, ...]:
    """Rank trials by what they would settle, safe ones first.

    Parameters
    ----------
    study, plan : Study, Plan
        The design as stated.
    known : Posterior
        The part and the physics as they are known now.
    trials : sequence of BenchTrial
        Those that the study computes.
    """
    nearness = nearest_limit(plan, known)
    physics = due_to_doubts(plan, known, nearness)
    found = []
    for place, trial in enumerate(trials):
        readings = readings_of(study, plan, known, trial, place)
        settled = [
            explained(readings, target, known.weights, plan.sampling.confidence)
            for target in (nearness, physics)
        ]
        each = [
            (name, explained(readings, known.z[name], known.weights, plan.sampling.confidence))
            for name in of_kinds(plan, "model")
        ]
        named = [row for row in each if row[1].low > 0.0 and row[1].value >= WORTH_NAMING]
        doubts = tuple(sorted(named, key=lambda row: -row[1].value))
        found.append(NextTrial(trial, settled[0], settled[1], doubts))
    return tuple(sorted(found, key=_rank))


def _rank(one: NextTrial) -> tuple[bool, float]:
    told = max(one.of_part.value, 0.0) + max(one.of_physics.value, 0.0)
    # Where neither tells much, what it teaches of a doubt is still worth having.
    return not one.trial.safe, -(told + 0.1 * sum(share.value for _, share in one.doubts))


def readings_of(
    study: Study, plan: Plan, known: Posterior, trial: BenchTrial, key: int
) -> list[Floats]:
    """What a trial would read of each row (r, n), errors included: one array a reading."""
    units = {q.name: q.unit for q in (*plan.system.inputs, *plan.system.results)}
    found = []
    for place, reading in enumerate(trial.readings):
        unit = units[reading.of]
        spread = reading.error(unit, 1.0)
        asked = Trial(trial.name, "", reading.held(study), (ValueSeen(reading.of, 0.0, spread),))
        value = results_of(plan, known.values, known.z, asked, key=100 * key + place)[reading.of]
        stream = np.random.SeedSequence(plan.seed, spawn_key=(ERRORS, key, place))
        error = quantile(spread, np.random.default_rng(stream).uniform(1e-9, 1.0, value.shape))
        found.append(value + (error * np.abs(value) if reading.relative else error))
    return found


def nearest_limit(plan: Plan, known: Posterior) -> Floats:
    """How near each row (r, n) stands to its nearest limit, running as nominally.

    The least margin of all limits, each in deviations of its own over the rows; far below nothing
    where there is no answer.
    """
    held = {item.name: item.nominal for item in plan.inputs if item.kind == "running"}
    seen = tuple(EventSeen(limit.result, True) for limit in plan.limits)
    found = results_of(plan, known.values, known.z, Trial("as nominally run", "", held, seen))
    margins = []
    for limit in plan.limits:
        margin = limit.margin(found[limit.result])
        told = np.isfinite(margin)
        weights = np.where(told, known.weights, 0.0)
        scale = _deviation(np.where(told, margin, 0.0), weights)
        margins.append(np.where(told, margin / scale, -10.0) if scale > 0.0 else np.inf * told)
    nearest = np.minimum.reduce(margins)
    return np.where(np.isfinite(nearest), nearest, 10.0)


def due_to_doubts(plan: Plan, known: Posterior, nearness: Floats) -> Floats:
    """What of that (r, n) the doubts about the physics do: its regression on their scores."""
    names = of_kinds(plan, "model")
    if not names:
        return np.zeros_like(nearness)
    w = known.weights.ravel()
    scores = np.stack([known.z[name].ravel() for name in names], axis=1)
    columns = np.concatenate([np.ones((len(scores), 1)), scores, scores**2], axis=1)
    root = np.sqrt(w)[:, None]
    y = np.clip(nearness.ravel(), -10.0, 10.0)
    answer = np.linalg.lstsq(columns * root, y * root[:, 0], rcond=None)[0]
    return np.asarray((columns @ answer).reshape(nearness.shape))


def _deviation(values: Floats, weights: Floats) -> float:
    total = float(weights.sum())
    if total <= 0.0:
        return 0.0
    mean = float((weights * values).sum()) / total
    return float(np.sqrt((weights * (values - mean) ** 2).sum() / total))
