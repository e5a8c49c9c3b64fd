"""Failure probabilities with known values, found as yields.

Exact values are closed forms or deterministic quadrature, mostly done again here; those
printed elsewhere stand beside them (statistics-sources 3). Each estimate must lie within one
and a half half-widths of the exact value, its interval must be about as wide as the number of
rows allows, and over all cases most intervals must hold the exact value.
"""

from pathlib import Path

import numpy as np
import pytest
from scipy import integrate, stats

import sensitivity
from sensitivity.engine.intervals import proportion
from sensitivity.engine.monte_carlo import run_replicates
from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import plan_run
from sensitivity.engine.result import PASS_FAIL, assemble
from sensitivity.study.file import read_study

MODELS = str(Path(__file__).with_name("statistics_models.py"))
PHI = stats.norm.cdf


def run(folder, text, points=8192):
    """Run a study, as the command does but for the results folder."""
    path = folder / "study.toml"
    path.write_text(text + f"[sampling]\nseed = 1\npoints = {points}\n", encoding="utf-8")
    study = read_study(path, (MODELS,))
    plan = plan_run(study, indices=False)
    return assemble(study, plan, run_replicates(plan, workers=1))


def study_of(model, *limits, **inputs):
    text = f'models = ["{model}"]\n'
    text += "".join(f"[inputs.{name}]\n{stated}\n" for name, stated in inputs.items())
    return text + "".join(f"[limits.{limit}\n" for limit in limits)


def normal(mean, deviation, unit=""):
    if unit:
        return f'nominal = "{mean} {unit}"\nstandard_deviation = "{deviation} {unit}"'
    return f"nominal = {mean}\nstandard_deviation = {deviation}"


def correlated(pearson):
    """Rank correlation of two normals with this Pearson correlation."""
    rank = 6.0 / np.pi * np.arcsin(0.5 * pearson)
    return f'[[correlations]]\ninputs = ["x1", "x2"]\nrank = {rank}\n'


STANDARD = {"x1": normal(0, 1), "x2": normal(0, 1)}
KEEPS_ABOVE_ZERO = "margin]\nat_least = 0"


def strength_less_load(mean):
    return study_of(
        "weighted_sum",
        "y]\nat_least = 0",
        x1=normal(mean, 1),
        x2=normal(2, 1),
        c2="nominal = -1",
    )


def four_branch_study(k):
    return study_of("four_branch", KEEPS_ABOVE_ZERO, **STANDARD, k=f"nominal = {k}")


# Wu, Shin, Sues and Cesare 2001: yield strength, modulus, loads X and Y
LOADED = {
    "strength": normal(4e4, 2e3),
    "modulus": normal(2.9e7, 1.45e6),
    "sideways": normal(500, 100),
    "downward": normal(1000, 100),
}
STRESS, DEFLECTION = "stress_margin]\nat_least = 0", "deflection]\nat_most = 2.2535"
RECTANGLE = ("first]\nat_most = 2", "second]\nat_most = 2")

# The lognormal strength is stated by mean 300 and deviation 30; a study states the median.
MEDIAN_STRENGTH = 300.0 / np.sqrt(1.0 + 0.1**2)

CASES = {
    # name: study, probability that a limit is broken
    "R - S at 1.41": (strength_less_load(4), 0.0786496035),
    "R - S at 3.54": (strength_less_load(7), 2.0347600872e-4),
    "axial bar": (
        study_of(
            "axial_bar",
            'spare]\nat_least = "0 MPa"',
            strength=f'nominal = "{MEDIAN_STRENGTH} MPa"\nlognormal = 0.1',
            force=normal(75_000, 5000, "N"),
        ),
        0.029198194625,
    ),
    "four branches, k = 5": (four_branch_study(5), 1.4176767057e-2),
    "four branches, k = 6": (four_branch_study(6), 4.4573314906e-3),
    "four branches, k = 7": (four_branch_study(7), 2.2227950662e-3),
    "RP22": (study_of("rp22", KEEPS_ABOVE_ZERO, **STANDARD), 4.2073055113e-3),
    "RP75": (study_of("product_of_two", "value]\nat_most = 3", **STANDARD), 9.8192987215e-3),
    "cantilever, stress": (study_of("cantilever", STRESS, **LOADED), 1.3491392820e-3),
    "cantilever, deflection": (study_of("cantilever", DEFLECTION, **LOADED), 1.4111786813e-3),
    "cantilever, both": (study_of("cantilever", STRESS, DEFLECTION, **LOADED), 1 - 0.9974728440),
    "rectangle, 0": (study_of("two_magnitudes", *RECTANGLE, **STANDARD), 1 - 0.9110697462),
    "rectangle, 0.5": (
        study_of("two_magnitudes", *RECTANGLE, **STANDARD) + correlated(0.5),
        1 - 0.9171118526,
    ),
    "rectangle, 0.9": (
        study_of("two_magnitudes", *RECTANGLE, **STANDARD) + correlated(0.9),
        1 - 0.9357219845,
    ),
}


