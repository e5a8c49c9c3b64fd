"""The burn that follows the fire, and the draught that steam makes: limits, signs, one cause."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.burn_rate import follow_the_fire
from models.firebox_heat import firebox_heat
from models.smokebox import NATURAL_DRAUGHT, smokebox_draught
from models.steam import steam_balance

POSITIVE = st.floats(0.5, 500.0)


@settings(max_examples=50, deadline=None)
@given(POSITIVE, POSITIVE, st.floats(0.1, 10.0))
def test_no_exponent_is_the_weighed_burn(draught, stated, weighed):
    assert follow_the_fire(weighed, draught, stated, 0.0).burn_rate == weighed


@settings(max_examples=50, deadline=None)
@given(POSITIVE, st.floats(0.1, 10.0), st.floats(0.0, 1.0))
def test_at_the_stated_draught_it_is_the_weighed_burn_whatever_the_exponent(draught, weighed, n):
    assert follow_the_fire(weighed, draught, draught, n).burn_rate == weighed


@settings(max_examples=50, deadline=None)
@given(POSITIVE, st.floats(1.01, 4.0), st.floats(0.05, 1.0))
def test_burns_are_as_the_power_of_their_draughts(draught, times, n):
    low, high = follow_the_fire(draught=np.array([draught, times * draught]), draught_exponent=n)[0]
    assert high > low
    assert np.log(high / low) == pytest.approx(n * np.log(times))


@pytest.mark.parametrize(
    "bad",
    [
        {"weighed_burn_rate": 0.0},
        {"draught": 0.0},
        {"stated_draught": -1.0},
        {"draught_exponent": -0.1},
        {"draught": np.nan},
    ],
    ids=str,
)
def test_no_burn_outside_the_ranges(bad):
    assert np.isnan(follow_the_fire(**bad).burn_rate)
    among = follow_the_fire(**{name: np.array([0.3, value]) for name, value in bad.items()})
    np.testing.assert_array_equal(np.isnan(among.burn_rate), [False, True])


def fire(draught, exponent=0.35, **changes):
    burn = follow_the_fire(draught=draught, draught_exponent=exponent).burn_rate
    return firebox_heat(draught=draught, burn_rate=burn, **changes)


DRAUGHTS = np.array([20.0, 40.0, 80.0, 150.0])


def test_plate_grows_hotter_and_heat_greater_as_the_blower_opens():
    """Common practice, no source. With a burn that is held it is the other way beyond 40 Pa."""
    followed, held = fire(DRAUGHTS), fire(DRAUGHTS, exponent=0.0)
    assert (np.diff(followed.deflector_temperature) > 0.0).all()
    assert (np.diff(followed.heat_to_boiler) > 0.0).all()
    assert (np.diff(held.deflector_temperature)[1:] < 0.0).all()
    # Dull red by one printed scale at least; not bright red by either.
    assert 630.0 < followed.deflector_temperature[-1] < 815.0


def test_smokebox_is_hotter_without_the_plate_and_heat_less_and_less_as_the_draught_grows():
    """Common practice, no source."""
    plate, none = fire(DRAUGHTS), fire(DRAUGHTS, deflector_gap=44.0)
    assert (none.smokebox_temperature > plate.smokebox_temperature + 50.0).all()
    share = none.heat_to_boiler / plate.heat_to_boiler
    assert (np.diff(share) < 0.0).all()
    assert 0.9 < share[0] < 1.0
    assert 0.6 < share[-1] < 0.75


def test_cold_air_past_the_flames_cools():
    """Common practice, no source."""
    heat = fire(100.0, bypass_area=np.array([0.0, 50.0, 200.0])).heat_to_boiler
    assert (np.diff(heat) < -0.05 * heat[0]).all()


def test_draught_of_a_smokebox_without_steam_is_the_chimney_s():
    calm = smokebox_draught(blower_steam=0.0, revolutions=0.0)
    assert calm.draught == NATURAL_DRAUGHT
    assert calm.cylinder_steam == 0.0
    fan = smokebox_draught(blower_steam=0.0, revolutions=0.0, auxiliary_draught=30.0)
    assert fan.draught == NATURAL_DRAUGHT + 30.0


def test_cylinder_steam_is_that_of_the_steam_balance():
    rng = np.random.default_rng(5)
    engine = {
        "steam_pressure": rng.uniform(0.5, 6.0, 40),
        "piston_bore": rng.uniform(8.0, 14.0, 40),
        "cutoff": rng.uniform(0.5, 0.9, 40),
        "revolutions": rng.uniform(0.0, 400.0, 40),
        "condensation_factor": rng.uniform(2.0, 4.0, 40),
    }
    before = smokebox_draught(**engine, blower_steam=1.5)
    used = steam_balance(**engine, blower_steam=1.5).steam_used
    np.testing.assert_allclose(before.cylinder_steam + 1.5, used, rtol=1e-12)
    np.testing.assert_allclose(before.draught, 0.5 + 15.0 + 12.0 * before.cylinder_steam)


@pytest.mark.parametrize(
    "bad",
    [
        {"steam_pressure": 9.0},
        {"blower_steam": -1.0},
        {"revolutions": -1.0},
        {"auxiliary_draught": -1.0},
        {"exhaust_draught_factor": -1.0},
        {"blower_draught_factor": -1.0},
    ],
    ids=str,
)
def test_no_draught_outside_the_ranges(bad):
    assert np.isnan(smokebox_draught(**bad).draught)
