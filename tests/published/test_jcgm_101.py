"""The worked examples of JCGM 101:2008, clause 9, through a study file and the command.

JCGM 101:2008, *Evaluation of measurement data - Supplement 1 to the "Guide to the expression of
uncertainty in measurement" - Propagation of distributions using a Monte Carlo method*. Its
figures, called printed below, are from memory: the text was not at hand. Each has beside it
an exact value, in closed form or by quadrature here, and that is the strict check; the
printed one, itself rounded and of a million trials, is the looser.

How near is near enough:

- mean and standard deviation: twice the half-width of their own stated intervals, which must
  themselves be narrower than the last printed digit;
- quantiles: four standard errors of a quantile of so many independent draws,
  ``sqrt(p (1 - p)/n)/f(q)``. A scrambled sequence does no worse than independent draws;
- printed ends of an interval: the numerical tolerance of 7.9.2 for two digits of u, which is
  all that the clause claims for them;
- a shortest interval is flat about its place, so its width and its coverage under the exact
  distribution are compared, not its ends.
"""

import json
from pathlib import Path

import numpy as np
import pytest
from scipy import optimize, stats
from typer.testing import CliRunner

from sensitivity.command_line.app import app

MODELS = Path(__file__).with_name("statistics_models.py")
REPLICATES, POINTS = 16, 32_768
ROWS = 2 * REPLICATES * POINTS  # both samples of every replicate
ROOT_3 = 3.0**0.5


def run(folder, text):
    """Run a study through the command, and read what it prints as JSON."""
    study = folder / "study.toml"
    study.write_text(text, encoding="utf-8")
    call = ["run", str(study), "--model-file", str(MODELS), "--out", str(folder / "results")]
    size = ["--seed", "101", "--replicates", str(REPLICATES), "--points", str(POINTS)]
    answer = CliRunner().invoke(app, [*call, *size, "--workers", "1", "--json"])
    assert answer.exit_code == 0, answer.stderr
    assert not answer.stderr
    found = json.loads(answer.stdout)
    assert found == json.loads((folder / "results" / "result.json").read_text("utf-8"))
    assert (found["replicates"], found["points"]) == (REPLICATES, POINTS)
    return found


def holds(estimate, exact, digit):
    """Assert an estimate within twice its own half-width, that half-width below half a digit."""
    low, high = estimate["interval"]
    assert low <= estimate["estimate"] <= high
    assert high - low < digit
    assert abs(estimate["estimate"] - exact) <= high - low, (estimate, exact)


def quantile_error(share, density):
    """Four standard errors of the quantile ``share`` of `ROWS` independent draws."""
    return 4.0 * (share * (1.0 - share) / ROWS) ** 0.5 / density


def guided_interval(output, centre, u):
    """Assert the interval of first-order propagation, k = 1.96 (JCGM 100:2008, G.2.3)."""
    expected = [centre - 1.959963985 * u, centre + 1.959963985 * u]
    assert output["root_sum_square"] == pytest.approx(expected, abs=1e-6 * max(u, 1e-9))


# 9.2: Y = X1 + X2 + X3 + X4


def sum_of_rectangles(y, halves):
    """Distribution function of a sum of centred rectangular variables of these half-widths.

    The piecewise polynomial ``sum over signs of s (y + sum s_i h_i)_+^n / (n! 2^n prod h_i)``,
    s the product of the signs (Feller, *An Introduction to Probability Theory*, II, I.9; from
    memory).
    """
    count = len(halves)
    signs = np.array(np.meshgrid(*[(-1.0, 1.0)] * count)).reshape(count, -1)
    shifted = np.maximum(y + signs.T @ np.asarray(halves), 0.0) ** count
    scale = np.prod(np.arange(1, count + 1)) * 2.0**count * np.prod(halves)
    return float(np.prod(signs, axis=0) @ shifted / scale)


def inputs_of_sum(*spreads):
    lines = [f"[inputs.x{number}]\n{spread}\n" for number, spread in enumerate(spreads, 1)]
    return 'models = ["weighted_sum"]\n' + "".join(lines)


NORMAL, RECTANGULAR = "standard_deviation = 1", f"plus_minus = {ROOT_3}"
ADDITIVE = {
    # clause: inputs, exact u, exact and printed end of the 95 % interval, digit of the print
    "9.2.2": (4 * [NORMAL], 2.0, 3.919927969, 3.92, 0.01),
    "9.2.3": (4 * [RECTANGULAR], 2.0, 2.0 * ROOT_3 * (2.0 - 0.6**0.25), 3.88, 0.01),
    "9.2.4": (
        [*(3 * [RECTANGULAR]), f"plus_minus = {10 * ROOT_3}"],
        103.0**0.5,
        17.015814100,
        17.0,
        0.1,
    ),
}


