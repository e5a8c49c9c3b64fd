"""Readings of results against closed forms of normal sums.

A sum is a.x of independent normal x_i with standard deviations s_i, and a setting is added that
can be made as large or as small as wanted; it works if |a.x + setting| <= W. Readings are B x + e,
with e_j normal of standard deviations t_j: a part is a row of B with a single 1, the sum the row a.
Given the readings x is normal with covariance

    C = S - S B' (B S B' + T)^-1 B S,        S = diag(s_i^2), T = diag(t_j^2)

whatever is read, so the best setting cancels the mean and the share that works is

    2 Phi(W/sqrt(v)) - 1,        v = a C a'.

For five parts of 1 and the sum read with t alone, v = 5 t^2/(5 + t^2). The figures printed by each
check are the project's notes on what to measure (statistics, section C, closed forms).

Where settings lie d apart, one is off by up to d/2 either way, all about as likely: the share is
then the mean of Phi((W - o)/sqrt(v)) - Phi((-W - o)/sqrt(v)) over o in +-d/2.
"""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy import stats

from sensitivity.answers.measure.find import find_measuring
from sensitivity.answers.measure.order import exchanged, find_order, said_by_sums
from sensitivity.engine.intervals import student
from sensitivity.engine.moments import crossed_sample, crossed_values, crossing_plan
from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import plan_run
from sensitivity.engine.two_levels import share_proportion
from sensitivity.pricing.assembly_settings import Assemblies, AssemblySettings, scaled
from sensitivity.pricing.readable import readable_of, values_to_read
from sensitivity.pricing.reading_bench import Bench
from sensitivity.pricing.reading_worth import worth_of_reading
from sensitivity.pricing.value_of_readings import (
    acceptance_decision,
    setting_decision,
    without_readings,
)
from sensitivity.spreads.workshop import WorkshopEntry
from sensitivity.study.made import make_study
from sensitivity.study.statements import between, held, limit, normal, reading
from sensitivity.study.study import Input
from tests.published.measuring_models import bent_reach, shimmed_gap

ONE = RunOptions(workers=1)
PHI = stats.norm.cdf
REPLICATES, ROWS = 16, 256


def left_over(sizes, rows, errors):
    """Variance v of the sum that its readings leave, by the formula at the head."""
    s = np.diag(np.square(np.asarray(sizes, dtype=float)))
    a = np.ones(len(sizes))
    if rows:
        b, t = np.array(rows, dtype=float), np.diag(np.square(errors))
        gain = s @ b.T @ np.linalg.inv(b @ s @ b.T + t)
        s = s - gain @ b @ s
    return float(a @ s @ a)


def share(v, within=1.0, apart=0.0):
    """Share that works; settings so far apart."""
    off = (np.arange(401) - 200) / 400 * apart
    width = np.sqrt(v)
    return float(np.mean(PHI((within - off) / width) - PHI((-within - off) / width)))


def part(place, count):
    return [float(place == at) for at in range(count)]


FIVE, SUM_OF_FIVE = (1, 1, 1, 1, 1), [1.0] * 5
THREE, SUM_OF_THREE = (2, 1, 1), [1.0] * 3


@pytest.mark.parametrize(
    ("sizes", "rows", "errors", "printed"),
    [
        (FIVE, [], [], 0.3452792),
        (FIVE, [SUM_OF_FIVE], [0.3], 0.9992296),
        *(
            (FIVE, [part(at, 5) for at in range(count)], [0.3] * count, printed)
            for count, printed in zip(
                range(1, 6), (0.379342, 0.425943, 0.495232, 0.614069, 0.880375), strict=True
            )
        ),
        (FIVE, [SUM_OF_FIVE], [1.0], 0.7266783),
        (FIVE, [part(at, 5) for at in range(5)], [1.0] * 5, 0.4729107),
        (THREE, [SUM_OF_THREE], [0.5], 0.9587732),
        (THREE, [part(0, 3)], [0.1], 0.5194075),
        (THREE, [part(0, 3), part(1, 3)], [0.1] * 2, 0.6779274),
        (THREE, [part(at, 3) for at in range(3)], [0.1] * 3, 0.9999999),
        (THREE, [SUM_OF_THREE, part(0, 3)], [0.5, 0.1], 0.9660559),
    ],
)
def test_the_closed_form_gives_the_printed_figures(sizes, rows, errors, printed):
    assert share(left_over(sizes, rows, errors)) == pytest.approx(printed, abs=1e-6)


