"""Side elevation of the fuel pipe past the bar in its way, and of the air that it may shut in."""

from collections.abc import Sequence
from itertools import pairwise
from math import hypot
from typing import NamedTuple

from models.air_lock import LEVEL
from models.arrays import Vector
from models.laid_drawing import NEEDED, laid_stations
from models.pipe_geometry import advance, heading, quarter_turn, slack_tilt
from models.shapes import (
    Area,
    Circle,
    Design,
    Dimension,
    Line,
    Point,
    Shape,
    Text,
    middle,
)

STEPPED = ("run_1", "drop", "run_2", "rise", "run_3")
BENT = ("run_1", "slope_1", "run_2", "slope_2", "run_3")
ARC_PIECES = 5


class Station(NamedTuple):
    """A point of the pipe's centreline, and where its left side is for a radius of 1 mm."""

    point: Point
    side: Point
    within_arc: bool = False


def _point(vector: Vector) -> Point:
    return float(vector[0]), float(vector[1])


def _mitre(before: Vector, after: Vector) -> Point:
    """Left side of a mitre: the sum of both left normals over 1 + the cosine of the turn."""
    (x1, z1), (x2, z2) = quarter_turn(before, 1), quarter_turn(after, 1)
    share = 1.0 / (1.0 + x1 * x2 + z1 * z2)
    return _point(((x1 + x2) * share, (z1 + z2) * share))


def _first_tilt(design: Design) -> float:
    slack = (design[f"bracket_{name}"] for name in ("slack", "distance", "play"))
    return design["outlet_tilt"] + float(slack_tilt(*slack))


def _stepped_centreline(design: Design) -> list[Station]:
    """Walk the mitred pipe as `models.pipe_run.stepped_pipe` does."""
    tilts = [_first_tilt(design)]
    for joint in range(1, 5):
        tilts.append(tilts[-1] + design[f"joint_error_{joint}"])
    turns = (0, -1, 0, 1, 0)
    headings = [quarter_turn(heading(tilt), q) for tilt, q in zip(tilts, turns, strict=True)]
    sides = [
        _point(quarter_turn(headings[0], 1)),
        *(_mitre(before, after) for before, after in pairwise(headings)),
        _point(quarter_turn(headings[-1], 1)),
    ]
    here: Vector = (0.0, design["outlet_height"])
    stations = [Station(_point(here), sides[0])]
    for direction, name, side in zip(headings, STEPPED, sides[1:], strict=True):
        here = advance(here, direction, design[name])
        stations.append(Station(_point(here), side))
    return stations


def _bent_centreline(design: Design) -> list[Station]:
    """Walk the bent pipe as `models.pipe_run.bent_pipe` does, each arc in short pieces."""
    radius, angle = design["bend_radius"], _first_tilt(design)
    here: Vector = (0.0, design["outlet_height"])
    stations = [Station(_point(here), _point(quarter_turn(heading(angle), 1)))]
    for bend, name in enumerate(BENT, start=1):
        here = advance(here, heading(angle), design[name])
        stations.append(Station(_point(here), _point(quarter_turn(heading(angle), 1))))
        if bend == len(BENT):
            break
        side = 1 if bend in (2, 3) else -1
        turn = design["bend_angle"] + design[f"bend_error_{bend}"]
        centre = advance(here, quarter_turn(heading(angle), side), radius)
        for piece in range(1, ARC_PIECES + 1):
            now = heading(angle + side * turn * piece / ARC_PIECES)
            here = advance(centre, quarter_turn(now, -side), radius)
            within = piece < ARC_PIECES
            stations.append(Station(_point(here), _point(quarter_turn(now, 1)), within))
        angle += side * turn
    return stations


def centreline(design: Design) -> list[Station] | None:
    """The pipe of the study from its outlet to the first wick; None where it has no pipe."""
    if all(name in design for name in (*STEPPED, "joint_error_4", "outlet_tilt")):
        return _stepped_centreline(design)
    if all(name in design for name in (*BENT, "bend_radius", "bend_error_4", "outlet_tilt")):
        return _bent_centreline(design)
    if all(name in design for name in NEEDED):
        return [Station(*station) for station in laid_stations(design)]
    return None


