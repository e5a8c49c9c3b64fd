"""What measuring is worth, against closed forms and against nested sampling.

A gap is c + s + b.x: x_i normal with standard deviations sigma_i, s a shim that is set with a
standard deviation sigma_s, and it must lie within +-T. Some of the x are read: each reading is
y_i = x_i + e_i with e_i normal with standard deviation u_i. Given the readings, b.x is normal:

    mean      mu = sum_read b_i rho_i y_i,          rho_i = sigma_i^2/(sigma_i^2 + u_i^2)
    variance  v  = sum_read b_i^2 sigma_i^2 (1 - rho_i) + sum_others b_i^2 sigma_i^2

and mu is itself normal about 0 with variance tau^2 = sum_read b_i^2 sigma_i^2 rho_i. A shim at s
keeps the gap within its limits with probability

    p(s | mu) = Phi((T - c - s - mu)/w) - Phi((-T - c - s - mu)/w),   w^2 = v + sigma_s^2

which is largest for s = -c - mu. If every such shim is to be had, the yield is 2 Phi(T/w) - 1
whatever the readings say; what a reading is worth is that it takes tau^2 out of w^2. If shims
go from a to b in steps, the best is the step nearest to -c - mu, and the yield is the integral of
p over mu. With one limit only, the farthest shim is the best whatever is read, and no reading is
worth anything.

With no shim, and one limit, gap >= 0: a burner is left unlit if Phi((c + mu)/w) < 1/2, that is if
c + mu < 0, which are Phi(-c/tau) of them. Lit and good is P(c + mu > 0, gap > 0), of two normals
correlated by tau/sqrt(tau^2 + w^2). The worth counts failing burners kept unlit less good ones
unlit: P(gap < 0, unlit) - P(gap > 0, unlit).

The plain value of partial perfect information, with its figures: statistics-sources 7.4 (Strong,
Oakley and Brennan 2014, Medical Decision Making 34:311; the closed form of a normal net
benefit).
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from sensitivity.answers.measure.find import find_measuring
from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import plan_run
from sensitivity.pricing.assembly_settings import assembly_settings_of, sample_assemblies
from sensitivity.pricing.reading_bench import Bench
from sensitivity.pricing.value_of_information import (
    Decision,
    cross_fitted_choices,
    payoffs_taken,
    regressors,
)
from sensitivity.pricing.value_of_readings import (
    setting_decision,
    value_of_reading,
    with_reading,
    without_readings,
)
from sensitivity.study.file import read_study

ONE = RunOptions(workers=1)

MODELS = str(Path(__file__).with_name("measuring_models.py"))
PHI = stats.norm.cdf
WEIGHTS = {"x1": 3.0, "x2": -2.0, "x3": 1.0, "idle": 0.0}
SIGMA, SHIM_SIGMA, T = 0.02, 0.015, 0.08
ALL = ("x1", "x2", "x3", "idle")
NORMAL_INSTRUMENT = "small_hole_gauge_and_micrometer"  # normal, 0.025 mm is 3 of u
U = 0.025 / 3.0


def study_of(folder, *, shim=True, limits=f'at_least = "{-T} mm"\nat_most = "{T} mm"', **more):
    adjust = more.get("adjust", ("-0.4 mm", "0.4 mm"))
    sigma, c = more.get("sigma", SIGMA), more.get("c", 0.0)
    text = f'models = ["{more.get("model", "shimmed_gap")}"]\n'
    for name in more.get("names", ALL):
        text += f'[inputs.{name}]\nnominal = "0 mm"\nstandard_deviation = "{sigma} mm"\n'
    if shim:
        text += f'[inputs.shim]\nnominal = "0 mm"\nstandard_deviation = "{SHIM_SIGMA} mm"\n'
        text += f'adjust = ["{adjust[0]}", "{adjust[1]}"]\n'
    if c:
        text += f'[inputs.nominal_gap]\nnominal = "{c} mm"\n'
    text += f"[limits.gap]\n{limits}\n"
    text += (
        f"[sampling]\nseed = {more.get('seed', 1)}\npoints = {more.get('points', 1024)}\n"
        f"replicates = {more.get('replicates', 16)}\n"
    )
    path = folder / "study.toml"
    path.write_text(text, encoding="utf-8")
    return read_study(path, (MODELS,))


def variances(read, u=0.0, sigma=SIGMA):
    """tau^2 and w^2 of this module's closed form, for the dimensions in ``read``."""
    rho = sigma**2 / (sigma**2 + u**2)
    tau2 = sum(WEIGHTS[name] ** 2 * sigma**2 * rho for name in read)
    return tau2, sum(b**2 * sigma**2 for b in WEIGHTS.values()) - tau2


