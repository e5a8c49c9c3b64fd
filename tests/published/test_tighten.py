"""Closer tolerances in closed form: sums of normals, and weights with known effective samples.

Outside sources: scipy.stats for every distribution; statistics-sources 7.3 (the project's list
of check values, each recomputed there on its own) for the weights. Each test's docstring derives
its reference.
"""

from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from scipy import optimize, stats

from sensitivity.answers.tighten.find import price_tolerances as tighten
from sensitivity.answers.tighten.words import halving_verdict, set_verdict
from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import plan_run
from sensitivity.errors import CallError
from sensitivity.pricing.reweighting import (
    reweighted_yield,
    reweighted_yields,
    weights_refused,
)
from sensitivity.pricing.variants import (
    run_variants,
)
from sensitivity.spreads.altered import moved, narrowed
from sensitivity.spreads.spread import bounded, density, empirical, lognormal, normal, quantile
from sensitivity.study.file import read_study

ONE = RunOptions(workers=1)

STATISTICS = str(Path(__file__).with_name("statistics_models.py"))

STACK = '''
from typing import Annotated, NamedTuple


class Stack(NamedTuple):
    length: Annotated[float, "mm", "length of the stack"]


def stack(
    a: Annotated[float, "mm", "first"] = 0.0,
    b: Annotated[float, "mm", "second"] = 0.0,
    c: Annotated[float, "mm", "third"] = 0.0,
    d: Annotated[float, "deg", "an angle whose lever is a millimetre a degree"] = 0.0,
    e: Annotated[float, "deg", "another such angle"] = 0.0,
) -> Stack:
    """Sum of five."""
    return Stack(a + b + c + d + e)
'''


def study(folder, text, *, seed=5, points=1024, replicates=16):
    models = folder / "stack.py"
    models.write_text(STACK, encoding="utf-8")
    path = folder / "study.toml"
    sampling = f"[sampling]\nseed = {seed}\nreplicates = {replicates}\npoints = {points}\n"
    path.write_text(text + sampling, encoding="utf-8")
    return read_study(path, (STATISTICS, str(models)))


def plan_of(folder, text, **sampling):
    return plan_run(study(folder, text, **sampling), indices=False)


def near(estimate, exact):
    assert abs(estimate.value - exact) <= 2.0 * estimate.half_width, (estimate, exact)


def strip(limit, deviation):
    """Probability that a centred normal is within the limit."""
    return 2.0 * stats.norm.cdf(limit / deviation) - 1.0


# Halving


def test_halved_normals(tmp_path):
    """Y = x1 + 2 x2 + x3 is normal, variance s1^2 + 4 s2^2 + s3^2; |y| <= 2.

    With s_i halved its share of the variance is a quarter. x3 is a running condition and is left.
    """
    text = """
    models = ["weighted_sum"]
    [inputs]
    x1 = { standard_deviation = 0.6 }
    x2 = { standard_deviation = 0.5 }
    x3 = { standard_deviation = 0.4, kind = "running" }
    c2 = { nominal = 2 }
    [limits.y]
    at_least = -2
    at_most = 2
    """
    s = np.array([0.6, 2.0 * 0.5, 0.4])
    answer = tighten(study(tmp_path, text), options=ONE)
    near(answer.stated, strip(2.0, np.sqrt((s**2).sum())))
    assert [row.dimension.name for row in answer.halved] == ["x2", "x1"]
    for row, place in zip(answer.halved, (1, 0), strict=True):
        halved = np.where(np.arange(3) == place, 0.5 * s, s)
        exact = strip(2.0, np.sqrt((halved**2).sum()))
        near(row.overall, exact)
        near(row.gain, exact - strip(2.0, np.sqrt((s**2).sum())))
        assert row.gain.half_width < 0.5 * answer.stated.half_width + 0.002


def test_halving_draws_a_one_sided_spread_to_its_nominal(tmp_path):
    """X even in 0..1 about the nominal 0, x <= 0.75: 0.75 keep; halved it is 0..0.5 and all do."""
    text = """
    models = ["weighted_sum"]
    [inputs]
    x1 = { nominal = 0, between = [0, 1] }
    [limits.y]
    at_most = 0.75
    """
    answer = tighten(study(tmp_path, text), options=ONE)
    near(answer.stated, 0.75)
    assert answer.halved[0].overall.value == 1.0
    near(answer.halved[0].gain, 0.25)


