"""The air in the fuel tank: what it drives out as it warms, and what a pinhole lets in.

Air and fuel vapour share a closed space at nearly the pressure of the atmosphere. When it
warms, the air swells and the vapour's share grows; both push fuel into the sump. A hole
above the liquid lets air in past the breather, which then no longer governs the level.
"""

from typing import Annotated, NamedTuple

import numpy as np

from models import fuel
from models.arrays import STANDARD_ATMOSPHERE, STANDARD_GRAVITY, Array
from models.orifice_flow import (
    hole_resistance,
    inertial_coefficient,
    quadratic_flow,
)
from models.quantities import (
    AmbientPressure,
    BreatherBore,
    BurnRate,
    FuelMethanol,
    FuelTemperature,
    FuelWater,
    SumpFreeArea,
    TankAirVolume,
    TankHead,
    ValveOpening,
)
from models.ranges import FUEL_TEMPERATURE, NOT_NEGATIVE, POSITIVE, SHARE, within

AIR_GAS_CONSTANT = 287.053
"""Gas constant of dry air, J/(kg K) (US Standard Atmosphere 1976)."""

PRESSURE_RANGE = (0.5e5, 1.2e5)
"""Pressures of the atmosphere that are computed, Pa."""

_MILLIMETRE = 1e-3
_ML_PER_MIN = 1e-6 / 60.0  # m3/s
_BAR = 1e5


def kelvin(temperature: Array) -> Array:
    """Absolute temperature, K, of one in degC; NaN outside 0 to 60 degC."""
    return within(temperature, FUEL_TEMPERATURE) + 273.15


def air_share(temperature: Array, saturation: Array, methanol: Array, pressure: Array) -> Array:
    """Pressure of the air alone, Pa: p - s pv. NaN where the vapour leaves it nothing (boiling)."""
    dry = pressure - saturation * fuel.vapour_pressure(temperature, methanol)
    return within(dry, (1.0, np.inf))


def expansion_ratio(
    temperature: Array,
    warming: Array,
    saturation: Array = 1.0,
    methanol: Array = 0.0,
    pressure: Array = STANDARD_ATMOSPHERE,
) -> Array:
    """Volume of the air space after warming over that before, at constant pressure.

    V2/V1 = (T2/T1) (p - s pv1)/(p - s pv2): perfect gases, the amount of air constant
    (Dalton). Temperature in degC, warming in K, pressure in Pa; s scales the saturated vapour
    pressure pv at both ends. Within 0.1 % of CoolProp's vapour pressure from 0 to 60 degC.
    """
    hot = temperature + warming
    before = air_share(temperature, saturation, methanol, pressure)
    after = air_share(hot, saturation, methanol, pressure)
    return kelvin(hot) / kelvin(temperature) * before / after


def expansion_rate(
    temperature: Array,
    saturation: Array = 1.0,
    methanol: Array = 0.0,
    pressure: Array = STANDARD_ATMOSPHERE,
) -> Array:
    """Derivative of `expansion_ratio` at no warming, 1/K: 1/T + s pv'/(p - s pv)."""
    slope = saturation * fuel.vapour_pressure_slope(temperature, methanol)
    dry = air_share(temperature, saturation, methanol, pressure)
    return 1.0 / kelvin(temperature) + slope / dry


def thermal_expansion(temperature: Array, water: Array = 0.0) -> Array:
    """Thermal expansion of the liquid fuel, 1/K: -rho'/rho of `models.fuel.density`.

    1.06e-3 at 10 degC to 1.18e-3 at 50 degC for pure ethanol, within 3 % of CoolProp.
    """
    slope = 0.831205 + 0.09226 * water + 2.0 * 6.4745e-4 * temperature
    return slope / fuel.density(temperature, water)


def air_viscosity(temperature: Array) -> Array:
    """Viscosity of air, Pa s: 1.458e-6 T^(3/2)/(T + 110.4) (US Standard Atmosphere 1976)."""
    T = kelvin(temperature)
    return 1.458e-6 * T**1.5 / (T + 110.4)


