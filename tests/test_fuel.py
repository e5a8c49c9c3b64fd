"""Invariants of the fuel properties: limits, signs, shapes."""

import inspect

import hypothesis.extra.numpy as arrays
import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given, settings

from models import fuel, ranges

RANGES = {
    "temperature": ranges.FUEL_TEMPERATURE,
    "water": ranges.FUEL_WATER,
    "methanol": ranges.FUEL_METHANOL,
}
FUNCTIONS = [
    fuel.density,
    fuel.viscosity,
    fuel.surface_tension,
    fuel.vapour_pressure,
    fuel.vapour_pressure_slope,
    fuel.lower_heating_value,
    fuel.stoichiometric_air,
]
EACH_ARGUMENT = [(one, name) for one in FUNCTIONS for name in inspect.signature(one).parameters]
POSITIONAL = {
    "density": ["temperature", "water"],
    "viscosity": ["temperature", "water", "methanol"],
    "surface_tension": ["temperature", "water"],
    "vapour_pressure": ["temperature", "methanol"],
    "vapour_pressure_slope": ["temperature", "methanol"],
    "lower_heating_value": ["water"],
    "stoichiometric_air": ["water"],
}
ANY_NUMBER = arrays.arrays(float, 40, elements=st.floats(width=64))


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda one: one.__name__)
def test_order_of_arguments(function):
    assert list(inspect.signature(function).parameters) == POSITIONAL[function.__name__]


@pytest.mark.parametrize(("function", "argument"), EACH_ARGUMENT)
def test_answer_inside_the_range_and_none_outside(function, argument):
    low, high = RANGES[argument]
    inside = np.array([low, 0.5 * (low + high), high])
    outside = np.array(
        [np.nextafter(low, -1.0), np.nextafter(high, 99.0), -1e308, 1e308, np.inf, -np.inf, np.nan]
    )
    assert (function(**{argument: inside}) > 0.0).all()
    assert np.isnan(function(**{argument: outside})).all()
    for value in outside:
        assert np.isnan(function(**{argument: float(value)}))


@pytest.mark.parametrize(("function", "argument"), EACH_ARGUMENT)
@settings(max_examples=10, deadline=None, derandomize=True)
@given(values=ANY_NUMBER)
def test_a_bad_sample_spoils_no_other(function, argument, values):
    low, high = RANGES[argument]
    good = np.linspace(low, high, values.size)
    mixed = np.where(np.arange(values.size) % 2 == 0, good, values)
    result, alone = function(**{argument: mixed}), function(**{argument: good})
    np.testing.assert_array_equal(result[::2], alone[::2])
    np.testing.assert_array_equal(np.isnan(result), ~((mixed >= low) & (mixed <= high)))


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda one: one.__name__)
def test_broadcasts_and_leaves_numbers_alone(function):
    names = list(inspect.signature(function).parameters)
    shapes = [(7, 1, 1), (5, 1), (3,)][: len(names)]
    inputs = {
        name: np.linspace(*RANGES[name], int(np.prod(shape))).reshape(shape)
        for name, shape in zip(names, shapes, strict=True)
    }
    result = function(**inputs)
    assert result.shape == np.broadcast_shapes(*shapes)
    last = function(**{name: float(values.flat[-1]) for name, values in inputs.items()})
    assert isinstance(last, float)
    assert last == pytest.approx(result.flat[-1], rel=1e-14)


def test_slope_is_the_derivative():
    celsius, step = np.linspace(0.5, 59.5, 60), 1e-3
    for methanol in (0.0, 0.04, 0.1):
        rise = fuel.vapour_pressure(celsius + step, methanol) - fuel.vapour_pressure(
            celsius - step, methanol
        )
        slope = fuel.vapour_pressure_slope(celsius, methanol)
        np.testing.assert_allclose(slope, rise / (2.0 * step), rtol=1e-7)


@pytest.mark.parametrize(
    ("function", "argument", "sign"),
    [
        (fuel.density, "temperature", -1),
        (fuel.density, "water", 1),
        (fuel.viscosity, "temperature", -1),
        (fuel.viscosity, "water", 1),
        (fuel.viscosity, "methanol", -1),
        (fuel.surface_tension, "temperature", -1),
        (fuel.surface_tension, "water", 1),
        (fuel.vapour_pressure, "temperature", 1),
        (fuel.vapour_pressure, "methanol", 1),
        (fuel.vapour_pressure_slope, "temperature", 1),
        (fuel.lower_heating_value, "water", -1),
        (fuel.stoichiometric_air, "water", -1),
    ],
)
def test_sign(function, argument, sign):
    others = [name for name in inspect.signature(function).parameters if name != argument]
    for share in (0.0, 0.5, 1.0):
        held = {name: RANGES[name][0] + share * np.ptp(RANGES[name]) for name in others}
        change = np.diff(function(**held, **{argument: np.linspace(*RANGES[argument], 100)}))
        assert (sign * change > 0.0).all()


def test_mole_fraction_of_methanol():
    assert fuel.methanol_mole_fraction(0.1) == pytest.approx(0.138, abs=0.0005)
    assert fuel.methanol_mole_fraction(0.0) == 0.0
