"""Fuel that gets hot on its way: heat into the burner pipe, boiling at the wicks, a light column.

The pipe is one body with the fuel in it. Between sump and firebox it loses heat to the air; in
the firebox it gains some watts from the plate, the hot tube of each wick and flames that touch
it. A few watts are all it takes to boil a few millilitres a minute, so what comes out is more a
sign than a number.
"""

from typing import Annotated, NamedTuple

import numpy as np

from models import fuel
from models.arrays import STANDARD_ATMOSPHERE, Array, smallest
from models.quantities import (
    AmbientPressure,
    AmbientTemperature,
    BreatherHeight,
    BurnerHeight,
    BurnerPosition,
    BurnRate,
    FuelMethanol,
    FuelTemperature,
    FuelWater,
    PipeBore,
    PipeLength,
    PipeWall,
    WickBore,
    WickCount,
    WickLipHeight,
    WickPitch,
    WickTubeWall,
)
from models.ranges import (
    AIR_TEMPERATURE,
    FUEL_METHANOL,
    FUEL_TEMPERATURE,
    within,
)
from models.wicks import MOST_WICKS, whole_number

HEAT_CAPACITY = 2480.0
"""Heat capacity of the fuel, J/(kg K): ethanol with a little water at 20 to 40 degC."""

STEFAN_BOLTZMANN = 5.670374419e-8  # W/(m2 K4), exact by the definition of the kelvin
PIPE_SURFACE = 340.0
"""Temperature of the pipe's outside as the plate sees it, K."""

PIPE_EMISSIVITY = 0.6
"""Emissivity of an oxidised and sooty pipe (from memory; brighter metal takes less)."""

PRESSURE_RANGE = (0.7, 1.06)
"""Pressures of the atmosphere for which the boiling point is fitted, bar."""

BOILING_DROP_METHANOL = 20.0
"""Fall of the boiling point by methanol, K per unit of mass fraction (from memory)."""

_ZERO_CELSIUS = 273.15


class FuelHeating(NamedTuple):
    """What heat does to the fuel; the fields have the shape of the arguments together."""

    vapour_margin: Annotated[Array, "K", "boiling point less the hotter of pipe end and wick root"]
    root_temperature: Annotated[Array, "degC", "fuel where it enters the wick tubes"]
    burner_temperature: Annotated[Array, "degC", "fuel at the end of the burner pipe"]
    burner_heat: Annotated[Array, "W", "heat into the burner pipe"]
    heat_to_sump: Annotated[Array, "W", "heat that the pipe conducts back into the sump"]
    hot_column_lift: Annotated[
        Array, "mm", "rise of the level at the wicks by fuel that is hot there, while burning"
    ]


class HotPipe(NamedTuple):
    """Answer of `hot_pipe`: degC at the far end, and W into the sump and into the air."""

    end: Array
    to_sump: Array
    to_air: Array


def hot_pipe(
    conduction: Annotated[Array, "W*m/K", "conductivity times section of the pipe's wall", "> 0"],
    flow: Annotated[Array, "W/K", "mass flow times heat capacity of the fuel", "> 0"],
    loss: Annotated[Array, "W/m/K", "film coefficient times girth of the pipe", ">= 0"],
    heat: Annotated[Array, "W", "heat into the pipe in the firebox"],
    length: Annotated[Array, "m", "from the sump to the firebox wall", "> 0"],
    heated_length: Annotated[Array, "m", "in the firebox", "> 0"],
    sump: Annotated[Array, "degC", "temperature of the sump"],
    ambient: Annotated[Array, "degC", "temperature of the air"] = 20.0,
) -> HotPipe:
    """Temperature of a pipe of flowing fuel heated at its far end, wall and fuel as one.

    kA T'' = m c T' + hP (T - T_a) from the sump to the firebox wall, and kA T'' = m c T' - G/L_f
    beyond it, with T' = 0 at the end. Its solution, with a and b = (mc +- sqrt(mc^2 + 4 kA
    hP))/(2 kA), is T = T_a + A e^(a(x - L)) + B e^(b x) and, at the end,

    T = T_a + A + B e^(b L) + G/mc - G kA/(L_f mc^2)(1 - e^(-mc L_f/kA)),

    A and B from the sump's temperature and from the slope at the wall, G/(L_f mc)(1 -
    e^(-mc L_f/kA)). Exact for that; with wall and fuel apart (film 3.66 k/d) the fuel is 0 to
    12 K cooler. What enters leaves: G = m c (T_end - T_sump) + heat to the sump + to the air.
    """
    root = np.sqrt(flow * flow + 4.0 * conduction * loss)
    a = (flow + root) / (2.0 * conduction)
    # b = (mc - root)/(2 kA), written so that it does not vanish in rounding
    b = -2.0 * loss / (flow + root)
    reached, carried = np.exp(-a * length), np.exp(b * length)
    gradient = heat / (heated_length * flow)
    blocked = -np.expm1(-flow * heated_length / conduction)
    slope = gradient * blocked
    warmer = sump - ambient
    determinant = reached * b * carried - a
    A = (warmer * b * carried - slope) / determinant
    B = (reached * slope - a * warmer) / determinant
    wall = ambient + A + B * carried
    along = -np.expm1(-a * length) / a * A + carried_length(b, length) * B
    return HotPipe(
        end=wall + heat / flow - gradient * blocked * conduction / flow,
        to_sump=conduction * (A * a * reached + B * b),
        to_air=loss * along,
    )


