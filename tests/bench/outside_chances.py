"""Chances of failure of the problems of two outside collections, found by other ways than ours.

A closed form where there is one, else along lines: all inputs but one drawn (with two inputs: by a
Gauss rule), the chance of the last between the roots of the function exact. Each comes with how
sure it is, so that what a collection lists can itself be judged.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from outside_problems import Problem, Reference
from scipy import stats
from scipy.special import ndtr, ndtri

Floats = NDArray[np.float64]


def chance(problem: Problem) -> Reference:
    """Chance of failure by a closed form, or along lines."""
    if problem.name in CHANCES:
        value, relative, way = CHANCES[problem.name]()
        return Reference(np.array([value]), np.array([relative * value]), way)
    found = by_lines(problem)
    return found if found.sure[0] < 0.02 * found.values[0] else by_sampling(problem)


def by_sampling(problem: Problem, rows: int = 4_000_000) -> Reference:
    """Chance of failure by plain sampling."""
    generator, failed, block = np.random.default_rng(7), 0, 100_000
    for _ in range(rows // block):
        z = generator.standard_normal((block, problem.inputs))
        failed += int(np.sum(problem.function(z) < 0.0))
    share = failed / rows
    half = 1.96 * np.sqrt(max(share, 1.0 / rows) / rows)
    return Reference(np.array([share]), np.array([half]), "plain sampling")


def by_lines(problem: Problem) -> Reference:
    """Chance of failure as a mean of chances along one input, that which failing follows most.

    Roots are halved to 1e-9 between points of a grid; a lobe narrower than its step may be missed.
    Of more inputs than two the others are drawn half as wide again, and weighted for it.
    """
    along = _most_followed(problem)
    if problem.inputs == 2:
        means = [_of_two(problem, along, panels) for panels in (300, 397)]
        sure = abs(means[1] - means[0]) + 1e-6 * means[1]
        return Reference(np.array(means[1:]), np.array([sure]), "lines")
    runs = []
    for seed in range(16):
        u = stats.qmc.Sobol(problem.inputs - 1, rng=seed).random(1024)
        others = 1.5 * ndtri(u)
        weights = np.prod(1.5 * np.exp(-0.5 * others**2 * (1.0 - 1.5**-2)), axis=1)
        runs.append(float((weights * _along(problem, others, along, 61)).mean()))
    half = float(stats.t.ppf(0.975, 15)) * np.std(runs, ddof=1) / 4.0
    return Reference(np.array([np.mean(runs)]), np.array([half]), "lines")


def _of_two(problem: Problem, along: int, panels: int) -> float:
    nodes, weights = np.polynomial.legendre.leggauss(4)
    edges = np.linspace(-8.5, 8.5, panels + 1)
    middle, half = 0.5 * (edges[1:] + edges[:-1]), 0.5 * np.diff(edges)
    other = (middle[:, None] + half[:, None] * nodes).ravel()
    weight = (half[:, None] * weights).ravel() * stats.norm.pdf(other)
    return float(weight @ _along(problem, other[:, None], along, 241))


def _most_followed(problem: Problem) -> int:
    z = np.random.default_rng(5).standard_normal((8192, problem.inputs))
    lowest = np.argsort(problem.function(z))[:80]
    return int(np.argmax(np.mean(z[lowest] ** 2, axis=0)))


def _along(problem: Problem, others: Floats, along: int, count: int) -> Floats:
    """Chance of failure along one input at each row of the others, by so many points of it."""
    steps = np.linspace(-9.0, 9.0, count)

    def fails(rows: NDArray[np.intp], places: Floats) -> NDArray[np.bool_]:
        return problem.function(np.insert(others[rows], along, places, axis=1)) < 0.0

    rows = np.repeat(np.arange(len(others)), steps.size)
    states = fails(rows, np.tile(steps, len(others))).reshape(len(others), -1)
    row, step = np.nonzero(states[:, 1:] != states[:, :-1])
    low, high, state = steps[step], steps[step + 1], states[row, step]
    for _ in range(28):
        middle = 0.5 * (low + high)
        same = fails(row, middle) == state
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    # Where failing ends its chance is added, where it begins it is taken off.
    signed = np.where(state, 1.0, -1.0) * ndtr(0.5 * (low + high))
    return np.bincount(row, signed, minlength=len(others)) + states[:, -1]


def _gauss(low: float, high: float, panels: int = 400) -> tuple[Floats, Floats]:
    nodes, weights = np.polynomial.legendre.leggauss(8)
    edges = np.linspace(low, high, panels + 1)
    middle, half = 0.5 * (edges[1:] + edges[:-1]), 0.5 * np.diff(edges)
    return (middle[:, None] + half[:, None] * nodes).ravel(), (half[:, None] * weights).ravel()


def _hundred() -> tuple[float, float, str]:
    x, weight = _gauss(-4.5, 9.0)
    return (
        float(weight @ (stats.norm.pdf(x) * stats.chi2.cdf(10.0 * (x + 4.5), 99))),
        1e-6,
        "chi-square of 99 and one integral",
    )


def _three_bars() -> tuple[float, float, str]:
    """Problem 60: five lognormal inputs, independent given the load x5."""
    t, weight = _gauss(1.0, 9000.0, 2000)

    def law(mean: float, deviation: float) -> object:
        spread = np.sqrt(np.log1p((deviation / mean) ** 2))
        return stats.lognorm(spread, scale=mean * np.exp(-0.5 * spread**2))

    first, *others = (law(m, s) for m, s in ((2200, 220), (2100, 210), (2300, 230), (2000, 200)))
    a2, a3, a4 = (each.sf(0.5 * t) for each in others)
    b2, b3, b4 = (each.sf(t) for each in others)
    holds = b4 + (1.0 - b4) * b2 * b3 + (a4 - b4) * (a2 * a3 - b2 * b3)
    fails = 1.0 - first.sf(t) * holds
    return float(weight @ (law(1200, 480).pdf(t) * fails)), 1e-6, "one integral"


def _two_branches() -> tuple[float, float, str]:
    """Problem 77: given x3, a normal distribution on either branch."""
    low, weight_low = _gauss(-9.0, 5.0)
    high, weight_high = _gauss(5.0, 14.0)
    one = stats.norm.pdf(low, 4.0) * stats.norm.cdf(-(10.0 - low) / np.sqrt(1.25))
    other = stats.norm.pdf(high, 4.0) * stats.norm.sf(high)
    return float(weight_low @ one + weight_high @ other), 1e-6, "one integral"


def _two_steps() -> tuple[float, float, str]:
    """Problem 110: x1 fails above 4, x2 above 5, each alone (below the steps neither can)."""
    # 0.85 - 0.1 x1 is positive up to 3.5 and 2.3 - x2 up to 2; 0.5 - 0.1 x2 is not above 5.
    one, other = float(stats.norm.sf(4.0)), float(stats.norm.sf(5.0))
    return one + other - one * other, 1e-9, "closed form"


def _plane_and_axis() -> tuple[float, float, str]:
    """Problem 33: two planes at distance 3 whose normals have the correlation 1/sqrt 3."""
    x, weight = _gauss(-9.0, 3.0)
    # P(A or B) = Phi(-3) + P(B, not A).
    rho = 1.0 / np.sqrt(3.0)
    both = weight @ (stats.norm.pdf(x) * stats.norm.cdf((-3.0 + rho * x) / np.sqrt(1.0 - rho**2)))
    return float(stats.norm.cdf(-3.0) + both), 1e-9, "bivariate normal"


def _six_lognormal() -> tuple[float, float, str]:
    """Problem 8: a sum of six lognormal inputs, their densities folded on a grid of 0.02."""
    step, count = 0.02, 1 << 18
    edges = np.arange(count + 1) * step - 0.5 * step

    def masses(mean: float, deviation: float, factor: float) -> Floats:
        spread = np.sqrt(np.log1p((deviation / mean) ** 2))
        scale = factor * mean * np.exp(-0.5 * spread**2)
        return np.diff(stats.lognorm.cdf(edges, spread, scale=scale))

    size = 2 * count
    good = np.ones(size // 2 + 1, dtype=np.complex128)
    bad = good.copy()
    for factor in (1.0, 2.0, 2.0, 1.0):
        good *= np.fft.rfft(masses(120.0, 12.0, factor), size)
    for mean, deviation in ((50.0, 10.0), (40.0, 8.0)):
        bad *= np.fft.rfft(masses(mean, deviation, 5.0), size)
    good_mass, bad_mass = np.fft.irfft(good, size), np.fft.irfft(bad, size)
    below = np.cumsum(good_mass) - 0.5 * good_mass
    return float(bad_mass @ below), 1e-4, "densities folded"


CHANCES: dict[str, Callable[[], tuple[float, float, str]]] = {
    "ReliabilityProblem107": lambda: (float(stats.norm.cdf(-5.0)), 1e-9, "Phi(-5)"),
    "ReliabilityProblem110": _two_steps,
    "ReliabilityProblem33": _plane_and_axis,
    "ReliabilityProblem54": lambda: (
        float(stats.gamma.cdf(8.951, 20)),
        1e-9,
        "gamma distribution of 20",
    ),
    "ReliabilityProblem60": _three_bars,
    "ReliabilityProblem63": _hundred,
    "ReliabilityProblem77": _two_branches,
    "ReliabilityProblem8": _six_lognormal,
}
