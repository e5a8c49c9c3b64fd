"""What is known of a part with what was seen: against closed forms.

Each is derived where it stands; the figures are those of section B of the statistics' design, which
were computed there in closed form or by quadrature, and are computed here anew.
"""

from pathlib import Path

import numpy as np
import pytest
from scipy import integrate, stats

from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import plan_run
from sensitivity.learning.band import band_of
from sensitivity.learning.conflict import ConflictError
from sensitivity.learning.marginals import mixture
from sensitivity.learning.observations import EventSeen, Trial, ValueSeen
from sensitivity.learning.own_readings import told
from sensitivity.learning.posterior import posterior
from sensitivity.learning.rows import _led, events_no_likelier
from sensitivity.learning.space import KnownPhysics, space_of
from sensitivity.learning.weights import effective, log_density, normalised, weighted_mean
from sensitivity.spreads.spread import bounded, normal
from sensitivity.study.file import read_study

MODELS = str(Path(__file__).with_name("learning_models.py"))
ONE = RunOptions(workers=1)
PHI, DENSITY = stats.norm.cdf, stats.norm.pdf


@pytest.fixture
def plan_of(tmp_path):
    """Plan a study of one model: its inputs' standard deviations, its kinds and its limits."""

    def plan(model, inputs, *, kinds=None, limits=(), seed=3):
        text = f'models = ["{model}"]\n'
        for name, spread in inputs.items():
            text += f'[inputs.{name}]\nnominal = "0 mm"\n'
            text += (
                f"{spread}\n"
                if isinstance(spread, str)
                else f'standard_deviation = "{spread} mm"\n'
            )
            text += f'kind = "{(kinds or {}).get(name, "build")}"\n'
        for result in limits:
            text += f'[limits.{result}]\nat_least = "0 mm"\n'
        text += f"[sampling]\nseed = {seed}\npoints = 64\n"
        path = tmp_path / "study.toml"
        path.write_text(text, encoding="utf-8")
        return plan_run(read_study(path, (MODELS,)), indices=False)

    return plan


def close(found, wanted, least=2e-3):
    """Whether an estimate is within twice its interval of what it should be."""
    return abs(found.value - wanted) <= max(2.0 * found.half_width, least)


def deviation(found, name):
    """Standard deviation of an input in a posterior."""
    mean = found.mean(found.values[name]).value
    return found.mean((found.values[name] - mean) ** 2).value ** 0.5


THREE = {"x1": 1.0, "x2": 1.0, "x3": 0.5}


def normal_posterior(variances, rows, seen, errors):
    """Posterior mean and covariance of independent normals of which sums were read.

    With A the sums' coefficients, S the prior and R the errors' variances: the gain is
    K = S A' (A S A' + R)^-1, the mean K y and the covariance S - K A S (linear normal theory).
    """
    prior, a = np.diag(variances), np.array(rows, dtype=float)
    whole = a @ prior @ a.T + np.diag(np.square(errors))
    gain = prior @ a.T @ np.linalg.inv(whole)
    chi2 = float(seen @ np.linalg.solve(whole, seen))
    peak = -0.5 * (chi2 + np.linalg.slogdet(whole)[1]) + np.log(errors).sum()
    return gain @ seen, prior - gain @ a @ prior, chi2, peak


