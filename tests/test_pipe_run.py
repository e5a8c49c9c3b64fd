"""Invariants of models.pipe_run and models.pipe_geometry.

The centreline is drawn again here with 2-D rotation matrices, one pipe at a time, and the
clearance by measuring to every point of the outline: no line of this is shared with the
models, which use neither.
"""

import inspect
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from models import fuel
from models.pipe_flow import reynolds_number
from models.pipe_run import bent_pipe, stepped_pipe

STEPPED = {name: p.default for name, p in inspect.signature(stepped_pipe).parameters.items()}
BENT = {name: p.default for name, p in inspect.signature(bent_pipe).parameters.items()}
RUNS = {
    stepped_pipe: ("run_1", "drop", "run_2", "rise", "run_3"),
    bent_pipe: ("run_1", "slope_1", "run_2", "slope_2", "run_3", "bend_radius"),
}
PIPES = pytest.mark.parametrize("pipe", [stepped_pipe, bent_pipe])


def drawn(defaults):
    """Whole arrays of designs about the nominal ones, wide enough to lose the bar's side."""

    def spread(unit):
        designs = {}
        for (name, nominal), u in zip(defaults.items(), unit, strict=True):
            if "error" in name or "tilt" in name:
                designs[name] = nominal + 8.0 * u
            elif name == "bracket_slack":
                designs[name] = 2.0 * (1.0 + u)
            elif name == "bracket_play":
                designs[name] = u
            elif name == "obstacle_position":
                designs[name] = nominal + 40.0 * u
            elif name == "obstacle_height":
                designs[name] = nominal + 15.0 * u
            else:
                designs[name] = nominal * (1.0 + 0.25 * u)
        return designs

    shape = (len(defaults), 8)
    return hnp.arrays(float, shape, elements=st.floats(-1.0, 1.0), fill=st.nothing()).map(spread)


def one(designs, i):
    return {name: values[i] for name, values in designs.items()}


def rotation(degrees):
    a = np.radians(degrees)
    return np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])


def crossing(p, u, q, v):
    """Where the line through p along u meets the line through q along v."""
    s, _ = np.linalg.solve(np.column_stack([u, -v]), q - p)
    return p + s * u


def hinged(d, points):
    """The whole pipe turned about the outlet so far that the bracket stands at its play."""
    outlet = np.array([0.0, d["outlet_height"]])
    rise = d["bracket_slack"] * d["bracket_play"]
    along = np.sqrt(d["bracket_distance"] ** 2 - rise**2)
    to_bracket = np.array([[along, -rise], [rise, along]]) / d["bracket_distance"]
    return [outlet + to_bracket @ (point - outlet) for point in points]


def stepped_centreline(d):
    """Corners of the stepped pipe, each run carried by the product of its rotations."""
    turns = (
        d["outlet_tilt"],
        -90.0 + d["joint_error_1"],
        90.0 + d["joint_error_2"],
        90.0 + d["joint_error_3"],
        -90.0 + d["joint_error_4"],
    )
    frame, corners = np.eye(2), [np.array([0.0, d["outlet_height"]])]
    for turn, name in zip(turns, ("run_1", "drop", "run_2", "rise", "run_3"), strict=True):
        frame = frame @ rotation(turn)
        corners.append(corners[-1] + frame @ np.array([d[name], 0.0]))
    return hinged(d, corners)


def stepped_side(corners, offset):
    """The line ``offset`` to the left of the centreline, mitred at each corner."""
    units = [(b - a) / np.linalg.norm(b - a) for a, b in pairwise(corners)]
    shifted = [a + offset * rotation(90.0) @ u for a, u in zip(corners, units, strict=False)]
    side = [shifted[0]]
    for i in range(1, len(units)):
        side.append(crossing(shifted[i - 1], units[i - 1], shifted[i], units[i]))
    return [*side, corners[-1] + offset * rotation(90.0) @ units[-1]]


