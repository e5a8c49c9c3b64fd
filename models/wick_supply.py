"""What a wick holds, lifts and stores: its hold against air, its supply, and a shut valve.

A packed wick is a bundle of fine channels. They draw fuel up to the flame against gravity and
against their own resistance, they hold air out of the pipe below as long as no hole beside the
packing is wide enough to let it in, and they store fuel on which the flame goes on for a while.
"""

import math
from typing import Annotated, NamedTuple

import numpy as np

from models.arrays import STANDARD_GRAVITY, Array
from models.fuel import density, surface_tension, viscosity
from models.quantities import (
    BreatherBore,
    BurnRate,
    FuelWater,
    PipeBore,
    PipeLength,
    SumpFreeArea,
    TankHead,
    WickBore,
    WickCount,
    WickLipHeight,
    WickStarveMargin,
)
from models.ranges import ANY_NOT_NEGATIVE, ANY_POSITIVE, SHARE, within
from models.wicks import MOST_WICKS, whole_number

PACKING_RANGE = (0.02, 0.7)
"""Shares of a wick tube that fibres may fill; parallel fibres touch at 0.785."""

LIT_RANGE = (1e-6, 1.0)

_GEBART_SQUARE = 57.0  # shape constant of a square array
_MM = 1e-3  # m
_UM = 1e-6  # m
_ML_PER_MIN = 1e-6 / 60.0  # m3/s
_ML = 1e-3  # ml in 1 mm3


class WickSupply(NamedTuple):
    """What the wicks carry and store; every field has the shape of the arguments together."""

    wick_supply_ratio: Annotated[Array, "", "most fuel that the wicks can lift, over burn rate"]
    wick_lift: Annotated[Array, "mm", "top of the wick over the lowest level, burning"]
    wick_fuel: Annotated[Array, "ml", "fuel held in all the wicks"]
    minutes_after_shut: Annotated[
        Array, "min", "from shutting the fuel valve until a first wick goes out"
    ]


def slot_hold(
    slot_width: Annotated[Array, "mm", "width of a long slot beside the wick", "> 0"] = 0.5,
    fuel_temperature: Annotated[Array, "degC", "temperature of the fuel", "0..60"] = 20.0,
    fuel_water: Annotated[Array, "", "mass fraction of water in the fuel", "0..0.15"] = 0.06,
) -> Annotated[Array, "mm", "head that holds air out of a wet slot"]:
    """Bubble point of a long slot that the fuel wets: 2 sigma/(rho g c); mm of fuel."""
    rho = density(fuel_temperature, fuel_water)
    sigma = surface_tension(fuel_temperature, fuel_water) * 1e-3
    return 2.0 * sigma / (rho * STANDARD_GRAVITY * within(slot_width, ANY_POSITIVE) * _MM) / _MM


def hole_hold(
    hole_diameter: Annotated[Array, "mm", "diameter of a hole through the wick", "> 0"] = 1.0,
    fuel_temperature: Annotated[Array, "degC", "temperature of the fuel", "0..60"] = 20.0,
    fuel_water: Annotated[Array, "", "mass fraction of water in the fuel", "0..0.15"] = 0.06,
) -> Annotated[Array, "mm", "head that holds air out of a wet hole"]:
    """Bubble point of a round hole that the fuel wets: 4 sigma/(rho g d); mm of fuel.

    Twice that of a slot as wide. The widest hole of a wick decides: packing alone would hold
    hundreds of mm (`capillary_pressure`), a slot of 1 mm beside it 6 mm.
    """
    return 2.0 * slot_hold(hole_diameter, fuel_temperature, fuel_water)


