"""Properties of the spirit: ethanol with a little water and methanol, 0 to 60 degC.

Every function takes float64 arrays that broadcast against each other, or plain numbers, and
gives NaN where an argument is outside its range (`models.ranges`): no fit here is extrapolated.
"""

from typing import Annotated, NamedTuple

import numpy as np

from models.arrays import Array
from models.ranges import FUEL_METHANOL, FUEL_TEMPERATURE, FUEL_WATER, within

_ZERO_CELSIUS = 273.15
_LN_10 = 2.302585092994046
_MOLAR_MASS_ETHANOL = 46.069  # g/mol
_MOLAR_MASS_METHANOL = 32.042  # g/mol


def methanol_mole_fraction(
    methanol: Annotated[Array, "", "mass fraction of methanol in the alcohol", "0..0.1"] = 0.0,
) -> Annotated[Array, "", "mole fraction of methanol in the alcohol"]:
    """Mole fraction from mass fraction: exact; 10 % by mass is 0.138 by moles."""
    m = within(methanol, FUEL_METHANOL)
    moles = m / _MOLAR_MASS_METHANOL
    return moles / (moles + (1.0 - m) / _MOLAR_MASS_ETHANOL)


def density(
    temperature: Annotated[Array, "degC", "temperature of the fuel", "0..60"] = 20.0,
    water: Annotated[Array, "", "mass fraction of water in the fuel", "0..0.15"] = 0.0,
) -> Annotated[Array, "kg/m3", "density of the fuel"]:
    """Density of ethanol with water.

    rho = 806.340 - 0.831205 t - 6.4745e-4 t^2 + 306.405 w - 191.252 w^2 - 0.09226 w t

    Pure: fitted to the equation of state of Schroeder, Penoncello and Schroeder 2014
    (J. Phys. Chem. Ref. Data 43, 043102) at 1 atm, within 0.012 % (0.02 % of the saturated
    liquid). Water: fitted to the general formula of OIML R 22 (1975), within 0.03 % over
    0 to 40 degC, where that formula ends; above 40 degC the increment is carried on.
    Doubt 0.2 % (one standard deviation) once t and w are known. Methanol is ignored:
    10 % of it changes the density by 0.02 %.
    """
    t = within(temperature, FUEL_TEMPERATURE)
    w = within(water, FUEL_WATER)
    return (806.340 + w * (306.405 - 191.252 * w)) - t * (0.831205 + 0.09226 * w + 6.4745e-4 * t)


def viscosity(
    temperature: Annotated[Array, "degC", "temperature of the fuel", "0..60"] = 20.0,
    water: Annotated[Array, "", "mass fraction of water in the fuel", "0..0.15"] = 0.0,
    methanol: Annotated[Array, "", "mass fraction of methanol in the alcohol", "0..0.1"] = 0.0,
) -> Annotated[Array, "mPa*s", "dynamic viscosity of the fuel"]:
    """Viscosity of ethanol with water and methanol.

    ln mu = -6.874145 + 2502.386/(T + 61.7353)
            + w (4.51051 - 0.0675492 t + 4.90024e-4 t^2 - 3.96245 w)
            + x (-0.81406 + 5.2376e-3 t - 8.46e-6 t^2),     T = t + 273.15 K

    Pure: fitted to Kiselev and others 2005 at 1 atm, within 0.012 %. Water: fitted to the
    ratios of Bingham and Jackson (Bulletin of the Bureau of Standards 14, 1917), which for
    pure ethanol part from Kiselev by up to 2.6 %: doubt 4 % with water, 2 % without.
    Methanol: ideal mixing of the logarithms by mole fraction x (Arrhenius 1887), the bracket
    fitted to the logarithm of the ratio of CoolProp's two pure viscosities within 0.0002;
    10 % by mass thins the fuel by 9 % at 20 degC. No measurement of the mixture stands
    behind that: take half of the thinning as its doubt.
    """
    t = within(temperature, FUEL_TEMPERATURE)
    w = within(water, FUEL_WATER)
    x = methanol_mole_fraction(methanol)
    pure = -6.874145 + 2502.386 / (t + (_ZERO_CELSIUS + 61.7353))
    wetter = w * (4.51051 - t * (0.0675492 - 4.90024e-4 * t) - 3.96245 * w)
    thinner = x * (-0.81406 + t * (5.2376e-3 - 8.46e-6 * t))
    result: Array = np.exp((pure + thinner) + wetter)
    return result


def surface_tension(
    temperature: Annotated[Array, "degC", "temperature of the fuel", "0..60"] = 20.0,
    water: Annotated[Array, "", "mass fraction of water in the fuel", "0..0.15"] = 0.0,
) -> Annotated[Array, "mN/m", "surface tension of the fuel against air"]:
    """Surface tension of ethanol with water.

    sigma = 24.05 - 0.0832 t + 8 w + 10 w^2

    Pure: Jasper 1972 (J. Phys. Chem. Ref. Data 1, 841). Mulero, Cachadina and Parra 2012 lie
    1.0 % above it at 0 degC and 3.0 % below at 60 degC: doubt 2 % (one standard deviation).
    Water: an increment fitted to figures quoted from memory after Vazquez, Alvarez and Navaza
    1995, +0.9 mN/m at 10 %: doubt half of it. Methanol is ignored (pure, it is 1 % off).
    """
    t = within(temperature, FUEL_TEMPERATURE)
    w = within(water, FUEL_WATER)
    return (24.05 + w * (8.0 + 10.0 * w)) - 0.0832 * t