# The cheapest set

SET = """
models = ["stack"]
[inputs.a]
nominal = "20 mm"
process = "sawn_and_filed_to_a_scribed_line"
[inputs.b]
nominal = "-20 mm"
process = "hole_centre_punched_by_eye"
[inputs.c]
nominal = "0 mm"
process = "height_set_by_rule"
[inputs.d]
nominal = "0 deg"
process = "squared_by_eye"
[limits.length]
at_least = "-0.3 mm"
at_most = "0.3 mm"
"""

# Standard deviations (mm, deg) and minutes, from the half-widths of the workshop table: a third of
# a normal's, and of an even spread the half-width over the root of three.
A = {
    "sawn_and_filed_to_a_scribed_line": (0.3 / 3, 10),
    "filed_to_a_height_gauge_line": (0.15 / 3, 15),
    "filed_to_a_micrometer": (0.05 / 3, 30),
}
B = {
    "hole_centre_punched_by_eye": (0.35 / 3, 4),
    "hole_punched_on_height_gauge_lines": (0.2 / 3, 8),
    "hole_position_by_mill_dials": (0.1 / 3**0.5, 12),
    "hole_position_by_mill_readout": (0.05 / 3**0.5, 16),
}
C = {
    "height_set_by_rule": (0.4 / 3, 3),
    "height_set_with_a_feeler_gauge": (0.08 / 3, 6),
    "height_set_on_slip_gauges": (0.04 / 3, 10),
}
D = {
    "squared_by_eye": (1.5 / 3, 1),
    "squared_with_an_engineers_square": (0.3 / 3, 4),
}
POINTS, WEIGHTS = np.polynomial.legendre.leggauss(32)


def exact_yield(names, limit=0.3):
    """Yield of one set: the normal's distribution function averaged over the even spread, if any.

    The sum of normals is normal; b by the mill is even with half-width h, and the average over it
    is taken with 32 Gauss-Legendre points.
    """
    a, b, c, d = (table[name][0] for table, name in zip((A, B, C, D), names, strict=True))
    h = b * 3**0.5 if "mill" in names[1] else 0.0
    s = np.sqrt(a**2 + c**2 + d**2 + (0.0 if h else b**2))
    inside = stats.norm.cdf((limit - h * POINTS) / s) - stats.norm.cdf((-limit - h * POINTS) / s)
    return float(0.5 * WEIGHTS @ inside)


def minutes_of(names):
    tables = (A, B, C, D)
    now = sum(next(iter(table.values()))[1] for table in tables)
    return sum(table[name][1] for table, name in zip(tables, names, strict=True)) - now


def names_of(found):
    """Processes of the four with the steps taken."""
    taken = {step.dimension.name: step.choice.process for step in found.steps}
    stated = {name: next(iter(table)) for name, table in zip("abcd", (A, B, C, D), strict=True)}
    return tuple((stated | taken).values())


@pytest.mark.parametrize("target", [0.87, 0.92, 0.965, 0.985, 0.9925])
def test_cheapest_set_is_the_one_a_search_of_all_finds(target, tmp_path):
    """All 72 sets are priced exactly; the cheapest that reaches the target is the one reported.

    No set's exact yield is so near the target that sampling could take it for the other side.
    """
    exact = {names: exact_yield(names) for names in product(A, B, C, D)}
    reaching = {names: share for names, share in exact.items() if share >= target}
    cheapest = min(reaching, key=lambda names: (minutes_of(names), -reaching[names]))
    found = tighten(study(tmp_path, SET, points=2048), target=target, options=ONE).found
    assert min(abs(share - target) for share in exact.values()) > found.overall.half_width
    assert found.reached
    assert names_of(found) == cheapest
    assert found.minutes == minutes_of(cheapest)
    assert found.cheapest
    assert found.overall.low >= target
    near(found.overall, exact[cheapest])
    assert found.works == found.overall  # nothing varies from moment to moment
    # Step by step, from the drawing on.
    near(found.as_drawn.works, exact_yield(next(iter(exact))))
    assert found.steps[-1].overall == found.overall


