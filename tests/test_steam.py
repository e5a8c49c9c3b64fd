"""Steam balance: what follows from its definition, its signs and its limits."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from models import steam
from models.steam import steam_balance

RANGES = {
    "heat_to_boiler": (-50.0, 1500.0),
    "shell_loss": (0.0, 150.0),
    "feed_temperature": (0.0, 100.0),
    "steam_pressure": (0.0, 6.9),
    "piston_bore": (5.0, 20.0),
    "piston_stroke": (8.0, 30.0),
    "cylinders": (1.0, 4.0),
    "cutoff": (0.2, 1.0),
    "revolutions": (0.0, 600.0),
    "condensation_factor": (1.0, 2.5),
    "blower_steam": (0.1, 8.0),
    "water_volume": (20.0, 400.0),
    "fuel_volume": (10.0, 200.0),
    "burn_rate": (0.5, 6.0),
}


@st.composite
def engines(draw):
    unit = draw(arrays(float, (len(RANGES), 32), elements=st.floats(0.0, 1.0)))
    return {
        name: low + (high - low) * row
        for (name, (low, high)), row in zip(RANGES.items(), unit, strict=True)
    }


@settings(max_examples=20, deadline=None)
@given(engines())
def test_mass_and_energy(engine):
    result = steam_balance(**engine)
    assert all(np.isfinite(field).all() for field in result)
    np.testing.assert_allclose(result.steam_balance, result.steam_made - result.steam_used)
    # First law: the steam made takes away what the fire gives and the shell does not lose.
    taken = (
        result.steam_made
        / 60.0
        * (
            steam.vapour_enthalpy(engine["steam_pressure"] + 1.01325)
            - steam.liquid_enthalpy(engine["feed_temperature"])
        )
    )
    given_ = np.maximum(engine["heat_to_boiler"] - engine["shell_loss"], 0.0)
    np.testing.assert_allclose(taken, given_, rtol=1e-12)
    # All the water leaves in the time given, as steam made or as steam used.
    water = 1e-3 * engine["water_volume"] * steam.liquid_density(engine["feed_temperature"])
    leaving = np.maximum(result.steam_made, result.steam_used)
    np.testing.assert_allclose(leaving * result.water_endurance, water, rtol=1e-12)
    assert (result.steam_used >= engine["blower_steam"]).all()


@pytest.mark.parametrize(
    ("name", "field", "sign"),
    [
        ("heat_to_boiler", "steam_made", 1.0),
        ("shell_loss", "steam_made", -1.0),
        ("feed_temperature", "steam_made", 1.0),
        ("steam_pressure", "steam_made", -1.0),
        ("steam_pressure", "steam_used", 1.0),
        ("piston_bore", "steam_used", 1.0),
        ("cutoff", "steam_used", 1.0),
        ("revolutions", "steam_used", 1.0),
        ("blower_steam", "steam_balance", -1.0),
        ("burn_rate", "fuel_endurance", -1.0),
        ("water_volume", "water_endurance", 1.0),
    ],
)
def test_signs(name, field, sign):
    low, high = RANGES[name]
    rising = np.linspace(max(low, 0.1), high, 30)
    if name == "heat_to_boiler":
        rising = np.linspace(100.0, high, 30)
    result = getattr(steam_balance(**{name: rising}), field)
    assert (sign * np.diff(result) > 0.0).all()


def test_cylinders_scale():
    """Swept volume goes with the square of the bore and with all the rest in proportion."""
    one = steam_balance(blower_steam=0.0)
    other = steam_balance(
        blower_steam=0.0, piston_bore=22.0, piston_stroke=8.0, cylinders=1.0, revolutions=360.0
    )
    assert other.steam_used == pytest.approx(2.0 * one.steam_used)


def test_a_fire_that_does_not_cover_the_shell_makes_no_steam():
    result = steam_balance(heat_to_boiler=np.array([20.0, 40.0]), shell_loss=40.0)
    np.testing.assert_array_equal(result.steam_made, 0.0)
    np.testing.assert_array_equal(result.steam_balance, -result.steam_used)


@pytest.mark.parametrize(
    "wrong",
    [
        {"shell_loss": -1.0},
        {"feed_temperature": -5.0},
        {"feed_temperature": 180.0},
        {"steam_pressure": -0.5},
        {"steam_pressure": 9.0},
        {"heat_to_boiler": np.nan},
    ],
    ids=str,
)
@pytest.mark.parametrize(
    "kind", [float, lambda value: np.array([value, value])], ids=["one", "two"]
)
def test_no_steam_is_made_outside_the_range(wrong, kind):
    result = steam_balance(**{name: kind(value) for name, value in wrong.items()})
    assert np.isnan(result.steam_made).all()
    assert np.isnan(result.steam_balance).all()
    assert np.isnan(result.water_endurance).all()


@pytest.mark.parametrize(
    "wrong",
    [
        {"piston_bore": 0.0},
        {"piston_stroke": -3.0},
        {"cylinders": 0.0},
        {"cutoff": 1.2},
        {"revolutions": -1.0},
        {"condensation_factor": 0.0},
        {"blower_steam": -0.1},
    ],
    ids=str,
)
def test_no_steam_is_used_outside_the_range(wrong):
    result = steam_balance(**wrong)
    assert np.isnan(result.steam_used)
    assert np.isnan(result.steam_balance)
    assert np.isfinite(result.steam_made)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"water_volume": 0.0}, "water_endurance"),
        ({"fuel_volume": 0.0}, "fuel_endurance"),
        ({"burn_rate": 0.0}, "fuel_endurance"),
    ],
    ids=str,
)
def test_no_endurance_of_nothing(wrong, field):
    assert np.isnan(getattr(steam_balance(**wrong), field))


def test_one_bad_point_leaves_its_neighbours_alone():
    pressure = np.array([1.0, 20.0, 3.0])
    result = steam_balance(steam_pressure=pressure)
    np.testing.assert_array_equal(np.isnan(result.steam_balance), [False, True, False])
    assert result.steam_used[2] == pytest.approx(steam_balance(steam_pressure=3.0).steam_used)


@pytest.mark.parametrize(
    "function", [steam.saturation_temperature, steam.vapour_density, steam.vapour_enthalpy]
)
def test_steam_is_not_extrapolated(function):
    np.testing.assert_array_equal(np.isnan(function(np.array([0.99, 1.0, 8.0, 8.1]))), [1, 0, 0, 1])


@pytest.mark.parametrize("function", [steam.liquid_enthalpy, steam.liquid_density])
def test_water_is_not_extrapolated(function):
    outside = np.isnan(function(np.array([-0.1, 0.0, 171.0, 171.1])))
    np.testing.assert_array_equal(outside, [1, 0, 0, 1])
