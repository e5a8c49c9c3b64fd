"""Saturated steam and water at 1 to 8 bar absolute, and the steam a small engine makes and uses."""

import math
from typing import Annotated, NamedTuple

import numpy as np

from models.arrays import STANDARD_ATMOSPHERE, Array
from models.quantities import (
    BlowerSteam,
    BurnRate,
    CondensationFactor,
    Cutoff,
    Cylinders,
    FeedTemperature,
    PistonBore,
    PistonStroke,
    Revolutions,
    SteamPressure,
)
from models.ranges import NOT_NEGATIVE, POSITIVE, SHARE, within

PRESSURE_RANGE = (1.0, 8.0)
"""Absolute pressures for which the fits of saturated steam are stated, bar."""

LIQUID_RANGE = (0.0, 171.0)
"""Temperatures for which the fits of liquid water are stated, degC."""

_ATMOSPHERE = 1e-5 * STANDARD_ATMOSPHERE  # bar
_G_PER_MIN = 60.0  # of 1 g/s

Absolute = Annotated[Array, "bar", "absolute pressure", "1..8"]


def saturation_temperature(
    pressure: Absolute = 4.0,
) -> Annotated[Array, "degC", "temperature of saturated steam"]:
    """99.698 + 27.235 ln p + 3.233 (ln p)^2, p in bar: within 0.1 K of IAPWS-95."""
    x = np.log(within(pressure, PRESSURE_RANGE))
    temperature: Array = 99.698 + x * (27.235 + 3.233 * x)
    return temperature


def saturation_logarithm(
    temperature: Annotated[Array, "degC", "temperature of saturated steam", ">= 99.7"],
) -> Annotated[Array, "", "logarithm of its absolute pressure in bar"]:
    """Inverse of `saturation_temperature`, the root of its quadratic; not masked.

    Colder than 99.698 degC, which is 1 bar, it stays at 0: there is no steam to speak of.
    """
    over = np.maximum(temperature - 99.698, 0.0)
    logarithm: Array = (np.sqrt(27.235 * 27.235 + 12.932 * over) - 27.235) / 6.466
    return logarithm


def vapour_density_at(
    logarithm: Annotated[Array, "", "logarithm of the absolute pressure in bar"],
) -> Annotated[Array, "kg/m3", "density of dry saturated steam"]:
    """exp(0.9389 x - 0.5291), x = ln p, p in bar: within 0.25 % of IAPWS-95; not masked."""
    density: Array = np.exp(0.9389 * logarithm - 0.5291)
    return density


def vapour_density(
    pressure: Absolute = 4.0,
) -> Annotated[Array, "kg/m3", "density of dry saturated steam"]:
    """`vapour_density_at` the logarithm of the pressure; NaN outside its range."""
    return vapour_density_at(np.log(within(pressure, PRESSURE_RANGE)))


def vapour_enthalpy_at(
    logarithm: Annotated[Array, "", "logarithm of the absolute pressure in bar"],
) -> Annotated[Array, "kJ/kg", "enthalpy of dry saturated steam"]:
    """2675.01 + 43.586 x + 2.8298 x^2 - 1.0568 x^3, x = ln p, p in bar; 0.1 kJ/kg of IAPWS-95.

    Above liquid water at its triple point (0.01 degC), as steam tables have it; not masked.
    """
    x = logarithm
    return 2675.01 + x * (43.586 + x * (2.8298 - 1.0568 * x))


def vapour_enthalpy(
    pressure: Absolute = 4.0,
) -> Annotated[Array, "kJ/kg", "enthalpy of dry saturated steam"]:
    """`vapour_enthalpy_at` the logarithm of the pressure; NaN outside its range."""
    return vapour_enthalpy_at(np.log(within(pressure, PRESSURE_RANGE)))


def liquid_enthalpy(
    temperature: Annotated[Array, "degC", "temperature of the water", "0..171"] = 20.0,
) -> Annotated[Array, "kJ/kg", "enthalpy of liquid water"]:
    """4.20296 t - 5.0449e-4 t^2 + 3.8869e-6 t^3: within 0.1 kJ/kg of IAPWS-95, saturated.

    A few bar above saturation add 0.1 kJ/kg per bar.
    """
    t = within(temperature, LIQUID_RANGE)
    return t * (4.20296 - t * (5.0449e-4 - 3.8869e-6 * t))


def liquid_heat_capacity(
    temperature: Annotated[Array, "degC", "temperature of the water", "0..171"] = 20.0,
) -> Annotated[Array, "kJ/kg/K", "slope of the enthalpy of liquid water"]:
    """Exact derivative of `liquid_enthalpy`, along saturation."""
    t = within(temperature, LIQUID_RANGE)
    return 4.20296 - t * (2.0 * 5.0449e-4 - 3.0 * 3.8869e-6 * t)


def liquid_density(
    temperature: Annotated[Array, "degC", "temperature of the water", "0..171"] = 20.0,
) -> Annotated[Array, "kg/m3", "density of liquid water"]:
    """1000.61 - 0.05264 t - 4.3205e-3 t^2 + 6.325e-6 t^3: within 0.09 % of IAPWS-95, saturated."""
    t = within(temperature, LIQUID_RANGE)
    return 1000.61 - t * (0.05264 + t * (4.3205e-3 - 6.325e-6 * t))