def permeability(
    fibre_radius: Annotated[Array, "um", "radius of the fibres", "> 0"] = 7.5,
    packing_fraction: Annotated[Array, "", "share of the tube that fibres fill", "0.02..0.7"] = 0.3,
) -> Annotated[Array, "m2", "permeability of the packing along its fibres"]:
    """Permeability of parallel fibres to flow along them: 8 R^2 (1 - V)^3/(57 V^2).

    Gebart 1992, J. Compos. Mater. 26, 1100, square array; quoted from memory. Made for dense
    bundles: it is 0.8, 1.6, 2.3, 4.0 times the exact axial flow through a square array at V 0.7,
    0.5, 0.3, 0.1 (a test solves that anew). Fibres that lie across the flow make the truth lower
    still, an uneven packing higher; ``packing_factor`` of `wick_supply` carries it all.
    """
    R = within(fibre_radius, ANY_POSITIVE) * _UM
    V = within(packing_fraction, PACKING_RANGE)
    open_share = (1.0 - V) / V
    return 8.0 / _GEBART_SQUARE * R * R * open_share * open_share * (1.0 - V)


def capillary_pressure(
    fibre_radius: Annotated[Array, "um", "radius of the fibres", "> 0"] = 7.5,
    packing_fraction: Annotated[Array, "", "share of the tube that fibres fill", "0.02..0.7"] = 0.3,
    fibre_wetting: Annotated[
        Array, "", "cosine of the angle at which fuel meets a fibre", "0..1"
    ] = 0.95,
    fuel_temperature: Annotated[Array, "degC", "temperature of the fuel", "0..60"] = 60.0,
    fuel_water: Annotated[Array, "", "mass fraction of water in the fuel", "0..0.15"] = 0.06,
) -> Annotated[Array, "Pa", "suction of the packing"]:
    """Suction of a packing along its fibres: 2 sigma cos(theta) V/(R (1 - V)).

    Exact for parallel fibres, by the energy of wetting: a front that moves by dx wets 2 V/R dx
    of fibre and fills 1 - V of the room.
    """
    sigma = surface_tension(fuel_temperature, fuel_water) * 1e-3
    R = within(fibre_radius, ANY_POSITIVE) * _UM
    V = within(packing_fraction, PACKING_RANGE)
    return 2.0 * sigma * within(fibre_wetting, SHARE) * V / (R * (1.0 - V))


def wick_capacity(
    wick_bore: Annotated[Array, "mm", "inside diameter of the wick tube", "> 0"] = 7.0,
    wick_length: Annotated[Array, "mm", "packing from the fuel to the flame", "> 0"] = 15.0,
    wick_lift: Annotated[Array, "mm", "flame end of the wick over the level"] = 10.0,
    fibre_radius: Annotated[Array, "um", "radius of the fibres", "> 0"] = 7.5,
    packing_fraction: Annotated[Array, "", "share of the tube that fibres fill", "0.02..0.7"] = 0.3,
    packing_factor: Annotated[Array, "", "permeability over that of parallel fibres", "> 0"] = 0.5,
    fibre_wetting: Annotated[
        Array, "", "cosine of the angle at which fuel meets a fibre", "0..1"
    ] = 0.95,
    fuel_temperature: Annotated[Array, "degC", "temperature of the fuel", "0..60"] = 60.0,
    fuel_water: Annotated[Array, "", "mass fraction of water in the fuel", "0..0.15"] = 0.06,
) -> Annotated[Array, "ml/min", "most fuel that one wick can lift"]:
    """Most that one wick lifts: K A (p_c - rho g lift)/(mu l), Darcy's law; 0 beyond its rise.

    Holds for wetting liquids in wire cloth (Fries, Odic and Dreyer 2007, abstract). K is
    ``packing_factor`` times `permeability`, p_c that of `capillary_pressure`, A the tube's bore.
    """
    K = within(packing_factor, ANY_POSITIVE) * permeability(fibre_radius, packing_fraction)
    suction = capillary_pressure(
        fibre_radius, packing_fraction, fibre_wetting, fuel_temperature, fuel_water
    )
    lifted = density(fuel_temperature, fuel_water) * (STANDARD_GRAVITY * _MM) * wick_lift
    bore = within(wick_bore, ANY_POSITIVE) * _MM
    length = within(wick_length, ANY_POSITIVE) * _MM
    resistance = viscosity(fuel_temperature, fuel_water) * 1e-3 * length
    flow = K * (0.25 * math.pi) * bore * bore * np.maximum(suction - lifted, 0.0) / resistance
    return flow / _ML_PER_MIN


