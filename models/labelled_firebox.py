"""Labelled views of what stands behind the burner: firebox and tubes, then boiler and cylinders."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from models.shapes import Area, Circle, Design, Dimension, Leader, Line, Shape, Text, box

USUAL: Mapping[str, float] = MappingProxyType(
    {
        "deflector_gap": 5.0,
        "deflector_length": 30.0,
        "firebox_width": 45.0,
        "firebox_height": 45.0,
        "tube_count": 7.0,
        "tube_bore": 8.5,
        "tube_length": 150.0,
        "air_inlet_area": 150.0,
        "bypass_area": 10.0,
        "piston_bore": 11.0,
        "piston_stroke": 16.0,
        "jet_bore": 0.4,
    }
)
"""Sizes of what a study does not state, in the models' units."""


def firebox(design: Design) -> list[Shape]:
    """Firebox along the engine, cut open: deflector, openings and fire tubes, cut short."""
    d = {**USUAL, **design}
    height, gap, length = d["firebox_height"], d["deflector_gap"], d["deflector_length"]
    bore = d["tube_bore"]
    turn = max(8.0, 1.5 * gap)
    front = turn + length
    wall = front + 7.0
    cut = wall + min(30.0, d["tube_length"])
    shelf = height - 2.6 * bore
    inlet, bypass = (
        min(d[name] / max(d["firebox_width"], 1e-9), 0.6 * length)
        for name in ("air_inlet_area", "bypass_area")
    )
    middle = 0.5 * (turn + front)
    tubes = (height - 0.65 * bore, height - 1.9 * bore)
    return [
        Line(((0.0, -6.0), (0.0, height), (wall, height)), "part"),
        Line(((0.0, -6.0), (middle - 0.5 * inlet, -6.0)), "part"),
        Line(((middle + 0.5 * inlet, -6.0), (front, -6.0), (front, shelf)), "part"),
        Line(((front, shelf), (wall - bypass, shelf)), "part"),
        Line(((wall, shelf), (wall, height)), "part"),
        Area(box((turn, height - gap - 1.0), (front, height - gap)), "hot plate"),
        *(
            Line(((wall, axis + side), (cut, axis + side)), "part")
            for axis in tubes
            for side in (-0.5 * bore, 0.5 * bore)
        ),
        *(Area(box((x - 2.4, -4.0), (x + 2.4, 0.0)), "sketch") for x in (turn + 3.0, middle)),
        Dimension(
            (turn + 0.7 * length, height - gap), (turn + 0.7 * length, height), "deflector_gap"
        ),
        Dimension((turn, height - gap), (front, height - gap), "deflector_length", "above"),
        Dimension((middle + 2.4, 0.0), (0.0, height), "firebox_height", "left"),
        Leader((0.0, 0.35 * height), ("firebox_width",)),
        Dimension((cut, tubes[0] - 0.5 * bore), (cut, tubes[0] + 0.5 * bore), "tube_bore", "right"),
        Leader((0.5 * (wall + cut), tubes[0]), ("tube_count",)),
        Dimension(
            (wall, tubes[1] - 0.5 * bore), (cut, tubes[1] - 0.5 * bore), "tube_length", "below"
        ),
        Leader((middle, -6.0), ("air_inlet_area",)),
        Leader((wall - 0.5 * bypass, shelf), ("bypass_area",)),
        Text((middle, 0.0), "burners"),
        Text((cut - 4.0, tubes[1]), "fire tubes, cut short"),
    ]


def boiler_and_cylinder(design: Design) -> list[Shape]:
    """Boiler, chimney and a cylinder, not to scale but for bore and stroke."""
    d = {**USUAL, **design}
    bore, stroke = d["piston_bore"], d["piston_stroke"]
    long, tall = 4.5 * stroke, 2.0 * bore
    left, low = 0.0, 2.2 * bore
    cylinder = long + 0.4 * stroke
    chimney = long + 1.0 * stroke
    piston = cylinder + 0.25 * stroke
    end = cylinder + stroke + 0.4 * stroke
    return [
        Area(box((left, low), (long, low + tall)), "part"),
        Area(box((left, low), (long, low + 0.6 * tall)), "liquid"),
        Line(((long, low), (end, low), (end, low + tall), (long, low + tall)), "part"),
        Line(
            ((chimney - 0.3 * bore, low + tall), (chimney - 0.3 * bore, low + 1.6 * tall)), "part"
        ),
        Line(
            ((chimney + 0.3 * bore, low + tall), (chimney + 0.3 * bore, low + 1.6 * tall)), "part"
        ),
        Line(((chimney, low + 0.1 * tall), (chimney, low + 0.6 * tall)), "part"),
        Circle((0.45 * long, low + 1.1 * tall), 0.1 * tall, "obstacle"),
        Area(box((cylinder, 0.0), (end, bore)), "sketch"),
        Area(box((piston, 0.0), (piston + 0.2 * stroke, bore)), "part"),
        Line(((piston, 0.5 * bore), (cylinder - 0.5 * stroke, 0.5 * bore)), "part"),
        Leader((0.2 * long, low + 0.3 * tall), ("boiler_heat_capacity",)),
        Leader((0.45 * long, low + 1.2 * tall), ("blow_off_pressure",)),
        Leader((0.65 * long, low + 0.8 * tall), ("steam_raised",)),
        Dimension((end, 0.0), (end, bore), "piston_bore", "right"),
        Dimension((piston, 0.0), (piston + stroke, 0.0), "piston_stroke", "below"),
        Leader((cylinder, 0.8 * bore), ("cylinders", "cutoff")),
        Leader((chimney, low + 0.6 * tall), ("jet_bore",)),
        Text((0.1 * long, low + tall), "boiler"),
        Text((end - 0.2 * stroke, low + 0.5 * tall), "smokebox"),
        Text((piston, 0.0), "cylinder"),
    ]
