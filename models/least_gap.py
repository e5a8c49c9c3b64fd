"""Distance of a bar from a pipe of straights and arcs, and which of them can be the nearest.

In the upright plane of `models.pipe_geometry`. Of a part that is tried at many moments the pipe
stays as it is, while the slack of its bracket moves the bar a little to and fro as the pipe sees
it. Few pieces can then be the nearest at any of these moments, and the others need no answer.

Euclid's geometry, exact to rounding. Lengths in mm; arrays broadcast against each other.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.arrays import Array, Vector, smallest

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

NEXT_TO_NOTHING = 1e-9
"""Share of a distance, and mm, by which two that are alike but for rounding may differ."""


MANY = 3000
"""Points from which on it pays to find out first which pieces can be the nearest."""


class Straight(NamedTuple):
    """A straight pipe cut square or to mitres, for `straight_gap`."""

    start: Vector
    direction: Vector
    length: Array
    tangent_start: Array = 0.0
    tangent_end: Array = 0.0


class Arc(NamedTuple):
    """A bent pipe, for `arc_gap`."""

    centre: Vector
    before: Vector
    after: Vector
    bend_radius: Array


def least_gap(
    point: Vector, straights: Sequence[Straight], radius: Array, arcs: Sequence[Arc] = ()
) -> Array:
    """Least distance of a point from the pieces of a pipe, mm; NaN where a straight has none.

    The least of `straight_gap` and `arc_gap` over all pieces. Where each row of points (n, m)
    has one pipe, its parts (n, 1), only those pieces are asked that can be the nearest to some
    point of their row.

    From the middle of the box that holds a row, at most ``reach`` away from each of its points,
    no distance grows or shrinks by more than ``steep`` times that: 1 for the ring of an arc, and
    sqrt(1 + t^2) for a straight cut slantwise by the tangent t. That of a straight leaps at its
    ends on the inside alone, and no higher than 0.
    """
    parts = [radius, *(part for straight in straights for part in _numbers(straight))]
    shape, of_pipe = _shape_of(point), _shape_of(parts)
    points = (
        math.prod(np.broadcast_shapes(shape, of_pipe)) if len(shape) == len(of_pipe) == 2 else 0
    )
    if points < MANY or shape[1] < 2 or of_pipe[1] > 1:
        squares = [_square_beyond(point, _numbers(each), radius) for each in straights]
        gaps = [_rooted(smallest(squares), point, straights, radius)]
        return smallest([*gaps, *(arc_gap(point, *arc, radius) for arc in arcs)])
    rows = np.broadcast_shapes(shape, of_pipe)[0]
    laid = np.empty((len(parts[1:]) // len(straights), len(straights), rows, 1))
    for number, straight in enumerate(straights):
        for place, part in enumerate(_numbers(straight)):
            laid[place, number] = part

    middle, reach = _box(point)
    from_middle = np.asarray(
        straight_gap(middle, (laid[0], laid[1]), (laid[2], laid[3]), laid[4], radius, *laid[5:])
    )
    steep = 1.0 + np.abs(laid[-2:]).max(axis=(0, 1))
    most = np.maximum(from_middle.min(axis=0), 0.0) + 2.0 * steep * reach
    most += NEXT_TO_NOTHING * (1.0 + most)
    near = ~(from_middle > most)[..., 0]  # a row without an answer needs all of its pieces
    every, nearest = np.arange(rows), from_middle.argmin(axis=0)[:, 0]
    square: Floats = np.asarray(_square_beyond(point, laid[:, nearest, every], radius))
    near[nearest, every] = False
    while near.any():  # at most as often as there are pieces
        some = np.flatnonzero(near.any(axis=0))
        others = near[:, some].argmax(axis=0)
        near[others, some] = False
        found = _square_beyond(_point_rows(point, some), laid[:, others, some], _rows(radius, some))
        square[some] = np.minimum(square[some], found)
    least = np.asarray(_rooted(square, point, straights, radius))
    for arc in arcs:
        ring = _ring_gap(
            middle[0] - arc.centre[0], middle[1] - arc.centre[1], arc.bend_radius, radius
        )
        some = np.flatnonzero(~(ring > most))
        if some.size:
            arc_rows, radius_rows = _arc_rows(arc, some), _rows(radius, some)
            in_arc = arc_gap(_point_rows(point, some), *arc_rows, radius=radius_rows)
            least[some] = np.minimum(least[some], in_arc)
    return least


def straight_gap(
    point: Vector,
    start: Vector,
    direction: Vector,
    length: Array,
    radius: Array,
    tangent_start: Array = 0.0,
    tangent_end: Array = 0.0,
) -> Array:
    """Distance of a point from a straight pipe cut square or to mitres, mm, broadcast shape.

    ``tangent_start`` and ``tangent_end`` are the ``mitre_tangent`` of the joints at its ends,
    0 for a square end. Negative inside the pipe: less its depth under the nearer side.
    """
    numbers = (*start, *direction, length, tangent_start, tangent_end)
    beside, beyond = _beside_and_beyond(point, numbers, radius)
    outside, past = np.maximum(beside, 0.0), np.maximum(beyond, 0.0)
    gap: Array = np.sqrt(outside * outside + past * past)
    inside = (beside < 0.0) & (beyond <= 0.0)
    return np.where(inside, beside, gap)[()] if np.any(inside) else gap


def arc_gap(
    point: Vector,
    centre: Vector,
    before: Vector,
    after: Vector,
    bend_radius: Array,
    radius: Array,
) -> Array:
    """Distance of a point from a bent pipe within the arc's sector, mm; infinite outside it.

    ``before`` and ``after`` are the headings at the arc's ends, less than 180 deg apart.
    Outside the sector the straights that the arc joins without a corner are nearer.
    """
    x, z = point[0] - centre[0], point[1] - centre[1]
    in_sector = (x * before[0] + z * before[1] >= 0.0) & (x * after[0] + z * after[1] <= 0.0)
    return np.where(in_sector, _ring_gap(x, z, bend_radius, radius), np.inf)


def _ring_gap(x: Array, z: Array, bend_radius: Array, radius: Array) -> Array:
    """Distance from the whole ring of an arc, mm, of a point as seen from its centre."""
    return np.abs(np.sqrt(x * x + z * z) - bend_radius) - radius


def _is_square(tangent: Array) -> bool:
    return np.ndim(tangent) == 0 and not tangent


def _shape_of(parts: Sequence[Array]) -> tuple[int, ...]:
    """Shape of some numbers and arrays together; most arrays have the same."""
    return np.broadcast_shapes(*{part.shape for part in parts if isinstance(part, np.ndarray)})


def _numbers(straight: Straight) -> tuple[Array, ...]:
    """All numbers of a straight, one after another; last the tangents of its ends."""
    start, direction, *others = straight
    return (*start, *direction, *others)


def _beside_and_beyond(
    point: Vector, numbers: Sequence[Array] | Floats, radius: Array
) -> tuple[Array, Array]:
    """How far a point is out of a straight's nearer side, and beyond its nearer end; below 0 in."""
    (x, z), (start_x, start_z, cosine, sine, length, tangent_start, tangent_end) = point, numbers
    # Less the start's own, which seldom has as many points as the two together.
    along = x * cosine + z * sine - (start_x * cosine + start_z * sine)
    # Positive on the left.
    offset = z * cosine - x * sine - (start_z * cosine - start_x * sine)
    # A mitre runs slantwise: it ends the pipe sooner on the inner side of the joint.
    slant = np.minimum(np.maximum(offset, -radius), radius)
    before, after = -along, along - length
    if not _is_square(tangent_start):
        before = slant * tangent_start + before
    if not _is_square(tangent_end):
        after = after + slant * tangent_end
    return np.abs(offset) - radius, np.maximum(before, after)


