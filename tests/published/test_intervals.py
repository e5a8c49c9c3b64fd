"""Intervals of proportions and of means against published cases and SciPy.

Clopper and Pearson 1934, Biometrika 26:404; cases of Newcombe 1998, Statistics in Medicine
17:857, table I (printed digits from memory, each recomputed in statistics-sources 5); the
example in SciPy's documentation of ``binomtest``.
"""

import numpy as np
import pytest
from scipy import special, stats

from sensitivity.engine.intervals import (
    FEWEST_EVENTS,
    clopper_pearson,
    estimate,
    estimates,
    kolmogorov_band,
    proportion,
    student,
)

CASES = [
    # passes, rows, exact ends to six digits, printed ends
    (81, 263, (0.252737, 0.367622), (0.2527, 0.3676)),  # Newcombe 1998
    (15, 148, (0.057844, 0.161650), (0.0578, 0.1617)),  # Newcombe 1998
    (0, 20, (0.0, 0.168433), (0.0, 0.1684)),  # Newcombe 1998
    (1, 29, (0.000873, 0.177644), (0.0009, 0.1776)),  # Newcombe 1998
    (7, 50, (0.058192, 0.267396), (0.0582, 0.2674)),  # SciPy's documentation
    (10, 100, (0.049005, 0.176223), (0.0490, 0.1762)),  # from memory
    (4, 20, (0.057334, 0.436614), None),
    (0, 10, (0.0, 0.308497), None),
    (990, 1000, (0.981687, 0.995194), None),
    (1024, 1024, (0.996404, 1.0), None),
]


@pytest.mark.parametrize(("passes", "rows", "exact", "printed"), CASES)
def test_clopper_pearson(passes, rows, exact, printed):
    found = clopper_pearson(passes, rows, 0.95)
    assert found == pytest.approx(exact, abs=6e-7)
    if printed is not None:
        assert found == pytest.approx(printed, abs=5.1e-5)
    # The same by quantiles of the beta distribution
    low = stats.beta.ppf(0.025, passes, rows - passes + 1) if passes else 0.0
    high = stats.beta.ppf(0.975, passes + 1, rows - passes) if passes < rows else 1.0
    assert found == pytest.approx((low, high), abs=1e-9)


def test_clopper_pearson_of_the_documentation_of_scipy():
    # 7 of 50: printed with all its digits
    found = clopper_pearson(7, 50, 0.95)
    assert found == pytest.approx((0.05819170033997342, 0.26739600249700846), abs=1e-12)


@pytest.mark.parametrize("rows", [1, 10, 100, 1000, 262_144])
def test_no_failure_in_n(rows):
    # Two-sided at 95 %: up to 1 - 0.025^(1/n) may fail. One-sided at 95 %, which is one end of
    # 90 % two-sided: 1 - 0.05^(1/n), about 3/n, the "rule of three".
    low, high = clopper_pearson(rows, rows, 0.95)
    assert high == 1.0
    assert 1.0 - low == pytest.approx(1.0 - 0.025 ** (1.0 / rows), rel=1e-6)
    one_sided = 1.0 - clopper_pearson(rows, rows, 0.90)[0]
    assert one_sided == pytest.approx(1.0 - 0.05 ** (1.0 / rows), rel=1e-6)


@pytest.mark.parametrize(("rows", "printed"), [(10, 0.258866), (100, 0.029513), (1000, 0.002991)])
def test_one_sided_bound_of_no_failure(rows, printed):
    # statistics-sources 5; 3/n is the usual rule
    assert 1.0 - clopper_pearson(rows, rows, 0.90)[0] == pytest.approx(printed, abs=5.1e-7)


@pytest.mark.parametrize(
    ("reliability", "confidence", "rows"),
    [
        # Samples without a failure that show a reliability: tables of acceptance testing
        # (from memory), statistics-sources 5.
        (0.90, 0.90, 22),
        (0.90, 0.95, 29),
        (0.95, 0.90, 45),
        (0.95, 0.95, 59),
        (0.99, 0.90, 230),
        (0.99, 0.95, 299),
        (0.999, 0.95, 2995),
    ],
)
def test_sample_without_failure(reliability, confidence, rows):
    two_sided = 2.0 * confidence - 1.0
    assert clopper_pearson(rows, rows, two_sided)[0] >= reliability
    assert clopper_pearson(rows - 1, rows - 1, two_sided)[0] < reliability