@pytest.mark.parametrize(
    ("limit", "target", "stated", "cheapest"),
    [
        # Greed takes the marking first, for two minutes, and then does not need it.
        (
            0.3,
            0.98,
            {"a": "silver_soldered_position", "b": "silver_soldered_position",
             "c": "marked_with_rule_and_scriber"},
            {"a": "silver_soldered_position_in_a_jig", "b": "silver_soldered_position_in_a_jig"},
        ),
        # Greed takes the bend from the eye to the jig (11 minutes); the former (3) and a square
        # for the other (3) do as well.
        (
            1.24,
            0.9,
            {"a": "height_set_by_rule", "d": "bent_by_eye", "e": "squared_by_eye"},
            {"d": "bent_by_hand_over_a_former", "e": "squared_with_an_engineers_square"},
        ),
    ],
)  # fmt: skip
def test_what_greed_takes_needlessly_is_given_up(limit, target, stated, cheapest, tmp_path):
    """All of these are normal; half-widths of the table are three deviations.

    So the sum is normal, and its deviation a third of the root of the sum of their squares.
    """
    half = {
        "marked_with_rule_and_scriber": 0.25,
        "marked_with_height_gauge": 0.08,
        "silver_soldered_position": 0.4,
        "silver_soldered_position_in_a_jig": 0.12,
        "height_set_by_rule": 0.4,
        "height_set_with_a_feeler_gauge": 0.08,
        "height_set_on_slip_gauges": 0.04,
        "bent_by_eye": 4.0,
        "bent_by_hand_over_a_former": 2.0,
        "bent_in_a_jig": 0.7,
        "squared_by_eye": 1.5,
        "squared_with_an_engineers_square": 0.3,
    }
    text = (
        f'models = ["stack"]\n[limits.length]\nat_least = "-{limit} mm"\nat_most = "{limit} mm"\n'
    )
    for name, process in stated.items():
        unit = "deg" if name in "de" else "mm"
        text += f'[inputs.{name}]\nnominal = "0 {unit}"\nprocess = "{process}"\n'
    found = tighten(study(tmp_path, text, points=2048), target=target, options=ONE).found
    assert found.reached
    assert {step.dimension.name: step.choice.process for step in found.steps} == cheapest
    held = [half[process] / 3.0 for process in (stated | cheapest).values()]
    exact = strip(limit, np.hypot.reduce(held))
    assert exact > target
    near(found.overall, exact)
    # Without any one of the steps it would not do.
    for name in cheapest:
        held = [
            half[process] / 3.0 for process in (stated | cheapest | {name: stated[name]}).values()
        ]
        assert strip(limit, np.hypot.reduce(held)) < target


JOINTS = """
models = ["stack"]
[inputs.a]
nominal = "0 mm"
process = "silver_soldered_position"
[inputs.b]
nominal = "0 mm"
process = "silver_soldered_position"
[inputs.c]
nominal = "20 mm"
process = "sawn_and_filed_to_a_scribed_line"
[limits.length]
at_least = "19.7 mm"
at_most = "20.3 mm"
"""
# Standard deviations (mm), minutes for each and for the jig, of the table: normal throughout.
JOINT = {
    "silver_soldered_position": (0.4 / 3, 15, 0),
    "silver_soldered_position_in_a_jig": (0.12 / 3, 18, 12),
}
LENGTH = {name: (*row, 0) for name, row in A.items()}


def joints_yield(names):
    held = [table[name][0] for table, name in zip((JOINT, JOINT, LENGTH), names, strict=True)]
    return strip(0.3, np.hypot.reduce(held))


def joints_minutes(names, *, jig_for_each=False):
    """Each has its minutes, and the jig is made once."""
    tables = (JOINT, JOINT, LENGTH)
    each = sum(table[name][1] for table, name in zip(tables, names, strict=True)) - 40
    jigs = list(names) if jig_for_each else set(names)
    return each + sum((JOINT | LENGTH)[name][2] for name in jigs)


