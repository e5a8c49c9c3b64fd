"""Labelled view of the needle valve: where its angle, seat, thread and tube are."""

from __future__ import annotations

from collections.abc import Mapping
from math import radians, tan
from types import MappingProxyType

from models.shapes import Area, Design, Dimension, Leader, Line, Shape, Text, box

USUAL: Mapping[str, float] = MappingProxyType(
    {
        "needle_turns": 1.0,
        "thread_pitch": 0.5,
        "seat_wear": 0.02,
        "needle_angle": 20.0,
        "seat_bore": 1.0,
        "land_length": 0.1,
        "feed_tube_bore": 1.5,
        "feed_tube_length": 20.0,
    }
)
"""Sizes of what a study does not state, in the models' units."""


def needle(design: Design) -> list[Shape]:
    """Needle in its seat, cut open, and the tube behind it, cut short."""
    d = {**USUAL, **design}
    seat = 0.5 * d["seat_bore"]
    slope = tan(radians(0.5 * min(max(d["needle_angle"], 2.0), 170.0)))
    lift = d["needle_turns"] * d["thread_pitch"] - d["seat_wear"]
    land = max(d["land_length"], 0.0)
    block = max(land, 1.2 * seat)
    stem = 2.2 * seat
    tip, shoulder = lift - seat / slope, lift + (stem - seat) / slope
    top = shoulder + 7.0 * seat
    tube = 0.5 * d["feed_tube_bore"]
    below = min(tip, -block) - 1.0 * seat
    axis = below - tube
    shown = 10.0 * seat
    body = 5.0 * seat
    pitch = max(0.2 * seat, d["thread_pitch"])
    threads: list[Shape] = [
        Line(((-stem, z), (stem, z + 0.5 * pitch)), "part")
        for z in (top - 3.5 * seat + turn * pitch for turn in range(7))
        if z + 0.5 * pitch < top
    ]
    return [
        Area(box((-body, -block), (-seat, 0.0)), "part"),
        Area(box((seat, -block), (body, 0.0)), "part"),
        Area(((0.0, tip), (stem, shoulder), (stem, top), (-stem, top), (-stem, shoulder)), "part"),
        *threads,
        Line(((-body, 0.0), (-body, axis - tube), (body + shown, axis - tube)), "part"),
        Line(((body, -block), (body, axis + tube), (body + shown, axis + tube)), "part"),
        Leader((stem, top - 0.6 * seat), ("needle_turns",)),
        Leader((stem, top - 2.6 * seat), ("thread_pitch",)),
        Leader((seat + 0.2 * (stem - seat), lift + 0.2 * (stem - seat) / slope), ("needle_angle",)),
        Leader((-seat, -0.1 * land), ("seat_wear",)),
        Leader((seat, -0.5 * land), ("land_length",)),
        Dimension((-seat, -block), (seat, -block), "seat_bore", "below"),
        Dimension((body, axis), (body + shown, axis), "feed_tube_length", "below"),
        Dimension(
            (body + shown, axis - tube), (body + shown, axis + tube), "feed_tube_bore", "right"
        ),
        Text((body + 0.6 * shown, axis + tube), "tube, cut short"),
    ]