@pytest.fixture(scope="module")
def results(tmp_path_factory):
    return {
        name: run(tmp_path_factory.mktemp("failure"), text) for name, (text, _) in CASES.items()
    }


# The exact values, found again


def over_normals(chance, count=96):
    """Mean of ``chance`` over a standard normal, by Gauss-Legendre on -9..9."""
    nodes, weights = np.polynomial.legendre.leggauss(count)
    x = 9.0 * nodes
    return float(9.0 * weights @ (stats.norm.pdf(x) * chance(x)))


def test_exact_strength_less_load():
    # Phi(-(m_R - m_S)/sqrt(s_R^2 + s_S^2)); beta = 3.54 in Waarts 2000
    assert pytest.approx(PHI(-(2.0**0.5)), abs=1e-10) == CASES["R - S at 1.41"][1]
    assert pytest.approx(PHI(-5.0 / 2.0**0.5), rel=1e-9) == CASES["R - S at 3.54"][1]


def test_exact_axial_bar():
    # Given the force the strength is lognormal. Printed elsewhere: 0.0291982
    deviation = np.sqrt(np.log(1.01))

    def chance(z):
        needed = (75_000.0 + 5000.0 * z) / (100.0 * np.pi)
        return PHI(np.log(needed / MEDIAN_STRENGTH) / deviation)

    assert over_normals(chance) == pytest.approx(CASES["axial bar"][1], rel=1e-9)


@pytest.mark.parametrize("k", [5, 6, 7])
def test_exact_four_branches(k):
    # With u = (x1 + x2)/sqrt 2 and v = (x1 - x2)/sqrt 2, standard normal and independent, the
    # system holds where |u| <= 3 + 0.2 v^2 and |v| <= k/2. Printed: 4.458e-3, 2.223e-3
    # (Schueremans and Van Gemert 2005, from memory).
    kept, _ = integrate.quad(
        lambda v: stats.norm.pdf(v) * (1.0 - 2.0 * PHI(-3.0 - 0.2 * v**2)),
        -0.5 * k,
        0.5 * k,
        epsabs=1e-13,
    )
    assert 1.0 - kept == pytest.approx(CASES[f"four branches, k = {k}"][1], rel=1e-8)


def test_exact_rp22():
    # Fails where u > 2.5 + 0.2 v^2, u and v as above. Printed: 0.00420730551 (Rozsas, Slobbe)
    found = over_normals(lambda v: PHI(-2.5 - 0.2 * v**2))
    assert found == pytest.approx(CASES["RP22"][1], rel=1e-8)


def test_exact_rp75():
    # P(x1 x2 > 3) = 2 int_0^inf phi(x) Phi(-3/x) dx. Printed: 0.00981929872 (Rozsas, Slobbe)
    found, _ = integrate.quad(
        lambda x: 2.0 * stats.norm.pdf(x) * PHI(-3.0 / x), 0.0, np.inf, epsabs=1e-13
    )
    assert found == pytest.approx(CASES["RP75"][1], rel=1e-8)


def test_exact_cantilever():
    # Given the loads, strength and modulus are independent normals: 2-D Gauss-Legendre.
    nodes, weights = np.polynomial.legendre.leggauss(96)
    z, chance = 9.0 * nodes, 9.0 * weights * stats.norm.pdf(9.0 * nodes)
    across, down = np.meshgrid(500.0 + 100.0 * z, 1000.0 + 100.0 * z, indexing="ij")
    w, t = 2.4484, 3.8884
    stress = 600.0 * down / (w * t**2) + 600.0 * across / (w**2 * t)
    stiffness = 4e6 / (w * t) * np.hypot(down / t**2, across / w**2) / 2.2535
    strong, stiff = PHI((4e4 - stress) / 2e3), PHI((2.9e7 - stiffness) / 1.45e6)
    for kept, case in ((strong, "stress"), (stiff, "deflection"), (strong * stiff, "both")):
        broken = 1.0 - float(chance @ kept @ chance)
        assert broken == pytest.approx(CASES[f"cantilever, {case}"][1], rel=1e-7)


