"""Properties of the burnt gas at 1 atm: complete products of ethanol, blended with air.

Every function takes a temperature in K and `products`, the mass fraction of stoichiometric
products in the gas (the rest is air): 1 in a flame with no air to spare, 0.69 at one and a half
times the air needed. Blending by mass is exact for the heat capacity and within 0.3 % for the
transport properties. Nothing here is masked: the models that use it say where they hold.

The fits are to Cantera 3.2: heat capacities from NASA's polynomials (McBride and others 1993),
transport properties from the GRI-Mech 3.0 data, mixture-averaged; 300 to 2300 K; air there is 21
parts of oxygen to 79 of nitrogen. The argon of real air (0.6 % less heat capacity per kilogram)
and the steam from the fuel's own water (twice the heat capacity of products, as which it
counts) are left out: flames of pure ethanol come out up to 12 K cold, with 15 % of water up to
13 K hot, in between less.
"""

from typing import Annotated

import numpy as np

from models.arrays import STANDARD_ATMOSPHERE, Array, polynomial

REFERENCE_TEMPERATURE = 298.15
"""Temperature of zero sensible enthalpy, K."""

GAS_CONSTANT = 8.314462618
"""Molar gas constant, J/(mol K) (CODATA 2018, exact)."""

MOLAR_MASS_PRODUCTS = 28.136e-3
"""Products of ethanol in just enough air, kg/mol."""

MOLAR_MASS_AIR = 28.965e-3
"""Dry air, kg/mol."""

CO2_AND_STEAM = 0.3070
"""Mole fraction of carbon dioxide and steam together in the stoichiometric products."""

VAPOUR_AT_REFERENCE = 0.93e6
"""Enthalpy of ethanol's vapour at the reference temperature over that of its liquid, J/kg."""

VAPOUR_HEAT_CAPACITY = 1.9e3
"""Specific heat of ethanol's vapour, mean of 298 to 700 K, J/(kg K)."""

# Coefficients of theta^0 .. theta^4, theta = T/1000 K, J/(kg K).
_AIR = (974.124, 23.672, 311.712, -203.238, 38.556)
_PRODUCTS = (1021.471, 188.961, 244.123, -178.893, 33.921)
_EXCESS = tuple(p - a for p, a in zip(_PRODUCTS, _AIR, strict=True))

_DISSOCIATION_AT_2000 = 19.90  # K
_DISSOCIATION_SCALE = 125.1  # K

Temperature = Annotated[Array, "K", "temperature of the gas", "> 0"]
Products = Annotated[Array, "", "mass fraction of stoichiometric products", "0..1"]
Vapour = Annotated[Array, "", "mass fraction of unburnt vapour, counted among the products", "0..1"]


def heat_capacity(
    temperature: Temperature = 1000.0, products: Products = 1.0, vapour: Vapour = 0.0
) -> Annotated[Array, "J/kg/K", "specific heat at constant pressure"]:
    """Quartics in theta = T/1000 of air and of products, blended by mass.

    Within 0.4 % for products and 0.7 % for air, 300 to 2300 K; 1.3 % low for air at 250 K.
    Unburnt vapour has a constant of its own, see `enthalpy`.
    """
    return heat_capacity_of(blended(products, vapour), temperature)


def blended(products: Products = 1.0, vapour: Vapour = 0.0) -> tuple[Array, ...]:
    """Coefficients of `heat_capacity` for one mixture, whose temperatures are then sought."""
    air, more = 1.0 - vapour, products - vapour
    constant, *rest = (a * air + e * more for a, e in zip(_AIR, _EXCESS, strict=True))
    return (constant + VAPOUR_HEAT_CAPACITY * vapour, *rest)


def heat_capacity_of(
    mixture: tuple[Array, ...], temperature: Temperature = 1000.0
) -> Annotated[Array, "J/kg/K", "specific heat at constant pressure"]:
    """`heat_capacity` from the coefficients of `blended`."""
    return polynomial(mixture, 1e-3 * temperature)


def enthalpy(
    temperature: Temperature = 1000.0, products: Products = 1.0, vapour: Vapour = 0.0
) -> Annotated[Array, "J/kg", "enthalpy above gas, and liquid fuel, at 298.15 K"]:
    """Exact integral of `heat_capacity` from 298.15 K; within 0.4 % from 400 K up.

    Vapour of the fuel that has not burnt carries 0.93 MJ/kg + 1.9 kJ/(kg K) (T - 298.15 K) over
    the liquid it was: the heat that evaporates ethanol (0.918 MJ/kg) and NASA's polynomials for
    its vapour, within 0.05 MJ/kg up to 700 K, where a smokebox is; 0.22 too little at 900 K.
    In a flame it would have fallen to pieces, which takes up more still.
    """
    theta = 1e-3 * temperature
    air = polynomial(_AIR_INTEGRAL, theta)
    excess = polynomial(_EXCESS_INTEGRAL, theta)
    carried = VAPOUR_AT_REFERENCE + VAPOUR_HEAT_CAPACITY * (temperature - REFERENCE_TEMPERATURE)
    return (1.0 - vapour) * air + (products - vapour) * excess + vapour * carried


