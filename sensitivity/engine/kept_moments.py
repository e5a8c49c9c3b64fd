"""What is kept of one replicate's results: moments, quantiles, ranges and extremes of each."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.indices import exponent

Floats = NDArray[np.float64]

QUANTILES = (0.005, 0.025, 0.05, 0.25, 0.5, 0.75, 0.95, 0.975, 0.995)
COVERAGE = 0.95
SLIDES = 43
"""Ranges that hold 95 % of the rows, kept to see which is shortest over all replicates."""


def kept_moments(a: Floats, b: Floats) -> dict[str, Any]:
    """Moments, quantiles, shortest interval and extremes of each output (k, n) over its answers."""
    count = a.shape[0]
    found: dict[str, Any] = {
        "invalid": np.zeros(count, dtype=np.int64),
        "mean": np.full(count, np.nan),
        "deviation": np.full(count, np.nan),
        "quantiles": np.full((count, len(QUANTILES)), np.nan),
        "shortest": np.full((count, 2), np.nan),
        "ranges": np.full((count, 2, SLIDES), np.nan),
        "extremes": np.full((count, 2), np.nan),
    }
    for row in range(count):
        ordered = np.sort(np.concatenate([a[row], b[row]]))
        found["invalid"][row] = missing = np.count_nonzero(np.isnan(ordered))
        ordered = ordered[: ordered.size - missing]
        if ordered.size < 2:
            continue
        power = exponent(ordered)
        scaled = np.ldexp(ordered, -power) if power else ordered
        mean = scaled.mean()
        # Over n, not n - 1: the mean of a low-discrepancy sample is all but exact, so the usual
        # correction for its scatter would itself be a bias, larger than the interval.
        deviation = np.sqrt(((scaled - mean) ** 2).sum() / ordered.size)
        found["mean"][row] = np.ldexp(mean, power)
        found["deviation"][row] = np.ldexp(deviation, power)
        found["quantiles"][row] = np.interp(
            np.asarray(QUANTILES) * ordered.size - 0.5, np.arange(ordered.size), ordered
        )
        found["extremes"][row] = ordered[0], ordered[-1]
        width = int(np.ceil(COVERAGE * ordered.size))
        if width < ordered.size:
            start = int(np.argmin(ordered[width:] - ordered[:-width]))
            found["shortest"][row] = ordered[start], ordered[start + width]
            starts = _slides(ordered.size - width)
            found["ranges"][row] = ordered[starts], ordered[starts + width]
    return found


def _slides(count: int) -> NDArray[np.int64]:
    """Choose ``SLIDES`` of the starts 0 to count - 1, with the two at either end."""
    inner = np.linspace(1, max(count - 2, 1), SLIDES - 2).round()
    starts = np.clip(np.concatenate([[0], inner, [count - 1]]), 0, count - 1)
    return np.asarray(starts, dtype=np.int64)