def burning_on(
    sump_area: Annotated[Array, "ml/mm", "fuel in 1 mm of the sump's free surface", ">= 0"],
    level: Annotated[Array, "mm", "level in the sump when the valve is shut"],
    stop: Annotated[Array, "mm", "level at which air gets into the pipe"],
    pipe_fuel: Annotated[Array, "ml", "fuel of the pipe that still reaches the wicks", ">= 0"],
    wick_fuel: Annotated[Array, "ml", "fuel held in all the wicks", ">= 0"],
    burn_rate: Annotated[Array, "ml/min", "fuel burnt by all wicks together", "> 0"],
    flame_out_share: Annotated[Array, "", "share of the burn at which a flame dies", "0..1"],
    breather_fuel: Annotated[Array, "ml", "fuel that stands in the breather", ">= 0"] = 0.0,
) -> Annotated[Array, "min", "from shutting the valve until a first wick goes out"]:
    """Minutes a burner goes on without feed: V_1/b + V_w/b ln(1/f).

    V_1 = sump_area (level - stop) + pipe_fuel + breather_fuel burns at the full rate b. Then
    the wicks burn what they hold, V_w, the rate falling with it, b V/V_w, until it is the share
    f of the whole. Below the stop already, the sump gives nothing.
    """
    free = within(sump_area, ANY_NOT_NEGATIVE) * np.maximum(level - stop, 0.0)
    at_full = free + within(pipe_fuel, ANY_NOT_NEGATIVE) + within(breather_fuel, ANY_NOT_NEGATIVE)
    share = within(flame_out_share, LIT_RANGE)
    dying = within(wick_fuel, ANY_NOT_NEGATIVE) * np.log(share)
    minutes: Array = (at_full - dying) / within(burn_rate, ANY_POSITIVE)
    return minutes


