"""The engine set out for its builder: labelled views, and the order in which dimensions are asked.

Brought to an engine that knows only parts. A sketch number is a dimension's place in ``GROUPS``
among those that a study has, so the same in its drawing, its file and its tables.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

from models import labelled_firebox, labelled_pipe, labelled_sump, labelled_valve, labelled_wicks
from models.making import (
    COUNTED,
    INSTEAD,
    LIMITS,
    MAKING,
    NOUGHT,
    SIZED,
    USUAL,
    WITH,
    Statement,
)
from models.shapes import Design, Shape
from models.shop_sense import RELATIONS, Relation


class LabelledView(NamedTuple):
    """One view: its title, and what draws it from every input and result of one burner."""

    title: str
    draw: Callable[[Design], list[Shape]]


class SettingOut(NamedTuple):
    """What a builder is shown and asked, from the sump to the chimney.

    ``groups`` are names of inputs under a heading each; the rest is as in `models.making`.
    """

    groups: tuple[tuple[str, tuple[str, ...]], ...]
    views: tuple[LabelledView, ...]
    making: Mapping[str, Statement]
    limits: Mapping[str, tuple[str, str, str]]
    instead: Mapping[str, tuple[str, ...]]
    usual: tuple[str, ...]
    nought: tuple[str, ...]
    sized: tuple[str, ...]
    needs: Mapping[str, str]
    counted: Mapping[str, tuple[str, int]]
    relations: tuple[Relation, ...]


def _each(name: str, count: int) -> tuple[str, ...]:
    return tuple(f"{name}_{place}" for place in range(1, count + 1))


_LAID = tuple(
    name
    for i in range(1, 9)
    for name in (
        f"piece_{i}",
        *((f"turn_up_{i}", f"turn_aside_{i}", f"bend_radius_{i}") if i < 8 else ()),
    )
)

GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "sump and breather",
        (
            "outlet_height",
            "breather_height",
            "breather_bore",
            "breather_wall",
            "breather_scarf",
            "breather_chamfer",
            "sump_free_area",
            "reach",
            "outlet_reach",
            "lateral",
        ),
    ),
    (
        "tank and valve",
        (
            "tank_volume",
            "tank_floor_area",
            "tank_head_full",
            "leak_bore",
            "leak_length",
            "needle_turns",
            "thread_pitch",
            "seat_wear",
            "needle_angle",
            "seat_bore",
            "land_length",
            "feed_tube_bore",
            "feed_tube_length",
        ),
    ),
    (
        "fuel pipe",
        (
            "outlet_tilt",
            "run_1",
            "joint_error_1",
            "bend_error_1",
            "drop",
            "slope_1",
            "joint_error_2",
            "bend_error_2",
            "run_2",
            "joint_error_3",
            "bend_error_3",
            "rise",
            "slope_2",
            "joint_error_4",
            "bend_error_4",
            "run_3",
            *_LAID,
            *_each("joint_error", 7)[4:],
            "bend_radius",
            "bend_angle",
            "pipe_length",
            "pipe_loss_burn_rate",
            "pipe_bore",
            "pipe_wall",
            "pipe_ovality",
            "obstacle_height",
            "obstacle_position",
            "obstacle_diameter",
            "dip_length",
            "dip_room",
            "bend_ratio",
            "least_bend_ratio",
            "bracket_slack",
            "bracket_distance",
        ),
    ),
    (
        "burner",
        (
            "burner_height",
            "burner_tilt",
            "manifold",
            "manifold_roll",
            "wick_count",
            "wick_pitch",
            *_each("wick_lip_error", 6),
            "wick_lip_height",
            "wick_bore",
            "wick_tube_wall",
            "wick_length",
            "wick_protrusion",
            "packing_fraction",
            "fibre_radius",
            "burner_end",
            "burner_shielding",
            "burner_position",
            "burner_offset",
            "burner_yaw",
        ),
    ),
    (
        "firebox, tubes, chimney and cylinders",
        (
            "firebox_length",
            "firebox_width",
            "firebox_height",
            "frame_spacing",
            "deflector_gap",
            "deflector_length",
            "air_inlet_area",
            "bypass_area",
            "tube_count",
            "tube_bore",
            "tube_length",
            "boiler_heat_capacity",
            "steam_raised",
            "blow_off_pressure",
            "jet_bore",
            "piston_bore",
            "piston_stroke",
            "cylinders",
            "cutoff",
        ),
    ),
)
"""Every input that a builder decides, from the sump to the chimney."""

VIEWS = (
    LabelledView("Sump and breather", labelled_sump.sump),
    LabelledView("From above", labelled_sump.way_to_the_wicks),
    LabelledView("Tank", labelled_sump.tank),
    LabelledView("Needle valve", labelled_valve.needle),
    LabelledView("Fuel pipe", labelled_pipe.whole_pipe),
    LabelledView("Fuel pipe under the obstacle", labelled_pipe.dip),
    LabelledView("Fuel pipe from the side", labelled_pipe.laid_from_the_side),
    LabelledView("Fuel pipe from above", labelled_pipe.laid_from_above),
    LabelledView("Burner and wicks", labelled_wicks.wicks),
    LabelledView("One wick", labelled_wicks.one_wick),
    LabelledView("Burner in the firebox, from above", labelled_wicks.in_the_firebox),
    LabelledView("Firebox and tubes", labelled_firebox.firebox),
    LabelledView("Boiler and cylinders", labelled_firebox.boiler_and_cylinder),
)

SETTING_OUT = SettingOut(
    GROUPS, VIEWS, MAKING, LIMITS, INSTEAD, USUAL, NOUGHT, SIZED, WITH, COUNTED, RELATIONS
)