def yield_set_to_suit(read, shims, u=0.0, sigma=SIGMA, c=0.0, within=T):
    """Yield by quadrature over mu: the shim of ``shims`` nearest to -c - mu."""
    tau2, v = variances(read, u, sigma)
    w = np.sqrt(v + SHIM_SIGMA**2)

    def best(mu):
        s = shims[np.abs(shims + c + mu[:, None]).argmin(axis=1)]
        return PHI((within - c - s - mu) / w) - PHI((-within - c - s - mu) / w)

    if tau2 == 0.0:
        return float(best(np.zeros(1))[0])
    z = np.linspace(-6.0, 6.0, 4001)
    return float(integrate.trapezoid(best(np.sqrt(tau2) * z) * stats.norm.pdf(z), z))


def bench_of(study):
    plan = plan_run(study, indices=False)
    settings = assembly_settings_of(plan)
    names = tuple(i.name for i in study.varying if i.adjust is None)
    burners = sample_assemblies(plan, settings, names, options=ONE)
    bench = Bench(
        decision=setting_decision(burners, settings),
        values=burners.values,
        names=names,
        units=("mm",) * len(names),
        instruments=((),) * len(names),
        seed=plan.seed,
        confidence=plan.sampling.confidence,
    )
    return bench, burners, settings


def test_the_two_forms_of_the_closed_form_agree():
    fine = np.linspace(-0.6, 0.6, 2401)
    for read in ([], ["x1"], ["x1", "x2", "x3"]):
        _, v = variances(read)
        exact = 2.0 * PHI(T / np.sqrt(v + SHIM_SIGMA**2)) - 1.0
        assert yield_set_to_suit(read, fine) == pytest.approx(exact, abs=1e-5)


@pytest.mark.parametrize(
    "read", [["x1"], ["x2"], ["x3"], ["x1", "x2"], ["x1", "x2", "x3"]], ids=str
)
def test_perfect_readings_of_a_linear_gap(tmp_path, read):
    bench, _, settings = bench_of(study_of(tmp_path))
    start = without_readings(bench.decision)
    values = bench.values[..., [bench.names.index(name) for name in read]]
    after = with_reading(bench.decision, start, values)
    found = value_of_reading(start, after, 0.95)
    shims = settings.points[:, 0]
    exact = yield_set_to_suit(read, shims) - yield_set_to_suit([], shims)
    assert abs(found.value - exact) < 1.5 * found.half_width + 0.002
    assert after.paid.mean() <= yield_set_to_suit(read, shims) + 0.004
    assert found.half_width < 0.008


def test_an_instrument_that_errs(tmp_path):
    """Its error is normal: with sigma = 0.01 mm and u = 0.00833 mm, rho is 0.59."""
    study = study_of(tmp_path, sigma=0.04)
    found = find_measuring(study, at_hand=(NORMAL_INSTRUMENT,), options=ONE)
    first = next(row for row in found.candidates if row.name == "x1")
    shims = found.settings.points[:, 0]
    without = yield_set_to_suit([], shims, sigma=0.04)
    exact = yield_set_to_suit(["x1"], shims, U, 0.04) - without
    perfect = yield_set_to_suit(["x1"], shims, 0.0, 0.04) - without
    assert exact < perfect
    assert abs(first.perfect.value - perfect) < 1.5 * first.perfect.half_width + 0.002
    assert first.advised.instrument == NORMAL_INSTRUMENT
    assert abs(first.advised.gain.value - exact) < 1.5 * first.advised.gain.half_width + 0.002


