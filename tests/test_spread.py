"""Spreads against scipy.stats: quantile function, mean, standard deviation; and what holds of all.

Outside source throughout: scipy.stats' own distributions, parametrised from their documentation.
"""

import numpy as np
import pytest
from hypothesis import given
from scipy import stats

from sensitivity.spreads.altered import moved, narrowed
from sensitivity.spreads.spread import (
    bounded,
    empirical,
    lognormal,
    mean,
    normal,
    quantile,
    standard_deviation,
)
from tests.strategies import probabilities, spreads

U = np.concatenate([[2.0**-31, 1e-6], np.linspace(0.001, 0.999, 201), [1 - 1e-6, 1 - 2.0**-31]])

# (name, spread, the same of scipy.stats): loc and scale of scipy are the low end and the width.
SHAPES = [
    ("normal", normal(12.3, 0.4), stats.norm(12.3, 0.4)),
    ("normal by its ends", bounded("normal", 11.0, 12.0, coverage=2.0), stats.norm(11.5, 0.25)),
    ("rectangular", bounded("rectangular", -1.0, 4.0), stats.uniform(-1.0, 5.0)),
    ("triangular", bounded("triangular", 2.0, 5.0), stats.triang(0.5, 2.0, 3.0)),
    ("leaning triangular", bounded("triangular", 2.0, 5.0, mode=2.6), stats.triang(0.2, 2.0, 3.0)),
    ("falling triangular", bounded("triangular", 2.0, 5.0, mode=2.0), stats.triang(0.0, 2.0, 3.0)),
    ("rising triangular", bounded("triangular", 2.0, 5.0, mode=5.0), stats.triang(1.0, 2.0, 3.0)),
    ("arcsine", bounded("arcsine", -2.0, 1.0), stats.arcsine(-2.0, 3.0)),
    (
        "trapezoidal",
        bounded("trapezoidal", 1.0, 3.0, flat=0.4),
        stats.trapezoid(0.3, 0.7, 1.0, 2.0),
    ),
    ("trapezoid of no top", bounded("trapezoidal", 1.0, 3.0), stats.triang(0.5, 1.0, 2.0)),
    ("trapezoid of no sides", bounded("trapezoidal", 1.0, 3.0, flat=1.0), stats.uniform(1.0, 2.0)),
    ("log-uniform", bounded("log_uniform", 0.5, 12.5), stats.loguniform(0.5, 12.5)),
    (
        "lognormal",
        lognormal(3.0, 0.12),
        stats.lognorm(np.sqrt(np.log(1 + 0.12**2)), scale=3.0),
    ),
]
IDS = [name for name, _, _ in SHAPES]


