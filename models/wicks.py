"""Every wick of the burner: which lip the fuel reaches first, and which wick draws air first.

`fuel_level` answers for the first wick. The others stand on the same pipe, higher or lower by
the pipe's tilt and by the errors of their own lips, while the surface of the fuel leans with
the gradient, the acceleration and the cant. Flooding is decided at the lowest lip, starving at
the highest crown, and seldom at the same wick.
"""

from typing import Annotated, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.arrays import DEGREES, STANDARD_GRAVITY, Array, Mask, either
from models.pipe_flow import feed_resistance
from models.quantities import (
    Acceleration,
    BurnRate,
    Cant,
    FuelTemperature,
    FuelWater,
    Grade,
    Manifold,
    PipeBore,
    WickCount,
    WickHold,
    WickPitch,
    WickStarveMargin,
)
from models.ranges import ANY_NOT_NEGATIVE, ANY_POSITIVE, LEAN, masked_whole, within

MOST_WICKS = 6
"""Wicks that a burner of this model may have."""


Numbers = NDArray[np.int8] | np.int8


class Wicks(NamedTuple):
    """What all wicks together do; every field has the shape of the arguments together."""

    flood_margin_all: Annotated[Array, "mm", "least distance of a wick lip over the level, unlit"]
    starve_margin_all: Annotated[
        Array, "mm", "how far the level is above where the first wick starves, burning"
    ]
    first_to_flood: Annotated[Array, "", "number of the wick that floods first, from the sump"]
    first_to_starve: Annotated[Array, "", "number of the wick that goes out first, from the sump"]


def whole_number(value: Array, low: int, high: int) -> Array:
    """Give `value` where it is a whole number from `low` to `high`, NaN elsewhere."""
    inside = within(value, (float(low), float(high)))
    kept: Array = np.where(inside == np.floor(inside), inside, np.nan)[()]
    return kept


def _numbered(mask: Mask, number: int) -> Numbers:
    """Give a number where a mask is true and 0 elsewhere, a byte each."""
    return np.asarray(mask).view(np.int8) * np.int8(number)


def places_in_pitches(wick_count: Array, manifold: Array) -> list[Array]:
    """Where the wicks stand, in pitches from the first wick, or from the middle of a manifold.

    One entry for every number that a wick may have, those beyond ``wick_count`` included.
    """
    if np.ndim(manifold) == 0 and not manifold:
        return [float(i) for i in range(MOST_WICKS)]
    middle = np.where(manifold, 0.5 * (wick_count - 1.0), 0.0)
    return [i - middle for i in range(MOST_WICKS)]


def rise_over_level(
    burner_tilt: Array,
    manifold: Array,
    manifold_roll: Array,
    grade: Array,
    acceleration: Array,
    cant: Array,
) -> Array:
    """Rise of the wicks over the leaning surface of the fuel, in mm per mm from wick to wick.

    sin t - lean cos t: t the tilt along, with the lean grade/100 + acceleration/g, or the roll
    of a manifold, with the lean tan(cant). Arguments as in `wicks`.
    """
    if np.ndim(manifold) == 0 and manifold != 1.0:  # no manifold: what belongs to it is not asked
        angle = within(burner_tilt, LEAN)
        lean = 0.01 * grade + acceleration * (1.0 / STANDARD_GRAVITY)
    else:
        angle = within(np.where(manifold, manifold_roll, burner_tilt), LEAN)
        along = 0.01 * grade + acceleration * (1.0 / STANDARD_GRAVITY)
        lean = np.where(manifold, np.tan(np.deg2rad(within(cant, LEAN))), along)
    tangent = np.tan(angle * (1.0 / DEGREES))  # a third of a sine's price
    slope: Array = (tangent - lean) / np.sqrt(1.0 + tangent * tangent)
    return slope