def wick_supply(
    wick_count: WickCount = 1.0,
    wick_bore: WickBore = 7.0,
    wick_length: Annotated[
        Array,
        "mm",
        "packing of a wick from its foot in the fuel to the flame",
        "> 0",
        "read as outside size",
    ] = 15.0,
    wick_protrusion: Annotated[
        Array, "mm", "top of the wick above its lip", ">= 0", "read as height"
    ] = 3.0,
    packing_fraction: Annotated[
        Array, "", "share of the tube that fibres fill", "0.02..0.7", "build: 0.2..0.45 triangular"
    ] = 0.3,
    fibre_radius: Annotated[Array, "um", "radius of the wick's fibres", "> 0"] = 7.5,
    packing_factor: Annotated[
        Array,
        "",
        "permeability of the wick over that of parallel fibres",
        "> 0",
        "model: lognormal 53 %",
    ] = 0.5,
    fibre_wetting: Annotated[
        Array, "", "cosine of the angle at which fuel meets a fibre", "0..1", "model: 0.85..1"
    ] = 0.95,
    wick_fuel_temperature: Annotated[
        Array, "degC", "temperature of the fuel in the wicks", "0..60", "model: 40..60"
    ] = 60.0,
    fuel_water: FuelWater = 0.06,
    wick_lip_height: WickLipHeight = 6.6,
    pipe_bore: PipeBore = 3.2,
    wick_starve_margin: WickStarveMargin = 0.5,
    starve_margin_all: Annotated[
        Array, "mm", "how far the level is above where the first wick starves, burning", "model"
    ] = 1.0,
    level_band: Annotated[
        Array, "mm", "highest less lowest level in the sump", ">= 0", "model: lognormal 20 %"
    ] = 2.5,
    shut_moment: Annotated[
        Array,
        "",
        "where in the band the level stands when the valve is shut, 1 highest",
        "0..1",
        "running: 0..1",
    ] = 0.5,
    sump_free_area: SumpFreeArea = 4.0,
    pipe_length: Annotated[PipeLength, ">= 0"] = 111.0,
    pipe_share: Annotated[
        Array,
        "",
        "share of the pipe's fuel that reaches the wicks once air is in it",
        "0..1",
        "model: 0.4..1",
    ] = 0.7,
    breather_bore: BreatherBore = 5.0,
    tank_head: Annotated[TankHead, ">= 0"] = 30.0,
    burn_rate: Annotated[BurnRate, "> 0"] = 3.0,
    flame_out_share: Annotated[
        Array, "", "share of its burn at which a flame dies", "0.01..1", "model: 0.2..0.5"
    ] = 0.3,
) -> WickSupply:
    """What the wicks can lift and hold, and the minutes they burn on after the valve is shut.

    Supply: `wick_capacity` of each wick at wick_lift, the top of the wick over the lowest level
    at the first wick, wick_lip_height + wick_protrusion - pipe_bore/2 - wick_starve_margin.
    What the other wicks' places and lips change in it, a mm or so, is nothing beside a suction
    of some hundred mm. Seldom the limit unless the wick is packed tight.

    Valve shut: `burning_on`, the level falling from where it stood in its band to where air
    gets into the pipe (starve_margin_all of `models.wicks`, which says which wick goes out
    first), with what the pipe and the breather hold. The breather's column, its bore times
    tank_head, falls into the sump once air is in. wick_fuel = n A l (1 - V), all pores full.
    That a burner goes on for a minute or more is common practice, no source.

    Doubts: packing_factor, lognormal 0.5 in log about 0.5 (`permeability` is up to four times
    too high for loose parallel fibres, fibres across make 0.3 of it, gaps between tufts
    raise it; published felts and meshes have 3e-11 to 3e-10 m2); flame_out_share, 0.2 to 0.5
    (judgement); pipe_share, 0.4 to 1 (judgement); shut_moment, uniform. fibre_radius in um: glass
    4.5, ceramic 1.5, cotton 7.5, wire wool 20. Left out: fuel boiling in the wick, wicks that
    are not full, and neighbours that share what is left, under 0.1 ml.

    Arguments broadcast. NaN in all results where one is outside its range or not finite.
    """
    with np.errstate(all="ignore"):
        n = whole_number(wick_count, 1, MOST_WICKS)
        bore, length = within(wick_bore, ANY_POSITIVE), within(wick_length, ANY_POSITIVE)
        crown = 0.5 * within(pipe_bore, ANY_POSITIVE)
        lip = within(wick_lip_height - crown, ANY_POSITIVE)
        lift = lip + within(wick_protrusion, ANY_NOT_NEGATIVE) - wick_starve_margin
        capacity = n * wick_capacity(
            bore,
            length,
            lift,
            fibre_radius,
            packing_fraction,
            packing_factor,
            fibre_wetting,
            wick_fuel_temperature,
            fuel_water,
        )
        ratio = capacity / within(burn_rate, ANY_POSITIVE)

        quarter_circle = 0.25 * math.pi * _ML
        pores = 1.0 - within(packing_fraction, PACKING_RANGE)
        held = n * quarter_circle * bore * bore * length * pores
        band = within(level_band, ANY_NOT_NEGATIVE) * within(shut_moment, SHARE)
        pipe = quarter_circle * pipe_bore * pipe_bore * within(pipe_length, ANY_NOT_NEGATIVE)
        breather = within(breather_bore, ANY_POSITIVE)
        column = quarter_circle * breather * breather * within(tank_head, ANY_NOT_NEGATIVE)
        minutes = burning_on(
            0.1 * within(sump_free_area, ANY_POSITIVE),  # 1 cm2 holds 0.1 ml in 1 mm
            starve_margin_all + band,
            0.0,
            pipe * within(pipe_share, SHARE),
            held,
            burn_rate,
            flame_out_share,
            column,
        )
        spoil = np.where(np.isfinite(ratio + lift + minutes + starve_margin_all), 0.0, np.nan)
        return WickSupply(
            wick_supply_ratio=(ratio + spoil)[()],
            wick_lift=(lift + spoil)[()],
            wick_fuel=(held + spoil)[()],
            minutes_after_shut=(minutes + spoil)[()],
        )