def bent_centreline(d, points=400):
    """Dense points of the bent pipe and the frame at each, arcs turned about their centres."""
    signs = {1: -1.0, 2: 1.0, 3: 1.0, 4: -1.0}
    place, frame = np.array([0.0, d["outlet_height"]]), rotation(d["outlet_tilt"])
    places, frames = [place], [frame]
    for i, name in enumerate(("run_1", "slope_1", "run_2", "slope_2", "run_3")):
        if i:
            turn = signs[i] * (d["bend_angle"] + d[f"bend_error_{i}"])
            centre = place + frame @ np.array([0.0, signs[i] * d["bend_radius"]])
            for part in np.linspace(0.0, turn, points)[1:]:
                places.append(centre + rotation(part) @ (place - centre))
                frames.append(rotation(part) @ frame)
            place, frame = places[-1], frames[-1]
        place = place + frame @ np.array([d[name], 0.0])
        places.append(place)
        frames.append(frame)
    ends = [
        place + frame @ np.array([1.0, 0.0]) for place, frame in zip(places, frames, strict=True)
    ]
    places, ends = hinged(d, places), hinged(d, ends)
    frames = [
        np.column_stack([b - a, rotation(90.0) @ (b - a)])
        for a, b in zip(places, ends, strict=True)
    ]
    return places, frames


def check_clearance(found, outline, d, sagitta=0.0):
    """Compare with the nearest of points strewn evenly along a closed outline.

    Its corners are among them, so the nearest place lies on a side, within half a spacing of
    a point: the square of the distance is too large by at most the square of that half.
    ``sagitta`` is what the chords of the outline cut off its arcs.
    """
    bar = np.array([d["obstacle_position"], d["obstacle_height"]])
    corners = np.vstack([outline, outline[:1]])
    travel = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(corners, axis=0), axis=1)))
    dense, spacing = np.linspace(0.0, travel[-1], 4000, retstep=True)
    dense = np.union1d(dense, travel)
    x, z = (np.interp(dense, travel, corners[:, k]) - bar[k] for k in (0, 1))
    around = x + 1j * z
    if abs(np.sum(np.angle(around[1:] / around[:-1]))) > np.pi:  # the bar's centre is inside
        assert found <= sagitta - 0.5 * d["obstacle_diameter"]
        return
    centre_gap, nearest = found + 0.5 * d["obstacle_diameter"], np.min(np.abs(around))
    assert centre_gap <= nearest + sagitta + 1e-9
    assert centre_gap >= np.sqrt(max(nearest**2 - spacing**2 / 4.0, 0.0)) - sagitta - 1e-9


@settings(max_examples=10, deadline=None, derandomize=True)
@given(drawn(STEPPED))
def test_stepped_pipe_agrees_with_a_chain_of_rotation_matrices(designs):
    pipe = stepped_pipe(**designs)
    for i in range(8):
        d = one(designs, i)
        corners = stepped_centreline(d)
        assert pipe.burner_height[i] == pytest.approx(corners[-1][1], abs=1e-10)
        way = corners[-1] - corners[-2]
        tilt = np.degrees(np.arctan2(way[1], way[0]))
        assert pipe.burner_tilt[i] == pytest.approx(tilt, abs=1e-10)
        steps = np.linalg.norm(np.diff(corners, axis=0), axis=1)
        assert pipe.pipe_length[i] == pytest.approx(steps.sum(), rel=1e-12)
        radius = d["pipe_bore"] / 2.0 + d["pipe_wall"]
        left, right = stepped_side(corners, radius), stepped_side(corners, -radius)
        check_clearance(pipe.obstacle_clearance[i], [*left, *right[::-1]], d)


@settings(max_examples=10, deadline=None, derandomize=True)
@given(drawn(BENT))
def test_bent_pipe_agrees_with_a_chain_of_rotation_matrices(designs):
    pipe = bent_pipe(**designs)
    for i in range(8):
        d = one(designs, i)
        places, frames = bent_centreline(d, points=100)
        assert pipe.burner_height[i] == pytest.approx(places[-1][1], abs=1e-10)
        way = frames[-1][:, 0]
        tilt = np.degrees(np.arctan2(way[1], way[0]))
        assert pipe.burner_tilt[i] == pytest.approx(tilt, abs=1e-10)
        radius = d["pipe_bore"] / 2.0 + d["pipe_wall"]
        left, right = (
            [p + f @ np.array([0.0, side]) for p, f in zip(places, frames, strict=True)]
            for side in (radius, -radius)
        )
        check_clearance(pipe.obstacle_clearance[i], [*left, *right[::-1]], d, sagitta=3e-4)


def test_length_of_the_bent_pipe_is_that_of_many_short_chords():
    places, _ = bent_centreline(BENT | {"bend_error_1": 3.0, "bend_error_3": -2.0}, points=2000)
    chords = np.linalg.norm(np.diff(places, axis=0), axis=1).sum()
    pipe = bent_pipe(bend_error_1=3.0, bend_error_3=-2.0)
    assert pipe.pipe_length == pytest.approx(chords, rel=1e-7)


