"""Laminar flow of the fuel along a pipe: straight, curved or flattened, and into its two ends."""

import numpy as np

from models import fuel
from models.arrays import STANDARD_GRAVITY, Array

END_EQUIVALENT_LENGTH = 3.0 * np.pi / 16.0
"""Length of pipe, in bores, that resists like its two ends into still fuel: 0.589.

Exact for creeping flow through an aperture, 3 mu Q/r^3 (Sampson 1891, Phil. Trans. R. Soc.
A 182, 449), half of it at each end, over 8 mu Q/(pi r^4) a unit length of pipe.
"""

LAMINAR_LIMIT = 2000.0
"""Reynolds number above which no answer is given: the flow may be turbulent."""


def laminar_pressure_drop(length: Array, bore: Array, flow: Array, viscosity: Array) -> Array:
    """Pressure lost along a round pipe, Pa: dp = 128 mu L Q/(pi d^4), Hagen-Poiseuille.

    Length and bore in mm, flow in ml/min, viscosity in mPa s; any shapes that broadcast.
    Exact for developed laminar flow, Reynolds number below about 2000.
    """
    square = bore * bore
    # mPa s * mm * (ml/min) / mm^4 = 1e-12/60 W m/1e-12 m4 = 1/60 Pa
    return (128.0 / (60.0 * np.pi)) * viscosity * length * flow / (square * square)


def reynolds_number(bore: Array, flow: Array, density: Array, viscosity: Array) -> Array:
    """Reynolds number 4 rho Q/(pi d mu) by mean velocity and bore; units as above, kg/m3."""
    return density * flow / (15.0 * np.pi * bore * viscosity)


def curvature_resistance(dean: Array) -> Array:
    """Resistance of a curved pipe to laminar flow over that of a straight one.

    1/(1 - (1 - (11.6/De)^0.45)^(1/0.45)) above a Dean number De = Re sqrt(d/2R) of 11.6,
    exactly 1 below (White 1929, Proc. R. Soc. A 123, 645). Stated for long coils, De below
    2000 and d/2R below 0.066: a hand-bent pipe is shorter and tighter, so above De = 11.6
    this is a guess on the high side. The default pipe stays below at 3 ml/min, even at 60 degC.
    """
    if not np.any(dean > 11.6):
        return dean * 0.0 + 1.0
    slow = 11.6 / np.maximum(dean, 11.6)
    return 1.0 / (1.0 - (1.0 - slow**0.45) ** (1.0 / 0.45)) + dean * 0.0


def oval_conductance(ovality: Array) -> Array:
    """Laminar flow through a flattened pipe over that through the round pipe it was made of.

    Q = pi a^3 b^3 dp/(4 mu L (a^2 + b^2)) in an ellipse of half-axes a, b (Boussinesq 1868,
    J. Math. Pures Appl. 13, 377). With ovality o = (a - b)/((a + b)/2), h = (o/2)^2, and the
    wall's length kept: (1 - h)^3/((1 + h) S^4), S the perimeter over pi (a + b) by the
    complete elliptic integral. Exact for an ellipse; o from 0 to 1 (axes 3 to 1), else NaN.
    """
    from scipy.special import ellipe  # takes a fifth of a second

    o = np.where((ovality >= 0.0) & (ovality <= 1.0), ovality, np.nan)
    h = 0.25 * o * o
    long_half = 1.0 + 0.5 * o
    short_over_long = (1.0 - 0.5 * o) / long_half
    S = (2.0 / np.pi) * long_half * ellipe(1.0 - short_over_long * short_over_long)
    less = 1.0 - h
    conductance: Array = less * less * less / ((1.0 + h) * np.square(S * S))
    return conductance


def feed_resistance(
    pipe_bore: Array, burn_rate: Array, fuel_temperature: Array, fuel_water: Array
) -> tuple[Array, Array]:
    """Reynolds number of the feed, and fall of level in 1 mm of round pipe, mm.

    NaN for the fall where the Reynolds number is above 2000 or the burn rate negative.
    """
    density = fuel.density(fuel_temperature, fuel_water)
    viscosity = fuel.viscosity(fuel_temperature, fuel_water)
    return fall_of(pipe_bore, burn_rate, density, viscosity)


def fall_of(
    pipe_bore: Array, burn_rate: Array, density: Array, viscosity: Array
) -> tuple[Array, Array]:
    """Give what `feed_resistance` gives: of a fuel of some density, kg/m3, and viscosity, mPa s."""
    reynolds = reynolds_number(pipe_bore, burn_rate, density, viscosity)
    # As mm of fuel; what belongs to the pipe first, which has the fewest values.
    square = np.square(pipe_bore)
    of_pipe = laminar_pressure_drop(1000.0 / STANDARD_GRAVITY, 1.0, 1.0, 1.0) / (square * square)
    fall = of_pipe * (burn_rate * viscosity / density)
    return reynolds, within_laminar(reynolds, fall)


def within_laminar(reynolds: Array, fall: Array) -> Array:
    """Give the fall where the Reynolds number is from 0 to 2000, NaN elsewhere."""
    laminar = (reynolds >= 0.0) & (reynolds <= LAMINAR_LIMIT)
    kept: Array = fall if np.all(laminar) else np.where(laminar, fall, np.nan)
    return kept
