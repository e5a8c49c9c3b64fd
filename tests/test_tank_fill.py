"""How full the tank is: its ends, what is kept, and the level that follows from one cause."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.fuel_level import fuel_level
from models.tank_fill import tank_fill

SHARES = st.floats(0.0, 1.0)
SIZES = st.floats(0.1, 1e4)


def test_a_full_tank_has_no_air_and_an_empty_one_has_fallen_by_its_own_height():
    full = tank_fill(tank_fill=1.0, tank_volume=60.0, tank_head_full=42.0)
    assert full == (0.0, 60.0, 42.0)
    # 60 ml on 20 cm2 stand 30 mm high.
    empty = tank_fill(0.0, tank_volume=60.0, tank_floor_area=20.0, tank_head_full=42.0)
    assert empty == pytest.approx((60.0, 0.0, 12.0))


@settings(max_examples=50, deadline=None)
@given(SHARES, SIZES, SIZES, st.floats(-100.0, 200.0))
def test_air_and_fuel_are_the_tank_and_the_fuel_over_the_floor_is_the_head(fill, volume, area, top):
    tank = tank_fill(fill, volume, area, top)
    assert tank.tank_air_volume + tank.tank_fuel_volume == pytest.approx(volume, rel=1e-12)
    bottom = tank_fill(0.0, volume, area, top).tank_head
    depth = 10.0 * tank.tank_fuel_volume / area  # 1 ml on 1 cm2 is 10 mm
    assert tank.tank_head - bottom == pytest.approx(depth, rel=1e-9, abs=1e-9 * volume / area)


def test_a_tank_below_the_sump_has_a_head_below_nothing_and_feeds_no_level():
    low = tank_fill(tank_fill=0.2, tank_head_full=20.0)
    assert low.tank_head < 0.0
    assert np.isnan(fuel_level(tank_head=low.tank_head).flood_margin)


def test_vacuum_of_the_level_is_greatest_between_full_and_empty():
    # V rho g H: nothing of either end where the head reaches the floor's height as it empties.
    fill = np.linspace(0.0, 1.0, 11)
    tank = tank_fill(fill, tank_volume=60.0, tank_floor_area=20.0, tank_head_full=30.0)
    high = fuel_level(
        tank_air_volume=tank.tank_air_volume, tank_head=np.maximum(tank.tank_head, 0.0)
    ).flood_margin
    assert high[0] == pytest.approx(high[-1], abs=1e-12)
    assert np.argmin(high) == 5


@pytest.mark.parametrize(
    "bad",
    [
        {"tank_fill": -0.1},
        {"tank_fill": 1.1},
        {"tank_volume": 0.0},
        {"tank_floor_area": -1.0},
        {"tank_head_full": np.inf},
        {"tank_fill": np.nan},
    ],
    ids=str,
)
def test_nothing_is_said_outside_the_ranges(bad):
    assert np.isnan(tank_fill(**bad)).all()
    among = tank_fill(**{name: np.array([0.5, value]) for name, value in bad.items()})
    np.testing.assert_array_equal(np.isnan(among), [[False, True]] * 3)
