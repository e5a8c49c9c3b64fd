"""Drawings of the models: what is drawn stands where the models' own results say."""

import inspect
from itertools import pairwise

import numpy as np
import pytest

from models import drawings, pipe_drawing, wick_drawing
from models.drawings import feed_cycle, fuel_level
from models.feed_cycle import feed_cycle as cycle
from models.firebox_drawing import firebox_heat
from models.firebox_heat import firebox_heat as heat
from models.fuel_level import fuel_level as level
from models.laid_drawing import ARC_PIECES
from models.laid_pipe import laid_pipe
from models.pipe_drawing import falls, pipe
from models.pipe_run import bent_pipe, stepped_pipe
from models.shapes import Again, Area, Circle, Detail, Dimension, Line, Text
from sensitivity.presentation.elevation import STYLES
from sensitivity.system.catalogue import companion, installed_model

PIPES = {"stepped": stepped_pipe, "bent": bent_pipe}


def design(*models, **changed):
    """Every input and result of models in a row, as a study of them would have it."""
    values = {}
    for model in models:
        defaults = {key: value.default for key, value in _parameters(model).items()}
        values = {**defaults, **values, **changed}
        answer = model(**{key: values[key] for key in defaults})
        values |= {key: float(value) for key, value in answer._asdict().items()}
    return values


def _parameters(model):
    return inspect.signature(model).parameters


def errors(name, seed):
    """Joint or bend errors, a tilt and lengths of one pipe, by chance."""
    rng = np.random.default_rng(seed)
    kind = "joint" if name == "stepped" else "bend"
    found = {f"{kind}_error_{place}": rng.normal(0.0, 3.0) for place in range(1, 5)}
    found |= {"outlet_tilt": rng.normal(0.0, 2.0), "run_2": rng.uniform(12.0, 18.0)}
    return {**found, "bracket_slack": 0.8, "bracket_play": rng.uniform(-1.0, 1.0)}


def texts_of(shapes):
    return [shape for shape in shapes if isinstance(shape, Text)]