def test_wick_distance_and_the_room_that_a_dip_takes():
    stepped = stepped_pipe(joint_error_1=2.0, outlet_tilt=1.0)
    corners = stepped_centreline(STEPPED | {"joint_error_1": 2.0, "outlet_tilt": 1.0})
    assert stepped.wick_distance == pytest.approx(corners[-1][0], abs=1e-10)
    # Between mitre centres 15 mm, and half an outside diameter of 4 mm at either end.
    assert stepped_pipe().dip_length == pytest.approx(19.0, abs=1e-12)
    # Four bends of 45 deg and 10 mm radius are 4 R sin 45 long, the straights 2 x 3 cos 45 + 8.
    bent = bent_pipe()
    assert bent.dip_length == pytest.approx(46.0 * np.sqrt(0.5) + 8.0, abs=1e-12)
    assert bent.wick_distance == pytest.approx(bent_centreline(BENT)[0][-1][0], abs=1e-10)
    assert bent.wick_distance == pytest.approx(24.7 + bent.dip_length + 29.8, abs=1e-12)
    wider = bent_pipe(bend_radius=np.array([8.0, 10.0, 12.0]))
    assert np.diff(wider.dip_length) == pytest.approx(8.0 * np.sqrt(0.5), abs=1e-12)


def test_as_drawn_both_pipes_end_at_the_outlet_height_exactly():
    outlet_height = np.linspace(5.0, 11.0, 7)
    assert np.array_equal(stepped_pipe(outlet_height).burner_height, outlet_height)
    assert bent_pipe(outlet_height).burner_height == pytest.approx(outlet_height, abs=1e-14)


def test_nominal_pipes_pass_the_bar_that_a_straight_one_would_meet_and_end_together():
    stepped, bent = stepped_pipe(), bent_pipe()
    for pipe in (stepped, bent):
        assert 2.0 < pipe.obstacle_clearance < 3.0
        assert pipe.burner_height == pytest.approx(8.0, abs=1e-12)
    straight = bent_pipe(bend_angle=0.0, run_1=45.0)
    # Straight through: bar and pipe are 1 mm apart on their centres, 4.5 mm touching.
    assert straight.obstacle_clearance == pytest.approx(-3.5, abs=1e-12)
    assert stepped_centreline(STEPPED)[-1][0] == pytest.approx(95.0, abs=0.1)
    assert bent_centreline(BENT)[0][-1][0] == pytest.approx(95.0, abs=0.1)


def test_sharp_right_angled_bends_are_the_stepped_pipe():
    errors = {"1": 1.5, "2": -2.0, "3": 0.7, "4": 2.2}
    signs = {"1": -1.0, "2": 1.0, "3": 1.0, "4": -1.0}  # beyond the drawn is down, up, up, down
    shared = {"outlet_tilt": 0.8, "run_1": 37.0, "run_2": 16.0, "run_3": 41.0}
    stepped = stepped_pipe(
        **shared,
        drop=8.2,
        rise=8.6,
        **{f"joint_error_{i}": signs[i] * error for i, error in errors.items()},
    )
    bent = bent_pipe(
        **shared,
        slope_1=8.2,
        slope_2=8.6,
        bend_radius=1e-9,
        bend_angle=90.0,
        **{f"bend_error_{i}": error for i, error in errors.items()},
    )
    for name in ("burner_height", "pipe_length", "obstacle_clearance"):
        assert getattr(bent, name) == pytest.approx(getattr(stepped, name), abs=1e-7)


def test_outer_corner_of_a_mitre_is_nearer_than_a_rounded_one():
    # The bar's centre is 2 mm above the upper run and 6 mm beyond the drop: the sharp corner
    # stands at 2 mm above and beyond, so the gap is 4 mm; rounded off it would be 4.32 mm.
    pipe = stepped_pipe(obstacle_position=37.5 + 6.0, obstacle_height=10.0, obstacle_diameter=0.0)
    assert pipe.obstacle_clearance == pytest.approx(4.0, abs=1e-12)