def carried_length(rate: Array, length: Array) -> Array:
    """Integral of e^(rate x) over the length: (e^(rate L) - 1)/rate, L where the rate is 0."""
    still = rate == 0.0
    return np.where(still, length, np.expm1(rate * length) / np.where(still, 1.0, rate))


def root_share(
    conduction: Annotated[Array, "W*m/K", "conductivity times section of the tube's wall", "> 0"],
    flow: Annotated[Array, "W/K", "one wick's mass flow times heat capacity", ">= 0"],
    height: Annotated[Array, "m", "from the root of the tube to its lip", ">= 0"],
) -> Annotated[Array, "", "share of the lip's excess temperature that is met at the root"]:
    """Heat that comes down a wick tube against the fuel that goes up: e^(-mc h/kA), exact."""
    share: Array = np.exp(-flow * height / conduction)
    return share


def boiling_point(
    ambient_pressure: Annotated[Array, "bar", "pressure of the atmosphere", "0.7..1.06"] = 1.01325,
    fuel_methanol: Annotated[Array, "", "mass fraction of methanol in the alcohol", "0..0.1"] = 0.0,
) -> Annotated[Array, "degC", "boiling point of the fuel"]:
    """Boiling point of spirit: 78.42044 + 25.33702 x + 2.0443 x^2, x = ln(p/1.01325 bar).

    Fitted to ethanol's equation of state (Schroeder and others 2014) within 0.001 K from 0.7 to
    1.06 bar. Up to 15 % of water moves it by at most 0.5 K (from memory: the azeotrope at 4 %
    boils at 78.15 degC); 10 % of methanol lowers it by some 2 K (from memory).
    """
    bar = within(ambient_pressure, PRESSURE_RANGE)
    x = np.log(bar * (1e5 / STANDARD_ATMOSPHERE))
    methanol = within(fuel_methanol, FUEL_METHANOL)
    return 78.42044 + x * (25.33702 + 2.0443 * x) - BOILING_DROP_METHANOL * methanol


def column_lift(
    height: Annotated[Array, "mm", "level over the base of the hot column"],
    cold: Annotated[Array, "degC", "temperature of the fuel in the sump", "0..90"],
    hot: Annotated[Array, "degC", "temperature of the column", "0..90"],
) -> Annotated[Array, "mm", "rise of the level over the hot column"]:
    """Rise of a hot column beside a cold one: height (rho_cold/rho_hot - 1), hydrostatics.

    rho = 806.3557 - 0.8512632 t + 1.710615e-4 t^2 - 8.81067e-6 t^3, fitted to saturated ethanol
    (Schroeder and others 2014) within 0.004 % from 0 to 90 degC; the fuel's water cancels but for
    a few parts in a hundred of the rise.
    """
    return height * (_pure_density(cold) / _pure_density(hot) - 1.0)


