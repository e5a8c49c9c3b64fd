"""Shapes of a drawing: values with their points in mm, in one upright plane.

A shape's role says in a plain word what it is; how a role looks is the business of whoever draws
it. All stands where the numbers say, except what has the role ``sketch``: of that a model knows
nothing, and it is there to be recognised. Two of these are wishes: to be drawn again, and larger.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

Design = Mapping[str, float]
"""Every input and result of a burner by name, each a number."""

Point = tuple[float, float]


class Line(NamedTuple):
    """A line through points."""

    points: tuple[Point, ...]
    role: str


class Area(NamedTuple):
    """What lies inside a closed outline."""

    points: tuple[Point, ...]
    role: str


class Circle(NamedTuple):
    """A round bar, seen from its end."""

    centre: Point
    radius: float
    role: str


class Text(NamedTuple):
    """What stands at a point, in words, and the name of a quantity to write behind them."""

    at: Point
    words: str
    name: str = ""


class Dimension(NamedTuple):
    """The quantity of a name, as the distance between two points.

    Drawn between them, or beyond the drawing on a ``side``: across it when that is ``above`` or
    ``below``, upright when it is ``left`` or ``right``.
    """

    start: Point
    end: Point
    name: str
    side: str = ""


class Leader(NamedTuple):
    """Where quantities are that no distance shows: an angle, a bore, a wall, an area."""

    at: Point
    names: tuple[str, ...]


class Again(NamedTuple):
    """A wish to be drawn again, an input being at this share of its spread; in words, why."""

    name: str
    share: float
    words: str


class Detail(NamedTuple):
    """A window to draw larger as well, from its lower left to its upper right corner."""

    low: Point
    high: Point
    words: str


Shape = Line | Area | Circle | Text | Dimension | Leader | Again | Detail


def box(low: Point, high: Point) -> tuple[Point, ...]:
    """Corners of an upright rectangle from its lower left to its upper right."""
    return (low, (high[0], low[1]), high, (low[0], high[1]))


def middle(one: Point, other: Point) -> Point:
    """Middle of two points."""
    return 0.5 * (one[0] + other[0]), 0.5 * (one[1] + other[1])


def smooth(points: Sequence[Point], pieces: int = 6) -> tuple[Point, ...]:
    """Curve through points: Catmull and Rom's cubic, the ends doubled."""
    padded = np.array([points[0], *points, points[-1]])
    t = np.linspace(0.0, 1.0, pieces, endpoint=False)[:, None]
    a, b, c, d = (padded[place : place + len(points) - 1, None] for place in range(4))
    cubic = b + 0.5 * t * (c - a + t * (2 * a - 5 * b + 4 * c - d + t * (3 * (b - c) + d - a)))
    curve = ((x, z) for x, z in cubic.reshape(-1, 2).tolist())
    return (*curve, points[-1])
