"""The drawing of the breather: its end as it is cut, its ring of fuel where the model says."""

import inspect

import numpy as np
import pytest

from models.breather_drawing import NEEDED, breather, mouth_detail
from models.drawings import feed_cycle as draw_cycle
from models.drawings import fuel_level as draw_level
from models.feed_cycle import feed_cycle
from models.fuel_level import fuel_level
from models.shapes import Area, Detail, Dimension, Line, Text

ROOM = (-30.0, 30.0)
BOTH = {
    "ring": {"breather_bore": 5.0},
    "face": {"breather_bore": 2.0},
    "slanted": {"breather_scarf": 40.0},
    "nearly square": {"breather_scarf": 4.0, "breather_chamfer": 1.0},
    "waves": {"slosh_amplitude": 0.4},
}


def design(model=fuel_level, **changed):
    """Every input and result of a model, as a study of it would have it."""
    values = {key: value.default for key, value in inspect.signature(model).parameters.items()}
    values |= changed
    answer = model(**values)
    return values | {
        name: float(value) for name, value in answer._asdict().items() if np.ndim(value) == 0
    }


def detail(drawn):
    return mouth_detail(drawn, 0.0, 30.0, ROOM, 0.6)


def of(shapes, kind):
    return [shape for shape in shapes if isinstance(shape, kind)]


@pytest.mark.parametrize("wall", [0.3, 0.5, 1.0])
def test_a_square_end_is_a_tube_of_its_bore_and_wall(wall):
    drawn = design(breather_wall=wall)
    left, right = (np.array(shape.points) for shape in breather(drawn, 10.0, 30.0))
    assert (left[:, 0].min(), left[:, 0].max()) == pytest.approx((10.0 - 2.5 - wall, 7.5))
    assert (right[:, 0].min(), right[:, 0].max()) == pytest.approx((12.5, 10.0 + 2.5 + wall))
    for side in (left, right):
        assert side[:, 1].min() == drawn["breather_height"]
        assert side[:, 1].max() == 30.0


def test_a_slanted_end_has_its_lowest_inner_point_at_the_breather_height():
    drawn = design(breather_scarf=30.0)
    left, right = (np.array(shape.points) for shape in breather(drawn, 0.0, 30.0))
    lips = [side[np.abs(side[:, 0]) == 2.5][:, 1].min() for side in (left, right)]
    assert lips == pytest.approx([13.0, 13.0 + 5.0 / np.sqrt(3.0)])
    edge = np.array([side[side[:, 1] < 29.0] for side in (left, right)]).reshape(-1, 2)
    slope = np.polyfit(edge[:, 0], edge[:, 1], 1)[0]
    assert slope == pytest.approx(np.tan(np.radians(30.0)))


def test_a_bevel_takes_the_outer_edge_off():
    left, right = breather(design(breather_chamfer=1.0), 0.0, 30.0)
    for side in (left, right):
        lowest = [abs(x) for x, z in side.points if z == 13.0]
        assert lowest == [2.5, 2.5]  # a knife edge at the bore


@pytest.mark.parametrize("changed", BOTH.values(), ids=BOTH)
def test_heights_are_those_of_the_model(changed):
    drawn = design(**changed)
    shapes = detail(drawn)
    sizes = {shape.name: abs(shape.end[1] - shape.start[1]) for shape in of(shapes, Dimension)}
    governs = max(("inner_depression", "outer_depression"), key=drawn.get)
    assert sizes.pop(governs) == pytest.approx(drawn[governs])
    assert sizes == {"level_band": pytest.approx(drawn["level_band"])}
    heights = {shape.words.split(",")[0]: shape.at[1] for shape in of(shapes, Text)}
    # As in `fuel_level`: with the track level, no lift and no loss these are the wicks' levels.
    still = design(**changed, pipe_head_loss=0.0, burn_rate=0.0)
    assert heights["lets go"] == pytest.approx(still["level_low_at_wick"])
    assert heights["shuts again"] == pytest.approx(still["level_high_at_wick"])
    slant = 5.0 * np.tan(np.radians(drawn["breather_scarf"]))
    assert heights["mouth of the breather"] == pytest.approx(drawn["breather_height"] + slant)


