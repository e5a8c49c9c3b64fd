"""How much of what is still in doubt a reading would settle: shares explained, over weighted rows.

Both sides are turned to normal scores of their ranks first, so that a dimension that may have
slipped far does not outweigh all others; then the target is regressed on powers of the readings
(up to the third, and products of two readings). The share is adjusted for the columns and the
effective number of rows, and its interval is Student's t on the replicates' pseudo-values.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Estimate, estimate

Floats = NDArray[np.float64]

RIDGE = 1e-9


def normal_scores(values: Floats, weights: Floats) -> Floats:
    """Turn values (r, n) into the normal scores of their weighted ranks; alike stay alike."""
    from sensitivity.spreads.special_functions import ndtri

    flat, mass = values.ravel(), weights.ravel()
    unique, inverse = np.unique(flat, return_inverse=True)
    held = np.bincount(inverse, mass, unique.size)
    middle = (np.cumsum(held) - 0.5 * held) / max(float(held.sum()), 1e-300)
    return np.asarray(ndtri(np.clip(middle, 1e-9, 1.0 - 1e-9))[inverse].reshape(values.shape))


def explained(
    readings: Sequence[Floats], target: Floats, weights: Floats, confidence: float
) -> Estimate:
    """Share of a target's spread that readings would explain, 0 to 1, with its interval.

    Parameters
    ----------
    readings : sequence of arrays (r, n)
        What would be read of each row, errors included.
    target : array (r, n)
        What is in doubt.
    weights : array (r, n)
        Of the rows.
    confidence : float
        Of the interval.
    """
    told = np.isfinite(target) & np.logical_and.reduce([np.isfinite(each) for each in readings])
    weights = np.where(told, weights, 0.0)
    y = normal_scores(np.where(told, target, 0.0), weights)
    scores = [normal_scores(np.where(told, each, 0.0), weights) for each in readings]
    columns = [np.ones_like(y)]
    for place, score in enumerate(scores):
        columns += [score, score**2, score**3]
        columns += [score * other for other in scores[:place]]
    x = np.stack(columns, axis=2)
    wx = weights[:, :, None] * x
    inner, cross = np.einsum("rnk,rnl->rkl", wx, x), np.einsum("rnk,rn->rk", wx, y)
    squares = np.stack(
        [(weights * y**2).sum(1), (weights * y).sum(1), weights.sum(1), (weights**2).sum(1)]
    )

    def share(kept: NDArray[np.bool_]) -> float:
        a, b, s = inner[kept].sum(0), cross[kept].sum(0), squares[:, kept].sum(1)
        spread = s[0] - s[1] ** 2 / max(s[2], 1e-300)
        if not spread > 1e-12 * max(s[2], 1e-300):
            return 0.0
        fitted = b @ np.linalg.solve(a + RIDGE * np.trace(a) * np.eye(len(a)), b)
        left = max(s[0] - fitted, 0.0) / spread
        rows = s[2] ** 2 / s[3]
        return float(1.0 - left * (rows - 1.0) / max(rows - len(a), 1.0))

    return jackknifed(share, len(y), confidence)


def jackknifed(
    share: Callable[[NDArray[np.bool_]], float], replicates: int, confidence: float
) -> Estimate:
    """Estimate something of all replicates, with Student's t on their pseudo-values.

    Parameters
    ----------
    share : callable of flags (r,)
        Finds it of the replicates that are marked.
    replicates : int
        How many there are.
    confidence : float
        Of the interval.
    """
    whole = share(np.ones(replicates, dtype=np.bool_))
    if replicates < 2:
        return Estimate(whole, -np.inf, np.inf)
    without = np.array([share(np.arange(replicates) != r) for r in range(replicates)])
    found = estimate(replicates * whole - (replicates - 1) * without, confidence)
    half = 0.5 * (found.high - found.low)
    return Estimate(whole, whole - half, whole + half)