@PIPES
@settings(max_examples=10, deadline=None, derandomize=True)
@given(tilt=hnp.arrays(float, 6, elements=st.floats(-20.0, 20.0)))
def test_turning_pipe_and_bar_together_about_the_outlet_keeps_the_clearance(pipe, tilt):
    bars = np.array([rotation(t) @ np.array([45.0, -1.0]) for t in tilt])
    turned = pipe(outlet_tilt=tilt, obstacle_position=bars[:, 0], obstacle_height=8.0 + bars[:, 1])
    assert turned.obstacle_clearance == pytest.approx(
        np.full(6, pipe().obstacle_clearance), abs=1e-11
    )
    assert np.ptp(turned.pipe_length) == 0.0


@PIPES
def test_lifting_the_outlet_lifts_the_burner_as_much(pipe):
    lifted, plain = pipe(outlet_height=9.25, outlet_tilt=1.0), pipe(outlet_tilt=1.0)
    assert lifted.burner_height - plain.burner_height == pytest.approx(1.25, abs=1e-12)


def test_signs_of_the_angles():
    small = np.array([-1.0, 0.0, 1.0])
    for name in ("outlet_tilt", *(f"joint_error_{i}" for i in (1, 2, 3, 4))):
        assert np.all(np.diff(stepped_pipe(**{name: small}).burner_height) > 0.0), name
    for i, sign in ((1, -1.0), (2, 1.0), (3, 1.0), (4, -1.0)):
        height = bent_pipe(**{f"bend_error_{i}": small}).burner_height
        assert np.all(sign * np.diff(height) > 0.0), i
    assert np.all(np.diff(bent_pipe(outlet_tilt=small).burner_height) > 0.0)
    assert np.all(np.diff(bent_pipe(bend_error_1=small).pipe_length) > 0.0)


@PIPES
def test_slack_bracket_lifts_the_burner_in_proportion_and_tilts_it(pipe):
    # Mount: the tilt gains asin(u c/q), the first wick u c times its distance over q.
    play = np.array([-1.0, 0.0, 0.4, 1.0])
    loose = pipe(bracket_slack=0.6, bracket_distance=150.0, bracket_play=play)
    places = stepped_centreline(STEPPED) if pipe is stepped_pipe else bent_centreline(BENT)[0]
    gained = loose.burner_height - pipe().burner_height
    assert gained == pytest.approx(play * 0.6 * places[-1][0] / 150.0, abs=1e-12)
    assert loose.burner_tilt == pytest.approx(np.degrees(np.arcsin(play * 0.6 / 150.0)), abs=1e-12)
    assert np.ptp(loose.obstacle_clearance) > 0.05
    assert np.ptp(loose.pipe_length) == 0.0


@PIPES
def test_tight_bracket_gives_the_pipe_without_one_exactly(pipe):
    play = pipe(bracket_play=0.7, bracket_distance=90.0, outlet_tilt=0.3)
    assert play == pipe(outlet_tilt=0.3)


@PIPES
def test_bracket_that_cannot_be_spoils_its_own_sample_alone(pipe):
    for name, bad in (
        ("bracket_slack", [-0.1, 141.0, np.nan]),
        ("bracket_distance", [0.0, -5.0, np.nan]),
        ("bracket_play", [-1.1, 1.1, np.nan]),
    ):
        found = pipe(**{"bracket_slack": 0.2, name: np.array([*bad, 0.5])})
        for key, values in found._asdict().items():
            assert np.isnan(values[:3]).all(), (name, key)
            assert np.isfinite(values[3]), (name, key)


def test_burner_tilt_is_the_sum_of_the_errors_with_their_signs():
    errors = {"1": 0.4, "2": -1.1, "3": 0.9, "4": 0.3}
    stepped = stepped_pipe(outlet_tilt=0.5, **{f"joint_error_{i}": e for i, e in errors.items()})
    assert stepped.burner_tilt == pytest.approx(0.5 + 0.4 - 1.1 + 0.9 + 0.3, abs=1e-12)
    bent = bent_pipe(outlet_tilt=0.5, **{f"bend_error_{i}": e for i, e in errors.items()})
    assert bent.burner_tilt == pytest.approx(0.5 - 0.4 - 1.1 + 0.9 - 0.3, abs=1e-12)
    assert stepped_pipe().burner_tilt == bent_pipe().burner_tilt == 0.0


def test_springback_common_to_all_bends_lifts_the_low_run_but_not_the_burner():
    sprung = bent_pipe(bend_error_1=-2.0, bend_error_2=-2.0, bend_error_3=-2.0, bend_error_4=-2.0)
    assert sprung.burner_height == pytest.approx(bent_pipe().burner_height, abs=1e-12)
    assert sprung.obstacle_clearance < bent_pipe().obstacle_clearance