def additive_distribution(clause):
    if clause == "9.2.2":
        return lambda y: float(stats.norm.cdf(y, scale=2.0))
    last = 10.0 if clause == "9.2.4" else 1.0
    return lambda y: sum_of_rectangles(y, [ROOT_3, ROOT_3, ROOT_3, last * ROOT_3])


@pytest.mark.parametrize("clause", ADDITIVE)
def test_exact_ends_of_additive_model(clause):
    # The reference itself, by the distribution function; statistics-sources 1.3 has the same.
    _, _, end, printed, digit = ADDITIVE[clause]
    distribution = additive_distribution(clause)
    assert distribution(end) == pytest.approx(0.975, abs=1e-9)
    assert distribution(-end) == pytest.approx(0.025, abs=1e-9)
    assert end == pytest.approx(printed, abs=0.5 * digit)


@pytest.mark.parametrize("clause", ADDITIVE)
def test_moments_of_additive_model(clause, tmp_path):
    spreads, u, _, _, digit = ADDITIVE[clause]
    found = run(tmp_path, inputs_of_sum(*spreads))["outputs"]["y"]
    # JCGM 101:2008, tables 2 to 4: y 0; u 2.0, 2.0, 10.1
    assert found["mean"]["estimate"] == pytest.approx(0.0, abs=digit)
    assert round(found["standard_deviation"]["estimate"], 1) == round(u, 1)
    holds(found["mean"], 0.0, digit)
    holds(found["standard_deviation"], u, digit)


@pytest.mark.parametrize("clause", ADDITIVE)
def test_intervals_of_additive_model(clause, tmp_path):
    spreads, u, end, printed, _ = ADDITIVE[clause]
    found = run(tmp_path, inputs_of_sum(*spreads))["outputs"]["y"]
    distribution = additive_distribution(clause)

    def density(y):
        return (distribution(y + 1e-3) - distribution(y - 1e-3)) / 2e-3

    low, high = found["quantiles"]["0.025"], found["quantiles"]["0.975"]
    error = quantile_error(0.025, density(end))
    assert (low, high) == pytest.approx((-end, end), abs=error)
    assert abs(found["quantiles"]["0.5"]) < quantile_error(0.5, density(0.0))
    # 7.9.2: half of the last of two digits of u = 2.0, and of 10
    tolerance = 0.05 if u == 2.0 else 0.5
    assert (low, high) == pytest.approx((-printed, printed), abs=tolerance)
    start, stop = found["shortest_interval"]["interval"]
    assert stop - start == pytest.approx(2.0 * end, abs=2.0 * error)
    assert distribution(stop) - distribution(start) == pytest.approx(0.95, abs=0.001)

    # First-order propagation, printed: +-3.92, +-3.92, +-19.9
    guided_interval(found, 0.0, u)


def test_root_sum_square_of_a_dominant_rectangle_is_too_wide(tmp_path):
    # 9.2.4, table 4: 19.9 by first-order propagation against 17.0.
    found = run(tmp_path, inputs_of_sum(*ADDITIVE["9.2.4"][0]))["outputs"]["y"]
    assert found["root_sum_square"] == pytest.approx([-19.8915, 19.8915], abs=5e-5)
    assert found["quantiles"]["0.975"] < 17.1


# 9.3: mass calibration

MASS = """
models = ["mass_calibration"]
[inputs.reference_mass]
nominal = "100000.000 mg"
standard_deviation = "0.050 mg"
[inputs.added_mass]
nominal = "1.234 mg"
standard_deviation = "0.020 mg"
[inputs.air_density]
nominal = "1.20 kg/m3"
between = ["1.10 kg/m3", "1.30 kg/m3"]
shape = "rectangular"
[inputs.weight_density]
nominal = "8 g/cm3"
between = ["7 g/cm3", "9000 kg/m3"]
[inputs.reference_density]
nominal = "8000 kg/m3"
plus_minus = "50 kg/m3"
"""


def mass_distribution():
    """Distribution function and density of 9.3 by Gauss-Legendre quadrature of the densities.

    Given the three densities the deviation is normal, so that only they are integrated over.
    """
    nodes, weights = np.polynomial.legendre.leggauss(40)
    air, weight, reference = np.meshgrid(
        1.2 + 0.1 * nodes, 8000.0 + 1000.0 * nodes, 8000.0 + 50.0 * nodes, indexing="ij"
    )
    chance = np.einsum("i,j,k->ijk", weights, weights, weights).ravel() / 8.0
    factor = (1.0 + (air - 1.2) * (1.0 / weight - 1.0 / reference)).ravel()
    centre, scale = 100_001.234 * factor - 100_000.0, np.hypot(0.050, 0.020) * factor

    def moments():
        mean = chance @ centre
        return float(mean), float(np.sqrt(chance @ ((centre - mean) ** 2 + scale**2)))

    def distribution(y):
        return float(chance @ stats.norm.cdf((y - centre) / scale))

    def density(y):
        return float(chance @ (stats.norm.pdf((y - centre) / scale) / scale))

    return moments(), distribution, density


