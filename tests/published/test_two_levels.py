"""Two levels against closed forms: parts that work at nearly all moments, and their band.

All inputs are standard normal unless said. With g = d - (s_b b + s_r r + s_m m), a part of given b
and m keeps g >= 0 at a moment with the chance R = Phi((d - s_b b - s_m m) / s_r). R >= rho where
s_b b + s_m m <= d - s_r q(rho), q the normal quantile, so

    W    = Phi((d - s_r q) / sqrt(s_b^2 + s_m^2)),
    W(m) = Phi((d - s_r q - s_m m) / s_b), with its 5 and 95 % quantiles at m = +-1.644854,
    E[R] = Phi(d / sqrt(s_b^2 + s_r^2 + s_m^2)).

|b + s_r r| <= d: R(b) = Phi((d - b)/s_r) - Phi((-d - b)/s_r) falls with |b|; W = 2 Phi(b*) - 1
where R(b*) = rho. r uniform on -1..1: its quantile is 2 rho - 1. Without m, and with
b = .8 b1 + .6 b2 <= beta = (d - s_r q) / s_b, the verdict's total index of b1 is
(p - E[P(b <= beta | b2)^2]) / (p (1 - p)), p = Phi(beta), the expectation by quadrature.

With b and r correlated by c, r given b is c b + sqrt(1 - c^2) e: as above with s_b + s_r c for s_b
and s_r sqrt(1 - c^2) for s_r; with m and b correlated, the variance of s_b b + s_m m has
2 c s_b s_m more. Spearman's rank that a study states is 6/pi asin(c/2) (Pearson 1907, from memory).

The figures are worked out here by SciPy, and beside them stand those of the project's list of check
values (worked out apart).
"""

from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np
import pytest
from scipy import integrate, optimize
from scipy.stats import norm

from sensitivity.engine.doubt_band import BandOfReplicate, doubt_band, quantile_estimate
from sensitivity.engine.kept import count, hardest_first, lattice, moments_for
from sensitivity.engine.moments import crossed_sample, crossed_values, crossing_plan, failing
from sensitivity.engine.options import RunOptions
from sensitivity.engine.part_totals import part_totals
from sensitivity.engine.plan import plan_run
from sensitivity.engine.two_levels import LevelSizes, share_proportion, two_levels
from sensitivity.engine.verdicts import count_stated, count_variants, counting_for, prepare
from sensitivity.errors import CallError
from sensitivity.spreads.spread import normal
from sensitivity.study.file import read_study

MODELS = str(Path(__file__).with_name("two_level_models.py"))
ONE = RunOptions(workers=1)
D, S_B, S_R, S_M = 2.0, 1.0, 0.5, 0.6
FIVE = 1.6448536269514722


def normal_input(name, kind, extra=""):
    return f'[inputs.{name}]\nnominal = 0\nstandard_deviation = 1\nkind = "{kind}"\n{extra}'


ABOVE = "[limits.margin]\nat_least = 0\n"
LINEAR = (
    'models = ["linear_margin"]\n'
    + normal_input("b1", "build")
    + normal_input("r", "running")
    + normal_input("m", "model")
    + ABOVE
)
ONLY_PARTS = 'models = ["linear_margin"]\n' + normal_input("b1", "build") + ABOVE


def plan_of(tmp_path, text, seed=0, points=2048, replicates=16):
    path = tmp_path / "study.toml"
    sampling = f"[sampling]\nseed = {seed}\npoints = {points}\nreplicates = {replicates}\n"
    path.write_text(text + sampling, encoding="utf-8")
    return plan_run(read_study(path, (MODELS,)))


def works(keeps, spread=None, s_r=S_R):
    """W of the linear margin."""
    return norm.cdf(
        (D - s_r * norm.ppf(keeps)) / (np.hypot(S_B, S_M) if spread is None else spread)
    )


def ends(keeps):
    """Ends of its band."""
    return norm.cdf((D - S_R * norm.ppf(keeps) + np.array([-FIVE, FIVE]) * S_M) / S_B)