def nearest_the_air(
    wick_count: Array, wick_pitch: Array, pipe_bore: Array, manifold: Array, slope: Array
) -> Annotated[Array, "", "number of the wick that air from the sump's outlet reaches first"]:
    """Wick that goes out first when air comes along the crown of the pipe from the sump.

    The first one; if the burner rises by more than a bore over its length (wick_count
    wick_pitch), air runs on along the crown and gathers at the last. That the wick nearest the
    air goes out first is common practice, no source. In a manifold air comes in at the middle:
    the nearest wick on its higher side, or the highest one if half of it rises by more than a
    bore (judgement). ``slope`` is that of `rise_over_level`; other arguments as in `wicks`.
    """
    reach = wick_count * wick_pitch * slope
    in_line = 1.0 + np.asarray(reach > pipe_bore) * (wick_count - 1.0)
    if np.ndim(manifold) == 0 and not manifold:
        return in_line
    up = slope > 0.0
    middle = np.where(up, np.floor(0.5 * wick_count) + 1.0, np.ceil(0.5 * wick_count))
    highest = np.where(up, wick_count, 1.0)
    across = np.where(0.5 * np.abs(reach) > pipe_bore, highest, middle)
    number: Array = np.where(manifold, across, in_line)[()]
    return number


def wicks(
    flood_margin: Annotated[
        Array,
        "mm",
        "lip of a first wick without error less the highest level there, unlit",
        "model",
    ] = 1.5,
    wick_starve_margin: WickStarveMargin = 0.5,
    sump_starve_margin: Annotated[
        Array, "mm", "lowest level in the sump less the crown of its outlet", "model"
    ] = 1.0,
    wick_hold: WickHold = 2.0,
    wick_count: WickCount = 1.0,
    wick_pitch: WickPitch = 10.0,
    burner_tilt: Annotated[
        Array,
        "deg",
        "upward tilt of the burner pipe from the first wick on",
        "-45..45",
        "read as angle",
    ] = 0.0,
    manifold: Manifold = 0.0,
    manifold_roll: Annotated[
        Array,
        "deg",
        "roll of a manifold, positive if its last wick is the higher",
        "-45..45",
        "read as angle",
    ] = 0.0,
    wick_lip_error_1: Annotated[
        Array, "mm", "lip of wick 1 above its drawn height", "read as height"
    ] = 0.0,
    wick_lip_error_2: Annotated[
        Array, "mm", "lip of wick 2 above its drawn height", "read as height"
    ] = 0.0,
    wick_lip_error_3: Annotated[
        Array, "mm", "lip of wick 3 above its drawn height", "read as height"
    ] = 0.0,
    wick_lip_error_4: Annotated[
        Array, "mm", "lip of wick 4 above its drawn height", "read as height"
    ] = 0.0,
    wick_lip_error_5: Annotated[
        Array, "mm", "lip of wick 5 above its drawn height", "read as height"
    ] = 0.0,
    wick_lip_error_6: Annotated[
        Array, "mm", "lip of wick 6 above its drawn height", "read as height"
    ] = 0.0,
    grade: Grade = 0.0,
    acceleration: Acceleration = 0.0,
    cant: Cant = 0.0,
    pipe_bore: PipeBore = 3.2,
    burn_rate: Annotated[BurnRate, ">= 0"] = 3.0,
    fuel_temperature: FuelTemperature = 20.0,
    fuel_water: FuelWater = 0.06,
) -> Wicks:
    """Margins of the worst wick to flooding and to starving, and which wick it is.

    Geometry in a frame that leans with the engine, wick i of n, pitch p, lengths in mm:

    * in line, the pipe going on away from the breather: s = (i - 1) p, and wick and crown stand
      above the level by e = s (sin tilt - (grade/100 + acceleration/g) cos tilt) more than at
      the first wick; across, on a manifold fed in its middle, to the side where `cant` raises
      the level: s = (i - (n + 1)/2) p, e = s (sin roll - tan(cant) cos roll);
    * flood_margin_all = flood_margin + min(e + lip error): unlit, so there is no flow;
    * the wick end starves at wick_starve_margin + wick_hold - max(e + loss). Each wick burns
      its share, so the flow thins from wick to wick: loss = fall p (i - 1)(2n - i)/(2n), fall
      in mm per mm of pipe at the full burn (`models.pipe_flow.feed_resistance`). A manifold's is
      left out: 3 ml/min in 3.2 mm lose 0.03 mm on the way to the outermost of six, 10 mm apart;
    * the crown of the sump's own outlet has no wick to hold it: starve_margin_all is the
      smaller of both ends. first_to_starve is the wick of that maximum, or, where the sump's
      end draws air first, the wick of `nearest_the_air`.

    Exact for wicks upright on the frame but for the products of grade, acceleration and cant
    (see `fuel_level`). That wicks lean with the pipe moves a lip by less than 0.01 mm against the
    level at 2 deg of tilt and 2 % of grade. Left out: the burner's turn in plan (`burner_fit`).

    wick_hold is a doubt: 0 for a wick with a gap beside it, 6 mm for one tightly packed,
    triangular about 2 (judgement; the holes that hold so much are in `models.wick_supply`);
    0 leaves it out. It can be measured: lower a full burner until it draws.

    With one wick and no lip error the margins are those of `fuel_level`. n equal normal lips
    on a level pipe: the lowest is 0.564, 0.846, 1.029, 1.163, 1.267 standard deviations low
    for n from 2 to 6. Lip errors beyond wick_count and what belongs to the layout not chosen do
    not count. NaN in all results where an argument that counts is outside its range, a count or
    layout is no whole number, or the Reynolds number is above 2000.
    """
    errors = (
        wick_lip_error_1,
        wick_lip_error_2,
        wick_lip_error_3,
        wick_lip_error_4,
        wick_lip_error_5,
        wick_lip_error_6,
    )
    with np.errstate(all="ignore"):
        n = whole_number(wick_count, 1, MOST_WICKS)
        layout = whole_number(manifold, 0, 1)
        bore = within(pipe_bore, ANY_POSITIVE)
        pitch = within(wick_pitch, ANY_POSITIVE)
        slope = rise_over_level(burner_tilt, layout, manifold_roll, grade, acceleration, cant)
        places = places_in_pitches(n, layout)
        rate = within(burn_rate, ANY_NOT_NEGATIVE)
        loss_a_pitch = pitch * feed_resistance(bore, rate, fuel_temperature, fuel_water)[1]
        loss_a_pitch = np.where(layout, 0.0, loss_a_pitch) / (2.0 * n)
        rise_a_pitch = pitch * slope

        lowest: Array = places[0] * rise_a_pitch + errors[0]
        highest: Array = places[0] * rise_a_pitch + 0.0 * loss_a_pitch
        every_lip = lowest  # the sum of all: a minimum passes over a lip at infinity
        floods: Numbers = np.int8(1)
        starves: Numbers = np.int8(1)
        most = MOST_WICKS if np.ndim(n) or np.isnan(n) else int(n)
        for i, place, error in zip(range(2, most + 1), places[1:], errors[1:], strict=False):
            rise = place * rise_a_pitch
            lip = rise + error
            crown = rise + ((i - 1.0) * (2.0 * n - i)) * loss_a_pitch
            every_lip = every_lip + (np.where(i <= n, lip, 0.0) if np.ndim(n) else lip)
            if np.ndim(n):  # some burners have fewer wicks than others
                lip = np.where(i <= n, lip, np.inf)
                crown = np.where(i <= n, crown, -np.inf)
            # Wicks come in order, so the last that undercuts all before it has the largest number.
            floods = np.maximum(floods, _numbered(lip < lowest, i))
            starves = np.maximum(starves, _numbered(crown > highest, i))
            lowest, highest = np.minimum(lowest, lip), np.maximum(highest, crown)

        flood = flood_margin + lowest
        wick_end = wick_starve_margin + within(wick_hold, ANY_NOT_NEGATIVE) - highest
        starve = np.minimum(wick_end, sump_starve_margin)
        air_first = nearest_the_air(n, pitch, bore, layout, slope)
        last = np.asarray(starves, dtype=np.float64)
        first_to_starve = either(sump_starve_margin < wick_end, air_first, last)
        sound = np.isfinite(flood + every_lip + wick_end + sump_starve_margin + n + layout)
        masked = masked_whole(sound)
        return Wicks(
            flood_margin_all=masked(flood),
            starve_margin_all=masked(starve),
            first_to_flood=masked(np.asarray(floods, dtype=np.float64)),
            first_to_starve=masked(first_to_starve),
        )
