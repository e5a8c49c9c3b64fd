"""``window``: which settings are tried, what is said of them, the command and what it leaves."""

import json
import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensitivity.answers.window.document import window_body
from sensitivity.answers.window.find import find_window, level_with_best
from sensitivity.answers.window.find_map import find_map
from sensitivity.answers.window.settings import Asked
from sensitivity.answers.window.words import value_in_words, window_verdict
from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.engine.options import RunOptions
from sensitivity.errors import CallError
from sensitivity.presentation import wording
from sensitivity.pricing.nominals import round_step
from sensitivity.pricing.variants import at_setting
from sensitivity.spreads.spread import mean, standard_deviation
from sensitivity.study.study import Input
from tests.strategies import GOOD, spreads

ONE = RunOptions(workers=1)


def play_limits(text):
    """The good study with play limited on both sides: a hole that is wide rattles."""
    return text.replace('at_least = "0.05 mm"', 'at_least = "0.05 mm"\nat_most = "0.4 mm"')


# The settings


def test_adjust_is_the_range(read):
    study = read(GOOD.replace('basis      = "drilled"', 'adjust = ["9.9 mm", "10.4 mm"]'))
    values = [setting.value for setting in find_window(study, Asked("hole"), options=ONE).settings]
    assert values[0] == 9.9
    assert values[-1] == 10.4
    assert all(value == float(f"{value:.6g}") for value in values)


def test_the_call_goes_before_adjust(read):
    study = read(GOOD.replace('basis      = "drilled"', 'adjust = ["9.9 mm", "10.4 mm"]'))
    asked = Asked("hole", low=10.0, step=0.05)
    values = [setting.value for setting in find_window(study, asked, options=ONE).settings]
    assert values == pytest.approx(np.arange(10.0, 10.401, 0.05))


def test_range_ends_where_physics_does(read):
    # The share of the gap that is open is within 0..1 and does not matter to the limits.
    window = find_window(read(), Asked("share"), options=ONE)
    values = [setting.value for setting in window.settings]
    assert (values[0], values[-1]) == (0.0, 1.0)
    assert {setting.overall.passes for setting in window.settings} == {window.stated.share.passes}
    assert (window.closed_below, window.closed_above) == ("", "")


def test_window_narrow_in_its_range_is_found_with_finer_settings(read):
    # Play is within 0.05 to 0.4 mm only over a few tenths of the hundred millimetres asked for.
    asked = Asked("hole", 5.0, 105.0)
    window = find_window(read(play_limits(GOOD)), asked, target=0.5, options=ONE)
    assert window.held is not None
    assert window.held[1] - window.held[0] >= 4
    wide = window.settings[window.held[1]].value - window.settings[window.held[0]].value
    assert 0.05 < wide < 0.35


def test_nominal_is_at_the_yield_as_drawn(read):
    window = find_window(read(), Asked("hole", 9.9, 10.1, 0.1), options=ONE)
    assert [setting.value for setting in window.settings] == pytest.approx([9.9, 10.0, 10.1])
    assert window.settings[1].overall == window.stated.share
    assert window.settings[1].works == window.stated.works


def test_running_conditions_can_be_tried_too(read):
    window = find_window(read(), Asked("warmth", -20.0, 60.0), options=ONE)
    assert window_verdict(window).startswith(("Best is a warmth of", "No warmth"))


@pytest.mark.parametrize(
    ("asked", "problem"),
    [
        (Asked("bore"), 'no input "bore"'),
        (Asked("holle"), 'did you mean "hole"'),
        (Asked("hole", 11.0, 9.0), "the first should be the lower"),
        (Asked("hole", 9.0, 11.0, 1e-5), "too small a step"),
        (Asked("hole", 9.9, 10.1, 0.5), "no two settings"),
        (Asked("share", 1.5, 2.0), "physically it is 0..1"),
    ],
)
def test_senseless_calls_are_refused(asked, problem, read):
    with pytest.raises(CallError, match=problem):
        find_window(read(), asked, options=ONE)