def test_a_coarse_instrument_is_worth_what_is_left_of_its_reading(tmp_path):
    """sigma = 0.01 mm against u = 0.00833 mm: rho = 0.59, and the gain falls to match."""
    study = study_of(tmp_path, sigma=0.01, limits='at_least = "-0.03 mm"\nat_most = "0.03 mm"')
    found = find_measuring(study, at_hand=(NORMAL_INSTRUMENT,), options=ONE)
    first = next(row for row in found.candidates if row.name == "x1")
    shims = found.settings.points[:, 0]
    without = yield_set_to_suit([], shims, 0.0, 0.01, 0.0, 0.03)
    gains = {u: yield_set_to_suit(["x1"], shims, u, 0.01, 0.0, 0.03) - without for u in (0.0, U)}
    assert gains[U] < 0.6 * gains[0.0]
    assert abs(first.perfect.value - gains[0.0]) < 1.5 * first.perfect.half_width + 0.002
    assert abs(first.advised.gain.value - gains[U]) < 1.5 * first.advised.gain.half_width + 0.002


def test_shims_that_do_not_reach_far_enough(tmp_path):
    bench, _, settings = bench_of(study_of(tmp_path, adjust=("-0.03 mm", "0.05 mm"), c=0.02))
    start = without_readings(bench.decision)
    after = with_reading(bench.decision, start, bench.values[..., :3])
    shims = settings.points[:, 0]
    exact = yield_set_to_suit(["x1", "x2", "x3"], shims, c=0.02)
    far = yield_set_to_suit(["x1", "x2", "x3"], np.linspace(-1.0, 1.0, 801), c=0.02)
    assert exact < far - 0.1
    assert after.paid.mean() == pytest.approx(exact, abs=0.005)


def test_setting_well_alone(tmp_path):
    study = study_of(tmp_path, c=0.06)
    found = find_measuring(study, options=ONE)
    shims = found.settings.points[:, 0]
    w = np.sqrt(variances([])[1] + SHIM_SIGMA**2)
    drawn = PHI((T - 0.06) / w) - PHI((-T - 0.06) / w)
    well = yield_set_to_suit([], shims, c=0.06)
    assert found.set_well.at["shim"] == pytest.approx(-0.06, abs=0.03)
    assert found.as_drawn.value == pytest.approx(drawn, abs=0.004)
    assert found.set_well.overall.value == pytest.approx(well, abs=0.004)
    assert (
        abs(found.set_well.gain.value - (well - drawn))
        < 1.5 * found.set_well.gain.half_width + 0.001
    )


def test_with_one_limit_the_farthest_shim_is_best_and_no_reading_is_worth_anything(tmp_path):
    found = find_measuring(study_of(tmp_path, limits='at_least = "0.1 mm"'), options=ONE)
    assert found.set_well.at["shim"] == pytest.approx(0.4)
    assert not found.steps
    assert all(row.perfect.value <= 1e-3 for row in found.candidates)


def test_order_of_a_linear_gap_is_that_of_the_shares_of_variance(tmp_path):
    found = find_measuring(
        study_of(tmp_path, sigma=0.04), at_hand=(NORMAL_INSTRUMENT,), options=ONE
    )
    assert [step.name for step in found.steps] == ["x1", "x2", "x3"]
    shims = found.settings.points[:, 0]
    for count, step in enumerate(found.steps, start=1):
        exact = yield_set_to_suit(ALL[:count], shims, U, 0.04)
        assert step.overall.value == pytest.approx(exact, abs=0.006)
    ceiling = 1.0 - 2.0 * stats.norm.sf((0.4 + T) / np.sqrt(14 * 0.04**2 + SHIM_SIGMA**2))
    assert found.ceiling.value <= ceiling + 0.01
    assert found.final.value <= found.ceiling.value


@pytest.mark.parametrize("read", [["x1"], ["x1", "x2"]], ids=str)
def test_leaving_unlit_what_is_likelier_to_fail(tmp_path, read):
    study = study_of(tmp_path, shim=False, limits='at_least = "0 mm"', c=0.03, sigma=0.04)
    found = find_measuring(study, at_hand=(NORMAL_INSTRUMENT,), options=ONE)
    step = found.steps[len(read) - 1]
    assert [one.name for one in found.steps[: len(read)]] == read
    tau2, v = variances(read, U, 0.04)
    tau, whole = np.sqrt(tau2), np.sqrt(tau2 + v)
    pair = stats.multivariate_normal([0.0, 0.0], [[1.0, tau / whole], [tau / whole, 1.0]])
    works_lit = pair.cdf([0.03 / tau, 0.03 / whole])
    lit = PHI(0.03 / tau)
    assert step.rejection.share.value == pytest.approx(1.0 - lit, abs=0.012)
    assert step.rejection.accepted.value == pytest.approx(works_lit / lit, abs=0.006)
    fails, works = (1.0 - lit) - (PHI(0.03 / whole) - works_lit), PHI(0.03 / whole) - works_lit
    worth = sum(one.reading.gain.value for one in found.steps[: len(read)])
    assert worth == pytest.approx(fails - works, abs=0.006)


