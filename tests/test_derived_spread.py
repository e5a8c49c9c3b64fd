"""Spreads made of another, against mixtures and changes of variable built with scipy.stats."""

import numpy as np
import pytest
from scipy import integrate, stats

from sensitivity.spreads.altered import moved, narrowed
from sensitivity.spreads.derived import TABLE, learnt, slipped, without_slip
from sensitivity.spreads.spread import (
    bounded,
    density,
    lognormal,
    mean,
    normal,
    quantile,
    share_below,
    standard_deviation,
    support,
)

BASES = [
    ("normal", normal(2.0, 0.5), stats.norm(2.0, 0.5)),
    ("rectangular", bounded("rectangular", 1.0, 3.0), stats.uniform(1.0, 2.0)),
    ("triangular", bounded("triangular", 0.0, 6.0, mode=2.0), stats.triang(1 / 3, 0.0, 6.0)),
]
IDS = [name for name, _, _ in BASES]
U = np.concatenate([[1e-9, 1e-5], np.linspace(0.003, 0.997, 101), [1 - 1e-5, 1 - 1e-9]])


@pytest.mark.parametrize(("name", "base", "reference"), BASES, ids=IDS)
def test_slipped_is_the_mixture(name, base, reference):
    """(1 - c) base + c uniform over five half-widths each way."""
    chance = 0.02
    spread = slipped(base, chance)
    half = 0.5 * (base.high - base.low)
    wide = stats.uniform(0.5 * (base.low + base.high) - 5 * half, 10 * half)
    x = np.linspace(wide.ppf(0), wide.ppf(1), 41)
    below = (1 - chance) * reference.cdf(x) + chance * wide.cdf(x)
    assert share_below(spread, x) == pytest.approx(below, abs=1e-12)
    pdf = (1 - chance) * reference.pdf(x) + chance * wide.pdf(x)
    assert density(spread, x) == pytest.approx(pdf, abs=1e-12)
    # The quantile is the inverse of the distribution function.
    assert share_below(spread, quantile(spread, U)) == pytest.approx(U, abs=1e-6)
    variance = (1 - chance) * (reference.var() + reference.mean() ** 2) + chance * (
        wide.var() + wide.mean() ** 2
    )
    middle = (1 - chance) * reference.mean() + chance * wide.mean()
    assert mean(spread) == pytest.approx(middle)
    assert standard_deviation(spread) == pytest.approx(np.sqrt(variance - middle**2))


def test_slip_stays_within_what_is_physical():
    spread = slipped(bounded("rectangular", 1.0, 3.0), 0.5, lowest=0.0, highest=4.0)
    assert support(spread) == (0.0, 4.0)
    drawn = quantile(spread, U)
    assert drawn.min() >= 0.0
    assert drawn.max() <= 4.0
    assert slipped(bounded("rectangular", 1.0, 3.0), 0.0) == bounded("rectangular", 1.0, 3.0)
    assert without_slip(spread) == bounded("rectangular", 1.0, 3.0)


def test_learnt_normal_is_the_normal_it_must_be():
    """x = 2 + 0.5 z with z ~ N(0.4, 0.3) is N(2.2, 0.15)."""
    spread = learnt(normal(2.0, 0.5), 0.4, 0.3)
    same = stats.norm(2.2, 0.15)
    assert quantile(spread, U) == pytest.approx(same.ppf(U), abs=1e-9)
    x = np.linspace(1.5, 3.0, 31)
    assert density(spread, x) == pytest.approx(same.pdf(x), rel=1e-9)
    assert share_below(spread, x) == pytest.approx(same.cdf(x), abs=1e-12)
    assert (mean(spread), standard_deviation(spread)) == pytest.approx((2.2, 0.15), rel=1e-6)


@pytest.mark.parametrize(
    ("name", "base"),
    [*((name, base) for name, base, _ in BASES), ("lognormal", lognormal(3.0, 0.3))],
    ids=[*IDS, "lognormal"],
)
def test_learnt_density_is_the_slope_of_its_share(name, base):
    spread = learnt(base, -0.7, 0.5)
    low, high = quantile(spread, np.array([1e-7, 1.0 - 1e-7]))
    total, _ = integrate.quad(lambda x: float(density(spread, np.array([x]))[0]), low, high)
    assert total == pytest.approx(1.0, abs=1e-5)
    first, _ = integrate.quad(lambda x: x * float(density(spread, np.array([x]))[0]), low, high)
    assert mean(spread) == pytest.approx(first, rel=1e-4)
    assert share_below(spread, quantile(spread, U)) == pytest.approx(U, abs=1e-9)


def test_learnt_table_is_kept_to():
    """A skew table: quantiles at its nodes, a density that is the slope of its share."""
    table = tuple((np.exp(0.4 * TABLE) - 1.0).tolist())
    spread = learnt(normal(2.0, 0.5), 0.08, 0.45, table)
    at = quantile(spread, stats.norm.cdf(TABLE))
    assert at == pytest.approx(2.0 + 0.5 * np.array(table), abs=1e-9)
    assert share_below(spread, quantile(spread, U)) == pytest.approx(U, abs=1e-9)
    x = np.linspace(*quantile(spread, np.array([1e-6, 1 - 1e-6])), 20001)
    share = np.concatenate([[0.0], np.cumsum(density(spread, x)[:-1] * np.diff(x))])
    assert share == pytest.approx(share_below(spread, x), abs=2e-4)
    assert quantile(moved(spread, 1.0), U) == pytest.approx(quantile(spread, U) + 1.0)


def test_nothing_learnt_is_the_base():
    base = bounded("triangular", 0.0, 6.0, mode=2.0)
    assert quantile(learnt(base, 0.0, 1.0), U) == pytest.approx(quantile(base, U), abs=1e-9)


def test_derived_spreads_move_and_narrow_with_their_base():
    base = normal(2.0, 0.5)
    for spread in (slipped(base, 0.1), learnt(base, 0.4, 0.3)):
        assert mean(moved(spread, 1.0)) == pytest.approx(mean(spread) + 1.0)
        half = narrowed(spread, 0.5, about=2.0)
        assert standard_deviation(half) == pytest.approx(0.5 * standard_deviation(spread))
        assert quantile(half, U) == pytest.approx(2.0 + 0.5 * (quantile(spread, U) - 2.0), abs=1e-6)
