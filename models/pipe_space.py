"""A pipe in space: straight pieces joined by mitred elbows or by bends, turned any way.

Axes: x along the engine from the sump's outlet towards the wicks, y to the left, z upwards. The
chain carries a frame (ahead, to the left, up) as a stiff pipe does, so an error at one joint
turns all that follows about it, and a level run across the engine does not rise because the
run before it was tilted. Lengths in mm, angles in deg; every number may be an array, and all
broadcast against each other. Euclid's geometry.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from models.arrays import Array, Mask, Vector, smallest
from models.least_gap import straight_gap
from models.pipe_geometry import heading

Vector3 = tuple[Array, Array, Array]
"""The x, y and z parts of a point or of a direction, each of any shape."""

ARC_SAMPLES, ELLIPSE_SAMPLES, REFINEMENTS = 5, 9, 4
"""Points of a curve tried for the nearest, and Newton's steps from the best of them."""

END_ON = 1e-9
"""Below this a length of a unit vector, or the tangent of a turn, is rounding."""


class Frame(NamedTuple):
    """Unit vectors ahead, to the left and up, as one who travels along the pipe sees them."""

    ahead: Vector3
    left: Vector3
    up: Vector3


class Straight(NamedTuple):
    """A straight piece: where it starts, its direction and its length."""

    start: Vector3
    ahead: Vector3
    length: Array


class Joint(NamedTuple):
    """The joint between two pieces, which starts at ``place``: a bend, or an elbow of radius 0."""

    place: Vector3
    before: Vector3
    after: Vector3
    radius: Array
    tangent: Array  # of half the turn in space
    used: Mask  # false where the pipe has ended before it
    drawn: Mask  # whether it is drawn to turn, or two pieces follow straight on


class Chain(NamedTuple):
    """A pipe as laid: its pieces, the joints between them, and its end."""

    straights: list[Straight]
    joints: list[Joint]
    end: Vector3


def combined(one: Vector3, other: Vector3, a: Array = 1.0, b: Array = 1.0) -> Vector3:
    """``a`` times one vector and ``b`` times another."""
    return (
        a * one[0] + b * other[0],
        a * one[1] + b * other[1],
        a * one[2] + b * other[2],
    )


def scaled(vector: Vector3, factor: Array) -> Vector3:
    """``factor`` times a vector."""
    return factor * vector[0], factor * vector[1], factor * vector[2]


def product(one: Vector3, other: Vector3) -> Array:
    """Scalar product of two vectors."""
    return one[0] * other[0] + one[1] * other[1] + one[2] * other[2]


def length_of(vector: Vector3) -> Array:
    """Length of a vector."""
    length: Array = np.sqrt(product(vector, vector))
    return length


def _rotated(one: Vector3, other: Vector3, angle: Array) -> tuple[Vector3, Vector3]:
    """Two unit vectors at right angles, turned in their plane from the one to the other."""
    if not np.any(angle):
        return one, other  # so that what lies in the upright plane stays in it exactly
    cosine, sine = heading(angle)
    return combined(one, other, cosine, sine), combined(other, one, cosine, -sine)


def turned_frame(frame: Frame, up: Array, aside: Array) -> Frame:
    """Turn a frame to its left by ``aside``, and then up by ``up``, deg.

    The new direction stands at these two angles in the old frame, as at a longitude and a
    latitude.
    """
    ahead, left = _rotated(frame.ahead, frame.left, aside)
    ahead, top = _rotated(ahead, frame.up, up)
    return Frame(ahead, left, top)