def temperature_of(
    enthalpy_wanted: Annotated[Array, "J/kg", "enthalpy as `enthalpy` gives it"] = 1.0e6,
    products: Products = 1.0,
    vapour: Vapour = 0.0,
) -> Annotated[Array, "K", "temperature of the gas"]:
    """Inverse of `enthalpy`: a start within 4 K from 230 to 2400 K, and a step of Newton's.

    A step squares the error, times cp'/(2 cp), about 1e-4 per kelvin: 0.002 K is left, 0.15 K
    with any share of unburnt vapour.
    """
    h = enthalpy_wanted - VAPOUR_AT_REFERENCE * vapour
    x = 1e-6 * h
    mean_capacity = 996.60 + products * (102.51 + 24.727 * x) + x * (113.637 - 16.2966 * x)
    mean_capacity = mean_capacity + vapour * (VAPOUR_HEAT_CAPACITY - mean_capacity)
    temperature = REFERENCE_TEMPERATURE + h / mean_capacity
    excess = enthalpy(temperature, products, vapour) - enthalpy_wanted
    return temperature - excess / heat_capacity(temperature, products, vapour)


def dissociation(
    temperature: Temperature = 2000.0,
) -> Annotated[Array, "K", "by how much dissociation has lowered the temperature"]:
    """Part by which the real flame is colder than complete combustion would make it.

    19.90 exp((T - 2000 K)/125.1 K), T the real temperature: fitted to the equilibrium of the
    adiabatic flame in Cantera for 0 to 15 % of water in the fuel, air at 0 to 40 degC and 1 to
    3 times the air needed. It leaves 16 K at just enough air, 5 K from 1.2 times up; rich flames,
    with their carbon monoxide and hydrogen, were not fitted.
    """
    lowered: Array = _DISSOCIATION_AT_2000 * np.exp((temperature - 2000.0) / _DISSOCIATION_SCALE)
    return lowered


def dissociated(
    complete: Annotated[Array, "K", "temperature of complete combustion", "> 0"] = 2200.0,
) -> Annotated[Array, "K", "temperature with dissociation"]:
    """Solve T + dissociation(T) = complete: convex, so Newton from above cannot overshoot.

    Four steps leave less than 1e-9 K below 2300 K, the end of all fits of this file.
    """
    temperature = complete
    for _ in range(4):
        lowered = dissociation(temperature)
        excess = temperature + lowered - complete
        temperature = temperature - excess / (1.0 + lowered / _DISSOCIATION_SCALE)
    return temperature


def viscosity(
    temperature: Temperature = 1000.0, products: Products = 1.0
) -> Annotated[Array, "Pa*s", "dynamic viscosity"]:
    """Exponentials of quadratics in ln(T/1000), blended by mass; within 1.2 %.

    Cantera and CoolProp part by 1 % for air at 1000 K: doubt 3 % (one standard deviation).
    """
    x = np.log(1e-3 * temperature)
    air = np.exp(3.75846 + x * (0.66065 - 0.02029 * x))
    stoichiometric = np.exp(3.71035 + x * (0.71687 - 0.03779 * x))
    blend: Array = 1e-6 * (air + products * (stoichiometric - air))
    return blend


def conductivity(
    temperature: Temperature = 1000.0, products: Products = 1.0
) -> Annotated[Array, "W/m/K", "thermal conductivity"]:
    """Exponentials of quadratics in ln(T/1000), blended by mass; within 1.7 %.

    CoolProp and handbooks lie 3 to 4 % lower for air at 1000 K, 5 % at 2000 K: doubt 3 % (one
    standard deviation).
    """
    x = np.log(1e-3 * temperature)
    air = np.exp(4.24156 + x * (0.79946 - 0.01308 * x))
    stoichiometric = np.exp(4.3288 + x * (0.90665 - 0.02174 * x))
    blend: Array = 1e-3 * (air + products * (stoichiometric - air))
    return blend


def density(
    temperature: Temperature = 1000.0, products: Products = 1.0
) -> Annotated[Array, "kg/m3", "density at 1 atm"]:
    """Ideal gas, p M/(R T), with 1/M blended by mass: air within 0.1 %, products 0.4 %."""
    moles = 1.0 / MOLAR_MASS_AIR + products * (1.0 / MOLAR_MASS_PRODUCTS - 1.0 / MOLAR_MASS_AIR)
    return (STANDARD_ATMOSPHERE / GAS_CONSTANT) / (moles * temperature)


def radiating_fraction(
    products: Products = 1.0,
) -> Annotated[Array, "", "mole fraction of carbon dioxide and steam together"]:
    """Mole fraction of the gases that radiate, from the mass fraction of products: exact."""
    lighter = MOLAR_MASS_AIR / MOLAR_MASS_PRODUCTS
    return CO2_AND_STEAM * lighter * products / (1.0 + (lighter - 1.0) * products)


def _integral(coefficients: tuple[float, ...]) -> tuple[float, ...]:
    """Coefficients of the integral over T (hence 1000) from the reference temperature."""
    rising = tuple(1e3 * c / (power + 1) for power, c in enumerate(coefficients))
    theta = 1e-3 * REFERENCE_TEMPERATURE
    return (-float(polynomial((0.0, *rising), theta)), *rising)


_AIR_INTEGRAL = _integral(_AIR)
_EXCESS_INTEGRAL = _integral(_EXCESS)
