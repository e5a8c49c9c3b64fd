"""Heat from the fire: balances, signs, limits, and a root search that keeps points apart."""

from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.optimize import brentq

from models import firebox_heat as module
from models import fuel, gas
from models.draught import drawn_air, pressure_drops
from models.fire import burnt_fraction, fire_at
from models.firebox import LAMINAR_LIMIT, LEAST_AIR_RATIO
from models.firebox_heat import FireboxHeat, firebox_heat
from models.heat_exchange import parallel_rectangles

RANGES = {
    "deflector_gap": (1.0, 15.0),
    "deflector_length": (10.0, 60.0),
    "firebox_width": (20.0, 80.0),
    "firebox_height": (25.0, 80.0),
    "tube_count": (2.0, 20.0),
    "tube_bore": (5.0, 12.0),
    "tube_length": (60.0, 300.0),
    "air_inlet_area": (40.0, 600.0),
    "bypass_area": (0.0, 80.0),
    "burn_rate": (0.5, 8.0),
    "fuel_water": (0.0, 0.15),
    "fuel_temperature": (0.0, 60.0),
    "draught": (5.0, 300.0),
    "ambient_temperature": (-20.0, 45.0),
    "steam_pressure": (0.0, 6.9),
    "discharge_coefficient": (0.55, 0.8),
    "unmixedness": (0.0, 0.6),
    "deflector_emissivity": (0.0, 1.0),
    "flame_film_coefficient": (5.0, 100.0),
    "heat_transfer_factor": (0.5, 1.6),
    "gas_radiation_factor": (0.0, 2.0),
    "fire_loss": (0.0, 0.95),
}
PROTOTYPE = firebox_heat.__defaults__
NAMES = list(RANGES)


def spread(unit, ranges):
    return {
        name: low + (high - low) * row
        for (name, (low, high)), row in zip(ranges.items(), unit, strict=True)
    }


def fireboxes(ranges, size=48):
    """Arrays of designs, every input varying."""
    unit = arrays(float, (len(ranges), size), elements=st.floats(0.0, 1.0), fill=st.nothing())
    seed = st.integers(0, 2**32 - 1).map(
        lambda number: np.random.default_rng(number).random((len(ranges), size))
    )
    return st.one_of(seed, unit).map(lambda drawn: spread(drawn, ranges))


NEAR = {name: (value * 0.8, value * 1.2) for name, value in zip(NAMES, PROTOTYPE, strict=True)} | {
    "tube_count": (7.0, 7.0)
}


def settled(design):
    """The model's result, and what its search ended with: firebox, draught, air, fire."""
    kept = {}

    def watched(box, draught):
        kept["found"] = (box, draught, *real(box, draught))
        return kept["found"][2:]

    real = module.settle
    with patch.object(module, "settle", watched):
        result = firebox_heat(**design)
    return result, *kept["found"]


@settings(max_examples=15, deadline=None)
@given(fireboxes(RANGES))
def test_energy_closes(design):
    """Released = firebox + tubes + lost + smokebox gas above its air, from the results alone.

    What leaves unburnt is vapour above the liquid it was, and counts there.
    """
    result = firebox_heat(**design)
    sound = np.isfinite(result.heat_to_boiler)
    burning = (
        design["burn_rate"]
        * 1e-6
        / 60.0
        * fuel.density(design["fuel_temperature"], design["fuel_water"])
    )
    needed = fuel.stoichiometric_air(design["fuel_water"])
    heat_of_fuel = burning * 1e6 * fuel.lower_heating_value(design["fuel_water"])
    released = result.burnt_fraction * heat_of_fuel
    air = (
        result.air_ratio
        * burning
        * needed
        * (1.0 + design["bypass_area"] / design["air_inlet_area"])
    )
    products = burning * (1.0 + result.burnt_fraction * needed) / (burning + air)
    unburnt = burning * (1.0 - result.burnt_fraction) / (burning + air)
    leaving = (burning + air) * gas.enthalpy(
        result.smokebox_temperature + 273.15, products, unburnt
    )
    entering = air * gas.enthalpy(design["ambient_temperature"] + 273.15, 0.0)
    balance = released + entering - result.heat_to_boiler - result.heat_lost - leaving
    assert (np.abs(balance[sound]) <= 1e-9 * heat_of_fuel[sound]).all()
    np.testing.assert_allclose(result.heat_to_boiler, result.heat_firebox + result.heat_tubes)
    np.testing.assert_allclose(result.efficiency, 100.0 * result.heat_to_boiler / heat_of_fuel)