def cylinder_volume(
    piston_bore: PistonBore,
    piston_stroke: PistonStroke,
    cylinders: Cylinders,
    cutoff: Cutoff,
    condensation_factor: CondensationFactor,
) -> Annotated[Array, "ml", "steam taken in a revolution, as volume at boiler pressure"]:
    """condensation_factor * 2 * cylinders * (piston area * stroke * cutoff): both sides filled."""
    bore = within(piston_bore, POSITIVE)
    swept = (0.25e-3 * math.pi) * bore * bore * within(piston_stroke, POSITIVE)
    filled = swept * within(cutoff, SHARE) * (2.0 * within(cylinders, POSITIVE))
    return filled * within(condensation_factor, POSITIVE)


class SteamBalance(NamedTuple):
    """Steam made and used; the fields have the shape of the arguments together."""

    steam_made: Annotated[Array, "g/min", "steam the boiler makes"]
    steam_used: Annotated[Array, "g/min", "steam the cylinders and the blower take"]
    steam_balance: Annotated[Array, "g/min", "steam made less steam used"]
    water_endurance: Annotated[Array, "min", "until the stated water has left as steam"]
    fuel_endurance: Annotated[Array, "min", "until the stated fuel is burnt"]


def steam_balance(
    heat_to_boiler: Annotated[
        Array, "W", "heat the fire gives to the boiler", "model: lognormal 25 %"
    ] = 700.0,
    shell_loss: Annotated[
        Array, "W", "heat the boiler's outside loses", ">= 0", "model: lognormal 20 %"
    ] = 40.0,
    feed_temperature: FeedTemperature = 20.0,
    steam_pressure: Annotated[SteamPressure, "0..6.9"] = 3.0,
    piston_bore: PistonBore = 11.0,
    piston_stroke: PistonStroke = 16.0,
    cylinders: Cylinders = 2.0,
    cutoff: Cutoff = 0.75,
    revolutions: Revolutions = 180.0,
    condensation_factor: CondensationFactor = 2.5,
    blower_steam: BlowerSteam = 2.0,
    water_volume: Annotated[
        Array,
        "ml",
        "water that may be used, measured at feed temperature",
        "> 0",
        "running: +-10 normal",
    ] = 120.0,
    fuel_volume: Annotated[Array, "ml", "fuel in the tank", "> 0", "running: +-5 normal"] = 60.0,
    burn_rate: Annotated[BurnRate, "> 0"] = 3.0,
) -> SteamBalance:
    """Steam made against steam used at a steady pressure, and how long water and fuel last.

    * steam_made = (heat_to_boiler - shell_loss)/(h_g - h_feed); none where the shell loses more.
    * steam_used = blower_steam + condensation_factor * 2 * cylinders * (piston area * stroke *
      cutoff) * revolutions * rho_g, both sides of each piston filled at boiler pressure.
    * water_endurance = water/(the greater of both): what is not used lifts the safety valve;
      what is used beyond what is made comes from the boiler's stored heat while the pressure
      falls, and leaves all the same. fuel_endurance = fuel_volume/burn_rate.

    Dry saturated steam of 1 to 8 bar absolute (fits above, together within 0.3 %, far below the
    doubts); NaN outside. condensation_factor, 2 to 4 for cylinders this small, carries
    condensation on cold walls, leaks and clearance filled anew, less what throttling before the
    cylinders saves: no source gives it; weighing the water used does, for it and for the
    firebox's fire_loss together, so that the two go together. shell_loss is about
    10 W/m2K of bare surface (common practice, no source): 34 W for 50 mm by 150 mm at 3 bar.
    A boiler filled once and not fed evaporates water that is hot already: give its own
    temperature as feed_temperature.
    Left out: priming (water carried over unevaporated shortens water_endurance), heat that the
    shell stores, a pressure that changes.
    """
    with np.errstate(all="ignore"):
        pressure = within(steam_pressure, NOT_NEGATIVE) + _ATMOSPHERE
        feed = within(feed_temperature, LIQUID_RANGE)
        net = (heat_to_boiler - within(shell_loss, NOT_NEGATIVE)) * _G_PER_MIN
        made: Array = np.maximum(net, 0.0) / (vapour_enthalpy(pressure) - liquid_enthalpy(feed))

        turn = cylinder_volume(piston_bore, piston_stroke, cylinders, cutoff, condensation_factor)
        rate = turn * within(revolutions, NOT_NEGATIVE) * 1e-3  # litre/min, so g/min by density
        taken = rate * vapour_density(pressure)
        used = taken + within(blower_steam, NOT_NEGATIVE)

        water = within(water_volume, POSITIVE) * 1e-3 * liquid_density(feed)  # g
        return SteamBalance(
            steam_made=made,
            steam_used=used,
            steam_balance=made - used,
            water_endurance=water / np.maximum(made, used),
            fuel_endurance=within(fuel_volume, POSITIVE) / within(burn_rate, POSITIVE),
        )
