"""A drawing in fractions of an inch is searched on the lines of a rule, and answered in them."""

import re
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import sensitivity as sl
from sensitivity.engine.plan import plan_run
from sensitivity.pricing.nominals import nominals_of
from sensitivity.pricing.round_settings import settings_to_try
from sensitivity.study.file import study_of_text
from sensitivity.study.units_used import drawn_in_fractions, step_of_a_rule

TEXT = (Path(__file__).parent / "inch_level.toml").read_text(encoding="utf-8")
QUICK = sl.RunOptions(seed=1, points=64, replicates=8, workers=1)


def study_at(nominal):
    """The inch study with its breather drawn there, and no step stated for its wick lip."""
    text = TEXT.replace('nominal = "0.545 in"', f'nominal = "{nominal}"')
    return study_of_text(text.replace('redraw_step = "1/64 in"\n', ""), Path("rule.toml"))


def on_a_rule(value, below=64):
    """Tell whether a length in mm lies on a 64th of an inch."""
    return abs(value / 25.4 * below - round(value / 25.4 * below)) < 1e-9


def test_a_window_is_searched_in_64ths_and_said_in_them():
    found = sl.window(study_at("35/64 in"), "breather_height", options=QUICK)
    values = [setting.value for setting in found.found.settings]
    assert len(values) == 17  # 3/8 to 5/8 in
    assert all(map(on_a_rule, values))
    table = next(iter(found.sheets.values()))
    told = [row.cells[0].text for row in table.rows]
    assert {"25/64 in", "1/2 in", "19/32 in"} <= {text.partition(" in")[0] + " in" for text in told}
    assert not any(re.search(r"\d\.\d", text) for text in told)


def test_a_window_of_a_decimal_drawing_is_searched_in_decimals():
    found = sl.window(study_at("0.545 in"), "breather_height", options=QUICK)
    assert not all(on_a_rule(setting.value) for setting in found.found.settings)


def test_a_step_that_is_asked_for_goes_before_the_drawings_own():
    found = sl.window(study_at("35/64 in"), "breather_height", step=("0.05 in",), options=QUICK)
    assert not all(on_a_rule(setting.value) for setting in found.found.settings)


def test_a_map_is_laid_out_on_the_rule():
    study = study_at("35/64 in")
    found = sl.window(study, "breather_height", "wick_lip_height", options=QUICK).found
    for settings in (found.first, found.second):
        assert all(map(on_a_rule, settings))


def test_a_nominal_is_moved_on_the_rule():
    study = study_at("35/64 in")
    for nominal in nominals_of(plan_run(study, indices=False), inches=True):
        if nominal.name in ("breather_height", "wick_lip_height"):
            assert len(nominal.settings) > 4
            assert all(map(on_a_rule, nominal.settings))


def tried(study):
    """What measure and built try of the breather of a study, in inches."""
    item = next(item for item in study.inputs if item.name == "breather_height")
    return settings_to_try([item], np.array([item.adjust]))[:, 0] / 25.4


def test_what_is_set_at_assembly_is_set_on_the_rule():
    assert tried(study_at("35/64 in")) == pytest.approx(np.arange(24, 41) / 64)
    assert not all(map(on_a_rule, 25.4 * tried(study_at("0.545 in"))))


def test_many_that_are_set_together_are_set_on_the_rule():
    item = next(item for item in study_at("35/64 in").inputs if item.name == "breather_height")
    points = settings_to_try([item] * 4, np.array([item.adjust] * 4))
    assert points.shape == (64, 4)
    assert all(map(on_a_rule, points.ravel()))


@pytest.mark.parametrize(
    ("stated", "wanted"),
    [
        ('redraw_sizes = ["0.40 in", "0.45 in", "0.55 in"]', [0.40, 0.45, 0.545, 0.55]),
        ('redraw_step = "1/16 in"', [3 / 8, 7 / 16, 1 / 2, 0.545, 9 / 16, 5 / 8]),
    ],
)
def test_it_is_set_at_the_sizes_or_by_the_step_that_the_study_states(stated, wanted):
    ends = '["3/8 in", "5/8 in"]'
    text = TEXT.replace(ends, f"{ends}\nredraw = {ends}\n{stated}")
    assert tried(study_of_text(text, Path("rule.toml"))) == pytest.approx(wanted)


@pytest.mark.parametrize(
    ("nominal", "fraction"),
    [("35/64 in", True), ('9/16"', True), ("½ in", True), ("0.5 in", False), ("13.5 mm", False),
     ("545 thou", False), ("1 in", False)],
)  # fmt: skip
def test_what_is_a_fraction(nominal, fraction):
    study = study_at(nominal.replace('"', '\\"'))
    item = next(item for item in study.inputs if item.name == "breather_height")
    assert drawn_in_fractions(item) == fraction


@given(st.fractions(0, 4, max_denominator=64), st.fractions("3/32", 8), st.integers(8, 100))
def test_steps_are_the_finest_that_are_not_too_many(low, width, most):
    below = step_of_a_rule(float(25.4 * low), float(25.4 * (low + width)), most)
    assert below in (1, 2, 4, 8, 16, 32, 64)
    assert float(width) * below <= most * (1 + 1e-9)
    assert below == 64 or float(width) * 2 * below > most * (1 - 1e-9)


def test_what_is_too_narrow_for_a_rule_is_not_searched_on_one():
    assert step_of_a_rule(10.0, 10.0 + 25.4 * float(Fraction(5, 64)), 80) is None
