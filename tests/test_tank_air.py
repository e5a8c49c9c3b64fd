"""Invariants of `models.tank_air`: conservation, signs, limits, bad points."""

import inspect
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models import fuel
from models.tank_air import (
    air_share,
    air_viscosity,
    expansion_rate,
    expansion_ratio,
    pinhole_flow,
    tank_surge,
    thermal_expansion,
)

ROWS = 64

DESIGNS = {
    "tank_air_volume": (1.0, 80.0),
    "tank_fuel_volume": (0.0, 80.0),
    "fuel_temperature": (0.0, 40.0),
    "fuel_warming": (0.5, 20.0),
    "warming_rate": (0.1, 5.0),
    "vapour_saturation": (0.0, 1.0),
    "fuel_water": (0.0, 0.15),
    "fuel_methanol": (0.0, 0.1),
    "sump_free_area": (1.0, 10.0),
    "burn_rate": (0.5, 6.0),
    "tank_head": (1.0, 80.0),
    "breather_bore": (1.5, 8.0),
    "valve_opening": (0.01, 1.0),
    "leak_bore": (0.01, 0.3),
    "leak_length": (0.0, 2.0),
    "leak_discharge_coefficient": (0.5, 1.0),
    "ambient_pressure": (0.9, 1.05),
}

seeds = st.integers(0, 2**32 - 1)
few = settings(max_examples=15, deadline=None, derandomize=True)


def drawn(seed: int, **fixed: Any) -> dict[str, Any]:
    random = np.random.default_rng(seed)
    return {name: random.uniform(*span, ROWS) for name, span in DESIGNS.items()} | fixed


@few
@given(seeds)
def test_air_and_fuel_are_conserved(seed: int) -> None:
    """Moles of air and mass of liquid before and after, with what was driven out.

    The vapour's own mass is not taken from the liquid: some milligrams in tens of grams.
    """
    d = drawn(seed)
    surge = tank_surge(**d)
    cold, hot = d["fuel_temperature"], d["fuel_temperature"] + d["fuel_warming"]
    pressure = d["ambient_pressure"] * 1e5
    liquid_after = d["tank_fuel_volume"] * fuel.density(cold, d["fuel_water"])
    liquid_after = liquid_after / fuel.density(hot, d["fuel_water"])
    whole = d["tank_air_volume"] + d["tank_fuel_volume"]
    air_after = whole + surge.expelled_volume - liquid_after

    def moles(volume: Any, temperature: Any) -> Any:
        vapour = d["vapour_saturation"] * fuel.vapour_pressure(temperature, d["fuel_methanol"])
        return (pressure - vapour) * volume / (8.314462618 * (temperature + 273.15))

    np.testing.assert_allclose(moles(air_after, hot), moles(d["tank_air_volume"], cold), rtol=1e-12)
    np.testing.assert_allclose(
        surge.surge_rise * d["sump_free_area"], 10 * surge.expelled_volume, rtol=1e-14
    )


@few
@given(seeds)
def test_warming_in_two_steps_is_warming_at_once(seed: int) -> None:
    d = drawn(seed)
    rest = (d["vapour_saturation"], d["fuel_methanol"], d["ambient_pressure"] * 1e5)
    t, rise = d["fuel_temperature"], d["fuel_warming"]
    first = expansion_ratio(t, 0.3 * rise, *rest)
    second = expansion_ratio(t + 0.3 * rise, 0.7 * rise, *rest)
    np.testing.assert_allclose(first * second, expansion_ratio(t, rise, *rest), rtol=1e-13)


@few
@given(seeds)
def test_rate_is_the_slope_of_the_ratio(seed: int) -> None:
    random = np.random.default_rng(seed)
    t, s, m = random.uniform(1, 59, ROWS), random.uniform(0, 1, ROWS), random.uniform(0, 0.1, ROWS)
    slope = (expansion_ratio(t, 1e-3, s, m) - expansion_ratio(t, -1e-3, s, m)) / 2e-3
    np.testing.assert_allclose(expansion_rate(t, s, m), slope, rtol=1e-6)


