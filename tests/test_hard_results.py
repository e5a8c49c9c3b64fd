"""Results that are hard to be right about: very large or small, with holes, heavy tails, few flips.

Each is right, or refused with the true reason. Exact values are of normals and of binomials.
"""

from dataclasses import replace
from typing import Annotated, NamedTuple

import numpy as np
import pytest
from scipy import optimize, stats

import sensitivity as sl
from sensitivity.engine.monte_carlo import run_replicates
from sensitivity.engine.plan import plan_run
from sensitivity.engine.replicate import QUANTILES
from sensitivity.engine.result import PASS_FAIL, assemble
from tests.published.test_rare_failures import model_of


class Value(NamedTuple):
    """Result of a function that has no better name for it."""

    value: Annotated[float, "", "value of the function"]


def study_of(function, inputs, *, result=Value, limits=(), **sampling):
    return sl.Study(
        models=[model_of(function, len(inputs), result)],
        inputs={f"x{place + 1}": stated for place, stated in enumerate(inputs)},
        limits=limits,
        sampling={"seed": 1, "points": 256, **sampling},
    )


def run(study, seed=1, **options):
    seeded = replace(study, sampling=replace(study.sampling, seed=seed))
    plan = plan_run(seeded, **options)
    return assemble(seeded, plan, run_replicates(plan, workers=1))


NORMAL = sl.normal(0, standard_deviation=1)


# --- intervals of quantiles and shortest ranges -------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize(
    ("function", "count", "distribution"),
    [
        pytest.param(
            *(lambda a, b: ((a + b) / 2.0**0.5,), 2, stats.norm()), marks=pytest.mark.nightly
        ),
        pytest.param(
            *(lambda a, b: (0.5 * (a**2 + b**2),), 2, stats.expon()), marks=pytest.mark.nightly
        ),
        (lambda a, b, c, d: (a**2 + b**2 + c**2 + d**2,), 4, stats.chi2(4)),
    ],
)
def test_coverage_of_quantiles_and_shortest_ranges(function, count, distribution):
    # 50 independent intervals of 95 %: 44 or more hold in 96 rounds of 100.
    shift = optimize.minimize_scalar(
        lambda p: distribution.ppf(min(p + 0.95, 1.0 - 1e-12)) - distribution.ppf(p),
        bounds=(0.0, 0.05), method="bounded", options={"xatol": 1e-12},
    ).x  # fmt: skip
    if distribution.dist.name == "expon":
        shift = 0.0  # its density falls from the start
    ends = distribution.ppf(shift), distribution.ppf(shift + 0.95)
    quantiles, shortest = [], []
    for seed in range(50):
        output = run(study_of(function, count * [NORMAL]), seed, indices=False).output("value")
        exact = distribution.ppf(QUANTILES)
        assert tuple(output.quantile_intervals) == QUANTILES
        found = output.quantile_intervals.values()
        quantiles.append(
            [
                np.isnan(each.low) or each.low <= value <= each.high
                for each, value in zip(found, exact, strict=True)
            ]
        )
        shortest.append(
            [
                each.low <= end <= each.high
                for each, end in zip(output.shortest_interval, ends, strict=True)
            ]
        )
    print(np.sum(quantiles, axis=0), np.sum(shortest, axis=0))
    assert np.all(np.sum(quantiles, axis=0) >= 44)
    assert np.all(np.sum(shortest, axis=0) >= 44)


def test_intervals_of_quantiles():
    output = run(study_of(lambda a: (a,), [NORMAL]), indices=False).output("value")
    for share, interval in output.quantile_intervals.items():
        assert interval.value == output.quantiles[share]
        if 512 * min(share, 1.0 - share) >= 5:
            assert interval.low < interval.value < interval.high
        else:  # fewer than five rows of a replicate lie beyond
            assert np.isnan(interval.low)
            assert np.isnan(interval.high)
    for end, interval in zip(output.shortest, output.shortest_interval, strict=True):
        assert interval.value == end
        assert interval.low < end < interval.high
        assert interval.half_width < 0.3


# --- holes --------------------------------------------------------------------------------------