def _square_beyond(point: Vector, numbers: Sequence[Array] | Floats, radius: Array) -> Array:
    """Square of a point's distance from a straight; 0 inside of it."""
    beside, beyond = _beside_and_beyond(point, numbers, radius)
    outside, past = np.maximum(beside, 0.0), np.maximum(beyond, 0.0)
    square: Array = outside * outside + past * past
    return square


def _rooted(square: Array, point: Vector, straights: Sequence[Straight], radius: Array) -> Array:
    """Distance of a point from a pipe, of whose straights the nearest is so far away, squared."""
    if np.all(square):
        gap: Array = np.sqrt(square)
        return gap
    return smallest([straight_gap(point, *each[:3], radius, *each[3:]) for each in straights])


def _box(point: Vector) -> tuple[Vector, Array]:
    """Middle (n, 1) of the box that holds each row of points (n, m), and half its diagonal."""
    x, z = (np.atleast_2d(part) for part in point)
    left, right = x.min(axis=1, keepdims=True), x.max(axis=1, keepdims=True)
    low, high = z.min(axis=1, keepdims=True), z.max(axis=1, keepdims=True)
    return (0.5 * (left + right), 0.5 * (low + high)), 0.5 * np.hypot(right - left, high - low)


def _rows(part: Array, some: Places) -> Array:
    """Take some rows of what has several; one row, or a number, holds for all."""
    return part[some] if isinstance(part, np.ndarray) and len(part) > 1 else part


def _point_rows(point: Vector, some: Places) -> Vector:
    return _rows(point[0], some), _rows(point[1], some)


def _arc_rows(arc: Arc, some: Places) -> Arc:
    centre, before, after = (_point_rows(each, some) for each in arc[:3])
    return Arc(centre, before, after, _rows(arc.bend_radius, some))
