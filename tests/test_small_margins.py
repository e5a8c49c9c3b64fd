"""Two differences that a study judges: the surge on this burner's margin, and the dip's room."""

import numpy as np
import pytest

from models.fuel_level import fuel_level
from models.pipe_room import pipe_room
from models.pipe_run import bent_pipe, stepped_pipe
from models.surge_margin import surge_margin
from models.tank_air import tank_surge
from models.wicks import wicks


def test_no_warming_leaves_the_flood_margin_and_a_rise_of_it_leaves_none():
    margin = wicks(flood_margin=fuel_level(breather_height=12.0).flood_margin).flood_margin_all
    still = surge_margin(margin, tank_surge(fuel_warming=0.0).surge_rise)
    assert still.surge_margin == pytest.approx(margin, abs=1e-12)
    assert surge_margin(margin, margin).surge_margin == 0.0


def test_a_rise_that_one_burner_bears_floods_another():
    rise = tank_surge(fuel_warming=4.0).surge_rise
    low, high = fuel_level(breather_height=np.array([rise + 6.0, rise + 12.0])).flood_margin
    assert surge_margin(low, rise).surge_margin > 0.0 > surge_margin(high, rise).surge_margin


def test_a_step_fits_where_a_bend_does_not():
    step, bend = stepped_pipe().dip_length, bent_pipe().dip_length
    assert pipe_room(step, dip_room=0.5 * (step + bend)).room_left > 0.0
    assert pipe_room(bend, dip_room=0.5 * (step + bend)).room_left < 0.0
    assert pipe_room(bend, bend).room_left == 0.0


def test_a_tighter_bend_than_the_least_is_below_nothing():
    ratio = bent_pipe(bend_radius=np.array([7.0, 8.0, 9.0])).bend_ratio  # 4 mm outside
    spare = pipe_room(bend_ratio=ratio, least_bend_ratio=2.0).bend_spare
    np.testing.assert_allclose(spare, [-0.25, 0.0, 0.25], atol=1e-12)
    assert np.isnan(pipe_room(least_bend_ratio=-1.0).bend_spare)


def test_no_room_below_nothing():
    left = pipe_room(20.0, np.array([25.0, -1.0, np.nan])).room_left
    np.testing.assert_array_equal(left, [5.0, np.nan, np.nan])