def holds(found, exact):
    return found.low <= exact <= found.high


def test_closed_forms_are_those_of_the_list():
    assert works(0.9) == pytest.approx(0.8780968, abs=5e-8)
    assert works(0.99) == pytest.approx(0.7634895, abs=5e-8)
    assert ends(0.9) == pytest.approx([0.6451697, 0.9905154], abs=5e-8)
    assert ends(0.99) == pytest.approx([0.4403483, 0.9659042], abs=5e-8)
    assert norm.cdf(D / np.sqrt(S_B**2 + S_R**2 + S_M**2)) == pytest.approx(0.9425125, abs=5e-8)
    assert [two_sided(0.9), two_sided(0.99)] == pytest.approx([0.8259245, 0.5973096], abs=5e-8)
    assert uniform_moments(0.9) == pytest.approx(0.9149665, abs=5e-8)
    assert total_indices(0.99) == pytest.approx([0.7990997, 0.5965905], abs=5e-8)


@pytest.mark.parametrize("keeps", [0.9, 0.99])
def test_linear_margin(tmp_path, keeps):
    found = two_levels(plan_of(tmp_path, LINEAR), keeps=keeps, options=ONE)
    assert holds(found, works(keeps))
    assert found.half_width < 0.012
    assert found.method == "student"
    assert holds(found.share, norm.cdf(D / np.sqrt(S_B**2 + S_R**2 + S_M**2)))
    low, high = ends(keeps)
    assert holds(found.band.low, low)
    assert holds(found.band.high, high)
    assert found.band.values.size == 128
    # The one model input is all that W(m) varies by.
    assert found.band.leading[0] == "m"
    assert found.band.leading[1].value > 0.95
    assert found.one_level is None
    assert found.no_band is None


def two_sided(keeps):
    def kept(b):
        return norm.cdf((D - b) / S_R) - norm.cdf((-D - b) / S_R)

    return 2 * norm.cdf(optimize.brentq(lambda b: kept(b) - keeps, 0, D)) - 1


@pytest.mark.parametrize("keeps", [0.9, 0.99])
def test_margin_of_two_sides(tmp_path, keeps):
    text = (
        'models = ["by_halves"]\n' + normal_input("b", "build") + normal_input("r", "running")
    ) + "[limits.both]\nat_least = -2\nat_most = 2\n"
    found = two_levels(plan_of(tmp_path, text), keeps=keeps, options=ONE)
    assert holds(found, two_sided(keeps))
    assert found.half_width < 0.012
    assert found.no_band == "no model inputs"
    assert found.band is None


def uniform_moments(keeps):
    return norm.cdf((D - S_R * (2 * keeps - 1)) / np.hypot(S_B, S_M))


def test_uniform_moments(tmp_path):
    text = LINEAR.replace(
        normal_input("r", "running"), '[inputs.r]\nnominal = 0\nplus_minus = 1\nkind = "running"\n'
    )
    found = two_levels(plan_of(tmp_path, text), keeps=0.9, options=ONE)
    assert holds(found, uniform_moments(0.9))
    assert found.half_width < 0.01


def total_indices(keeps):
    """Of b1 and b2 in .8 b1 + .6 b2 <= beta."""
    beta = D - S_R * norm.ppf(keeps)
    works = norm.cdf(beta)

    def total(own, other):
        both, _ = integrate.quad(
            lambda x: norm.pdf(x) * norm.cdf((beta - other * x) / own) ** 2, -9, 9
        )
        return (works - both) / (works * (1 - works))

    return [total(0.8, 0.6), total(0.6, 0.8)]


TWO_OF_THE_PART = (
    'models = ["linear_margin"]\n'
    + "[inputs]\nw1 = {nominal = 0.8}\nw2 = {nominal = 0.6}\n"
    + normal_input("b1", "build")
    + normal_input("b2", "build")
    + normal_input("r", "running")
    + ABOVE
)