def gauge(name, error, minutes=2.0):
    """An instrument with normal errors of this standard deviation."""
    return WorkshopEntry(
        name, name, "length", "mm", -3.0 * error, 3.0 * error, False, "normal", minutes, "", ""
    )


def bench_of_sum(sizes, part_gauge, sum_gauge=None, seed=1, step=0.25):
    """A bench of the parts and, with a gauge for it, their sum; settings a step apart."""
    x = stats.qmc.MultivariateNormalQMC(
        np.zeros(len(sizes)), rng=np.random.default_rng(seed)
    ).random(REPLICATES * ROWS)
    x = np.random.default_rng(seed).permutation(x).reshape(REPLICATES, ROWS, -1) * sizes
    total = x.sum(axis=2)
    settings = AssemblySettings(
        (Input("setting", "mm", "", 0.0),), np.arange(-7.0, 7.0 + step / 2, step)[:, None]
    )
    works = np.abs(total[..., None] + settings.points[:, 0]) <= 1.0
    drawn = np.abs(total) <= 1.0
    margins = scaled(np.stack([1.0 - total, 1.0 + total], axis=2))
    assemblies = Assemblies(x, works.astype(float), drawn.astype(float), margins)
    values, count = x, len(sizes)
    instruments = [(part_gauge,)] * count
    if sum_gauge is not None:
        values = np.concatenate([x, total[..., None]], axis=2)
        instruments.append((sum_gauge,))
    bench = Bench(
        decision=setting_decision(assemblies, settings),
        values=values,
        names=(*(f"x{at + 1}" for at in range(count)), "sum")[: values.shape[2]],
        units=("mm",) * values.shape[2],
        instruments=tuple(instruments),
        seed=seed,
        confidence=0.95,
    )
    return bench, acceptance_decision(assemblies)


def order_of(bench, acceptance, target=None):
    start = without_readings(bench.decision)
    count = len(bench.names)
    alone = bench.candidates(start, range(count), with_instruments=count)
    now = share_proportion(start.paid.mean(axis=1), ROWS, 0.95)
    return find_order(bench, acceptance, start, alone, target, now), alone, start


def test_one_coarse_height_says_what_five_angles_do_not():
    """Five sizes of 1 read with 0.3 leave 88 of 100; their sum read with 0.3 all but one."""
    bench, acceptance = bench_of_sum(FIVE, gauge("fine", 0.3), gauge("height", 0.3))
    order, alone, start = order_of(bench, acceptance)
    assert start.paid.mean() == pytest.approx(share(5.0, apart=0.25), abs=0.01)
    (step,) = order.steps
    assert (step.name, step.reading.instrument) == ("sum", "height")
    exact = share(left_over(FIVE, [SUM_OF_FIVE], [0.3]), apart=0.25)
    assert step.overall.value == pytest.approx(exact, abs=0.01)
    for place in range(5):
        one = share(left_over(FIVE, [part(place, 5)], [0.3]), apart=0.25)
        gain = alone[place].readings[0].gain
        assert abs(gain.value - (one - share(5.0, apart=0.25))) < 1.5 * gain.half_width + 0.005
    (said,) = said_by_sums(bench, order, [5])
    assert said.result == "sum"
    assert set(said.parts) == {"x1", "x2", "x3", "x4", "x5"}
    # What is left of 100 is what all five could add, and no more.
    assert said.more.value <= 1.0 - exact + 0.005


def test_without_a_gauge_for_the_sum_all_five_are_read():
    bench, acceptance = bench_of_sum(FIVE, gauge("fine", 0.3))
    order, _, _ = order_of(bench, acceptance)
    assert len(order.steps) == 5
    for count, step in enumerate(order.steps, start=1):
        rows = [part(at, 5) for at in range(count)]
        exact = share(left_over(FIVE, rows, [0.3] * count), apart=0.25)
        assert abs(step.overall.value - exact) < 1.5 * step.overall.half_width + 0.004
    gains = [step.overall.value for step in order.steps]
    assert all(later > sooner for sooner, later in pairwise(gains))


