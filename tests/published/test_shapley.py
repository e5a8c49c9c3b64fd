"""Shapley effects with known values.

For a sum of normals the effects follow from conditional covariances, and are found again here by
going through all orders (Owen and Prieur 2017, SIAM/ASA J. Uncertainty Quantification 5:986;
Iooss and Prieur 2019; from memory); the figures stand in statistics-decisive G and
statistics-sources 2.4. The estimates must lie within one and a half half-widths.
"""

from dataclasses import replace
from itertools import permutations
from typing import Annotated, NamedTuple

import numpy as np
import pytest
from scipy import integrate, stats

import sensitivity as sl
from sensitivity.engine.plan import plan_run
from sensitivity.engine.result import PASS_FAIL
from sensitivity.engine.shapley import correlated_blocks, shapley_effects
from sensitivity.errors import CallError
from tests.published.test_rare_failures import model_of

ONE = sl.RunOptions(workers=1)


class Value(NamedTuple):
    """Result of a function that has no better name for it."""

    value: Annotated[float, "", "value of the function"]


def study_of(function, deviations, correlations=(), limits=()):
    names = [f"x{place + 1}" for place in range(len(deviations))]
    return sl.Study(
        models=[model_of(function, len(deviations), Value)],
        inputs={
            name: sl.normal(0, standard_deviation=deviation)
            for name, deviation in zip(names, deviations, strict=True)
        },
        limits=limits,
        correlations=[
            # the rank correlation of two normals with this Pearson correlation
            sl.correlation(f"x{one}", f"x{other}", rank=6.0 / np.pi * np.arcsin(0.5 * pearson))
            for one, other, pearson in correlations
        ],
        sampling={"seed": 1},
    )


def found(study, seed=1, **asked):
    seeded = replace(study, sampling=replace(study.sampling, seed=seed))
    return shapley_effects(plan_run(seeded), options=ONE, **asked)


def weighted(weights):
    return lambda *x: (sum(a * one for a, one in zip(weights, x, strict=True)),)


def covariance(deviations, correlations):
    matrix = np.eye(len(deviations))
    for one, other, pearson in correlations:
        matrix[one - 1, other - 1] = matrix[other - 1, one - 1] = pearson
    return matrix * np.outer(deviations, deviations)


def by_all_orders(weights, matrix):
    """Variance, and Shapley effects of a weighted sum: gains of Var(Y | the rest), all orders."""
    count = len(weights)

    def left(loose):
        if not loose:
            return 0.0
        kept = [place for place in range(count) if place not in loose]
        inner = matrix[np.ix_(loose, loose)]
        if kept:
            across = matrix[np.ix_(loose, kept)]
            inner = inner - across @ np.linalg.solve(matrix[np.ix_(kept, kept)], across.T)
        part = np.asarray(weights)[loose]
        return float(part @ inner @ part)

    gains = np.zeros(count)
    orders = list(permutations(range(count)))
    for order in orders:
        for place in range(count):
            gains[order[place]] += left(sorted(order[: place + 1])) - left(sorted(order[:place]))
    variance = float(np.asarray(weights) @ matrix @ np.asarray(weights))
    return variance, gains / len(orders) / variance


SUMS = {
    # name: weights, deviations, correlations, variance, effects
    "three, 0.9": (
        (1, 1, 1), (1, 1, 2), [(2, 3, 0.9)], 9.6, (0.1041667, 0.4182292, 0.4776042),
    ),
    "three, -0.9": (
        (1, 1, 1), (1, 1, 2), [(2, 3, -0.9)], 2.4, (0.4166667, 0.1729167, 0.4104167),
    ),
    "two pairs": (
        (1, 2, 1, 1), (1, 1, 1, 1), [(1, 2, 0.5), (3, 4, -0.5)], 8.0,
        (0.296875, 0.578125, 0.0625, 0.0625),
    ),
    "two alike": ((1, 1), (1, 1), [(1, 2, 0.5)], 3.0, (0.5, 0.5)),
    "two unlike, 0.5": ((1, 1), (1, 2), [(1, 2, 0.5)], 7.0, (0.339286, 0.660714)),
    "two unlike, -0.5": ((1, 1), (1, 2), [(1, 2, -0.5)], 3.0, (0.125, 0.875)),
    "one silent": ((1, 0), (1, 1), [(1, 2, 0.8)], 1.0, (0.68, 0.32)),
}  # fmt: skip


