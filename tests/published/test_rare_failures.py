"""Rare chances of failure with known values, by the design of statistics-decisive F.

Each reference is found again here by one integral or a closed form. Problems numbered RP are of the
black-box reliability challenge of Rozsas and Slobbe 2019 (from memory); some values listed
elsewhere are plain Monte Carlo and wrong by up to 7 %, as is said beside them. An interval of
95 % must lie near: within one and a half half-widths here, and over 50 seeds 44 or more must hold.
"""

from collections.abc import Callable
from dataclasses import replace
from typing import Annotated, Any, NamedTuple

import numpy as np
import pytest
from scipy import integrate, optimize, stats

import sensitivity as sl
from sensitivity.engine.plan import plan_run
from sensitivity.engine.rare import rare_failures, too_few_failures
from sensitivity.errors import CallError

PHI, BELL = stats.norm.cdf, stats.norm.pdf
ROOT2 = 2.0**0.5
ONE = sl.RunOptions(workers=1)


class Margin(NamedTuple):
    """A limit-state function: failure is below zero."""

    margin: Annotated[float, "", "negative at failure"]


class Two(NamedTuple):
    """Two limit-state functions."""

    margin: Annotated[float, "", "negative at failure"]
    other: Annotated[float, "", "negative at failure"]


def model_of(function: Callable[..., Any], count: int, result: type) -> Callable[..., Any]:
    """Write a model of ``count`` arguments x1, x2, ... that are pure numbers."""
    names = [f"x{place + 1}" for place in range(count)]
    space: dict[str, Any] = {"f": function, "A": Annotated[float, "", "an input"], "R": result}
    arguments = ", ".join(f"{name}: A = 0.0" for name in names)
    exec(
        f"def problem({arguments}) -> R:\n"
        f"    '''A reliability problem.'''\n"
        f"    return R(*f({', '.join(names)}))\n",
        space,
    )
    space["problem"].__module__ = __name__
    return space["problem"]


def problem(function, count, *, result=Margin, inputs=None, correlations=()):
    """Build a study of standard normals, or of the inputs given, all margins at least 0."""
    names = [f"x{place + 1}" for place in range(count)]
    return sl.Study(
        models=[model_of(function, count, result)],
        inputs=inputs or {name: sl.normal(0, standard_deviation=1) for name in names},
        limits=[sl.limit(name, at_least=0) for name in result._fields],
        correlations=correlations,
        sampling={"seed": 1},
    )


def found(study, seed=1):
    seeded = replace(study, sampling=replace(study.sampling, seed=seed))
    return rare_failures(plan_run(seeded, indices=False), options=ONE)


def in_direction(beta):
    """Failure beyond ``beta`` along the diagonal of any number of standard normals."""
    return lambda *x: (beta - sum(x) / len(x) ** 0.5,)


def four_branch(x1, x2):
    curved = 3.0 + 0.1 * (x1 - x2) ** 2 - np.abs(x1 + x2) / ROOT2
    return (np.minimum(curved, 7.0 / ROOT2 - np.abs(x1 - x2)),)


def rp55(x1, x2):
    distance = np.abs(x1 - x2)
    curved = 0.2 + 0.6 * distance**4 - distance / ROOT2
    return (np.minimum(curved, 5.0 / ROOT2 - 2.2 - distance),)


def rp60(x1, x2, x3, x4, x5):
    either = np.maximum(x4 - x5, np.minimum(x2 - x5, x3 - x5))
    halves = np.minimum(np.minimum(x2, x3), x4) - 0.5 * x5
    return (np.minimum(x1 - x5, np.maximum(halves, either)),)


def lognormal(mean, deviation):
    relative = deviation / mean
    return sl.lognormal(mean / (1.0 + relative**2) ** 0.5, relative=relative)


def halves(x):
    middle = len(x) // 2
    return sum(x[:middle]) / middle**0.5, sum(x[middle:]) / (len(x) - middle) ** 0.5