@pytest.mark.parametrize("wall", [0.0, 0.5])
def test_ring_hangs_from_the_outer_rim_down_to_the_level(wall):
    drawn = design(breather_wall=wall)
    faces = [np.array(line.points) for line in of(detail(drawn), Line)]
    assert len(faces) == 2
    for way, face in zip((-1.0, 1.0), faces, strict=True):
        assert face[0] == pytest.approx([way * (2.5 + wall), drawn["breather_height"]])
        level = drawn["breather_height"] - drawn["outer_depression"]
        assert face[-1][1] == pytest.approx(level)
        assert np.all(np.diff(face[:, 1]) < 1e-9)  # from the rim it only goes down
        assert min(way * face[:, 0]) < 2.5 + wall  # and it is drawn in under the rim


def test_fuel_climbs_the_side_that_is_under_it():
    drawn = design(breather_scarf=45.0)
    left, right = (np.array(line.points) for line in of(detail(drawn), Line))
    level = drawn["breather_height"] + drawn["breather_bore"] - drawn["outer_depression"]
    assert left[0][0] == -3.0
    assert left[0][1] > level > drawn["breather_height"]
    assert right[0] == pytest.approx([3.0, drawn["breather_height"] + 5.5])


def test_a_narrow_bore_holds_air_out_by_the_face_in_it():
    drawn = design(breather_bore=2.0)
    assert drawn["inner_depression"] > drawn["outer_depression"]
    left, right = (np.array(line.points) for line in of(detail(drawn), Line))
    assert left[0] == pytest.approx([-1.0, drawn["breather_height"]])
    assert right[-1] == pytest.approx([1.0, drawn["breather_height"]])
    assert left[-1] == pytest.approx(right[0])
    assert left[-1][1] > drawn["breather_height"]  # it bulges up into the fuel


@pytest.mark.parametrize("gap", [0.0, 1.5])
def test_fuel_stays_within_the_sump(gap):
    shapes = mouth_detail(design(), 0.0, 30.0, (-3.0 - gap, 3.0 + gap), 0.6)
    across = [x for shape in of(shapes, Area) for x, _ in shape.points]
    assert max(map(abs, across)) == pytest.approx(3.0 + gap, abs=1e-9)


@pytest.mark.parametrize("changed", BOTH.values(), ids=BOTH)
def test_details_of_a_drawing_have_one_shape_and_hold_their_labels(changed):
    drawn = design(**changed)
    windows = of(draw_level(drawn), Detail)
    assert len(windows) == 2
    shape = [(w.high[1] - w.low[1]) / (w.high[0] - w.low[0]) for w in windows]
    assert shape[0] == pytest.approx(shape[1])
    (window,) = of(detail(drawn), Detail)
    for at in (text.at for text in of(detail(drawn), Text)):
        assert window.low[0] < at[0] < window.high[0]
        assert window.low[1] < at[1] < window.high[1]


def test_burners_of_all_kinds_have_alike_shapes_so_that_they_are_shaded():
    kinds = [[type(shape) for shape in draw_level(design(**one))] for one in BOTH.values()]
    assert all(one == kinds[0] for one in kinds)


def test_a_study_that_does_not_know_the_depressions_shows_the_tube_alone():
    drawn = design(feed_cycle)
    assert not all(name in drawn for name in NEEDED)
    shapes = draw_cycle(drawn)
    assert len(of(shapes, Detail)) == 1
    walls = [shape for shape in of(shapes, Area) if shape.role == "part"]
    assert len(walls) == 2


@pytest.mark.parametrize("name", [*NEEDED, "breather_bore", "breather_height", "breather_scarf"])
def test_no_number_is_borne(name):
    drawn = design()
    draw_level(drawn | {name: float("nan")})
