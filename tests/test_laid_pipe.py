"""The builder's own pipe: against stepped and bent pipes, and against a chain in space.

The chain is laid again here by scipy's rotations, and the clearance measured to points strewn
over the surface of every piece, cut at the planes of its mitres, and over every bend. No line
of this is shared with the model.
"""

import inspect

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from scipy.spatial.transform import Rotation

from models.laid_pipe import NO_BEND, laid_pipe
from models.pipe_run import bent_pipe, stepped_pipe

LAID = {name: p.default for name, p in inspect.signature(laid_pipe).parameters.items()}
NONE = {
    name: 0.0
    for name in LAID
    if name.startswith(("piece_", "turn_", "bend_radius_", "joint_error_"))
}
X, Z = np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0])


def laid(pieces, up=(), aside=(), radius=(), error=(), **more):
    """A laid pipe by its lists; what is not given is 0."""
    values = dict(NONE)
    for name, found in (
        ("piece", pieces),
        ("turn_up", up),
        ("turn_aside", aside),
        ("bend_radius", radius),
        ("joint_error", error),
    ):
        values |= {f"{name}_{i}": value for i, value in enumerate(found, 1)}
    return laid_pipe(**(LAID | values | more))


def in_space(d):
    """Corners or tangent points, and what lies between: ("piece" or "arc", points, frames)."""
    slack = np.degrees(np.arcsin(d["bracket_play"] * d["bracket_slack"] / d["bracket_distance"]))
    turn = Rotation.from_euler("y", -(d["outlet_tilt"] + slack), degrees=True)
    place, ways = np.array([0.0, 0.0, d["outlet_height"]]), []
    for i in range(1, 9):
        if d[f"piece_{i}"] == 0.0:
            break
        if i > 1:
            before = turn.apply(X)
            # Intrinsic: left about the pipe's own upright, then up about its own left.
            turn = turn * Rotation.from_euler(
                "ZY",
                [d[f"turn_aside_{i - 1}"], -(d[f"turn_up_{i - 1}"] + d[f"joint_error_{i - 1}"])],
                degrees=True,
            )
            after, radius = turn.apply(X), d[f"bend_radius_{i - 1}"]
            axis = np.cross(before, after)
            angle = np.arctan2(np.linalg.norm(axis), before @ after)
            if radius > 0.0 and angle > 0.0:
                axis /= np.linalg.norm(axis)
                centre = place + radius * np.cross(axis, before)
                steps = Rotation.from_rotvec(np.outer(np.linspace(0.0, angle, 400), axis))
                ways.append(("arc", centre + steps.apply(place - centre), steps.apply(before)))
                place = ways[-1][1][-1]
        end = place + d[f"piece_{i}"] * turn.apply(X)
        ways.append(("piece", np.array([place, end]), np.array([turn.apply(X)] * 2)))
        place = end
    return ways


def around(direction, radius, count=240):
    """Points on the circle about a direction."""
    side = np.cross(direction, Z if abs(direction[2]) < 0.9 else X)
    side /= np.linalg.norm(side)
    angle = 2.0 * np.pi * np.arange(count) / count
    return radius * (
        np.outer(np.cos(angle), side) + np.outer(np.sin(angle), np.cross(direction, side))
    )


def surface(ways, radius):
    """Points all over the outside of the pipe, the mitres cut at their planes."""
    found = []
    for i, (kind, points, directions) in enumerate(ways):
        if kind == "arc":
            found += [p + around(way, radius) for p, way in zip(points, directions, strict=True)]
            continue
        ring, way = around(directions[0], radius), directions[0]
        ends = []
        for point, other in ((points[0], i - 1), (points[1], i + 1)):
            along = np.zeros(len(ring))
            if 0 <= other < len(ways) and ways[other][0] == "piece":
                # The plane that halves the turn: its normal is the sum of both directions.
                normal = way + ways[other][2][0]
                along = -(ring @ normal) / (way @ normal)
            ends.append(point + ring + np.outer(along, way))
        for share in np.linspace(0.0, 1.0, 300):
            found.append(ends[0] + share * (ends[1] - ends[0]))
    # The burner carries on beyond the end, so the model cuts it upright to what is seen.
    last = np.concatenate(found[-300:])
    seen = np.array([way[0], 0.0, way[2]])
    return np.concatenate([*found[:-300], last[(last - points[1]) @ seen <= 1e-9]])