@settings(max_examples=12, deadline=None)
@given(fireboxes(RANGES))
def test_air_balance_closes(design):
    """The drops, written out from the dimensions, add up to the draught; mass is conserved."""
    result, box, draught, air, fire, agreed = settled(design)
    sound = np.isfinite(result.heat_to_boiler)
    assume(sound.any())
    assert (agreed | ~sound).all()
    np.testing.assert_array_equal(draught, design["draught"])

    burning, state = box.way.fuel, fire.gas
    cold = gas.density(design["ambient_temperature"] + 273.15, 0.0)
    openings = 1e-6 * (design["air_inlet_area"] + design["bypass_area"])
    bypass = air * 1e-6 * design["bypass_area"] / openings
    hot = air - bypass + burning
    c, gap, width = (
        design["discharge_coefficient"],
        *(1e-3 * design[name] for name in ("deflector_gap", "firebox_width")),
    )
    bore, length = 1e-3 * design["tube_bore"], 1e-3 * design["tube_length"]
    inlet = air**2 / (2.0 * cold * (c * openings) ** 2)
    turn = (hot / np.sqrt(state.gap_density) + bypass / np.sqrt(cold)) ** 2
    turn = turn / (2.0 * (c * gap * width) ** 2)
    volume = hot / state.passage_density + bypass / cold
    passage = 12.0 * state.passage_viscosity * 1e-3 * design["deflector_length"] * volume
    passage = passage / (gap**3 * width)
    speed = (air + burning) / (state.tube_density * np.pi / 4.0 * bore**2 * design["tube_count"])
    reynolds = state.tube_density * speed * bore / state.tube_viscosity
    tubes = 0.5 * state.tube_density * speed**2 * (64.0 / reynolds * length / bore + 2.3)
    total = inlet + turn + passage + tubes
    assert (np.abs(total - draught)[sound] <= 1e-9 * draught[sound]).all()
    needed = burning * fuel.stoichiometric_air(design["fuel_water"])
    np.testing.assert_allclose(result.air_ratio[sound], ((air - bypass) / needed)[sound])


def test_search_finds_the_root_of_a_general_root_finder():
    design = spread(np.random.default_rng(7).random((len(RANGES), 12)), RANGES)
    result, _, draught, air, _, _ = settled(design)
    sound = np.isfinite(result.heat_to_boiler)
    assert sound.sum() > 5
    for point in np.flatnonzero(sound):
        one = firebox_of({name: float(values[point]) for name, values in design.items()})

        def missing(flow, one=one, point=point):
            drops = pressure_drops(one.way, fire_at(one, flow).gas, flow)
            return sum(drops) - draught[point]

        found = brentq(missing, 0.2 * air[point], 3.0 * air[point], xtol=1e-16, rtol=1e-13)
        assert air[point] == pytest.approx(found, rel=1e-9)


def firebox_of(design):
    return settled(design)[1]


def test_drops_rise_with_the_flow():
    """The search needs one root: the sum of the drops, fire and all, rises with the air."""
    design = spread(np.random.default_rng(8).random((len(RANGES), 200)), RANGES)
    box = firebox_of(design)
    needed = box.way.fuel * box.stoichiometric
    total = []
    with np.errstate(all="ignore"):
        for ratio in np.geomspace(0.1, 5.0, 60):
            air = ratio * needed / box.way.primary_share
            total.append(sum(pressure_drops(box.way, fire_at(box, air).gas, air)))
    assert (np.diff(total, axis=0) > 0.0).all()


def test_every_sound_design_is_answered():
    """NaN only for a gap above the crown, too little air, or a turbulent way."""
    design = spread(np.random.default_rng(9).random((len(RANGES), 3000)), RANGES)
    result, box, draught, air, fire, _ = settled(design)
    lost = np.isnan(result.heat_to_boiler)
    assert lost.any()
    assert not lost.all()
    least = LEAST_AIR_RATIO * box.way.fuel * box.stoichiometric / box.way.primary_share
    starved = drawn_air(box.way, fire_at(box, least).gas, draught) < least
    turbulent = module.reynolds_number(box.way, fire.gas, air) > LAMINAR_LIMIT
    assert (starved | turbulent)[lost].all()
    assert not (starved & ~lost).any()


