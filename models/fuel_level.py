"""Level at the wicks of a closed tank that breathes through its sump, at rest and burning.

The tank feeds the sump; a breather runs from its mouth in the sump up to the tank's air space.
While the mouth is under fuel no air can follow, the tank falls below atmospheric pressure and
the feed stops (Mariotte's bottle). Air alone holds the level, so the doubt about how it enters
past the meniscus at the mouth is the doubt about the level.
"""

import math
from typing import Annotated, NamedTuple

import numpy as np

from models.arrays import STANDARD_ATMOSPHERE, STANDARD_GRAVITY, Array
from models.fuel import density, surface_tension, within

NOT_NEGATIVE = (0.0, math.inf)
POSITIVE = (math.ulp(0.0), math.inf)
SCARF_RANGE = (0.0, 60.0)
"""Scarf angles of the breather's mouth, measured from a square cut, deg."""

SCARF_RADIUS_FACTOR_RANGE = (1.0, 1.6)
CANT_RANGE = (-45.0, 45.0)
"""Cant, deg: far past where an engine falls over, short of where the tangent runs away."""

BOND_NUMBER_HELD = 5.783186
"""Square of the first zero of the Bessel function J0: above it a mouth holds no head at all."""

BOND_NUMBER_RISING = 0.842
"""Bond number above which a long bubble rises by itself in a filled tube (Bretherton 1961)."""

_MM = 1e-3  # m
_ML_PER_MIN = 1e-6 / 60.0  # m3/s


class FuelLevel(NamedTuple):
    """What the level does at the wicks; heights above the inside of the sump floor."""

    flood_margin: Annotated[Array, "mm", "wick lip less the highest level at the wicks, unlit"]
    starve_margin: Annotated[
        Array, "mm", "lowest level at the wicks, burning, less the crown of the burner pipe"
    ]
    level_band: Annotated[Array, "mm", "highest less lowest level in the sump"]
    level_high_at_wick: Annotated[Array, "mm", "highest level at the wicks, unlit"]
    level_low_at_wick: Annotated[Array, "mm", "lowest level at the wicks, burning"]
    breather_bond_number: Annotated[
        Array, "", "below 0.842 no bubble rises in the breather: fuel in it must be pushed out"
    ]


def entry_pressure_factor(
    bond_number: Annotated[Array, "", "rho g r^2/sigma of the mouth", ">= 0"] = 0.5,
) -> Annotated[Array, "", "K: most pressure the meniscus bears, in sigma/r"]:
    """Pressure K sigma/r at which air breaks into a tube that is full of liquid, mouth down.

    The meniscus hangs on the inner rim and bulges up into the liquid, so gravity helps it in:
    K is the greatest of 2/b - Bo h over all axisymmetric Young-Laplace shapes (b radius of
    curvature at the top, h height of the top, both in r). Fitted to our own solution as

    K = (1 - y)^(3/2) (2 - 0.147921 Bo + 0.021868 Bo^2 - 3.1848e-3 Bo^3 + 2.2275e-4 Bo^4),
    y = Bo/5.783186

    within 0.0002 for all Bo >= 0 (0.01 % of its greatest value). Both ends are exact:
    2 - 2 Bo/3 for small Bo, and nothing from Bo = j_{0,1}^2 = 5.783 on, where a flat face that
    is held at the rim, with liquid above and constant pressure below, falls by itself. A face
    that is free to slide at the rim tilts and lets air in from Bo = j'_{1,1}^2 = 3.39 on:
    at most 0.44 sigma/r is in doubt there, and `air_entry_factor` has to carry it.
    """
    bond = np.minimum(within(bond_number, NOT_NEGATIVE), BOND_NUMBER_HELD)
    held = 1.0 - bond / BOND_NUMBER_HELD
    series = 2.0 + bond * (-0.147921 + bond * (0.021868 + bond * (-3.1848e-3 + bond * 2.2275e-4)))
    factor: Array = held * np.sqrt(held) * series
    return factor


def bond_number_at_1_mm(
    fuel_temperature: Array = 20.0, fuel_water: Array = 0.0
) -> Annotated[Array, "", "rho g r^2/sigma of a mouth 1 mm in radius"]:
    """Bond number by which others go as the square of their radius in mm."""
    gravity = density(fuel_temperature, fuel_water) * (STANDARD_GRAVITY * _MM * _MM / 1e-3)
    return gravity / surface_tension(fuel_temperature, fuel_water)


