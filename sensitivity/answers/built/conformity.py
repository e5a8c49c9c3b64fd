"""Is the part good? A decision rule with guard bands: good, not good, or too close to say.

The conformance probability is the probability that the part lies within its tolerance, given
what was read (JCGM 106:2012, clause 7). As in its examples, with nothing else known of the part,
its size is spread about the reading as the instrument errs. A part is good where that
probability is 95 % or more. It is not good where the reading lies beyond a limit by the guard band,
so that the part is beyond that limit with 95 %; in between this instrument cannot say: the default
rule of ISO 14253-1:2017 (from memory). The guard band is 1.645 standard uncertainties for a normal
error (JCGM 106:2012, clause 8.3, from memory) and 1.559 for a rectangular one. Where the tolerance
is hardly wider than the error, both limits count against "good"; but a coarse instrument condemns
nothing: a part of 5 mm +-0.01 mm that reads 5 mm by a steel rule is hardly proved to be within, and
not at all proved to be without.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sensitivity.spreads.spread import Spread, quantile, share_below, standard_deviation

PROVED = 0.95
"""Probability at which a part is proved to be within its limits, or beyond one."""

Verdict = Literal["good", "not good", "too close to say", "no tolerance"]


@dataclass(frozen=True, slots=True)
class Conformity:
    """What a reading says of a part.

    Attributes
    ----------
    tolerance : (float, float) or None
        What the part must lie within; an end may be infinite.
    uncertainty : float
        Standard uncertainty of the reading.
    guard_band : float
        How far inside a limit a reading proves the part good, the other limit being far.
    probability : float
        That the part is within its tolerance; NaN without one.
    verdict : Verdict
    """

    tolerance: tuple[float, float] | None
    uncertainty: float
    guard_band: float
    probability: float
    verdict: Verdict


def conformance_probability(tolerance: tuple[float, float], size: Spread) -> float:
    """Find the probability that a part is within its tolerance.

    Parameters
    ----------
    tolerance : (float, float)
        What it must lie within; an end may be infinite.
    size : Spread
        How its true size is spread, given what was read; in the unit of the tolerance.

    Returns
    -------
    float
        0..1.
    """
    low, high = share_below(size, np.array(tolerance))
    return float(high - low)


def guard_band(reading: float, size: Spread, proved: float = PROVED) -> float:
    """Find how far inside one limit a reading must lie to prove a part good, the other being far.

    For a normal error of standard uncertainty u: 1.645 u at 95 %, and 2 u at 97.7 %.

    Parameters
    ----------
    reading : float
        What was read.
    size : Spread
        How the true size is spread about it, in the same unit.
    proved : float
        Conformance probability wanted, 0.5..1.

    Returns
    -------
    float
        In the same unit.
    """
    below, above = quantile(size, np.array([1.0 - proved, proved])) - reading
    return float(max(above, -below))


def conformity(tolerance: tuple[float, float] | None, reading: float, size: Spread) -> Conformity:
    """Decide on a part from what was read and how its size is then spread.

    Parameters
    ----------
    tolerance : (float, float) or None
        What the part must lie within; None where it has none.
    reading : float
        What was read.
    size : Spread
        How the true size is spread about it, in the same unit.

    Returns
    -------
    Conformity
        In the same unit.
    """
    uncertainty, band = standard_deviation(size), guard_band(reading, size)
    if tolerance is None:
        return Conformity(None, uncertainty, band, float("nan"), "no tolerance")
    probability = conformance_probability(tolerance, size)
    below, above = share_below(size, np.array(tolerance)) * (1.0, -1.0) + (0.0, 1.0)
    verdict: Verdict = "too close to say"
    if probability >= PROVED:
        verdict = "good"
    elif max(below, above) >= PROVED:
        verdict = "not good"
    return Conformity(tolerance, uncertainty, band, probability, verdict)