@pytest.mark.parametrize("name", SUMS)
def test_reference(name):
    weights, deviations, correlations, variance, effects = SUMS[name]
    matrix = covariance(deviations, correlations)
    whole, shares = by_all_orders(weights, matrix)
    assert whole == pytest.approx(variance, rel=1e-12)
    assert shares == pytest.approx(effects, abs=6e-7)


@pytest.mark.parametrize("name", SUMS)
def test_effects_of_sums(name):
    weights, deviations, correlations, _, effects = SUMS[name]
    answer = found(study_of(weighted(weights), deviations, correlations))
    shares = list(answer.effects["value"].values())
    for share, reference in zip(shares, effects, strict=True):
        assert abs(share.value - reference) <= 1.5 * share.half_width
        assert share.half_width < 0.02
    assert sum(share.value for share in shares) == pytest.approx(1.0, abs=1e-12)
    assert answer.evaluations == 16 * 1024 * (len(deviations) + 1)
    assert not answer.refused


def test_blocks_have_the_sum_of_their_effects():
    weights, deviations, correlations, *_ = SUMS["two pairs"]
    answer = found(study_of(weighted(weights), deviations, correlations))
    blocks = answer.blocks["value"]
    assert list(blocks) == [("x1", "x2"), ("x3", "x4")]
    # Independent of each other: their shares are those of their variances, 7 and 1 of 8
    assert abs(blocks["x1", "x2"].value - 0.875) <= 1.5 * blocks["x1", "x2"].half_width
    assert blocks["x1", "x2"].half_width < 0.02
    assert not answer.blockwise


def test_independent_inputs_lie_between_first_order_and_total():
    # Ishigami and Homma 1990: the effect of an input is its first-order index and half of each
    # of its second-order ones: S1 + S13/2, S2, S13/2 (statistics-sources 2.1).
    study = sl.Study(
        models=[
            model_of(
                lambda a, b, c: (np.sin(a) + 7.0 * np.sin(b) ** 2 + 0.1 * c**4 * np.sin(a),),
                3,
                Value,
            )
        ],
        inputs={f"x{i}": sl.between(-np.pi, np.pi) for i in (1, 2, 3)},
        sampling={"seed": 1},
    )
    shares = found(study).effects["value"]
    interaction = 0.243683664062148
    references = (0.313905191147811 + 0.5 * interaction, 0.442411144790041, 0.5 * interaction)
    for share, reference in zip(shares.values(), references, strict=True):
        assert abs(share.value - reference) <= 1.5 * share.half_width
        assert share.half_width < 0.03


def test_pass_and_fail_of_independent_inputs():
    # 0.8 x1 + 0.6 x2 > 2 (statistics-sources 2.3): of two inputs the effect is the mean of
    # the first-order index and the total.
    study = study_of(weighted((0.8, 0.6)), (1, 1), limits=[sl.limit("value", at_most=2)])
    shares = list(found(study, outputs=[PASS_FAIL]).effects[PASS_FAIL].values())
    for share, first, total in zip(shares, (0.255017, 0.091035), (0.908965, 0.744983), strict=True):
        assert abs(share.value - 0.5 * (first + total)) <= 1.5 * share.half_width
        assert share.half_width < 0.05


