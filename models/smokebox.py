"""The draught of the smokebox: what blower and exhaust steam make of it."""

from typing import Annotated, NamedTuple

import numpy as np

from models.arrays import STANDARD_ATMOSPHERE, Array
from models.quantities import (
    AuxiliaryDraught,
    BlowerDraughtFactor,
    BlowerSteam,
    CondensationFactor,
    Cutoff,
    Cylinders,
    ExhaustDraughtFactor,
    PistonBore,
    PistonStroke,
    Revolutions,
    SteamPressure,
)
from models.ranges import NOT_NEGATIVE, within
from models.steam import cylinder_volume, vapour_density

NATURAL_DRAUGHT = 0.5
"""Suction of the hot gas in chimney and tubes alone, Pa: 0.8 Pa per 100 mm of height at most."""


class SmokeboxDraught(NamedTuple):
    """Steam and suction; the fields have the shape of the arguments together."""

    cylinder_steam: Annotated[Array, "g/min", "steam the cylinders take"]
    draught: Annotated[Array, "Pa", "suction of the smokebox"]


def smokebox_draught(
    steam_pressure: Annotated[SteamPressure, "0..6.9"] = 3.0,
    blower_steam: BlowerSteam = 2.0,
    piston_bore: PistonBore = 11.0,
    piston_stroke: PistonStroke = 16.0,
    cylinders: Cylinders = 2.0,
    cutoff: Cutoff = 0.75,
    revolutions: Revolutions = 180.0,
    condensation_factor: CondensationFactor = 2.5,
    auxiliary_draught: AuxiliaryDraught = 0.0,
    blower_draught_factor: BlowerDraughtFactor = 10.0,
    exhaust_draught_factor: ExhaustDraughtFactor = 12.0,
) -> SmokeboxDraught:
    """Suction that chimney, fan, blower and exhaust make together.

    draught = 0.5 Pa + auxiliary_draught + blower_draught_factor blower_steam
    + exhaust_draught_factor cylinder_steam, with cylinder_steam as in `steam.steam_balance` at
    the stated pressure. It stands before the fire, so that draught, burn and heat follow from
    the running conditions without a circle.

    That suction is in proportion to the steam is a choice; a jet's momentum goes rather as the
    square of its flow. No source gives the factors for engines of this size: 3 to 20 for the
    exhaust and 4 to 20 for the blower (judgement); a water gauge on the smokebox does. The
    share of the cylinders' steam that has condensed makes no draught: the factor carries it.
    NaN outside the ranges.
    """
    with np.errstate(all="ignore"):
        pressure = within(steam_pressure, NOT_NEGATIVE) + 1e-5 * STANDARD_ATMOSPHERE
        turn = cylinder_volume(piston_bore, piston_stroke, cylinders, cutoff, condensation_factor)
        steam = 1e-3 * turn * within(revolutions, NOT_NEGATIVE) * vapour_density(pressure)
        blower = within(blower_steam, NOT_NEGATIVE)
        return SmokeboxDraught(
            cylinder_steam=steam,
            draught=NATURAL_DRAUGHT
            + within(auxiliary_draught, NOT_NEGATIVE)
            + within(blower_draught_factor, NOT_NEGATIVE) * blower
            + within(exhaust_draught_factor, NOT_NEGATIVE) * steam,
        )
