"""The lap: energy and mass close, what a boiler cannot do, signs, and no point on another's."""

import inspect

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.boiler_run import BoilerRun, boiler_run, boiler_run_trace
from models.boiler_set_out import Lap, set_out
from models.boiler_steps import gauge, liquid, run_step
from models.burn_rate import follow_the_fire
from models.firebox_heat import firebox_heat
from models.smokebox import smokebox_draught
from models.steam import saturation_temperature, steam_balance

STEPS = {
    "duration": np.array([6.0, 1.5, 2.0, 2.0]),
    "revolutions": np.array([0.0, 0.0, 380.0, 380.0]),
    "blower_opening": np.array([0.0, 1.0, 0.0, 0.0]),
    "auxiliary_draught": np.array([30.0, 0.0, 0.0, 0.0]),
}
RANGES = {
    "deflector_gap": (2.5, 12.0),
    "weighed_burn_rate": (2.0, 4.5),
    "draught_exponent": (0.0, 0.6),
    "fire_loss": (0.2, 0.7),
    "condensation_factor": (1.5, 4.0),
    "exhaust_draught_factor": (3.0, 20.0),
    "blower_draught_factor": (4.0, 20.0),
    "blower_steam": (0.0, 4.0),
    "boiler_water": (30.0, 200.0),
    "water_temperature_at_start": (5.0, 95.0),
    "boiler_heat_capacity": (50.0, 300.0),
    "shell_loss_coefficient": (0.1, 0.6),
    "blow_off_pressure": (2.5, 6.0),
    "feed_temperature": (5.0, 60.0),
    "ambient_temperature": (-10.0, 35.0),
}
SIZE = 24
PER_STEP_RANGES = {
    "duration": (0.0, 5.0),
    "revolutions": (0.0, 400.0),
    "blower_opening": (0.0, 1.0),
    "auxiliary_draught": (0.0, 40.0),
    "feed_water": (0.0, 15.0),
}


def runs(seed, size=SIZE, steps=3):
    """Designs, and schedules that differ from one to the next."""
    rng = np.random.default_rng(seed)
    drawn = {name: rng.uniform(low, high, size) for name, (low, high) in RANGES.items()}
    return drawn | {
        name: rng.uniform(low, high, (steps, size)) for name, (low, high) in PER_STEP_RANGES.items()
    }


def ended(arguments):
    """The boiler at the start and at the end, as the model steps through it."""
    bound = inspect.signature(boiler_run).bind(**arguments)
    bound.apply_defaults()
    with np.errstate(all="ignore"):
        engine, steps, start, sound, _ = set_out(Lap(**bound.arguments))
        boiler = start
        for step in steps:
            boiler = run_step(engine, step, boiler)
    return engine, start, boiler, sound


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_energy_and_mass_close(seed):
    """Fire and feed = water and metal + shell + steam; fed = kept + used + blown off."""
    engine, start, end, sound = ended(runs(seed))
    assert np.all(sound)
    enthalpy, _ = liquid(end.temperature)
    held = end.water * enthalpy + engine.metal * end.temperature
    gone = end.shell_loss + end.steam_heat + end.blown_off_heat
    came = end.heat + end.fed * engine.feed_enthalpy
    np.testing.assert_allclose(held, start.energy + came - gone, rtol=1e-11)
    water = start.water + end.fed - end.steam - end.blown_off
    np.testing.assert_allclose(end.water, water, rtol=1e-12, atol=1e-9)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_a_boiler_stays_within_its_bounds(seed):
    drawn = runs(seed)
    result = boiler_run(**drawn)
    total = drawn["duration"].sum(axis=0)
    wet = np.isfinite(result.lowest_pressure)
    assert (result.lowest_pressure[wet] >= 0.0).all()
    assert (result.lowest_pressure <= drawn["blow_off_pressure"] + 1e-9)[wet].all()
    assert (result.steam_blown_off[wet] >= 0.0).all()
    assert (result.minutes_to_steam[wet] <= total[wet]).all()
    assert (result.minutes_to_low_water <= total + 1e-9).all()
    dry = ~wet
    assert (result.minutes_to_low_water < total)[dry].all()
    most = drawn["weighed_burn_rate"] * (1e3 / 40.0) ** drawn["draught_exponent"]
    assert (result.fuel_burnt <= most * total)[wet].all()


def test_a_design_does_not_depend_on_its_neighbours():
    drawn = runs(3)
    whole = boiler_run(**drawn)
    drawn["deflector_gap"][::3] = -1.0
    drawn["fire_loss"][1::3] = np.nan
    rest = boiler_run(**drawn)
    for field in BoilerRun._fields:
        assert np.isnan(getattr(rest, field)[0::3]).all()
        assert np.isnan(getattr(rest, field)[1::3]).all()
        np.testing.assert_allclose(
            getattr(rest, field)[2::3], getattr(whole, field)[2::3], rtol=1e-9
        )
    for point in (2, 14, 23):
        alone = boiler_run(**{name: values[..., point] for name, values in drawn.items()})
        again = [getattr(rest, field)[point] for field in BoilerRun._fields]
        np.testing.assert_allclose(list(alone), again, rtol=1e-9)


