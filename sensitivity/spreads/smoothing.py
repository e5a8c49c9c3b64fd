"""The distribution function of measured values, smoothed by kernels."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@lru_cache(maxsize=64)
def smoothed(values: tuple[float, ...]) -> tuple[Floats, Floats]:
    """Tabulate the distribution function of the kernel-smoothed measured values.

    Gaussian kernels of Silverman's width, shrunk towards the mean so that smoothing does not
    widen the spread (Silverman 1986, *Density Estimation*, 3.4.2 and 6.4.1, from memory).
    """
    from sensitivity.spreads.special_functions import ndtr

    data = np.asarray(values)
    count = data.size
    deviation = float(data.std(ddof=1))
    low_quarter, high_quarter = np.percentile(data, [25, 75])
    robust = (high_quarter - low_quarter) / 1.349
    width = 0.9 * (min(deviation, robust) if robust > 0 else deviation) * count ** (-0.2)
    shrink = 1.0 / np.sqrt(1.0 + width**2 / float(data.var()))
    centres = data.mean() + shrink * (data - data.mean())
    kernel = shrink * width
    grid = np.linspace(centres[0] - 6.0 * kernel, centres[-1] + 6.0 * kernel, 2049)
    # A thousand values at a time, so that memory does not grow with them.
    probability = sum(
        ndtr((grid[:, None] - centres[None, start : start + 1000]) / kernel).sum(axis=1)
        for start in range(0, count, 1000)
    ) / float(count)
    keep = np.concatenate(([True], np.diff(probability) > 0.0))
    return probability[keep], grid[keep]