def test_a_study_without_limits_is_refused(read):
    text = GOOD[: GOOD.index("[limits.play]")] + GOOD[GOOD.index("[sampling]") :]
    with pytest.raises(CallError, match="no limits"):
        find_window(read(text), Asked("hole"), options=ONE)


def test_a_map_wants_two_inputs(read):
    with pytest.raises(CallError, match="named twice"):
        find_map(read(), (Asked("hole"), Asked("hole")), options=ONE)


@given(st.floats(1e-9, 1e9))
def test_round_steps_are_round_and_near(size):
    step = round_step(size)
    assert size / 1.6 <= step <= 1.6 * size
    assert f"{step:.3e}"[:5] in ("1.000", "2.000", "5.000")


@given(spreads(), st.floats(0.2, 5.0))
def test_a_spread_moves_along_with_its_nominal(spread, factor):
    positive = spread.shape in ("lognormal", "log_uniform")
    nominal = float(np.clip(mean(spread), spread.low, spread.high))
    item = Input("x", "", "", nominal, spread=spread)
    setting = nominal * factor if positive else nominal + factor
    found = at_setting(item, setting)
    grown = factor if positive else 1.0
    assert mean(found) == pytest.approx(
        mean(spread) * grown + (0 if positive else factor), rel=1e-6
    )
    assert standard_deviation(found) == pytest.approx(
        standard_deviation(spread) * grown, rel=1e-6, abs=1e-9
    )


def test_a_held_input_is_its_setting():
    assert at_setting(Input("x", "", "", 3.0), 4.0) == 4.0


# What is said


def test_every_end_is_one_of_the_settings_and_lower_ends_hold(read):
    window = find_window(read(play_limits(GOOD)), Asked("hole"), target=0.6, options=ONE)
    low, high = window.held
    priced = {
        place: setting.works
        for place, setting in enumerate(window.settings)
        if setting.works is not None
    }
    assert all(share.low >= 0.6 for place, share in priced.items() if low <= place <= high)
    assert {low, high} <= priced.keys()
    below = [place for place in priced if place < low]
    above = [place for place in priced if place > high]
    assert not below or priced[max(below)].low < 0.6
    assert not above or priced[min(above)].low < 0.6
    assert window.flat[0] <= window.best <= window.flat[1]
    assert window.flat[0] <= window.chosen <= window.flat[1]
    assert priced[window.best].value == max(share.value for share in priced.values())
    short = [s.short_of_best.value for s in window.settings if s.short_of_best is not None]
    assert min(short) == 0.0
    assert len(short) == len(priced)
    said = window_verdict(window)
    assert "60 of 100 or more do" in said
    assert "parts about" in said
    assert "mm" in said


def share_of(value):
    """A share of 100,000 parts, within half a point."""
    passes = round(100_000 * value)
    return Proportion(value, value - 0.005, value + 0.005, "student", passes, 100_000)


@pytest.mark.parametrize(
    ("shares", "settled", "level"),
    [
        # 35.3 against 34.3 twice, 1.06 and 0.98 below: what prints alike counts alike.
        ((0.3532, 0.3426, 0.3434), True, [True, True, True]),
        ((0.3532, 0.3414, 0.3434), True, [True, False, True]),
        # Where 32.4 is not told apart from the highest, neither is another 32.4, nor 33.0.
        ((0.3532, 0.3241, 0.3239, 0.3304), False, [True, True, True, True]),
    ],
)
def test_settings_that_print_the_same_share_are_both_level(shares, settled, level):
    works = dict(enumerate(map(share_of, shares)))
    below = {place: max(shares) - share for place, share in enumerate(shares)}
    short = {place: Estimate(each, each, each) for place, each in below.items()}
    if not settled:
        short[1] = Estimate(below[1], -0.001, 2.0 * below[1])
    assert list(level_with_best(works, short).values()) == level