def test_steps_may_come_as_numbers_or_with_a_first_axis():
    one = boiler_run()
    assert all(np.ndim(field) == 0 and np.isfinite(field) for field in one)
    standing = {"revolutions": 0.0, "fire_loss": 0.4}
    whole, twice = (
        boiler_run(duration=np.array(parts), **standing) for parts in ([8.0], [4.0, 4.0])
    )
    assert twice.minutes_to_steam == pytest.approx(whole.minutes_to_steam, rel=2e-3)
    assert twice.water_left == pytest.approx(whole.water_left, abs=0.3)
    spread = boiler_run(**{name: value[:, None] for name, value in STEPS.items()}, fire_loss=0.6)
    again = boiler_run(**STEPS, fire_loss=np.array([0.6, 0.6]))
    assert spread.lowest_pressure.shape == (1,)
    np.testing.assert_allclose(again.lowest_pressure, spread.lowest_pressure[0])
    with pytest.raises(ValueError, match="steps"):
        boiler_run(duration=np.ones(2), revolutions=np.ones(3))


def test_no_fire_and_no_loss_leaves_the_boiler_as_it_is():
    still = boiler_run(fire_loss=1.0, water_temperature_at_start=20.0, revolutions=0.0)
    assert still.water_left == pytest.approx(120.0)
    assert still.lowest_pressure == 0.0
    assert still.minutes_to_steam == 10.0


def test_a_boiler_that_only_cools_follows_newton_s_law():
    """C dT/dt = -k (T - T_a), the metal alone counting for the exponential."""
    engine, _, end, _ = ended(
        {
            "fire_loss": 1.0,
            "revolutions": 0.0,
            "boiler_water": 6.0,
            "boiler_heat_capacity": 1e5,
            "shell_loss_coefficient": 50.0,
            "water_temperature_at_start": 90.0,
            "ambient_temperature": 20.0,
        }
    )
    capacity = 1e5 + 6.0 * 0.965 * 4.2
    expected = 20.0 + 70.0 * np.exp(-50.0 * 600.0 / capacity)
    assert end.temperature == pytest.approx(expected, abs=0.02)
    assert np.isfinite(engine.metal)


def test_a_steady_run_is_the_steam_balance():
    """Blowing off at its pressure, what leaves in all is what a steady boiler makes."""
    common = {"condensation_factor": 2.0, "fire_loss": 0.3}
    run = boiler_run(
        duration=np.array([20.0, 1.0]),
        revolutions=np.array([0.0, 200.0]),
        auxiliary_draught=np.array([40.0, 40.0]),
        boiler_water=400.0,
        blow_off_pressure=3.0,
        blower_steam=0.0,
        **common,
    )
    before = boiler_run(
        duration=20.0,
        revolutions=0.0,
        auxiliary_draught=40.0,
        boiler_water=400.0,
        blow_off_pressure=3.0,
        **common,
    )
    assert run.lowest_pressure == pytest.approx(3.0)
    engine = {"steam_pressure": 3.0, "revolutions": 200.0, "condensation_factor": 2.0}
    draught = smokebox_draught(**engine, blower_steam=0.0, auxiliary_draught=40.0).draught
    burn = follow_the_fire(draught=draught).burn_rate
    heat = firebox_heat(draught=draught, burn_rate=burn, fire_loss=0.3).heat_to_boiler
    hot = float(saturation_temperature(3.0 + 1.01325))
    steady = steam_balance(
        **engine,
        heat_to_boiler=heat,
        shell_loss=0.3 * (hot - 20.0),
        feed_temperature=hot,
        blower_steam=0.0,
    )
    made = 0.9982 * (before.water_left - run.water_left)
    assert made == pytest.approx(steady.steam_made, rel=1e-3)
    assert run.fuel_burnt - before.fuel_burnt == pytest.approx(burn, rel=1e-6)


@pytest.mark.parametrize(
    ("name", "low", "high", "field", "sign"),
    [
        ("fire_loss", 0.55, 0.65, "lowest_pressure", -1.0),
        ("fire_loss", 0.55, 0.65, "minutes_to_steam", 1.0),
        ("condensation_factor", 3.2, 4.0, "lowest_pressure", -1.0),
        ("condensation_factor", 3.2, 4.0, "water_left", -1.0),
        ("exhaust_draught_factor", 4.0, 10.0, "lowest_pressure", 1.0),
        ("weighed_burn_rate", 2.2, 2.8, "lowest_pressure", 1.0),
        ("weighed_burn_rate", 2.2, 2.8, "fuel_burnt", 1.0),
        ("boiler_water", 100.0, 140.0, "minutes_to_steam", 1.0),
        ("boiler_heat_capacity", 100.0, 200.0, "minutes_to_steam", 1.0),
        ("shell_loss_coefficient", 0.2, 0.5, "lowest_pressure", -1.0),
        ("water_temperature_at_start", 10.0, 80.0, "minutes_to_steam", -1.0),
    ],
)
def test_signs(name, low, high, field, sign):
    held = {**STEPS, "blower_steam": 2.8, "fire_loss": 0.62, "condensation_factor": 3.2}
    result = getattr(boiler_run(**{**held, name: np.linspace(low, high, 9)}), field)
    assert (sign * np.diff(result) > 0.0).all()


