"""Functions with known answers, as models: the tests hand this file to ``--model-file``.

Each is named after what its source calls it; the answers stand in the tests. All arguments
are pure numbers unless the source gives units. Abbreviated below: statistics-sources is the
project's list of check values, each recomputed there on its own.
"""

from typing import Annotated, NamedTuple

import numpy as np

from models.arrays import Array


class Sum(NamedTuple):
    """Result of `weighted_sum`."""

    y: Annotated[Array, "", "weighted sum"]


class MassDeviation(NamedTuple):
    """Result of `mass_calibration`."""

    deviation: Annotated[Array, "mg", "deviation of the mass from its nominal value"]


class Loss(NamedTuple):
    """Result of `comparison_loss`."""

    loss: Annotated[Array, "", "comparison loss"]


class Value(NamedTuple):
    """Result of a function that has no better name for it."""

    value: Annotated[Array, "", "value of the function"]


class Margin(NamedTuple):
    """Result of a limit-state function: failure is below zero."""

    margin: Annotated[Array, "", "limit-state function, negative at failure"]


class Spare(NamedTuple):
    """Result of `axial_bar`."""

    spare: Annotated[Array, "MPa", "strength less stress, negative at failure"]


class Cantilever(NamedTuple):
    """Results of `cantilever`."""

    stress_margin: Annotated[Array, "", "yield strength less bending stress"]
    deflection: Annotated[Array, "", "deflection of the free end"]


class SumThrice(NamedTuple):
    """Results of `sum_thrice`: the same three times."""

    y: Annotated[Array, "", "the sum"]
    again: Annotated[Array, "", "the sum again"]
    once_more: Annotated[Array, "", "and once more"]


class LineAndConstant(NamedTuple):
    """Results of `line_and_constant`."""

    line: Annotated[Array, "", "the argument again"]
    constant: Annotated[Array, "", "the same whatever the argument"]


def weighted_sum(
    x1: Annotated[Array, "", "first term"] = 0.0,
    x2: Annotated[Array, "", "second term"] = 0.0,
    x3: Annotated[Array, "", "third term"] = 0.0,
    x4: Annotated[Array, "", "fourth term"] = 0.0,
    x5: Annotated[Array, "", "fifth term"] = 0.0,
    c1: Annotated[Array, "", "weight of the first"] = 1.0,
    c2: Annotated[Array, "", "weight of the second"] = 1.0,
    c3: Annotated[Array, "", "weight of the third"] = 1.0,
    c4: Annotated[Array, "", "weight of the fourth"] = 1.0,
) -> Sum:
    """Sum of c_i x_i: the additive model of JCGM 101:2008, 9.2.1 where all c_i are 1."""
    return Sum(c1 * x1 + c2 * x2 + c3 * x3 + c4 * x4 + x5)


def sum_thrice(
    x1: Annotated[Array, "", "first term"] = 0.0,
    x2: Annotated[Array, "", "second term"] = 0.0,
    x3: Annotated[Array, "", "third term"] = 0.0,
    x4: Annotated[Array, "", "fourth term"] = 0.0,
    x5: Annotated[Array, "", "fifth term"] = 0.0,
) -> SumThrice:
    """Sum of x_i three times over, so that one run can have three limits on it."""
    total = x1 + x2 + x3 + x4 + x5
    return SumThrice(total, total, total)


def mass_calibration(
    reference_mass: Annotated[Array, "mg", "conventional mass of the reference weight"] = 100_000.0,
    added_mass: Annotated[Array, "mg", "small weight added for balance"] = 1.234,
    air_density: Annotated[Array, "kg/m3", "density of the air", "> 0"] = 1.20,
    weight_density: Annotated[Array, "kg/m3", "density of the weight", "> 0"] = 8000.0,
    reference_density: Annotated[Array, "kg/m3", "density of the reference", "> 0"] = 8000.0,
) -> MassDeviation:
    """(m_R + dm_R) (1 + (a - 1.2) (1/r_W - 1/r_R)) - m_nom, JCGM 101:2008, 9.3.1."""
    buoyancy = (air_density - 1.2) * (1.0 / weight_density - 1.0 / reference_density)
    return MassDeviation((reference_mass + added_mass) * (1.0 + buoyancy) - 100_000.0)