def test_a_point_does_not_depend_on_its_neighbours():
    design = spread(np.random.default_rng(3).random((len(RANGES), 64)), RANGES)
    whole = firebox_heat(**design)
    design["deflector_gap"][::3] = -1.0
    design["draught"][1::3] = np.nan
    design["tube_bore"][2] = 0.0
    rest = firebox_heat(**design)
    left = np.arange(64)[5::3]
    for field in FireboxHeat._fields:
        # Equal but for the last digits that vector and scalar loops of exp and log part in.
        np.testing.assert_allclose(
            getattr(rest, field)[left], getattr(whole, field)[left], rtol=1e-12
        )
        assert np.isnan(getattr(rest, field)[[0, 1, 2, 3, 4]]).all()
    for point in (0, 17, 63):
        alone = firebox_heat(**{name: float(values[point]) for name, values in design.items()})
        again = [getattr(rest, field)[point] for field in FireboxHeat._fields]
        np.testing.assert_allclose(list(alone), again, rtol=1e-12)


def test_numbers_stay_numbers_and_arrays_broadcast():
    result = firebox_heat()
    assert all(isinstance(field, float) for field in result)
    gaps, draughts = np.array([[3.0], [5.0], [7.0]]), np.array([30.0, 40.0])
    grid = firebox_heat(deflector_gap=gaps, draught=draughts)
    assert all(field.shape == (3, 2) for field in grid)
    assert grid.heat_to_boiler[1, 1] == pytest.approx(result.heat_to_boiler, rel=1e-12)


BAD = [
    {"deflector_gap": 0.0},
    {"deflector_gap": -2.0},
    {"deflector_gap": 45.0},
    {"deflector_gap": 60.0},
    {"deflector_gap": 0.05},
    {"deflector_length": 0.0},
    {"firebox_width": 0.0},
    {"firebox_height": 0.0},
    {"tube_count": 0.0},
    {"tube_bore": 0.0},
    {"tube_bore": -8.5},
    {"tube_length": 0.0},
    {"air_inlet_area": 0.0},
    {"bypass_area": -1.0},
    {"burn_rate": 0.0},
    {"fuel_water": 0.2},
    {"fuel_water": -0.01},
    {"fuel_temperature": 80.0},
    {"draught": 0.0},
    {"draught": -40.0},
    {"ambient_temperature": -60.0},
    {"steam_pressure": -0.5},
    {"steam_pressure": 12.0},
    {"discharge_coefficient": 0.0},
    {"discharge_coefficient": 1.1},
    {"unmixedness": -0.1},
    {"deflector_emissivity": -0.1},
    {"deflector_emissivity": 1.1},
    {"flame_film_coefficient": 0.0},
    {"heat_transfer_factor": 0.0},
    {"gas_radiation_factor": -1.0},
    {"fire_loss": -0.1},
    {"fire_loss": 1.1},
    {"tube_count": 1.0, "tube_bore": 5.0, "draught": 4000.0},  # Re above 2300
    {"draught": np.inf},
    {"deflector_gap": np.nan},
]


@pytest.mark.parametrize("bad", BAD, ids=str)
def test_no_answer_is_nan_without_a_warning(bad):
    """A gap of nothing or above the crown, no draught, no bore and the like."""
    alone = firebox_heat(**bad)
    assert all(np.isnan(field) for field in alone)
    name, value = next(iter(bad.items()))
    others = {key: held for key, held in bad.items() if key != name}
    among = firebox_heat(**others, **{name: np.array([PROTOTYPE[NAMES.index(name)], value])})
    assert all(np.isnan(field[1]) for field in among)
    if not others:
        assert all(np.isfinite(field[0]) for field in among)


# Signs near the prototype: common practice, no source.


def changed(design, name, factor):
    return firebox_heat(**design), firebox_heat(**{**design, name: factor * design[name]})


@settings(max_examples=10, deadline=None)
@given(fireboxes(NEAR))
def test_more_draught_brings_more_air_and_a_redder_plate_where_air_is_short(design):
    """Common practice, no source. At a burn rate that is held, air to spare only cools."""
    design["deflector_gap"] = 0.6 * design["deflector_gap"]
    calm, strong = changed(design, "draught", 1.1)
    assert (strong.air_ratio > calm.air_ratio).all()
    short = calm.air_ratio < 0.85
    assume(short.any())
    assert (strong.deflector_temperature > calm.deflector_temperature)[short].all()
    assert (strong.heat_to_boiler > calm.heat_to_boiler)[short].all()