def designs(bends):
    """Whole pipes of five pieces, turning up to 100 deg either way, elbows or bends."""

    def spread(unit):
        d = dict(LAID) | NONE
        d |= {f"piece_{i + 1}": 16.0 + 8.0 * u for i, u in enumerate(unit[:5])}
        d |= {f"turn_up_{i + 1}": 70.0 * u for i, u in enumerate(unit[5:9])}
        d |= {f"turn_aside_{i + 1}": 70.0 * u for i, u in enumerate(unit[9:13])}
        d |= {f"joint_error_{i + 1}": 4.0 * u for i, u in enumerate(unit[13:17])}
        d |= {f"bend_radius_{i + 1}": bends * (9.0 + 3.0 * u) for i, u in enumerate(unit[17:21])}
        d |= {"outlet_tilt": 5.0 * unit[21], "bracket_slack": 1.0, "bracket_play": unit[22]}
        d |= {"obstacle_position": 30.0 + 25.0 * unit[23], "obstacle_height": 8.0 + 25.0 * unit[24]}
        return d | {"obstacle_diameter": 0.0}

    return hnp.arrays(float, 25, elements=st.floats(-1.0, 1.0, width=32), fill=st.nothing()).map(
        spread
    )


@pytest.mark.parametrize("bends", [0.0, 1.0])
@settings(max_examples=12)
@given(data=st.data())
def test_laid_pipe_agrees_with_a_chain_in_space(bends, data):
    d = data.draw(designs(bends))
    pipe, ways = laid_pipe(**d), in_space(d)
    end, way = ways[-1][1][-1], ways[-1][2][-1]
    assert pipe.wick_distance == pytest.approx(end[0], abs=1e-9)
    assert pipe.wick_aside == pytest.approx(end[1], abs=1e-9)
    assert pipe.burner_height == pytest.approx(end[2], abs=1e-9)
    assert pipe.burner_tilt == pytest.approx(np.degrees(np.arcsin(way[2])), abs=1e-6)
    chords = sum(np.linalg.norm(np.diff(points, axis=0), axis=1).sum() for _, points, _ in ways)
    assert pipe.pipe_length == pytest.approx(chords, rel=3e-6)
    points = surface(ways, 2.0) - np.array([d["obstacle_position"], 0.0, d["obstacle_height"]])
    nearest = np.min(np.hypot(points[:, 0], points[:, 2]))
    if pipe.obstacle_clearance > 0.05:
        assert pipe.obstacle_clearance == pytest.approx(nearest, abs=0.01)
    else:  # the bar's axis lies in the pipe, or all but
        assert nearest < 2.1


def shared(names, unit):
    """Designs about the nominal ones of what two pipes have in common."""
    defaults = {name: LAID[name] for name in names if name in LAID}
    found = {}
    for (name, nominal), u in zip(defaults.items(), unit, strict=False):
        if name.startswith(("outlet_tilt", "joint_error")):
            found[name] = 5.0 * u
        elif name == "bracket_slack":
            found[name] = 1.0 + u
        elif name == "bracket_play":
            found[name] = u
        else:
            found[name] = nominal * (1.0 + 0.2 * u)
    return found


def parameters(model):
    return {name: p.default for name, p in inspect.signature(model).parameters.items()}


MANY = hnp.arrays(float, (40, 8), elements=st.floats(-1.0, 1.0), fill=st.nothing())