def comparison_loss(
    x1: Annotated[Array, "", "real part of the reflection term"] = 0.0,
    x2: Annotated[Array, "", "imaginary part of the reflection term"] = 0.0,
) -> Loss:
    """X1^2 + X2^2, the comparison loss of a power meter: JCGM 101:2008, 9.4.1."""
    return Loss(x1**2 + x2**2)


def ishigami(
    x1: Annotated[Array, "", "first angle"] = 0.0,
    x2: Annotated[Array, "", "second angle"] = 0.0,
    x3: Annotated[Array, "", "third angle"] = 0.0,
) -> Value:
    """Sin x1 + 7 sin^2 x2 + 0.1 x3^4 sin x1: Ishigami and Homma 1990."""
    return Value(np.sin(x1) + 7.0 * np.sin(x2) ** 2 + 0.1 * x3**4 * np.sin(x1))


def g_function(
    x1: Annotated[Array, "", "first factor's place", "0..1"] = 0.75,
    x2: Annotated[Array, "", "second factor's place", "0..1"] = 0.75,
    x3: Annotated[Array, "", "third factor's place", "0..1"] = 0.75,
    x4: Annotated[Array, "", "fourth factor's place", "0..1"] = 0.75,
    x5: Annotated[Array, "", "fifth factor's place", "0..1"] = 0.75,
    x6: Annotated[Array, "", "sixth factor's place", "0..1"] = 0.75,
    x7: Annotated[Array, "", "seventh factor's place", "0..1"] = 0.75,
    x8: Annotated[Array, "", "eighth factor's place", "0..1"] = 0.75,
    a1: Annotated[Array, "", "what damps the first"] = 0.0,
    a2: Annotated[Array, "", "what damps the second"] = 1.0,
    a3: Annotated[Array, "", "what damps the third"] = 4.5,
    a4: Annotated[Array, "", "what damps the fourth"] = 9.0,
) -> Value:
    """Product of (|4 x_i - 2| + a_i)/(1 + a_i), a_5 to a_8 = 99: Saltelli and Sobol' 1995.

    A factor held at x = 0.75 is 1, which takes it out.
    """
    places, damping = (x1, x2, x3, x4, x5, x6, x7, x8), (a1, a2, a3, a4, *4 * (99.0,))
    product: Array = 1.0
    for x, a in zip(places, damping, strict=True):
        product = product * (np.abs(4.0 * x - 2.0) + a) / (1.0 + a)
    return Value(product)


def bratley(
    x1: Annotated[Array, "", "first", "0..1"] = 0.5,
    x2: Annotated[Array, "", "second", "0..1"] = 0.5,
    x3: Annotated[Array, "", "third", "0..1"] = 0.5,
    x4: Annotated[Array, "", "fourth", "0..1"] = 0.5,
    x5: Annotated[Array, "", "fifth", "0..1"] = 0.5,
    x6: Annotated[Array, "", "sixth", "0..1"] = 0.5,
) -> Value:
    """Sum over i of (-1)^i x1 ... x_i, six arguments: Bratley, Fox and Niederreiter 1992."""
    product: Array = -1.0
    total: Array = 0.0
    for x in (x1, x2, x3, x4, x5, x6):
        product = product * x
        total = total + product
        product = -product
    return Value(total)


def product_of_two(
    x1: Annotated[Array, "", "one factor"] = 1.0,
    x2: Annotated[Array, "", "the other factor"] = 2.0,
) -> Value:
    """X1 X2."""
    return Value(x1 * x2)


def reciprocal(x: Annotated[Array, "", "divisor"] = 1.0) -> Value:
    """1/x: its variance does not exist where x has a density at zero."""
    return Value(1.0 / np.asarray(x))


def line_and_constant(x: Annotated[Array, "", "argument"] = 1.0) -> LineAndConstant:
    """Return x, and 3."""
    return LineAndConstant(x, 3.0 + 0.0 * x)


def axial_bar(
    strength: Annotated[Array, "MPa", "yield strength", "> 0"] = 300.0,
    force: Annotated[Array, "N", "axial force"] = 75_000.0,
) -> Spare:
    """R - F/(100 pi): a bar of 20 mm diameter in tension (statistics-sources 3)."""
    return Spare(strength - force / (100.0 * np.pi))