def test_thermal_expansion_is_the_slope_of_the_density() -> None:
    t, water = np.linspace(1.0, 59.0, 30), np.linspace(0.0, 0.15, 30)
    slope = (fuel.density(t + 0.5, water) - fuel.density(t - 0.5, water)) / fuel.density(t, water)
    np.testing.assert_allclose(thermal_expansion(t, water), -slope, rtol=1e-9)


def test_no_warming_no_surge() -> None:
    still = tank_surge(fuel_warming=0.0, warming_rate=0.0, tank_fuel_volume=50.0)
    assert still.expelled_volume == still.surge_rise == still.surge_ratio == 0.0


def test_dry_air_follows_gay_lussac() -> None:
    assert expansion_ratio(20.0, 20.0, 0.0) == pytest.approx(313.15 / 293.15, rel=1e-15)
    assert expansion_rate(20.0, 0.0) == pytest.approx(1 / 293.15, rel=1e-15)


def test_cooling_draws_air_in() -> None:
    cooling = tank_surge(fuel_warming=-10.0, warming_rate=-1.0, tank_fuel_volume=40.0)
    assert cooling.expelled_volume < 0
    assert cooling.surge_rise < 0
    assert cooling.surge_ratio < 0


SIGNS = [
    ("tank_air_volume", 1.0, ["surge_rise", "surge_ratio", "expelled_volume"], []),
    ("tank_fuel_volume", 1.0, ["surge_rise", "surge_ratio", "expelled_volume"], []),
    ("fuel_temperature", 1.0, ["surge_rise", "surge_ratio", "expelled_volume"], []),
    ("fuel_warming", 0.5, ["surge_rise", "expelled_volume"], []),
    ("warming_rate", 0.1, ["surge_ratio"], []),
    ("vapour_saturation", 0.05, ["surge_rise", "surge_ratio", "expelled_volume"], []),
    ("fuel_methanol", 0.005, ["surge_rise", "surge_ratio", "expelled_volume"], []),
    ("sump_free_area", 0.5, [], ["surge_rise"]),
    ("burn_rate", 0.2, [], ["surge_ratio", "leak_ratio"]),
    ("tank_head", 1.0, ["leak_ratio"], []),
    ("leak_bore", 0.01, ["leak_ratio"], []),
    ("leak_length", 0.05, [], ["leak_ratio"]),
    ("leak_discharge_coefficient", 0.02, ["leak_ratio"], []),
    ("ambient_pressure", 0.01, [], ["surge_rise", "surge_ratio", "expelled_volume"]),
]


@pytest.mark.parametrize(("name", "step", "up", "down"), SIGNS)
def test_signs(name: str, step: float, up: list[str], down: list[str]) -> None:
    """Warm tanks holding more air than fuel, well inside every range."""
    design = drawn(4, vapour_saturation=0.8, fuel_methanol=0.05, leak_discharge_coefficient=0.7)
    design |= {"fuel_temperature": np.linspace(15.0, 39.0, ROWS)}
    before = tank_surge(**design)
    after = tank_surge(**(design | {name: design[name] + step}))
    for result in up:
        assert np.all(getattr(after, result) > getattr(before, result)), result
    for result in down:
        assert np.all(getattr(after, result) < getattr(before, result)), result


@few
@given(seeds)
def test_pinhole_takes_up_the_whole_suction(seed: int) -> None:
    random = np.random.default_rng(seed)
    suction, bore = random.uniform(1, 800, ROWS), random.uniform(0.005, 1.0, ROWS)
    length, cd = random.uniform(0, 2, ROWS), random.uniform(0.5, 1.0, ROWS)
    t = random.uniform(0, 60, ROWS)
    q = pinhole_flow(suction, bore, length, cd, t) / 60e6
    r, mu, rho = bore / 2000, air_viscosity(t), 101325 / (287.053 * (t + 273.15))
    ends = 3 * mu * q / r**3
    tube = 8 * mu * length / 1000 * q / (np.pi * r**4)
    jet = rho * (q / (np.pi * r**2)) ** 2 / (2 * cd**2)
    np.testing.assert_allclose(ends + tube + jet, suction, rtol=1e-12)