@pytest.mark.parametrize("target", [0.9, 0.95, 0.98, 0.9995])
def test_a_jig_is_made_once_for_all_that_it_holds(target, tmp_path):
    """All 12 sets are priced exactly; the cheapest that reaches the target is the one reported.

    A jig for one joint is 3 + 12 minutes, for both 6 + 12. At 0.95 both joints in it (18) are
    cheaper than one and a better length (20); paid for each joint, it would be the other way.
    """
    every = list(product(JOINT, JOINT, LENGTH))
    exact = {names: joints_yield(names) for names in every}
    reaching = [names for names in every if exact[names] >= target]
    cheapest = min(reaching, key=joints_minutes)
    if target == 0.95:
        dear = min(reaching, key=lambda names: joints_minutes(names, jig_for_each=True))
        assert joints_minutes(dear) > joints_minutes(cheapest) == 18
    found = tighten(study(tmp_path, JOINTS, points=2048), target=target, options=ONE).found
    assert min(abs(share - target) for share in exact.values()) > found.overall.half_width
    assert found.reached
    assert found.cheapest
    assert found.minutes == joints_minutes(cheapest)
    near(found.overall, exact[cheapest])
    assert sum(found.making.values()) == (
        12 if JOINT.keys() & set(cheapest[:2]) - {every[0][0]} else 0
    )


def test_reported_yields_are_those_of_the_fresh_seed(tmp_path):
    found = tighten(study(tmp_path, SET), target=0.92, options=ONE).found
    assert found.fresh_seed != 5
    variant = {}
    for step in found.steps:
        variant |= step.choice.spreads
    again = run_variants(plan_of(tmp_path, SET, seed=found.fresh_seed), [variant], options=ONE)
    assert again.overall(0) == found.as_drawn.works == found.as_drawn.share
    assert again.overall(1) == found.overall


def test_no_set_reaches_where_none_does(tmp_path):
    """The best of the 72 sets, everything at its closest, keeps 0.9953; 0.999 is asked."""
    closest = tuple(tuple(table)[-1] for table in (A, B, C, D))
    assert max(exact_yield(names) for names in product(A, B, C, D)) == exact_yield(closest)
    found = tighten(study(tmp_path, SET), target=0.999, options=ONE).found
    assert not found.reached
    near(found.closest.works, exact_yield(closest))
    assert found.closest.works.high < 0.999
    assert found.exact.works.value == 1.0
    assert found.in_the_way == "length"


def test_a_nominal_is_not_a_tolerance(tmp_path):
    """A nominal 0.5 mm out with the limit at 0.3 mm: exactly as drawn, none keeps within."""
    text = SET.replace('nominal = "20 mm"', 'nominal = "20.5 mm"\nadjust = ["19 mm", "21 mm"]')
    found = tighten(study(tmp_path, text), target=0.9, options=ONE).found
    assert not found.reached
    assert found.exact.works.value == 0.0


@pytest.mark.slow
def test_searches_on_little_do_not_report_what_misses(tmp_path):
    """With 64 points the search fools itself at times; the fresh run must not.

    A set is reported only where the low end of a fresh run's 95 % interval reaches the target, so
    its exact yield misses it in no more than one run of forty; of these twenty in no more than
    the 99 % point of that binomial.
    """
    misses, reported = 0, 0
    for seed in range(20):
        read = study(tmp_path, SET, seed=seed, points=64, replicates=8)
        found = tighten(read, target=0.975, options=ONE).found
        assert found.reached == (found.works.low >= 0.975)
        reported += found.reached
        misses += found.reached and exact_yield(names_of(found)) < 0.975
    assert reported >= 15
    assert misses <= stats.binom.ppf(0.99, 20, 0.025)


# Two levels: parts that work, and moments that are kept

SHAKE, KEEPS = 0.03, 0.99


def of_parts(limit=0.3):
    """How far a part may be out on its own: |x + SHAKE r| <= limit at 0.99 of its moments."""

    def kept(x):
        return stats.norm.cdf((limit - x) / SHAKE) - stats.norm.cdf((-limit - x) / SHAKE)

    return optimize.brentq(lambda x: kept(x) - KEEPS, 0.0, limit)


SHAKEN = SET + (
    f'[inputs.e]\nnominal = "0 deg"\nstandard_deviation = "{SHAKE} deg"\nkind = "running"\n'
)


def at_a_moment(names, limit=0.3):
    """Yield at a moment: with one more normal, of the moment."""
    a, b, c, d = (table[name][0] for table, name in zip((A, B, C, D), names, strict=True))
    h = b * 3**0.5 if "mill" in names[1] else 0.0
    s = np.sqrt(a**2 + c**2 + d**2 + SHAKE**2 + (0.0 if h else b**2))
    inside = stats.norm.cdf((limit - h * POINTS) / s) - stats.norm.cdf((-limit - h * POINTS) / s)
    return float(0.5 * WEIGHTS @ inside)