def shape_of(shapes, kind, role):
    return [shape for shape in shapes if isinstance(shape, kind) and shape.role == role]


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("name", PIPES)
def test_pipe_ends_at_the_burner_height_of_the_model(name, seed):
    drawn = design(PIPES[name], **errors(name, seed))
    stations = pipe_drawing.centreline(drawn)
    assert stations[0].point == (0.0, drawn["outlet_height"])
    assert stations[-1].point[1] == pytest.approx(drawn["burner_height"], abs=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_stepped_pipe_is_as_long_as_the_model_says(seed):
    drawn = design(stepped_pipe, **errors("stepped", seed))
    points = np.array([station.point for station in pipe_drawing.centreline(drawn)])
    length = np.hypot(*np.diff(points, axis=0).T).sum()
    assert length == pytest.approx(drawn["pipe_length"], rel=1e-12)


def test_bent_pipe_is_as_long_as_the_model_says_but_for_its_chords():
    drawn = design(bent_pipe)
    points = np.array([station.point for station in pipe_drawing.centreline(drawn)])
    length = np.hypot(*np.diff(points, axis=0).T).sum()
    # A chord of an arc of t radians is shorter than it by t^2/24 of it, to first order.
    piece = np.radians(drawn["bend_angle"]) / pipe_drawing.ARC_PIECES
    arcs = 4.0 * drawn["bend_radius"] * np.radians(drawn["bend_angle"])
    assert drawn["pipe_length"] - length == pytest.approx(arcs * piece**2 / 24.0, rel=0.01)


@pytest.mark.parametrize("seed", range(6))
def test_laid_pipe_is_drawn_from_the_outlet_to_the_first_wick(seed):
    rng = np.random.default_rng(seed)
    changed = {f"joint_error_{i}": rng.normal(0.0, 3.0) for i in range(1, 8)}
    changed |= {"turn_aside_5": rng.uniform(-90.0, 90.0), "turn_up_6": rng.uniform(-30.0, 30.0)}
    drawn = design(laid_pipe, outlet_tilt=rng.normal(0.0, 2.0), bracket_slack=0.8, **changed)
    stations = pipe_drawing.centreline(drawn)
    assert stations[0].point == (0.0, drawn["outlet_height"])
    wick = (drawn["wick_distance"], drawn["burner_height"])
    assert stations[-1].point == pytest.approx(wick, abs=1e-9)
    # Seen from the side nothing is longer than it is.
    points = np.array([station.point for station in stations])
    assert np.hypot(*np.diff(points, axis=0).T).sum() <= drawn["pipe_length"]


def test_laid_pipe_in_the_upright_plane_is_drawn_as_the_bent_one_is():
    bends = {f"bend_radius_{i}": 10.0 for i in range(1, 5)}
    turns = {f"turn_up_{i}": 45.0 * sign for i, sign in enumerate((-1, 1, 1, -1), 1)}
    pieces = (24.7, 3.0, 8.0, 3.0, 29.8, 0.0, 0.0)
    lengths = {f"piece_{i}": length for i, length in enumerate(pieces, 1)}
    laid = pipe_drawing.centreline(design(laid_pipe, **bends, **turns, **lengths, turn_aside_5=0.0))
    bent = pipe_drawing.centreline(design(bent_pipe))
    assert ARC_PIECES == pipe_drawing.ARC_PIECES
    for ours, theirs in zip(laid, bent, strict=True):
        assert ours.point == pytest.approx(theirs.point, abs=1e-9)
        # Where a straight meets an arc's first chord the one is mitred, the other square.
        assert ours.side == pytest.approx(theirs.side, abs=0.1)


def test_legs_across_the_engine_are_seen_end_on():
    across = {"turn_aside_1": 90.0, "turn_up_1": 0.0, "turn_aside_2": -90.0, "turn_up_2": 0.0}
    drawn = design(laid_pipe, **across, piece_4=0.0)
    points = [station.point for station in pipe_drawing.centreline(drawn)]
    assert np.array(points) == pytest.approx(np.array([(0, 8), (37.5, 8), (52.5, 8)]), abs=1e-9)
    assert drawn["wick_aside"] == pytest.approx(8.0)


def distance_to_outline(point, outline):
    """Least distance of a point from the sides of a polygon."""
    corners = np.array([*outline, outline[0]])
    least = np.inf
    for start, end in pairwise(corners):
        way = end - start
        along = np.clip(np.dot(point - start, way) / np.dot(way, way), 0.0, 1.0)
        least = min(least, float(np.hypot(*(point - start - along * way))))
    return least


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize(("name", "within"), [("stepped", 1e-9), ("bent", 0.06)])
def test_gap_between_the_drawn_pipe_and_the_drawn_bar_is_the_clearance(name, within, seed):
    """The bent pipe's arcs are drawn in chords, which cut up to 0.05 mm off the outer side."""
    drawn = design(PIPES[name], **errors(name, seed))
    shapes = pipe(drawn)
    (outline,) = shape_of(shapes, Area, "pipe")
    (bar,) = shape_of(shapes, Circle, "obstacle")
    gap = distance_to_outline(np.array(bar.centre), outline.points) - bar.radius
    assert gap == pytest.approx(drawn["obstacle_clearance"], abs=within)


@pytest.mark.parametrize("model", PIPES.values())
@pytest.mark.parametrize(("grade", "acceleration"), [(0.0, 0.0), (0.8, 0.0), (-1.5, 0.2)])
def test_levels_stand_at_the_wicks_where_the_model_says(model, grade, acceleration):
    drawn = design(model, level, grade=grade, acceleration=acceleration)
    shapes = fuel_level(drawn)
    wick = pipe_drawing.centreline(drawn)[-1].point[0]
    for name in ("high", "low"):
        (line,) = shape_of(shapes, Line, f"level {name}")
        x, z = np.array(line.points).T
        assert np.interp(wick, x, z) == pytest.approx(drawn[f"level_{name}_at_wick"], abs=1e-9)
    (line,) = shape_of(shapes, Line, "level high")
    slope = np.diff([p[1] for p in line.points]) / np.diff([p[0] for p in line.points])
    assert slope == pytest.approx(0.01 * grade + acceleration / 9.80665, abs=1e-12)


def test_low_level_falls_along_the_pipe_by_its_head_loss():
    drawn = design(stepped_pipe, level)
    (line,) = shape_of(fuel_level(drawn), Line, "level low")
    assert line.points[1][1] - line.points[2][1] == pytest.approx(drawn["pipe_head_loss"])


def test_surfaces_of_a_run_lean_about_the_mouth():
    drawn = design(stepped_pipe, cycle, grade=-0.8)
    wick = pipe_drawing.centreline(drawn)[-1].point[0]
    for role, result in (("high", "highest"), ("low", "lowest")):
        (line,) = shape_of(feed_cycle(drawn), Line, f"level {role}")
        x, z = np.array(line.points).T
        assert np.interp(wick, x, z) == pytest.approx(drawn[f"{result}_level_at_wick"])
        assert np.interp(wick - drawn["reach"], x, z) == pytest.approx(drawn["breather_height"])


def test_margins_are_drawn_as_large_as_they_are():
    drawn = design(stepped_pipe, level)
    sizes = {
        shape.name: abs(shape.end[1] - shape.start[1])
        for shape in fuel_level(drawn)
        if isinstance(shape, Dimension)
    }
    assert sizes["breather_height"] == pytest.approx(drawn["breather_height"])
    assert sizes["flood_margin"] == pytest.approx(drawn["flood_margin"])
    assert sizes["wick_starve_margin"] == pytest.approx(abs(drawn["wick_starve_margin"]))
    assert sizes["sump_starve_margin"] == pytest.approx(abs(drawn["sump_starve_margin"]))


@pytest.mark.parametrize("breather_height", [8.0, 12.0, 18.0])
def test_fuel_in_the_wick_tubes_stays_between_the_crown_and_the_lip(breather_height):
    drawn = design(stepped_pipe, level, breather_height=breather_height)
    crown = drawn["burner_height"] + 0.5 * drawn["pipe_bore"]
    lip = drawn["burner_height"] + drawn["wick_lip_height"]
    wick = pipe_drawing.centreline(drawn)[-1].point[0]
    wet = [
        shape.points
        for shape in fuel_level(drawn)
        if isinstance(shape, Area)
        and shape.role in ("liquid", "level band")
        and min(x for x, _ in shape.points) > wick - 4.0
    ]
    assert len(wet) == 2 * drawings.WICKS
    for points in wet:
        assert all(crown - 1e-9 <= z <= lip + 1e-9 for _, z in points)


def test_level_alone_is_drawn_with_a_straight_pipe():
    drawn = design(level)
    shapes = fuel_level(drawn)
    (outline,) = shape_of(shapes, Area, "pipe")
    heights = {round(z, 9) for _, z in outline.points}
    assert len(heights) == 2
    assert np.mean(list(heights)) == pytest.approx(drawn["burner_height"])


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("name", [*PIPES, "laid"])
def test_trapped_air_falls_as_far_as_the_head_that_it_holds_up(name, seed):
    if name == "laid":
        rng = np.random.default_rng(seed)
        bends = {f"joint_error_{i}": rng.normal(0.0, 3.0) for i in range(1, 8)}
        bends |= {"bend_radius_2": 4.0, "bend_radius_3": rng.uniform(3.0, 5.0)}
        drawn = design(laid_pipe, outlet_tilt=rng.normal(0.0, 2.0), **bends)
    else:
        drawn = design(PIPES[name], **errors(name, seed))
    columns = falls(pipe_drawing.centreline(drawn), drawn["pipe_bore"])
    head = sum(column[0].point[1] - column[-1].point[1] for column in columns)
    assert head == pytest.approx(drawn["air_lock_head"], abs=1e-9)
    assert head > 0.0
    shapes = pipe(drawn)
    trapped = shape_of(shapes, Area, "trapped air")
    assert len(trapped) == len(columns)
    assert "air_lock_head" in [text.name for text in texts_of(shapes)]


def test_trapped_air_fills_an_upright_drop_from_centreline_to_centreline():
    drawn = design(stepped_pipe)
    (air,) = shape_of(pipe(drawn), Area, "trapped air")
    x, z = np.array(air.points).T
    assert (min(x), max(x)) == pytest.approx((37.5 - 1.6, 37.5 + 1.6))
    assert (min(z), max(z)) == pytest.approx((0.0, 8.0))


def test_air_that_stays_is_told_from_air_that_clears():
    for clears, word in ((1.0, "clears"), (0.0, "stays")):
        drawn = design(stepped_pipe) | {"air_lock_clears": clears}
        (said,) = [text for text in texts_of(pipe(drawn)) if text.name == "air_lock_head"]
        assert said.words.endswith(word)


def test_a_step_that_shuts_no_air_in_shows_none():
    low = design(stepped_pipe, drop=2.0, rise=2.0, obstacle_height=12.0)
    assert low["air_lock_head"] == 0.0
    rising = design(laid_pipe, **{f"turn_up_{i}": 0.0 for i in range(1, 8)})
    assert rising["air_lock_head"] == 0.0
    for drawn in (low, rising):
        assert shape_of(pipe(drawn), Area, "trapped air") == []


def test_pipe_is_left_to_the_drawing_of_the_level():
    assert pipe(design(stepped_pipe, level)) == []
    assert pipe(design(level)) == []


def test_firebox_is_drawn_to_its_dimensions():
    drawn = design(heat)
    shapes = firebox_heat(drawn)
    sizes = {
        shape.name: abs(shape.end[0] - shape.start[0]) + abs(shape.end[1] - shape.start[1])
        for shape in shapes
        if isinstance(shape, Dimension)
    }
    for name in ("deflector_gap", "deflector_length", "firebox_height"):
        assert sizes[name] == pytest.approx(drawn[name])
    (plate,) = shape_of(shapes, Area, "hot plate")
    assert max(z for _, z in plate.points) == drawn["firebox_height"] - drawn["deflector_gap"]
    flames = shape_of(shapes, Line, "hot gas")
    assert flames
    below, right = min(z for _, z in plate.points), max(x for x, _ in plate.points)
    for flame in flames:
        (start, *_, end) = flame.points
        assert start[1] < below  # it rises under the plate and leaves beyond it
        assert end[0] > right
        over = [z for x, z in flame.points if abs(x - right) < 3.0 and z > below]
        assert all(drawn["firebox_height"] >= z > below for z in over)


@pytest.mark.parametrize("draw", [fuel_level, firebox_heat, pipe])
def test_a_design_without_an_answer_is_drawn_without_raising(draw):
    for piping in (stepped_pipe, laid_pipe):
        drawn = design(piping, level) | design(heat)
        for name in drawn:
            draw(drawn | {name: float("nan")})


@pytest.mark.parametrize(
    ("draw", "drawn"),
    [
        (fuel_level, design(stepped_pipe, level)),
        (fuel_level, design(bent_pipe, level)),
        (feed_cycle, design(stepped_pipe, cycle)),
        (fuel_level, design(laid_pipe, level)),
        (pipe, design(stepped_pipe)),
        (pipe, design(laid_pipe)),
        (firebox_heat, design(heat)),
    ],
)
def test_shapes_name_roles_and_quantities_that_exist(draw, drawn):
    for shape in draw(drawn):
        if isinstance(shape, Line | Area | Circle):
            assert shape.role in {*STYLES, "trapped air"}  # that one is drawn plain
        elif isinstance(shape, Text):
            assert shape.words
            assert not shape.name or shape.name in drawn
        elif isinstance(shape, Dimension | Again):
            assert shape.name in drawn
        else:
            assert isinstance(shape, Detail)
            assert shape.low[0] < shape.high[0]
            assert shape.low[1] < shape.high[1]


def test_drawings_are_found_as_models_are():
    expected = {
        "stepped_pipe": pipe,
        "bent_pipe": pipe,
        "laid_pipe": pipe,
        "fuel_level": fuel_level,
        "feed_cycle": feed_cycle,
        "firebox_heat": firebox_heat,
        "steam_balance": None,
        "wicks": wick_drawing.wicks,
        "burner_fit": wick_drawing.burner_fit,
    }
    for name, draw in expected.items():
        assert companion(installed_model(name), "drawing") is draw
