"""Labelled views of the fuel pipe: its length, its dip under the obstacle, and it from above."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from types import MappingProxyType

from models.laid_drawing import NEEDED, chain_of
from models.laid_pipe import PIECES
from models.pipe_drawing import BENT, STEPPED, Station, centreline, tube
from models.pipe_space import combined
from models.shapes import (
    Area,
    Circle,
    Design,
    Detail,
    Dimension,
    Leader,
    Line,
    Point,
    Shape,
    Text,
    box,
    middle,
)

USUAL: Mapping[str, float] = MappingProxyType(
    {
        "outlet_height": 8.0,
        "pipe_bore": 3.2,
        "pipe_wall": 0.4,
        "pipe_length": 105.0,
        "bracket_slack": 0.0,
    }
)
"""Sizes of what a study does not state, in the models' units."""

ROOM_BESIDE, SHORT = 9.0, 0.05
"""Beside a dip in its view; a piece that is none; mm."""


def _stations(d: Design) -> list[Station]:
    """The study's pipe; a level one of its length where the study has none."""
    height = d["outlet_height"]
    return centreline(d) or [
        Station((x, height), (0.0, 1.0)) for x in (0.0, max(d["pipe_length"], 1.0))
    ]


def _straights(stations: Sequence[Station]) -> list[tuple[Point, Point]]:
    """Both ends of each straight; between elbows these are all, between bends every other."""
    ends = [station.point for station in stations if not station.within_arc]
    if any(station.within_arc for station in stations):
        return list(zip(ends[0::2], ends[1::2], strict=False))
    return list(pairwise(ends))


def _pieces(d: Design) -> tuple[str, ...]:
    if all(name in d for name in NEEDED):
        return tuple(f"piece_{i}" for i in range(1, PIECES + 1))
    return STEPPED if "drop" in d else BENT


def _body(d: Design, stations: Sequence[Station]) -> list[Shape]:
    """The pipe, the floor of the sump as a line of reference, and the bar."""
    radius = 0.5 * d["pipe_bore"]
    end = stations[-1].point
    shapes: list[Shape] = [
        Line(((-8.0, 0.0), (end[0] + 8.0, 0.0)), "sketch"),
        Area(tube(stations, radius + d["pipe_wall"]), "pipe"),
        Area(tube(stations, radius), "liquid"),
    ]
    if "obstacle_diameter" in d:
        centre = d["obstacle_position"], d["obstacle_height"]
        shapes.append(Circle(centre, 0.5 * d["obstacle_diameter"], "obstacle"))
    return shapes


def whole_pipe(design: Design) -> list[Shape]:
    """Fuel pipe from the sump to the first wick and on to its bracket, from the side."""
    d = {**USUAL, **design}
    stations = _stations(d)
    straights, names = _straights(stations), _pieces(d)
    end = stations[-1].point
    radius = 0.5 * d["pipe_bore"] + d["pipe_wall"]
    (start, outlet) = stations[0].point
    shapes = [
        *_body(d, stations),
        Line(((start, outlet + 9.0), (start, -2.0)), "part"),
        Area(box((end[0] - 2.5, end[1] + radius), (end[0] + 2.5, end[1] + radius + 5.0)), "part"),
        Text((end[0], end[1] + radius + 5.0), "first wick"),
        Text((start, outlet + 9.0), "sump"),
        Text((0.75 * end[0], 0.0), "level of the sump's floor"),
    ]
    if names[0] != "piece_1" and len(straights) == len(names):
        shapes.append(Dimension(*straights[0], names[0], "above"))
        shapes.append(Dimension(*straights[-1], names[-1], "above"))
    elif names[0] != "piece_1":
        shapes.append(Dimension(stations[0].point, end, "pipe_length", "below"))
    if "obstacle_position" in d:
        at = d["obstacle_position"], d["obstacle_height"]
        shapes.append(Dimension((start, 0.0), at, "obstacle_position", "below"))
        shapes.append(Dimension((start, 0.0), at, "obstacle_height", "left"))
        if names[0] == "piece_1":
            turn = 0.35 * d["obstacle_diameter"]
            shapes.append(Leader((at[0] + turn, at[1] + turn), ("obstacle_diameter",)))
    first = straights[0]
    shapes.append(Leader(middle(first[0], middle(*first)), ("outlet_tilt",)))
    last = middle(*straights[-1])
    shapes.append(Leader(last, ("pipe_bore",)))
    crown = (0.5 * (last[0] + end[0]), 0.5 * (last[1] + end[1]) + radius - 0.5 * d["pipe_wall"])
    shapes.append(Leader(crown, ("pipe_wall",)))
    if "bracket_distance" in d and d["bracket_slack"] > 0.0:
        shapes += _bracket(d, end, radius)
    return shapes


def _bracket(d: Design, end: Point, radius: float) -> list[Shape]:
    """The bracket that holds the far end, a fork with the pipe in it."""
    x, z = d["bracket_distance"], end[1]
    half = radius + max(0.5 * d["bracket_slack"], 0.4)
    return [
        Line(((end[0], z), (x, z)), "sketch"),
        Line(((x, z - half - 5.0), (x, z - half)), "part"),
        Line(((x, z + half), (x, z + half + 5.0)), "part"),
        Dimension((0.0, 0.0), (x, z - half - 5.0), "bracket_distance", "below"),
        Leader((x, z + half + 2.0), ("bracket_slack",)),
    ]


