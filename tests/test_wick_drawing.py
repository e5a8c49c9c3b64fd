"""Drawings of the wicks: what is drawn stands where the models' own results say."""

import inspect

import numpy as np
import pytest

from models.burner_fit import burner_fit
from models.drawings import fuel_level as draw_level
from models.fuel_level import fuel_level
from models.pipe_run import stepped_pipe
from models.shapes import Area, Circle, Dimension, Line, Text
from models.wick_drawing import burner_fit as draw_fit
from models.wick_drawing import places
from models.wick_drawing import wicks as draw_wicks
from models.wicks import wicks
from sensitivity.presentation.elevation import STYLES

LIPS = {"wick_lip_error_1": 0.1, "wick_lip_error_2": -0.4, "wick_lip_error_3": 0.2}
WHOLE = (stepped_pipe, fuel_level, wicks)


def design(*models, **changed):
    """Every input and result of models in a row, as a study of them would have it."""
    values = {}
    for model in models:
        defaults = {
            key: value.default for key, value in inspect.signature(model).parameters.items()
        }
        values = {**defaults, **values, **changed}
        answer = model(**{key: values[key] for key in defaults})
        values |= {key: float(value) for key, value in answer._asdict().items()}
    return values


def sizes(shapes):
    return {
        shape.name: float(np.hypot(shape.end[0] - shape.start[0], shape.end[1] - shape.start[1]))
        for shape in shapes
        if isinstance(shape, Dimension)
    }


@pytest.mark.parametrize(
    "changed",
    [
        {},
        {"wick_count": 1},
        {"wick_count": 6, "burner_tilt": 1.5},
        {"burner_tilt": -2.0, "grade": 1.0, "acceleration": -0.1},
        {"manifold": 1.0, "manifold_roll": 2.0, "cant": -1.5},
    ],
)
def test_margins_are_drawn_where_they_are_decided(changed):
    drawn = design(wicks, **{"wick_count": 4, "sump_starve_margin": 9.0, **LIPS, **changed})
    found = sizes(draw_wicks(drawn))
    assert found["flood_margin_all"] == pytest.approx(drawn["flood_margin_all"], abs=0.01)
    assert found["starve_margin_all"] == pytest.approx(drawn["starve_margin_all"], abs=0.01)


def test_a_margin_that_the_sump_decides_is_said_and_not_drawn():
    drawn = design(wicks, wick_count=4, sump_starve_margin=0.2)
    shapes = draw_wicks(drawn)
    assert "starve_margin_all" not in sizes(shapes)
    assert [shape.name for shape in shapes if isinstance(shape, Text) and shape.name] == [
        "starve_margin_all"
    ]


def test_every_lip_stands_at_its_height():
    drawn = design(*WHOLE, wick_count=3, joint_error_4=1.5, **LIPS)
    shapes = draw_wicks(drawn)
    lips = [one.points[0][1] for one in shapes if getattr(one, "role", "") == "high limit"]
    rise = np.arange(3) * drawn["wick_pitch"] * np.sin(np.radians(drawn["burner_tilt"]))
    expected = drawn["burner_height"] + drawn["wick_lip_height"] + rise + list(LIPS.values())
    np.testing.assert_allclose(lips, expected, atol=1e-9)


def test_level_shows_every_wick_that_the_study_has():
    drawn = design(*WHOLE, wick_count=4, joint_error_4=1.0, **LIPS)
    lines = [one for one in draw_level(drawn) if isinstance(one, Line) and one.role == "high limit"]
    assert len(lines) == 4
    middles = [0.5 * (one.points[0][0] + one.points[1][0]) for one in lines]
    steps = drawn["wick_pitch"] * np.cos(np.radians(drawn["burner_tilt"]))
    np.testing.assert_allclose(np.diff(middles), steps, atol=1e-9)
    lips = [one.points[0][1] for one in lines]
    crown = drawn["burner_height"] + drawn["wick_lip_height"]
    expected = [crown + rise + error for _, rise, error in places(drawn)]
    np.testing.assert_allclose(lips, expected, atol=1e-9)
    abreast = design(*WHOLE, wick_count=4, manifold=1.0)
    shown = [one for one in draw_level(abreast) if getattr(one, "role", "") == "high limit"]
    assert len(shown) == 1  # one behind the other


@pytest.mark.parametrize("manifold", [0.0, 1.0])
@pytest.mark.parametrize("yaw", [-4.0, 0.0, 6.0])
def test_plan_of_the_firebox_is_drawn_to_its_clearances(manifold, yaw):
    drawn = design(
        burner_fit, wick_count=3, manifold=manifold, burner_position=20.0, burner_yaw=yaw,
        burner_offset=1.0,
    )  # fmt: skip
    shapes = draw_fit(drawn)
    found = sizes(shapes)
    for name in ("entry_clearance", "far_clearance", "side_clearance", "firebox_width"):
        assert found[name] == pytest.approx(abs(drawn[name]), abs=1e-9)
    tubes = [one for one in shapes if isinstance(one, Circle)]
    assert len(tubes) == 3
    x = [one.centre[0] for one in tubes]
    assert min(x) - tubes[0].radius == pytest.approx(drawn["entry_clearance"])


@pytest.mark.parametrize(
    ("draw", "drawn"),
    [
        (draw_wicks, design(wicks, wick_count=4)),
        (draw_wicks, design(*WHOLE, wick_count=4)),
        (draw_level, design(*WHOLE, wick_count=4)),
        (draw_fit, design(burner_fit, wick_count=4)),
    ],
)
def test_shapes_name_roles_and_quantities_that_exist_and_bear_nan(draw, drawn):
    for shape in draw(drawn):
        if isinstance(shape, Line | Area | Circle):
            assert shape.role in {*STYLES, "trapped air"}  # that one is drawn plain
        elif isinstance(shape, Text):
            assert shape.words
            assert not shape.name or shape.name in drawn
        elif isinstance(shape, Dimension):
            assert shape.name in drawn
    for name in drawn:
        draw(drawn | {name: float("nan")})
