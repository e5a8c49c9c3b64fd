"""Air shut in a step of the pipe: what is caught, what it costs, what clears it."""

from itertools import groupby

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.air_lock import STILL, bond_number, rise_speed, trapped_head
from models.pipe_run import bent_pipe, stepped_pipe

PIPES = pytest.mark.parametrize("pipe", [stepped_pipe, bent_pipe])
TENTHS = st.integers(-200, 200).map(lambda tenths: 0.1 * tenths)


@given(st.lists(TENTHS, min_size=2, max_size=9), st.floats(0.5, 6.0))
def test_trapped_head_is_that_of_all_falls_higher_than_the_bore(heights, bore):
    runs = [(down, list(legs)) for down, legs in groupby(np.diff(heights), lambda leg: leg < -1e-9)]
    falls = [-sum(legs) if down else 0.0 for down, legs in runs]
    head, goes_back = trapped_head(heights, bore)
    assert head == pytest.approx(sum(fall for fall in falls if fall > bore), abs=1e-9)
    assert goes_back == all(fall <= bore for fall in falls[1:])


def test_level_first_run_does_not_lead_the_air_back_and_a_rising_one_does():
    for slope, back in ((0.0, False), (0.2, False), (-0.2, True)):
        heights = [8.0, 8.0 + slope, 0.0, 0.0, 8.0, 8.0]
        assert trapped_head(heights, 3.2)[1] == back
    over = [8.0, 8.0, 16.0, 16.0, 8.0, 8.0]
    head, goes_back = trapped_head(over, 3.2)
    assert (head, goes_back) == (8.0, False)
    two_steps = [8.0, 7.0, 0.0, 5.0, -3.0, 8.0]
    head, goes_back = trapped_head(two_steps, 3.2)
    assert (head, goes_back) == (16.0, False)


@PIPES
def test_level_pipe_traps_the_height_of_its_step(pipe):
    found = pipe()
    # 8 mm of drop; 45 deg bends of 10 mm radius and 3 mm between them fall 2 x 2.929 + 2.121 mm.
    expected = 8.0 if pipe is stepped_pipe else 20.0 * (1.0 - np.sqrt(0.5)) + 3.0 * np.sqrt(0.5)
    assert found.air_lock_head == pytest.approx(expected, abs=1e-12)


def test_shallow_step_traps_nothing_and_always_clears():
    found = stepped_pipe(drop=np.array([3.1, 3.3]), rise=np.array([3.1, 3.3]), pipe_bore=3.2)
    assert found.air_lock_head == pytest.approx([0.0, 3.3])
    assert found.air_lock_clears[0] == 1.0


@PIPES
def test_ratio_is_the_filling_of_the_pipes_own_head_loss_over_the_rise(pipe):
    found = pipe(pipe_bore=4.0, breather_height=13.0)
    over_crown = 13.0 - found.burner_height - 2.0
    flow = 3.0 * over_crown / found.pipe_head_loss  # ml/min
    speed = flow * 1000.0 / 60.0 / (np.pi / 4.0 * 4.0**2)  # mm/s
    assert found.air_lock_ratio == pytest.approx(speed / rise_speed(4.0), rel=1e-12)
    doubted = pipe(pipe_bore=4.0, breather_height=13.0, bubble_rise_factor=1.25)
    assert doubted.air_lock_ratio == pytest.approx(found.air_lock_ratio / 1.25, rel=1e-12)


@PIPES
def test_ratio_does_not_hang_on_the_burn(pipe):
    assert np.ptp(pipe(burn_rate=np.array([0.0, 1.0, 3.0])).air_lock_ratio) == 0.0


@PIPES
def test_ratio_is_finite_where_no_bubble_rises_and_negative_where_nothing_flows(pipe):
    narrow = pipe(pipe_bore=np.array([2.4, 3.0]))
    assert np.isfinite(narrow.air_lock_ratio).all()
    dry = pipe(breather_height=np.array([7.0, 9.6, 12.0]))
    assert np.array_equal(np.sign(dry.air_lock_ratio), [-1.0, 0.0, 1.0])


def test_what_clears_a_wide_pipe():
    """A 5 mm bore: the stream of a full sump does not sweep, so slope, depth or level must."""
    wide = {"pipe_bore": 5.0, "breather_height": 11.0, "bubble_rise_factor": 1.0}
    stuck = stepped_pipe(**wide)
    assert 0.0 < stuck.air_lock_ratio < 1.0
    assert stuck.air_lock_clears == 0.0
    assert stepped_pipe(**wide, outlet_tilt=-0.5).air_lock_clears == 1.0
    assert stepped_pipe(**wide, outlet_tilt=0.5).air_lock_clears == 0.0
    assert stepped_pipe(**(wide | {"breather_height": 18.6})).air_lock_clears == 1.0
    assert stepped_pipe(**wide, drop=4.9, rise=4.9).air_lock_clears == 1.0
    assert stepped_pipe(**wide, occlusion_bond_number=3.0).air_lock_clears == 1.0
    assert stepped_pipe(**(wide | {"bubble_rise_factor": 0.05})).air_lock_clears == 1.0


def test_bubble_rises_the_sooner_the_wider_the_bore_and_not_at_all_in_a_narrow_one():
    bore = np.linspace(1.0, 6.0, 101)
    speed = rise_speed(bore)
    assert (speed[bond_number(bore, 20.0, 0.06) < 0.842] == 0.0).all()
    assert (np.diff(speed) >= 0.0).all()
    assert speed[-1] > 40.0
    # Warm fuel is held by less tension, so the same bore lets its bubble go sooner.
    assert (np.diff(rise_speed(4.0, np.array([0.0, 20.0, 40.0, 60.0]))) > 0.0).all()


@PIPES
def test_fuel_or_doubt_outside_its_range_leaves_only_the_head(pipe):
    for name, bad in (
        ("fuel_temperature", [-1.0, 61.0, np.nan]),
        ("fuel_water", [-0.1, 0.2, np.nan]),
        ("bubble_rise_factor", [0.0, -1.0, np.nan]),
        ("occlusion_bond_number", [-0.1, -1.0, np.nan]),
        ("breather_height", [np.nan, np.nan, np.nan]),
        ("breather_scarf", [-1.0, 61.0, np.nan]),
    ):
        found = pipe(**{name: np.array([*bad, 2.0 if name == "occlusion_bond_number" else 0.1])})
        assert np.isnan(found.air_lock_ratio[:3]).all(), name
        assert np.isnan(found.air_lock_clears[:3]).all(), name
        assert np.isfinite(found.air_lock_ratio[3]), name
        assert np.isfinite(found.air_lock_head).all(), name


@PIPES
def test_a_slanted_breather_fills_the_sump_to_its_upper_lip(pipe):
    square = pipe(breather_height=13.5)
    slanted = pipe(breather_height=9.5, breather_bore=4.0, breather_scarf=45.0)
    assert slanted.air_lock_ratio == pytest.approx(square.air_lock_ratio, rel=1e-12)
    assert pipe(breather_height=9.5).air_lock_ratio < 0.0 < slanted.air_lock_ratio


def test_floor_under_the_rise_is_slower_than_any_bubble_that_counts():
    assert rise_speed(3.2) > STILL
