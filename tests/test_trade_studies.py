"""A study in the trade's sizes: tubes, sizes to draw at, names said back."""

import re

import pytest

import sensitivity as sl
from sensitivity.answers.window.find import find_window
from sensitivity.answers.window.settings import Asked
from sensitivity.answers.window.words import window_verdict
from sensitivity.engine.options import RunOptions
from sensitivity.errors import StudyError
from sensitivity.presentation.units_said import said_by
from tests.strategies import GOOD

TIGHT = GOOD.replace('nominal    = "10 mm"', 'nominal    = "9.7 mm"')

STUDY = """
models = ["stepped_pipe", "fuel_level"]
[inputs.pipe_bore]
tube = "5/32 in x 22 SWG"
plus_minus = "± 2 thou"
[limits.flood_margin]
at_least = "0 mm"
"""


@pytest.fixture
def study(tmp_path):
    def read(text):
        path = tmp_path / "study.toml"
        path.write_text(text, encoding="utf-8")
        return sl.read_study(path)

    return read


def item(study, name):
    return next(each for each in study.inputs if each.name == name)


def test_a_tube_says_the_bore_and_the_wall(study):
    found = study(STUDY)
    bore, wall = item(found, "pipe_bore"), item(found, "pipe_wall")
    assert bore.nominal == pytest.approx(25.4 * (5 / 32 - 2 * 0.028))
    assert wall.nominal == pytest.approx(25.4 * 0.028)
    assert bore.stated.startswith("± 2 thou,")
    assert wall.spread is None


def test_a_wall_keeps_its_own_spread(study):
    wall = item(study(STUDY + '[inputs.pipe_wall]\nplus_minus = "1 thou"\n'), "pipe_wall")
    assert wall.nominal == pytest.approx(0.7112)
    assert wall.spread is not None


def test_names_are_said_back_with_their_size(study):
    found = study(STUDY + '[inputs.breather_bore]\nnominal = "no 9 drill"\n')
    said = said_by(found)
    assert said.drawn(item(found, "pipe_bore")) == "5/32 in x 22 SWG (2.546 mm)"
    assert said.drawn(item(found, "pipe_wall")) == "22 SWG (0.7112 mm)"
    assert said.drawn(item(found, "breather_bore")) == "No. 9 (4.978 mm)"
    inches = said_by(study('units = "inch"\n' + STUDY))
    assert inches.drawn(item(found, "pipe_wall")) == "22 SWG (0.028 in)"
    drilled = study('units = "inch"\n' + STUDY + '[inputs.breather_bore]\nnominal = "#30"\n')
    assert said_by(drilled).drawn(item(drilled, "breather_bore")) == "No. 30 (0.1285 in)"


@pytest.mark.parametrize(
    ("before", "after", "fault"),
    [
        ("5/32 in x 22 SWG", "22 SWG x 5/32 in", r"line 4: inputs\.pipe_bore\.tube: .*comes first"),
        ("5/32 in x 22 SWG", "5/32 in", r"tube: .*write outside diameter x wall"),
        ("tube =", 'nominal = "2 mm"\ntube =', r"nominal: the tube says the bore"),
        ("tube =", "nominal =", r'is a tube; write tube = "5/32 in x 22 SWG" in its place'),
        ("[limits", '[inputs.pipe_wall]\nnominal = "22 SWG"\n[limits', r"wall\.nominal: inputs"),
        ("[limits", '[inputs.rise]\ntube = "5/32 in x 22 SWG"\n[limits', r"rise\.tube: goes with"),
    ],
)  # fmt: skip
def test_slips_with_a_tube_are_one_message_each(study, before, after, fault):
    with pytest.raises(StudyError) as refusal:
        study(STUDY.replace(before, after))
    assert re.search(fault, str(refusal.value))
    assert "1 fault in this study" in str(refusal.value)


def sized(sizes, beside='redraw = ["2 mm", "3 mm"]'):
    return STUDY.replace("[limits", f"redraw_sizes = {sizes}\n{beside}\n[limits")


def test_a_series_gives_the_sizes_of_its_range(study):
    found = item(study(sized('"number drills"')), "pipe_bore").redraw
    assert found.series == "number drills"
    # No. 47, 0.0785 in, is 1.994 mm; No. 46 to No. 32, 0.081 to 0.116 in, lie within.
    assert found.sizes[0] == pytest.approx(25.4 * 0.081)
    assert found.sizes[-1] == pytest.approx(25.4 * 0.116)
    assert len(found.sizes) == 15


def test_sizes_of_a_series_are_said_by_name(study):
    found = study(sized('"number drills"'))
    assert said_by(found).of("pipe_bore").text(25.4 * 0.086) == "No. 44 (2.184 mm)"


def test_sizes_of_a_list_may_have_names(study):
    found = item(study(sized('["No. 46", "No. 45", "2.5 mm"]')), "pipe_bore").redraw
    assert found.sizes == pytest.approx((25.4 * 0.081, 25.4 * 0.082, 2.5))


@pytest.mark.parametrize(
    ("sizes", "beside", "fault"),
    [
        ('"numbr drills"', 'redraw = ["2 mm", "3 mm"]', 'did you mean "number drills"'),
        ('"3 mm"', 'redraw = ["2 mm", "3 mm"]', 'there are "number drills"'),
        ('"number drills"', "", "wants a range beside it"),
        ('"letter drills"', 'redraw = ["2 mm", "3 mm"]', "fewer than two of the letter drills"),
        ('"SWG"', 'redraw = ["2 mm", "3 mm"]\nredraw_step = "1 mm"', "goes without redraw_sizes"),
    ],
)
def test_slips_with_a_series_are_told(study, sizes, beside, fault):
    with pytest.raises(StudyError) as refusal:
        study(sized(sizes, beside))
    assert fault in str(refusal.value)
    assert "1 fault in this study" in str(refusal.value)


def test_sizes_are_lengths(study):
    slip = '[inputs.elbow_error_1]\nredraw = ["1 deg", "2 deg"]\nredraw_sizes = "SWG"\n'
    with pytest.raises(StudyError, match="SWG are lengths; this input is in deg"):
        study(STUDY + slip.replace("elbow_error_1", "outlet_tilt"))


def test_python_says_a_tube_and_a_series():
    found = sl.Study(
        models=["stepped_pipe", "fuel_level"],
        inputs={
            "pipe_bore": sl.held(
                tube="5/32 in x 22 SWG", redraw=["2 mm", "3 mm"], redraw_sizes="number drills"
            )
        },
    )
    assert item(found, "pipe_bore").nominal == pytest.approx(2.54635)
    assert item(found, "pipe_bore").redraw.series == "number drills"


def test_a_window_has_the_sizes_that_can_be_bought_for_settings(read):
    # Letter drills from 9.5 to 10.6 mm: V to Z, .377 .386 .397 .404 .413 in; and as drawn. A pin of
    # 9.8 mm wants play, but not much: X, 10.084 mm.
    bought = '[inputs.hole]\nredraw = ["9.5 mm", "10.6 mm"]\nredraw_sizes = "letter drills"\n'
    found = find_window(
        read(TIGHT.replace("[inputs.hole]\n", bought)),
        Asked("hole"),
        options=RunOptions(workers=1),
    )
    letters = [25.4 * inches for inches in (0.377, 0.386, 0.397, 0.404, 0.413)]
    assert [each.value for each in found.settings] == pytest.approx(sorted([*letters, 9.7]))
    assert "letter X (10.08 mm)" in window_verdict(found)