@pytest.mark.parametrize("rho", [0, 0.5, 0.9])
def test_exact_rectangle(rho):
    # Given x1, x2 is normal about rho x1; SciPy's bivariate normal agrees to its own error.
    rest = (1.0 - rho**2) ** 0.5
    kept, _ = integrate.quad(
        lambda x: stats.norm.pdf(x) * (PHI((2.0 - rho * x) / rest) - PHI((-2.0 - rho * x) / rest)),
        -2.0,
        2.0,
        epsabs=1e-12,
    )
    assert 1.0 - kept == pytest.approx(CASES[f"rectangle, {rho}"][1], abs=1e-9)


# What the engine makes of them


@pytest.mark.parametrize("case", CASES)
def test_failure_probability(case, results):
    exact, overall = CASES[case][1], results[case].overall
    assert abs(1.0 - overall.value - exact) <= 1.5 * overall.half_width, overall
    # Independent rows would give this half-width; a scrambled sequence is no worse, and
    # between sixteen replicates the estimate of it may be half as much again, but not nothing.
    independent = 2.13 * (exact * (1.0 - exact) / overall.rows) ** 0.5
    assert 0.05 * independent < overall.half_width < 1.5 * independent
    assert 0.0 < overall.low < overall.value < overall.high < 1.0


def test_interval_at_a_beta_of_three_and_a_half(results):
    overall = results["R - S at 3.54"].overall
    assert 1.0 - overall.high <= 2.0347600872e-4 <= 1.0 - overall.low


def test_most_intervals_hold_the_exact_value(results):
    held = [
        results[name].overall.low <= 1.0 - exact <= results[name].overall.high
        for name, (_, exact) in CASES.items()
    ]
    # Above the lowest 1 % of a binomial of 14 at 0.95
    assert len(held) == 14
    assert sum(held) >= stats.binom.ppf(0.01, 14, 0.95) == 11


def test_each_limit_of_the_cantilever_has_its_own_yield(results):
    both = results["cantilever, both"]
    for output, case in (("stress_margin", "stress"), ("deflection", "deflection")):
        alone = both.output(output).proportion
        exact = CASES[f"cantilever, {case}"][1]
        assert abs(1.0 - alone.value - exact) <= 1.5 * alone.half_width
        # The same rows whether the other limit is stated or not
        assert alone.passes == results[f"cantilever, {case}"].overall.passes
        assert both.overall.passes < alone.passes
    # Both broken together: 2.3316193e-4 (statistics-sources 3), by inclusion and exclusion
    together = (
        sum(both.output(name).proportion.failures for name in ("stress_margin", "deflection"))
        - both.overall.failures
    ) / both.overall.rows
    assert together == pytest.approx(
        2.3316193e-4, abs=4 * (2.3316193e-4 / both.overall.rows) ** 0.5
    )


def test_yield_of_a_correlated_rectangle_follows_the_correlation(results):
    # A wrong correlation, or a Pearson one stated as a rank, would lie outside.
    found = results["rectangle, 0.9"].overall
    mistaken = 2.0 * np.sin(np.pi * 0.9 / 6.0)
    square = stats.multivariate_normal([0, 0], [[1, mistaken], [mistaken, 1]])
    other = square.cdf([2, 2], lower_limit=[-2, -2])
    assert not found.low <= other <= found.high
    assert not found.low <= 0.9171118526 <= found.high


# Few failures, and none


