"""Plane geometry of a pipe: where a chain of straights and joints ends, and what it clears.

The plane is upright and holds the centreline of the pipe: x along the pipe from the sump,
z upwards. A heading is a unit vector (cos, sin) of the direction of travel; left is
anticlockwise. A round bar that crosses the plane at right angles comes nearest to the
pipe in this plane, so its distance is that of a point to the outline of the pipe:
two lines on either side of the centreline, ``radius`` (half the outside diameter) away.

Euclid's geometry, exact to rounding: no range but the one stated. Lengths in mm, angles
in degrees; every number may be an array, and all broadcast against each other.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from models.arrays import DEGREES, Array, Vector, smallest
from models.least_gap import Arc, Straight, least_gap
from models.ranges import masked_where


def heading(angle: Array) -> Vector:
    """Turn an angle above the horizontal, deg, into the unit vector (cos, sin).

    By the tangent t of half of it: (1 - t^2)/(1 + t^2) and 2t/(1 + t^2), within 3e-16, at less
    than half the price of a sine and a cosine.
    """
    half = np.tan(angle * (0.5 / DEGREES))
    square = half * half
    share = 1.0 / (1.0 + square)
    return (1.0 - square) * share, (half + half) * share


def quarter_turn(direction: Vector, quarters: int) -> Vector:
    """Turn a direction left by whole right angles without rounding.

    A drawn elbow of 90 deg then leaves no trace of cos(90 deg) = 6e-17 in the heights.
    """
    x, z = direction
    return ((x, z), (-z, x), (-x, -z), (z, -x))[quarters % 4]


def advance(point: Vector, direction: Vector, distance: Array) -> Vector:
    """Go ``distance`` mm from a point along a direction."""
    return point[0] + distance * direction[0], point[1] + distance * direction[1]


def slack_tilt(bracket_slack: Array, bracket_distance: Array, bracket_play: Array) -> Array:
    """Tilt that a slack far bracket lets a stiff pipe take about its outlet, deg upwards.

    asin(u c/q): the pipe's end is held to plus or minus c (``bracket_slack``) at q
    (``bracket_distance``) beyond the outlet, and lies at u c (``bracket_play``). Euclid's; NaN
    where c is below 0 or above q, q not above 0, or u outside -1 to 1. It takes the pipe as
    stiff and the joint at the sump as free; a joint that holds makes it less.
    """
    _, sine = slack_turn(bracket_slack, bracket_distance, bracket_play)
    tilt: Array = np.degrees(np.arcsin(sine))
    return tilt


def slack_turn(bracket_slack: Array, bracket_distance: Array, bracket_play: Array) -> Vector:
    """Cosine and sine of `slack_tilt`, which need no angle: the sine is u c/q."""
    held = (bracket_slack >= 0.0) & (bracket_slack <= bracket_distance) & (bracket_distance > 0.0)
    possible = np.where(held, bracket_slack, np.nan) / bracket_distance
    sine = np.where(np.abs(bracket_play) <= 1.0, bracket_play, np.nan) * possible
    return np.sqrt(1.0 - sine * sine), sine


def turned_back(point: Vector, turn: Vector) -> Vector:
    """See a point from a frame that is turned to the left by a cosine and a sine."""
    (x, z), (cosine, sine) = point, turn
    return x * cosine + z * sine, z * cosine - x * sine


def heights_about_outlet(
    points: Sequence[Vector], turn: Vector, outlet_height: Array
) -> list[Array]:
    """Heights of points turned to the left about an outlet, mm.

    The outlet is the first of the points, (0, 0), and stands at ``outlet_height``.
    """
    cosine, sine = turn
    return [outlet_height, *(outlet_height + (z * cosine + x * sine) for x, z in points[1:])]


def along_from_outlet(point: Vector, turn: Vector) -> Array:
    """How far along a point lies once it is turned to the left about the outlet at (0, 0), mm."""
    cosine, sine = turn
    return point[0] * cosine - point[1] * sine


def mitre_tangent(before: Vector, after: Vector) -> Array:
    """Tangent of half the turn between two headings, positive to the left.

    tan(t/2) = sin t / (1 + cos t). Times the radius it is what a mitre cuts off the inner
    side of each pipe, and leaves on the outer.
    """
    cross = before[0] * after[1] - before[1] * after[0]
    dot = before[0] * after[0] + before[1] * after[1]
    return cross / (1.0 + dot)


def mitred_chain(
    start: Vector,
    headings: Sequence[Vector],
    lengths: Sequence[Array],
    point: Vector,
    radius: Array,
) -> tuple[list[Vector], Array]:
    """Corners of a chain of straight pipes joined by mitres, and its distance from a point.

    Start and end are corners too. ``lengths`` are between the mitre centres. The distance is
    exact outside the pipe, and NaN where a pipe is too short for the mitres at its ends (its
    inner side is cut away).
    """
    joints = [mitre_tangent(before, after) for before, after in pairwise(headings)]
    tangents = [0.0, *joints, 0.0]
    straights: list[Straight] = []
    spare: list[Array] = []
    corners = [start]
    for i, (direction, length) in enumerate(zip(headings, lengths, strict=True)):
        first, last = tangents[i], tangents[i + 1]
        straights.append(Straight(corners[-1], direction, length, first, last))
        spare.append(length - radius * np.abs(first + last))
        corners.append(advance(corners[-1], direction, length))
    fits = masked_where(smallest(spare) > 0.0)
    return corners, fits(least_gap(point, straights, radius))


def bent_chain(
    start: Vector,
    headings: Sequence[Vector],
    lengths: Sequence[Array],
    left: Sequence[bool],
    bend_radius: Array,
    point: Vector,
    radius: Array,
) -> tuple[list[Vector], Array]:
    """Ends of the straights of a pipe of straights and arcs in turn, and its gap to a point.

    ``headings`` and ``lengths`` are those of the straights, between the tangent points;
    ``left`` tells which way each arc between them turns, by less than 180 deg. An arc
    starts and ends on the normals of the headings, so it costs no sine of its own.
    """
    straights = [Straight(start, headings[0], lengths[0])]
    arcs: list[Arc] = []
    ends = [start, advance(start, headings[0], lengths[0])]
    for i, is_left in enumerate(left):
        before, after = headings[i], headings[i + 1]
        side = 1 if is_left else -1
        centre = advance(ends[-1], quarter_turn(before, side), bend_radius)
        arcs.append(Arc(centre, before, after, bend_radius))
        ends.append(advance(centre, quarter_turn(after, -side), bend_radius))
        straights.append(Straight(ends[-1], after, lengths[i + 1]))
        ends.append(advance(ends[-1], after, lengths[i + 1]))
    return ends, least_gap(point, straights, radius, arcs)