def test_two_sums_read(plan_of):
    """x1 + x2 + x3 = 1.2 +- 0.1 and x1 - x2 = 0.4 +- 0.2, variances 1, 1 and 0.25."""
    mean, covariance, chi2, peak = normal_posterior(
        (1.0, 1.0, 0.25), [(1, 1, 1), (1, -1, 0)], np.array([1.2, 0.4]), np.array([0.1, 0.2])
    )
    assert mean == pytest.approx([0.7270519, 0.3348950, 0.1327434], abs=1e-7)
    assert np.sqrt(np.diag(covariance)) == pytest.approx(
        [0.2594726, 0.2594726, 0.4715349], abs=1e-7
    )
    assert (chi2, peak) == pytest.approx((0.7155995, -5.033980), abs=1e-6)
    seen = (
        ValueSeen("total", 1.2, normal(0.0, 0.1)),
        ValueSeen("difference", 0.4, normal(0.0, 0.2)),
    )
    found = posterior(plan_of("three_parts", THREE), (Trial("bench", seen=seen),), options=ONE)
    assert found.method == "solved"
    for name, wanted, square in zip(THREE, mean, np.diag(covariance), strict=True):
        assert close(found.mean(found.values[name]), wanted)
        assert deviation(found, name) == pytest.approx(square**0.5, rel=0.02)
    # Density less the peaks of the readings' own: 1/(s sqrt(2 pi)) each.
    own = -np.log(0.1 * 0.2 * 2.0 * np.pi)
    assert found.log_evidence - own == pytest.approx(peak, abs=0.01)
    # chi2 with two degrees of freedom is further out with probability exp(-chi2/2).
    assert found.conflict.together == pytest.approx(np.exp(-0.5 * chi2), abs=0.015)
    assert np.exp(-0.5 * chi2) == pytest.approx(0.6992131, abs=1e-7)
    pair = found.values["x1"] + found.values["x3"]
    assert close(found.mean((pair <= 1.0).astype(float)), 0.7040069, least=0.005)
    before = posterior(plan_of("three_parts", THREE), (), options=ONE)
    pair = before.values["x1"] + before.values["x3"]
    assert close(before.mean((pair <= 1.0).astype(float)), 0.8144533, least=0.002)


def test_a_sum_read_fine(plan_of):
    """The sum read 1 with 0.02, when it varies by 1.5: what weights alone would lose is kept."""
    mean, covariance, _, _ = normal_posterior(
        (1.0, 1.0, 0.25), [(1, 1, 1)], np.array([1.0]), np.array([0.02])
    )
    assert mean == pytest.approx([0.4443654, 0.4443654, 0.1110914], abs=1e-7)
    trial = Trial("bench", seen=(ValueSeen("total", 1.0, normal(0.0, 0.02)),))
    found = posterior(plan_of("three_parts", THREE), (trial,), options=ONE)
    assert found.method == "solved"
    for name, wanted in zip(THREE, mean, strict=True):
        assert close(found.mean(found.values[name]), wanted)
    for name, wanted in zip(THREE, (0.7454090, 0.7454090, 0.4714098), strict=True):
        assert deviation(found, name) == pytest.approx(wanted, rel=0.01)
    together = found.mean(found.values["x1"] * found.values["x2"]).value - mean[0] * mean[1]
    assert together / 0.7454090**2 == pytest.approx(-0.7997441, abs=0.01)
    assert covariance[0, 1] / 0.7454090**2 == pytest.approx(-0.7997441, abs=1e-6)
    # Every row has the reading, as near as a hundredth of the gauge's own deviation and less.
    total = sum(found.values[name] for name in THREE)
    assert np.abs(total - 1.0).max() < 6.0 * 0.02


@pytest.mark.parametrize(("share", "wanted"), [(0.9, 0.99499), (0.5, 0.86603), (0.3, 0.71414)])
def test_rows_left_by_a_pivot(plan_of, share, wanted):
    """A pivot with a share a of the variance, the reading at its mean.

    The pivot's root is normal with variance tau^2 = (1 - a)/a, and the weight is the standard
    normal density there: (E w)^2 / E w^2 = sqrt(1 + 2 tau^2) / (1 + tau^2).
    """
    tau2 = (1.0 - share) / share
    exact = np.sqrt(1.0 + 2.0 * tau2) / (1.0 + tau2)
    assert exact == pytest.approx(wanted, abs=1e-5)
    rest = ((1.0 - share) / 7.0) ** 0.5
    inputs = {f"p{n}": share**0.5 if n == 1 else rest for n in range(1, 9)}
    trial = Trial("bench", seen=(ValueSeen("whole", 0.0, normal(0.0, 1e-4)),))
    found = posterior(plan_of("eight_parts", inputs), (trial,), options=ONE)
    assert found.method == "solved"
    assert found.ess / found.weights.size == pytest.approx(exact, abs=0.004)