def test_a_plate_is_reddest_near_just_enough_air():
    """What the model holds against the sign above: beyond enough air the plate cools."""
    result = firebox_heat(draught=np.linspace(10.0, 120.0, 111))
    reddest = np.argmax(result.deflector_temperature)
    assert 1.0 < result.air_ratio[reddest] < 1.2
    # Dull red by the handbooks of heat colours is 900 to 1000 K.
    assert 900.0 < result.deflector_temperature[reddest] + 273.15 < 1000.0


@settings(max_examples=10, deadline=None)
@given(fireboxes(NEAR))
def test_more_bypass_air_gives_less_heat(design):
    """Common practice, no source."""
    tight, leaky = changed(design, "bypass_area", 3.0)
    assert (leaky.heat_to_boiler < tight.heat_to_boiler).all()
    assert (leaky.air_ratio < tight.air_ratio).all()


@settings(max_examples=10, deadline=None)
@given(fireboxes(NEAR))
def test_small_gap_starves_and_wide_gap_sends_heat_to_the_smokebox(design):
    """Common practice, no source."""
    design["deflector_gap"] = np.full(48, 2.0)
    small, middle = changed(design, "deflector_gap", 2.5)
    assert (small.air_ratio < middle.air_ratio).all()
    assert (small.burnt_fraction < middle.burnt_fraction).all()
    wide = firebox_heat(**{**design, "deflector_gap": np.full(48, 10.0)})
    assert (wide.smokebox_temperature > middle.smokebox_temperature).all()
    # Where 5 mm still starve the fire, its walls gain by the air that more gap brings.
    fed = middle.air_ratio > 0.9
    assert (wide.heat_firebox < middle.heat_firebox)[fed].all()


def test_heat_has_a_peak_inside_the_range_of_gaps():
    """Common practice, no source: about 5 mm on the prototype. The place is the model's own."""
    gaps = np.linspace(1.5, 12.0, 106)
    heat = firebox_heat(deflector_gap=gaps).heat_to_boiler
    best = np.argmax(heat)
    assert 3.0 < gaps[best] < 8.0
    assert (np.diff(heat[: best + 1]) > 0.0).all()
    assert (np.diff(heat[best:]) < 0.0).all()


@pytest.mark.parametrize(
    ("name", "field", "sign"),
    [
        ("deflector_emissivity", "deflector_temperature", -1.0),
        ("deflector_emissivity", "heat_firebox", 1.0),
        ("flame_film_coefficient", "heat_firebox", 1.0),
        ("heat_transfer_factor", "heat_to_boiler", 1.0),
        ("gas_radiation_factor", "heat_firebox", 1.0),
        ("tube_length", "smokebox_temperature", -1.0),
        ("burn_rate", "heat_to_boiler", 1.0),
        ("burn_rate", "air_ratio", -1.0),
        ("fuel_water", "heat_to_boiler", -1.0),
        ("steam_pressure", "efficiency", -1.0),
        ("unmixedness", "burnt_fraction", -1.0),
        ("discharge_coefficient", "air_ratio", 1.0),
        ("air_inlet_area", "air_ratio", 1.0),
    ],
)
def test_other_signs(name, field, sign):
    low, high = NEAR[name]
    result = getattr(firebox_heat(**{name: np.linspace(low, high, 25)}), field)
    assert (sign * np.diff(result) > 0.0).all()


# Limits.


def test_gas_leaves_long_tubes_at_the_boiler_s_temperature():
    long = firebox_heat(tube_length=5000.0, draught=400.0, deflector_gap=10.0)
    assert long.smokebox_temperature == pytest.approx(143.8, abs=0.2)  # IAPWS-95 at 4.013 bar


def test_a_firebox_that_takes_nothing_leaves_all_to_the_tubes():
    """No film, no radiation, no plate: dissociation must not lose heat on the way either."""
    bare = firebox_heat(
        flame_film_coefficient=1e-6,
        gas_radiation_factor=0.0,
        deflector_length=1e-5,
        fire_loss=0.0,
    )
    assert bare.heat_firebox == pytest.approx(0.0, abs=0.05)
    assert bare.heat_tubes > 400.0


def test_a_plate_that_does_not_radiate_is_as_hot_as_its_gas():
    dull = firebox_heat(deflector_emissivity=0.0)
    assert 950.0 < dull.deflector_temperature < 1500.0
    assert np.isfinite(dull.heat_to_boiler)