def test_the_end_of_what_is_level_is_not_called_its_middle(read):
    found = find_window(read(play_limits(GOOD)), Asked("hole"), target=0.999, options=ONE)
    assert found.held is None
    best = found.best
    ends = replace(found, flat=(best, best + 3), chosen=best)
    best_of_them = value_in_words(ends, found.settings[best].value)
    assert f"{best_of_them} is the best of these" in window_verdict(ends)
    other = replace(ends, chosen=best + 3)
    assert "is the nearest to their middle that was worked out" in window_verdict(other)
    evenly = tuple(
        replace(each, value=10.0 + 0.01 * place) for place, each in enumerate(found.settings)
    )
    middle = replace(found, settings=evenly, flat=(best - 2, best + 2), chosen=best)
    assert "is in the middle of these" in window_verdict(middle)


def test_same_answer_whatever_the_workers(read):
    one = find_window(read(), Asked("hole", 9.8, 10.2), options=ONE)
    two = find_window(read(), Asked("hole", 9.8, 10.2), options=RunOptions(workers=2))
    assert window_body(one) == window_body(two)


@pytest.mark.parametrize(
    ("values", "decimals"),
    [
        ([12.2, 12.3, 12.4], 1),
        ([12.0, 13.0], 0),
        ([12.25, 12.5, 12.75], 2),
        ([10.31875, 10.41875], 2),  # 13/32 in and a tenth of a millimetre
        ([0.1, 0.1001], 4),
    ],
)
def test_settings_are_written_as_they_can_be_set(values, decimals):
    assert wording.decimals_of(values) == decimals


def test_the_builders_step_and_range_are_those_of_the_study(read):
    stated = 'redraw = ["9.7 mm", "10.3 mm"]\nredraw_step = "0.1 mm"'
    study = read(play_limits(GOOD).replace("[inputs.hole]\n", f"[inputs.hole]\n{stated}\n"))
    window = find_window(study, Asked("hole"), target=0.6, options=ONE)
    values = [setting.value for setting in window.settings]
    assert values == pytest.approx(np.arange(9.7, 10.31, 0.1))
    assert window.step == 0.1
    assert set(window.ends) == {"study"}
    finer = find_window(study, Asked("hole", step=0.05), target=0.6, options=ONE)
    assert len(finer.settings) == 13


def test_what_is_drawn_in_inches_is_set_in_inches(read):
    text = play_limits(GOOD).replace('nominal    = "10 mm"', 'nominal    = "0.394 in"')
    text = f'units = "inch"\n{text}'
    window = find_window(read(text), Asked("hole", 9.8, 10.4), target=0.6, options=ONE)
    values = [setting.value for setting in window.settings if setting.value != window.item.nominal]
    thou = np.array(values) / 0.0254
    assert thou == pytest.approx(np.round(thou, 1))
    said = window_verdict(window)
    assert re.search(r"Set the hole at 0\.\d+ in:", said)
    assert " mm" not in said


def test_the_drawing_is_one_of_the_settings(read):
    text = play_limits(GOOD).replace('nominal    = "10 mm"', 'nominal    = "10.0123 mm"')
    window = find_window(read(text), Asked("hole", 9.8, 10.4), options=ONE)
    assert 10.0123 in [setting.value for setting in window.settings]


# The command


def test_the_screen_ends_in_one_sentence(run_study):
    ran = run_study(play_limits(GOOD), "hole", command="window")
    assert ran.exit_code == 0, ran.stderr
    assert "Parts that work against hole" in ran.stdout
    assert "of 100 parts work" in ran.stdout.replace("\n", " ")
    assert "As drawn, 10 mm:" in ran.stdout
    assert "seed 1" in ran.stdout
    assert "estimates from stated" in ran.stdout
    quiet = run_study(play_limits(GOOD), "hole", "--quiet", command="window")
    assert len(quiet.stdout.splitlines()) <= 6
    assert quiet.stdout.startswith(("Set the hole at", "No hole"))