@pytest.mark.parametrize(("ratio", "wanted"), [(0.01, 0.01414), (0.1, 0.14037)])
def test_rows_left_by_weights_alone(ratio, wanted):
    """A normal gauge of deviation s on a result of N(0, 1), read at its mean.

    E w = 1/sqrt(1 + 1/s^2) and E w^2 = 1/sqrt(1 + 2/s^2), so that their ratio (E w)^2 / E w^2 is
    sqrt(1 + 2/s^2) / (1 + 1/s^2): near sqrt(2) s where s is small.
    """
    exact = np.sqrt(1.0 + 2.0 / ratio**2) / (1.0 + 1.0 / ratio**2)
    assert exact == pytest.approx(wanted, abs=1e-5)
    rows = stats.norm.ppf((np.arange(1 << 16) + 0.5) / (1 << 16))
    weights = np.exp(log_density(normal(0.0, ratio), -rows))
    assert effective(weights) / rows.size == pytest.approx(exact, rel=1e-3)


def test_a_coarse_gauge_weighs_all_rows(plan_of):
    """The sum of three, N(0, 1.5), read 4 within +-4: the normal from 0 to 8.

    Few roots meet an error drawn so wide, and weights of one and nothing do. The sum's mean is
    1.5 (phi(0) - phi(8/1.5)) / (Phi(8/1.5) - Phi(0)), and x1 has 1/2.25 of it.
    """
    trial = Trial("bench", seen=(ValueSeen("total", 4.0, bounded("rectangular", -4.0, 4.0)),))
    found = posterior(plan_of("three_parts", THREE), (trial,), options=ONE, believe=True)
    total = 1.5 * (DENSITY(0.0) - DENSITY(8.0 / 1.5)) / (PHI(8.0 / 1.5) - 0.5)
    assert found.method in ("solved", "weights")
    assert close(found.mean(found.values["x1"]), total / 2.25)
    assert found.log_evidence == pytest.approx(np.log(0.5 / 8.0), abs=0.02)


def test_an_input_read_with_hard_ends():
    """x ~ N(0, 1) read 0.5 +- 0.1 rectangular: the normal cut off at 0.4 and 0.6.

    Its mean is (phi(0.4) - phi(0.6)) / (Phi(0.6) - Phi(0.4)), and the evidence the divisor over
    the reading's width.
    """
    table, likely = told(normal(0.0, 1.0), [ValueSeen("x", 0.5, bounded("rectangular", -0.1, 0.1))])
    divisor = PHI(0.6) - PHI(0.4)
    assert divisor == pytest.approx(0.0703251, abs=1e-7)
    assert np.exp(likely) * 0.2 == pytest.approx(divisor, rel=1e-5)
    shares = (np.arange(20000) + 0.5) / 20000
    mean = np.interp(stats.norm.ppf(shares), table.scores, table.values).mean()
    assert (DENSITY(0.4) - DENSITY(0.6)) / divisor == pytest.approx(0.4983358, abs=1e-7)
    assert mean == pytest.approx(0.4983358, abs=1e-5)


def test_an_input_read_twice(plan_of):
    """Precisions add up: 1 + 4 + 16, so the mean is (4 * 0.6 + 16 * 0.3) / 21; others stay."""
    seen = (ValueSeen("x1", 0.6, normal(0.0, 0.5)), ValueSeen("x1", 0.3, normal(0.0, 0.25)))
    found = posterior(plan_of("three_parts", THREE), (Trial("bench", seen=seen),), options=ONE)
    assert close(found.mean(found.values["x1"]), 7.2 / 21.0, least=1e-4)
    assert deviation(found, "x1") == pytest.approx(21.0**-0.5, rel=1e-3)
    assert close(found.mean(found.values["x2"]), 0.0)
    # Both readings are normal: variances 1.25 and 1.0625, covariance 1.
    exact = stats.multivariate_normal([0.0, 0.0], [[1.25, 1.0], [1.0, 1.0625]])
    assert found.log_evidence == pytest.approx(exact.logpdf([0.6, 0.3]), abs=1e-4)


