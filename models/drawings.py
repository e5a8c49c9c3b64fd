"""Drawings of the models: plain functions from one design to shapes in one upright plane.

What is drawn stands where the numbers say, but for what has the role ``sketch``.
"""

from collections.abc import Mapping, Sequence
from math import sqrt
from typing import NamedTuple

import numpy as np

from models.arrays import STANDARD_GRAVITY
from models.breather_drawing import SIDE_CLEAR, breather, mouth_detail, outside_radius
from models.pipe_drawing import Station, bar, centreline, trapped_air, tube
from models.shapes import (
    Again,
    Area,
    Design,
    Detail,
    Dimension,
    Line,
    Point,
    Shape,
    Text,
    box,
    middle,
)
from models.wick_drawing import places

WICK_PITCH, WICK_HALF_WIDTH, WICKS, TUBE_WALL = 11.0, 2.4, 3, 0.5
"""Sketch of the wick tubes, mm, in a study without `models.wicks`."""


def _straight(design: Design) -> list[Station]:
    """A level pipe, the breather in the middle of the sump, where no pipe is in the study."""
    height, half = design["burner_height"], 0.5 * _sump_side(design)
    ends = ((0.0, height), (max(design["reach"] - half, 1.0), height))
    return [Station(end, (0.0, 1.0)) for end in ends]


def _sump_side(design: Design) -> float:
    """Side of a square with the sump's free surface, mm; the area is in cm2."""
    return 10.0 * sqrt(max(design["sump_free_area"], 0.0))


class _Site(NamedTuple):
    """Where things stand in the elevation of a burner: x along the engine, z above the floor."""

    wick: float
    axis: float
    crown: float
    lip: float
    mouth: float
    left: float
    right: float
    top: float
    end: float
    slope: float
    stand: Sequence[tuple[float, float, float]]
    """Of the wicks: place from the first, rise and lip's error, as in `wick_drawing.places`."""


def _stand(design: Design) -> list[tuple[float, float, float]]:
    """Every wick where the study knows of them; one where they stand abreast; else a sketch."""
    if "wick_count" not in design:
        return [(wick * WICK_PITCH, 0.0, 0.0) for wick in range(WICKS)]
    return [(0.0, 0.0, 0.0)] if design.get("manifold", 0.0) > 0.5 else places(design)


def _site(design: Design, stations: Sequence[Station]) -> _Site:
    wick, axis = stations[-1].point
    mouth = wick - design["reach"]
    beside = outside_radius(design) + SIDE_CLEAR
    # The mouth lies in the sump, and the sump's outlet is at 0 whatever the reach says.
    right = max(0.0, mouth + beside)
    left = min(right - _sump_side(design), mouth - beside)
    lip = axis + design["wick_lip_height"]
    stand = _stand(design)
    tilt = design.get("burner_tilt", 0.0) if "wick_count" in design else 0.0
    return _Site(
        wick=wick,
        axis=axis,
        crown=axis + 0.5 * design["pipe_bore"],
        lip=lip,
        mouth=mouth,
        left=left,
        right=right,
        top=max(lip, design["breather_height"], axis) + 6.0,
        end=wick + stand[-1][0] + 7.0,
        slope=float(np.tan(np.deg2rad(tilt))),
        stand=stand,
    )


class _Levels(NamedTuple):
    """A level at the wicks, that in the sump as it would be on the level, and its slope along."""

    at_wick: float
    in_sump: float
    slope: float
    words: str
    margin: str


def fuel_level(design: Design) -> list[Shape]:
    """Side elevation from the sump to the wicks, with the level of the fuel."""
    high, low = design["level_high_at_wick"], design["level_low_at_wick"]
    slope = 0.01 * design["grade"] + design["acceleration"] / STANDARD_GRAVITY
    loss = design["pipe_head_loss"]
    outlet = design["outlet_height"] + 0.5 * design["pipe_bore"]
    over_outlet = design["sump_starve_margin"]
    return [
        *_elevation(
            design,
            _Levels(high, high, slope, "highest level, unlit", "flood_margin"),
            _Levels(
                low,
                low + loss - design["hot_column_lift"],
                slope,
                "lowest level, burning",
                "wick_starve_margin",
            ),
        ),
        Dimension((-1.5, outlet), (-1.5, outlet + over_outlet), "sump_starve_margin"),
        Again("grade", 0.975, "On a gradient, the wicks downhill"),
    ]


def feed_cycle(design: Design) -> list[Shape]:
    """Side elevation from the sump to the wicks, with the highest and lowest level of a run.

    On a gradient the surface leans about the breather's mouth, which holds its height there.
    """
    mouth, reach = design["breather_height"], design["reach"]
    levels = [
        _Levels(level, level, (level - mouth) / reach if reach else 0.0, words, margin)
        for level, words, margin in (
            (design["highest_level_at_wick"], "highest level in the run", "run_flood_margin"),
            (design["lowest_level_at_wick"], "lowest level in the run, lit", "run_starve_margin"),
        )
    ]
    return _elevation(design, *levels)