def test_a_coarse_gauge_of_the_sum_still_beats_five_coarse_parts():
    bench, acceptance = bench_of_sum(FIVE, gauge("rule", 1.0), gauge("height", 1.0))
    order, _, _ = order_of(bench, acceptance)
    assert order.steps[0].name == "sum"
    exact = share(left_over(FIVE, [SUM_OF_FIVE], [1.0]), apart=0.25)
    assert order.steps[0].overall.value == pytest.approx(exact, abs=0.012)


def test_sizes_that_differ_the_sum_is_read_first_and_then_as_much_as_it_pays():
    """x1 of size 2 read closely first is .52, the sum .96: with .93 wanted it is all that is read.

    With x1 as well it is .9661, and with nothing wanted the parts are read too until all three are
    known closely, which is 1: the sum is then needless, and left out.
    """
    bench, acceptance = bench_of_sum(THREE, gauge("fine", 0.1), gauge("height", 0.5))
    order, _, start = order_of(bench, acceptance, target=0.93)
    assert [step.name for step in order.steps] == ["sum"]
    exact = share(left_over(THREE, [SUM_OF_THREE], [0.5]), apart=0.25)
    assert order.steps[0].overall.value == pytest.approx(exact, abs=0.01)
    both = bench.knowing(start, [(3, gauge("height", 0.5)), (0, gauge("fine", 0.1))])
    exact = share(left_over(THREE, [SUM_OF_THREE, part(0, 3)], [0.5, 0.1]), apart=0.25)
    assert both.paid.mean() == pytest.approx(exact, abs=0.01)
    whole, _, _ = order_of(bench, acceptance)
    assert {step.name for step in whole.steps} == {"x1", "x2", "x3"}
    assert whole.steps[-1].overall.value > 0.99


def with_columns(bench, columns, error):
    """Set more columns (r, n) on a bench, each read with a normal gauge of this error."""
    more = np.stack(list(columns.values()), axis=2)
    return replace(
        bench,
        values=np.concatenate([bench.values, more], axis=2),
        names=(*bench.names, *columns),
        units=("mm",) * (len(bench.names) + len(columns)),
        instruments=(*bench.instruments, *[(gauge("fine", error),)] * len(columns)),
    )


def test_an_exchange_takes_the_better_of_two_for_one():
    """In the place of x2, of size 1, stands x1, of size 2; in that of x1 stands their sum."""
    bench, _ = bench_of_sum(THREE, gauge("fine", 0.1))
    start, fine = without_readings(bench.decision), gauge("fine", 0.1)
    ((place, entry),) = exchanged(bench, start, [(1, fine)])
    assert (bench.names[place], entry.name) == ("x1", "fine")
    assert exchanged(bench, start, [(0, fine)]) is None  # no part is better than it
    bench = with_columns(bench, {"sum": bench.values.sum(axis=2)}, 0.5)
    ((place, _),) = exchanged(bench, start, [(0, fine)])
    assert bench.names[place] == "sum"


def test_what_greed_began_with_is_left_out_when_two_others_say_all():
    """Read the sum with a nuisance z of size 3 in it, or z: little and nothing. Both: all of it.

    x1 of size 2 gains more at first, and is needless once both are read: the sum is then known to
    sqrt(2) of 0.1.
    """
    bench, acceptance = bench_of_sum(THREE, gauge("fine", 0.1))
    z = 3.0 * np.random.default_rng(5).standard_normal(bench.values.shape[:2])
    total = bench.values.sum(axis=2)
    bench = with_columns(bench, {"sum with z": total + z, "z": z}, 0.1)
    fine = (gauge("fine", 0.1),)
    bench = replace(bench, instruments=(fine, (), (), fine, fine))  # no gauge reaches x2 and x3
    order, alone, _ = order_of(bench, acceptance)
    assert alone[0].perfect.value > alone[3].perfect.value + 0.02
    assert not alone[4].settled
    assert {step.name for step in order.steps} == {"sum with z", "z"}
    assert order.steps[-1].overall.value == pytest.approx(share(0.02, apart=0.25), abs=0.01)