def test_an_input_and_the_sum_read_together(plan_of):
    """x1 read 0.5 +- 0.3 rectangular and the sum 1.5 +- 0.2: by quadrature over x1.

    Given x1, the sum less x1 is normal with variance 1 + 0.25 + 0.04.
    """
    seen = (
        ValueSeen("x1", 0.5, bounded("rectangular", -0.3, 0.3)),
        ValueSeen("total", 1.5, normal(0.0, 0.2)),
    )
    found = posterior(plan_of("three_parts", THREE), (Trial("bench", seen=seen),), options=ONE)

    def weight(x):
        return DENSITY(x) * stats.norm.pdf(1.5 - x, scale=1.29**0.5) / 0.6

    evidence = integrate.quad(weight, 0.2, 0.8)[0]
    mean = integrate.quad(lambda x: x * weight(x), 0.2, 0.8)[0] / evidence
    assert found.log_evidence == pytest.approx(np.log(evidence), abs=0.01)
    assert close(found.mean(found.values["x1"]), mean, least=1e-3)
    # The rest, 1.5 - x1, is shared between x2 and x3 by their variances.
    assert close(found.mean(found.values["x2"]), (1.5 - mean) / 1.29)


LOAD = {"x1": 1.0, "x2": 1.0}


def test_a_failure_seen(plan_of):
    """0.8 x1 + 0.6 x2 > 1.5 was seen: the load is normal, cut off at 1.5.

    With lambda = phi(1.5)/P(F): E x1 = 0.8 lambda, its variance 1 - 0.64 lambda (lambda - 1.5).
    """
    chance = 1.0 - PHI(1.5)
    rate = DENSITY(1.5) / chance
    plan = plan_of("weighted_load", LOAD, limits=("spare",))
    found = posterior(plan, (Trial("run", seen=(EventSeen("spare", True),)),), options=ONE)
    assert found.method == "weights"
    assert (chance, 0.8 * rate) == pytest.approx((0.0668072, 1.5509417), abs=1e-7)
    # Two deviations of as many independent rows.
    least = 2.0 * (chance * (1.0 - chance) / found.weights.size) ** 0.5
    assert np.exp(found.log_evidence) == pytest.approx(chance, abs=least)
    assert close(found.mean(found.values["x1"]), 0.8 * rate)
    assert deviation(found, "x1") ** 2 == pytest.approx(0.4557098, rel=0.03)
    for name, beyond, wanted in (
        ("x1", 2.0, 0.2470681), ("x2", 2.0, 0.1573135),
    ):  # fmt: skip
        flags = (np.abs(found.values[name]) > beyond).astype(float)
        assert close(found.mean(flags), wanted, least=0.01)
    assert close(found.mean((found.values["x1"] > 1.0).astype(float)), 0.7926160, least=0.01)
    kept = posterior(plan, (Trial("run", seen=(EventSeen("spare", False),)),), options=ONE)
    assert close(kept.mean(kept.values["x1"]), -0.1110318)
    assert close(kept.mean((kept.values["x1"] > 1.0).astype(float)), 0.1132700)


def test_a_failure_seen_in_a_square(plan_of):
    """Two of 0..1 whose sum was over 1.5: the corner, in which P(x1 > 0.9) = 0.36 and E = 5/6.

    The corner's area is 1/8; beyond x1 = 0.9 it has 0.1 * 0.45 of it.
    """
    between = dict.fromkeys(LOAD, 'between = ["0 mm", "1 mm"]')
    plan = plan_of("corner", between, limits=("room",))
    found = posterior(plan, (Trial("run", seen=(EventSeen("room", True),)),), options=ONE)
    assert close(found.mean((found.values["x1"] > 0.9).astype(float)), 0.36, least=0.01)
    assert close(found.mean(found.values["x1"]), 5.0 / 6.0)