def test_json_is_the_whole_answer(run_study):
    words = ("hole", "--from", "9.6 mm", "--to", "1/2 in", "--step", "4 thou", "--json")
    ran = run_study(play_limits(GOOD), *words, "--target", "0.6", command="window")
    assert ran.exit_code == 0, ran.stderr
    document = json.loads(ran.stdout)
    assert list(document)[:3] == ["schema", "spiritlevel", "command"]
    assert document["step"] == pytest.approx(0.1016)
    assert document["seed"] == 1
    values = [row["setting"] for row in document["settings"]]
    assert np.diff(values) == pytest.approx(0.1016)
    assert (np.array(values) - 10.0) / 0.1016 == pytest.approx(
        np.round((np.array(values) - 10.0) / 0.1016), abs=1e-6
    )
    assert set(document["settings"][0]["limits"]) == {"play", "lean"}
    assert document["window"][0] <= document["centre"] <= document["window"][1]


def test_a_map_by_the_command(run_study):
    words = (
        "hole",
        "pin",
        "--from",
        "9.9 mm",
        "--from",
        "9.7 mm",
        "--to",
        "10.1 mm",
        "--to",
        "9.9 mm",
    )
    ran = run_study(play_limits(GOOD), *words, command="window")
    assert ran.exit_code == 0, ran.stderr
    assert "hole down, pin across" in ran.stdout
    document = json.loads(run_study(play_limits(GOOD), *words, "--json", command="window").stdout)
    assert 1 <= len(document["priced"]) <= 8
    assert document["works_as_drawn"]["keeps"] == 0.99
    shape = (len(document["first"]), len(document["second"]))
    assert np.shape([[cell["estimate"] for cell in row] for row in document["yield"]]) == shape


def test_the_folder_is_whole(run_study, tmp_path):
    target = tmp_path / "answer"
    ran = run_study(GOOD, "hole", "--out", target, command="window")
    assert ran.exit_code == 0, ran.stderr
    found = {str(p.relative_to(target)) for p in target.rglob("*") if p.is_file()}
    assert found == {
        "manifest.json", "report.html", "result.json", "study.toml", "tables/window.csv",
        "figures/window.svg",
    }  # fmt: skip
    assert json.loads((target / "result.json").read_text("utf-8"))["command"] == "window"
    heads = (target / "tables/window.csv").read_text("utf-8").splitlines()[0]
    assert (
        heads == "hole,works,works_low,works_high,yield,yield_low,yield_high,"
        "play,play_low,play_high,lean,lean_low,lean_high"
    )
    assert (target / "figures/window.svg").read_text("utf-8").count("</svg>") == 1
    # Its own folder is replaced, and without --out nothing is written.
    assert run_study(GOOD, "hole", "pin", "--out", target, command="window").exit_code == 0
    assert (target / "figures/map.svg").exists()
    assert not (target / "figures/window.svg").exists()
    before = set(tmp_path.iterdir())
    run_study(GOOD, "hole", command="window")
    assert set(tmp_path.iterdir()) == before


def test_another_folder_is_left_alone(run_study, tmp_path):
    target = tmp_path / "mine"
    target.mkdir()
    (target / "letter.txt").write_text("dear", encoding="utf-8")
    ran = run_study(GOOD, "hole", "--out", target, command="window")
    assert ran.exit_code == 2
    assert "left alone" in ran.stderr
    assert [path.name for path in target.iterdir()] == ["letter.txt"]


@pytest.mark.parametrize(
    ("words", "problem"),
    [
        (("bore",), 'no input "bore"'),
        (("hole", "pin", "tilt"), "one input or two"),
        (("hole", "--step", "0 mm"), "above zero"),
        (("hole", "--step", "3 deg"), "--step"),
        (("hole", "--from", "9"), "--from"),
        (("hole", "pin", "--from", "9 mm"), "once for each"),
        (("hole", "--points", "100"), "--points"),
    ],
)
def test_wrong_calls_end_in_one_message(words, problem, run_study):
    ran = run_study(GOOD, *words, command="window")
    assert ran.exit_code == 2
    assert problem in ran.stderr
    assert ran.stdout == ""
    assert len(ran.stderr.splitlines()) == 1


def test_no_part_at_all_is_said_plainly(read):
    window = find_window(read(), Asked("hole", 5.0, 6.0), options=ONE)
    assert window.held is None
    assert window_verdict(window).startswith("No hole from 5.0")
    assert window_verdict(window).endswith(
        "mm makes a part work, which is to keep every limit in 99 of 100 moments of running."
    )