def test_mass_calibration(tmp_path):
    (mean, u), distribution, density = mass_distribution()
    low = optimize.brentq(lambda y: distribution(y) - 0.025, 0.9, 1.2)
    high = optimize.brentq(lambda y: distribution(y) - 0.975, 1.2, 1.6)
    # The quadrature against that of statistics-sources 1.4, whose ends leave the buoyancy out
    # of the scale of the normal part: a few millionths of 0.05 mg.
    assert (mean, u) == pytest.approx((1.234, 0.075479740), abs=2e-9)
    assert (low, high) == pytest.approx((1.084433260, 1.383566740), abs=1e-7)

    found = run(tmp_path, MASS)["outputs"]["deviation"]
    holds(found["mean"], mean, 0.0001)
    holds(found["standard_deviation"], u, 0.0001)
    # Table 6: 1.2341 (of 0.72e6 trials, so +-0.0001), 0.0754 against the exact 0.07548
    assert found["mean"]["estimate"] == pytest.approx(1.2341, abs=2e-4)
    assert found["standard_deviation"]["estimate"] == pytest.approx(0.0754, abs=1.5e-4)

    quantiles = found["quantiles"]
    assert quantiles["0.025"] == pytest.approx(low, abs=quantile_error(0.025, density(low)))
    assert quantiles["0.975"] == pytest.approx(high, abs=quantile_error(0.025, density(high)))
    start, stop = found["shortest_interval"]["interval"]
    width = 0.299133481
    assert stop - start == pytest.approx(width, abs=2 * quantile_error(0.025, density(low)))
    assert stop - start == pytest.approx(1.3825 - 1.0834, abs=1e-3)  # 7.9.2: two ends of 0.0005
    assert distribution(stop) - distribution(start) == pytest.approx(0.95, abs=0.001)


def test_root_sum_square_of_mass_calibration_sees_no_density(tmp_path):
    # 9.3.2.2: u 0.0539, [1.1285, 1.3395]: every density's sensitivity is nothing at the
    # estimate, so that first-order propagation is short by two fifths.
    found = run(tmp_path, MASS)["outputs"]["deviation"]
    guided_interval(found, 1.234, 0.053851648)
    assert found["root_sum_square"] == pytest.approx([1.1285, 1.3395], abs=5e-5)


# 9.4: comparison loss in microwave power meter calibration

U = 0.005
LOSSES = [
    # r, x1, exact y and u in 1e-6, printed y, u and shortest 95 % interval in 1e-6 (tables 8, 9)
    (0.0, 0.0, 50.0, 50.0, (50, 50, 0, 150)),
    (0.0, 0.010, 150.0, 111.803399, (150, 112, 0, 367)),
    (0.0, 0.050, 2550.0, 502.493781, (2551, 502, 1590, 3543)),
    (0.9, 0.0, 50.0, 67.268120, (50, 67, 0, 185)),
    (0.9, 0.010, 150.0, 120.519708, (150, 121, 13, 398)),
    (0.9, 0.050, 2550.0, 504.504708, (2551, 505, 1628, 3555)),
]
# The same, exact: shortest and symmetric 95 % interval in 1e-6 (statistics-sources 1.5).
EXACT_INTERVALS = {
    (0.0, 0.0): (0.0, 149.787, 1.2659, 184.444),
    (0.0, 0.010): (0.0, 366.005, 8.5468, 427.123),
    (0.0, 0.050): (1593.57, 3548.57, 1638.48, 3603.36),
    (0.9, 0.0): (0.0, 185.056, 0.5610, 241.217),
    (0.9, 0.010): (12.652, 397.479, 29.081, 478.311),
    (0.9, 0.050): (1624.42, 3554.68, 1696.86, 3659.80),
}


def loss_distribution(loss, r, x1):
    """P(X1^2 + X2^2 <= loss) by quadrature over the angle of X1.

    X1 = sqrt(loss) sin t covers the disc; given X1, X2 is normal about r (X1 - x1) with
    standard deviation u sqrt(1 - r^2).
    """
    radius, rest = np.sqrt(max(loss, 0.0)), U * np.sqrt(1.0 - r**2)
    nodes, weights = np.polynomial.legendre.leggauss(400)
    angle = 0.5 * np.pi * nodes
    first, half = radius * np.sin(angle), radius * np.cos(angle)
    centre = r * (first - x1)
    inside = stats.norm.cdf((half - centre) / rest) - stats.norm.cdf((-half - centre) / rest)
    chance = stats.norm.pdf(first, loc=x1, scale=U) * radius * np.cos(angle) * 0.5 * np.pi
    return float(weights @ (chance * inside))