def test_halving_gains_parts_that_work(tmp_path):
    """A part x = a + b + c + d works where |x| <= x*, as ``of_parts`` has it.

    So what works is ``exact_yield`` at x* for the limit, and halving c or d halves its deviation.
    """
    answer = tighten(study(tmp_path, SHAKEN, points=2048), options=ONE)
    edge = of_parts()
    s = np.array([table[next(iter(table))][0] for table in (A, B, C, D)])
    stated = strip(edge, np.hypot.reduce(s))
    near(answer.levels.works, stated)
    near(answer.levels.share, strip(0.3, np.hypot.reduce([*s, SHAKE])))
    assert answer.levels.no_band == "no model inputs"
    exact = {
        name: strip(edge, np.hypot.reduce(np.where(np.arange(4) == place, 0.5 * s, s)))
        for place, name in enumerate("abcd")
    }
    for row in answer.halved:
        gain = exact[row.dimension.name] - stated
        if row.more is None:
            # What is not priced gains next to nothing beside the best.
            assert gain < 0.05 * (max(exact.values()) - stated)
            continue
        near(row.works, exact[row.dimension.name])
        assert abs(row.more.value - gain) <= 2.0 * row.more.half_width
    assert [row.more is None for row in answer.halved] == [False, False, True, True]
    assert "more of 100 parts that work" in halving_verdict(answer)


@pytest.mark.parametrize("target", [0.71, 0.77, 0.9])
def test_cheapest_set_for_parts_that_work(target, tmp_path):
    """All 72 sets are priced exactly, as ``exact_yield`` at x*; no other is cheaper and does.

    Kept at a moment it would be more, and a looser set would pass for it.
    """
    edge = of_parts()
    exact = {names: exact_yield(names, edge) for names in product(A, B, C, D)}
    reaching = {names: share for names, share in exact.items() if share >= target}
    cheapest = min(reaching, key=lambda names: (minutes_of(names), -reaching[names]))
    found = tighten(study(tmp_path, SHAKEN, points=2048), target=target, options=ONE).found
    assert min(abs(share - target) for share in exact.values()) > found.works.half_width
    assert found.reached
    assert found.works.low >= target
    assert found.cheapest
    assert names_of(found) == cheapest
    near(found.works, exact[cheapest])
    near(found.overall, at_a_moment(cheapest))
    near(found.as_drawn.works, exact_yield(next(iter(exact)), edge))
    near(found.closest.works, exact_yield(tuple(tuple(table)[-1] for table in (A, B, C, D)), edge))
    assert found.steps[-1].works == found.works
    moments = {names: at_a_moment(names) for names in product(A, B, C, D)}
    enough = [names for names, share in moments.items() if share >= target]
    assert min(map(minutes_of, enough)) < minutes_of(cheapest)


def test_no_set_makes_enough_parts_work(tmp_path):
    """At its closest each 0.993 of moments are kept, and 0.970 of parts work; 0.985 is asked."""
    edge, closest = of_parts(), tuple(tuple(table)[-1] for table in (A, B, C, D))
    assert exact_yield(closest, edge) < 0.975
    assert at_a_moment(closest) > 0.985
    answer = tighten(study(tmp_path, SHAKEN), target=0.985, options=ONE)
    found = answer.found
    assert not found.reached
    near(found.closest.works, exact_yield(closest, edge))
    near(found.works, exact_yield(names_of(found), edge))
    assert set_verdict(answer).startswith(
        "No set of tolerances tried makes 98.5 of 100 parts work."
    )