def _pure_density(temperature: Array) -> Array:
    t = within(temperature, (0.0, 90.0))
    return 806.3557 + t * (-0.8512632 + t * (1.710615e-4 - 8.81067e-6 * t))


def fuel_heating(
    burn_rate: Annotated[BurnRate, "> 0"] = 3.0,
    fuel_temperature: FuelTemperature = 20.0,
    fuel_water: FuelWater = 0.06,
    fuel_methanol: FuelMethanol = 0.0,
    ambient_temperature: AmbientTemperature = 20.0,
    ambient_pressure: Annotated[AmbientPressure, "0.7..1.06"] = 1.01325,
    pipe_length: Annotated[PipeLength, "> 0"] = 111.0,
    burner_position: BurnerPosition = 9.0,
    wick_count: WickCount = 1.0,
    wick_pitch: WickPitch = 10.0,
    burner_end: Annotated[
        Array, "mm", "burner pipe beyond the last wick", ">= 0", "read as outside size"
    ] = 6.0,
    pipe_bore: PipeBore = 3.2,
    pipe_wall: PipeWall = 0.4,
    pipe_conductivity: Annotated[
        Array, "W/m/K", "conductivity of the pipe's metal", "> 0", "model: lognormal 8 %"
    ] = 340.0,
    wick_bore: WickBore = 7.0,
    wick_tube_wall: Annotated[WickTubeWall, "> 0"] = 0.4,
    wick_tube_conductivity: Annotated[
        Array, "W/m/K", "conductivity of the wick tubes' metal", "> 0", "model: lognormal 8 %"
    ] = 115.0,
    wick_lip_height: WickLipHeight = 6.6,
    deflector_temperature: Annotated[
        Array, "degC", "temperature of the deflector plate", "-20..1200", "model: +-75 normal"
    ] = 640.0,
    burner_shielding: Annotated[
        Array, "", "share of the heat that a shield keeps off the burner pipe", "0..1"
    ] = 0.0,
    burner_view_factor: Annotated[
        Array, "", "share of what the burner pipe sees that is hot plate", "0..1", "model: 0.2..0.5"
    ] = 0.35,
    flame_contact_heat: Annotated[
        Array, "W", "heat from flames that touch the burner pipe", ">= 0", "model: 0..6 triangular"
    ] = 1.0,
    burner_heat_factor: Annotated[
        Array, "", "doubt of the heat into the pipe", "> 0", "model: lognormal 53 %"
    ] = 1.0,
    pipe_film_coefficient: Annotated[
        Array, "W/m2/K", "heat transfer from the fuel pipe to the air", ">= 0", "model: 5..20"
    ] = 10.0,
    lip_temperature: Annotated[
        Array,
        "degC",
        "temperature of the wick tubes at their lip",
        "0..300",
        "model: 72..100 triangular",
    ] = 78.0,
    breather_height: BreatherHeight = 13.0,
    burner_height: BurnerHeight = 8.0,
    hot_column_depth: Annotated[
        Array,
        "mm",
        "base of the hot column below the burner's axis, less the level below the mouth",
        "model: -2..8 triangular",
    ] = 1.0,
) -> FuelHeating:
    """Temperature of the fuel at the wicks, its margin to boiling, and the level's rise by it.

    * Heat into the burner pipe: G = burner_heat_factor (1 - burner_shielding)
      (0.6 F sigma (T_plate^4 - (340 K)^4) pi D L_f + flame_contact_heat), with F
      ``burner_view_factor`` and L_f from the firebox wall to the pipe's end: burner_position +
      (wick_count - 1) wick_pitch + burner_end. F 0.2 to 0.5, emissivity 0.6: judgement. A
      clear flame off the pipe shines little; one that touches it adds 0 to 6 W.
    * Temperature at the end of the burner pipe: `hot_pipe`, with pipe_length - burner_position
      from the sump to the firebox wall. Copper of bought tube 340 W/(m K), from memory
      (phosphorus-deoxidised; pure copper 390 to 400); a film of 10 W/(m2 K) in still air.
    * Root of a wick tube: `root_share` of the lip's excess over the pipe comes down to it. The
      lip stays at 72 to 78 degC while it is wet, and comes to some 110 dry in the flame.
      Conductivity of the tube: brass 115, copper 347, stainless 15.7 W/(m K); it counts for
      more than a shield does.
    * vapour_margin = `boiling_point` - root_temperature, or - burner_temperature where the pipe is
      hotter than the lips. Below 0 the fuel boils in the pipe, and what is above the boiling
      point is vapour and not temperature. Doubt: lip_temperature
      triangular 72, 78, 100; burner_heat_factor log-normal, 0.5 in the logarithm. Together some
      15 K: read the sign.
    * hot_column_lift: `column_lift` of the breather's mouth over the burner's axis at the root's
      temperature, and of ``hot_column_depth`` more at the burner's; neither hotter than the
      boiling point, and not below 0. The level hangs on this lift and the lift on the level: the
      circle is broken by the heights as drawn. The level stands up to 2.7 mm below the mouth, and
      the pipe may hold hot fuel as far down as its step: ``hot_column_depth`` triangular -2, 1,
      8 mm carries both.

    All fuel is taken to pass the whole burner pipe, as the last wick's does. All results are NaN
    where an argument is outside its range or the pipe does not reach the firebox wall.
    """
    with np.errstate(all="ignore"):
        count = whole_number(wick_count, 1, MOST_WICKS)
        heated = burner_position + (count - 1.0) * wick_pitch + burner_end
        outside = pipe_bore + 2.0 * pipe_wall
        plate = within(deflector_temperature, (-20.0, 1200.0)) + _ZERO_CELSIUS
        shining = (PIPE_EMISSIVITY * STEFAN_BOLTZMANN) * (plate**4 - PIPE_SURFACE**4)
        radiated = burner_view_factor * shining * (1e-6 * np.pi) * outside * heated
        heat = burner_heat_factor * (1.0 - burner_shielding) * (radiated + flame_contact_heat)
        sump = within(fuel_temperature, FUEL_TEMPERATURE)
        mass_flow = (1e-6 / 60.0) * burn_rate * fuel.density(sump, fuel_water)
        flow = HEAT_CAPACITY * mass_flow
        pipe = hot_pipe(
            conduction=1e-6 * np.pi * pipe_wall * (pipe_bore + pipe_wall) * pipe_conductivity,
            flow=flow,
            loss=1e-3 * np.pi * outside * pipe_film_coefficient,
            heat=heat,
            length=1e-3 * (pipe_length - burner_position),
            heated_length=1e-3 * heated,
            sump=sump,
            ambient=within(ambient_temperature, AIR_TEMPERATURE),
        )
        share = root_share(
            1e-6 * np.pi * wick_tube_wall * (wick_bore + wick_tube_wall) * wick_tube_conductivity,
            flow / count,
            1e-3 * wick_lip_height,
        )
        root = pipe.end + (lip_temperature - pipe.end) * share
        boiling = boiling_point(ambient_pressure, fuel_methanol)
        over_axis = np.maximum(breather_height - burner_height, 0.0)
        upper = column_lift(over_axis, sump, np.minimum(root, boiling))
        lower = column_lift(hot_column_depth, sump, np.minimum(pipe.end, boiling))
        lift = np.maximum(upper + lower, 0.0)
        positive = (
            burn_rate, wick_pitch, pipe_bore, pipe_wall, pipe_conductivity, wick_bore,
            wick_tube_wall, wick_tube_conductivity, wick_lip_height, burner_heat_factor,
            breather_height, pipe_length - burner_position, heated,
        )  # fmt: skip
        not_negative = (
            burner_end, burner_shielding, 1.0 - burner_shielding, burner_view_factor,
            1.0 - burner_view_factor, flame_contact_heat, pipe_film_coefficient,
            within(lip_temperature, (0.0, 300.0)),
        )  # fmt: skip
        sound = (smallest(positive) > 0.0) & (smallest(not_negative) >= 0.0)
        spoil = np.where(sound & np.isfinite(root + boiling + lift), 0.0, np.nan)
        return FuelHeating(
            vapour_margin=boiling - np.maximum(root, pipe.end) + spoil,
            root_temperature=root + spoil,
            burner_temperature=pipe.end + spoil,
            burner_heat=heat + spoil,
            heat_to_sump=pipe.to_sump + spoil,
            hot_column_lift=lift + spoil,
        )