def test_total_indices_of_the_verdict(tmp_path):
    found = part_totals(plan_of(tmp_path, TWO_OF_THE_PART), keeps=0.99, options=ONE)
    assert set(found.totals) == {"b1", "b2"}
    for name, exact in zip(("b1", "b2"), total_indices(0.99), strict=True):
        assert holds(found.totals[name], exact)
        assert found.totals[name].half_width < 0.06
    assert found.doubt == ""


def test_total_index_of_all_model_inputs_together(tmp_path):
    # m weighted .6 stands where b2 stood, and the moment's own input has no index.
    text = LINEAR.replace("[inputs.b1]", "[inputs]\nw1 = {nominal = 0.8}\n[inputs.b1]")
    found = part_totals(plan_of(tmp_path, text), keeps=0.99, options=ONE)
    assert list(found.totals) == ["b1", "model inputs"]
    assert found.doubt == "model inputs"
    assert holds(found.totals["model inputs"], total_indices(0.99)[1])


def test_total_indices_are_refused_where_they_mean_nothing(tmp_path):
    apart = TWO_OF_THE_PART + '[[correlations]]\ninputs = ["b1", "b2"]\nrank = 0.5\n'
    with pytest.raises(CallError, match="b1 and b2 are correlated"):
        part_totals(plan_of(tmp_path, apart))
    with_moment = TWO_OF_THE_PART + '[[correlations]]\ninputs = ["b1", "r"]\nrank = 0.5\n'
    assert part_totals(plan_of(tmp_path, with_moment, points=64), options=ONE, parts=64).totals


# --- correlated inputs ----------------------------------------------------------------------------


def rank_of(correlation):
    return 6 / np.pi * np.arcsin(correlation / 2)


def correlated(first, second, correlation):
    return f'[[correlations]]\ninputs = ["{first}", "{second}"]\nrank = {rank_of(correlation)}\n'


@pytest.mark.parametrize(
    ("pair", "spread", "s_r"),
    [
        (("b1", "r"), np.hypot(S_B + S_R * 0.6, S_M), S_R * 0.8),
        (("r", "m"), np.hypot(S_B, S_M + S_R * 0.6), S_R * 0.8),
        (("b1", "m"), np.sqrt(S_B**2 + S_M**2 + 1.2 * S_B * S_M), S_R),
    ],
    ids=["part and moment", "moment and doubt", "part and doubt"],
)
def test_correlation_across_kinds(tmp_path, pair, spread, s_r):
    found = two_levels(plan_of(tmp_path, LINEAR + correlated(*pair, 0.6)), keeps=0.9, options=ONE)
    assert holds(found, works(0.9, spread, s_r))
    assert found.half_width < 0.012
    assert abs(works(0.9, spread, s_r) - works(0.9)) > 2 * found.half_width


# --- one level only -------------------------------------------------------------------------------


def test_without_running_inputs_the_levels_are_one(tmp_path):
    text = LINEAR.replace('kind = "running"', 'kind = "build"')
    found = two_levels(plan_of(tmp_path, text), options=ONE)
    assert found.works == found.share
    assert found.one_level == "no running inputs"
    assert found.moments == 1
    # W(m) = Phi((d - s_m m) / sqrt(s_b^2 + s_r^2)).
    low, high = norm.cdf((D + np.array([-FIVE, FIVE]) * S_M) / np.hypot(S_B, S_R))
    assert holds(found.band.low, low)
    assert holds(found.band.high, high)


def test_without_doubts_there_is_no_band(tmp_path):
    found = two_levels(plan_of(tmp_path, ONLY_PARTS), options=ONE)
    assert found.band is None
    assert found.no_band == "no model inputs"
    assert holds(found, norm.cdf(D))


def test_without_parts_that_vary_one_part_works_or_does_not(tmp_path):
    # R = Phi(4) at m = 0: above 0.99 whatever the moments.
    text = 'models = ["linear_margin"]\n' + normal_input("r", "running") + ABOVE
    found = two_levels(plan_of(tmp_path, text), options=ONE)
    assert found.value == 1.0
    assert found.parts == 1
    assert found.low < 0.9  # sixteen looks at one part are not sixteen thousand parts


