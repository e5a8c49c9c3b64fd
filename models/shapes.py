"""Shapes of a drawing: values with their points in mm, in one upright plane.

A shape's role says in a plain word what it is; how a role looks is the business of whoever draws
it. All stands where the numbers say, except what has the role ``sketch``: of that a model knows
nothing, and it is there to be recognised. Two of these are wishes: to be drawn again, and larger.
"""

from collections.abc import Mapping
from typing import NamedTuple

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
    """The quantity of a name, as the distance between two points."""

    start: Point
    end: Point
    name: str


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


Shape = Line | Area | Circle | Text | Dimension | Again | Detail