def test_pass_and_fail_of_correlated_inputs():
    # x1 + 0.5 x2 > 1, correlation r: given x1 the chance is Phi((x1 (1 + 0.5 r) - 1)/(0.5 s)),
    # given x2 Phi((x2 (r + 0.5) - 1)/s) with s^2 = 1 - r^2. Effect of x1: half of
    # Var E[Y|x1] and of V - Var E[Y|x2].
    r = 0.6
    s = (1.0 - r**2) ** 0.5
    p = stats.norm.sf(1.0 / (1.25 + r) ** 0.5)
    variance = p * (1.0 - p)

    def explained(slope, rest):
        square, _ = integrate.quad(
            lambda x: stats.norm.pdf(x) * stats.norm.cdf((slope * x - 1.0) / rest) ** 2, -9, 9
        )
        return square - p**2

    one, two = explained(1.0 + 0.5 * r, 0.5 * s), explained(r + 0.5, s)
    references = 0.5 * (one + variance - two) / variance, 0.5 * (two + variance - one) / variance
    study = study_of(weighted((1, 0.5)), (1, 1), [(1, 2, r)], limits=[sl.limit("value", at_most=1)])
    shares = found(study).effects[PASS_FAIL].values()
    for share, reference in zip(shares, references, strict=True):
        assert abs(share.value - reference) <= 1.5 * share.half_width
        assert share.half_width < 0.03


def test_many_inputs_go_by_blocks():
    # Twelve independent inputs and a pair: a sum's blocks have their variances, and within the
    # pair the effects are those of two inputs alone.
    weights = (*12 * (0.5,), 1, 1)
    deviations = (*12 * (1,), 1, 2)
    study = study_of(weighted(weights), deviations, [(13, 14, 0.5)])
    answer = found(study)
    assert answer.blockwise
    shares, variance = answer.effects["value"], 12 * 0.25 + 7.0
    references = [*12 * [0.25 / variance], 0.339286 * 7 / variance, 0.660714 * 7 / variance]
    for share, reference in zip(shares.values(), references, strict=True):
        assert abs(share.value - reference) <= 2.0 * share.half_width
        assert share.half_width < 0.02
    assert [len(block) for block in correlated_blocks(plan_run(study))] == [*12 * [1], 2]


def test_effects_of_nothing_are_not_clipped():
    # x2 does nothing and hangs together with nothing: zero.
    answer = found(study_of(lambda a, b, c: (a + c + 0.0 * b,), (1, 1, 1)))
    nothing = answer.effects["value"]["x2"]
    assert nothing.value == pytest.approx(0.0, abs=1e-12)
    # One part in a million of the variance, less than the noise: of either sign
    study = study_of(weighted((1, 0.001)), (1, 1))
    values = [found(study, seed).effects["value"]["x2"].value for seed in range(8)]
    assert min(values) < 0.0 < max(values)


def test_size_does_not_matter():
    plain = found(study_of(weighted((1, 1)), (1, 2), [(1, 2, 0.5)])).effects["value"]
    for size in (1e160, 1e-300):
        scaled = found(study_of(weighted((size, size)), (1, 2), [(1, 2, 0.5)])).effects["value"]
        assert [share.value for share in scaled.values()] == pytest.approx(
            [share.value for share in plain.values()], rel=1e-9
        )


def test_refusals():
    still = found(study_of(lambda a, b: (3.0 + 0.0 * a * b,), (1, 1), [(1, 2, 0.5)]))
    assert "does not vary" in still.refused["value"]
    holes = found(study_of(lambda a, b: (np.where(a > 2.0, np.nan, a + b),), (1, 1)))
    assert "no answer" in holes.refused["value"]
    with pytest.raises(CallError, match='no result "depth"'):
        found(study_of(weighted((1, 1)), (1, 1)), outputs=["depth"])


@pytest.mark.slow
@pytest.mark.parametrize(
    "name", ["three, 0.9", pytest.param("two pairs", marks=pytest.mark.nightly)]
)
def test_coverage(name):
    # 50 independent intervals of 95 %: 44 or more hold in 96 rounds of 100.
    weights, deviations, correlations, _, effects = SUMS[name]
    study = study_of(weighted(weights), deviations, correlations)
    held = [
        [
            share.low <= reference <= share.high
            for share, reference in zip(
                found(study, seed).effects["value"].values(), effects, strict=True
            )
        ]
        for seed in range(50)
    ]
    print(name, np.sum(held, axis=0))
    assert np.all(np.sum(held, axis=0) >= 44)