def test_pinhole_limits() -> None:
    mu, suction = air_viscosity(20.0), 1e-9
    thin = pinhole_flow(suction, 0.05, 0.0, 0.61)
    assert thin == pytest.approx(suction * 0.025e-3**3 / (3 * mu) * 60e6, rel=1e-6)
    long = pinhole_flow(300.0, 0.02, 500.0, 0.61)
    poiseuille = 300.0 * np.pi * 0.01e-3**4 / (8 * mu * 0.5) * 60e6
    assert long == pytest.approx(poiseuille, rel=1e-4)
    wide = pinhole_flow(1e4, 50.0, 0.0, 0.61)
    jet = 0.61 * np.pi / 4 * 0.05**2 * np.sqrt(2e4 / (101325 / (287.053 * 293.15))) * 60e6
    assert wide == pytest.approx(jet, rel=1e-4)


def test_no_hole_no_leak() -> None:
    assert tank_surge(leak_bore=0.0).leak_ratio == 0.0
    assert tank_surge(leak_bore=0.0, leak_length=0.0).leak_ratio == 0.0
    assert tank_surge(leak_bore=0.1, tank_head=0.0).leak_ratio == 0.0
    shrinking = tank_surge(leak_bore=np.array([1e-3, 1e-4, 1e-5, 0.0])).leak_ratio
    assert np.all(np.diff(shrinking) < 0)
    assert shrinking[2] < 1e-12


def test_boiling_is_nan() -> None:
    assert np.isnan(air_share(60.0, 1.0, 0.1, 0.5e5))
    hot = tank_surge(
        fuel_temperature=np.array([30.0, 55.0]),
        ambient_pressure=0.5,
        fuel_methanol=0.1,
        vapour_saturation=1.0,
    )
    assert np.isfinite(hot.surge_rise[0])
    assert np.isnan(hot.surge_rise[1])


AFFECTED = {
    "tank_air_volume": ["surge_rise", "surge_ratio", "expelled_volume"],
    "tank_fuel_volume": ["surge_rise", "surge_ratio", "expelled_volume"],
    "fuel_warming": ["surge_rise", "expelled_volume"],
    "warming_rate": ["surge_ratio"],
    "vapour_saturation": ["surge_rise", "surge_ratio", "expelled_volume"],
    "fuel_methanol": ["surge_rise", "surge_ratio", "expelled_volume"],
    "sump_free_area": ["surge_rise"],
    "burn_rate": ["surge_ratio", "leak_ratio"],
    "tank_head": ["surge_rise", "leak_ratio", "expelled_volume"],
    "breather_bore": ["surge_rise", "expelled_volume"],
    "valve_opening": ["surge_rise", "expelled_volume"],
    "leak_bore": ["leak_ratio"],
    "leak_length": ["leak_ratio"],
    "leak_discharge_coefficient": ["leak_ratio"],
}
BAD = [
    ("tank_air_volume", -1.0),
    ("tank_fuel_volume", -1.0),
    ("fuel_temperature", -0.1),
    ("fuel_temperature", 60.1),
    ("fuel_warming", 41.0),
    ("vapour_saturation", 1.1),
    ("fuel_water", 0.16),
    ("fuel_methanol", 0.11),
    ("sump_free_area", 0.0),
    ("burn_rate", 0.0),
    ("tank_head", -1.0),
    ("breather_bore", 0.0),
    ("valve_opening", -0.1),
    ("valve_opening", 1.1),
    ("leak_bore", -0.1),
    ("leak_length", -0.1),
    ("leak_discharge_coefficient", 0.0),
    ("ambient_pressure", 0.1),
]
WORSE = [
    (name, value)
    for name in inspect.signature(tank_surge).parameters
    for value in (np.nan, np.inf, -np.inf, -1e300, 1e300, -273.15)
    if not (name == "warming_rate" and value == -273.15)  # a fast cooling, no error
]