@PIPES
def test_head_loss_grows_with_bore_to_the_minus_four_where_the_length_decides(pipe):
    bore = np.array([1.5, 3.0])
    long = {"run_1": 1e5, "bend_equivalent_length": 0.0}
    loss = pipe(pipe_bore=bore, **long).pipe_head_loss
    assert loss[0] / loss[1] == pytest.approx(16.0, rel=1e-4)


@PIPES
def test_head_loss_is_linear_in_burn_rate_and_nil_unlit(pipe):
    loss = pipe(burn_rate=np.array([0.0, 1.0, 2.0, 4.0])).pipe_head_loss
    assert loss[0] == 0.0
    assert loss[1:] / loss[1] == pytest.approx([1.0, 2.0, 4.0], rel=1e-12)


@PIPES
def test_what_raises_and_lowers_the_head_loss(pipe):
    assert np.all(np.diff(pipe(fuel_water=np.array([0.0, 0.05, 0.15])).pipe_head_loss) > 0.0)
    warmer = pipe(fuel_temperature=np.array([0.0, 20.0, 60.0])).pipe_head_loss
    assert np.all(np.diff(warmer) < 0.0)
    more = pipe(bend_equivalent_length=np.array([0.5, 2.5, 12.5])).pipe_head_loss
    assert np.all(np.diff(more) > 0.0)
    assert 0.2 < pipe().pipe_head_loss < 0.9  # a few tenths of a mm


def test_flattened_bends_resist_more_and_only_the_bends_do():
    loss = bent_pipe(pipe_ovality=np.array([0.0, 0.06, 0.15])).pipe_head_loss
    assert np.all(np.diff(loss) > 0.0)
    arcs = 10.0 * np.pi
    share = arcs / (bent_pipe().pipe_length + (10.0 + 0.589) * 3.2)
    # 0.9722 of the flow at ovality 0.15: tests/published/pipe_run.toml, after Boussinesq 1868.
    assert loss[2] / loss[0] - 1.0 == pytest.approx(share * (1.0 / 0.9722 - 1.0), rel=5e-3)


@settings(max_examples=10, deadline=None, derandomize=True)
@given(hnp.arrays(float, (5, 16), elements=st.floats(0.0, 1.0)))
def test_curvature_adds_nothing_to_a_spirit_feed(unit):
    # Up to 3 ml/min, 0 to 60 degC, at the nominal pipe within its tolerance: De < 11.6.
    temperature, water, burn_rate = 60.0 * unit[0], 0.15 * unit[1], 3.0 * unit[2]
    bore, bend_radius = 3.0 + 0.4 * unit[3], 9.5 + unit[4]
    worst = reynolds_number(3.0, 3.0, 754.0, 0.5842) * np.sqrt(3.0 / (2.0 * 9.5))
    assert worst < 11.6  # density and viscosity of pure ethanol at 60 degC, CoolProp 8.0
    spirit = {"fuel_temperature": temperature, "fuel_water": water, "burn_rate": burn_rate}
    pipe = {"pipe_bore": bore, "bend_equivalent_length": 0.0, **spirit}
    bent = bent_pipe(bend_radius=bend_radius, pipe_ovality=0.0, **pipe)
    straight = stepped_pipe(run_1=bent.pipe_length - 60.0, run_2=15.0, run_3=29.0, **pipe)
    assert straight.pipe_length == pytest.approx(bent.pipe_length, rel=1e-12)
    assert bent.pipe_head_loss == pytest.approx(straight.pipe_head_loss, rel=1e-12)


def test_bend_ratio_is_radius_over_outside_diameter():
    assert bent_pipe(bend_radius=12.0, pipe_bore=3.0, pipe_wall=0.5).bend_ratio == 3.0


@PIPES
def test_numbers_give_numbers_and_arrays_broadcast(pipe):
    assert all(np.ndim(value) == 0 and np.isfinite(value) for value in pipe())
    run, bore = np.linspace(30.0, 40.0, 3), np.linspace(3.0, 3.4, 4)
    grid = pipe(run_1=run[:, None], pipe_bore=bore)
    assert grid.obstacle_clearance.shape == grid.pipe_head_loss.shape == (3, 4)
    assert grid.pipe_head_loss[2, 1] == pipe(run_1=run[2], pipe_bore=bore[1]).pipe_head_loss
    fuel_only = pipe(fuel_temperature=np.linspace(0.0, 60.0, 5))
    assert np.ndim(fuel_only.burner_height) == np.ndim(fuel_only.obstacle_clearance) == 0
    assert fuel_only.pipe_head_loss.shape == (5,)