A, MU = (3.0, 2.0, 1.0), 1.0


@pytest.mark.parametrize(
    ("read", "printed"),
    [((0,), 0.762708343), ((1,), 0.395593115), ((2,), 0.083315471), ((0, 1, 2), 1.045701160)],
)
def test_plain_value_of_partial_information(read, printed):
    """Net benefit 1 + 3 x1 + 2 x2 + x3 of one choice, nothing of the other: 7.4's figures.

    sigma phi(mu/sigma) - |mu| Phi(-|mu|/sigma), sigma that of what is read.
    """
    sigma = np.sqrt(sum(A[one] ** 2 for one in read))
    exact = sigma * stats.norm.pdf(MU / sigma) - MU * PHI(-MU / sigma)
    assert exact == pytest.approx(printed, abs=1e-9)
    x = stats.qmc.MultivariateNormalQMC(np.zeros(3), rng=7).random(16 * 4096)
    x = x[np.random.default_rng(7).permutation(len(x))].reshape(16, 4096, 3)
    benefit = MU + x @ np.array(A)
    choice = Decision(np.stack([benefit, np.zeros_like(benefit)], axis=2), benefit[..., None])
    paid = payoffs_taken(choice.payoffs, cross_fitted_choices(choice, regressors(x[..., read])))
    base = payoffs_taken(choice.payoffs, cross_fitted_choices(choice, None))
    change = (paid - base).mean(axis=1)
    assert base.mean() == pytest.approx(MU, abs=0.01)
    assert change.mean() == pytest.approx(exact, abs=0.015)
    assert change.mean() <= exact + 3.0 * change.std(ddof=1) / 4.0


def test_nested_sampling_of_a_gap_that_is_not_linear(tmp_path):
    """Outer: x1 at the middles of 200 equal shares. Inner: 20 000 burners of each, every shim.

    The inner means are of so many burners that the largest of them is hardly above the best, and
    no regression, bin or fold is in it.
    """
    sigma, limits = 0.15, 'at_least = "-0.12 mm"\nat_most = "0.12 mm"'
    study = study_of(
        tmp_path, model="bowed_gap", names=("x1", "x2", "x3"), sigma=sigma, limits=limits,
        adjust=("-0.6 mm", "0.3 mm"), points=2048,
    )  # fmt: skip
    bench, _, settings = bench_of(study)
    start = without_readings(bench.decision)
    found = with_reading(bench.decision, start, bench.values[..., 0])
    shims = settings.points[:, 0]
    x2, x3, e = stats.norm.ppf(stats.qmc.Sobol(3, rng=3).random(16_384) + 2.0**-31).T * np.array(
        [[sigma], [sigma], [SHIM_SIGMA]]
    )
    best = []
    for x1 in stats.norm.ppf((np.arange(200) + 0.5) / 200) * sigma:
        gap = 3.0 * x1**2 + 2.0 * x1 * x2 + x3 + e
        best.append(max(np.mean(np.abs(gap + shim) <= 0.12) for shim in shims))
    nested = float(np.mean(best))
    assert found.paid.mean() <= nested + 0.004
    assert found.paid.mean() == pytest.approx(nested, abs=0.006)
    assert value_of_reading(start, found, 0.95).low > 0.02