@pytest.mark.parametrize("share", [0.0005, 0.005, 0.05])
def test_holes_are_named_where_they_are_the_reason(share):
    edge = float(stats.norm.isf(share))
    study = study_of(lambda a, b: (np.where(a > edge, np.nan, a + b),), 2 * [NORMAL], points=512)
    result = run(study)
    if share < 0.001:
        assert "value" in result.sensitivity
        return
    reason = result.no_indices["value"]
    assert "no answer" in reason
    assert "vary" not in reason
    assert f"{100 * share:.1g} %" in reason


def test_what_does_not_vary_is_said_not_to():
    result = run(study_of(lambda a, b: (3.0 + 0.0 * a * b,), 2 * [NORMAL]))
    assert "does not vary" in result.no_indices["value"]


# --- sizes --------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [1e160, 1e-300])
def test_sizes_do_not_matter(size):
    inputs = [NORMAL, sl.normal(1, standard_deviation=0.5)]
    plain = run(study_of(lambda a, b: (2.0 * a + b + a * b,), inputs), pairs=True)
    scaled = run(study_of(lambda a, b: (size * (2.0 * a + b + a * b),), inputs), pairs=True)
    one, other = plain.output("value"), scaled.output("value")
    for name in ("mean", "standard_deviation"):
        ours, theirs = getattr(other, name), getattr(one, name)
        for end in ("value", "low", "high"):
            assert getattr(ours, end) / size == pytest.approx(getattr(theirs, end), rel=1e-9)
    assert np.array(other.root_sum_square) / size == pytest.approx(one.root_sum_square, rel=1e-9)
    assert np.array(other.shortest) / size == pytest.approx(one.shortest, rel=1e-9)
    for share, interval in other.quantile_intervals.items():
        assert interval.value / size == pytest.approx(one.quantiles[share], rel=1e-9, abs=1e-9)
    for group, index in scaled.sensitivity["value"].items():
        for kind in ("first", "total"):
            expected = getattr(plain.sensitivity["value"][group], kind)
            assert getattr(index, kind).value == pytest.approx(expected.value, rel=1e-9)
            assert getattr(index, kind).high == pytest.approx(expected.high, rel=1e-9)
    for pair, value in scaled.pairs["value"].items():
        assert value.value == pytest.approx(plain.pairs["value"][pair].value, rel=1e-9, abs=1e-12)


def test_a_small_spread_about_a_large_mean():
    # 1e12 + 2e-3 z: doubles there are 1.2e-4 apart, so mean and deviation are right to that,
    # and what moves it drowns in rounding.
    result = run(study_of(lambda a, b: (1e12 + 2e-3 * a + 0.0 * b,), 2 * [NORMAL]))
    output = result.output("value")
    assert output.mean.value == pytest.approx(1e12, abs=1.3e-4)
    assert output.standard_deviation.value == pytest.approx(2e-3, abs=1.3e-4)
    reason = result.no_indices["value"]
    assert "rounding" in reason
    assert "does not vary" not in reason


# --- heavy tails --------------------------------------------------------------------------------


@pytest.mark.parametrize("deviation", [0.3, 0.25, 0.22, 0.2, 0.18, 0.1])
def test_a_heavy_tail_is_refused_or_not_whatever_the_seed(deviation):
    # 1/x of a normal x has no variance; whether that is met depends on how far off zero lies,
    # and must not depend on the luck of a seed.
    study = study_of(lambda a: (1.0 / a,), [sl.normal(1, standard_deviation=deviation)])
    refused = {"value" in run(study, seed).no_indices for seed in range(12)}
    assert len(refused) == 1
    if not 0.15 < deviation < 0.2:  # between, either will do
        assert refused == {deviation > 0.15}


@pytest.mark.parametrize(("power", "heavy"), [(0.3, False), (0.4, False), (0.6, True), (1.0, True)])
def test_a_variance_that_does_not_exist(power, heavy):
    # u^-p of u in 0..1 has a variance where 2 p < 1.
    study = study_of(lambda a: (a**-power,), [sl.between(0, 1, nominal=0.5)], points=1024)
    assert ("value" in run(study).no_indices) is heavy