def test_two_that_tell_nothing_singly_are_found_as_a_pair():
    """Margin x1 x2 of two signs that are as likely either way: half work, whatever one is read.

    Both read, those that work are known: of 100 the 50 that fail are remade. Five idle dimensions
    stand beside them.
    """
    x = np.random.default_rng(3).standard_normal((REPLICATES, ROWS, 7))
    margin = x[..., 0] * x[..., 1]
    drawn = (margin >= 0.0).astype(float)
    assemblies = Assemblies(x, np.empty((REPLICATES, ROWS, 0)), drawn, scaled(margin[..., None]))
    decision = acceptance_decision(assemblies)
    bench = Bench(
        decision=decision,
        values=x,
        names=tuple(f"x{at + 1}" for at in range(7)),
        units=("mm",) * 7,
        instruments=((gauge("fine", 0.001),),) * 7,
        seed=1,
        confidence=0.95,
    )
    order, alone, _ = order_of(bench, decision)
    assert not any(row.settled for row in alone.values())
    assert {step.name for step in order.steps} == {"x1", "x2"}
    assert order.steps[-1].rejection.accepted.value > 0.98
    assert order.steps[-1].rejection.share.value == pytest.approx(0.5, abs=0.02)


# --- by a study -----------------------------------------------------------------------------------

SIGMA = 0.025 / 3.0 / 0.3  # of a part, so that the gauge below errs by 0.3 of it
NORMAL = "small_hole_gauge_and_micrometer"  # normal, 0.025 mm is 3 standard deviations
U = 0.025 / 3.0


def study_of_reach(*, error=True, at=None, running=0.0, replicates=16, points=512, seed=1):
    inputs = {f"bend_{at}": normal("0 mm", standard_deviation=f"{SIGMA} mm") for at in range(1, 6)}
    inputs["setting"] = held("0 mm", adjust=(f"{-6 * SIGMA} mm", f"{6 * SIGMA} mm"))
    if running:
        inputs["sway"] = normal("0 mm", standard_deviation=f"{running} mm", kind="running")
    return make_study(
        models=[bent_reach],
        inputs=inputs,
        limits=[limit("off", at_least=f"{-SIGMA} mm", at_most=f"{SIGMA} mm")],
        readings=[reading("reach", instrument=NORMAL, at=at)] if error else [],
        sampling={"seed": seed, "replicates": replicates, "points": points},
    )


def test_a_study_finds_the_one_height(tmp_path):
    """As the five of size 1 above, in units of a part's deviation, by a declared reading."""
    found = find_measuring(study_of_reach(), at_hand=(NORMAL,), options=ONE)
    (step,) = found.steps
    assert step.name == "reach"
    apart = np.diff(found.settings.points[:, 0]).max() / SIGMA
    exact = share(left_over(FIVE, [SUM_OF_FIVE], [0.3]), apart=apart)
    assert step.overall.value == pytest.approx(exact, abs=0.01)
    assert [said.result for said in found.said] == ["reach"]
    assert len(found.said[0].parts) == 5


@pytest.mark.parametrize(("at", "noise"), [(None, 0.5), ({"sway": "0 mm"}, 0.0)])
def test_conditions_that_are_not_held_are_errors_of_the_reading(at, noise):
    """Sway of half a part's deviation is in the reach: read at any moment it adds 0.25 to t^2."""
    study = study_of_reach(running=0.5 * SIGMA, at=at)
    plan = crossing_plan(plan_run(study, indices=False))
    readables = readable_of(study)
    off = []
    for replicate in range(16):
        sample = crossed_sample(plan, replicate, 1024, 64)
        values = values_to_read(plan, sample, crossed_values(plan, sample), readables, replicate)
        off.append(values[:, 5] - values[:, :5].sum(axis=1))
    assert readables.names[5] == "reach"
    assert np.std(off) / SIGMA == pytest.approx(noise, rel=0.05, abs=1e-9)
    if noise:
        assert abs(np.corrcoef(np.ravel(off), np.tile(np.arange(1024), 16))[0, 1]) < 0.03