def tube(stations: Sequence[Station], radius: float) -> tuple[Point, ...]:
    """Outline of a pipe: along its left side and back along its right."""

    def beside(out: float) -> list[Point]:
        return [(p[0] + out * s[0], p[1] + out * s[1]) for p, s, _ in stations]

    return (*beside(radius), *reversed(beside(-radius)))


def bar(design: Design) -> list[Shape]:
    """The bar in the pipe's way, from its end, where the study has one."""
    if "obstacle_diameter" not in design:
        return []
    x, z = design["obstacle_position"], design["obstacle_height"]
    radius = 0.5 * design["obstacle_diameter"]
    return [
        Circle((x, z), radius, "obstacle"),
        Text((x, z + 0.6 * radius), "obstacle", "obstacle_clearance"),
    ]


def falls(stations: Sequence[Station], pipe_bore: float) -> list[Sequence[Station]]:
    """Stretches that go down by more than the bore; an arc is one leg, as in `models.air_lock`."""
    ends = [place for place, station in enumerate(stations) if not station.within_arc]
    stretches = [[ends[0]]]
    for before, after in pairwise(ends):
        if stations[before].point[1] - stations[after].point[1] > LEVEL:
            stretches[-1].append(after)
        else:
            stretches.append([after])
    found = [stations[stretch[0] : stretch[-1] + 1] for stretch in stretches]
    return [part for part in found if part[0].point[1] - part[-1].point[1] > pipe_bore]


def trapped_air(design: Design, stations: Sequence[Station]) -> list[Shape]:
    """Where filling may shut air in: all of each fall, its ends cut square; none without a head.

    It is outlined in a pipe that is full: a state that can come, beside the one that is drawn.
    """
    if not design.get("air_lock_head", 0.0) > 0.0:
        return []
    stays = design["air_lock_clears"] < 0.5
    words = "air shut in on filling, which stays" if stays else "air shut in on filling, clears"
    radius = 0.5 * design["pipe_bore"]
    shapes: list[Shape] = []
    for fall in falls(stations, design["pipe_bore"]):
        ends = [
            Station(end.point, _left(before.point, after.point))
            for end, before, after in ((fall[0], *fall[:2]), (fall[-1], *fall[-2:]))
        ]
        shapes.append(Area(tube([ends[0], *fall[1:-1], ends[1]], radius), "trapped air"))
        shapes.append(Text(middle(fall[-2].point, fall[-1].point), words, "air_lock_head"))
    return shapes


def _left(before: Point, after: Point) -> Point:
    """Where the left side is of a straight between two points, for a radius of 1 mm."""
    x, z = after[0] - before[0], after[1] - before[1]
    length = hypot(x, z)
    return -z / length, x / length


def pipe(design: Design) -> list[Shape]:
    """Side elevation of the fuel pipe past the obstacle."""
    stations = centreline(design)
    if stations is None or "wick_lip_height" in design:
        return []  # the drawing of the level shows the pipe as well
    radius = 0.5 * design["pipe_bore"]
    end = stations[-1].point
    aside = [Text(end, "first wick, to the left", "wick_aside")] if "wick_aside" in design else []
    return [
        *aside,
        Line(((-6.0, 0.0), (end[0], 0.0)), "sketch"),
        Area(tube(stations, radius + design["pipe_wall"]), "pipe"),
        Area(tube(stations, radius), "liquid"),
        *trapped_air(design, stations),
        *bar(design),
        Text((end[0] - 2.0, 0.0), "height of the sump floor"),
        Text(middle(stations[0].point, stations[1].point), "fuel pipe", "pipe_length"),
        Dimension((end[0] + 4.0, 0.0), (end[0] + 4.0, end[1]), "burner_height"),
    ]