def test_band_of_the_chosen_set(tmp_path):
    """The third is a doubt 0.2 + 0.1 m instead: W(m) = P(|x + 0.2 + 0.1 m| <= x*).

    It falls with |0.2 + 0.1 m|, a folded normal, whose quantiles are scipy's.
    """
    text = SHAKEN.replace(
        '[inputs.c]\nnominal = "0 mm"\nprocess = "height_set_by_rule"\n',
        '[inputs.c]\nnominal = "0.2 mm"\nstandard_deviation = "0.1 mm"\nkind = "model"\n',
    )
    answer = tighten(study(tmp_path, text), target=0.4, options=ONE)
    edge, found = of_parts(), answer.found

    def works(names, away):
        h = B[names[1]][0] * 3**0.5 if "mill" in names[1] else 0.0
        s = np.hypot.reduce([A[names[0]][0], D[names[3]][0], 0.0 if h else B[names[1]][0]])
        at = away + h * POINTS
        return 0.5 * WEIGHTS @ (stats.norm.cdf((edge - at) / s) - stats.norm.cdf((-edge - at) / s))

    near_by, far_off = stats.foldnorm.ppf([0.05, 0.95], 2.0, scale=0.1)
    assert found.reached
    assert found.steps
    stated = tuple(next(iter(table)) for table in (A, B, C, D))
    for levels, names in ((answer.levels, stated), (found.there, names_of(found))):
        for end, away in ((levels.band.low, far_off), (levels.band.high, near_by)):
            assert abs(end.value - works(names, away)) <= 2.0 * end.half_width
        assert levels.band.low.value < levels.value < levels.band.high.value
    assert "What the physics does not know" in set_verdict(answer)


def test_a_set_above_the_ceiling_is_not_reached(tmp_path):
    """SHAKEN with a ceiling of 1e-6 that no set keeps: whatever the target, none is reached."""
    text = SHAKEN.replace("[limits.length]", "[limits.length]\nhurts = true\nceiling = 1e-6")
    answer = tighten(study(tmp_path, text), target=0.5, options=ONE)
    assert not answer.found.reached
    assert set_verdict(answer).startswith("This can hurt: length")
    free = tighten(study(tmp_path, SHAKEN), target=0.5, options=ONE)
    assert free.found.reached
    assert "hurt" not in set_verdict(free)


# Weights


def two_normals(folder, limit=2.0, **sampling):
    text = f"""
    models = ["weighted_sum"]
    [inputs]
    x1 = {{ standard_deviation = 1 }}
    x2 = {{ standard_deviation = 1 }}
    [limits.y]
    at_least = -{limit}
    at_most = {limit}
    """
    return plan_of(folder, text, **sampling)


def test_narrowed_normal_by_weights(tmp_path):
    """X1, x2 standard normal, |x1 + x2| < 2: 0.842700793; deviation of x2 halved: 0.926361730.

    statistics-sources 7.3: erf(1), and erf(2/sqrt(2.5)) with the variance 1.25.
    """
    plan = two_normals(tmp_path, points=4096)
    near(run_variants(plan, []).overall(0), 0.842700793)
    (found,) = reweighted_yields(plan, [{"x2": normal(0.0, 0.5)}], options=ONE)
    near(found.overall, 0.926361730)
    near(found.gain, 0.926361730 - 0.842700793)
    assert found.overall.half_width < 0.002
    assert found.effective == pytest.approx(0.661438, abs=0.002)


@pytest.mark.parametrize(
    ("spread", "effective"),
    [
        # statistics-sources 7.3: scale r gives r sqrt(2 - r^2); a shift of d deviations
        # exp(-d^2).
        (normal(0.0, 0.5), 0.661438),
        (normal(0.0, 0.8), 0.932952),
        (normal(0.0, 0.9), 0.981784),
        (normal(0.0, 1.2), 0.897998),
        (normal(0.25, 1.0), 0.939413),
        (normal(0.5, 1.0), 0.778801),
        (normal(1.0, 1.0), 0.367879),
    ],
)
def test_effective_sample_of_a_normal(spread, effective, tmp_path):
    plan = two_normals(tmp_path, points=4096)
    (found,) = reweighted_yields(plan, [{"x1": spread}], options=ONE)
    assert found.effective == pytest.approx(effective, rel=0.02)


def test_effective_samples_multiply_over_inputs(tmp_path):
    plan = two_normals(tmp_path, points=4096)
    both = {"x1": normal(0.0, 0.5), "x2": normal(0.0, 0.8)}
    (found,) = reweighted_yields(plan, [both], options=ONE)
    assert found.effective == pytest.approx(0.661438 * 0.932952, rel=0.02)


def test_effective_sample_of_an_even_spread_is_what_is_left_of_it(tmp_path):
    """Uniform narrowed to a fraction r: r of the sample, with weights all alike; failures too.

    x even in -1..1, x <= 0.2: 0.4 fail; narrowed to -0.5..0.5 0.3 fail, and of 2 x 16 x 1024 rows
    half are inside, 0.3 of which fail.
    """
    text = """
    models = ["weighted_sum"]
    [inputs]
    x1 = { plus_minus = 1 }
    [limits.y]
    at_most = 0.2
    """
    plan = plan_of(tmp_path, text)
    (found,) = reweighted_yields(plan, [{"x1": bounded("rectangular", -0.5, 0.5)}], options=ONE)
    near(found.overall, 0.7)
    near(found.gain, 0.1)
    assert found.effective == pytest.approx(0.5, rel=1e-3)
    assert found.effective_failures == pytest.approx(0.3 * 0.5 * 2 * 16 * 1024, rel=0.01)