def test_burnt_fraction_of_an_even_mixture_is_what_air_allows():
    ratio = np.array([0.1, 0.7, 0.99, 1.01, 3.0])
    np.testing.assert_allclose(burnt_fraction(ratio, 0.0), np.minimum(ratio, 1.0), rtol=1e-12)
    assert burnt_fraction(1.0, 0.0) == pytest.approx(1.0, abs=1e-8)


@settings(max_examples=30, deadline=None)
@given(
    arrays(float, 20, elements=st.floats(0.02, 20.0)),
    arrays(float, 20, elements=st.floats(0.0, 2.0)),
)
def test_burnt_fraction_is_bounded(ratio, unmixedness):
    burnt = burnt_fraction(ratio, unmixedness)
    assert (burnt >= 0.0).all()
    assert (burnt <= np.minimum(ratio, 1.0) * (1.0 + 1e-9)).all()


# What does not reach the water.


def test_no_fire_loss_is_the_computed_heat_and_a_loss_takes_its_share_of_each_part():
    computed, halved = firebox_heat(fire_loss=0.0), firebox_heat(fire_loss=0.5)
    for part in ("heat_to_boiler", "heat_firebox", "heat_tubes", "efficiency"):
        assert getattr(halved, part) == pytest.approx(0.5 * getattr(computed, part), rel=1e-12)
    for state in ("deflector_temperature", "smokebox_temperature", "air_ratio", "burnt_fraction"):
        assert getattr(halved, state) == getattr(computed, state)
    assert halved.heat_lost - computed.heat_lost == pytest.approx(halved.heat_to_boiler)


@settings(max_examples=10, deadline=None)
@given(fireboxes(NEAR))
def test_with_no_loss_only_what_the_floor_takes_is_lost(design):
    design["fire_loss"] = 0.0
    result = firebox_heat(**design)
    assert (result.heat_lost > 0.0).all()
    assert (result.heat_lost < 0.03 * result.heat_to_boiler).all()
    design["deflector_emissivity"] = 0.0
    np.testing.assert_array_equal(firebox_heat(**design).heat_lost, 0.0)


@settings(max_examples=30, deadline=None)
@given(st.floats(0.01, 10.0), st.floats(0.01, 10.0))
def test_rectangles_see_each_other_alike_and_wholly_when_they_touch(length, width):
    distances = np.geomspace(1e-4, 100.0, 60)
    share = parallel_rectangles(length, width, distances)
    turned = parallel_rectangles(width, length, distances)
    np.testing.assert_allclose(share, turned, rtol=1e-9, atol=1e-12)
    assert (np.diff(share) < 0.0).all()
    assert 1.0 - 0.5 * 1e-4 * (length + width) / (length * width) * 3.0 < share[0] < 1.0
    # Far apart: A cos^2/(pi d^2).
    assert share[-1] == pytest.approx(length * width / (np.pi * 1e4), rel=0.02)


# The inverse functions of the gas, whose docstrings promise how near they come.


def test_temperature_is_the_inverse_of_enthalpy():
    kelvin = np.linspace(230.0, 2400.0, 200)
    for products in (0.0, 0.3, 0.7, 1.0):
        found = gas.temperature_of(gas.enthalpy(kelvin, products), products)
        np.testing.assert_allclose(found, kelvin, rtol=0.0, atol=2e-3)
        for vapour in (0.1 * products, 0.9 * products):
            held = gas.enthalpy(kelvin, products, vapour)
            found = gas.temperature_of(held, products, vapour)
            np.testing.assert_allclose(found, kelvin, rtol=0.0, atol=0.15)


def test_enthalpy_is_the_integral_of_heat_capacity():
    node, weight = np.polynomial.legendre.leggauss(6)
    for kelvin in (250.0, 800.0, 2200.0):
        half = 0.5 * (kelvin - gas.REFERENCE_TEMPERATURE)
        points = gas.REFERENCE_TEMPERATURE + half * (node + 1.0)
        integral = half * (weight * gas.heat_capacity(points, 0.6)).sum()
        assert gas.enthalpy(kelvin, 0.6) == pytest.approx(integral, rel=1e-12)


def test_dissociation_is_undone():
    complete = np.linspace(400.0, 2300.0, 100)
    real = gas.dissociated(complete)
    np.testing.assert_allclose(real + gas.dissociation(real), complete, rtol=0.0, atol=1e-8)
    assert (np.diff(real) > 0.0).all()