def test_a_rare_failure_is_come_to_by_levels(plan_of):
    """The load was over 4.2, seen at a strength that a trial holds: 1.3 in 100,000.

    Of the part at strength s: E x1 = 0.8 lambda(s).
    """
    plan = plan_of("weighted_load", {"x1": 0.5, "x2": 0.5}, limits=("spare",))
    chance = 1.0 - PHI(3.0)
    rate = DENSITY(3.0) / chance
    trial = Trial("run", seen=(EventSeen("spare", True),))
    found = posterior(plan, (trial,), options=ONE, believe=True)
    assert found.method == "tempered"
    assert np.exp(found.log_evidence) == pytest.approx(chance, rel=0.15)
    assert close(found.mean(found.values["x1"]), 0.5 * 0.8 * rate, least=0.01)
    assert deviation(found, "x1") ** 2 == pytest.approx(
        0.25 * (1.0 - 0.64 * rate * (rate - 3.0)), rel=0.1
    )
    assert found.conflict.there
    assert found.conflict.expected[0].probability == pytest.approx(chance, abs=6e-4)


@pytest.mark.parametrize(("burners", "wanted"), [(1, 0.2672612), (3, 0.1714986), (10, 0.0980581)])
def test_physics_from_some_burners(plan_of, burners, wanted):
    """m ~ N(0, 0.5); each burner is off by its own N(0, 0.3), and read with 0.1.

    Precisions add up: 1/0.25 + n/(0.09 + 0.01).
    """
    exact = (1.0 / 0.25 + burners / 0.1) ** -0.5
    assert exact == pytest.approx(wanted, abs=1e-7)
    plan = plan_of("gauged", {"m": 0.5, "own": 0.3}, kinds={"m": "model", "own": "running"})
    read = 0.4 + 0.2 * np.cos(np.arange(burners))
    trials = [
        Trial(f"burner {n}", seen=(ValueSeen("height", float(y), normal(0.0, 0.1)),))
        for n, y in enumerate(read)
    ]
    found = posterior(plan, trials, options=ONE)
    assert deviation(found, "m") == pytest.approx(exact, rel=0.05)
    assert close(found.mean(found.values["m"]), read.sum() / 0.1 * exact**2, least=0.004)


def test_physics_handed_on_from_burner_to_burner(plan_of):
    """Mean and covariance of the score of m after one burner, then two more: as all at once."""
    plan = plan_of("gauged", {"m": 0.5, "own": 0.3}, kinds={"m": "model", "own": "build"})
    read, known = (0.35, 0.7, 0.5), None
    for number, y in enumerate(read):
        trial = Trial(f"burner {number}", seen=(ValueSeen("height", y, normal(0.0, 0.1)),))
        found = posterior(plan, (trial,), options=ONE, physics=known)
        mean = found.mean(found.z["m"]).value
        square = found.mean((found.z["m"] - mean) ** 2).value
        known = KnownPhysics(("m",), np.array([mean]), np.array([[square]]))
    assert 0.5 * square**0.5 == pytest.approx(0.1714986, rel=0.01)
    assert 0.5 * mean == pytest.approx(sum(read) / 0.1 * 0.1714986**2, abs=0.004)


def test_either_sign_is_kept_where_no_input_answers_for_a_reading(plan_of):
    """x1^2 read 4 +- 0.1: x1 is near 2 or -2, as likely each; E x1^2 from quadrature."""
    trial = Trial("bench", seen=(ValueSeen("depth", 4.0, normal(0.0, 0.1)),))
    found = posterior(plan_of("bowl", LOAD), (trial,), options=ONE)

    def weight(x):
        return DENSITY(x) * DENSITY((4.0 - x * x) / 0.1) / 0.1

    evidence = 2.0 * integrate.quad(weight, 1.7, 2.3)[0]
    square = 2.0 * integrate.quad(lambda x: x * x * weight(x), 1.7, 2.3)[0] / evidence
    assert found.method == "tempered"
    assert close(found.mean(found.values["x1"] ** 2), square, least=0.01)
    assert found.log_evidence == pytest.approx(np.log(evidence), abs=0.1)
    assert close(found.mean((found.values["x1"] > 0.0).astype(float)), 0.5, least=0.05)