def test_weights_of_one_are_the_plain_count():
    # Of four rows in each of three replicates one, none and two fail.
    failures = np.array([1.0, 0.0, 2.0])
    ones = np.stack([np.full(3, 4.0), np.full(3, 4.0), failures, failures, failures], axis=1)
    found = reweighted_yield(ones, 4, 0.95)
    assert found.overall.value == pytest.approx(0.75)
    assert found.effective == 1.0
    assert found.effective_failures == 3.0
    assert found.gain.value == 0.0
    assert np.isnan(found.overall.low)  # three failures are too few for an interval


@pytest.mark.parametrize(
    ("stated", "wanted", "why"),
    [
        ("standard_deviation = 1", normal(0.0, 2.0**0.5), "square root of two"),
        ("standard_deviation = 1", normal(0.0, 3.0), "square root of two"),
        ("lognormal = 0.1", lognormal(1.0, 0.15), "square root of two"),
        ("plus_minus = 1", bounded("rectangular", 0.5, 2.5), "beyond what was sampled"),
        ("plus_minus = 1", bounded("rectangular", -0.5, 2.5), "beyond what was sampled"),
        ("plus_minus = 1", bounded("triangular", 0.5, 1.5), "shape"),
        ('plus_minus = 1\nshape = "arcsine"', bounded("arcsine", 0.5, 1.5), "without bounds"),
        ("standard_deviation = 1", 1.0, "shape"),
    ],
)
def test_unsound_weights_are_refused(stated, wanted, why, tmp_path):
    text = (
        f'models = ["weighted_sum"]\n[inputs.x1]\nnominal = 1\n{stated}\n[limits.y]\nat_most = 2\n'
    )
    plan = plan_of(tmp_path, text, points=64, replicates=8)
    assert why in weights_refused(plan, {"x1": wanted})
    with pytest.raises(CallError, match=why):
        reweighted_yields(plan, [{"x1": wanted}], options=ONE)


def test_correlated_inputs_are_not_weighted(tmp_path):
    text = """
    models = ["weighted_sum"]
    correlations = [{ inputs = ["x1", "x2"], rank = 0.5 }]
    [inputs]
    x1 = { standard_deviation = 1 }
    x2 = { standard_deviation = 1 }
    x3 = { standard_deviation = 1 }
    [limits.y]
    at_most = 1
    """
    plan = plan_of(tmp_path, text, points=64, replicates=8)
    assert "correlated" in weights_refused(plan, {"x1": normal(0.0, 0.5)})
    assert weights_refused(plan, {"x3": normal(0.0, 0.5)}) == ""


def test_weights_and_the_same_uniforms_rank_alike(tmp_path):
    text = """
    models = ["weighted_sum"]
    [inputs]
    x1 = { standard_deviation = 0.6 }
    x2 = { standard_deviation = 0.3 }
    x3 = { plus_minus = 1.5, shape = "triangular" }
    [limits.y]
    at_least = -1.5
    at_most = 1.5
    """
    read = study(tmp_path, text)
    plain, weighted = (
        tighten(read, options=ONE),
        tighten(read, by_weights=True, options=ONE),
    )
    assert [r.dimension.name for r in plain.halved] == [r.dimension.name for r in weighted.halved]
    for one, other in zip(plain.halved, weighted.halved, strict=True):
        apart = one.gain.half_width + other.gain.half_width
        assert abs(one.gain.value - other.gain.value) <= 2.0 * apart
        assert other.weighted.effective < 0.8


# A hundred small studies


def small_plan(plan, random, seed):
    """The plan with other spreads of any kind, another strip that most keep within, a seed."""
    inputs = []
    for item in plan.inputs:
        if item.spread is not None:
            shape, half = (
                random.choice(["normal", "rectangular", "triangular"]),
                random.uniform(0.3, 2),
            )
            item = replace(item, spread=bounded(str(shape), -half, half))
        inputs.append(item)
    limit = replace(plan.limits[0], at_most=random.uniform(0.3, 1.2))
    sampling = replace(plan.sampling, seed=seed)
    return replace(plan, inputs=tuple(inputs), limits=(limit,), sampling=sampling)