def test_no_gain_of_a_part_that_has_no_say(tmp_path):
    """Over 40 seeds the mean gain of a part without a say is nothing or less, never above.

    The same with choices scored on the burners they were made from is above nothing: the bias
    that cross-fitting is there for.
    """
    gains, plain = [], []
    for seed in range(40):
        study = study_of(tmp_path, seed=seed, points=64, replicates=8, c=0.02)
        bench, _, _ = bench_of(study)
        start = without_readings(bench.decision)
        place = bench.names.index("idle")
        after = with_reading(bench.decision, start, bench.values[..., place])
        gains.append(after.paid.mean() - start.paid.mean())
        payoffs, idle = bench.decision.payoffs, bench.values[..., place]
        bins = np.searchsorted(np.quantile(idle, np.arange(1, 8) / 8), idle.ravel())
        flat = payoffs.reshape(-1, payoffs.shape[2])
        means = sum(flat[bins == one].sum(axis=0).max() for one in range(8)) / len(flat)
        plain.append(means - flat.mean(axis=0).max())
    error = np.std(gains, ddof=1) / np.sqrt(len(gains))
    assert np.mean(gains) <= 2.5 * error
    assert np.mean(plain) > 5.0 * np.std(plain, ddof=1) / np.sqrt(len(plain))


@pytest.mark.slow
def test_intervals_of_a_gain_hold_it(tmp_path):
    """Of 100 intervals of 95 %, 88 or more hold the closed form (the central 99 % are 89 to 100).

    The rule that is learnt is a little worse than the best there is, so a few more than five
    may lie below.
    """
    held = 0
    study = study_of(tmp_path, points=256)
    shims = assembly_settings_of(plan_run(study)).points[:, 0]
    exact = yield_set_to_suit(["x1"], shims) - yield_set_to_suit([], shims)
    for seed in range(100):
        seeded = replace(study, sampling=replace(study.sampling, seed=seed))
        bench, _, _ = bench_of(seeded)
        start = without_readings(bench.decision)
        found = value_of_reading(
            start, with_reading(bench.decision, start, bench.values[..., 0]), 0.95
        )
        held += found.low <= exact <= found.high
    print("held:", held)
    assert held >= 88


# --- on two levels ------------------------------------------------------------------------------

RUNNING, DOUBT, ASKED = 0.02, 0.02, 0.99
TWO_LEVELS = f"""\
models = ["shimmed_gap"]
[inputs.x1]
nominal = "0 mm"
standard_deviation = "0.04 mm"
[inputs.x2]
nominal = "0 mm"
standard_deviation = "0.04 mm"
[inputs.x3]
nominal = "0 mm"
standard_deviation = "{RUNNING} mm"
kind = "running"
[inputs.nominal_gap]
nominal = "0 mm"
standard_deviation = "{DOUBT} mm"
kind = "model"
[inputs.shim]
nominal = "0 mm"
standard_deviation = "{SHIM_SIGMA} mm"
adjust = ["-0.4 mm", "0.4 mm"]
[limits.gap]
at_least = "-0.08 mm"
at_most = "0.08 mm"
[sampling]
seed = 1
points = 1024
"""


def at_the_verge(running=RUNNING, keeps=ASKED):
    """How far off a part may be, b*, to keep |b* + x3| <= T with the chance that is asked for."""

    def kept(b):
        return PHI((T - b) / running) - PHI((-T - b) / running)

    return optimize.brentq(lambda b: kept(b) - keeps, 0.0, T)


def two_level_share(read, shims, sigma=0.04, doubt=DOUBT):
    """Parts that work: |shim + 3 x1 - 2 x2 + m| <= b*, as in the closed form with b* for T."""
    rho = sigma**2 / (sigma**2 + U**2)
    tau2 = sum(WEIGHTS[name] ** 2 * sigma**2 * rho for name in read)
    whole = sum(WEIGHTS[name] ** 2 * sigma**2 for name in ("x1", "x2"))
    w, within = np.sqrt(whole - tau2 + SHIM_SIGMA**2 + doubt**2), at_the_verge()
    z = np.linspace(-6.0, 6.0, 4001)
    mu = np.sqrt(tau2) * z
    off = shims[np.abs(shims + mu[:, None]).argmin(axis=1)] + mu
    best = PHI((within - off) / w) - PHI((-within - off) / w)
    return float(integrate.trapezoid(best * stats.norm.pdf(z), z))


def two_level_study(folder, text=TWO_LEVELS):
    path = folder / "study.toml"
    path.write_text(text, encoding="utf-8")
    return read_study(path, (MODELS,))