SIZES = [(2200, 220), (2100, 210), (2300, 230), (2000, 200), (1200, 480)]
PROBLEMS = {
    # name: study, chance of failure; recomputed below, with what is listed elsewhere
    "R - S at 3.54": (problem(lambda r, s: (5.0 + r - s,), 2), 2.0347600872e-4),
    "four branches, k = 7": (problem(four_branch, 2), 2.2227950662e-3),
    "hat": (
        problem(lambda a, b: (0.5 * (a - 2.0) ** 2 - 1.5 * (b - 5.0) ** 3 - 3.0,), 2),
        2.8745376e-5,
    ),
    "RP22": (
        problem(lambda a, b: (2.5 - (a + b) / ROOT2 + 0.1 * (a - b) ** 2,), 2),
        4.2073055113e-3,
    ),
    "RP55": (
        problem(rp55, 2, inputs={name: sl.between(-1, 1) for name in ("x1", "x2")}),
        0.560014428,
    ),
    "RP60": (
        problem(
            rp60,
            5,
            inputs={f"x{i + 1}": lognormal(*size) for i, size in enumerate(SIZES)},
        ),
        0.0448397,
    ),
    "RP111": (problem(lambda a, b: (12.5 - np.abs(a * b),), 2), 8.03508596e-7),
    "beta 5 in 10 inputs": (problem(in_direction(5.0), 10), 2.8665157e-7),
    "beta 6.5": (problem(in_direction(6.5), 2), 4.0160006e-11),
    "4.5 or 5 in 20 inputs": (
        problem(
            lambda *x: tuple(b - y for b, y in zip((4.5, 5.0), halves(x), strict=True)),
            20,
            result=Two,
        ),
        3.6843237e-6,
    ),
}


@pytest.fixture(scope="module")
def answers():
    return {name: found(study) for name, (study, _) in PROBLEMS.items()}


# --- the references, found again ----------------------------------------------------------------


def exact(name):
    return PROBLEMS[name][1]


def test_reference_of_directions():
    assert PHI(-5.0 / ROOT2) == pytest.approx(exact("R - S at 3.54"), rel=1e-9)
    assert PHI(-5.0) == pytest.approx(exact("beta 5 in 10 inputs"), rel=1e-7)
    assert PHI(-6.5) == pytest.approx(exact("beta 6.5"), rel=1e-7)
    together = PHI(-4.5) + PHI(-5.0) - PHI(-4.5) * PHI(-5.0)
    assert together == pytest.approx(exact("4.5 or 5 in 20 inputs"), rel=1e-7)


def test_reference_of_four_branches():
    # u, v = (x1 +- x2)/sqrt 2: holds where |u| <= 3 + 0.2 v^2 and |v| <= k/2
    kept, _ = integrate.quad(
        lambda v: BELL(v) * (1.0 - 2.0 * PHI(-3.0 - 0.2 * v**2)), -3.5, 3.5, epsabs=1e-13
    )
    assert 1.0 - kept == pytest.approx(exact("four branches, k = 7"), rel=1e-8)


def test_reference_of_the_hat():
    # int phi(x) Phi(-5 - cbrt((0.5 (x - 2)^2 - 3)/1.5)) dx; x = edge + t^3 clears the kinks of
    # the cube root. The list of check values has 2.8745331e-5, 1.6e-6 of it too low.
    nodes, weights = np.polynomial.legendre.leggauss(400)

    def part(low, high, edge):
        low, high = np.cbrt(low - edge), np.cbrt(high - edge)
        t = 0.5 * (high - low) * nodes + 0.5 * (high + low)
        x = edge + t**3
        inner = np.cbrt((0.5 * (x - 2.0) ** 2 - 3.0) / 1.5)
        return 0.5 * (high - low) * weights @ (BELL(x) * PHI(-5.0 - inner) * 3.0 * t**2)

    low, high = 2.0 - 6.0**0.5, 2.0 + 6.0**0.5
    whole = part(-12, low, low) + part(low, 2, low) + part(2, high, high) + part(high, 14, high)
    assert whole == pytest.approx(exact("hat"), rel=1e-7)


def test_reference_of_rp22():
    chance, _ = integrate.quad(lambda v: BELL(v) * PHI(-2.5 - 0.2 * v**2), -9, 9, epsabs=1e-14)
    assert chance == pytest.approx(exact("RP22"), rel=1e-8)


def test_reference_of_rp55():
    # Depends on |x1 - x2| alone, P(<= d) = 1 - (2 - d)^2/4. Listed as 0.560014428; the list
    # of check values has 0.5600143.
    def curved(d):
        return 0.2 + 0.6 * d**4 - d / ROOT2

    first = optimize.brentq(curved, 0.0, 0.5, xtol=1e-14)
    second = optimize.brentq(curved, 0.5, 1.5, xtol=1e-14)

    def at_most(d):
        return 1.0 - (2.0 - d) ** 2 / 4.0

    chance = at_most(second) - at_most(first) + 1.0 - at_most(5.0 / ROOT2 - 2.2)
    assert chance == pytest.approx(exact("RP55"), rel=1e-8)


