"""Formulas that the two collections state, on arrays, where their own functions are too slow.

Each takes ``(n, inputs)`` of independent standard normals to ``(n,)``. ``outside_suites`` prints
how far each is from the collection's own function at a few points; those of problems 77 and 110
cannot be compared, as the collection's text of them is no longer read by its parser.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr, ndtr

Floats = NDArray[np.float64]

DIRICHLET = (1 / 2, 1 / 3, 1 / 4)
G_FUNCTION = (0.0, 9.0, 99.0)


def sum_of_ten(z: Floats) -> Floats:
    """Problem 107: 5 sqrt(10) less the sum of ten standard normals."""
    return 5.0 * np.sqrt(10.0) - z.sum(axis=1)


def sum_of_twenty(z: Floats) -> Floats:
    """Problem 54: the sum of twenty exponentials of rate 1, less 8.951."""
    return -log_ndtr(-z).sum(axis=1) - 8.951


def hundred(z: Floats) -> Floats:
    """Problem 63: a tenth of the squares of 99 standard normals, less another, less 4.5."""
    rest = z[:, 1:]
    return 0.1 * np.einsum("ij,ij->i", rest, rest) - z[:, 0] - 4.5


def two_branches(z: Floats) -> Floats:
    """Problem 77: x1 - x2 - x3 where x3 is at most 5, else x3 - x2."""
    x1, x2, x3 = 10.0 + 0.5 * z[:, 0], z[:, 1], 4.0 + z[:, 2]
    return np.where(x3 <= 5.0, x1 - x2 - x3, x3 - x2)


def two_steps(z: Floats) -> Floats:
    """Problem 110: the lesser of two functions, each in two pieces of one input."""
    one = np.where(z[:, 0] <= 3.5, 0.85 - 0.1 * z[:, 0], 4.0 - z[:, 0])
    other = np.where(z[:, 1] <= 2.0, 2.3 - z[:, 1], 0.5 - 0.1 * z[:, 1])
    return np.minimum(one, other)


def dirichlet(z: Floats) -> Floats:
    """Product of 1 + alpha_i times a Dirichlet kernel of i + 1 terms, scaled to variance 1."""
    u = ndtr(z)
    found = np.ones(len(z))
    for i, alpha in enumerate(DIRICHLET):
        factor = 2.0 * (i + 1) + 1.0
        kernel = np.sin(factor * np.pi * u[:, i]) / np.sin(np.pi * u[:, i])
        found *= 1.0 + alpha * (kernel - 1.0) / np.sqrt(2.0 * (i + 1))
    return found


def g_function(z: Floats) -> Floats:
    """Product of (abs(4 u_i - 2) + a_i)/(1 + a_i)."""
    a = np.array(G_FUNCTION)
    return np.prod((np.abs(4.0 * ndtr(z) - 2.0) + a) / (1.0 + a), axis=1)


def borehole(z: Floats) -> Floats:
    """Water through a borehole, m^3 a year; no answer at a radius that is not positive."""
    u = ndtr(z)
    radius, reach = 0.1 + 0.0161812 * z[:, 0], np.exp(7.71 + 1.0056 * z[:, 1])
    ends = ((63070.0, 115600.0), (990.0, 1110.0), (63.1, 116.0), (700.0, 820.0))
    upper, head_upper, lower, head_lower = (
        low + (high - low) * u[:, 2 + i] for i, (low, high) in enumerate(ends)
    )
    length, conductivity = 1120.0 + 560.0 * u[:, 6], 9855.0 + 2190.0 * u[:, 7]
    logarithm = np.log(reach / np.where(radius > 0.0, radius, np.nan))
    leak = 2.0 * length * upper / (logarithm * radius**2 * conductivity)
    flow = 2.0 * np.pi * upper * (head_upper - head_lower)
    return flow / (logarithm * (1.0 + leak + upper / lower))


def oscillator(z: Floats) -> Floats:
    """Force that two coupled oscillators leave of a spring's strength (Der Kiureghian 1991)."""
    means = np.array([21.5, 1.5, 0.01, 1.0, 0.01, 0.05, 0.02, 100.0])
    spreads = np.sqrt(np.log1p(np.array([0.1, 0.1, 0.1, 0.2, 0.2, 0.4, 0.5, 0.1]) ** 2))
    fs, mp, ms, kp, ks, xip, xis, s0 = (means * np.exp(spreads * (z - 0.5 * spreads))).T
    omega_p, omega_s = np.sqrt(kp / mp), np.sqrt(ks / ms)
    omega, xi, gamma = 0.5 * (omega_p + omega_s), 0.5 * (xip + xis), ms / mp
    theta = (omega_p - omega_s) / omega
    one = np.pi * s0 / (4.0 * xis * omega_s**3)
    two = xi * xis / (xip * xis * (4.0 * xi**2 + theta**2) + gamma * xi**2)
    three = (xip * omega_p**3 + xis * omega_s**3) * omega_p / (4.0 * xi * omega**4)
    return fs - 3.0 * ks * np.sqrt(one * two * three)