def test_builders_who_read_the_reach_and_set_to_suit_end_where_it_was_promised():
    """300 other builders, each with a reach read with 1 of a part's deviation, set by the rule.

    What they know of their sum is normal, its mean the reading shrunk by 5/6: they set its
    opposite, on the nearest of the settings that were tried. Of 300 the share lies within the
    binomial bounds of 99.9 % about the promise; of 200 000 within its own interval.
    """
    error = 3.0  # as many of U: 0.9 of a part's deviation
    bench, acceptance = bench_of_sum(FIVE, gauge("rule", 1.0), gauge("height", 0.3 * error))
    order, _, _ = order_of(bench, acceptance)
    (step, *_) = order.steps
    assert step.name == "sum"
    rng = np.random.default_rng(11)
    total = rng.standard_normal((200_000, 5)).sum(axis=1)
    read = total + 0.3 * error * rng.standard_normal(total.size)
    mean = read * 5.0 / (5.0 + (0.3 * error) ** 2)
    setting = -0.25 * np.round(mean / 0.25)
    works = np.abs(total + setting) <= 1.0
    promised = step.overall
    assert promised.low - 0.003 <= works.mean() <= promised.high + 0.003
    few, many = stats.binom.ppf([0.0005, 0.9995], 300, promised.value)
    assert few <= works[:300].sum() <= many


# --- what a run says of it ----------------------------------------------------------------------

GAP = {
    "x1": normal("0 mm", standard_deviation="0.04 mm"),
    "x2": normal("0 mm", standard_deviation="0.04 mm"),
    "x3": normal("0 mm", standard_deviation="0.02 mm", kind="running"),
    "idle": between("-0.1 mm", "0.1 mm", nominal="0 mm"),
    "shim": normal("0 mm", standard_deviation="0.015 mm", adjust=("-0.4 mm", "0.4 mm")),
}


def two_level_gap(seed=1):
    return make_study(
        models=[shimmed_gap],
        inputs=GAP,
        limits=[limit("gap", at_least="-0.12 mm", at_most="0.12 mm")],
        sampling={"seed": seed, "replicates": 16, "points": 512},
    )


def worth_of_x1():
    """Gain of x1 known exactly, in gaps that work, a shim for any: see ``test_measuring``.

    A gap works up to b* off, where |b* + x3| <= T has the chance .99, x3 of 0.02 mm: one-sided,
    b* = T - 2.326348 of those, for T = .12 mm is six of them. Of 3 x1 - 2 x2 + shim, x1 takes
    9 of 13 parts.
    """
    within = 0.12 - 0.02 * stats.norm.ppf(0.99)
    widths = [np.sqrt(k * 0.04**2 + 0.015**2) for k in (13.0, 4.0)]
    before, after = (2.0 * PHI(within / width) - 1.0 for width in widths)
    return after - before


def test_what_a_run_says_of_a_reading_is_near_the_closed_form():
    study = two_level_gap()
    plan = plan_run(study)
    found = {row.name: row for row in worth_of_reading(study, plan, list(GAP), options=ONE)}
    assert set(found) == {"x1", "x2", "idle"}  # no running input, and nothing that is set
    first = found["x1"]
    assert first.settled
    assert first.known_exactly.low - 0.01 <= worth_of_x1() <= first.known_exactly.high + 0.01
    assert first.instrument
    assert first.minutes > 0.0
    assert not found["idle"].settled
    assert found["idle"].gain.low <= 0.0
    assert not worth_of_reading(study, plan, ["x3", "shim"], options=ONE)


@pytest.mark.slow
def test_what_a_run_says_is_at_most_what_is_gained():
    """Over 20 seeds: not above on average, and in the interval 17 times or more.

    The settings are few, so it may fall a little short of the closed form for any setting.
    """
    exact, held_in, above = worth_of_x1(), 0, []
    for seed in range(20):
        study = two_level_gap(seed)
        row = worth_of_reading(study, plan_run(study), ["x1"], options=ONE)[0].known_exactly
        held_in += row.low - 0.01 <= exact <= row.high + 0.01
        above.append(row.value - exact)
    mean, low, _ = student(np.array(above), 0.99)
    assert low <= 0.0, mean
    assert held_in >= 17
