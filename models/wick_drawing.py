"""Drawings of the wicks: every one on its pipe with the level, and all in plan in the firebox.

What the models know stands to scale; where a study has no model of the level, the heights of
pipe and lip are sketched as drawn by default.
"""

from itertools import pairwise
from math import cos, isfinite, radians, sin, tan

from models.arrays import STANDARD_GRAVITY
from models.pipe_flow import feed_resistance
from models.shapes import (
    Area,
    Circle,
    Design,
    Dimension,
    Line,
    Point,
    Shape,
    Text,
    box,
)
from models.wicks import MOST_WICKS

HALF_WIDTH = 3.5
"""Half of a wick tube's width where no model states its bore, mm."""

BURNER_HEIGHT, LIP_HEIGHT = 8.0, 6.6
"""Axis of the burner pipe and lip above it where no model states them, mm."""


def places(design: Design) -> list[tuple[float, float, float]]:
    """Each wick's place along the pipe or across, its rise, its lip's error, from the first; mm.

    On a manifold place and rise count from its middle. One wick where the count is impossible.
    """
    count = design.get("wick_count", 1.0)
    wicks = int(count) if 1.0 <= count <= MOST_WICKS else 1
    manifold = design.get("manifold", 0.0) > 0.5
    angle = radians(design.get("manifold_roll" if manifold else "burner_tilt", 0.0))
    middle = 0.5 * (wicks - 1) if manifold else 0.0
    found = []
    for wick in range(wicks):
        way = (wick - middle) * design.get("wick_pitch", 10.0)
        error = design.get(f"wick_lip_error_{wick + 1}", 0.0)
        found.append((way * cos(angle), way * sin(angle), error))
    return found


def wicks(design: Design) -> list[Shape]:
    """Every wick on the burner pipe, and the level of the fuel, highest and lowest."""
    axis = design.get("burner_height", BURNER_HEIGHT)
    radius = 0.5 * design["pipe_bore"]
    lip = axis + design.get("wick_lip_height", LIP_HEIGHT)
    manifold = design["manifold"] > 0.5
    stand = places(design)
    count = len(stand)
    lean = tan(radians(design["cant"]))
    if not manifold:
        lean = 0.01 * design["grade"] + design["acceleration"] / STANDARD_GRAVITY
    _, fall = feed_resistance(
        design["pipe_bore"], design["burn_rate"], design["fuel_temperature"], design["fuel_water"]
    )
    half = 0.5 * design["wick_bore"] if "wick_bore" in design else HALF_WIDTH
    high: list[Point] = []
    low: list[Point] = []
    tubes: list[Shape] = []
    for number, (x, rise, error) in enumerate(stand, start=1):
        lost = 0.0 if manifold else float(fall) * design["wick_pitch"]
        lost *= (number - 1.0) * (2.0 * count - number) / (2.0 * count)
        top = lip - design["flood_margin"] + lean * x
        bottom = axis + radius + design["wick_starve_margin"] + lean * x - lost
        high.append((x, top))
        low.append((x, bottom))
        tubes += _tube(x, half, axis + radius + rise, lip + rise + error, (bottom, top))
        tubes.append(Text((x + 0.4 * half, lip + rise + error), f"{number}"))
    ends = (stand[0][0] - half - 4.0, stand[-1][0] + half + 4.0)
    slope = tan(radians(design["manifold_roll" if manifold else "burner_tilt"]))

    def along(offset: float) -> tuple[Point, Point]:
        """Both ends of a line that lies in the pipe's direction."""
        first, last = (axis + offset + slope * x for x in ends)
        return (ends[0], first), (ends[1], last)

    def level(points: list[Point]) -> tuple[Point, ...]:
        (x_1, z_1), (x_n, z_n) = points[0], points[-1]
        return (
            (ends[0], z_1 + lean * (ends[0] - x_1)),
            *points,
            (ends[1], z_n + lean * (ends[1] - x_n)),
        )

    below, above = along(-radius), along(radius)
    shapes: list[Shape] = [
        Area((*below, *reversed(above)), "liquid"),
        *(Line(side, "part") for side in (below, above)),
        *tubes,
        Line(level(high), "level high"),
        Line(level(low), "level low"),
        Text(level(high)[-1], "highest level, unlit"),
        Text(level(low)[-1], "lowest level, burning"),
        Text(along(0.0)[0], "burner pipe, across" if manifold else "burner pipe, from the sump"),
    ]
    return shapes + _margins(design, stand, high, low, (lip, axis + radius))