def breather_mouth(
    breather_height: Array,
    breather_bore: Array,
    breather_scarf: Array,
    scarf_radius_factor: Array,
    air_entry_factor: Array,
    bond_at_1_mm: Array,
) -> tuple[Array, Array]:
    """Level at which fuel covers the mouth, and how far below it air enters, both in mm.

    Arguments as in `fuel_level`, where the equations stand, and `bond_number_at_1_mm`. NaN
    where one is outside its range.
    """
    bore = within(breather_bore, POSITIVE)
    slant: Array = np.tan(np.deg2rad(within(breather_scarf, SCARF_RANGE)))
    widening = (within(scarf_radius_factor, SCARF_RADIUS_FACTOR_RANGE) - 1.0) * slant
    radius = (0.5 * bore) * (1.0 + widening)
    bond_over_radius = bond_at_1_mm * radius
    borne = entry_pressure_factor(bond_over_radius * radius) / bond_over_radius
    depression = within(air_entry_factor, NOT_NEGATIVE) * borne
    return within(breather_height, POSITIVE) + bore * slant, depression


def wick_window(
    burner_height: Array, pipe_bore: Array, wick_lip_height: Array
) -> tuple[Array, Array]:
    """Heights of the wick lip and of the crown of the burner pipe above the sump floor, mm.

    The lip is NaN where it is not above the crown, both where there is no bore.
    """
    radius = 0.5 * within(pipe_bore, POSITIVE)
    crown = burner_height + radius
    return crown + within(wick_lip_height - radius, POSITIVE), crown


def overshoot_height(
    fuel_density: Array, tank_head: Array, tank_air_volume: Array, sump_free_area: Array
) -> Annotated[Array, "mm", "rise of the sump while the tank's vacuum is rebuilt"]:
    """Rise V_air rho g H/(p_atm A_free): Boyle to first order, 0.24 % low at H = 30 mm.

    Density in kg/m3, head in mm, volume in ml, area in cm2; none is checked.
    """
    # rho g H/p_atm of volume over area; 1 ml/cm2 is 10 mm, and the head is in mm.
    per_mm = fuel_density * (10.0 * STANDARD_GRAVITY * _MM / STANDARD_ATMOSPHERE)
    return per_mm * tank_head * tank_air_volume / sump_free_area


def shift_at_wick(
    reach: Array, lateral: Array, grade: Array, acceleration: Array, cant: Array
) -> Annotated[Array, "mm", "level at the wicks above that at the breather's mouth, at rest"]:
    """Shift reach (grade/100 + acceleration/g) + lateral tan(cant); see `fuel_level`.

    Distances in mm, grade in %, acceleration in m/s2, cant in deg, NaN outside `CANT_RANGE`.
    """
    lean: Array = np.tan(np.deg2rad(within(cant, CANT_RANGE)))
    return reach * (0.01 * grade + acceleration * (1.0 / STANDARD_GRAVITY)) + lateral * lean


def velocity_head(
    burn_rate: Array, pipe_bore: Array
) -> Annotated[Array, "mm", "velocity head of the fuel in the burner pipe"]:
    """Velocity head (burn_rate/bore area)^2/2g; ml/min and mm, NaN where one is impossible."""
    bore = within(pipe_bore, POSITIVE)
    flow = within(burn_rate, NOT_NEGATIVE) * (_ML_PER_MIN / (0.25 * math.pi * _MM * _MM))
    velocity = flow / bore / bore
    return velocity * velocity * (0.5 / STANDARD_GRAVITY / _MM)


