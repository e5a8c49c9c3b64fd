"""Whether what a warming tank pushes out floods this burner, and not some other."""

from typing import Annotated, NamedTuple

from models.arrays import Array


class SurgeMargin(NamedTuple):
    """What is left over the level; the field has the shape of the arguments together."""

    surge_margin: Annotated[
        Array, "mm", "least distance of a wick lip over the level after warming unlit"
    ]


def surge_margin(
    flood_margin_all: Annotated[
        Array, "mm", "least distance of a wick lip over the level, unlit", "model"
    ] = 1.5,
    surge_rise: Annotated[
        Array, "mm", "rise of the sump by fuel driven out while standing", "model"
    ] = 1.0,
) -> SurgeMargin:
    """Margin to flooding that is left when a tank has warmed before its burner is lit.

    surge_margin = flood_margin_all - surge_rise. A sump that has been filled stands at the highest
    level of its band while nothing is burnt, and what `models.tank_air.tank_surge` drives out
    comes on top. A burner with much room over its level bears a rise that floods another.
    Exact for upright walls of the sump; any value has an answer.
    """
    return SurgeMargin(surge_margin=flood_margin_all - surge_rise)