@pytest.mark.parametrize(("name", "value"), BAD + WORSE)
def test_bad_point_is_nan_and_leaves_its_neighbours(name: str, value: float) -> None:
    good = inspect.signature(tank_surge).parameters[name].default
    held = {} if name == "leak_bore" else {"leak_bore": 0.05}
    reference, alone = tank_surge(**held), tank_surge(**(held | {name: value}))
    among = tank_surge(**(held | {name: np.array([good, value, good])}))
    for result in AFFECTED.get(name, reference._fields):
        assert np.isnan(getattr(alone, result)), result
    for one, bad, three in zip(reference, alone, among, strict=True):
        around = np.broadcast_to(three, 3)
        assert around[0] == around[2] == pytest.approx(float(one), rel=1e-13)
        assert np.array_equal(around[1], bad, equal_nan=True)


def test_held_numbers_give_what_full_arrays_give() -> None:
    held = {name: float(values[0]) for name, values in drawn(5).items()}
    full = {name: np.full(ROWS, value) for name, value in held.items()}
    for number, array in zip(tank_surge(**held), tank_surge(**full), strict=True):
        assert np.ndim(number) == 0
        np.testing.assert_allclose(array, number, rtol=1e-13)


def test_lit_surge_is_taken_where_the_warming_has_led():
    # Warmed while standing, then lit: the same as starting at the warmer temperature.
    warmed = tank_surge(fuel_temperature=20.0, fuel_warming=12.0, warming_rate=1.0)
    started = tank_surge(fuel_temperature=32.0, fuel_warming=0.0, warming_rate=1.0)
    assert float(warmed.surge_ratio) == pytest.approx(float(started.surge_ratio), rel=1e-12)
    cold = tank_surge(fuel_temperature=20.0, fuel_warming=0.0, warming_rate=1.0)
    assert float(warmed.surge_ratio) > 1.2 * float(cold.surge_ratio)


# The valve shut while the tank warms: only the breather's own column can run out.


@few
@given(seeds)
def test_shut_valve_leaves_the_column_of_the_breather(seed: int) -> None:
    d = drawn(seed)
    through, shut = tank_surge(**d), tank_surge(**d | {"valve_opening": 0.0})
    column = np.pi / 4.0 * d["breather_bore"] ** 2 * d["tank_head"] * 1e-3
    assert np.all(shut.expelled_volume <= column * (1.0 + 1e-12))
    assert np.all((shut.expelled_volume > 0.0) & (shut.expelled_volume < through.expelled_volume))
    np.testing.assert_allclose(
        shut.surge_rise * d["sump_free_area"], 10.0 * shut.expelled_volume, rtol=1e-14
    )
    # Lit, the valve is open: the ratios know nothing of it.
    assert np.array_equal(shut.surge_ratio, through.surge_ratio)
    assert np.array_equal(shut.leak_ratio, through.leak_ratio)


def test_a_valve_ajar_is_open() -> None:
    rise = tank_surge(valve_opening=np.array([0.0, 1e-9, 0.5, 1.0])).surge_rise
    assert rise[0] < rise[1] == rise[2] == rise[3]


def test_shut_without_air_drives_out_what_swells() -> None:
    # No air to be compressed: what the liquid gains runs out, up to the column.
    shut = tank_surge(
        tank_air_volume=0.0, tank_fuel_volume=40.0, fuel_warming=5.0, valve_opening=0.0
    )
    gain = 40.0 * (fuel.density(20.0, 0.06) / fuel.density(25.0, 0.06) - 1.0)
    assert shut.expelled_volume == pytest.approx(gain, rel=1e-12)


def test_wider_breather_lets_out_more() -> None:
    for head in (12.0, 30.0):
        out = tank_surge(
            breather_bore=np.linspace(1.0, 8.0, 30), tank_head=head, valve_opening=0.0
        ).expelled_volume
        assert np.all(np.diff(out) >= 0.0)
        assert out[0] < 0.1 * out[-1]
