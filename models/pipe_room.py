"""Whether the dip of a fuel pipe finds room, and whether a hand can bend it."""

from typing import Annotated, NamedTuple

import numpy as np

from models.arrays import Array
from models.ranges import NOT_NEGATIVE, within


class PipeRoom(NamedTuple):
    """What is left; each field has the shape of the arguments it depends on."""

    room_left: Annotated[Array, "mm", "room for the dip less what it takes, along the engine"]
    bend_spare: Annotated[Array, "", "bend radius over pipe diameter, less the least that is bent"]


def pipe_room(
    dip_length: Annotated[
        Array,
        "mm",
        "room along the engine that the dip under the obstacle takes",
        "read as outside size",
    ] = 40.0,
    dip_room: Annotated[
        Array,
        "mm",
        "between what holds the pipe at the sump and at the burner",
        ">= 0",
        "read as outside size",
    ] = 45.0,
    bend_ratio: Annotated[Array, "", "bend radius over outside diameter of the pipe"] = 2.5,
    least_bend_ratio: Annotated[
        Array, "", "least such ratio that a hand bends without a kink", ">= 0"
    ] = 2.0,
) -> PipeRoom:
    """Room that is left along the engine when a pipe has gone down under a bar and up again.

    room_left = dip_room - dip_length; below 0 the pipe cannot be made as drawn. `dip_room`
    is what frames, the union at the sump and the mount of the burner leave to the pipe for going
    down and coming up again; `dip_length` comes from `stepped_pipe` (the step
    and half a pipe beyond each of its elbows) or `bent_pipe` (from where the first bend begins to
    where the last ends). NaN for a room below 0.

    bend_spare = bend_ratio - least_bend_ratio; below 0 the tube kinks. 2 over a former, 3 or so in
    the fingers: common practice, no source. A pipe of mitred elbows has no bends: its study holds
    bend_ratio at any value above, so that both kinds of pipe are judged by the same limits.
    """
    with np.errstate(all="ignore"):
        return PipeRoom(
            room_left=within(dip_room, NOT_NEGATIVE) - dip_length,
            bend_spare=bend_ratio - within(least_bend_ratio, NOT_NEGATIVE),
        )