def _tube(
    x: float, half: float, foot: float, lip: float, levels: tuple[float, float]
) -> list[Shape]:
    """One wick tube, the fuel in it up to its lip at most."""
    wet = min(max(levels[0], foot), lip)
    full = min(max(levels[1], wet), lip)
    return [
        Area(box((x - half, foot), (x + half, wet)), "liquid"),
        Area(box((x - half, wet), (x + half, full)), "level band"),
        *(Line(((side, foot), (side, lip)), "part") for side in (x - half, x + half)),
        Line(((x - half - 0.6, lip), (x + half + 0.6, lip)), "high limit"),
        Line(((x - half - 0.6, foot), (x + half + 0.6, foot)), "low limit"),
    ]


def _margins(
    design: Design,
    stand: list[tuple[float, float, float]],
    high: list[Point],
    low: list[Point],
    heights: tuple[float, float],
) -> list[Shape]:
    """Both margins where they are decided: at a lip, and at a crown or else in the sump."""
    lip, crown = heights
    floods, starves = design["first_to_flood"], design["first_to_starve"]
    shapes: list[Shape] = []
    if isfinite(floods):
        place = int(floods) - 1
        x, rise, error = stand[place]
        at = x + 1.0
        shapes.append(Dimension((at, high[place][1]), (at, lip + rise + error), "flood_margin_all"))
    if isfinite(starves):
        place = int(starves) - 1
        x, rise, _ = stand[place]
        at = x - 1.0
        stop = crown + rise - design["wick_hold"]
        if abs(low[place][1] - stop - design["starve_margin_all"]) < 1e-6:
            shapes.append(Dimension((at, stop), (at, low[place][1]), "starve_margin_all"))
        else:
            words = "the sump's outlet draws air first"
            shapes.append(Text((at, crown + rise), words, "starve_margin_all"))
    return shapes


def burner_fit(design: Design) -> list[Shape]:
    """Plan of the wick tubes in the firebox, between its walls and the frames."""
    length, width = design["firebox_length"], design["firebox_width"]
    frames = 0.5 * design["frame_spacing"]
    radius = 0.5 * design["wick_bore"] + design["wick_tube_wall"]
    yaw = radians(design["burner_yaw"])
    manifold = design["manifold"] > 0.5
    direction = (-sin(yaw), cos(yaw)) if manifold else (cos(yaw), sin(yaw))
    x, y = design["burner_position"], design["burner_offset"]
    flat = {**design, "burner_tilt": 0.0, "manifold_roll": 0.0}
    centres = [(x + way * direction[0], y + way * direction[1]) for way, _, _ in places(flat)]
    half = 0.5 * width
    entry = (-12.0, y - (x + 12.0) * tan(yaw))
    run = [entry, (x, y), *(centres if not manifold else [])]
    shapes: list[Shape] = [
        Line(((0.0, -half), (length, -half), (length, half), (0.0, half), (0.0, -half)), "part"),
        *(Line(((-12.0, side), (length + 6.0, side)), "sketch") for side in (-frames, frames)),
        *(Line(part, "sketch") for part in pairwise(run)),
        *([Line((centres[0], centres[-1]), "sketch")] if manifold else []),
        *(Circle(centre, radius, "pipe") for centre in centres),
    ]
    first = min(centres)
    last = max(centres)
    widest = max(centres, key=lambda centre: abs(centre[1]))
    side = half if widest[1] >= 0.0 else -half
    edge = widest[1] + (radius if widest[1] >= 0.0 else -radius)
    return [
        *shapes,
        Dimension((0.0, first[1]), (first[0] - radius, first[1]), "entry_clearance"),
        Dimension((last[0] + radius, last[1]), (length, last[1]), "far_clearance"),
        Dimension((widest[0], edge), (widest[0], side), "side_clearance"),
        Text((0.2 * length, half), "firebox, inside, in plan", "grate_cover"),
        Text((length, -frames), "frame", "frame_clearance"),
        Text(entry, "fuel pipe"),
        Text(centres[-1], "wick tubes"),
        Dimension((0.0, -half - 5.0), (length, -half - 5.0), "firebox_length"),
        Dimension((length + 9.0, -half), (length + 9.0, half), "firebox_width"),
    ]
