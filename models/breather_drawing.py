"""Side elevation of the breather: its tube, the shape of its end, and the fuel as it lets go."""

from math import cos, pi, sin, sqrt, tan
from typing import NamedTuple

import numpy as np

from models.breather import bond_number_at_1_mm, side_rise
from models.shapes import Area, Design, Detail, Dimension, Line, Point, Shape, Text, smooth

SIDE_CLEAR = 3.0
"""Gap between the breather and the walls of a sump of unknown shape, mm."""

RING = (
    (-0.12, 0.95),
    (-0.17, 0.90),
    (-0.24, 0.80),
    (-0.26, 0.70),
    (-0.22, 0.50),
    (-0.15, 0.40),
    (-0.03, 0.30),
    (0.16, 0.20),
    (0.51, 0.10),
    (0.88, 0.05),
    (1.39, 0.02),
    (2.20, 0.0),
)
"""Profile of a ring that lets go: outward from the rim and above the level, in ring heights.

Read off the solution in `tests/published/test_breather_ring.py` for a tube 6 mm outside; others
are drawn alike. A sketch of the shape, exact at both ends: the rim and the level.
"""

CLIMB = ((0.03, 0.85), (0.10, 0.62), (0.22, 0.42), (0.45, 0.22), (0.9, 0.07), (1.7, 0.0))
"""The same of fuel that wets the tube's side, in heights of its rise: by eye."""

NEEDED = (
    "breather_wall",
    "breather_chamfer",
    "inner_depression",
    "outer_depression",
    "level_band",
    "slosh_amplitude",
    "fuel_temperature",
    "fuel_water",
)


class _End(NamedTuple):
    """Corners of the breather's end, left and right: inner rim, outer rim, and its side above."""

    inner: tuple[Point, Point]
    outer: tuple[Point, Point]
    side: tuple[Point, Point]


def outside_radius(design: Design) -> float:
    """Radius of the breather outside, mm; that of its bore where the study has no wall."""
    return 0.5 * design["breather_bore"] + design.get("breather_wall", 0.0)


def _end(design: Design, middle: float) -> _End:
    """The end as it is cut: slanted by breather_scarf, its outer edge taken off at 45 deg.

    breather_height is that of the lower inner lip, and the mouth's that of the upper one.
    """
    radius = 0.5 * design["breather_bore"]
    wall = design.get("breather_wall", 0.0)
    bevel = wall * design.get("breather_chamfer", 0.0)
    slant = tan(design["breather_scarf"] * pi / 180.0)

    def pair(out: float, up: float = 0.0) -> tuple[Point, Point]:
        left, right = (
            (middle + way * out, design["breather_height"] + slant * (radius + way * out) + up)
            for way in (-1.0, 1.0)
        )
        return left, right

    return _End(pair(radius), pair(radius + wall - bevel), pair(radius + wall, bevel))


def breather(design: Design, middle: float, top: float) -> list[Shape]:
    """Both walls of the tube, from the shape of its end up to ``top``."""
    end = _end(design, middle)
    walls: list[Shape] = []
    for inner, outer, side in zip(*end, strict=True):
        outline = ((inner[0], top), inner, outer, side, (side[0], top))
        walls.append(Area(outline, "part"))
    return walls