def test_a_heavy_tail_that_two_inputs_make_together():
    # A clearance between two parts that may close: 1/(hole - pin)
    study = study_of(
        lambda hole, pin: (1.0 / (hole - pin),),
        [sl.normal(10, standard_deviation=0.05), sl.normal(9.8, standard_deviation=0.05)],
    )
    assert "variance" in run(study).no_indices["value"]


# --- enough replicates --------------------------------------------------------------------------


def test_adaptive_stopping_is_not_judged_by_fewer_than_sixteen():
    study = study_of(
        lambda a, b: (a + b,), 2 * [NORMAL], limits=[sl.limit("value", at_least=-1)],
        replicates=8, points=64, target_half_width=0.3,
    )  # fmt: skip
    assert run(study, indices=False).replicates == 16


@pytest.mark.slow
@pytest.mark.nightly
def test_coverage_with_adaptive_stopping():
    # The target is reached after about as many replicates as the least. Of 200 intervals that
    # are right 181 to 197 hold (binomial, 99 %).
    exact = float(stats.norm.cdf(1.0))
    study = study_of(
        lambda a, b: ((a + b) / 2.0**0.5,), 2 * [NORMAL],
        limits=[sl.limit("value", at_least=-1)],
        replicates=8, points=64, target_half_width=0.0035,
    )  # fmt: skip
    answers = [run(study, seed, indices=False) for seed in range(200)]
    held = sum(answer.overall.low <= exact <= answer.overall.high for answer in answers)
    taken = [answer.replicates for answer in answers]
    print(held, np.mean(taken), min(taken), max(taken))
    assert min(taken) < np.mean(taken) < max(taken)
    assert 181 <= held <= 197


# --- few flips ----------------------------------------------------------------------------------


def near_the_edge(
    x1: Annotated[float, "", "first"] = 0.0, x2: Annotated[float, "", "second"] = 0.0
) -> Value:
    """Return x1, and a very little of x2."""
    return Value(x1 + 1e-7 * x2)


class Other(NamedTuple):
    """Result of `another`."""

    other: Annotated[float, "", "another"]


def another(
    x1: Annotated[float, "", "first"] = 0.0, x3: Annotated[float, "", "third"] = 0.0
) -> Other:
    """Return x1 and x3 together."""
    return Other(x1 + x3)


def test_an_index_of_few_flips_is_not_settled():
    study = sl.Study(
        models=[near_the_edge, another],
        inputs=dict.fromkeys(("x1", "x2", "x3"), NORMAL),
        limits=[sl.limit("value", at_least=-1)],
        sampling={"seed": 1, "points": 256},
    )
    result = run(study)
    indices = result.sensitivity[PASS_FAIL]
    unsettled = indices["x2"]
    assert not unsettled.settled
    # No flip in 16 x 256 swapped rows: at most 1 - 0.025^(1/4096) of them flip, and the total
    # index is that over twice p (1 - p).
    p = result.overall.value
    bound = (1.0 - 0.025 ** (1.0 / 4096)) / (2.0 * p * (1.0 - p))
    assert (unsettled.total.low, unsettled.total.high) == (0.0, pytest.approx(bound))
    assert (unsettled.first.low, unsettled.first.high) == (0.0, pytest.approx(bound))
    assert indices["x1"].settled
    # x3 goes into no model that a limit is of: nothing, exactly.
    silent = indices["x3"]
    assert silent.settled
    assert (silent.total.value, silent.total.low, silent.total.high) == (0.0, 0.0, 0.0)


def test_an_index_of_some_flips_is_not_settled_either():
    study = study_of(
        lambda a, b: (a + 2e-3 * b,), 2 * [NORMAL], limits=[sl.limit("value", at_least=-1)]
    )
    index = run(study).sensitivity[PASS_FAIL]["x2"]
    assert not index.settled
    # P(flip) = P(a + 0.002 b > -1, a + 0.002 b' < -1) both ways = 2 phi(-1) 0.002 E(b - b')+
    #         = 2 phi(1) 0.002/sqrt(pi) to first order
    p = stats.norm.cdf(-1.0)
    exact = 2.0 * stats.norm.pdf(1.0) * 0.002 / np.pi**0.5 / (2.0 * p * (1.0 - p))
    assert 0.0 < index.total.low < exact < index.total.high