@pytest.mark.slow
def test_hundred_small_studies_agree_with_fresh_runs(tmp_path):
    """Halved on the same uniforms, and by weights, each against a fresh sample.

    The difference of two independent estimates with 95 % intervals h1 and h2 lies within
    sqrt(h1^2 + h2^2) about 95 times of 100; the central 99 % of that binomial is asked for.
    """
    random = np.random.default_rng(7)
    normals = [f"[inputs.{name}]\nstandard_deviation = 1\n" for name in ("x1", "x2", "x3")]
    text = f'models = ["weighted_sum"]\n{"".join(normals)}[limits.y]\nat_most = 1\n'
    base = plan_of(tmp_path, text, points=128)
    same, weights = 0, 0
    for number in range(100):
        plan = small_plan(base, random, seed=number)
        item = plan.varying[number % 3]
        variant = {item.name: narrowed(item.spread, 0.5, item.nominal)}
        fresh = replace(plan, sampling=replace(plan.sampling, seed=1000 + number))
        reference = run_variants(fresh, [variant], options=ONE).overall(1)
        on_same = run_variants(plan, [variant], options=ONE).overall(1)
        (by_weights,) = reweighted_yields(plan, [variant], options=ONE)
        same += _agree(on_same, reference)
        weights += _agree(by_weights.overall, reference)
    low, _ = stats.binom.interval(0.99, 100, 0.95)
    assert same >= low
    assert weights >= low


def _agree(one, other):
    return abs(one.value - other.value) <= np.hypot(one.half_width, other.half_width)


# Densities


DENSITIES = [
    (normal(12.3, 0.4), stats.norm(12.3, 0.4)),
    (bounded("rectangular", -1.0, 4.0), stats.uniform(-1.0, 5.0)),
    (bounded("triangular", 2.0, 5.0, mode=2.6), stats.triang(0.2, 2.0, 3.0)),
    (bounded("triangular", 2.0, 5.0, mode=2.0), stats.triang(0.0, 2.0, 3.0)),
    (bounded("triangular", 2.0, 5.0, mode=5.0), stats.triang(1.0, 2.0, 3.0)),
    (bounded("arcsine", -2.0, 1.0), stats.arcsine(-2.0, 3.0)),
    (bounded("trapezoidal", 1.0, 3.0, flat=0.4), stats.trapezoid(0.3, 0.7, 1.0, 2.0)),
    (bounded("trapezoidal", 1.0, 3.0, flat=1.0), stats.uniform(1.0, 2.0)),
    (bounded("log_uniform", 0.5, 12.5), stats.loguniform(0.5, 12.5)),
    (lognormal(3.0, 0.12), stats.lognorm(np.sqrt(np.log(1 + 0.12**2)), scale=3.0)),
]


@pytest.mark.parametrize(("spread", "reference"), DENSITIES)
def test_densities(spread, reference):
    low, high = reference.ppf(1e-6), reference.ppf(1 - 1e-6)
    x = np.linspace(low - 0.3 * (high - low), high + 0.3 * (high - low), 401)
    # At the very ends it is a matter of taste.
    x = x[(np.abs(x - spread.low) > 1e-6) & (np.abs(x - spread.high) > 1e-6)]
    assert density(spread, x) == pytest.approx(reference.pdf(x), rel=1e-9, abs=1e-12)


def test_density_of_measured_values_is_the_slope_of_their_distribution():
    spread = empirical(np.array([1.0, 1.2, 1.25, 1.7, 2.4, 2.5]))
    u = np.linspace(0.01, 0.99, 99)
    x = quantile(spread, u)
    slope = (quantile(spread, u + 1e-9) - quantile(spread, u - 1e-9)) / 2e-9
    assert density(spread, x) == pytest.approx(1.0 / slope, rel=1e-4)
    grid = np.linspace(-3.0, 7.0, 200_001)
    assert np.trapezoid(density(spread, grid), grid) == pytest.approx(1.0, abs=1e-4)
    assert density(moved(spread, 1.0), x + 1.0) == pytest.approx(density(spread, x), rel=1e-6)