@pytest.mark.parametrize(("name", "spread", "reference"), SHAPES, ids=IDS)
def test_quantiles(name, spread, reference):
    assert quantile(spread, U) == pytest.approx(reference.ppf(U), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(("name", "spread", "reference"), SHAPES, ids=IDS)
def test_moments(name, spread, reference):
    assert mean(spread) == pytest.approx(reference.mean(), rel=1e-12)
    assert standard_deviation(spread) == pytest.approx(reference.std(), rel=1e-9)


@pytest.mark.parametrize("relative", [0.01, 0.12, 0.8])
def test_relative_deviation_of_a_lognormal_is_of_its_mean(relative):
    spread = lognormal(3.0, relative)
    assert standard_deviation(spread) / mean(spread) == pytest.approx(relative, rel=1e-12)
    assert quantile(spread, np.array([0.5]))[0] == pytest.approx(3.0)


def test_tolerance_box_is_the_stated_half_width():
    assert (normal(10.0, 0.1).low, normal(10.0, 0.1).high) == pytest.approx((9.7, 10.3))
    two = bounded("normal", 9.5, 10.5, coverage=2.0)
    assert (two.low, two.high) == pytest.approx((9.5, 10.5))
    assert standard_deviation(two) == pytest.approx(0.25)


def test_mode_outside_the_ends_is_not_taken():
    assert bounded("triangular", 2.0, 4.0, mode=9.0).centre == 3.0


# --- measured values ----------------------------------------------------------------------------

MEASURED = np.array([9.81, 9.93, 10.02, 10.04, 10.05, 10.11, 10.13, 10.2, 10.31, 10.42])
TWO_HEAPS = np.array([4.0, 4.1, 4.15, 4.2, 4.3, 7.0, 7.05, 7.1, 7.2, 7.25, 7.3])
SKEW = stats.lognorm(0.5).ppf((np.arange(40) + 0.5) / 40)


@pytest.mark.parametrize("values", [MEASURED, TWO_HEAPS, SKEW], ids=["one", "two heaps", "skew"])
def test_smoothing_keeps_mean_and_variance(values):
    spread = empirical(values)
    assert mean(spread) == pytest.approx(values.mean(), rel=1e-12)
    assert standard_deviation(spread) == pytest.approx(values.std(), rel=1e-12)
    # and so it does when sampled: midpoints of 2^16 equal shares of probability
    u = (np.arange(1 << 16) + 0.5) / (1 << 16)
    drawn = quantile(spread, u)
    assert drawn.mean() == pytest.approx(values.mean(), abs=1e-3 * values.std())
    assert drawn.std() == pytest.approx(values.std(), rel=2e-3)


@pytest.mark.parametrize("values", [MEASURED, SKEW], ids=["one", "skew"])
def test_smoothing_against_scipy_kernels(values):
    # Silverman 1986, eq. 3.31 (from memory), for the width; the shrinkage that keeps the variance.
    width = (
        0.9
        * min(values.std(ddof=1), (np.quantile(values, 0.75) - np.quantile(values, 0.25)) / 1.349)
        * values.size**-0.2
    )
    shrink = np.sqrt(values.var() / (values.var() + width**2))
    centres = values.mean() + shrink * (values - values.mean())
    kernels = stats.gaussian_kde(centres, bw_method=shrink * width / centres.std(ddof=1))
    for u in (0.01, 0.2, 0.5, 0.8, 0.99):
        at = quantile(empirical(values), np.array([u]))[0]
        assert kernels.integrate_box_1d(-np.inf, at) == pytest.approx(u, abs=2e-4)


def test_measured_values_in_any_order_are_the_same():
    assert empirical(MEASURED[::-1]) == empirical(MEASURED)


def test_quarters_that_coincide_still_smooth():
    values = np.array([5.0, 5.0, 5.0, 5.0, 5.0, 5.0, 5.3])
    spread = empirical(values)
    drawn = quantile(spread, U)
    assert np.isfinite(drawn).all()
    assert standard_deviation(spread) == pytest.approx(values.std())


# --- of every shape -----------------------------------------------------------------------------


@given(spreads(), probabilities())
def test_quantile_increases(spread, u):
    values = quantile(spread, np.array(u))
    assert values.shape == (len(u),)
    assert (np.diff(values) > 0).all()


@given(spreads(), probabilities())
def test_bounded_shapes_stay_inside_their_ends(spread, u):
    if spread.shape in {"normal", "lognormal", "empirical"}:
        return
    values = quantile(spread, np.array(u))
    room = 1e-12 * (abs(spread.low) + abs(spread.high))
    assert values.min() >= spread.low - room
    assert values.max() <= spread.high + room


@given(spreads())
def test_moments_are_those_of_the_quantile_function(spread):
    values = quantile(spread, (np.arange(1 << 14) + 0.5) / (1 << 14))  # midpoints of equal shares
    deviation = standard_deviation(spread)
    # What the last midpoint leaves out of a lognormal as wide as its mean is 1 % of its deviation.
    assert values.mean() == pytest.approx(mean(spread), abs=0.01 * deviation)
    assert values.std() == pytest.approx(deviation, rel=0.02)


@given(spreads())
def test_moved_and_narrowed(spread):
    u = np.array([0.1, 0.5, 0.9])
    if spread.shape not in {"lognormal", "log_uniform"}:
        assert quantile(moved(spread, 1.5), u) == pytest.approx(quantile(spread, u) + 1.5, abs=1e-6)
        half = narrowed(spread, 0.5, about=spread.centre)
        assert quantile(half, u) == pytest.approx(
            spread.centre + 0.5 * (quantile(spread, u) - spread.centre), abs=1e-6
        )
    assert standard_deviation(narrowed(spread, 1.0, about=spread.centre)) == pytest.approx(
        standard_deviation(spread), rel=1e-6
    )