@settings(max_examples=15)
@given(unit=MANY)
def test_laid_pipe_is_the_stepped_pipe_where_they_say_the_same(unit):
    d = shared(parameters(stepped_pipe), unit)
    lengths = dict(zip(("run_1", "drop", "run_2", "rise", "run_3"), unit[30:35], strict=True))
    lengths = {
        name: parameters(stepped_pipe)[name] * (1.0 + 0.2 * u) for name, u in lengths.items()
    }
    stepped = stepped_pipe(**d, **lengths)
    found = laid(lengths.values(), up=(-90.0, 90.0, 90.0, -90.0), **d)
    for name in set(stepped._fields) - {"dip_length"}:
        ours, theirs = np.broadcast_arrays(getattr(found, name), getattr(stepped, name))
        assert ours == pytest.approx(theirs, rel=1e-10, abs=1e-10), name


@settings(max_examples=15)
@given(unit=MANY)
def test_laid_pipe_is_the_bent_pipe_where_they_say_the_same(unit):
    d = shared(parameters(bent_pipe), unit)
    straights = ("run_1", "slope_1", "run_2", "slope_2", "run_3")
    lengths = {
        name: parameters(bent_pipe)[name] * (1.0 + 0.2 * u)
        for name, u in zip(straights, unit[30:35], strict=True)
    }
    angle, radius = 45.0 + 20.0 * unit[35], 10.0 + 2.0 * unit[36]
    signs = np.array([-1.0, 1.0, 1.0, -1.0])
    errors = 5.0 * unit[26:30]
    bends = {f"bend_error_{i}": error for i, error in enumerate(errors, 1)}
    bent = bent_pipe(**d, **lengths, **bends, bend_angle=angle, bend_radius=radius)
    found = laid(
        lengths.values(),
        up=signs[:, None] * angle,
        radius=[radius] * 4,
        error=signs[:, None] * errors,
        **d,
    )
    for name in set(bent._fields) - {"dip_length"}:
        ours, theirs = np.broadcast_arrays(getattr(found, name), getattr(bent, name))
        assert ours == pytest.approx(theirs, rel=1e-9, abs=1e-9), name


def test_dog_leg_goes_round_a_frame_and_stays_level():
    """Euclid: 40 ahead, 20 to the right, 30 ahead again."""
    pipe = laid((40.0, 20.0, 30.0), aside=(-90.0, 90.0), outlet_height=8.0)
    assert (pipe.wick_distance, pipe.wick_aside) == pytest.approx((70.0, -20.0), abs=1e-12)
    assert pipe.burner_height == pytest.approx(8.0, abs=1e-12)
    assert pipe.pipe_length == pytest.approx(90.0, abs=1e-12)
    bent = laid((40.0, 20.0, 30.0), aside=(-90.0, 90.0), radius=(6.0, 6.0))
    assert (bent.wick_distance, bent.wick_aside) == pytest.approx((82.0, -32.0), abs=1e-12)
    assert bent.pipe_length == pytest.approx(90.0 + 6.0 * np.pi, abs=1e-12)


def test_tilted_outlet_does_not_raise_a_run_across_the_engine():
    """A stiff pipe turned about the axis that its cross run is parallel to."""
    pipe = laid((40.0, np.array([5.0, 50.0]), 30.0), aside=(90.0, -90.0), outlet_tilt=3.0)
    assert pipe.burner_height == pytest.approx(8.0 + 70.0 * np.sin(np.radians(3.0)), abs=1e-12)
    assert pipe.burner_tilt == pytest.approx(3.0, abs=1e-9)
    # An error of the first elbow lifts the cross run, and turns the last about that error's axis.
    pipe = laid((40.0, 50.0, 30.0), aside=(90.0, -90.0), error=(2.0,))
    assert pipe.burner_height == pytest.approx(8.0 + 50.0 * np.sin(np.radians(2.0)), abs=1e-12)
    assert pipe.burner_tilt == pytest.approx(0.0, abs=1e-9)


