"""How one input varies: a shape with its figures, its quantile function and its moments.

The shapes are those that JCGM 101:2008, Table 1 (numbering from memory) assigns to the state of
knowledge: limits only (rectangular), the sum of two limits (trapezoidal, triangular), a cycle
between limits (arcsine), an estimate with its standard uncertainty (normal). Added to them are
the lognormal, the log-uniform (reciprocal), the smoothed empirical distribution of measured
values, and two that are made of another (``derived``).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sensitivity.spreads import derived
from sensitivity.spreads.smoothing import smoothed

Floats = NDArray[np.float64]
Shape = Literal[
    "normal",
    "rectangular",
    "triangular",
    "arcsine",
    "trapezoidal",
    "lognormal",
    "log_uniform",
    "empirical",
    "slipped",
    "learnt",
]

UNBOUNDED_COVERAGE = 3.0
"""Half-width of the tolerance box of an unbounded shape, in standard deviations."""


@dataclass(frozen=True, slots=True)
class Spread:
    """One input's distribution.

    ``low`` and ``high`` are the ends of the tolerance box that the worst case searches: the
    ends of a bounded shape, and the stated half-width of an unbounded one.

    Attributes
    ----------
    shape : Shape
    low, high : float
        Ends of the tolerance box, low < high.
    centre : float
        Mean of a normal, mode of a triangular, median of a lognormal; otherwise the middle.
    scale : float
        Standard deviation of a normal; that of the logarithm of a lognormal; otherwise 0.
    flat : float
        Ratio of the top to the base of a trapezoid.
    values : tuple of float
        The measured values of an empirical shape, in ascending order.
    base : Spread, optional
        What a derived shape is made of.
    """

    shape: Shape
    low: float
    high: float
    centre: float
    scale: float = 0.0
    flat: float = 0.0
    values: tuple[float, ...] = ()
    base: Spread | None = None


def normal(
    centre: float, standard_deviation: float, coverage: float = UNBOUNDED_COVERAGE
) -> Spread:
    """Build a normal spread whose tolerance box is ``coverage`` standard deviations each way.

    Parameters
    ----------
    centre, standard_deviation : float
        In the input's unit.
    coverage : float
        Standard deviations from the centre to each end of the tolerance box.
    """
    half = coverage * standard_deviation
    return Spread("normal", centre - half, centre + half, centre, scale=standard_deviation)


def lognormal(median: float, relative: float, coverage: float = UNBOUNDED_COVERAGE) -> Spread:
    """Build a lognormal spread from its median and its relative standard deviation.

    The standard deviation of the logarithm is ``sqrt(ln(1 + relative^2))``, exact for the
    ratio of standard deviation to mean.

    Parameters
    ----------
    median : float
        In the input's unit, above zero.
    relative : float
        Standard deviation over mean.
    coverage : float
        Deviations of the logarithm to each end of the tolerance box.
    """
    scale = float(np.sqrt(np.log1p(relative**2)))
    factor = float(np.exp(coverage * scale))
    return Spread("lognormal", median / factor, median * factor, median, scale=scale)


def bounded(
    shape: Shape,
    low: float,
    high: float,
    *,
    mode: float | None = None,
    flat: float = 0.0,
    coverage: float = UNBOUNDED_COVERAGE,
) -> Spread:
    """Build the spread of a shape stated by its two ends; a normal is centred between them.

    Parameters
    ----------
    shape : Shape
        Any but the lognormal and the empirical.
    low, high : float
        The two ends, in the input's unit.
    mode : float, optional
        Of a triangle; the middle unless given.
    flat : float
        Ratio of the top of a trapezoid to its base.
    coverage : float
        Of a normal: standard deviations from its centre to each end.
    """
    middle = 0.5 * (low + high)
    if shape == "normal":
        return normal(middle, 0.5 * (high - low) / coverage, coverage)
    if shape == "triangular" and mode is not None and low <= mode <= high:
        middle = mode
    if shape == "log_uniform":
        middle = float(np.sqrt(low * high))
    return Spread(shape, low, high, middle, flat=flat)


def empirical(values: Floats) -> Spread:
    """Build the smoothed empirical spread of measured values (at least two that differ).

    Parameters
    ----------
    values : array (n,)
        In the input's unit, in any order.
    """
    ordered = tuple(float(value) for value in np.sort(np.asarray(values, dtype=np.float64)))
    return Spread("empirical", ordered[0], ordered[-1], float(np.mean(ordered)), values=ordered)


def quantile(spread: Spread, u: Floats) -> Floats:
    """Turn probabilities, 0 < u < 1, of any shape into values of the input; same shape out.

    Parameters
    ----------
    spread : Spread
        Of any shape.
    u : array of any shape
        Probabilities, 0 < u < 1.

    Returns
    -------
    array of the same shape
        In the input's unit.
    """
    from sensitivity.spreads.special_functions import ndtri

    low, width = spread.low, spread.high - spread.low
    match spread.shape:
        case "normal":
            return np.asarray(spread.centre + spread.scale * ndtri(u))
        case "rectangular":
            return low + width * u
        case "triangular":
            share = (spread.centre - low) / width
            rising = low + width * np.sqrt(u * share)
            return np.where(
                u < share, rising, spread.high - width * np.sqrt((1.0 - u) * (1.0 - share))
            )
        case "arcsine":
            return low + width * np.sin(0.5 * np.pi * u) ** 2
        case "trapezoidal":
            return low + width * _trapezoidal(u, spread.flat)
        case "lognormal":
            return np.asarray(spread.centre * np.exp(spread.scale * ndtri(u)))
        case "log_uniform":
            return np.asarray(low * np.exp(u * np.log(spread.high / low)))
        case "empirical":
            probabilities, values = smoothed(spread.values)
            return np.interp(u, probabilities, values)
        case _:
            return derived.quantile(spread, u)


def _trapezoidal(u: Floats, flat: float) -> Floats:
    """Quantile of the symmetric trapezoid on 0..1 with ratio ``flat`` of top to base."""
    side = 0.5 * (1.0 - flat)  # width of one sloping side
    if side == 0.0:
        return u
    height = 1.0 / (1.0 - side)
    mirrored = np.minimum(u, 1.0 - u)
    sloping = np.sqrt(2.0 * side * mirrored / height)
    level = side + (mirrored - 0.5 * side * height) / height
    lower = np.where(mirrored < 0.5 * side * height, sloping, level)
    return np.where(u <= 0.5, lower, 1.0 - lower)


def density(spread: Spread, x: Floats) -> Floats:
    """Probability density at values (n,) of the input, in one over its unit; zero outside it.

    Parameters
    ----------
    spread : Spread
        Of any shape.
    x : array (n,)
        In the input's unit.

    Returns
    -------
    array (n,)
        In one over that unit.
    """
    low, high, width = spread.low, spread.high, spread.high - spread.low
    with np.errstate(all="ignore"):
        inside = (x >= low) & (x <= high)
        match spread.shape:
            case "normal":
                return np.asarray(_bell((x - spread.centre) / spread.scale) / spread.scale)
            case "lognormal":
                logarithm = np.log(np.where(x > 0.0, x, np.nan) / spread.centre)
                found = _bell(logarithm / spread.scale) / (spread.scale * x)
                return np.where(x > 0.0, found, 0.0)
            case "rectangular":
                return np.where(inside, 1.0 / width, 0.0)
            case "triangular":
                rising = (x - low) / (spread.centre - low)
                falling = (high - x) / (high - spread.centre)
                return np.where(inside, 2.0 / width * np.fmin(rising, falling), 0.0)
            case "arcsine":
                return np.where(inside, 1.0 / (np.pi * np.sqrt((x - low) * (high - x))), 0.0)
            case "trapezoidal":
                slope = 0.5 * width * (1.0 - spread.flat)
                share = np.fmin(1.0, np.minimum(x - low, high - x) / slope)
                return np.where(inside, share * 2.0 / (width * (1.0 + spread.flat)), 0.0)
            case "log_uniform":
                return np.where(inside, 1.0 / (x * np.log(high / low)), 0.0)
            case "empirical":
                # The quantile function goes in straight lines, so the density goes in steps.
                probabilities, grid = smoothed(spread.values)
                steps = np.diff(probabilities) / np.diff(grid)
                place = np.clip(np.searchsorted(grid, x, side="right") - 1, 0, steps.size - 1)
                return np.where((x >= grid[0]) & (x <= grid[-1]), steps[place], 0.0)
            case _:
                return derived.density(spread, x)


def _bell(z: Floats) -> Floats:
    return np.asarray(np.exp(-0.5 * z**2) / np.sqrt(2.0 * np.pi))


def share_below(spread: Spread, x: Floats) -> Floats:
    """Probability that the input is at most ``x`` (n,): the inverse of ``quantile``.

    Parameters
    ----------
    spread : Spread
        Of any shape.
    x : array (n,)
        In the input's unit; infinite is allowed.

    Returns
    -------
    array (n,)
        From 0 to 1.
    """
    from sensitivity.spreads.special_functions import ndtr

    low, high, width = spread.low, spread.high, spread.high - spread.low
    place = np.clip((x - low) / width, 0.0, 1.0)
    with np.errstate(all="ignore"):
        match spread.shape:
            case "normal":
                return np.asarray(ndtr((x - spread.centre) / spread.scale))
            case "lognormal":
                logarithm = np.log(np.maximum(x, 0.0) / spread.centre)
                return np.asarray(ndtr(logarithm / spread.scale))
            case "rectangular":
                return np.asarray(place)
            case "triangular":
                mode = (spread.centre - low) / width
                # Where the mode is an end, the side that is not there is not divided by.
                rising = place**2 / (mode if mode > 0.0 else 1.0)
                falling = 1.0 - (1.0 - place) ** 2 / (1.0 - mode if mode < 1.0 else 1.0)
                return np.where(place < mode, rising, np.where(place < 1.0, falling, 1.0))
            case "arcsine":
                return np.asarray(2.0 / np.pi * np.arcsin(np.sqrt(place)))
            case "trapezoidal":
                side = 0.5 * (1.0 - spread.flat)
                mirrored = np.minimum(place, 1.0 - place)
                lower = np.where(
                    mirrored < side, 0.5 * mirrored**2 / side, mirrored - 0.5 * side
                ) / (1.0 - side)
                return np.where(place <= 0.5, lower, 1.0 - lower)
            case "log_uniform":
                return np.asarray(np.log(np.clip(x, low, high) / low) / np.log(high / low))
            case "empirical":
                probabilities, values = smoothed(spread.values)
                return np.interp(x, values, probabilities, left=0.0, right=1.0)
            case _:
                return derived.share_below(spread, x)


def support(spread: Spread) -> tuple[float, float]:
    """Ends between which values can fall; infinite for an unbounded shape.

    Returns
    -------
    float, float
        Low and high, in the input's unit.
    """
    match spread.shape:
        case "normal":
            return -np.inf, np.inf
        case "lognormal":
            return 0.0, np.inf
        case "empirical":
            grid = smoothed(spread.values)[1]
            return float(grid[0]), float(grid[-1])
        case "slipped" | "learnt":
            return derived.support(spread)
        case _:
            return spread.low, spread.high


def mean(spread: Spread) -> float:
    """Mean of the spread, in closed form but for what is made of another."""
    width = spread.high - spread.low
    match spread.shape:
        case "triangular":
            return (spread.low + spread.centre + spread.high) / 3.0
        case "lognormal":
            return float(spread.centre * np.exp(0.5 * spread.scale**2))
        case "log_uniform":
            return float(width / np.log(spread.high / spread.low))
        case "slipped" | "learnt":
            return derived.moments(spread)[0]
        case _:
            return spread.centre


def standard_deviation(spread: Spread) -> float:
    """Standard deviation of the spread, as ``mean`` (JCGM 101:2008, 6.4, from memory)."""
    low, high, width = spread.low, spread.high, spread.high - spread.low
    match spread.shape:
        case "normal":
            return spread.scale
        case "rectangular":
            return float(width / np.sqrt(12.0))
        case "triangular":
            mode = spread.centre
            square = low**2 + mode**2 + high**2 - low * mode - low * high - mode * high
            return float(np.sqrt(square / 18.0))
        case "arcsine":
            return float(width / np.sqrt(8.0))
        case "trapezoidal":
            return float(width * np.sqrt((1.0 + spread.flat**2) / 24.0))
        case "lognormal":
            return float(mean(spread) * np.sqrt(np.expm1(spread.scale**2)))
        case "log_uniform":
            # Relative variance x/tanh(x) - 1 with x half the logarithm of the ends' ratio.
            x = 0.5 * float(np.log(high / low))
            series = x * x / 3.0 * (1.0 - x * x / 15.0 * (1.0 - 2.0 * x * x / 21.0))
            relative = series if x < 0.05 else x / float(np.tanh(x)) - 1.0
            return float(mean(spread) * np.sqrt(relative))
        case "empirical":
            # The shrinkage keeps the variance of the values themselves.
            return float(np.std(spread.values))
        case _:
            return derived.moments(spread)[1]
