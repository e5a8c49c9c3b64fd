"""Heavy tails: whether a result's variance exists and can be found by so many points.

Judged by one fixed sample, the same whatever the seed, that reaches far along each input in turn:
what is refused is the study's doing and not the luck of a draw.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.normal_space import NormalSpace
from sensitivity.engine.plan import Plan
from sensitivity.engine.sampling import scrambled_points

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

POINTS = 8192
REACH = 3.0
"""Factor on the one input that a point reaches far along, in standard normal space."""

LARGEST_SHARE = 0.05
"""Share of a single point in the variance from which it is made by a few."""

RELATIVE = 0.5
"""Relative deviation of a replicate's variance from which these points cannot find it."""

KEY = 1021


def heavy_tailed(plan: Plan) -> Flags:
    """Tell which results (k,) have no variance, or none that replicates of the plan can find.

    Half of the points are drawn as stated, half with one input three times as wide; each is
    weighted by how much likelier it is as stated. A point near a pole then has a weight as small
    as its square is large, and where the variance does not exist the largest makes up much of
    it, however far out. That the replicates can find it is told by the fourth moment over what
    16 of them would meet: the relative variance of a variance is kurtosis over rows.
    """
    from sensitivity.spreads.special_functions import ndtri

    space = NormalSpace(plan)
    count = space.dimensions
    u = scrambled_points(0, (KEY,), 1 + count, POINTS)
    z = ndtri(u[:, 1:])
    which = np.floor((u[:, 0] - 0.5) * 2.0 * count).astype(np.int64)
    far = np.flatnonzero(which >= 0)
    z[far, which[far]] *= REACH
    ratios = np.exp(0.5 * z**2 * (1.0 - REACH**-2)).mean(axis=1) / REACH
    weights = 1.0 / (0.5 + 0.5 * ratios)
    rows = 2 * plan.sampling.points
    return np.array([_heavy(values, weights, rows) for values in space.results(z)])


def _heavy(values: Floats, weights: Floats, rows: int) -> bool:
    valid = np.isfinite(values)
    if not valid.any():
        return False
    weights = weights[valid]
    distance = np.abs(0.5 * values[valid] - 0.5 * np.median(values[valid]))
    largest = float(distance.max())
    if not largest > 0.0:
        return False
    distance /= largest  # so that no power overflows
    squares = weights * distance**2
    if float(squares.max()) > LARGEST_SHARE * float(squares.sum()):
        return True
    order = np.argsort(-distance)
    met = order[np.cumsum(weights[order]) > weights.sum() / (16.0 * rows)]
    second, fourth = float(squares[met].sum()), float((squares[met] * distance[met] ** 2).sum())
    kurtosis = fourth * float(weights.sum()) / second**2 if second > 0.0 else 0.0
    return bool(kurtosis > RELATIVE**2 * rows)