def dip(design: Design) -> list[Shape]:
    """Dip of the fuel pipe under the obstacle, from the side, larger."""
    d = {**USUAL, **design}
    stations, names = _stations(d), _pieces(d)
    straights = _straights(stations)
    if names[0] == "piece_1" or len(straights) != len(names):
        return _room_only(d, stations)
    radius = 0.5 * d["pipe_bore"] + d["pipe_wall"]
    left, right = straights[0][1], straights[-1][0]
    lowest = min(point[1] for station in straights for point in station) - radius
    centre = 0.5 * (left[0] + right[0])
    room = 0.5 * max(d.get("dip_room", 0.0), right[0] - left[0] + 2.0 * ROOM_BESIDE)
    bar = d["obstacle_height"] + 0.5 * d["obstacle_diameter"]
    high = max(left[1] + radius, right[1] + radius, bar) + 3.0
    at = d["obstacle_position"], d["obstacle_height"]
    turn = 0.5 * d["obstacle_diameter"]
    shapes = [
        Detail((centre - room, min(lowest, 0.0) - 2.0), (centre + room, high), ""),
        *_body(d, stations),
        Dimension(*straights[2], names[2], "below"),
        Leader((at[0] + 0.7 * turn, at[1] + 0.7 * turn), ("obstacle_diameter",)),
    ]
    if names is STEPPED:
        shapes.append(Dimension(*straights[1], "drop", "left"))
        shapes.append(Dimension(*straights[3], "rise", "right"))
        corners = [station.point for station in stations[1:5]]
        shapes += [
            Leader(corner, (f"joint_error_{joint}",)) for joint, corner in enumerate(corners, 1)
        ]
    else:
        shapes.append(Dimension(*straights[1], "slope_1"))
        shapes.append(Dimension(*straights[3], "slope_2"))
        arcs = [middle(before[1], after[0]) for before, after in pairwise(straights)]
        also = (("bend_radius",), ("bend_angle",), ("pipe_ovality",), ())
        shapes += [
            Leader(arc, (*more, f"bend_error_{bend}"))
            for bend, (arc, more) in enumerate(zip(arcs, also, strict=True), 1)
        ]
    return shapes + _room(d, (left, right), centre)


def _room(d: Design, dip: tuple[Point, Point], centre: float) -> list[Shape]:
    left, right = dip
    half = 0.5 * d.get("dip_room", 2.0 * ROOM_BESIDE + right[0] - left[0])
    ends = (centre - half, left[1]), (centre + half, right[1])
    return [
        Dimension(left, right, "dip_length", "above"),
        Dimension(*ends, "dip_room", "below"),
        Leader((left[0] + 1.5, left[1]), ("bend_ratio", "least_bend_ratio")),
    ]


def _room_only(d: Design, stations: Sequence[Station]) -> list[Shape]:
    """What holds the pipe on both sides of a dip, where no model of the pipe knows the dip."""
    ends = stations[0].point, stations[-1].point
    return [*_body(d, stations), *_room(d, ends, middle(*ends)[0])]


def laid_from_the_side(design: Design) -> list[Shape]:
    """Fuel pipe as laid, from the side: its pieces, and what its joints turn up.

    What is no piece, and the joint before it, share a leader at the pipe's end.
    """
    d = {**USUAL, **design}
    if not all(name in d for name in NEEDED):
        return []
    radius = 0.5 * d["pipe_bore"] + d["pipe_wall"]
    shapes: list[Shape] = [Area(tube(_stations(d), radius), "pipe")]
    absent: list[str] = []
    chain = chain_of(d)
    last: Point = (0.0, 0.0)
    for i, (place, ahead, length) in enumerate(chain.straights, 1):
        start = float(place[0]), float(place[2])
        far = combined(place, ahead, 1.0, length)
        last = float(far[0]), float(far[2])
        if float(length) > SHORT:
            level = abs(last[0] - start[0]) >= abs(last[1] - start[1])
            shapes.append(Dimension(start, last, f"piece_{i}", "above" if level else ""))
        else:
            absent.append(f"piece_{i}")
        if i < PIECES and d[f"piece_{i + 1}"] > SHORT:
            corner = chain.joints[i - 1].place
            at = float(corner[0]), float(corner[2])
            shapes.append(Leader(at, (f"turn_up_{i}", f"joint_error_{i}")))
        elif i < PIECES:
            absent += [f"turn_up_{i}", f"joint_error_{i}"]
    for i in range(len(chain.straights) + 1, PIECES + 1):
        absent += [f"piece_{i}", *([f"turn_up_{i}", f"joint_error_{i}"] if i < PIECES else [])]
    return [*shapes, *([Leader(last, tuple(absent))] if absent else [])]


def laid_from_above(design: Design) -> list[Shape]:
    """Fuel pipe as laid, from above: what its joints turn aside, and how they are bent."""
    d = {**USUAL, **design}
    if not all(name in d for name in NEEDED):
        return []
    chain = chain_of(d)
    corners = [chain.straights[0].start, *(joint.place for joint in chain.joints)]
    points = [(float(x), float(y)) for x, y, _ in corners]
    start, ahead, length = chain.straights[-1]
    x, y, _ = combined(start, ahead, 1.0, length)
    points.append((float(x), float(y)))
    shapes: list[Shape] = [Line(tuple(points), "part"), Line(((0.0, -6.0), (0.0, 6.0)), "part")]
    absent: list[str] = []
    for i, point in enumerate(points[1:-1], 1):
        names = (f"turn_aside_{i}", f"bend_radius_{i}")
        if d[f"piece_{i + 1}"] > SHORT:
            shapes.append(Leader(point, names))
        else:
            absent += names
    for i in range(len(points) - 1, PIECES):
        absent += [f"turn_aside_{i}", f"bend_radius_{i}"]
    shapes.append(Leader((0.3 * points[1][0], points[0][1]), ("pipe_ovality",)))
    return [
        *shapes,
        *([Leader(points[-1], tuple(absent))] if absent else []),
        Text((0.0, 6.0), "sump"),
    ]
