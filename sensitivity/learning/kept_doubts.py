"""What trials taught of the physics, kept for the next study: from the rows to the file.

The posterior of the model inputs alone is kept as mean and covariance of their normal scores, in
what is stated of each; where a range of nine chances in ten is not a normal's by more than a tenth
of a deviation, with its quantiles. Where an earlier file was taken the scores are turned back to
what was stated first, so that from part to part the file says what all trials would have said at
once.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.moments import of_kinds
from sensitivity.engine.plan import Plan
from sensitivity.errors import CallError
from sensitivity.learning.observations import Trial
from sensitivity.learning.posterior import Posterior
from sensitivity.learning.suspects import between
from sensitivity.spreads.derived import TABLE, scores_of_base
from sensitivity.spreads.spread import Spread
from sensitivity.study.doubts import NARROWEST, Doubts
from sensitivity.study.study import Study

Floats = NDArray[np.float64]

NEAR_NORMAL = 0.1
"""Deviations of a score by which a range may differ from a normal's and still be kept as one."""


def refuse_heard(study: Study, trials: tuple[Trial, ...]) -> None:
    """Raise CallError where a trial was heard already, in the doubts that the study takes."""
    if study.doubts is None:
        return
    heard = [trial.title for trial in trials if trial.identifier in study.doubts.trials]
    if heard:
        raise CallError(
            f"heard already, in {study.doubts.file}: {'; '.join(heard)}. A trial that is heard "
            "twice would count for two; leave it out here, or leave the doubts out of the study"
        )


def kept_doubts(study: Study, plan: Plan, known: Posterior) -> Doubts | None:
    """Lay out what the trials taught of the physics; None where no model input varies.

    Parameters
    ----------
    study : Study
        With the doubts that it takes from earlier trials, if any.
    plan : Plan
        Of it.
    known : Posterior
        With all that was seen.
    """
    names = of_kinds(plan, "model")
    if not names:
        return None
    scores = np.stack([known.z[name].ravel() for name in names])
    spreads = {item.name: item.spread for item in plan.varying if item.spread is not None}
    stated: dict[str, Spread] = {}
    for row, name in enumerate(names):
        spread = spreads[name]
        base = spread.base
        if spread.shape == "learnt" and base is not None:
            scores[row] = scores_of_base(spread, scores[row])
            stated[name] = base
        else:
            stated[name] = spread
    weights = known.weights.ravel()
    mean = scores @ weights
    centred = scores - mean[:, None]
    covariance = (weights * centred) @ centred.T + NARROWEST**2 * np.eye(len(names))
    quantiles = {
        name: _tabulated(scores[row], weights)
        for row, name in enumerate(names)
        if _bent(scores[row], weights, mean[row], float(covariance[row, row]))
    }
    rows, trials = known.ess, tuple(trial.identifier for trial in known.trials)
    fresh = Doubts("", names, stated, trials, mean, covariance, rows, quantiles)
    earlier = study.doubts
    return fresh if earlier is None else joined(earlier, fresh)


def joined(earlier: Doubts, fresh: Doubts) -> Doubts:
    """Join what was known of more doubts than a study has with what it has taught since.

    What is known of the others follows what is now known of these by regression, as it is of
    jointly normal scores.
    """
    trials = (*earlier.trials, *fresh.trials)
    rows = min(earlier.effective_rows, fresh.effective_rows)
    others = [name for name in earlier.names if name not in fresh.names]
    both = [name for name in fresh.names if name in earlier.names]
    new = [name for name in fresh.names if name not in earlier.names]
    names = (*others, *both, *new)
    count = len(names)
    mean, covariance = np.zeros(count), np.eye(count)
    old = [earlier.names.index(name) for name in (*others, *both)]
    mean[: len(old)] = earlier.mean[old]
    covariance[: len(old), : len(old)] = earlier.covariance[np.ix_(old, old)]
    mine = [fresh.names.index(name) for name in (*both, *new)]
    start = len(others)
    inner, now = covariance[start:, start:], fresh.covariance[np.ix_(mine, mine)]
    follows = (
        covariance[:start, start:] @ np.linalg.inv(inner) if start else np.zeros((0, len(mine)))
    )
    mean[:start] += follows @ (fresh.mean[mine] - mean[start:])
    covariance[:start, :start] -= follows @ (inner - now) @ follows.T
    covariance[:start, start:] = follows @ now
    covariance[start:, :start] = covariance[:start, start:].T
    mean[start:], covariance[start:, start:] = fresh.mean[mine], now
    stated = {**earlier.stated, **fresh.stated}
    # What follows by regression is taken to be normal; what was learnt now is as it was learnt.
    return Doubts(
        "", names, {n: stated[n] for n in names}, trials, mean, covariance, rows, fresh.quantiles
    )


def _tabulated(scores: Floats, weights: Floats) -> tuple[float, ...]:
    """Quantiles of scores (n,) at the standard normal scores of ``TABLE``, strictly ascending."""
    from sensitivity.spreads.special_functions import ndtr

    order = np.argsort(scores, kind="stable")
    along = (np.cumsum(weights[order]) - 0.5 * weights[order]) / weights.sum()
    found = np.interp(ndtr(TABLE), along, scores[order])
    return tuple((np.maximum.accumulate(found) + 1e-6 * np.arange(TABLE.size)).tolist())


def _bent(scores: Floats, weights: Floats, mean: float, variance: float) -> bool:
    low, high = between(scores, weights)
    half = 1.6448536 * variance**0.5
    return bool(max(abs(low - (mean - half)), abs(high - (mean + half))) > NEAR_NORMAL)