def test_share_found_elsewhere_is_taken(tmp_path):
    plan = plan_of(tmp_path, LINEAR, points=128)
    share = two_levels(plan, keeps=0.9, options=ONE).share
    assert two_levels(plan, keeps=0.9, options=ONE, share=share).share is share


# --- how parts are counted ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("keeps", "moments"),
    [(0.5, 256), (0.9, 256), (0.95, 256), (0.99, 1024), (0.999, 16384), (0.9999, 131072)],
)
def test_moments_leave_ten_to_fail_at_the_verge(keeps, moments):
    assert moments_for(keeps) == moments


def test_step_of_the_verdict():
    step = lattice(0.99, 1024)  # h = 10.24 - 0.5
    assert step.most == 9
    assert step.part == pytest.approx(0.74)
    assert list(step.verdict(np.array([0, 9, 10, 11]))) == pytest.approx([1, 1, 0.74, 0])


@pytest.mark.parametrize("keeps", [0.4, 0.99995, 1.0, float("nan")])
def test_keeps_out_of_range_is_refused(tmp_path, keeps):
    with pytest.raises(CallError, match="keeps"):
        two_levels(plan_of(tmp_path, LINEAR), keeps=keeps)


def test_too_few_moments_are_refused(tmp_path):
    with pytest.raises(CallError, match="too few"):
        two_levels(plan_of(tmp_path, LINEAR), keeps=0.99, sizes=LevelSizes(moments=32))


def test_limits_are_wanted(tmp_path):
    with pytest.raises(CallError, match="limits"):
        two_levels(plan_of(tmp_path, LINEAR.replace(ABOVE, "")))


def test_blind_pilot_stays_unbiased(tmp_path):
    """The easiest moments first, and parts dropped as good after the first chunk of them.

    Nearly all parts pass it, the bad ones among them; the audit alone knows of those.
    """
    plan = crossing_plan(plan_of(tmp_path, LINEAR))
    counting = counting_for(plan, 0.9)
    blind, quick = [], []
    for replicate in range(16):
        prepared = prepare(plan, counting, replicate, 1024)
        order = replace(
            prepared.order,
            moments=prepared.order.moments[::-1],
            left=np.zeros(len(prepared.order.ends)),
        )
        fails = partial(failing, plan, prepared.values)
        found = count(fails, 1024, order, counting.step, audit=prepared.audit)
        assert 0 < found.audited.size < np.count_nonzero(found.dropped) / 2
        blind.append(found.share)
        quick.append(found.verdicts.mean())
    assert np.mean(quick) > works(0.9) + 0.02  # blind it is
    assert holds(share_proportion(np.array(blind), 1024, 0.95), works(0.9))


def test_counting_the_hardest_first_is_counting_them_all(tmp_path):
    plan = crossing_plan(plan_of(tmp_path, LINEAR))
    counting = counting_for(plan, 0.9)
    prepared = prepare(plan, counting, 0, 512)
    fails = partial(failing, plan, prepared.values)
    every = fails(np.arange(512), np.arange(counting.moments))
    # The pilot is all of them, so nothing can be missed.
    found = count(fails, 512, hardest_first(every, counting.step), counting.step)
    assert np.array_equal(found.verdicts, counting.step.verdict(every.sum(axis=1)))
    assert found.evaluations < every.size / 2


def test_interval_where_hardly_any_part_works():
    few = share_proportion(np.array([0.0] * 15 + [1.7 / 64]), 64, 0.95)
    assert few.method == "clopper-pearson"
    assert few.low < few.value < few.high
    none = share_proportion(np.zeros(16), 64, 0.95)
    assert (none.value, none.low, none.method) == (0.0, 0.0, "clopper-pearson")
    assert none.high == pytest.approx(1 - 0.025 ** (1 / 1024))  # the exact bound of none in n