def pinhole_flow(
    suction: Array,
    bore: Array,
    length: Array,
    discharge_coefficient: Array,
    temperature: Array = 20.0,
    pressure: Array = STANDARD_ATMOSPHERE,
) -> Array:
    """Air drawn through a round hole by a small `suction` (Pa), ml/min.

    dp = q mu (3 + 8 L/(pi r))/r^3 + q^2 rho/(2 Cd^2 A^2): creeping ends and tube (Sampson
    1891; Dagan, Weinbaum and Pfeffer 1982) and inertia, a quadratic with a closed root. Bore
    and length in mm, temperature in degC, pressure in Pa. No bore, no flow. Both limits are
    exact; between them the sum of losses gives up to 20 % less than a thin-edged orifice (Re
    25, Hollingshead 2011), as much as 10 % on the bore, which is seldom known so well. Cd
    about 0.61 in thin sheet, 0.8 where the hole is longer than its bore. Left out: slip at
    the wall (+3 % at 0.02 mm), compressibility (suction below 1 % of p).
    """
    is_open: Array = np.where(bore < POSITIVE[0], 0.0, 1.0)
    bored: Array = np.where(bore < POSITIVE[0], 1.0, bore) * _MILLIMETRE
    rho = pressure / (AIR_GAS_CONSTANT * kelvin(temperature))
    laminar = hole_resistance(bored, length * _MILLIMETRE, air_viscosity(temperature))
    inertia = inertial_coefficient(0.25 * np.pi * bored**2, rho, discharge_coefficient)
    # Multiplied, not selected by np.where: what is NaN stays NaN.
    return is_open * quadratic_flow(suction, laminar, inertia) / _ML_PER_MIN


class TankSurge(NamedTuple):
    """What the tank's air does to the level; fields have the shape of the arguments together."""

    surge_rise: Annotated[Array, "mm", "rise of the sump by fuel driven out while standing"]
    surge_ratio: Annotated[Array, "", "fuel driven out while warming, over burn rate"]
    leak_ratio: Annotated[Array, "", "air drawn in through the pinhole, over burn rate"]
    expelled_volume: Annotated[Array, "ml", "fuel driven out while standing"]