def product(z: Floats) -> Floats:
    """Product of standard normals."""
    return z.prod(axis=1)


def sum_and_one(z: Floats) -> Floats:
    """Sum of standard normals and 1."""
    return 1.0 + z.sum(axis=1)


@cache
def oakley() -> tuple[Floats, Floats, Floats, Floats]:
    """Coefficients of the problem of fifteen normals, as its collection has them: M, a1, a2, a3."""
    import otbenchmark

    blank = object.__new__(otbenchmark.OakleyOHaganSensitivity)
    found = [np.asarray(each) for each in blank._getParameters()]
    return found[0], found[1].ravel(), found[2].ravel(), found[3].ravel()


def quadratic_and_waves(z: Floats) -> Floats:
    """x'Mx + a1'x + a2'sin(x) + a3'cos(x) of fifteen standard normals."""
    matrix, a1, a2, a3 = oakley()
    bent = np.einsum("ij,ij->i", z @ matrix, z)
    return bent + z @ a1 + np.sin(z) @ a2 + np.cos(z) @ a3


@cache
def morris() -> tuple[Floats, float]:
    """First-order coefficients (20,) of Morris's function as coded, and its one of second order.

    The collection's tables of higher order are made by repeating one row, so that every row of
    second order is the last one written: each pair has the first number of its last table.
    """
    import otbenchmark

    blank = object.__new__(otbenchmark.MorrisSensitivity)
    _, alpha, _, gamma = blank._get_parameters()
    return np.array([20.0] * 10 + list(alpha)), float(gamma[0])


def morris_terms(u: Floats) -> Floats:
    """Take shares (n, 20) to the w (n, 20) of Morris's function."""
    w = 2.0 * (u - 0.5)
    for k in (2, 4, 6):
        w[:, k] = 2.0 * (1.1 * u[:, k] / (u[:, k] + 0.1) - 0.5)
    return w


def morris_as_coded(z: Floats) -> Floats:
    """Morris's function of 20 inputs, as the collection has it (see ``morris``).

    b'w + c e2(w_1..w_20) - 10 e3(w_1..w_5) + 5 w_1 w_2 w_3 w_4, with e2 and e3 the elementary
    symmetric sums, found from the sums of powers.
    """
    b, c = morris()
    w = morris_terms(ndtr(z))
    one, two = w.sum(axis=1), np.einsum("ij,ij->i", w, w)
    five = w[:, :5]
    p1, p2, p3 = (np.sum(five**k, axis=1) for k in (1, 2, 3))
    triples = (p1**3 - 3.0 * p1 * p2 + 2.0 * p3) / 6.0
    return w @ b + 0.5 * c * (one**2 - two) - 10.0 * triples + 5.0 * w[:, :4].prod(axis=1)


def solar_cell(z: Floats) -> Floats:
    """Greatest power of the single-diode cell of the collection, W.

    With the diode's voltage for the unknown, current and power are explicit; the top is where
    the derivative of the power by it is nought, found by halving.
    """
    u = ndtr(z)
    short = 0.05989 + (0.23958 - 0.05989) * u[:, 0]
    saturation = np.exp(np.log(2.2e-11) + np.log(1e4) * u[:, 1])
    thermal = (1.0 + u[:, 2]) * 0.02585
    series = 0.16625 + (0.66500 - 0.16625) * u[:, 3]
    shunt = 93.75 + (375.00 - 93.75) * u[:, 4]
    light = short + saturation * np.expm1(short * series / thermal) + short * series / shunt

    def of(diode: Floats) -> tuple[Floats, Floats]:
        grown = saturation * np.exp(diode / thermal)
        current = light - grown + saturation - diode / shunt
        slope = -grown / thermal - 1.0 / shunt
        voltage = diode - current * series
        return voltage * current, (1.0 - series * slope) * current + voltage * slope

    low, high = np.zeros(len(z)), thermal * np.log1p(light / saturation)
    for _ in range(44):
        middle = 0.5 * (low + high)
        rising = of(middle)[1] > 0.0
        low, high = np.where(rising, middle, low), np.where(rising, high, middle)
    return of(0.5 * (low + high))[0]


FORMULAS: dict[str, Callable[[Floats], Floats]] = {
    "BoreholeSensitivity": borehole,
    "DirichletSensitivity": dirichlet,
    "GSobolSensitivity": g_function,
    "GaussianProductSensitivity": product,
    "GaussianSumSensitivity": sum_and_one,
    "MorrisSensitivity": morris_as_coded,
    "NLOscillatorSensitivity": oscillator,
    "OakleyOHaganSensitivity": quadratic_and_waves,
    "ReliabilityProblem107": sum_of_ten,
    "ReliabilityProblem110": two_steps,
    "ReliabilityProblem54": sum_of_twenty,
    "ReliabilityProblem63": hundred,
    "ReliabilityProblem77": two_branches,
    "SolarCell": solar_cell,
}
