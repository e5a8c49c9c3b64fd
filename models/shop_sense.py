"""What is implausible between the dimensions of a burner, in words that a model engineer uses.

Each is a warning: a design may mean it. Where it holds it says nothing. Names in braces are
written with their values by whoever prints the words. Bounds are judgement, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from math import radians, sqrt, tan
from typing import NamedTuple

from models.shapes import Design


class Relation(NamedTuple):
    """A relation of inputs and results as drawn: the names it needs, its test, what is said."""

    names: tuple[str, ...]
    holds: Callable[[Design], bool]
    says: str


REACH_SHARE, REACH_MM = 0.1, 3.0
"""By how much a reach may differ from the pipe that it is said to bridge: bends, unions, mitres."""


def _reach_is_the_pipes(d: Design) -> bool:
    along = d["outlet_reach"] + d["wick_distance"]
    return abs(d["reach"] - along) <= REACH_SHARE * abs(along) + REACH_MM


def _mouth_over_the_outlet(d: Design) -> bool:
    """Whether some of the mouth, which may be slanted, stands over the top of the outlet."""
    highest = d["breather_height"] + d["breather_bore"] * tan(radians(d["breather_scarf"]))
    return highest > d["outlet_height"] + 0.5 * d["pipe_bore"]


def _bar_over_the_step(d: Design) -> bool:
    return d["run_1"] <= d["obstacle_position"] <= d["run_1"] + d["run_2"]


def _breather_in_the_sump(d: Design) -> bool:
    side = 10.0 * sqrt(max(d["sump_free_area"], 0.0))
    return d["breather_bore"] + 2.0 * d["breather_wall"] < side


def _wicks_apart(d: Design) -> bool:
    return d["wick_count"] < 1.5 or d["wick_bore"] + 2.0 * d["wick_tube_wall"] < d["wick_pitch"]


RELATIONS = (
    Relation(
        ("breather_height", "burner_height", "wick_lip_height"),
        lambda d: d["burner_height"] + d["wick_lip_height"] > d["breather_height"],
        "the wick lips stand {wick_lip_height} over an axis {burner_height} above the floor, and "
        "so below the breather's mouth at {breather_height}: fuel runs over them as it is filled",
    ),
    Relation(
        ("breather_height", "outlet_height", "pipe_bore", "breather_bore", "breather_scarf"),
        _mouth_over_the_outlet,
        "the breather's mouth at {breather_height} stands below the top of the outlet, whose axis "
        "is {outlet_height} up and whose bore is {pipe_bore}: the pipe draws air first",
    ),
    Relation(
        ("outlet_height", "pipe_bore", "pipe_wall"),
        lambda d: d["outlet_height"] >= 0.5 * d["pipe_bore"] + d["pipe_wall"],
        "the outlet's axis is only {outlet_height} above the floor, and a pipe of {pipe_bore} bore "
        "with a {pipe_wall} wall reaches below it",
    ),
    Relation(
        ("reach", "outlet_reach", "wick_distance"),
        _reach_is_the_pipes,
        "the reach {reach} from the breather to the first wick is not that of the pipe, whose "
        "outlet is {outlet_reach} from the breather and whose first wick {wick_distance} further",
    ),
    Relation(
        ("obstacle_position", "run_1", "run_2", "drop"),
        _bar_over_the_step,
        "the bar, {obstacle_position} beyond the outlet, does not stand over the step, which "
        "begins at {run_1} and is {run_2} long",
    ),
    Relation(
        ("obstacle_position", "wick_distance"),
        lambda d: 0.0 <= d["obstacle_position"] <= d["wick_distance"],
        "the bar, {obstacle_position} beyond the outlet, is not between it and the first wick at "
        "{wick_distance}",
    ),
    *(
        Relation(
            (bore, wall),
            lambda d, bore=bore, wall=wall: d[wall] < 0.5 * d[bore],  # type: ignore[misc]
            f"{what} of {{{bore}}} bore with a wall of {{{wall}}} is more wall than hole: outside "
            "diameter for bore, or wall for outside diameter?",
        )
        for bore, wall, what in (
            ("pipe_bore", "pipe_wall", "a fuel pipe"),
            ("breather_bore", "breather_wall", "a breather"),
            ("wick_bore", "wick_tube_wall", "a wick tube"),
        )
    ),
    Relation(
        ("breather_bore", "breather_wall", "sump_free_area"),
        _breather_in_the_sump,
        "a breather of {breather_bore} bore hardly goes into a sump with {sump_free_area} of free "
        "surface",
    ),
    Relation(
        ("wick_bore", "wick_tube_wall", "wick_pitch", "wick_count"),
        _wicks_apart,
        "wick tubes of {wick_bore} bore do not fit side by side at {wick_pitch} from one to the "
        "next",
    ),
    Relation(
        ("tank_volume", "tank_floor_area", "tank_head_full"),
        lambda d: d["tank_volume"] * 10.0 <= d["tank_floor_area"] * d["tank_head_full"],
        "a tank of {tank_volume} on a floor of {tank_floor_area} is deeper than its full surface "
        "stands above the sump, {tank_head_full}: its bottom cannot run out",
    ),
    Relation(
        ("deflector_gap", "firebox_height"),
        lambda d: d["deflector_gap"] < 0.5 * d["firebox_height"],
        "a passage of {deflector_gap} over the deflector is more than half of a firebox "
        "{firebox_height} high",
    ),
    Relation(
        ("tube_bore", "firebox_width"),
        lambda d: d["tube_bore"] < d["firebox_width"],
        "a fire tube of {tube_bore} does not go into a firebox {firebox_width} wide",
    ),
    Relation(
        ("wick_length", "wick_protrusion", "wick_lip_height", "pipe_bore"),
        lambda d: (
            d["wick_length"] - d["wick_protrusion"]
            > 0.5 * (d["wick_lip_height"] - 0.5 * d["pipe_bore"])
        ),
        "a wick {wick_length} long of which {wick_protrusion} stands out ends high in a tube "
        "whose lip is {wick_lip_height} over the pipe's axis: it hardly reaches the fuel",
    ),
)