def test_cold_feed_water_fills_the_boiler_and_draws_the_pressure_down():
    dry = boiler_run(**STEPS, fire_loss=0.6)
    fed = boiler_run(**STEPS, fire_loss=0.6, feed_water=np.array([0.0, 0.0, 12.0, 12.0]))
    # At its lower pressure the engine takes less steam.
    assert dry.water_left + 48.0 < fed.water_left < dry.water_left + 60.0
    assert fed.lowest_pressure < dry.lowest_pressure - 0.5


def test_a_boiler_run_dry_says_when_and_no_more():
    low = boiler_run(**STEPS, boiler_water=np.array([60.0, 200.0]), fire_loss=0.4)
    assert low.minutes_to_low_water[0] < 11.5
    assert low.minutes_to_low_water[1] == 11.5
    for field in ("lowest_pressure", "water_left", "steam_blown_off", "fuel_burnt"):
        np.testing.assert_array_equal(np.isnan(getattr(low, field)), [True, False])
    assert low.minutes_to_steam[0] < low.minutes_to_low_water[0]


def test_a_fire_without_air_is_out_and_lights_again():
    """With a burn that is held, a calm smokebox brings a tight firebox no air."""
    out = boiler_run(
        duration=np.array([3.0, 6.0]),
        auxiliary_draught=np.array([0.0, 30.0]),
        revolutions=0.0,
        draught_exponent=0.0,
    )
    lit = boiler_run(duration=6.0, auxiliary_draught=30.0, revolutions=0.0, draught_exponent=0.0)
    assert out.fuel_burnt == pytest.approx(18.0)
    assert out.minutes_to_steam == pytest.approx(3.0 + lit.minutes_to_steam, abs=0.01)


def test_turbulent_gas_has_no_answer():
    few = boiler_run(duration=2.0, tube_count=1.0, tube_bore=5.0, auxiliary_draught=4000.0)
    assert all(np.isnan(field) for field in few)


BAD = [
    {"duration": -1.0},
    {"revolutions": -1.0},
    {"blower_opening": 1.5},
    {"auxiliary_draught": -1.0},
    {"feed_water": -1.0},
    {"deflector_gap": 60.0},
    {"fire_loss": 1.1},
    {"weighed_burn_rate": 0.0},
    {"stated_draught": 0.0},
    {"draught_exponent": -0.1},
    {"condensation_factor": 0.0},
    {"steam_pressure": 8.0},
    {"blower_steam": -1.0},
    {"exhaust_draught_factor": -1.0},
    {"blower_draught_factor": -1.0},
    {"boiler_water": 0.0},
    {"water_temperature_at_start": 120.0},
    {"feed_temperature": -1.0},
    {"boiler_heat_capacity": -1.0},
    {"shell_loss_coefficient": -0.1},
    {"blow_off_pressure": 8.0},
    {"steam_raised": -1.0},
    {"ambient_temperature": 90.0},
    {"fuel_water": np.nan},
]


@pytest.mark.parametrize("bad", BAD, ids=str)
def test_no_answer_outside_the_ranges(bad):
    assert all(np.isnan(field) for field in boiler_run(**bad))


def test_trace_runs_from_the_start_to_the_end_of_the_schedule():
    trace = boiler_run_trace(**STEPS, fire_loss=0.6)
    result = boiler_run(**STEPS, fire_loss=0.6)
    assert trace.minutes[0] == 0.0
    assert trace.minutes[-1] == pytest.approx(11.5)
    assert (np.diff(trace.minutes) > 0.0).all()
    running = trace.minutes >= 7.5 - 1e-9
    assert trace.pressure[running].min() == pytest.approx(result.lowest_pressure, abs=1e-9)
    assert trace.pressure.max() <= 4.0 + 1e-9
    crossing = np.interp(
        2.0, trace.pressure[trace.minutes < 7.5], trace.minutes[trace.minutes < 7.5]
    )
    assert crossing == pytest.approx(result.minutes_to_steam, abs=0.05)
    assert boiler_run_trace(deflector_gap=-1.0).minutes.size == 0


def test_gauge_pressure_is_the_inverse_of_the_saturation_temperature():
    bar = np.linspace(0.0, 6.9, 50)
    np.testing.assert_allclose(gauge(saturation_temperature(bar + 1.01325)), bar, atol=1e-9)
    assert gauge(20.0) == 0.0