class Properties(NamedTuple):
    """What flow and faces of a fuel go by; kg/m3, mPa s and mN/m, each of the broadcast shape."""

    density: Array
    viscosity: Array
    surface_tension: Array


def properties(temperature: Array, water: Array) -> Properties:
    """Give `density`, `viscosity` and `surface_tension` of a fuel, for several uses."""
    return Properties(
        density(temperature, water),
        viscosity(temperature, water),
        surface_tension(temperature, water),
    )


def vapour_pressure(
    temperature: Annotated[Array, "degC", "temperature of the fuel", "0..60"] = 20.0,
    methanol: Annotated[Array, "", "mass fraction of methanol in the alcohol", "0..0.1"] = 0.0,
) -> Annotated[Array, "Pa", "pressure of saturated vapour over the fuel"]:
    """Vapour pressure of ethanol with methanol, by Raoult's law: (1 - x) p_E + x p_M.

    p_E = 10^(10.431503 - 1704.6215/(T - 37.2894)), p_M = 10^(10.262480 - 1613.3243/(T - 30.7105))

    Antoine forms fitted to the equations of state of ethanol (Schroeder and others 2014)
    within 0.08 % and of methanol (de Reuck and Craven 1993, as CoolProp has them) within
    0.05 %. The mixture is taken as ideal: +17 % at 10 % by mass and 20 degC.
    Water is ignored: up to 15 % of it lowers the pressure by at most 6 % (modified UNIFAC),
    so that what is driven out of a warming tank is over- and not understated.
    """
    ethanol, methanol_pressure, x = _partial_pressures(temperature, methanol)
    return ethanol + x * (methanol_pressure - ethanol)


def vapour_pressure_slope(
    temperature: Annotated[Array, "degC", "temperature of the fuel", "0..60"] = 20.0,
    methanol: Annotated[Array, "", "mass fraction of methanol in the alcohol", "0..0.1"] = 0.0,
) -> Annotated[Array, "Pa/K", "rise of the saturated vapour pressure with temperature"]:
    """Exact derivative of `vapour_pressure`: dp/dT = p ln 10 B/(T + C)^2 for each alcohol.

    Within 0.5 % of the slope of the equation of state for pure ethanol, 0 to 60 degC.
    """
    ethanol, methanol_pressure, x = _partial_pressures(temperature, methanol)
    kelvin = within(temperature, FUEL_TEMPERATURE) + _ZERO_CELSIUS
    ethanol_slope = ethanol * (_LN_10 * 1704.6215) / (kelvin - 37.2894) ** 2
    methanol_slope = methanol_pressure * (_LN_10 * 1613.3243) / (kelvin - 30.7105) ** 2
    return ethanol_slope + x * (methanol_slope - ethanol_slope)


def lower_heating_value(
    water: Annotated[Array, "", "mass fraction of water in the fuel", "0..0.15"] = 0.0,
) -> Annotated[Array, "MJ/kg", "lower heating value of the liquid fuel at 25 degC"]:
    """Heat of burning to water vapour, less what evaporates the fuel's own water.

    26.81 (1 - w) - 2.442 w: enthalpies of formation of NASA's polynomials (McBride and others
    1993) with 42.3 kJ/mol to evaporate ethanol; 2.442 MJ/kg is that of water at 25 degC.
    Doubt 0.2 %. Methanol (19.9 MJ/kg) is not in it: 10 % takes off 2.6 %.
    """
    w = within(water, FUEL_WATER)
    return 26.81 - (26.81 + 2.442) * w


def stoichiometric_air(
    water: Annotated[Array, "", "mass fraction of water in the fuel", "0..0.15"] = 0.0,
) -> Annotated[Array, "kg/kg", "dry air that burns one kilogram of fuel completely"]:
    """C2H5OH + 3 O2 -> 2 CO2 + 3 H2O in dry air of 20.946 % oxygen: 9.005 (1 - w)."""
    return 9.005 * (1.0 - within(water, FUEL_WATER))


def _partial_pressures(temperature: Array, methanol: Array) -> tuple[Array, Array, Array]:
    """Vapour pressures of ethanol and of methanol, each pure (Pa), and the mole fraction."""
    kelvin = within(temperature, FUEL_TEMPERATURE) + _ZERO_CELSIUS
    ethanol: Array = np.exp(_LN_10 * (10.431503 - 1704.6215 / (kelvin - 37.2894)))
    other: Array = np.exp(_LN_10 * (10.262480 - 1613.3243 / (kelvin - 30.7105)))
    return ethanol, other, methanol_mole_fraction(methanol)