def test_readings_are_priced_in_parts_that_work(tmp_path):
    """A part works if it keeps within +-T at 99 of 100 moments, x3 being of the moment.

    Its chance at a moment falls with how far off it is, so it works up to b*, and what is read and
    set is worth as much as with no x3 and b* for T.
    """
    found = find_measuring(two_level_study(tmp_path), at_hand=(NORMAL_INSTRUMENT,), options=ONE)
    shims = found.settings.points[:, 0]
    assert at_the_verge() == pytest.approx(0.0335, abs=1e-4)
    assert [step.name for step in found.steps] == ["x1", "x2"]
    drawn, whole = two_level_share([], shims), np.sqrt(13 * 0.04**2 + SHIM_SIGMA**2 + DOUBT**2)
    assert drawn == pytest.approx(2 * PHI(at_the_verge() / whole) - 1, abs=1e-6)
    assert found.as_drawn.low - 0.002 <= drawn <= found.as_drawn.high + 0.002
    at_a_moment = 2 * PHI(T / np.hypot(whole, RUNNING)) - 1
    assert found.levels.share.value == pytest.approx(at_a_moment, abs=0.004)
    assert at_a_moment > drawn + 0.2  # so that the one is not taken for the other
    for count, step in enumerate(found.steps, start=1):
        exact = two_level_share(("x1", "x2")[:count], shims)
        assert step.overall.value <= exact + step.overall.half_width + 0.002
        assert step.overall.value == pytest.approx(exact, abs=0.02)
    perfect = 2 * PHI(at_the_verge() / np.hypot(SHIM_SIGMA, DOUBT)) - 1
    assert found.rest is None or found.rest.low <= 0.01
    assert found.final.value < perfect


def test_band_of_what_is_read_and_set(tmp_path):
    """With both read and set to suit, what is off is m and e of variance w^2: W(m) falls with |m|.

    Its 5 and 95 % quantiles are at |m| = 1.959964 and 0.062707 of the doubt's deviation. The
    steps between shims add their variance, that of a rectangle.
    """
    found = find_measuring(two_level_study(tmp_path), at_hand=(NORMAL_INSTRUMENT,), options=ONE)
    step = np.diff(found.settings.points[:, 0]).max()
    left = 13 * 0.04**2 * U**2 / (0.04**2 + U**2)
    w, within = np.sqrt(left + SHIM_SIGMA**2 + step**2 / 12), at_the_verge()

    def share(m):
        return PHI((within - m) / w) - PHI((-within - m) / w)

    low, high = share(DOUBT * stats.norm.ppf([0.975, 0.525]))
    assert found.band.low.low - 0.02 <= low <= found.band.low.high + 0.02
    assert found.band.high.low - 0.02 <= high <= found.band.high.high + 0.02
    assert high - low > 0.2
    assert found.levels.band.high.value < low  # that of the design as drawn is another


def test_what_tells_only_together_is_read_in_turn(tmp_path):
    """Spreads of 0.4 mm: x1 known exactly leaves 2 x2 of 0.8 mm, and so 3.3 of 100 for 1.8.

    That is less than one in fifty of what fails. Both together leave the errors of reading.
    """
    text = TWO_LEVELS.replace('standard_deviation = "0.04 mm"', 'standard_deviation = "0.4 mm"')
    text = text.replace('["-0.4 mm", "0.4 mm"]', '["-3 mm", "3 mm"]')
    study = two_level_study(tmp_path, text)
    found = find_measuring(study, at_hand=(NORMAL_INSTRUMENT,), options=ONE)
    failing = 1.0 - found.set_well.overall.value
    assert all(row.perfect.value < 0.02 * failing for row in found.candidates)
    assert {step.name for step in found.steps} == {"x1", "x2"}
    assert found.steps[0].overall.value < 0.05
    assert found.final.value > 0.2


def test_without_moments_a_part_that_keeps_works(tmp_path):
    text = TWO_LEVELS.replace('kind = "running"', 'kind = "build"')
    study = two_level_study(tmp_path, text)
    found = find_measuring(study, at_hand=(NORMAL_INSTRUMENT,), options=ONE)
    assert found.levels.one_level == "no running inputs"
    assert found.levels.works == found.levels.share
    assert found.as_drawn.rows == 16 * 2048
    plain = sample_assemblies(plan_run(study, indices=False), None, (), options=ONE)
    assert found.as_drawn.value == pytest.approx(plain.as_drawn.mean(), abs=1e-12)
    assert found.band is not None
