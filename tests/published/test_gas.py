"""Burnt gas against Cantera: NASA's polynomials for heat, GRI-Mech 3.0 data for transport.

Each tolerance is what the function's own docstring states.
"""

import cantera as ct
import numpy as np
import pytest
from scipy.optimize import brentq

from models import fuel, gas

ATMOSPHERE = 101_325.0
KELVIN = np.arange(300.0, 2301.0, 50.0)
AIR_21_79 = {"O2": 0.21, "N2": 0.79}
DRY_AIR = {"O2": 0.20946, "N2": 0.78120, "Ar": 0.00934}
HEAT_OF_EVAPORATION = {"C2H5OH": 42.32e6, "H2O": 43.99e6}  # J/kmol at 25 degC, CoolProp


def ideal_gas(names):
    known = {species.name: species for species in ct.Species.list_from_file("nasa_gas.yaml")}
    return ct.Solution(thermo="ideal-gas", species=[known[name] for name in names])


THERMO = ideal_gas(["O2", "N2", "Ar", "CO2", "H2O", "C2H5OH", "CO", "H2", "OH", "O", "H", "NO"])
TRANSPORT = ct.Solution("gri30.yaml")
TRANSPORT.transport_model = "mixture-averaged"


def burnt(air_ratio, air, water=0.0):
    """Moles of complete products of one mole of ethanol, with the fuel's own water."""
    moles = {name: 3.0 * air_ratio * share / air["O2"] for name, share in air.items()}
    moles["O2"] -= 3.0
    moles["CO2"] = 2.0
    moles["H2O"] = 3.0 + moles_of_water(water)
    return moles


def moles_of_water(water):
    return water / (1.0 - water) * 46.069 / 18.015


def products(air_ratio, air_needed=8.946):
    return (1.0 + air_needed) / (1.0 + air_ratio * air_needed)


def along(solution, composition, quantity):
    values = []
    for kelvin in KELVIN:
        solution.TPX = kelvin, ATMOSPHERE, composition
        values.append(getattr(solution, quantity))
    return np.array(values)


MIXTURES = pytest.mark.parametrize(
    ("composition", "fraction"),
    [
        (AIR_21_79, 0.0),
        *((burnt(ratio, AIR_21_79), products(ratio)) for ratio in (1.0, 1.2, 1.5, 2.0, 3.0)),
    ],
    ids=["air", "1", "1.2", "1.5", "2", "3"],
)


@MIXTURES
def test_heat_capacity(composition, fraction):
    expected = along(THERMO, composition, "cp_mass")
    np.testing.assert_allclose(gas.heat_capacity(KELVIN, fraction), expected, rtol=7.5e-3)


@MIXTURES
def test_enthalpy(composition, fraction):
    THERMO.TPX = gas.REFERENCE_TEMPERATURE, ATMOSPHERE, composition
    zero = THERMO.enthalpy_mass
    expected = along(THERMO, composition, "enthalpy_mass") - zero
    warm = KELVIN >= 400.0
    computed = gas.enthalpy(KELVIN, fraction)
    np.testing.assert_allclose(computed[warm], expected[warm], rtol=4e-3)


@MIXTURES
def test_viscosity(composition, fraction):
    expected = along(TRANSPORT, composition, "viscosity")
    np.testing.assert_allclose(gas.viscosity(KELVIN, fraction), expected, rtol=1.2e-2)


@MIXTURES
def test_conductivity(composition, fraction):
    expected = along(TRANSPORT, composition, "thermal_conductivity")
    np.testing.assert_allclose(gas.conductivity(KELVIN, fraction), expected, rtol=1.7e-2)


@MIXTURES
def test_density(composition, fraction):
    expected = along(THERMO, composition, "density")
    np.testing.assert_allclose(gas.density(KELVIN, fraction), expected, rtol=4.1e-3)


def test_dry_air_of_a_cold_day():
    THERMO.TPX = 253.15, ATMOSPHERE, DRY_AIR
    assert gas.density(253.15, 0.0) == pytest.approx(THERMO.density, rel=3e-4)
    cold = THERMO.enthalpy_mass
    THERMO.TPX = gas.REFERENCE_TEMPERATURE, ATMOSPHERE, DRY_AIR
    assert gas.enthalpy(253.15, 0.0) == pytest.approx(cold - THERMO.enthalpy_mass, rel=1.5e-2)


@pytest.mark.parametrize("air_ratio", [1.0, 1.5, 2.0, 3.0])
def test_gases_that_radiate(air_ratio):
    moles = burnt(air_ratio, AIR_21_79)
    expected = (moles["CO2"] + moles["H2O"]) / sum(moles.values())
    fraction = gas.radiating_fraction(products(air_ratio))
    assert fraction == pytest.approx(expected, rel=5e-3)


def molar_enthalpy(kelvin, composition):
    THERMO.TPX = kelvin, ATMOSPHERE, composition
    return THERMO.enthalpy_mole


def flame(air_ratio, water, air_kelvin):
    """Adiabatic temperatures (complete, equilibrium) of liquid fuel at 25 degC in dry air."""
    wet = moles_of_water(water)
    given = molar_enthalpy(298.15, {"C2H5OH": 1.0}) - HEAT_OF_EVAPORATION["C2H5OH"]
    given += wet * (molar_enthalpy(298.15, {"H2O": 1.0}) - HEAT_OF_EVAPORATION["H2O"])
    given += 3.0 * air_ratio / DRY_AIR["O2"] * molar_enthalpy(air_kelvin, DRY_AIR)
    made = burnt(air_ratio, DRY_AIR, water)
    moles = sum(made.values())
    complete = brentq(lambda kelvin: moles * molar_enthalpy(kelvin, made) - given, 500.0, 3000.0)
    THERMO.TPX = complete, ATMOSPHERE, made
    THERMO.equilibrate("HP")
    return complete, THERMO.T


@pytest.mark.parametrize("air_kelvin", [273.15, 298.15, 313.15])
@pytest.mark.parametrize("water", [0.0, 0.05, 0.10, 0.15])
def test_flame_of_wet_fuel_in_real_air(water, air_kelvin):
    """The chain of `fire.fire_at`: heat of the fuel, its air, the inverse, dissociation."""
    needed = fuel.stoichiometric_air(water)
    for air_ratio in (1.001, 1.05, 1.1, 1.2, 1.5, 2.0, 3.0):
        air = air_ratio * needed
        heat = 1e6 * fuel.lower_heating_value(water) + air * gas.enthalpy(air_kelvin, 0.0)
        complete = gas.temperature_of(heat / (1.0 + air), (1.0 + needed) / (1.0 + air))
        expected, equilibrium = flame(air_ratio, water, air_kelvin)
        assert complete == pytest.approx(expected, abs=13.0)
        near = 20.0 if air_ratio < 1.2 else 11.0
        assert gas.dissociated(complete) == pytest.approx(equilibrium, abs=near)


def test_flame_without_dissociation_is_too_hot():
    """Dissociation has to be in the model: without it the flame is out of every doubt above."""
    complete, equilibrium = flame(1.001, 0.0, 298.15)
    assert complete - equilibrium > 90.0
