"""Side elevation of a laid pipe: what is seen of its centreline and of its left side."""

from itertools import pairwise

import numpy as np

from models.laid_pipe import PIECES
from models.pipe_geometry import slack_tilt
from models.pipe_space import Chain, combined, inner_side, lay, scaled
from models.shapes import Design, Point

ARC_PIECES = 5
SHARPEST = 0.15
"""Least 1 + cosine of a turn as seen: a mitre seen nearly end on is drawn no longer than so."""

NEEDED = (
    "outlet_height",
    "outlet_tilt",
    *(f"piece_{i}" for i in range(1, PIECES + 1)),
    *(f"{name}_{i}" for name in ("turn_up", "turn_aside", "bend_radius") for i in range(1, PIECES)),
)


def chain_of(design: Design) -> Chain:
    """Lay the pipe of a design as `models.laid_pipe.laid_pipe` does."""
    slack = (design[f"bracket_{name}"] for name in ("slack", "distance", "play"))

    def each(name: str, count: int) -> list[float]:
        return [design[f"{name}_{i}"] for i in range(1, count + 1)]

    joints = PIECES - 1
    return lay(
        design["outlet_height"],
        design["outlet_tilt"] + float(slack_tilt(*slack)),
        each("piece", PIECES),
        each("turn_up", joints),
        each("turn_aside", joints),
        each("joint_error", joints),
        each("bend_radius", joints),
    )


def seen_centreline(chain: Chain) -> list[tuple[Point, bool]]:
    """Corners of the centreline from the side, x and z in mm, and whether within an arc."""
    places = [(chain.straights[0].start, False)]
    for i, (start, ahead, length) in enumerate(chain.straights):
        places.append((combined(start, ahead, 1.0, length), False))
        if i == len(chain.joints):
            break
        joint = chain.joints[i]
        if not (joint.radius > 0.0 and joint.tangent > 0.0):
            continue
        inward, _ = inner_side(joint)
        to_centre = scaled(inward, joint.radius / joint.tangent)
        centre = combined(joint.place, to_centre)
        turn = 2.0 * np.arctan(joint.tangent)
        for share in np.linspace(0.0, 1.0, ARC_PIECES + 1)[1:]:
            spoke = combined(
                to_centre,
                joint.before,
                -np.cos(share * turn),
                joint.radius * np.sin(share * turn),
            )
            places.append((combined(centre, spoke), share < 1.0))
    return [((float(x), float(z)), within) for (x, _, z), within in places]


def laid_stations(design: Design) -> list[tuple[Point, Point, bool]]:
    """Points of the centreline as seen, their left side for 1 mm, and whether within an arc.

    A leg across the engine is seen end on, and is left out. A point without an answer is NaN.
    """
    points: list[Point] = []
    within_arc: list[bool] = []
    for point, within in seen_centreline(chain_of(design)):
        if not points or not np.hypot(point[0] - points[-1][0], point[1] - points[-1][1]) < 1e-6:
            points.append(point)
            within_arc.append(within)
    ways = []
    for (x, z), (next_x, next_z) in pairwise(points):
        length = float(np.hypot(next_x - x, next_z - z))
        ways.append(((next_x - x) / length, (next_z - z) / length))
    ways = ways or [(1.0, 0.0)]
    found = []
    seen = zip(points, within_arc, (ways[0], *ways), (*ways, ways[-1]), strict=False)
    for point, within, (x1, z1), (x2, z2) in seen:
        share = 1.0 / max(1.0 + x1 * x2 + z1 * z2, SHARPEST)
        found.append((point, (-(z1 + z2) * share, (x1 + x2) * share), within))
    return found