def four_branch(
    x1: Annotated[Array, "", "standard normal"] = 0.0,
    x2: Annotated[Array, "", "standard normal"] = 0.0,
    k: Annotated[Array, "", "distance of two branches"] = 6.0,
) -> Margin:
    """Series system of four branches: Waarts 2000; Schueremans and Van Gemert 2005."""
    curved = 3.0 + 0.1 * (x1 - x2) ** 2
    along = (x1 + x2) / np.sqrt(2.0)
    straight = k / np.sqrt(2.0) - np.abs(x1 - x2)
    return Margin(np.minimum(curved - np.abs(along), straight))


def rp22(
    x1: Annotated[Array, "", "standard normal"] = 0.0,
    x2: Annotated[Array, "", "standard normal"] = 0.0,
) -> Margin:
    """2.5 - (x1 + x2)/sqrt 2 + 0.1 (x1 - x2)^2: RP22 of Rozsas and Slobbe 2019 (from memory)."""
    return Margin(2.5 - (x1 + x2) / np.sqrt(2.0) + 0.1 * (x1 - x2) ** 2)


def cantilever(
    strength: Annotated[Array, "", "yield strength, psi"] = 40_000.0,
    modulus: Annotated[Array, "", "Young's modulus, psi", "> 0"] = 2.9e7,
    sideways: Annotated[Array, "", "horizontal load, lbf"] = 500.0,
    downward: Annotated[Array, "", "vertical load, lbf"] = 1000.0,
) -> Cantilever:
    """Cantilever of length 100 in under two loads at its end: Wu, Shin, Sues, Cesare 2001.

    Width 2.4484 in, thickness 3.8884 in; stress 600 Y/(w t^2) + 600 X/(w^2 t), deflection
    4 L^3/(E w t) sqrt((Y/t^2)^2 + (X/w^2)^2). The source's own units, so pure numbers here.
    """
    length, w, t = 100.0, 2.4484, 3.8884
    stress = 600.0 * downward / (w * t**2) + 600.0 * sideways / (w**2 * t)
    bent = np.sqrt((downward / t**2) ** 2 + (sideways / w**2) ** 2)
    return Cantilever(strength - stress, 4.0 * length**3 / (modulus * w * t) * bent)


class Two(NamedTuple):
    """Results of `two_magnitudes`."""

    first: Annotated[Array, "", "magnitude of the first"]
    second: Annotated[Array, "", "magnitude of the second"]


def two_magnitudes(
    x1: Annotated[Array, "", "first"] = 0.0,
    x2: Annotated[Array, "", "second"] = 0.0,
) -> Two:
    """|x1| and |x2|: limits on both make a rectangle of the plane."""
    return Two(np.abs(x1), np.abs(x2))


def hill(
    x1: Annotated[Array, "", "first"] = 0.0,
    x2: Annotated[Array, "", "second"] = 0.0,
) -> Value:
    """1 - (x1 - 0.3)^2 - 2 (x2 + 0.2)^2: its top, 1, lies at (0.3, -0.2)."""
    return Value(1.0 - (x1 - 0.3) ** 2 - 2.0 * (x2 + 0.2) ** 2)


def ridge(
    x1: Annotated[Array, "", "first"] = 0.0,
    x2: Annotated[Array, "", "second"] = 0.0,
) -> Value:
    """- (x1 - 0.7)^2 - 100 (x1 - x2)^2: a narrow ridge across the axes, its top 0."""
    return Value(-((x1 - 0.7) ** 2) - 100.0 * (x1 - x2) ** 2)


def waves(
    x1: Annotated[Array, "", "first"] = 0.0,
    x2: Annotated[Array, "", "second"] = 0.0,
) -> Value:
    """Sin(11 x1) + sin(13 x2) + 0.4 x1 x2: several hills in a unit box, of unlike heights."""
    return Value(np.sin(11.0 * x1) + np.sin(13.0 * x2) + 0.4 * x1 * x2)


class Length(NamedTuple):
    """Result of `length`."""

    reach: Annotated[Array, "mm", "the length again"]


class LengthInMetres(NamedTuple):
    """Result of `length_in_metres`."""

    reach: Annotated[Array, "m", "the length again"]


def length(bar: Annotated[Array, "mm", "length of a bar", "> 0"] = 10.0) -> Length:
    """Return a length in mm, to carry a tolerance class."""
    return Length(bar)


def length_in_metres(bar: Annotated[Array, "m", "length of a bar", "> 0"] = 0.01) -> LengthInMetres:
    """Return a length in m."""
    return LengthInMetres(bar)