def test_reference_of_rp60():
    # Given the load the four strengths are independent; listed as 0.0456, which is 2 % high.
    def variable(mean, deviation):
        shape = np.sqrt(np.log1p((deviation / mean) ** 2))
        return stats.lognorm(shape, scale=mean / np.sqrt(1.0 + (deviation / mean) ** 2))

    *strengths, load = (variable(*size) for size in SIZES)

    def kept(z):
        s = load.ppf(PHI(z))
        one, two, three, four = (strength.sf(s) for strength in strengths)
        _, half2, half3, half4 = (strength.sf(0.5 * s) for strength in strengths)
        either = four + (1.0 - four) * two * three
        both = four * half2 * half3 + (half4 - four) * two * three
        return one * (either + half2 * half3 * half4 - both)

    chance, _ = integrate.quad(lambda z: BELL(z) * (1.0 - kept(z)), -8, 8, epsabs=1e-12, limit=200)
    assert chance == pytest.approx(exact("RP60"), rel=1e-6)


def test_reference_of_rp111():
    # 4 int_0^inf phi(x) Phi(-12.5/x) dx. Listed as 7.65e-7, plain Monte Carlo, 5 % low.
    chance, _ = integrate.quad(lambda x: 4.0 * BELL(x) * PHI(-12.5 / x), 0, 12, epsabs=1e-16)
    assert chance == pytest.approx(exact("RP111"), rel=1e-7)


# --- what the engine makes of them --------------------------------------------------------------


@pytest.mark.parametrize("name", PROBLEMS)
def test_chance_of_failure(name, answers):
    answer, reference = answers[name], exact(name)
    assert answer.method == "importance sampling"
    assert answer.within_factor is None
    assert not answer.doubts
    assert abs(answer.chance.value - reference) <= 1.5 * answer.chance.half_width
    assert answer.chance.half_width <= 0.1 * answer.chance.value
    assert answer.evaluations <= 200_000
    # The witness is within a factor of three, and its interval says about so.
    assert reference / 3.0 < answer.witness.value < 3.0 * reference
    assert answer.rests_on_tails == (reference < 1e-4)


def test_bound_of_the_plain_sample(answers):
    answer = answers["beta 6.5"]
    assert (answer.plain.failures, answer.plain.rows) == (0, 16384)
    assert answer.at_most == pytest.approx(1.0 - 0.025 ** (1.0 / 16384), rel=1e-12)
    assert too_few_failures(answer.plain)
    assert not too_few_failures(answers["RP55"].plain)


def test_union_is_found_by_limits(answers):
    answer = answers["4.5 or 5 in 20 inputs"]
    for name, beta in (("margin", 4.5), ("other", 5.0)):
        alone = answer.by_limit[name]
        assert abs(alone.value - PHI(-beta)) <= 1.5 * alone.half_width
        assert alone.half_width < 0.3 * alone.value
    # Its likeliest failing part: near the foot of the perpendicular, beta of the first ten
    point = answer.likeliest["margin"]
    assert sum(point[f"x{i}"] for i in range(1, 11)) / 10**0.5 > 4.5
    assert sum(value**2 for value in point.values()) ** 0.5 < 4.5 + 20**0.5


def either_of_two_steps(x1, x2):
    """RP110: fails beyond 4 in x1 and beyond 5 in x2, each behind a step that the slope misses."""
    first = np.where(x1 > 3.5, 4.0 - x1, 0.85 - 0.1 * x1)
    other = np.where(x2 > 2.0, 0.5 - 0.1 * x2, 2.3 - x2)
    return (np.minimum(first, other),)


@pytest.mark.parametrize("seed", [1, 5, 15, 24])
def test_a_second_place_of_failing_is_not_overlooked(seed):
    # Closed form: one less the chance that neither fails. Three of these seeds once found 0.009
    # of it, sure of it.
    reference = 1.0 - PHI(4.0) * PHI(5.0)
    chance = found(problem(either_of_two_steps, 2), seed).chance
    assert chance.value == pytest.approx(reference, rel=0.02)
    assert chance.low <= 1.005 * reference
    assert chance.high >= 0.995 * reference


def test_tails_a_tenth_wider():
    # All deviations times 1.1: Phi(-beta/1.1) for a normal direction
    for name, beta in (("R - S at 3.54", 5.0 / ROOT2), ("beta 6.5", 6.5)):
        wider = found(PROBLEMS[name][0]).with_wider_spreads
        assert abs(wider.value - PHI(-beta / 1.1)) <= 1.5 * wider.half_width
        assert wider.half_width < 0.1 * wider.value