def mouth_detail(
    design: Design, middle: float, top: float, room: tuple[float, float], height_over_width: float
) -> list[Shape]:
    """The fuel at the mouth at the moment when air enters, and the heights at which it does what.

    The ring on the outer rim holds the air out, down to outer_depression below the mouth, or,
    where the bore is narrow, the face in it, down to inner_depression. The bore is full: the
    tank's vacuum draws fuel up it. Where waves run, air enters in their troughs, at a mean level
    as much higher. ``room`` is where the sump's walls stand, ``height_over_width`` that of the
    window to draw larger. Nothing where the study does not know the depressions.
    """
    if not all(name in design for name in NEEDED):
        return []
    end = _end(design, middle)
    mouth = end.inner[1][1]
    inner, outer = design["inner_depression"], design["outer_depression"]
    ring = outer >= inner
    governs = "outer_depression" if ring else "inner_depression"
    level = mouth - max(inner, outer)
    lets_go = level + design["slosh_amplitude"]
    shuts = lets_go + design["level_band"]
    left, right = end.side[0][0], end.side[1][0]
    fuel, faces = _ring(design, end, level, top, room) if ring else _face(end, top)
    held = "ring of fuel" if ring else "face of the fuel"
    return [
        Area(fuel, "liquid"),
        *(Line(face, "sketch") for face in faces),
        Text((left - 5.0, shuts), "shuts again"),
        Text((middle, lets_go), "lets go"),
        Text(end.inner[1], "mouth of the breather"),
        Text(faces[0][len(faces[0]) // 3], held),
        Dimension((right + 3.4, level), (right + 3.4, mouth), governs),
        Dimension((left - 3.4, lets_go), (left - 3.4, shuts), "level_band"),
        _window(
            (left - 7.0, min(level, end.inner[0][1]) - 4.0),
            (right + 7.0, max(shuts, mouth) + 5.0),
            height_over_width,
        ),
    ]


def _window(low: Point, high: Point, height_over_width: float) -> Detail:
    """A detail that shows this much at least, and has this shape."""
    width, height = high[0] - low[0], high[1] - low[1]
    wider = 0.5 * max(height / height_over_width - width, 0.0)
    higher = 0.5 * max(width * height_over_width - height, 0.0)
    return Detail(
        (low[0] - wider, low[1] - higher),
        (high[0] + wider, high[1] + higher),
        "At the breather, as air enters",
    )


def _ring(
    design: Design, end: _End, level: float, top: float, room: tuple[float, float]
) -> tuple[tuple[Point, ...], list[tuple[Point, ...]]]:
    """Fuel in the bore and in the ring under its end; and the ring's faces, left and right."""
    per_mm = sqrt(float(bond_number_at_1_mm(design["fuel_temperature"], design["fuel_water"])))
    climb = float(side_rise(outside_radius(design) * per_mm)) / per_mm
    faces = []
    for way, outer, side, wall in zip((-1.0, 1.0), end.outer, end.side, room, strict=True):
        # On the lower side of a slanted end the rim may be under fuel, which climbs the side.
        hangs = outer[1] - level > climb
        start = outer if hangs else (side[0], level + climb)
        shape, height = (RING, start[1] - level) if hangs else (CLIMB, climb)
        wide = min(1.0, max(way * (wall - start[0]), 0.0) / (shape[-1][0] * height))
        points = [
            (start[0] + way * height * out * (wide if out > 0.0 else 1.0), level + height * up)
            for out, up in shape
        ]
        curve = smooth((start, *points))
        faces.append(tuple((way * min(way * x, way * wall), z) for x, z in curve))
    (left, right), (lower, upper) = faces, end.inner
    return (
        (lower[0], top),
        lower,
        end.outer[0],
        *left,
        *reversed(right),
        end.outer[1],
        upper,
        (upper[0], top),
    ), faces


def _face(end: _End, top: float) -> tuple[tuple[Point, ...], list[tuple[Point, ...]]]:
    """Fuel in the bore, air bulging up into it: half a circle, a sketch; and the face's halves."""
    (x1, z1), (x2, z2) = end.inner
    radius = 0.5 * (x2 - x1)
    face = [
        (
            x1 + radius * (1.0 - cos(turn)),
            z1 + 0.5 * (z2 - z1) * (1.0 - cos(turn)) + radius * sin(turn),
        )
        for turn in np.linspace(0.0, pi, 25).tolist()
    ]
    return ((x1, top), *face, (x2, top)), [tuple(face[:13]), tuple(face[12:])]