def _elevation(design: Design, high: _Levels, low: _Levels) -> list[Shape]:
    stations = centreline(design) or _straight(design)
    site = _site(design, stations)
    lines = {"high": _surface(site, high), "low": _surface(site, low)}
    between = site.wick + WICK_HALF_WIDTH + 1.8
    at_wick = Detail(
        (site.wick - 9.0, site.axis - 5.5),
        (site.wick + WICK_PITCH + 6.0, max(site.lip, high.at_wick) + 4.5),
        "At the first wick",
    )
    # Details stand side by side, so they have one shape.
    height_over_width = (at_wick.high[1] - at_wick.low[1]) / (at_wick.high[0] - at_wick.low[0])
    detail = mouth_detail(
        design, site.mouth, site.top + 5.0, (site.left, site.right), height_over_width
    )

    def on(levels: _Levels, x: float) -> Point:
        return x, levels.at_wick + levels.slope * (x - site.wick)

    return [
        *_vessels(design, stations, site, lines, detail),
        Line(lines["high"], "level high"),
        Line(lines["low"], "level low"),
        Text(on(high, site.wick - WICK_HALF_WIDTH - 3.5), high.words),
        Text(on(low, site.wick - WICK_HALF_WIDTH - 5.0), low.words),
        Text(on(high, 0.66 * site.wick), "fuel level, highest and lowest (dashed)"),
        Dimension(on(high, between), (between, site.lip), high.margin),
        Dimension((between, site.crown), on(low, between), low.margin),
        at_wick,
    ]


def _surface(site: _Site, levels: _Levels) -> tuple[Point, ...]:
    """Where the fuel stands, or would in an upright tube on the pipe: sump, wall, wick, end."""
    return tuple(
        (x, level + levels.slope * (x - site.wick))
        for x, level in (
            (site.left, levels.in_sump),
            (site.right, levels.in_sump),
            (site.wick, levels.at_wick),
            (site.end, levels.at_wick),
        )
    )


def _vessels(
    design: Design,
    stations: Sequence[Station],
    site: _Site,
    lines: Mapping[str, tuple[Point, ...]],
    detail: Sequence[Shape],
) -> list[Shape]:
    """Sump, breather, pipe and wick tubes with the fuel in them."""
    radius = 0.5 * design["pipe_bore"]
    wall = design.get("pipe_wall", TUBE_WALL)
    rise = site.slope * (site.end - site.wick)
    run = [*stations, Station((site.end, site.axis + rise), (0.0, 1.0))]
    foot = design["breather_height"]
    sump = ((site.left, 0.0), (site.right, 0.0))
    shapes: list[Shape] = [
        Area((*sump, lines["low"][1], lines["low"][0]), "liquid"),
        Area((lines["low"][0], lines["low"][1], lines["high"][1], lines["high"][0]), "level band"),
        Line(((site.left, site.top), *sump, (site.right, site.top)), "sketch"),
        Line(sump, "part"),
        Area(tube(run, radius + wall), "pipe"),
        Area(tube(run, radius), "liquid"),
    ]
    for place in site.stand:
        shapes += _wick_tube(site, place, lines)
    return [
        *shapes,
        *detail,
        *breather(design, site.mouth, site.top + 5.0),
        Line(
            (
                (site.wick - WICK_HALF_WIDTH - 3.0, site.crown),
                (site.wick, site.crown),
                (site.end, site.crown + rise),
            ),
            "low limit",
        ),
        *trapped_air(design, stations),
        *bar(design),
        Text((site.left + 2.5, 2.0), "sump"),
        *([] if detail else [Text((site.mouth, foot), "mouth of the breather")]),
        Text((site.mouth, site.top + 4.0), "breather, to the air in the tank"),
        Text(middle(stations[0].point, stations[1].point), "fuel pipe"),
        Text((site.wick + site.stand[-1][0], site.lip - 1.5), "wick tubes"),
        Text((site.wick - WICK_HALF_WIDTH, site.lip), "wick lip"),
        Text((site.wick - WICK_HALF_WIDTH - 2.0, site.crown), "crown of the burner pipe"),
        Dimension((site.left - 4.0, 0.0), (site.left - 4.0, foot), "breather_height"),
    ]


def _wick_tube(
    site: _Site, place: tuple[float, float, float], lines: Mapping[str, tuple[Point, ...]]
) -> list[Shape]:
    """One wick tube on the burner pipe, the fuel in it up to its lip at most."""
    x, crown = site.wick + place[0], site.crown + place[1]
    lip = site.lip + place[1] + place[2]
    (wick, at_wick), (end, at_end) = lines["high"][2:]
    low = lines["low"][2][1] + (at_end - at_wick) / (end - wick) * (x - wick)
    high = at_wick + (at_end - at_wick) / (end - wick) * (x - wick)
    left, right = x - WICK_HALF_WIDTH, x + WICK_HALF_WIDTH
    wet = min(max(low, crown), lip)
    full = min(max(high, wet), lip)
    walls: list[Shape] = [Line(((side, crown), (side, lip)), "sketch") for side in (left, right)]
    return [
        Area(box((left, crown), (right, wet)), "liquid"),
        Area(box((left, wet), (right, full)), "level band"),
        *walls,
        Line(((left - 0.6, lip), (right + 0.6, lip)), "high limit"),
    ]