def lay(
    outlet_height: Array,
    tilt: Array,
    pieces: Sequence[Array],
    turns_up: Sequence[Array],
    turns_aside: Sequence[Array],
    errors: Sequence[Array],
    radii: Sequence[Array],
) -> Chain:
    """Lay a pipe from the outlet at (0, 0, ``outlet_height``), its first piece tilted up.

    The joint between two pieces turns up by its ``turns_up`` and ``errors`` together and left by
    its ``turns_aside``, as in `turned_frame`. Where its radius R is above 0 it is an arc that
    touches both: the pieces are straight between tangent points, and from the end of the one to
    the start of the next it is R tan(t/2) times the sum of their directions, t the turn in
    space. The pipe ends before the first piece of length 0.
    """
    frame = Frame((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    frame = turned_frame(frame, tilt, 0.0)
    start: Vector3 = (0.0, 0.0, outlet_height)
    straights = [Straight(start, frame.ahead, pieces[0])]
    joints: list[Joint] = []
    place = combined(start, frame.ahead, 1.0, pieces[0])
    used: Mask = True
    turns = zip(turns_up, turns_aside, errors, radii, strict=True)
    for piece, (up, aside, error, radius) in zip(pieces[1:], turns, strict=True):
        used = np.logical_and(used, np.not_equal(piece, 0.0))
        if not np.any(used):
            break
        turns_at_all = np.logical_or(np.not_equal(up, 0.0), np.not_equal(aside, 0.0))
        drawn = np.logical_and(used, turns_at_all)
        angles = (up + error, aside)
        length = piece
        if not np.all(used):
            angles = (np.where(used, angles[0], 0.0), np.where(used, aside, 0.0))
            radius, length = np.where(used, radius, 0.0), np.where(used, piece, 0.0)
        before = frame.ahead
        frame = turned_frame(frame, *angles)
        both = combined(before, frame.ahead)
        tangent = length_of(combined(before, frame.ahead, 1.0, -1.0)) / length_of(both)
        joints.append(Joint(place, before, frame.ahead, radius, tangent, used, drawn))
        place = combined(place, both, 1.0, radius * tangent)
        straights.append(Straight(place, frame.ahead, length))
        place = combined(place, frame.ahead, 1.0, length)
    return Chain(straights, joints, place)


def arc_lengths(chain: Chain) -> list[Array]:
    """Length of each joint's arc, R times the turn in space: 0 where it is an elbow."""
    return [2.0 * joint.radius * np.arctan(joint.tangent) for joint in chain.joints]


def heights(chain: Chain) -> list[Array]:
    """Heights of the centreline along the pipe, wherever it may begin to rise or to fall.

    These are the ends of the pieces; where an elbow leaves but one height for two of them, the
    other is taken in the middle of the piece, so that no leg between two heights is level that
    is not laid so.
    """
    found: list[Array] = [chain.straights[0].start[2]]
    for i, (start, ahead, length) in enumerate(chain.straights):
        rise = length * ahead[2]
        if i == len(chain.joints):
            found.append(start[2] + rise)
            break
        radius = chain.joints[i].radius
        if np.any(radius > 0.0):
            found.append(start[2] + np.where(radius > 0.0, 1.0, 0.5) * rise)
        found.append(chain.straights[i + 1].start[2])
    return found


def inner_side(joint: Joint) -> tuple[Vector3, Vector3]:
    """What a mitre cuts off the inner side of the pieces before and after it, in pipe radii.

    A vector across each piece to the inner side, tan(t/2) long: (d2 - d1 cos t)/(1 + cos t) on
    the piece before, along d1, and (d2 cos t - d1)/(1 + cos t) on the one after, along d2.
    """
    cosine = product(joint.before, joint.after)
    share = 1.0 / (1.0 + cosine)
    return (
        combined(joint.after, joint.before, share, -cosine * share),
        combined(joint.after, joint.before, cosine * share, -share),
    )


def _seen(vector: Vector3) -> Vector:
    """What is seen of a vector from the side, along the bar."""
    return vector[0], vector[2]


def curve_gap(
    point: Vector, centre: Vector, one: Vector, other: Vector, most: Array, samples: int
) -> Array:
    """Distance of a point from the curve centre + one cos a + other sin a, 0 <= a <= ``most``.

    Plane vectors, radians. The best of ``samples`` points is improved by Newton's method;
    on the arc of a circle up to a right angle that is exact to rounding.
    """
    x, z = point[0] - centre[0], point[1] - centre[1]

    def away(cosine: Array, sine: Array) -> Array:
        across = x - one[0] * cosine - other[0] * sine
        upright = z - one[1] * cosine - other[1] * sine
        return across * across + upright * upright

    nearest: Array = np.inf
    best: Array = 0.0
    for share in np.linspace(0.0, 1.0, samples):
        angle = share * most
        tried = away(np.cos(angle), np.sin(angle))
        best = np.where(tried < nearest, angle, best)
        nearest = np.minimum(nearest, tried)
    for _ in range(REFINEMENTS):
        cosine, sine = np.cos(best), np.sin(best)
        here = (one[0] * cosine + other[0] * sine, one[1] * cosine + other[1] * sine)
        way = (other[0] * cosine - one[0] * sine, other[1] * cosine - one[1] * sine)
        slope = (here[0] - x) * way[0] + (here[1] - z) * way[1]
        bend = way[0] * way[0] + way[1] * way[1] + (x - here[0]) * here[0] + (z - here[1]) * here[1]
        convex = bend > 0.0  # elsewhere the step would lead to the furthest point
        step = np.where(convex, slope, 0.0) / np.where(convex, bend, 1.0)
        best = np.clip(best - step, 0.0, most)
    distance: Array = np.sqrt(np.minimum(nearest, away(np.cos(best), np.sin(best))))
    return distance


def _bend_gap(joint: Joint, point: Vector, radius: Array) -> Array:
    """Distance from a bend: all that lies within ``radius`` of its arc; infinite from an elbow."""
    inward, _ = inner_side(joint)
    share = joint.radius / np.maximum(joint.tangent, END_ON)
    to_centre = scaled(inward, share)
    gap = curve_gap(
        point,
        _seen(combined(joint.place, to_centre)),
        _seen(scaled(to_centre, -1.0)),
        _seen(scaled(joint.before, joint.radius)),
        2.0 * np.arctan(joint.tangent),
        ARC_SAMPLES,
    )
    return np.where(joint.radius > 0.0, gap - radius, np.inf)


def _elbow_gap(joint: Joint, point: Vector, radius: Array) -> Array:
    """Distance from the ellipse of a mitre, seen slantwise; infinite from a bend.

    Its half-axes are the pipe's radius along d1 x d2 and radius/cos(t/2) along d1 - d2.
    """
    d1, d2 = joint.before, joint.after
    normal = (
        d1[1] * d2[2] - d1[2] * d2[1],
        d1[2] * d2[0] - d1[0] * d2[2],
        d1[0] * d2[1] - d1[1] * d2[0],
    )
    outward = combined(d1, d2, 1.0, -1.0)
    tangent = np.maximum(joint.tangent, END_ON)
    share = 1.0 / np.maximum(length_of(normal), END_ON)
    # |d1 - d2| is 2 sin(t/2)
    long = (1.0 + tangent * tangent) / (2.0 * tangent)
    one = _seen(scaled(normal, radius * share))
    other = _seen(scaled(outward, radius * long))
    centre = _seen(joint.place)
    gap = curve_gap(point, centre, one, other, 2.0 * np.pi, ELLIPSE_SAMPLES)
    x, z = point[0] - centre[0], point[1] - centre[1]
    width = one[0] * other[1] - one[1] * other[0]
    inside = (x * other[1] - z * other[0]) ** 2 + (one[0] * z - one[1] * x) ** 2 < width * width
    mitred = (joint.radius == 0.0) & (joint.tangent > END_ON)
    return np.where(mitred, np.where(inside, -gap, gap), np.inf)


def _joint_gap(joint: Joint, point: Vector, radius: Array) -> Array:
    """Distance from what a joint adds to its pieces: a ball, and an arc or a slanting mitre."""
    x, z = _seen(joint.place)
    gaps = [np.hypot(point[0] - x, point[1] - z) - radius]
    if np.any(joint.radius > 0.0):
        gaps.append(_bend_gap(joint, point, radius))
    slanting = np.any(joint.before[1]) or np.any(joint.after[1])
    if slanting and not np.all(joint.radius > 0.0):
        gaps.append(_elbow_gap(joint, point, radius))
    return np.where(joint.used, smallest(gaps), np.inf)


def bar_gap(chain: Chain, point: Vector, radius: Array) -> Array:
    """Distance of the pipe's outside from a line across the engine at ``point`` (x, z), mm.

    Looked at along that line, each piece is a strip as wide as the pipe, cut to its mitres; a
    bend is all that lies within ``radius`` of its arc; and an elbow that does not lie in the
    upright plane ends in the ellipse of its mitre. The pipe's own ends are cut square to what is
    seen: there it carries on. Negative where they meet. NaN where a piece is
    too short for the mitres at its ends, whose inner side is cut away.
    """
    none: Vector3 = (0.0, 0.0, 0.0)
    starts, ends = [none], []
    for joint in chain.joints:
        before, after = none, none
        if not np.all(joint.radius > 0.0):
            mitred = np.where(joint.radius > 0.0, 0.0, 1.0)
            before, after = (scaled(cut, mitred) for cut in inner_side(joint))
        ends.append(before)
        starts.append(after)
    ends.append(none)
    gaps = [_joint_gap(joint, point, radius) for joint in chain.joints]
    fits: Mask = True
    for (start, ahead, length), first, last in zip(chain.straights, starts, ends, strict=True):
        seen = np.hypot(ahead[0], ahead[2])
        broadside = seen > END_ON
        scale = np.where(broadside, seen, 1.0)
        along = (
            np.where(broadside, ahead[0] / scale, 1.0),
            np.where(broadside, ahead[2] / scale, 0.0),
        )
        # A mitre is met by the strip's left edge later or sooner than by its middle.
        cuts = [seen * (cut[2] * along[0] - cut[0] * along[1]) for cut in (first, last)]
        gaps.append(straight_gap(point, _seen(start), along, length * seen, radius, *cuts))
        room = length > radius * length_of(combined(first, last))
        fits = np.logical_and(fits, np.logical_or(room, np.equal(length, 0.0)))
    return np.where(fits, smallest(gaps), np.nan)