def test_order_statistics_hold_a_quantile():
    # Of 128 values the 2nd and the 12th: the binomial with 1/20 puts under 2.5 % beyond each.
    found = quantile_estimate(np.arange(1.0, 129.0), 0.05, 0.95)
    assert (found.low, found.high) == (2.0, 12.0)
    found = quantile_estimate(np.arange(1.0, 129.0), 0.95, 0.95)
    assert (found.low, found.high) == (117.0, 127.0)


# --- crossed arrays -------------------------------------------------------------------------------


def crossed(plan, parts=8, moments=16):
    """Failures of crossed parts and moments, and of the same points one by one."""
    values = crossed_values(plan, crossed_sample(plan, 0, parts, moments))
    found = failing(plan, values, np.arange(parts), np.arange(moments))
    singly = np.array(
        [
            [failing(plan, values, np.array([part]), np.array([at]))[0, 0] for at in range(moments)]
            for part in range(parts)
        ]
    )
    return found, singly


def test_results_of_parts_or_of_moments_alone(tmp_path):
    text = (
        'models = ["by_halves"]\n' + normal_input("b", "build") + normal_input("r", "running")
    ) + "".join(f"[limits.{name}]\nat_most = 1\n" for name in ("of_part", "of_moment", "both"))
    plan = crossing_plan(plan_of(tmp_path, text))
    assert not plan.system.flattened
    found, singly = crossed(plan)
    assert np.array_equal(found, singly)
    assert found.any()
    assert not found.all()


def test_model_that_takes_no_crossed_arrays_is_served_all_the_same(tmp_path):
    text = (
        'models = ["one_by_one"]\n' + normal_input("b", "build") + normal_input("r", "running")
    ) + ABOVE
    plan = plan_of(tmp_path, text)
    assert crossing_plan(plan).system.flattened == {"one_by_one"}
    found = two_levels(plan, keeps=0.9, options=ONE)
    assert holds(found, works(0.9, S_B))


def test_schedule_has_the_step_as_first_axis(tmp_path):
    # One step's g varies from moment to moment, another's with the part, the third is held: as
    # 2 - b - .5 g2 - r/2, with s_b = hypot(1, .5).
    step = '[[schedule]]\nstep = "{}"\nh = {{nominal = 0.5}}\n'
    text = (
        'models = ["mixed_steps"]\n'
        + normal_input("b", "build")
        + step.format("one")
        + 'g = {nominal = 0, standard_deviation = 1, kind = "running"}\n'
        + step.format("two")
        + 'g = {nominal = 0, standard_deviation = 1, kind = "build"}\n'
        + step.format("three")
        + "g = {nominal = 0}\n"
        + ABOVE
    )
    found = two_levels(plan_of(tmp_path, text), keeps=0.9, options=ONE)
    assert holds(found, works(0.9, np.hypot(1, 0.5)))


# --- variants -------------------------------------------------------------------------------------


def test_variants_are_counted_on_the_same_parts_and_moments(tmp_path):
    """Half the spread of b, and r held at 0: W(.9) by the closed form, as that stated."""
    plan = crossing_plan(plan_of(tmp_path, LINEAR))
    counting = counting_for(plan, 0.9)
    variants = [{"b1": normal(0.0, 0.5)}, {"r": 0.0}, {}]
    found = []
    for number in range(16):
        prepared = prepare(plan, counting, number, 512, variants)
        stated = count_stated(plan, counting, prepared)
        found.append([stated, *count_variants(plan, counting, prepared, variants)])
    shares = np.array([[each.share for each in one] for one in found])
    exact = [works(0.9), works(0.9, np.hypot(0.5, S_M)), works(0.5), works(0.9)]
    for place, value in enumerate(exact):
        assert holds(share_proportion(shares[:, place], 512, 0.95), value)
    stated, narrow, *_, same = found[0]
    assert narrow.verdicts.shape == (512,)
    # A variant of nothing differs by no more than what the pilot's own parts were not asked for.
    assert np.array_equal(same.verdicts[64:], stated.verdicts[64:])
    gains = shares[:, 1] - shares[:, 0]
    assert gains.std() < 0.5 * np.hypot(shares[:, 0].std(), shares[:, 1].std()) + 0.005