def test_tails_of_correlated_inputs_a_tenth_wider():
    # Sum of two normals of Pearson correlation 0.8: sd sqrt(3.6); a bounded input is not widened.
    rank = 6.0 / np.pi * np.arcsin(0.4)
    study = problem(
        lambda a, b, c: (8.0 - a - b + c,),
        3,
        inputs={
            "x1": sl.normal(0, standard_deviation=1),
            "x2": sl.normal(0, standard_deviation=1),
            "x3": sl.between(-1, 1),
        },
        correlations=[sl.correlation("x1", "x2", rank=rank)],
    )
    answer = found(study)

    def chance(factor):
        deviation = factor * 3.6**0.5
        return integrate.quad(lambda c: 0.5 * PHI(-(8.0 + c) / deviation), -1, 1)[0]

    for estimate, reference in (
        (answer.chance, chance(1.0)),
        (answer.with_wider_spreads, chance(1.1)),
    ):
        assert abs(estimate.value - reference) <= 1.5 * estimate.half_width
        assert estimate.half_width < 0.1 * estimate.value


def test_about_within_a_factor_of_three():
    # RP63, noisy sphere in 100 inputs: 3.76943612e-4, P(x1 > 0.1 chi2_99 - 4.5). Centres cannot
    # stand for a shell, and the answer says so.
    answer = found(problem(lambda *x: (0.1 * sum(v * v for v in x[1:]) - x[0] - 4.5,), 100))
    reference, _ = integrate.quad(
        lambda q: stats.chi2.pdf(q, 99) * PHI(-(0.1 * q - 4.5)), 0.0, 300.0, epsabs=1e-14
    )
    assert reference == pytest.approx(3.76943612e-4, rel=1e-7)
    assert answer.doubts
    assert answer.within_factor == 3.0
    assert answer.chance.low == pytest.approx(answer.chance.value / 3.0)
    assert answer.chance.high == pytest.approx(answer.chance.value * 3.0)
    assert answer.chance.low < reference < answer.chance.high
    assert answer.evaluations <= 200_000


def test_nothing_that_fails():
    answer = found(problem(lambda a, b: (2.5 - a - b,), 2, inputs={
        name: sl.between(-1, 1) for name in ("x1", "x2")
    }))  # fmt: skip
    assert answer.method == "none found"
    assert answer.chance.value == 0.0
    assert answer.chance.high == pytest.approx(1.0 - 0.025 ** (1.0 / 16384), rel=1e-12)
    assert answer.not_reached == ("margin too low",)


def test_no_answer_out_of_range_fails():
    # The physical range ends 4.5 deviations away, and beyond it there is no answer: P = Phi(-4.5)
    # plus that of the limit, 5 on the other side.
    class Plain(NamedTuple):
        margin: Annotated[float, "", "distance"]

    def bore(x1: Annotated[float, "", "bore", "> 0"] = 4.5) -> Plain:
        """Return what is left."""
        return Plain(9.5 - x1)

    study = sl.Study(
        models=[bore],
        inputs={"x1": sl.normal(4.5, standard_deviation=1)},
        limits=[sl.limit("margin", at_least=0)],
        sampling={"seed": 1},
    )
    answer = found(study)
    reference = PHI(-4.5) + PHI(-5.0)
    assert abs(answer.chance.value - reference) <= 1.5 * answer.chance.half_width
    assert answer.chance.half_width < 0.1 * reference


def test_same_seed_same_answer():
    study = PROBLEMS["R - S at 3.54"][0]
    assert found(study, 5) == found(study, 5)
    assert found(study, 5).chance != found(study, 6).chance


def test_without_limits():
    study = PROBLEMS["R - S at 3.54"][0]
    with pytest.raises(CallError, match="states none"):
        rare_failures(plan_run(replace(study, limits=())), options=ONE)


@pytest.mark.slow
@pytest.mark.parametrize(
    "name",
    [
        "R - S at 3.54",
        pytest.param("four branches, k = 7", marks=pytest.mark.nightly),
        pytest.param("hat", marks=pytest.mark.nightly),
    ],
)
def test_coverage(name):
    # 50 independent intervals of 95 %: 44 or more hold in 96 rounds of 100.
    study, reference = PROBLEMS[name]
    answers = [found(study, seed) for seed in range(50)]
    held = [answer.chance.low <= reference <= answer.chance.high for answer in answers]
    sure = [answer.within_factor is None for answer in answers]
    print(name, sum(held), sum(sure))
    assert sum(held) >= 44
    assert sum(sure) >= 44
