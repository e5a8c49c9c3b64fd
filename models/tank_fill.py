"""How full the tank is: one cause of its air, of its fuel and of its head alike."""

from typing import Annotated, NamedTuple

import numpy as np

from models.arrays import Array
from models.quantities import TankFloorArea, TankVolume
from models.ranges import POSITIVE, SHARE, within

ANY = (-1e6, 1e6)

_MM_PER_ML_OVER_CM2 = 10.0


class TankFill(NamedTuple):
    """What stands in the tank; the fields have the shape of the arguments together."""

    tank_air_volume: Annotated[Array, "ml", "air space of the tank"]
    tank_fuel_volume: Annotated[Array, "ml", "fuel in the tank"]
    tank_head: Annotated[Array, "mm", "fuel surface in the tank above that in the sump"]


def tank_fill(
    tank_fill: Annotated[
        Array, "", "share of the tank that is fuel", "0..1", "running: 0.25..0.92"
    ] = 0.65,
    tank_volume: TankVolume = 60.0,
    tank_floor_area: TankFloorArea = 18.0,
    tank_head_full: Annotated[
        Array, "mm", "surface of a full tank above the surface in the sump"
    ] = 42.0,
) -> TankFill:
    """Air, fuel and head of a tank with upright walls that is filled to a share of its volume.

    air = tank_volume (1 - tank_fill), fuel = tank_volume tank_fill, tank_head =
    tank_head_full - air/tank_floor_area: plain geometry, exact for upright walls. An emptier tank
    has more air and less head by one cause; drawn apart, they would make tanks that do not exist.

    The surface in the sump is taken at its height for `tank_head_full`; it moves by a few mm. A
    tank that reaches below the sump's surface has a head below 0 before it is empty; models that
    feed from it then give no answer. NaN where an argument is outside its range.
    """
    with np.errstate(all="ignore"):
        share = within(tank_fill, SHARE)
        volume = within(tank_volume, POSITIVE)
        air = volume * (1.0 - share)
        fallen = _MM_PER_ML_OVER_CM2 * air / within(tank_floor_area, POSITIVE)
        head = within(tank_head_full, ANY) - fallen
        spoil = 0.0 * head
        return TankFill(
            tank_air_volume=air + spoil,
            tank_fuel_volume=volume * share + spoil,
            tank_head=head,
        )
