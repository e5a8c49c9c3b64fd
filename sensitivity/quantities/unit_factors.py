"""What each unit is in metres, kilograms, seconds, kelvins, moles and amperes: exact ratios.

pint is the authority: ``tests/test_unit_factors.py`` holds every pair of these, and what is built
from them, to it. It stands here because pint takes half a second to import and to read its own
table, which every command would wait for.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

Dimensions = tuple[int, int, int, int, int, int]
"""Powers of length, mass, time, temperature, amount and current."""

NONE: Dimensions = (0, 0, 0, 0, 0, 0)
LENGTH: Dimensions = (1, 0, 0, 0, 0, 0)
VOLUME: Dimensions = (3, 0, 0, 0, 0, 0)
MASS: Dimensions = (0, 1, 0, 0, 0, 0)
TIME: Dimensions = (0, 0, 1, 0, 0, 0)
RATE: Dimensions = (0, 0, -1, 0, 0, 0)
TEMPERATURE: Dimensions = (0, 0, 0, 1, 0, 0)
AMOUNT: Dimensions = (0, 0, 0, 0, 1, 0)
CURRENT: Dimensions = (0, 0, 0, 0, 0, 1)
FORCE: Dimensions = (1, 1, -2, 0, 0, 0)
PRESSURE: Dimensions = (-1, 1, -2, 0, 0, 0)
ENERGY: Dimensions = (2, 1, -2, 0, 0, 0)
POWER: Dimensions = (2, 1, -3, 0, 0, 0)
VOLTAGE: Dimensions = (2, 1, -3, 0, 0, -1)
RESISTANCE: Dimensions = (2, 1, -3, 0, 0, -2)

# By pint's names. An inch is 25.4 mm and a pound 0.45359237 kg, exactly, since 1959; a psi is that
# pound under 9.80665 m/s2 on a square inch. Conventional water: NIST SP 811. Angles in turns of pi.
FACTORS: dict[str, tuple[str, Dimensions]] = {
    "dimensionless": ("1", NONE),
    "percent": ("1/100", NONE),
    "nanometer": ("1e-9", LENGTH),
    "micrometer": ("1e-6", LENGTH),
    "millimeter": ("1e-3", LENGTH),
    "centimeter": ("1e-2", LENGTH),
    "meter": ("1", LENGTH),
    "inch": ("0.0254", LENGTH),
    "thou": ("0.0000254", LENGTH),
    "foot": ("0.3048", LENGTH),
    "degree": ("1/180", NONE),
    "arcminute": ("1/10800", NONE),
    "arcsecond": ("1/648000", NONE),
    "radian": ("1", NONE),
    "milliradian": ("1e-3", NONE),
    "kelvin": ("1", TEMPERATURE),
    "degree_Celsius": ("1", TEMPERATURE),
    "degree_Fahrenheit": ("5/9", TEMPERATURE),
    "milliliter": ("1e-6", VOLUME),
    "liter": ("1e-3", VOLUME),
    "microgram": ("1e-9", MASS),
    "milligram": ("1e-6", MASS),
    "gram": ("1e-3", MASS),
    "kilogram": ("1", MASS),
    "ounce": ("0.028349523125", MASS),
    "pound": ("0.45359237", MASS),
    "millisecond": ("1e-3", TIME),
    "second": ("1", TIME),
    "minute": ("60", TIME),
    "hour": ("3600", TIME),
    "hertz": ("1", RATE),
    "turn_per_minute": ("1/60", RATE),
    "newton": ("1", FORCE),
    "millinewton": ("1e-3", FORCE),
    "millipascal": ("1e-3", PRESSURE),
    "pascal": ("1", PRESSURE),
    "hectopascal": ("100", PRESSURE),
    "kilopascal": ("1000", PRESSURE),
    "megapascal": ("1e6", PRESSURE),
    "gigapascal": ("1e9", PRESSURE),
    "millibar": ("100", PRESSURE),
    "bar": ("1e5", PRESSURE),
    "psi": ("8896443230521/1290320000", PRESSURE),
    "standard_atmosphere": ("101325", PRESSURE),
    "millimetre_of_water": ("9.80665", PRESSURE),
    "inch_H2O_39F": ("249.08891", PRESSURE),
    "joule": ("1", ENERGY),
    "kilojoule": ("1000", ENERGY),
    "megajoule": ("1e6", ENERGY),
    "milliwatt": ("1e-3", POWER),
    "watt": ("1", POWER),
    "kilowatt": ("1000", POWER),
    "mole": ("1", AMOUNT),
    "ampere": ("1", CURRENT),
    "volt": ("1", VOLTAGE),
    "ohm": ("1", RESISTANCE),
}

OF_PI = {"degree", "arcminute", "arcsecond"}

ZEROS: dict[str, Fraction] = {
    "kelvin": Fraction(0),
    "degree_Celsius": Fraction("273.15"),
    "degree_Fahrenheit": Fraction("459.67") * Fraction(5, 9),
}
"""Where each temperature's zero stands, in kelvins."""


@dataclass(frozen=True, slots=True)
class Size:
    """How large a unit is: ``ratio`` times pi to the power ``of_pi``, and of which dimensions."""

    ratio: Fraction
    of_pi: int
    dimensions: Dimensions


def size_of(factors: Iterable[tuple[str, int]]) -> Size:
    """Size of a product of units, by pint's names and powers; a temperature's is its step."""
    ratio, of_pi = Fraction(1), 0
    dimensions = [0] * len(NONE)
    for name, power in factors:
        text, own = FACTORS[name]
        ratio *= Fraction(text) ** power
        of_pi += power if name in OF_PI else 0
        for place, each in enumerate(own):
            dimensions[place] += power * each
    a, b, c, d, e, f = dimensions
    return Size(ratio, of_pi, (a, b, c, d, e, f))


def factor_between(have: Size, want: Size) -> float | None:
    """How many of the one unit make one of the other; None where they do not measure the same."""
    if have.dimensions != want.dimensions:
        return None
    ratio, power = have.ratio / want.ratio, have.of_pi - want.of_pi
    if not power:
        return float(ratio)
    return ratio.numerator * math.pi**power / ratio.denominator


def temperature_between(have: str, want: str) -> tuple[float, float]:
    """Factor and offset from one temperature, by pint's name, to another."""
    slope, other = Fraction(FACTORS[have][0]), Fraction(FACTORS[want][0])
    return float(slope / other), float((ZEROS[have] - ZEROS[want]) / other)