def fuel_level(
    breather_height: Annotated[
        Array, "mm", "lowest point of the breather's mouth above the sump floor", "> 0"
    ] = 12.0,
    breather_bore: Annotated[Array, "mm", "inside diameter of the breather", "> 0"] = 5.0,
    breather_scarf: Annotated[
        Array, "deg", "slant of the breather's mouth from a square cut", "0..60"
    ] = 0.0,
    scarf_radius_factor: Annotated[
        Array, "", "radius over which air enters a mouth cut at 45 deg, in bore radii", "1..1.6"
    ] = 1.2,
    air_entry_factor: Annotated[
        Array, "", "head that holds air out, over that of a clean wetted rim", ">= 0"
    ] = 0.8,
    burner_height: Annotated[Array, "mm", "axis of the burner pipe above the sump floor"] = 8.0,
    pipe_bore: Annotated[Array, "mm", "inside diameter of the burner pipe", "> 0"] = 3.2,
    wick_lip_height: Annotated[
        Array, "mm", "lip of the wick tubes above the axis of the burner pipe", "> 0"
    ] = 6.6,
    reach: Annotated[
        Array, "mm", "distance from the breather's mouth to the wicks, along the engine"
    ] = 95.0,
    lateral: Annotated[
        Array, "mm", "distance from the breather's mouth to the wicks, across the engine"
    ] = 0.0,
    grade: Annotated[
        Array, "%", "gradient of the track, positive if it raises the level at the wicks"
    ] = 0.0,
    acceleration: Annotated[
        Array, "m/s2", "acceleration, positive if it raises the level at the wicks"
    ] = 0.0,
    cant: Annotated[
        Array, "deg", "sideways lean, positive if it raises the level at the wicks", "-45..45"
    ] = 0.0,
    fuel_temperature: Annotated[
        Array, "degC", "temperature of the fuel in the sump", "0..60"
    ] = 20.0,
    fuel_water: Annotated[Array, "", "mass fraction of water in the fuel", "0..0.15"] = 0.06,
    burn_rate: Annotated[Array, "ml/min", "fuel burnt by all wicks together", ">= 0"] = 3.0,
    tank_air_volume: Annotated[Array, "ml", "air space of the tank", ">= 0"] = 20.0,
    tank_head: Annotated[
        Array, "mm", "fuel surface in the tank above that in the sump", ">= 0"
    ] = 30.0,
    sump_free_area: Annotated[
        Array, "cm2", "free surface of the sump and what stands at its level", "> 0"
    ] = 4.0,
    pipe_head_loss: Annotated[
        Array, "mm", "head lost in the fuel pipe while burning, in mm of fuel", ">= 0"
    ] = 0.5,
) -> FuelLevel:
    """Highest and lowest level at the wicks, and the margins to flooding and to starving.

    Plain hydrostatics (Mariotte 1686), lengths in mm, s the scarf angle, r = breather_bore/2:

    * mouth = breather_height + breather_bore tan s: air passes a slanted mouth at its upper
      lip, over the radius r_e = r (1 + (scarf_radius_factor - 1) tan s);
    * lowest in the sump: the mouth less the head its meniscus bears,
      air_entry_factor K(Bo) sigma/(r_e rho g), Bo = rho g r_e^2/sigma (`entry_pressure_factor`);
    * highest in the sump: the mouth and what still runs in while the tank's vacuum rho g H is
      rebuilt, V_air rho g H/(p_atm A_free) (Boyle to first order, 0.24 % low at H = 30 mm;
      more than happens if the vacuum does not break down whole);
    * at the wicks both shift by reach (grade/100 + acceleration/g) + lateral tan(cant),
      heights square to the frame: exact for each alone; 4 % grade makes the acceleration's
      part 0.08 % larger, 5 deg of cant the other two 0.4 %, and neither is counted;
    * burning, the lowest falls further by pipe_head_loss and by the velocity head of the fuel
      that passes the first wick, (burn_rate/bore area)^2/2g: 2 um in a 3.2 mm bore, 0.2 mm in
      1 mm. Apart from it burn_rate acts only through the pipe_head_loss of another model.

    flood_margin + starve_margin + level_band + both losses is the window, lip less crown.

    Left out: fuel clinging to the outside of the breather, slosh, the fuel column in a
    breather of Bond number below 0.842 that has to be pushed up whole, and tank air that
    warms (`tank_surge`). Doubt: air_entry_factor 0.5 to 1 with 0.8 likeliest (contact angle, burr,
    rim radius), which also carries that of sigma, 2 %: both multiply the same head;
    scarf_radius_factor 1 to 1.6.

    Arguments broadcast, and every result has the shape they give. A point is NaN in all
    results where an argument is outside its range or the lip is not above the crown.
    """
    with np.errstate(all="ignore"):
        lip, crown = wick_window(burner_height, pipe_bore, wick_lip_height)
        bond_at_1_mm = bond_number_at_1_mm(fuel_temperature, fuel_water)
        mouth, depression = breather_mouth(
            breather_height,
            breather_bore,
            breather_scarf,
            scarf_radius_factor,
            air_entry_factor,
            bond_at_1_mm,
        )
        overshoot = overshoot_height(
            density(fuel_temperature, fuel_water),
            within(tank_head, NOT_NEGATIVE),
            within(tank_air_volume, NOT_NEGATIVE),
            within(sump_free_area, POSITIVE),
        )
        mouth_at_wick = mouth + shift_at_wick(reach, lateral, grade, acceleration, cant)
        high = mouth_at_wick + overshoot
        losses = within(pipe_head_loss, NOT_NEGATIVE) + velocity_head(burn_rate, pipe_bore)
        low = mouth_at_wick - depression - losses
        flood, starve = lip - high, low - crown
        # Every argument is in one of the two, so this one test finds every bad point.
        sound = np.isfinite(flood + starve)

        def masked(result: Array) -> Array:
            kept: Array = np.where(sound, result, np.nan)[()]
            return kept

        return FuelLevel(
            flood_margin=masked(flood),
            starve_margin=masked(starve),
            level_band=masked(overshoot + depression),
            level_high_at_wick=masked(high),
            level_low_at_wick=masked(low),
            breather_bond_number=masked(bond_at_1_mm * (0.25 * breather_bore * breather_bore)),
        )