def tank_surge(
    tank_air_volume: TankAirVolume = 20.0,
    tank_fuel_volume: Annotated[
        Array,
        "ml",
        "fuel in the tank, which swells too; 0 leaves that out",
        ">= 0",
        "running: 0..55",
    ] = 0.0,
    fuel_temperature: FuelTemperature = 20.0,
    fuel_warming: Annotated[
        Array, "K", "total rise of temperature while standing unlit", "running: 0..12 triangular"
    ] = 5.0,
    warming_rate: Annotated[
        Array, "K/min", "rate of warming while lit", "running: 0..5 triangular"
    ] = 0.5,
    vapour_saturation: Annotated[
        Array, "", "vapour in the tank's air, over saturation", "0..1", "model: 0.6..1 triangular"
    ] = 0.9,
    fuel_water: FuelWater = 0.06,
    fuel_methanol: FuelMethanol = 0.0,
    sump_free_area: SumpFreeArea = 4.0,
    burn_rate: Annotated[BurnRate, "> 0"] = 3.0,
    tank_head: Annotated[TankHead, ">= 0"] = 30.0,
    breather_bore: BreatherBore = 5.0,
    valve_opening: ValveOpening = 1.0,
    leak_bore: Annotated[
        Array,
        "mm",
        "bore of a hole above the liquid; 0 none",
        ">= 0",
        "build: 0..0.1 triangular",
        "read as bore",
    ] = 0.0,
    leak_length: Annotated[Array, "mm", "length of that hole", ">= 0"] = 0.5,
    leak_discharge_coefficient: Annotated[
        Array, "", "discharge coefficient of that hole", "0..1", "model: 0.6..0.8"
    ] = 0.7,
    ambient_pressure: Annotated[AmbientPressure, "> 0"] = 1.01325,
) -> TankSurge:
    """Fuel driven out of a warming tank, and air let in by a pinhole.

    swelling = V_air (V2/V1 - 1) + V_fuel (rho1/rho2 - 1), V2/V1 of `expansion_ratio`,
    expelled = swelling with the valve open, however little,
    expelled = min(A_b H, swelling/(1 + V_air rho g/(A_b (p - s pv2)))) with the valve shut (Boyle,
    the vapour giving way): the fuel that stands in the breather, of bore area A_b, as high as in
    the tank, is all that can run out; then air bubbles from the mouth,
    surge_rise = expelled/sump_free_area, no fire,
    surge_ratio = T' (V_air (1/T + s pv'/(p - s pv)) + V_fuel beta)/burn_rate at the temperature
    after the warming, since the fire is lit then,
    leak_ratio = `pinhole_flow` at the tank's vacuum rho g tank_head, over burn_rate.

    Above a surge_ratio of 1 the sump floods though lit; above a leak_ratio of 1 the breather no
    longer governs. All signs are kept: a cooling tank drives out less than nothing, which lets
    air in and, the valve open, does not lower the sump; the valve shut, it draws fuel up the
    breather. Shutting the valve is half a cure: the column of a 5 mm breather, 30 mm high, is
    0.59 ml, 1.5 mm on 4 cm2; a 3 mm breather holds 0.21 ml.

    Range: 0 to 60 degC before and after, below boiling; NaN outside. Doubts: s (triangular 0.6,
    0.95, 1: vapour needs L^2/D, some 10 s for 10 mm, to spread), the fuel's volatility by
    `fuel_methanol`, and above all the warming itself. Left out: the tank's own vacuum in p (0.2 %
    of the volume driven out at 200 Pa), the swelling of the tank (some 5 % of the liquid's),
    resistance of the feed (settles in seconds), changes of the barometer (-1 hPa drives out
    0.1 % of V_air), and that a hole wetted by fuel is sealed: the leak counts only above the
    liquid, at seams and filler.
    """
    with np.errstate(all="ignore"):
        air = within(tank_air_volume, NOT_NEGATIVE)
        liquid = within(tank_fuel_volume, NOT_NEGATIVE)
        pressure = within(ambient_pressure * _BAR, PRESSURE_RANGE)
        saturation = within(vapour_saturation, (0.0, 1.0))
        burnt = within(burn_rate, POSITIVE)
        rho = fuel.density(fuel_temperature, fuel_water)
        hot = within(fuel_temperature, FUEL_TEMPERATURE) + fuel_warming
        per_minute = within(warming_rate, (-NOT_NEGATIVE[1], NOT_NEGATIVE[1]))

        growth = expansion_ratio(
            fuel_temperature, fuel_warming, saturation, fuel_methanol, pressure
        )
        swelling = rho / fuel.density(hot, fuel_water) - 1.0
        swollen = air * (growth - 1.0) + liquid * swelling
        head, bore = within(tank_head, NOT_NEGATIVE), within(breather_bore, POSITIVE)
        area = 0.25e-3 * np.pi * bore * bore  # ml for each mm of the breather
        # Head that the air in the tank would lose by giving up the fuel in 1 mm of the breather.
        dry = air_share(hot, saturation, fuel_methanol, pressure)
        stiffer = 1.0 + air / area * (rho * STANDARD_GRAVITY * _MILLIMETRE / dry)
        column = np.minimum(area * head, swollen / stiffer)
        opening = within(valve_opening, SHARE)
        expelled = np.where(opening > 0.0, swollen, column) + 0.0 * (column + opening)
        rate = air * expansion_rate(hot, saturation, fuel_methanol, pressure)
        rate = rate + liquid * thermal_expansion(hot, fuel_water)

        leak = pinhole_flow(
            rho * STANDARD_GRAVITY * head * _MILLIMETRE,
            within(leak_bore, NOT_NEGATIVE),
            within(leak_length, NOT_NEGATIVE),
            within(leak_discharge_coefficient, (1e-6, 1.0)),
            fuel_temperature,
            pressure,
        )
        return TankSurge(
            surge_rise=10.0 * expelled / within(sump_free_area, POSITIVE),
            surge_ratio=rate * per_minute / burnt,
            leak_ratio=leak / burnt,
            expelled_volume=expelled,
        )
