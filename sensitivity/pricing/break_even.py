"""At which factor a figure of a design would have to stand for a difference to vanish.

The difference is known at any factor from the same uniforms, replicate by replicate. It is looked
at on a geometric grid from a quarter to four times; where its mean changes sign the root of the
line between (in the logarithm of the factor) is tried and taken into the curve, three times over
(a secant that keeps the root between its ends). The interval is where the curve's own band crosses
zero. A curve that is not monotone may have several roots: all are given.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Estimate, student

Floats = NDArray[np.float64]

Curve = Callable[[Sequence[float]], Floats]
"""Differences (r, k) of each replicate at k factors."""

GRID: tuple[float, ...] = tuple(float(factor) for factor in np.geomspace(0.25, 4.0, 9))
REFINED = 3


def break_evens(
    curve: Curve, *, confidence: float, grid: Sequence[float] = GRID, known: Floats | None = None
) -> list[Estimate]:
    """Find the factors at which a difference vanishes.

    Parameters
    ----------
    curve : callable
        The differences.
    confidence : float
        Of the intervals.
    grid : sequence of float
        Factors to start from, above 0 and ascending.
    known : array (r, k), optional
        The differences on the grid, where they are known already.

    Returns
    -------
    list of Estimate
        Factors in ascending order; an end of an interval beyond the grid is the grid's end.
    """
    factors = np.asarray(grid, dtype=np.float64)
    values = curve(grid) if known is None else known
    for _ in range(REFINED):
        tried = [root for root in _roots(factors, values.mean(axis=0)) if root not in factors]
        if not tried:
            break
        values = np.concatenate([values, curve(tried)], axis=1)
        factors = np.concatenate([factors, tried])
        order = np.argsort(factors)
        factors, values = factors[order], values[:, order]
    _, low, high = student(values, confidence)
    ends = sorted([*_roots(factors, low), *_roots(factors, high)])
    found = []
    for root in _roots(factors, values.mean(axis=0)):
        below = [end for end in ends if end <= root]
        above = [end for end in ends if end >= root]
        found.append(
            Estimate(
                root,
                below[-1] if below else float(factors[0]),
                above[0] if above else float(factors[-1]),
            )
        )
    return found


def _roots(factors: Floats, values: Floats) -> list[float]:
    """Roots of the lines between points, in the logarithm of the factor."""
    found = []
    logs = np.log(factors)
    for place in range(values.size - 1):
        left, right = values[place], values[place + 1]
        if left == 0.0:
            found.append(float(factors[place]))
        elif left * right < 0.0:
            at = logs[place] + left / (left - right) * (logs[place + 1] - logs[place])
            found.append(float(np.exp(at)))
    if values.size and values[-1] == 0.0:
        found.append(float(factors[-1]))
    return found