@PIPES
@given(data=st.data(), room=st.sampled_from([0.05, 1.0, 30.0]))
@settings(max_examples=12)
def test_parts_at_moments_have_the_clearance_of_each_alone(pipe, data, room):
    defaults = STEPPED if pipe is stepped_pipe else BENT
    parts = data.draw(drawn(defaults))
    parts["bracket_slack"] = room * parts["bracket_slack"]
    parts["run_1"] = np.append(parts["run_1"][:-1], np.nan)
    parts = {name: values[:, None] for name, values in parts.items()}
    moments = {"bracket_play": np.linspace(-1.0, 1.0, 512)[None, :]}
    crossed = pipe(**{**parts, **moments}).obstacle_clearance
    for row, found in enumerate(crossed):
        alone = {name: values[row, 0] for name, values in parts.items()}
        in_a_row = pipe(**{**alone, "bracket_play": moments["bracket_play"][0]}).obstacle_clearance
        assert np.array_equal(found, in_a_row, equal_nan=True)


@PIPES
@pytest.mark.parametrize("bad", [0.0, -3.0, np.nan, np.inf])
def test_a_length_that_cannot_be_spoils_its_own_sample_alone(pipe, bad):
    defaults = STEPPED if pipe is stepped_pipe else BENT
    names = RUNS[pipe] + (("pipe_bore", "pipe_wall") if not np.isinf(bad) else ())
    designs = {name: np.full(len(names) + 1, defaults[name]) for name in names}
    for i, name in enumerate(names):
        designs[name][i] = bad
    for name, found in pipe(**designs)._asdict().items():
        assert np.isnan(found[:-1]).all(), name
        assert found[-1] == pytest.approx(getattr(pipe(), name), rel=1e-14), name


@PIPES
def test_fuel_outside_its_range_spoils_the_head_loss_alone(pipe):
    for name, values in (
        ("fuel_temperature", [-1.0, 61.0, np.nan]),
        ("fuel_water", [-0.01, 0.2, np.inf]),
        ("burn_rate", [-1.0, 1e4, np.nan]),
    ):
        found = pipe(**{name: np.array([*values, STEPPED[name]])})
        assert np.isnan(found.pipe_head_loss[:-1]).all(), name
        assert found.pipe_head_loss[-1] == pytest.approx(pipe().pipe_head_loss, rel=1e-14)
        assert found.burner_height == 8.0


@PIPES
def test_no_head_loss_is_given_above_a_reynolds_number_of_2000(pipe):
    burn_rate = np.linspace(400.0, 700.0, 301)
    density, viscosity = fuel.density(20.0, 0.06), fuel.viscosity(20.0, 0.06) * 1e-3
    speed = burn_rate * 1e-6 / 60.0 / (np.pi / 4.0 * 3.2e-3**2)
    reynolds = density * speed * 3.2e-3 / viscosity
    assert reynolds[0] < 2000.0 < reynolds[-1]
    loss = pipe(burn_rate=burn_rate).pipe_head_loss
    assert np.array_equal(np.isnan(loss), reynolds > 2000.0)


def test_joints_that_cannot_be_made_give_nan():
    assert np.isnan(stepped_pipe(joint_error_2=90.0).burner_height)
    assert np.isfinite(stepped_pipe(joint_error_2=89.0).burner_height)
    # Two mitres of the same turn need an outside diameter (4 mm) between their centres.
    short = stepped_pipe(run_2=np.array([3.9, 4.1]))
    assert np.isnan(short.obstacle_clearance[0])
    assert np.isfinite(short.obstacle_clearance[1])
    turn = bent_pipe(bend_error_3=np.array([-45.1, -45.0, 134.9, 135.0]))
    assert np.array_equal(np.isnan(turn.burner_height), [True, False, False, True])
    assert np.isnan(bent_pipe(pipe_ovality=np.array([-0.1, 1.1])).pipe_head_loss).all()
    assert np.isnan(stepped_pipe(obstacle_diameter=-1.0).obstacle_clearance)