# --- coverage -------------------------------------------------------------------------------------


@pytest.mark.slow
def test_intervals_cover(tmp_path):
    """Fifty seeds: 44 or more of the intervals of W, and of both ends of the band, hold."""
    low, high = ends(0.9)
    held = []
    for seed in range(50):
        plan = plan_of(tmp_path, LINEAR, seed=seed, points=512)
        found = two_levels(plan, keeps=0.9, options=ONE)
        held.append(
            [holds(found, works(0.9)), holds(found.band.low, low), holds(found.band.high, high)]
        )
    counts = np.sum(held, axis=0)
    print("held:", counts)
    assert np.all(counts >= 44), counts


def test_parts_that_are_rejected_count_for_nothing_in_the_band(tmp_path):
    """W at a point is what works of all parts counted there, whichever replicate they are of."""
    plan = plan_of(tmp_path, LINEAR)
    generator = np.random.default_rng(5)
    points = generator.random((128, 1))
    counted = generator.integers(0, 9, (16, 128))
    counted[:, 3] = 0
    working = generator.integers(0, counted + 1)
    band = doubt_band(
        plan,
        [
            BandOfReplicate(good / np.maximum(every, 1), every, points, 1)
            for good, every in zip(working, counted, strict=True)
        ],
    )
    pooled = working.sum(axis=0) / np.maximum(counted.sum(axis=0), 1)
    assert band.values == pytest.approx(np.sort(pooled), abs=1e-12)
    assert band.values[0] == 0.0  # where nothing was counted
    assert band.low.low <= band.low.value <= band.low.high
    assert band.evaluations == 16


MANY = (
    'models = ["margin_of_many"]\n'
    + "".join(normal_input(f"b{number}", "build") for number in range(1, 5))
    + normal_input("r", "running")
    + "".join(normal_input(f"m{number}", "model") for number in range(1, 7))
    + ABOVE
)


@pytest.mark.slow
@pytest.mark.parametrize("doubt", [0.6, pytest.param(0.1, marks=pytest.mark.nightly)])
def test_ends_of_the_band_cover_and_lean_to_neither_side(tmp_path, doubt):
    """Fifty seeds, six doubts: 44 or more of the intervals hold; the mean is the closed form's.

    A narrow band too, whose parts say more at random than the doubts do.
    """
    exact = norm.cdf((D - S_R * norm.ppf(0.9) + np.array([-FIVE, FIVE]) * doubt) / S_B)
    held, values = [], []
    for seed in range(50):
        plan = plan_of(tmp_path, f"{MANY}[inputs.wm]\nnominal = {doubt}\n", seed=seed, points=64)
        band = two_levels(plan, keeps=0.9, options=ONE).band
        held.append([holds(band.low, exact[0]), holds(band.high, exact[1])])
        values.append([band.low.value, band.high.value])
    counts, values = np.sum(held, axis=0), np.array(values)
    print("held:", counts, "mean:", values.mean(axis=0), "exact:", exact)
    assert np.all(counts >= 44), counts
    # The mean of fifty within four standard errors, which are of half a point of 100.
    error = values.std(axis=0, ddof=1) / 50**0.5
    assert np.all(error < 0.006)
    assert np.all(np.abs(values.mean(axis=0) - exact) < 4.0 * error)


@pytest.mark.slow
def test_intervals_of_total_indices_cover(tmp_path):
    """Fifty seeds: 44 or more of the intervals of both total indices hold."""
    exact = total_indices(0.9)
    held = []
    for seed in range(50):
        plan = plan_of(tmp_path, TWO_OF_THE_PART, seed=seed)
        found = part_totals(plan, keeps=0.9, options=ONE).totals
        held.append(
            [holds(found[name], one) for name, one in zip(("b1", "b2"), exact, strict=True)]
        )
    counts = np.sum(held, axis=0)
    print("held:", counts)
    assert np.all(counts >= 44), counts
