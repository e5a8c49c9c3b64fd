"""Labelled views of what stands before the pipe: sump and breather, the way to the wicks, tank.

A labelled view shows where each dimension is, whatever a study knows: what it does not state is
drawn as usual here. So each view needs no more than the name of one of its dimensions.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import sqrt
from types import MappingProxyType

from models.breather_drawing import SIDE_CLEAR, breather, outside_radius
from models.shapes import Area, Circle, Design, Dimension, Leader, Line, Shape, Text, box

USUAL: Mapping[str, float] = MappingProxyType(
    {
        "breather_height": 13.0,
        "breather_bore": 5.0,
        "breather_wall": 0.5,
        "breather_scarf": 0.0,
        "breather_chamfer": 0.0,
        "outlet_height": 8.0,
        "outlet_reach": 0.0,
        "reach": 95.0,
        "lateral": 0.0,
        "pipe_bore": 3.2,
        "pipe_wall": 0.4,
        "sump_free_area": 4.0,
        "tank_volume": 60.0,
        "tank_floor_area": 18.0,
        "tank_head_full": 42.0,
    }
)
"""Sizes of what a study does not state, in the models' units."""

STUB = 9.0
"""Length of pipe shown at the sump, mm."""


def sump(design: Design) -> list[Shape]:
    """Sump and breather, cut open along the engine."""
    d = {**USUAL, **design}
    mouth, height, outlet = -d["outlet_reach"], d["breather_height"], d["outlet_height"]
    beside = outside_radius(d) + SIDE_CLEAR
    right = max(0.0, mouth + beside)
    left = min(right - 10.0 * sqrt(max(d["sump_free_area"], 0.0)), mouth - beside)
    bore, wall = 0.5 * d["breather_bore"], d["breather_wall"]
    radius, pipe_wall = 0.5 * d["pipe_bore"], d["pipe_wall"]
    top = max(height, outlet + radius) + 9.0
    end = right + STUB
    outer, inner = (
        box((right, outlet - half), (end, outlet + half)) for half in (radius + pipe_wall, radius)
    )
    chamfered = wall * d["breather_chamfer"]
    return [
        Area(box((left, 0.0), (right, height)), "liquid"),
        Area(outer, "pipe"),
        Area(inner, "liquid"),
        Line(((left, top - 4.0), (left, 0.0), (right, 0.0), (right, top - 4.0)), "part"),
        *breather(d, mouth, top),
        Dimension((left, 0.0), (mouth - bore, height), "breather_height", "left"),
        Dimension((mouth - bore, top), (mouth + bore, top), "breather_bore", "above"),
        Leader((mouth + bore + 0.5 * wall, top - 3.0), ("breather_wall",)),
        Leader((mouth + bore, height), ("breather_scarf",)),
        Leader((mouth - bore - wall + 0.5 * chamfered, height), ("breather_chamfer",)),
        Leader((left + 0.12 * (right - left), height), ("sump_free_area",)),
        Dimension((right, 0.0), (end, outlet), "outlet_height", "right"),
        Text((0.5 * (left + right), 0.3 * outlet), "sump"),
    ]


def way_to_the_wicks(design: Design) -> list[Shape]:
    """From the breather's mouth to the first wick, seen from above."""
    d = {**USUAL, **design}
    reach, aside, outlet = d["reach"], d["lateral"], d["outlet_reach"]
    radius = outside_radius(d)
    half = max(0.08 * abs(reach), radius + 2.0)
    ends = (min(0.0, aside) - half, max(0.0, aside) + half)
    pipe = 0.5 * d["pipe_bore"] + d["pipe_wall"]
    wall = max(outlet, radius + 2.0)
    return [
        Line((*box((-half, ends[0]), (wall, ends[1])), (-half, ends[0])), "part"),
        Area(box((wall, aside - pipe), (reach, aside + pipe)), "pipe"),
        Circle((0.0, 0.0), radius, "part"),
        Circle((reach, aside), max(pipe + 0.8, 3.0), "part"),
        Dimension((0.0, 0.0), (reach, aside), "reach", "below"),
        Dimension((0.0, 0.0), (outlet, aside), "outlet_reach", "above"),
        Dimension((0.0, 0.0), (reach, aside), "lateral", "left"),
        Text((reach, aside + 3.0), "first wick"),
        Text((0.0, radius), "breather"),
    ]


def tank(design: Design) -> list[Shape]:
    """Tank above the level in the sump, cut open."""
    d = {**USUAL, **design}
    width = 10.0 * sqrt(max(d["tank_floor_area"], 0.01))
    tall = 10.0 * d["tank_volume"] / max(d["tank_floor_area"], 0.01)
    top = d["tank_head_full"]
    floor = top - tall
    return [
        Area(box((0.0, floor), (width, top)), "liquid"),
        Line(((0.0, top + 3.0), (0.0, floor), (width, floor), (width, top + 3.0)), "part"),
        Line(((0.0, top + 3.0), (width, top + 3.0)), "part"),
        Line(((0.8 * width, floor), (0.8 * width, -4.0)), "sketch"),
        Line(((-0.15 * width, 0.0), (1.15 * width, 0.0)), "level high"),
        Leader((0.45 * width, floor + 0.45 * tall), ("tank_volume",)),
        Leader((0.2 * width, top), ("tank_floor_area",)),
        Dimension((1.15 * width, 0.0), (width, top), "tank_head_full", "right"),
        Leader((0.8 * width, top + 3.0), ("leak_bore", "leak_length")),
        Text((0.2 * width, 0.0), "level in the sump"),
    ]