def test_way_out_of_an_upright_leg():
    """After a leg straight down, up is ahead and left is left."""
    ahead = laid((20.0, 6.0, 30.0), up=(-90.0, 90.0))
    assert (ahead.wick_distance, ahead.wick_aside) == pytest.approx((50.0, 0.0), abs=1e-12)
    left = laid((20.0, 6.0, 30.0), up=(-90.0, 0.0), aside=(0.0, 90.0))
    assert (left.wick_distance, left.wick_aside) == pytest.approx((20.0, 30.0), abs=1e-12)
    assert ahead.burner_height == pytest.approx(2.0, abs=1e-12)
    assert left.burner_height == pytest.approx(2.0, abs=1e-12)


@given(
    st.lists(st.floats(5.0, 40.0), min_size=1, max_size=8),
    hnp.arrays(float, (3, 7), elements=st.floats(-1.0, 1.0, width=32), fill=st.nothing()),
)
def test_length_is_kept_and_the_end_no_further_than_it(pieces, unit):
    pipe = laid(pieces, up=90.0 * unit[0], aside=90.0 * unit[1], radius=np.abs(10.0 * unit[2]))
    away = np.hypot(np.hypot(pipe.wick_distance, pipe.wick_aside), pipe.burner_height - 8.0)
    assert away <= pipe.pipe_length * (1.0 + 1e-12)
    assert pipe.pipe_length >= sum(pieces) * (1.0 - 1e-12)
    mirrored = laid(pieces, up=90.0 * unit[0], aside=-90.0 * unit[1], radius=np.abs(10.0 * unit[2]))
    assert mirrored.wick_aside == pytest.approx(-pipe.wick_aside, abs=1e-9)
    assert mirrored.burner_height == pytest.approx(pipe.burner_height, abs=1e-9)


def test_pipe_ends_before_the_first_piece_that_is_not_there():
    turns = {"up": (-45.0, 45.0, 10.0), "radius": (8.0, 8.0, 5.0), "error": (1.0, 2.0, 3.0)}
    three = laid((30.0, 10.0, 20.0), up=(-45.0, 45.0), radius=(8.0, 8.0), error=(1.0, 2.0))
    for pieces in ((30.0, 10.0, 20.0), (30.0, 10.0, 20.0, 0.0, 25.0)):
        assert laid(pieces, **turns) == three
    # One sample of an array without its third piece is the pipe of two.
    some = laid((30.0, 10.0, np.array([20.0, 0.0])), **turns)
    two = laid((30.0, 10.0), up=(-45.0,), radius=(8.0,), error=(1.0,))
    for name, values in some._asdict().items():
        values = np.broadcast_to(values, 2)
        assert values[0] == pytest.approx(getattr(three, name), rel=1e-12), name
        assert values[1] == pytest.approx(getattr(two, name), rel=1e-12), name


def test_only_joints_that_are_drawn_to_turn_resist():
    straight = laid((50.0, 50.0), error=(1.0,), bend_equivalent_length=np.array([0.0, 10.0]))
    assert np.ptp(straight.pipe_head_loss) == 0.0
    elbow = laid((50.0, 50.0), aside=(30.0,), bend_equivalent_length=np.array([0.0, 10.0]))
    per_mm = laid((50.0,)).pipe_head_loss / (50.0 + 3.0 * np.pi / 16.0 * 3.2)
    assert np.ptp(elbow.pipe_head_loss) == pytest.approx(10.0 * 3.2 * per_mm, rel=1e-12)