SEEDS = 20


@pytest.mark.slow
def test_intervals_of_led_particles_cover(plan_of):
    """The sum of three read 1 +- 0.1 and the load above over 4.2: how many of 20 intervals hold.

    With a chance of 0.95 each fewer than 16 of 20 do once in 380 (binomial).
    """
    assert stats.binom.cdf(15, SEEDS, 0.95) < 1.0 / 380.0
    wanted, _, _, _ = normal_posterior((1.0, 1.0, 0.25), [(1, 1, 1)], np.array([1.0]), [0.1])
    chance = 1.0 - PHI(3.0)
    held = np.zeros(2, dtype=int)
    for seed in range(SEEDS):
        plan = plan_of("three_parts", THREE, seed=seed)
        trial = Trial("bench", seen=(ValueSeen("total", 1.0, normal(0.0, 0.1)),))
        found = _led(space_of(plan, (trial,)), None, ONE)
        estimate = weighted_mean(found.weights, found.w[..., 0], 0.95)
        held[0] += estimate.low <= wanted[0] <= estimate.high
        plan = plan_of("weighted_load", {"x1": 0.5, "x2": 0.5}, limits=("spare",), seed=seed)
        space = space_of(plan, (Trial("run", seen=(EventSeen("spare", True),)),))
        found = _led(space, None, ONE)
        estimate = weighted_mean(found.weights, found.w[..., 0], 0.95)
        held[1] += estimate.low <= 0.8 * DENSITY(3.0) / chance <= estimate.high
    assert held.min() >= 16


def test_a_blunder_is_a_possible_answer():
    """As stated, N(0, 1), but for one in ten within +-5: read 3 +- 0.1, by quadrature.

    Of the two the wide one has the greater density at 3 by far: 0.01 against 0.0044 * 0.9.
    """
    wide = bounded("rectangular", -5.0, 5.0)
    table, likely = told(
        mixture(normal(0.0, 1.0), wide, 0.1), [ValueSeen("x", 3.0, normal(0.0, 0.1))]
    )

    def weight(x):
        return (0.9 * DENSITY(x) + 0.01) * DENSITY((3.0 - x) / 0.1) / 0.1

    assert np.exp(likely) == pytest.approx(integrate.quad(weight, 2.0, 4.0)[0], rel=1e-3)
    assert table is not None


def test_band_where_a_reading_told_of_part_and_physics_at_once(plan_of):
    """m ~ N(0, 0.5) and a part of N(0, 0.3) add up to a height, read 0.1 +- 0.1; it is to be >= 0.

    Given m, the part is normal about 0.9 (0.1 - m) with variance 0.009, so that the height is about
    0.1 m + 0.09: W(m) = Phi((0.1 m + 0.09)/0.0948683). m itself is then normal about 0.25/0.35 of
    the reading, with variance 1/(4 + 10). Were part and physics taken apart, W(m) would reach from
    next to none to nearly all.
    """
    plan = plan_of("gauged", {"m": 0.5, "own": 0.3}, kinds={"m": "model"}, limits=("height",))
    trial = Trial("bench", seen=(ValueSeen("height", 0.1, normal(0.0, 0.1)),))
    band = band_of(posterior(plan, (trial,), options=ONE), keeps=0.99, options=ONE)
    middle, deviation = 0.1 * 0.25 / 0.35, 14.0**-0.5
    for end, way in ((band.low, -1.0), (band.high, 1.0)):
        m = middle + way * 1.644854 * deviation
        exact = PHI((0.1 * m + 0.09) / 0.009**0.5)
        assert end.low - 0.01 <= exact <= end.high + 0.01
    assert band.low.value > 0.6


BOUNDED = dict.fromkeys(THREE, 'between = ["-1 mm", "1 mm"]')


