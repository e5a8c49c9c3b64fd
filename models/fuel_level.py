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
from models.breather import (
    bond_number_at_1_mm,
    breather_mouth,
)
from models.fuel import density
from models.quantities import (
    Acceleration,
    AirEntryFactor,
    BreatherBore,
    BreatherChamfer,
    BreatherHeight,
    BreatherScarf,
    BreatherWall,
    BurnerHeight,
    BurnRate,
    Cant,
    ClingFactor,
    FuelTemperature,
    FuelWater,
    Grade,
    HotColumnLift,
    Lateral,
    OutletHeight,
    OutletReach,
    PipeBore,
    PipeHeadLoss,
    Reach,
    RecedingAngle,
    ScarfClosing,
    ScarfRadiusFactor,
    SloshAmplitude,
    SumpFreeArea,
    TankAirVolume,
    TankHead,
    WickHold,
    WickLipHeight,
)
from models.ranges import ANY_NOT_NEGATIVE, ANY_POSITIVE, LEAN, masked_whole, within

_MM = 1e-3  # m
_ML_PER_MIN = 1e-6 / 60.0  # m3/s


class FuelLevel(NamedTuple):
    """What the level does at the wicks; heights above the inside of the sump floor."""

    flood_margin: Annotated[Array, "mm", "wick lip less the highest level at the first wick"]
    starve_margin: Annotated[
        Array, "mm", "what is left before the pipe draws air, burning, at the worse of its ends"
    ]
    wick_starve_margin: Annotated[
        Array, "mm", "lowest level at the first wick, burning, less the crown of the burner pipe"
    ]
    sump_starve_margin: Annotated[
        Array, "mm", "lowest level at the outlet in the sump less the crown of the outlet"
    ]
    level_band: Annotated[Array, "mm", "highest less lowest level in the sump"]
    level_high_at_wick: Annotated[Array, "mm", "highest level at the first wick"]
    level_low_at_wick: Annotated[Array, "mm", "lowest level at the first wick, burning"]
    breather_bond_number: Annotated[
        Array, "", "below 0.842 no bubble rises in the breather: fuel in it must be pushed out"
    ]
    inner_depression: Annotated[
        Array, "mm", "level below the mouth that the face in the breather's bore bears"
    ]
    outer_depression: Annotated[
        Array, "mm", "level below the mouth at which the ring on the outer rim lets go"
    ]
    closing_depth: Annotated[
        Array, "mm", "level below the mouth at which fuel on the breather's side shuts it"
    ]


