"""Moved nominals against closed forms: slopes, the best joint move, plateaus, what then works.

Outside source throughout: the normal distribution of scipy.stats; each docstring derives its case.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm

from sensitivity.answers.redraw.find import _proved, find_redraw
from sensitivity.answers.redraw.words import redraw_verdict
from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import plan_run
from sensitivity.pricing.linear_margins import bounds_of, climbed, linear_margins
from sensitivity.pricing.nominals import nominals_of
from sensitivity.pricing.redrawing import Moves, nearest
from sensitivity.pricing.slopes import leading_nominals, nominal_slopes
from sensitivity.study.file import read_study

ONE = RunOptions(workers=1)
MODELS = tuple(
    str(Path(__file__).with_name(name)) for name in ("statistics_models.py", "two_level_models.py")
)


def study(folder, text, points=1024, replicates=16):
    sampling = f"[sampling]\nseed = 4\nreplicates = {replicates}\npoints = {points}\n"
    path = folder / "study.toml"
    path.write_text(text + sampling, encoding="utf-8")
    return read_study(path, MODELS)


WEIGHTS, DEVIATIONS, MEAN = (1.0, 2.0, -1.0), (0.5, 0.2, 0.3), 0.4


def weighted(*redraw, nominal=MEAN):
    """Y = x1 + 2 x2 - x3, wanted within 1 of zero; each x with what may be redrawn of it."""
    text = 'models = ["weighted_sum"]\n'
    for place, (weight, deviation) in enumerate(zip(WEIGHTS, DEVIATIONS, strict=True)):
        text += f"[inputs.x{place + 1}]\nnominal = {nominal if place == 0 else 0}\n"
        text += f"standard_deviation = {deviation}\n{redraw[place] if redraw else ''}\n"
        text += f"[inputs.c{place + 1}]\nnominal = {weight}\n"
    return text + "[inputs.c4]\nnominal = 0\n[limits.y]\nat_least = -1\nat_most = 1\n"


S = float(np.hypot(np.hypot(0.5, 0.4), 0.3))


def kept(mean):
    """Yield of N(mean, 0.5 + ...) within 1 of zero."""
    return norm.cdf((1.0 - mean) / S) - norm.cdf((-1.0 - mean) / S)


def test_slopes_are_differences_of_half_a_deviation(tmp_path):
    """Y is N(0.4, s), s^2 = .25 + .16 + .09. A move of x_i by h moves the mean by a_i h.

    (yield(0.4 + a h) - yield(0.4 - a h)) / 2h at h = half the deviation: -.3070343, -.6191855,
    .3115855 (statistics document, D).
    """
    plan = plan_run(study(tmp_path, weighted(), points=4096), indices=False)
    found = {s.nominal.name: s for s in nominal_slopes(plan, nominals_of(plan), options=ONE)}
    printed = (-0.3070343, -0.6191855, 0.3115855)
    for place, (weight, deviation) in enumerate(zip(WEIGHTS, DEVIATIONS, strict=True)):
        h = 0.5 * deviation
        exact = (kept(MEAN + weight * h) - kept(MEAN - weight * h)) / (2.0 * h)
        assert exact == pytest.approx(printed[place], abs=5e-8)
        slope = found[f"x{place + 1}"]
        assert slope.nominal.move == pytest.approx(h)
        assert slope.per_unit.value == pytest.approx(exact, abs=2.0 * slope.per_unit.half_width)
        assert slope.per_unit.half_width < 0.015
        assert slope.settled
        assert slope.limit == "y"
    assert next(s.nominal.name for s in leading_nominals(plan, options=ONE)) in ("x1", "x2")


def test_fine_steps_give_the_gradient(tmp_path):
    """d yield / d mean_i = a_i / s [phi((-1 - mu)/s) - phi((1 - mu)/s)]: -.3141509 for x1.

    The score form E[1{ok} z] / sd is the same for normal inputs.
    """
    gradient = (norm.pdf((-1.0 - MEAN) / S) - norm.pdf((1.0 - MEAN) / S)) / S
    assert gradient == pytest.approx(-0.3141509, abs=5e-8)
    fine = "redraw = [0, 1]\nredraw_step = 0.05"
    plan = plan_run(study(tmp_path, weighted(fine, "", ""), points=4096), indices=False)
    (slope,) = (
        s for s in nominal_slopes(plan, nominals_of(plan), options=ONE) if s.nominal.name == "x1"
    )
    assert slope.nominal.move == pytest.approx(0.05)
    assert slope.per_unit.low <= gradient <= slope.per_unit.high
    assert slope.per_unit.half_width < 0.03


BOX = ("redraw = [0.3, 0.5]", "redraw = [-0.1, 0.1]", "redraw = [-0.1, 0.1]")


def test_best_move_of_a_box_is_its_corner(tmp_path):
    """Moves of -.1, -.1 and .1 take the mean to 0.4 - .1 - .2 - .1 = 0: .8427008, no better is."""
    assert kept(0.0) == pytest.approx(0.8427008, abs=5e-8)
    plan = plan_run(study(tmp_path, weighted(*BOX)), indices=False)
    nominals = tuple(each for each in nominals_of(plan) if each.settings)
    linear = linear_margins(plan, nominals, options=ONE)
    best = climbed(linear, *bounds_of(nominals))
    where = [each.item.nominal + m * each.width for each, m in zip(nominals, best, strict=True)]
    assert abs(np.dot(WEIGHTS, where)) < 0.03
    # Straight margins of a straight model are the model.
    assert linear.kept(best) == pytest.approx(0.8427008, abs=0.003)
    assert linear.kept(np.zeros(3)) == pytest.approx(kept(0.4), abs=0.003)


def test_joint_move_keeps_what_it_promises(tmp_path):
    """Whatever is moved takes the mean to mu': yield(mu') is within the interval that is told.

    Of what is within 0.01 of .8427008 the nearest is taken, so yield(mu') is no less than that.
    """
    found = find_redraw(study(tmp_path, weighted(*BOX)), options=ONE)
    at = {"x1": 0.4, "x2": 0.0, "x3": 0.0}
    at.update({move.nominal.name: move.to for move in found.moves})
    exact = kept(at["x1"] + 2.0 * at["x2"] - at["x3"])
    assert found.there.works.value == pytest.approx(exact, abs=2.0 * found.there.works.half_width)
    assert exact >= 0.8427008 - 0.013
    assert found.more.low <= exact - kept(0.4) <= found.more.high
    for move in found.moves:
        back = {**at, move.nominal.name: move.nominal.item.nominal}
        less = exact - kept(back["x1"] + 2.0 * back["x2"] - back["x3"])
        assert move.lost.value == pytest.approx(less, abs=2.0 * move.lost.half_width)


def test_nearest_of_a_plateau_is_taken(tmp_path):
    """x is even within 0.2 of its nominal, and wanted at least 0: all keep from 0.2 on.

    The range goes on to 2. The nearest adequate setting is 0.2, and not 1.1, its middle.
    """
    text = 'models = ["weighted_sum"]\n[inputs.x1]\nnominal = 0\nplus_minus = 0.2\n'
    text += "redraw = [0, 2]\n[limits.y]\nat_least = 0\n"
    found = find_redraw(study(tmp_path, text), options=ONE)
    (move,) = found.moves
    assert move.to == pytest.approx(0.2)
    assert move.open_end
    assert move.level[1] == 2.0
    assert found.there.works.failures == 0
    assert found.stated.works.value == pytest.approx(0.5, abs=0.01)


@pytest.mark.parametrize(("stated", "expected"), [("redraw_sizes = [0, 0.15, 0.5, 2]", 0.5)])
def test_only_what_can_be_bought_is_proposed(tmp_path, stated, expected):
    text = 'models = ["weighted_sum"]\n[inputs.x1]\nnominal = 0\nplus_minus = 0.2\n'
    text += f"{stated}\n[limits.y]\nat_least = 0\n"
    (move,) = find_redraw(study(tmp_path, text), options=ONE).moves
    assert move.to == expected


def test_what_a_size_that_is_bought_costs(tmp_path):
    """Y is N(x1, S) about where x1 is drawn: best at 0, and 0.15 is the best of the sizes.

    It loses kept(0) - kept(0.15) there.
    """
    text = weighted("redraw_sizes = [-0.5, 0.15, 0.6]", "", "")
    found = find_redraw(study(tmp_path, text, points=4096), options=ONE)
    (move,) = found.moves
    assert move.to == 0.15
    (bought,) = found.bought
    assert bought.wanted == pytest.approx(0.0, abs=0.05)
    cost = kept(bought.wanted) - kept(0.15)
    assert bought.cost.low <= cost <= bought.cost.high
    assert bought.cost.high - bought.cost.low < cost
    assert f"as bought, 0.15, loses {100 * bought.cost.value:.1f}" in redraw_verdict(found)


def test_what_works_is_priced_and_its_rise_is_told(tmp_path):
    """g = d - (b + .5 r + .6 m), kept at .9 of moments: W = F((d - .5 q(.9)) / sqrt(1 + .36)).

    d may be drawn from 1 to 2.5: W still rises where that ends.
    """
    text = 'models = ["linear_margin"]\nkeeps = 0.9\n[inputs.d]\nnominal = 1\n'
    text += "redraw = [1, 2.5]\nredraw_step = 0.25\n"
    for name, kind in (("b1", "build"), ("r", "running"), ("m", "model")):
        text += f'[inputs.{name}]\nstandard_deviation = 1\nkind = "{kind}"\n'
    text += "[limits.margin]\nat_least = 0\n"
    found = find_redraw(study(tmp_path, text), options=ONE)

    def works(d):
        return norm.cdf((d - 0.5 * norm.ppf(0.9)) / np.hypot(1.0, 0.6))

    (move,) = found.moves
    assert (move.to, move.open_end) == (2.5, True)
    assert found.there.works.value == pytest.approx(
        works(2.5), abs=2.0 * found.there.works.half_width
    )
    assert move.undone.value == pytest.approx(works(1.0), abs=2.0 * move.undone.half_width)
    assert found.more.low <= works(2.5) - works(1.0) <= found.more.high


PAIR = '''
from typing import Annotated, NamedTuple


class Pair(NamedTuple):
    height: Annotated[float, "mm", "of the first"]
    apart: Annotated[float, "mm", "the first less the second"]


def pair(
    one: Annotated[float, "mm", "the first"] = 0.0,
    other: Annotated[float, "mm", "the second"] = 0.0,
) -> Pair:
    """Two heights that are to be alike."""
    return Pair(one, one - other)
'''


def test_moves_that_gain_only_together_are_found(tmp_path):
    """one, other ~ N(mean, 0.1); one at least 1 and the two within 0.4 of each other; drawn at 0.

    As drawn none keeps (one is 10 deviations short); one alone at 1.3 is 9 deviations from other.
    With both at 1.3 at least F(3) + 2 F(0.4/0.1414) - 2 = 0.9940 keep (Bonferroni), and more than
    2 F(0.4/0.1414) - 1 = 0.9953 never.
    """
    (tmp_path / "pair.py").write_text(PAIR, encoding="utf-8")
    text = 'models = ["pair"]\n'
    for name in ("one", "other"):
        text += f'[inputs.{name}]\nnominal = "0 mm"\nstandard_deviation = "0.1 mm"\n'
        text += 'redraw = ["0 mm", "3 mm"]\nredraw_step = "0.1 mm"\n'
    text += '[limits.height]\nat_least = "1 mm"\n[limits.apart]\nat_least = "-0.4 mm"\n'
    path = tmp_path / "pair.toml"
    path.write_text(text + 'at_most = "0.4 mm"\n[sampling]\nseed = 4\npoints = 1024\n', "utf-8")
    found = find_redraw(read_study(path, (str(tmp_path / "pair.py"),)), options=ONE)
    at = {move.nominal.name: move.to for move in found.moves}
    assert set(at) == {"one", "other"}
    # The nearest that does about as well: not the middle of what is level to 3 mm.
    assert 1.2 - 1e-9 <= at["one"] <= 1.4 + 1e-9
    assert abs(at["one"] - at["other"]) <= 0.2
    assert found.stated.works.passes == 0
    assert found.there.works.value > 0.97


def test_the_nearest_that_does_is_told_by_what_works(tmp_path):
    """g = d - (0.1 b + .1 r), kept at 0.99 of moments: W = F((d - .1 q(.99)) / 0.1).

    d from 0.1 to 2: W is within 0.01 of 1 from 0.1 (2.326 + 2.326) = 0.465 on, where 0.9995 of
    the moments are kept; within 0.01 of all moments it is from 0.33 on, and then 0.83 work.
    """
    text = 'models = ["linear_margin"]\n[inputs.d]\nnominal = 0.1\nredraw = [0.1, 2]\n'
    for name, kind in (("b1", "build"), ("r", "running")):
        text += f'[inputs.{name}]\nstandard_deviation = 1\nkind = "{kind}"\n'
    text += "[inputs.w1]\nnominal = 0.1\n[inputs.wr]\nnominal = 0.1\n"
    text += "[inputs.wm]\nnominal = 0\n[limits.margin]\nat_least = 0\n"
    found = find_redraw(study(tmp_path, text), options=ONE)
    (move,) = found.moves
    assert 0.45 <= move.to <= 0.62
    assert found.there.works.value >= 0.985


def test_a_move_that_hurts_is_not_taken(tmp_path):
    """x even within 0.5 of 0 has half of it above 0; the sum y hurts where it is above 0.6.

    The range goes to 2, and beyond 0.1 what hurts is no longer none: no further is it moved.
    """
    text = 'models = ["by_halves"]\n[inputs.b]\nnominal = 0\nplus_minus = 0.5\n'
    text += "redraw = [0, 2]\n[limits.of_part]\nat_least = 0\n"
    text += "[limits.both]\nat_most = 0.6\nhurts = true\n"
    found = find_redraw(study(tmp_path, text), options=ONE)
    (move,) = found.moves
    assert 0.06 <= move.to <= 0.1 + 1e-9
    assert found.kept_out


def test_what_a_fresh_sample_does_not_bear_out_is_halved(tmp_path):
    """x is even within 0.2 of 0 and wanted within 0.3 of 0.2: kept at 1.0 by no part.

    The search is made to believe that all keep there. Half of it, 0.5 (0 to 0.5 are wanted, so
    half keep, as at 0), falls short as well; a quarter, 0.24 or 0.26, keeps all.
    """
    text = 'models = ["weighted_sum"]\n[inputs.x1]\nnominal = 0\nplus_minus = 0.2\n'
    text += "redraw = [0, 1]\n[limits.y]\nat_least = 0\nat_most = 0.5\n"
    read = study(tmp_path, text)
    plan = plan_run(read, indices=False)
    moves = Moves(plan, nominals_of(plan)[:1], ONE)
    moves.kept([moves.drawn])
    moves.known[1.0,] = moves.known[0.5,] = (1.0, 0.0)
    found = _proved(read, plan, (), moves, (1.0,), ONE)
    assert found.halvings == 2
    (move,) = found.moves
    assert move.to == pytest.approx(0.25, abs=0.011)
    assert found.there.works.failures == 0


def test_nothing_is_moved_where_nothing_gains(tmp_path):
    """At mean 0 no move of Y = x1 + 2 x2 - x3 keeps it within 1 more often."""
    text = weighted("redraw = [-0.1, 0.1]", *BOX[1:], nominal=0)
    found = find_redraw(study(tmp_path, text), options=ONE)
    assert found.tried
    assert found.moves == ()
    assert found.there is found.stated
    assert found.gained is None


def test_nearer_loses_no_more_than_it_may(tmp_path):
    """From the corner of the box towards the drawing, at most 0.01 of .8427008 is lost."""
    plan = plan_run(study(tmp_path, weighted(*BOX)), indices=False)
    nominals = tuple(each for each in nominals_of(plan) if each.settings)
    moves = Moves(plan, nominals, ONE)
    corner = (0.3, -0.1, 0.1)
    near = nearest(moves, corner, 0.01)
    assert abs(near[0] - 0.4) + abs(near[1]) + abs(near[2]) < 0.3
    before, after = moves.kept([corner, near])
    assert after >= before - 0.01
    assert replace(moves).drawn == (0.4, 0.0, 0.0)