def test_pipe_over_the_bar_keeps_its_air_and_one_under_it_can_give_it_back():
    wide = {"pipe_bore": 5.0, "breather_height": 10.2, "outlet_tilt": -0.5, "outlet_height": 8.0}
    under = laid((37.5, 8.0, 15.0, 8.0, 42.5), up=(-90.0, 90.0, 90.0, -90.0), **wide)
    over = laid((37.5, 8.0, 15.0, 8.0, 42.5), up=(90.0, -90.0, -90.0, 90.0), **wide)
    assert under.air_lock_head > 8.0
    assert over.air_lock_head == pytest.approx(8.0, abs=0.6)
    assert (under.air_lock_clears, over.air_lock_clears) == (1.0, 0.0)


def test_elbows_and_bends_may_be_samples_of_one_array():
    radius = np.array([0.0, 10.0])
    dip = {"up": (-45.0, 45.0, 45.0, -45.0), "outlet_tilt": -0.4}
    both = laid((25.0, 9.0, 9.0, 9.0, 30.0), radius=[radius] * 4, **dip)
    for i, one in enumerate(radius):
        alone = laid((25.0, 9.0, 9.0, 9.0, 30.0), radius=[one] * 4, **dip)
        for name, values in both._asdict().items():
            found = np.broadcast_to(values, 2)[i]
            assert found == pytest.approx(getattr(alone, name), rel=1e-12), name


def test_bend_ratio_is_that_of_the_tightest_bend():
    pipe = laid((20.0,) * 4, up=(-30.0, 60.0, -30.0), radius=(12.0, 0.0, 9.0))
    assert pipe.bend_ratio == pytest.approx(9.0 / 4.0)
    assert laid((20.0, 20.0), up=(30.0,)).bend_ratio == NO_BEND


def test_numbers_give_numbers_and_arrays_broadcast():
    assert all(np.ndim(value) == 0 and np.isfinite(value) for value in laid_pipe())
    aside, bore = np.linspace(20.0, 40.0, 3), np.linspace(3.0, 3.4, 4)
    grid = laid_pipe(turn_aside_5=aside[:, None], pipe_bore=bore)
    assert grid.obstacle_clearance.shape == grid.pipe_head_loss.shape == (3, 4)
    one = laid_pipe(turn_aside_5=aside[2], pipe_bore=bore[1])
    assert grid.obstacle_clearance[2, 1] == pytest.approx(one.obstacle_clearance, abs=1e-12)
    assert grid.pipe_head_loss[2, 1] == pytest.approx(one.pipe_head_loss, rel=1e-12)


@pytest.mark.parametrize(
    ("name", "bad"),
    [
        ("piece_1", [0.0, -1.0, np.nan]),
        ("piece_3", [-1.0, np.nan, np.inf]),
        ("bend_radius_5", [-1.0, np.nan, np.inf]),
        ("turn_up_2", [180.0, -200.0, np.nan]),
        ("turn_aside_5", [180.0, -200.0, np.nan]),
        ("joint_error_2", [90.0, -270.0, np.nan]),
        ("pipe_bore", [0.0, -1.0, np.nan]),
        ("pipe_wall", [0.0, -1.0, np.nan]),
        ("obstacle_diameter", [-1.0, -2.0, np.nan]),
        ("bracket_slack", [-1.0, 150.0, np.nan]),
    ],
)
def test_what_cannot_be_laid_spoils_its_own_sample_alone(name, bad):
    found = laid_pipe(**{name: np.array([*bad, LAID[name]])})
    for result, values in found._asdict().items():
        assert np.isnan(values[:3]).all(), result
        assert values[3] == pytest.approx(getattr(laid_pipe(), result), rel=1e-12), result


def test_piece_too_short_for_its_mitres_has_no_clearance():
    short = laid((30.0, np.array([3.9, 4.1]), 30.0), up=(-90.0, -90.0))
    assert np.array_equal(np.isnan(short.obstacle_clearance), [True, False])
    # Round a corner and back the mitres lean the same way: no room is wanted.
    assert np.isfinite(laid((30.0, 3.9, 30.0), up=(-90.0, 90.0)).obstacle_clearance)