def wick_window(
    burner_height: Array, pipe_bore: Array, wick_lip_height: Array
) -> tuple[Array, Array]:
    """Heights of the wick lip and of the crown of the burner pipe above the sump floor, mm.

    The lip is NaN where it is not above the crown, both where there is no bore.
    """
    radius = 0.5 * within(pipe_bore, ANY_POSITIVE)
    crown = burner_height + radius
    return crown + within(wick_lip_height - radius, ANY_POSITIVE), crown


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

    Distances in mm, grade in %, acceleration in m/s2, cant in deg, NaN outside `LEAN`.
    """
    lean: Array = np.tan(np.deg2rad(within(cant, LEAN)))
    return reach * (0.01 * grade + acceleration * (1.0 / STANDARD_GRAVITY)) + lateral * lean


def velocity_head(
    burn_rate: Array, pipe_bore: Array
) -> Annotated[Array, "mm", "velocity head of the fuel in the burner pipe"]:
    """Velocity head (burn_rate/bore area)^2/2g; ml/min and mm, NaN where one is impossible."""
    bore = within(pipe_bore, ANY_POSITIVE)
    flow = within(burn_rate, ANY_NOT_NEGATIVE) * (_ML_PER_MIN / (0.25 * math.pi * _MM * _MM))
    velocity = flow / bore / bore
    return velocity * velocity * (0.5 / STANDARD_GRAVITY / _MM)


def fuel_level(
    breather_height: BreatherHeight = 13.0,
    breather_bore: BreatherBore = 5.0,
    breather_wall: BreatherWall = 0.5,
    breather_scarf: BreatherScarf = 0.0,
    breather_chamfer: BreatherChamfer = 0.0,
    scarf_radius_factor: ScarfRadiusFactor = 1.2,
    scarf_closing: ScarfClosing = 0.6,
    air_entry_factor: AirEntryFactor = 0.8,
    cling_factor: ClingFactor = 0.9,
    receding_angle: RecedingAngle = 5.0,
    slosh_amplitude: SloshAmplitude = 0.0,
    burner_height: BurnerHeight = 8.0,
    outlet_height: OutletHeight = 8.0,
    pipe_bore: PipeBore = 3.2,
    wick_lip_height: WickLipHeight = 6.6,
    wick_hold: WickHold = 2.0,
    reach: Reach = 95.0,
    outlet_reach: OutletReach = 0.0,
    lateral: Lateral = 0.0,
    grade: Grade = 0.0,
    acceleration: Acceleration = 0.0,
    cant: Cant = 0.0,
    fuel_temperature: FuelTemperature = 20.0,
    fuel_water: FuelWater = 0.06,
    burn_rate: Annotated[BurnRate, ">= 0"] = 3.0,
    hot_column_lift: HotColumnLift = 0.0,
    tank_air_volume: TankAirVolume = 20.0,
    tank_head: Annotated[TankHead, ">= 0"] = 30.0,
    sump_free_area: SumpFreeArea = 4.0,
    pipe_head_loss: PipeHeadLoss = 0.5,
) -> FuelLevel:
    """Highest and lowest level at the first wick, and the margins to flooding and to starving.

    Plain hydrostatics (Mariotte 1686), lengths in mm:

    * lowest in the sump: the level at which air enters the breather, below its mouth by
      inner_depression or outer_depression, whichever is more (`models.breather`);
    * highest in the sump: the level at which fuel shuts the mouth again, closing_depth below it,
      and what still runs in while the tank's vacuum rho g H is rebuilt,
      V_air rho g H/(p_atm A_free) (Boyle to first order, 0.24 % low at H = 30 mm; more than
      happens if the vacuum does not break down whole). The column that the vacuum draws up the
      breather takes nothing from it: the valve runs on for it, and what the sump gains is what
      the enclosed air has grown by;
    * at the wicks both shift by reach (grade/100 + acceleration/g) + lateral tan(cant),
      heights square to the frame: exact for each alone; 4 % grade makes the acceleration's
      part 0.08 % larger, 5 deg of cant the other two 0.4 %, and neither is counted. At the
      outlet by outlet_reach instead of reach;
    * burning, the level at the wicks is lower by pipe_head_loss and by the velocity head of the
      fuel that passes the first wick, (burn_rate/bore area)^2/2g: 2 um in a 3.2 mm bore, 0.2 mm
      in 1 mm. It is higher by hot_column_lift. Apart from the velocity head burn_rate acts only
      through the results of other models.

    flood_margin is the lip less the highest level, unlit or, if the lift is more than the
    losses, lit. starve_margin is the smaller of wick_starve_margin + wick_hold and
    sump_starve_margin: a full pipe whose wicks are wet is a siphon, which goes on below the
    crown until air breaks through the packing, but at the sump nothing holds it off. With no
    lift, flood_margin + wick_starve_margin + level_band + both losses is the window, lip less
    crown.

    **Which breather.** At 20 degC, all factors at their likeliest and no air in the tank, the
    band in mm of a breather with a wall of 0.5 mm:

    ========  ====  ====  ====  ====  ====  ====
    bore, mm  2     2.5   3.2   4     5     6
    square    4.12  3.08  2.18  2.31  2.43  2.52
    cut 45    -     -     0.99  1.04  1.09  1.12
    ========  ====  ====  ====  ====  ====  ====

    The face in the bore governs below about 3.2 mm, the ring on the outer rim above: a wider
    square breather is no steadier. Of square ends choose 3 to 3.5 mm with a thin wall; better,
    4 to 5 mm (Bond number above 0.842, so that fuel in it runs out by itself) cut at 30 to 45
    deg, its mouth set higher by what it now lets go below it (2.2 mm and the slant). With
    all doubts drawn, nine in ten bands of 4 mm lie in 0.2 to 1.5 mm so cut, in 1.7 to 2.5
    square. That rests on closing_depth, which was not solved. A bevel outside takes 0.1 mm off.
    Keep its side 3 mm clear of any wall (judgement).

    Doubts, as arguments: air_entry_factor 0.5 to 1 with 0.8 likeliest (contact angle, burr,
    rim radius), which also carries that of sigma, 2 %; cling_factor 0.6 to 1, 0.9 likeliest
    (rim, an end out of level, vibration: judgement); receding_angle 0 to 30 deg, 5 likeliest
    (clean to tarnished; from memory); scarf_radius_factor 1 to 1.6; scarf_closing 0.3 to 0.9;
    wick_hold 0 to 6 mm, 2 likeliest (the largest hole beside the packing decides; it can be
    measured); slosh_amplitude by a factor of 2, and where it is stated, a knock is not to be
    counted twice: cling_factor 0.8 to 1. cling_factor, wick_hold and scarf_closing at 0 leave
    the face in the bore and the crown of the burner pipe alone.

    Left out: the ring's own fuel, which falls back into the sump (0.2 mm on 4 cm2), the column
    in a breather of Bond number below 0.842 that has to be pushed up whole, a drop left hanging
    on a square end, which shuts it up to 0.5 mm early, the outlet's distance across the engine,
    tank air that warms (`tank_surge`) and wicks beyond the first (`wicks`).

    Arguments broadcast, and every result has the shape they give. A point is NaN in all
    results where an argument is outside its range or the lip is not above the crown.
    """
    with np.errstate(all="ignore"):
        lip, crown = wick_window(burner_height, pipe_bore, wick_lip_height)
        bond_at_1_mm = bond_number_at_1_mm(fuel_temperature, fuel_water)
        breather = breather_mouth(
            breather_height=breather_height,
            breather_bore=breather_bore,
            breather_wall=breather_wall,
            breather_scarf=breather_scarf,
            breather_chamfer=breather_chamfer,
            scarf_radius_factor=scarf_radius_factor,
            scarf_closing=scarf_closing,
            air_entry_factor=air_entry_factor,
            cling_factor=cling_factor,
            receding_angle=receding_angle,
            slosh_amplitude=slosh_amplitude,
            bond_at_1_mm=bond_at_1_mm,
        )
        overshoot = overshoot_height(
            density(fuel_temperature, fuel_water),
            within(tank_head, ANY_NOT_NEGATIVE),
            within(tank_air_volume, ANY_NOT_NEGATIVE),
            within(sump_free_area, ANY_POSITIVE),
        )
        shift = shift_at_wick(reach, lateral, grade, acceleration, cant)
        losses = within(pipe_head_loss, ANY_NOT_NEGATIVE) + velocity_head(burn_rate, pipe_bore)
        highest = breather.closes + overshoot
        high = highest + shift + np.maximum(hot_column_lift - losses, 0.0)
        low = breather.enters + shift + (hot_column_lift - losses)
        at_outlet = breather.enters + shift_at_wick(outlet_reach, 0.0, grade, acceleration, 0.0)
        flood, wick_starve = lip - high, low - crown
        sump_starve = at_outlet - (outlet_height + 0.5 * pipe_bore)
        hold = within(wick_hold, ANY_NOT_NEGATIVE)
        starve = np.minimum(wick_starve + hold, sump_starve)
        # Every argument is in one of these, so this one test finds every bad point.
        sound = np.isfinite(flood + wick_starve + sump_starve + hold + breather_wall)
        masked = masked_whole(sound)
        return FuelLevel(
            flood_margin=masked(flood),
            starve_margin=masked(starve),
            wick_starve_margin=masked(wick_starve),
            sump_starve_margin=masked(sump_starve),
            level_band=masked(highest - breather.enters),
            level_high_at_wick=masked(high),
            level_low_at_wick=masked(low),
            breather_bond_number=masked(bond_at_1_mm * (0.25 * breather_bore * breather_bore)),
            inner_depression=masked(breather.inner_depression),
            outer_depression=masked(breather.outer_depression),
            closing_depth=masked(breather.closing_depth),
        )