def test_no_failure_is_no_certainty(tmp_path):
    # x1 in -1..1 never passes 2: every row keeps within.
    text = study_of("weighted_sum", "y]\nat_most = 2", x1="plus_minus = 1", x2="plus_minus = 0.5")
    result = run(tmp_path, text, points=64)
    overall = result.overall
    assert (overall.failures, overall.rows) == (0, 2 * 16 * 64)
    assert (overall.value, overall.high) == (1.0, 1.0)
    # Clopper and Pearson 1934, two-sided: at most 1 - 0.025^(1/n) fail
    assert overall.method == "clopper-pearson"
    assert overall.low == pytest.approx(0.025 ** (1.0 / overall.rows), abs=1e-12)
    assert 1.0 - overall.low == pytest.approx(3.689 / overall.rows, rel=1e-3)
    assert result.output("y").proportion == overall
    assert "No failure among 2048" in result.no_indices[PASS_FAIL]
    assert not result.distances


def test_no_failure_is_said_with_its_bound(tmp_path):
    # None of 16,384 of the same: by Clopper and Pearson at most 2.2513e-4, which rounds up to 2.3.
    path = tmp_path / "study.toml"
    text = study_of("weighted_sum", "y]\nat_most = 2", x1="plus_minus = 1", x2="plus_minus = 0.5")
    path.write_text(f"{text}[sampling]\nseed = 1\npoints = 64\n", encoding="utf-8")
    answer = sensitivity.run(read_study(path, (MODELS,)), options=RunOptions(workers=1))
    assert answer.found.rare.plain.rows == 16384
    assert answer.found.rare.at_most == pytest.approx(1.0 - 0.025 ** (1.0 / 16384), rel=1e-9)
    assert "Not one of 2,048 parts built as stated failed" in answer.verdict
    assert "is below 2.3 in 10 000 (exact binomial bound)" in answer.verdict


def test_no_pass_is_no_certainty(tmp_path):
    text = study_of("weighted_sum", "y]\nat_least = 2", x1="plus_minus = 1", x2="plus_minus = 0.5")
    overall = run(tmp_path, text, points=64).overall
    assert (overall.passes, overall.value, overall.low) == (0, 0.0, 0.0)
    assert overall.method == "clopper-pearson"
    assert overall.high == pytest.approx(1.0 - 0.025 ** (1.0 / overall.rows), abs=1e-12)


def test_one_failure(tmp_path):
    # One row in 2048 lies above the largest but one: the limit goes between the two.
    inputs = {"x1": normal(0, 1), "x2": normal(0, 1)}
    free = study_of("weighted_sum", "y]\nat_most = 99", **inputs)
    path = tmp_path / "free.toml"
    path.write_text(free + "[sampling]\nseed = 1\npoints = 64\n", encoding="utf-8")
    plan = plan_run(read_study(path, (MODELS,)), keep_samples=True)
    rows = np.concatenate([s.sample["y"] for s in run_replicates(plan, workers=1)])
    limit = float(np.sort(rows)[-2:].mean())
    text = study_of("weighted_sum", f"y]\nat_most = {limit!r}", **inputs)
    overall = run(tmp_path, text, points=64).overall
    assert (overall.failures, overall.rows) == (1, 2048)
    assert overall.method == "clopper-pearson"
    # The beta quantiles of Clopper and Pearson: Student between the replicates would go
    # beyond 1.
    assert overall.low == pytest.approx(1.0 - stats.beta.ppf(0.975, 2, 2047), abs=1e-12)
    assert overall.high == pytest.approx(1.0 - stats.beta.ppf(0.025, 1, 2048), abs=1e-12)
    assert overall.low < overall.value < overall.high < 1.0


@pytest.mark.parametrize("failures", range(0, 10))
def test_few_failures_use_the_exact_interval(failures):
    passes = np.full(16, 1024)
    passes[:failures] -= 1
    found = proportion(passes, 1024, 0.95)
    assert found.method == "clopper-pearson"
    assert found.failures == failures
    assert found.low < 1.0
    assert found.high == 1.0 if failures == 0 else found.high < 1.0


def test_replicates_that_agree_use_the_exact_interval():
    # 50 failures in every replicate: Student's interval would have no width.
    found = proportion(np.full(16, 974), 1024, 0.95)
    assert found.method == "clopper-pearson"
    assert found.low < found.value < found.high


def test_many_failures_use_student():
    passes = np.array([970, 974, 976, 972, 975, 973, 977, 971])
    found = proportion(passes, 1024, 0.95)
    assert found.method == "student"
    mean, half = passes.mean(), stats.t.ppf(0.975, 7) * stats.sem(passes)
    assert (found.low, found.high) == pytest.approx(((mean - half) / 1024, (mean + half) / 1024))