def test_what_cannot_be_is_refused_though_it_is_believed(plan_of):
    """Three parts of at most 1 each do not add up to 5; the observation that is enough is named."""
    plan = plan_of("three_parts", BOUNDED)
    seen = (
        ValueSeen("total", 5.0, bounded("rectangular", -0.1, 0.1)),
        ValueSeen("difference", 0.4, normal(0.0, 0.2)),
    )
    trial = Trial("bench", seen=seen)
    with pytest.raises(ConflictError, match="total 5 mm is seen less than once in 5,000"):
        posterior(plan, (trial,), options=ONE)
    with pytest.raises(ConflictError, match="of parts tried, not one has total 5 mm"):
        posterior(plan, (trial,), options=ONE, believe=True)
    alone = (Trial("bench", seen=(ValueSeen("x1", 1.5, bounded("rectangular", -0.1, 0.1)),)),)
    with pytest.raises(ConflictError, match=r"not one has x1 1\.5 mm"):
        posterior(plan, alone, options=ONE, believe=True)


def test_a_conflict_names_what_it_would_move(plan_of):
    """The sum of three read 7: each is moved by 7 times its share of the variance 2.26.

    In deviations s of its own, 1, 1 and 0.5, that is 7 s / 2.26.
    """
    trial = Trial("bench", seen=(ValueSeen("total", 7.0, normal(0.0, 0.1)),))
    with pytest.raises(ConflictError) as refused:
        posterior(plan_of("three_parts", THREE), (trial,), options=ONE)
    moved = {one.name: one.deviations for one in refused.value.conflict.moved}
    for name, deviation in THREE.items():
        assert moved[name] == pytest.approx(7.0 * deviation / 2.26, rel=0.03)


@pytest.mark.parametrize("value", [0.0, 1.0, 3.0, 4.0])
def test_probability_of_a_value_is_its_two_sided_rank(plan_of, value):
    """The sum of three and its gauge is N(0, sqrt(2.26)): 2 Phi(-|y|/s)."""
    trial = Trial("bench", seen=(ValueSeen("total", value, normal(0.0, 0.1)),))
    found = posterior(plan_of("three_parts", THREE), (trial,), options=ONE, believe=True)
    exact = 2.0 * PHI(-value / 2.26**0.5)
    (one,) = found.conflict.expected
    least = 4.0 * np.sqrt(max(exact, 1e-4) / 16384)
    assert one.probability == pytest.approx(exact, abs=least)
    assert found.conflict.there == (exact < 0.01)


def test_events_together_count_the_outcomes_no_likelier(plan_of):
    """Two of three even events: each outcome has 1/8, so that none of the eight is surprising."""
    broken = np.array(
        [[0, 0, 0, 0, 1, 1, 1, 1], [0, 0, 1, 1, 0, 0, 1, 1], [0, 1, 0, 1, 0, 1, 0, 1]]
    )
    seen = np.array([True, True, False])
    assert events_no_likelier(broken == 1, np.ones(8), seen) == pytest.approx(1.0)
    # With one outcome in ten of the others, it and what is no likelier have a tenth.
    weights = np.array([3.0, 3.0, 3.0, 0.0, 0.0, 0.0, 1.0, 0.0])
    assert events_no_likelier(broken == 1, weights, seen) == pytest.approx(0.1)


def test_equal_rows_are_of_the_whole(plan_of):
    """A quarter of the rows as drawn: every fourth point of a Sobol' sequence would not do."""
    rows = posterior(plan_of("three_parts", THREE), (), rows=1024).resampled(256)
    for name, deviation in THREE.items():
        error = deviation / np.sqrt(rows.values[name].size)
        assert abs(rows.values[name].mean()) < 4.0 * error
        assert rows.values[name].std() == pytest.approx(deviation, rel=0.05)
        assert abs(rows.values[name][:, :32].mean()) < 4.0 * error * np.sqrt(8.0)


def test_normalised_weights_of_nothing():
    """No row has seen it: no weight, and no evidence."""
    weights, logarithm = normalised(np.full((2, 3), -np.inf))
    assert not weights.any()
    assert logarithm == -np.inf