def loss_study(r, x1, *, grouped=True):
    group = 'group = "reflection"' if grouped else ""
    text = f"""
models = ["comparison_loss"]
[inputs.x1]
nominal = {x1}
standard_deviation = {U}
{group}
[inputs.x2]
nominal = 0
standard_deviation = {U}
{group}
"""
    if r:
        # r is Pearson's of the two normals; a Gaussian copula states its rank correlation.
        rank = 6.0 / np.pi * np.arcsin(0.5 * r)
        text += f'[[correlations]]\ninputs = ["x1", "x2"]\nrank = {rank}\n'
    return text


@pytest.mark.parametrize(("r", "x1"), EXACT_INTERVALS)
def test_exact_ends_of_comparison_loss(r, x1):
    start, stop, low, high = EXACT_INTERVALS[r, x1]
    share = [loss_distribution(end * 1e-6, r, x1) for end in (start, stop, low, high)]
    # The ends have five digits or so.
    assert share[1] - share[0] == pytest.approx(0.95, abs=2e-5)
    assert (share[2], share[3]) == pytest.approx((0.025, 0.975), abs=2e-5)
    if r == 0.0:  # a non-central chi-squared variable: SciPy
        expected = stats.ncx2.cdf(stop * 1e-6 / U**2, 2, (x1 / U) ** 2 or 1e-12)
        assert share[1] == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(("r", "x1", "y", "u", "printed"), LOSSES)
def test_comparison_loss(r, x1, y, u, printed, tmp_path):
    assert y == pytest.approx(1e6 * (x1**2 + 2 * U**2))
    variance = 4 * x1**2 * U**2 + 4 * U**4 * (1 + r**2)  # of a quadratic form of normals
    assert u == pytest.approx(1e6 * variance**0.5, abs=1e-6)

    document = run(tmp_path, loss_study(r, x1))
    found = document["outputs"]["loss"]
    micro = {
        key: {"estimate": 1e6 * value["estimate"], "interval": [1e6 * v for v in value["interval"]]}
        for key, value in found.items()
        if key in ("mean", "standard_deviation")
    }
    holds(micro["mean"], y, 1.0)
    holds(micro["standard_deviation"], u, 1.0)
    # Tables 8 and 9, in whole micro-units; their own trials leave +-1 in the last digit
    assert micro["mean"]["estimate"] == pytest.approx(printed[0], abs=1.5)
    assert micro["standard_deviation"]["estimate"] == pytest.approx(printed[1], abs=1.0)

    start, stop, low, high = EXACT_INTERVALS[r, x1]
    for share, exact in (("0.025", low), ("0.975", high)):
        step = 1e-3 * exact
        density = (
            loss_distribution((exact + step) * 1e-6, r, x1)
            - loss_distribution((exact - step) * 1e-6, r, x1)
        ) / (2.0 * step)
        assert 1e6 * found["quantiles"][share] == pytest.approx(
            exact, abs=quantile_error(0.025, density)
        )
    begin, end = (1e6 * value for value in found["shortest_interval"]["interval"])
    # 7.9.2 with two digits of u: +-0.5 for 50 and 67, +-5 for 112 to 505.
    tolerance = 0.5 if u < 100 else 5.0
    assert end - begin == pytest.approx(stop - start, abs=tolerance)
    assert end - begin == pytest.approx(printed[3] - printed[2], abs=2 * tolerance)
    covered = loss_distribution(end * 1e-6, r, x1) - loss_distribution(begin * 1e-6, r, x1)
    assert covered == pytest.approx(0.95, abs=0.001)

    # First order: u = 2 x1 u(x1), nothing at x1 = 0; printed for r = 0: 0, 100, 500 with
    # [0, 0], [-96, 296] and [1520, 3480] (table 8).
    expected = [1e6 * (x1**2 - 1.959963985 * 2 * x1 * U), 1e6 * (x1**2 + 1.959963985 * 2 * x1 * U)]
    assert [1e6 * value for value in found["root_sum_square"]] == pytest.approx(expected, abs=0.01)

    # All of the spread is the group's.
    for order in ("first", "total"):
        holds(document["sensitivity"]["loss"]["reflection"][order], 1.0, 0.005)


def test_correlated_inputs_without_a_group_have_no_indices(tmp_path):
    document = run(tmp_path, loss_study(0.9, 0.010, grouped=False))
    assert "loss" not in document["sensitivity"]
    assert "x1 and x2 are correlated" in document["no_indices"]["loss"]
    assert "same group" in document["no_indices"]["loss"]
    holds(document["outputs"]["loss"]["mean"], 150e-6, 1e-6)  # the rest of the answer stands
