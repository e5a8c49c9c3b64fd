"""Labelled views of the burner: its wicks from the side, and it in the firebox from above."""

from __future__ import annotations

from collections.abc import Mapping
from math import cos, radians, sin
from types import MappingProxyType

from models.shapes import Area, Circle, Design, Dimension, Leader, Line, Shape, Text, box
from models.wick_drawing import places
from models.wicks import MOST_WICKS

USUAL: Mapping[str, float] = MappingProxyType(
    {
        "burner_height": 8.0,
        "pipe_bore": 3.2,
        "pipe_wall": 0.4,
        "wick_lip_height": 6.6,
        "wick_count": 3.0,
        "wick_pitch": 10.0,
        "wick_bore": 7.0,
        "wick_tube_wall": 0.4,
        "burner_end": 6.0,
        "wick_protrusion": 3.0,
        "firebox_length": 50.0,
        "firebox_width": 45.0,
        "frame_spacing": 34.0,
        "burner_position": 9.0,
        "burner_offset": 0.0,
        "burner_yaw": 0.0,
        "manifold": 0.0,
    }
)
"""Sizes of what a study does not state, in the models' units."""


def _flat(design: Design) -> dict[str, float]:
    """The design with its wicks level: what turns them is told by a leader."""
    return {**USUAL, **design, "burner_tilt": 0.0, "manifold_roll": 0.0}


def wicks(design: Design) -> list[Shape]:
    """Wick tubes on the burner pipe, from the side."""
    d = _flat(design)
    stand = places(d)
    axis = d["burner_height"]
    radius = 0.5 * d["pipe_bore"] + d["pipe_wall"]
    lip, half, wall = axis + d["wick_lip_height"], 0.5 * d["wick_bore"], d["wick_tube_wall"]
    first, last = stand[0][0], stand[-1][0]
    start, end = first - half - 7.0, last + half + max(d["burner_end"] - half, 1.0)
    foot = axis + radius - 0.4
    shapes: list[Shape] = [
        Line(((start, 0.0), (end + 3.0, 0.0)), "sketch"),
        Area(box((start, axis - radius), (end, axis + radius)), "pipe"),
    ]
    for x, _, error in stand:
        top = lip + error
        shapes.append(Area(box((x - half - wall, foot), (x - half, top)), "part"))
        shapes.append(Area(box((x + half, foot), (x + half + wall, top)), "part"))
        shapes.append(Line(((x - half, top), (x + half, top)), "sketch"))  # its mouth
    if len(stand) > 1:
        shapes.append(Dimension((first, foot), (stand[1][0], foot), "wick_pitch", "below"))
    else:
        shapes.append(Leader((first + half + wall, 0.5 * (foot + lip)), ("wick_pitch",)))
    errors = [f"wick_lip_error_{wick}" for wick in range(1, MOST_WICKS + 1)]
    known = len(stand)
    between = (0.5 * (stand[-2][0] + last) if known > 1 else last, axis - radius)
    shapes += [Leader((x, lip + error), (errors[i],)) for i, (x, _, error) in enumerate(stand)]
    return [
        *shapes,
        *([Leader((last + half + wall, lip), tuple(errors[known:]))] if known < MOST_WICKS else []),
        Dimension((start, 0.0), (start, axis), "burner_height", "left"),
        Dimension((last, axis), (end, axis), "burner_end", "below"),
        Leader((last + half + wall, foot + 0.6 * (lip - foot)), ("wick_count",)),
        Leader(between, ("burner_tilt", "burner_shielding", "pipe_loss_burn_rate")),
        Leader((0.5 * (start + first - half), axis), ("manifold", "manifold_roll")),
        Text((start + 2.0, 0.0), "level of the sump's floor"),
    ]


def one_wick(design: Design) -> list[Shape]:
    """One wick tube on the burner pipe, cut open."""
    d = _flat(design)
    radius = 0.5 * d["pipe_bore"]
    outside = radius + d["pipe_wall"]
    lip, half, wall = d["wick_lip_height"], 0.5 * d["wick_bore"], d["wick_tube_wall"]
    flame = lip + d["wick_protrusion"]
    across = 2.5 * (half + wall)
    shapes: list[Shape] = [
        Area(box((-across, -outside), (across, outside)), "pipe"),
        Area(box((-across, -radius), (across, radius)), "liquid"),
        Area(box((-half - wall, radius), (-half, lip)), "part"),
        Area(box((half, radius), (half + wall, lip)), "part"),
        Line(((-across, 0.0), (across, 0.0)), "sketch"),
    ]
    if "wick_length" in design:
        foot = flame - d["wick_length"]
        sides = [Line(((x, foot), (x, flame)), "sketch") for x in (-0.9 * half, 0.9 * half)]
        shapes += [
            *sides,
            Line(((-0.9 * half, flame), (0.9 * half, flame)), "sketch"),
            Dimension((half + wall, lip), (0.9 * half, flame), "wick_protrusion", "right"),
            Dimension((-0.9 * half, foot), (-0.9 * half, flame), "wick_length", "left"),
            Leader((0.0, lip - 0.3 * (lip - radius)), ("packing_fraction", "fibre_radius")),
        ]
    return [
        *shapes,
        Dimension((across, 0.0), (half + wall, lip), "wick_lip_height", "right"),
        Dimension((-half, lip), (half, lip), "wick_bore", "above"),
        Leader((half + 0.5 * wall, radius + 0.3 * (lip - radius)), ("wick_tube_wall",)),
        Text((-0.8 * across, 0.0), "burner pipe"),
    ]


def in_the_firebox(design: Design) -> list[Shape]:
    """Wick tubes in the firebox, from above."""
    d = _flat(design)
    length, width, frames = d["firebox_length"], d["firebox_width"], 0.5 * d["frame_spacing"]
    radius = 0.5 * d["wick_bore"] + d["wick_tube_wall"]
    yaw = radians(d["burner_yaw"])
    across = d["manifold"] > 0.5
    way = (-sin(yaw), cos(yaw)) if across else (cos(yaw), sin(yaw))
    x, y = d["burner_position"], d["burner_offset"]
    centres = [(x + along * way[0], y + along * way[1]) for along, _, _ in places(d)]
    half = 0.5 * width
    return [
        Line((*box((0.0, -half), (length, half)), (0.0, -half)), "part"),
        *(Line(((-10.0, side), (length + 6.0, side)), "sketch") for side in (-frames, frames)),
        Line(((-10.0, 0.0), (length + 6.0, 0.0)), "sketch"),
        Line(((-10.0, y), (x, y), centres[-1]), "part"),
        *(Circle(centre, radius, "pipe") for centre in centres),
        Dimension((0.0, -half), (length, -half), "firebox_length", "below"),
        Dimension((length, -half), (length, half), "firebox_width", "right"),
        Dimension((-10.0, -frames), (-10.0, frames), "frame_spacing", "left"),
        Dimension((0.0, half), (x, y), "burner_position", "above"),
        Leader((x, y), ("burner_offset",)),
        Leader(centres[-1], ("burner_yaw",)),
    ]