@pytest.mark.parametrize("share", [0.9, 0.99, 0.999])
def test_clopper_pearson_holds_at_least_as_often_as_it_says(share):
    # The sum over all counts of 1000 rows, exactly: never below the confidence.
    counts = np.arange(1001)
    chance = stats.binom.pmf(counts, 1000, share)
    held = 0.0
    for count in counts[chance > 1e-12]:
        low, high = clopper_pearson(int(count), 1000, 0.95)
        held += chance[count] * (low <= share <= high)
    assert 0.95 <= held <= 0.99


@pytest.mark.parametrize(
    ("degrees", "printed"),
    # Handbook tables of Student's t, 0.975 (from memory)
    [(7, 2.365), (15, 2.131), (31, 2.040), (60, 2.000)],
)
def test_student_factor(degrees, printed):
    count = degrees + 1
    values = np.zeros(count)
    values[::2] = 1.0
    mean, low, high = student(values, 0.95)
    standard_error = values.std(ddof=1) / count**0.5
    assert (high - mean) / standard_error == pytest.approx(printed, abs=5.1e-4)
    assert mean - low == pytest.approx(high - mean)


def test_student_against_scipy():
    values = np.random.default_rng(3).normal(5.0, 2.0, (12, 4))
    for confidence in (0.8, 0.95, 0.99):
        mean, low, high = student(values, confidence)
        expected = stats.ttest_1samp(values, 0.0).confidence_interval(confidence)
        assert mean == pytest.approx(values.mean(axis=0))
        assert low == pytest.approx(expected.low)
        assert high == pytest.approx(expected.high)
        one = estimate(values[:, 2], confidence)
        assert (one.value, one.low, one.high) == pytest.approx((mean[2], low[2], high[2]))
        assert one.half_width == pytest.approx(0.5 * (high[2] - low[2]))


def test_kolmogorov_band():
    # Asymptotic 5 % point of Kolmogorov's statistic, 1.358/sqrt(n) (Smirnov 1948, tables;
    # SciPy's kolmogi): Massart's bound is its first term, and no narrower at any n.
    assert kolmogorov_band(10_000, 0.95) * 100.0 == pytest.approx(special.kolmogi(0.05), abs=1e-4)
    for count in (5, 20, 100):
        exact = stats.kstwo.ppf(0.95, count)
        assert exact <= kolmogorov_band(count, 0.95) < 1.15 * exact


# The rule of the engine


def test_proportion_stays_inside_0_and_1():
    passes = np.array([1024] * 15 + [1024 - 12])  # all failures in one replicate
    found = proportion(passes, 1024, 0.95)
    assert found.method == "student"
    mean, half = passes.mean() / 1024, stats.t.ppf(0.975, 15) * stats.sem(passes) / 1024
    assert mean + half > 1.0
    assert found.high == 1.0
    assert found.low == pytest.approx(mean - half)


@pytest.mark.parametrize("failures", [0, 1, FEWEST_EVENTS - 1])
@pytest.mark.parametrize("mirrored", [False, True])
def test_proportion_of_few_events(failures, mirrored):
    counts = np.zeros(16, dtype=np.int64)
    counts[:failures] = 1
    passes = counts if mirrored else 512 - counts
    found = proportion(passes, 512, 0.95)
    assert found.method == "clopper-pearson"
    interval = stats.binomtest(int(passes.sum()), 16 * 512).proportion_ci(0.95, method="exact")
    assert (found.low, found.high) == pytest.approx((interval.low, interval.high))
    assert found.low < found.high


@pytest.mark.parametrize("outsize", [1.0, 1e-160, 1e160, np.nan])
def test_many_columns_are_estimated_as_each_alone(outsize):
    values = np.random.default_rng(2).normal(3.0, 1.0, (16, 5))
    values[:, 2] *= outsize
    values[:, 3] = 0.0
    found = estimates(values, 0.95)
    alone = [estimate(values[:, column], 0.95) for column in range(5)]
    for one, other in zip(found, alone, strict=True):
        np.testing.assert_array_equal(
            [one.value, one.low, one.high], [other.value, other.low, other.high]
        )
