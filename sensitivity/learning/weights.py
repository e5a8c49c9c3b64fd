"""Weights of rows: likelihoods on a log scale, effective sample sizes, means and equal rows."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Estimate, estimate
from sensitivity.spreads.spread import Spread, density

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

FEWEST_EFFECTIVE, FEWEST_IN_A_REPLICATE = 1000.0, 50.0
"""Effective rows below which weights are not used, in all and in any replicate."""


def log_density(error: Spread, x: Floats) -> Floats:
    """Logarithm of the density of a reading's error at x (n,); minus infinity outside, or at NaN.

    Of a normal exact however far out.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        if error.shape == "normal":
            z = (x - error.centre) / error.scale
            found = -0.5 * z**2 - np.log(error.scale * np.sqrt(2.0 * np.pi))
        else:
            found = np.log(density(error, x))
    return np.where(np.isfinite(found), found, -np.inf)


def normalised(log_weights: Floats) -> tuple[Floats, float]:
    """Scale weights (r, n) to add up to one over all; also the logarithm of their mean.

    All zero where none is above nothing, and the logarithm is then minus infinity.
    """
    top = float(log_weights.max())
    if not np.isfinite(top):
        return np.zeros_like(log_weights), -np.inf
    weights = np.exp(log_weights - top)
    total = float(weights.sum())
    return weights / total, top + float(np.log(total / weights.size))


def effective(weights: Floats) -> float:
    """Effective sample size of weights: (sum w)^2 / sum w^2 (Kong 1992, from memory)."""
    squares = float((weights**2).sum())
    return float(weights.sum()) ** 2 / squares if squares > 0.0 else 0.0


def effective_each(weights: Floats) -> Floats:
    """Effective sample size of each replicate, of weights (r, n)."""
    return np.array([effective(row) for row in weights])


def enough(weights: Floats, times: float = 1.0) -> bool:
    """Tell whether weights (r, n) leave rows enough, in all and in each replicate.

    Or would, if there were so many times as many.
    """
    each, whole = times * effective_each(weights), times * effective(weights)
    return bool(whole >= FEWEST_EFFECTIVE and each.min() >= FEWEST_IN_A_REPLICATE)


def weighted_mean(weights: Floats, values: Floats, confidence: float) -> Estimate:
    """Mean of values (r, n) under weights (r, n), with Student's t between replicates.

    A ratio of two means, whose interval is that of its linearisation.
    """
    top = (weights * values).sum(axis=1)
    bottom = weights.sum(axis=1)
    ratio = float(top.sum() / bottom.sum())
    return estimate(ratio + (top - ratio * bottom) / bottom.mean(), confidence)


def equal_rows(weights: Floats, count: int, generator: np.random.Generator) -> Places:
    """Choose rows of one replicate, of weights (n,), so that each stands for as much: (count,).

    Systematic resampling: equally spaced places along the weights. The rows are shuffled first:
    every fourth point of a Sobol' sequence lies in one quarter of an axis.
    """
    order = generator.permutation(weights.size)
    along = np.cumsum(weights[order])
    places = (np.arange(count) + generator.random()) / count * along[-1]
    rows = np.minimum(np.searchsorted(along, places, side="right"), weights.size - 1)
    return np.asarray(order[rows])
