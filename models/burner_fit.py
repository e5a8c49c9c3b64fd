"""The burner in its firebox: room between wick tubes, walls and frames, how the grate is filled.

A burner that is right by its levels may still not go in: too long, too wide, or turned. Seen in
plan, from where the pipe enters.
"""

import math
from typing import Annotated, NamedTuple

import numpy as np

from models.arrays import Array
from models.quantities import (
    BurnerPosition,
    FireboxWidth,
    Manifold,
    WickBore,
    WickCount,
    WickPitch,
    WickTubeWall,
)
from models.ranges import ANY_NOT_NEGATIVE, ANY_POSITIVE, LEAN, within
from models.wicks import MOST_WICKS, whole_number

"""Turns of the burner in plan, deg."""


class BurnerFit(NamedTuple):
    """Room round the wick tubes; every field has the shape of the arguments together."""

    wall_clearance: Annotated[Array, "mm", "least gap of a wick tube and a firebox wall"]
    entry_clearance: Annotated[Array, "mm", "gap of the wicks and the wall where the pipe enters"]
    far_clearance: Annotated[Array, "mm", "gap of the wicks and the wall at the far end"]
    side_clearance: Annotated[Array, "mm", "gap of the wicks and the nearer side wall"]
    frame_clearance: Annotated[Array, "mm", "gap of the wicks and the nearer of the frames"]
    grate_cover: Annotated[Array, "", "area of the wick tubes over the area of the grate"]
    length_cover: Annotated[Array, "", "length of the row of wicks over the room in its direction"]


def burner_fit(
    firebox_length: Annotated[
        Array, "mm", "inside length of the firebox", "> 0", "read as outside size"
    ] = 50.0,
    firebox_width: FireboxWidth = 45.0,
    frame_spacing: Annotated[
        Array, "mm", "between the frames, inside", "> 0", "read as outside size"
    ] = 34.0,
    wick_count: WickCount = 1.0,
    wick_pitch: WickPitch = 10.0,
    wick_bore: WickBore = 7.0,
    wick_tube_wall: Annotated[WickTubeWall, ">= 0"] = 0.4,
    manifold: Manifold = 0.0,
    burner_position: BurnerPosition = 9.0,
    burner_offset: Annotated[
        Array,
        "mm",
        "first wick, or middle of a manifold, off the firebox's centre line",
        "read as outside size",
    ] = 0.0,
    burner_yaw: Annotated[
        Array,
        "deg",
        "turn of the burner in plan, positive towards a positive offset",
        "-45..45",
        "read as angle",
    ] = 0.0,
) -> BurnerFit:
    """Clearances of the wick tubes in plan, and the share of the grate that they fill.

    Plane geometry, exact: tubes of diameter D = wick_bore + 2 wick_tube_wall, the first at x from
    the wall where the pipe enters and y off the centre line, n of pitch p, the row turned by
    the yaw a; on a manifold the row stands square to that, its middle at x, y. With the tubes'
    centres between x_low and x_high, none further off the centre line than y_far:

    * entry_clearance = x_low - D/2: negative, the first wick is in the wall: pipe too short;
    * far_clearance = firebox_length - x_high - D/2: negative, the pipe or the row is too long;
    * side_clearance = firebox_width/2 - y_far - D/2, frame_clearance the same between frames;
    * wall_clearance is the least of the first three, below 0 if the burner does not go in;
    * grate_cover = n pi D^2/(4 firebox_length firebox_width);
    * length_cover = ((n - 1) p + D)/firebox_length, or over the width on a manifold.

    Tubes that overlap (pitch below D) do not exist: NaN. Left out: the tilt (its cosine, 0.06 % at
    2 deg), the pipe itself and what sags or warps in the fire. A tube that touches a wall burns
    badly on that side (common practice, no source); how near it may come is the study's limit.

    Arguments broadcast. NaN in all results where one is outside its range or not finite.
    """
    with np.errstate(all="ignore"):
        n = whole_number(wick_count, 1, MOST_WICKS)
        across = whole_number(manifold, 0, 1)
        length, width = within(firebox_length, ANY_POSITIVE), within(firebox_width, ANY_POSITIVE)
        frames = within(frame_spacing, ANY_POSITIVE)
        diameter = within(wick_bore, ANY_POSITIVE) + 2.0 * within(wick_tube_wall, ANY_NOT_NEGATIVE)
        pitch = within(wick_pitch, ANY_POSITIVE)
        radius = 0.5 * diameter
        row = (n - 1.0) * pitch
        yaw = np.deg2rad(within(burner_yaw, LEAN))
        cosine, sine = np.cos(yaw), np.sin(yaw)
        # The row's ends: from the first wick on, or half to either side of a manifold.
        first, last = -0.5 * across * row, (1.0 - 0.5 * across) * row
        x_way, y_way = np.where(across, -sine, cosine), np.where(across, cosine, sine)
        x_ends = burner_position + first * x_way, burner_position + last * x_way
        y_ends = burner_offset + first * y_way, burner_offset + last * y_way
        off_centre = np.maximum(np.abs(y_ends[0]), np.abs(y_ends[1]))

        entry = np.minimum(*x_ends) - radius
        far = length - np.maximum(*x_ends) - radius
        side = 0.5 * width - off_centre - radius
        between = 0.5 * frames - off_centre - radius
        grate = n * (0.25 * math.pi) * diameter * diameter / (length * width)
        room = (row + diameter) / np.where(across, width, length)
        apart = (n < 2.0) | (pitch >= diameter)
        sound = apart & np.isfinite(entry + far + side + between + grate + room)
        spoil = np.where(sound, 0.0, np.nan)
        return BurnerFit(
            wall_clearance=(np.minimum(np.minimum(entry, far), side) + spoil)[()],
            entry_clearance=(entry + spoil)[()],
            far_clearance=(far + spoil)[()],
            side_clearance=(side + spoil)[()],
            frame_clearance=(between + spoil)[()],
            grate_cover=(grate + spoil)[()],
            length_cover=(room + spoil)[()],
        )
