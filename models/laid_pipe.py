"""The builder's own fuel pipe: up to eight straight pieces, each joint turning as it must."""

from typing import Annotated, NamedTuple

import numpy as np

from models import fuel
from models.air_lock import air_lock, mouth_height
from models.arrays import Array, smallest
from models.pipe_flow import (
    END_EQUIVALENT_LENGTH,
    curvature_resistance,
    fall_of,
    oval_conductance,
)
from models.pipe_geometry import slack_tilt
from models.pipe_space import Joint, arc_lengths, bar_gap, heights, lay
from models.quantities import (
    AirLockClears,
    BendEquivalentLength,
    BracketDistance,
    BracketPlay,
    BracketSlack,
    BreatherBore,
    BreatherHeight,
    BreatherScarf,
    BubbleRiseFactor,
    BurnRate,
    FuelTemperature,
    FuelWater,
    ObstacleDiameter,
    ObstacleHeight,
    ObstaclePosition,
    OcclusionBondNumber,
    OutletHeight,
    OutletTilt,
    PipeBore,
    PipeOvality,
    PipeWall,
)

PIECES = 8
"""Most straight pieces of a laid pipe."""

NO_BEND = 99.0
"""Ratio of bend radius to outside diameter that is given for a pipe without bends."""


class LaidPipe(NamedTuple):
    """Results of `laid_pipe`, each of the broadcast shape of the inputs it depends on."""

    burner_height: Annotated[
        Array, "mm", "axis of the burner pipe at the first wick, over the floor", "read as height"
    ]
    burner_tilt: Annotated[
        Array, "deg", "burner pipe, upward from the first wick on", "read as angle"
    ]
    wick_distance: Annotated[
        Array, "mm", "first wick beyond the outlet, along the engine", "read as outside size"
    ]
    wick_aside: Annotated[Array, "mm", "first wick to the left of the outlet"]
    pipe_length: Annotated[Array, "mm", "length of the pipe along its centreline"]
    obstacle_clearance: Annotated[
        Array, "mm", "least gap to the obstacle, below 0 if they meet", "read as gap"
    ]
    pipe_head_loss: Annotated[Array, "mm", "fall of the fuel level along the pipe while burning"]
    pipe_loss_burn_rate: Annotated[Array, "ml/min", "burn rate for which that fall is stated"]
    air_lock_head: Annotated[Array, "mm", "most head that air shut in while filling can hold up"]
    air_lock_ratio: Annotated[
        Array, "", "speed of filling over that of a bubble's rise: above 1 it sweeps air on"
    ]
    air_lock_clears: AirLockClears
    bend_ratio: Annotated[Array, "", "least bend radius over outside diameter of the pipe"]


def laid_pipe(
    outlet_height: OutletHeight = 8.0,
    outlet_tilt: OutletTilt = 0.0,
    piece_1: Annotated[Array, "mm", "first straight piece", "> 0", "read as outside size"] = 37.5,
    piece_2: Annotated[
        Array, "mm", "second straight piece, 0 if there is none", ">= 0", "read as outside size"
    ] = 8.0,
    piece_3: Annotated[
        Array, "mm", "third straight piece, 0 if there is none", ">= 0", "read as outside size"
    ] = 15.0,
    piece_4: Annotated[
        Array, "mm", "fourth straight piece, 0 if there is none", ">= 0", "read as outside size"
    ] = 8.0,
    piece_5: Annotated[
        Array, "mm", "fifth straight piece, 0 if there is none", ">= 0", "read as outside size"
    ] = 8.0,
    piece_6: Annotated[
        Array, "mm", "sixth straight piece, 0 if there is none", ">= 0", "read as outside size"
    ] = 12.0,
    piece_7: Annotated[
        Array, "mm", "seventh straight piece, 0 if there is none", ">= 0", "read as outside size"
    ] = 12.0,
    piece_8: Annotated[
        Array, "mm", "eighth straight piece, 0 if there is none", ">= 0", "read as outside size"
    ] = 0.0,
    turn_up_1: Annotated[
        Array, "deg", "turn upward between pieces 1 and 2", "-170..170", "read as angle"
    ] = -90.0,
    turn_up_2: Annotated[
        Array, "deg", "turn upward between pieces 2 and 3", "-170..170", "read as angle"
    ] = 90.0,
    turn_up_3: Annotated[
        Array, "deg", "turn upward between pieces 3 and 4", "-170..170", "read as angle"
    ] = 90.0,
    turn_up_4: Annotated[
        Array, "deg", "turn upward between pieces 4 and 5", "-170..170", "read as angle"
    ] = -90.0,
    turn_up_5: Annotated[
        Array, "deg", "turn upward between pieces 5 and 6", "-170..170", "read as angle"
    ] = 0.0,
    turn_up_6: Annotated[
        Array, "deg", "turn upward between pieces 6 and 7", "-170..170", "read as angle"
    ] = 0.0,
    turn_up_7: Annotated[
        Array, "deg", "turn upward between pieces 7 and 8", "-170..170", "read as angle"
    ] = 0.0,
    turn_aside_1: Annotated[
        Array, "deg", "turn to the left between pieces 1 and 2", "-170..170", "read as angle"
    ] = 0.0,
    turn_aside_2: Annotated[
        Array, "deg", "turn to the left between pieces 2 and 3", "-170..170", "read as angle"
    ] = 0.0,
    turn_aside_3: Annotated[
        Array, "deg", "turn to the left between pieces 3 and 4", "-170..170", "read as angle"
    ] = 0.0,
    turn_aside_4: Annotated[
        Array, "deg", "turn to the left between pieces 4 and 5", "-170..170", "read as angle"
    ] = 0.0,
    turn_aside_5: Annotated[
        Array, "deg", "turn to the left between pieces 5 and 6", "-170..170", "read as angle"
    ] = 45.0,
    turn_aside_6: Annotated[
        Array, "deg", "turn to the left between pieces 6 and 7", "-170..170", "read as angle"
    ] = -45.0,
    turn_aside_7: Annotated[
        Array, "deg", "turn to the left between pieces 7 and 8", "-170..170", "read as angle"
    ] = 0.0,
    bend_radius_1: Annotated[
        Array,
        "mm",
        "bend 1, to the centreline; 0 for a mitred elbow",
        ">= 0",
        "read as outside size",
    ] = 0.0,
    bend_radius_2: Annotated[
        Array,
        "mm",
        "bend 2, to the centreline; 0 for a mitred elbow",
        ">= 0",
        "read as outside size",
    ] = 0.0,
    bend_radius_3: Annotated[
        Array,
        "mm",
        "bend 3, to the centreline; 0 for a mitred elbow",
        ">= 0",
        "read as outside size",
    ] = 0.0,
    bend_radius_4: Annotated[
        Array,
        "mm",
        "bend 4, to the centreline; 0 for a mitred elbow",
        ">= 0",
        "read as outside size",
    ] = 0.0,
    bend_radius_5: Annotated[
        Array,
        "mm",
        "bend 5, to the centreline; 0 for a mitred elbow",
        ">= 0",
        "read as outside size",
    ] = 10.0,
    bend_radius_6: Annotated[
        Array,
        "mm",
        "bend 6, to the centreline; 0 for a mitred elbow",
        ">= 0",
        "read as outside size",
    ] = 10.0,
    bend_radius_7: Annotated[
        Array,
        "mm",
        "bend 7, to the centreline; 0 for a mitred elbow",
        ">= 0",
        "read as outside size",
    ] = 0.0,
    joint_error_1: Annotated[
        Array, "deg", "first elbow, upward error of its angle", "read as angle"
    ] = 0.0,
    joint_error_2: Annotated[
        Array, "deg", "second elbow, upward error of its angle", "read as angle"
    ] = 0.0,
    joint_error_3: Annotated[
        Array, "deg", "third elbow, upward error of its angle", "read as angle"
    ] = 0.0,
    joint_error_4: Annotated[
        Array, "deg", "fourth elbow, upward error of its angle", "read as angle"
    ] = 0.0,
    joint_error_5: Annotated[
        Array, "deg", "fifth elbow, upward error of its angle", "read as angle"
    ] = 0.0,
    joint_error_6: Annotated[
        Array, "deg", "sixth elbow, upward error of its angle", "read as angle"
    ] = 0.0,
    joint_error_7: Annotated[
        Array, "deg", "seventh elbow, upward error of its angle", "read as angle"
    ] = 0.0,
    pipe_ovality: PipeOvality = 0.06,
    pipe_bore: PipeBore = 3.2,
    pipe_wall: PipeWall = 0.4,
    obstacle_height: ObstacleHeight = 7.0,
    obstacle_position: ObstaclePosition = 45.0,
    obstacle_diameter: ObstacleDiameter = 5.0,
    burn_rate: Annotated[BurnRate, ">= 0"] = 3.0,
    fuel_temperature: FuelTemperature = 20.0,
    fuel_water: FuelWater = 0.06,
    bend_equivalent_length: BendEquivalentLength = 2.5,
    bracket_slack: BracketSlack = 0.0,
    bracket_distance: BracketDistance = 140.0,
    bracket_play: BracketPlay = 0.0,
    breather_height: BreatherHeight = 13.0,
    breather_bore: BreatherBore = 5.0,
    breather_scarf: BreatherScarf = 0.0,
    bubble_rise_factor: BubbleRiseFactor = 1.0,
    occlusion_bond_number: OcclusionBondNumber = 0.8,
) -> LaidPipe:
    """Level, clearance and resistance of a pipe of up to eight straight pieces, laid in space.

    Piece after piece as one lays it, from the sump's outlet on: each joint turns up and to the
    left of the way the pipe goes there (-90 up is down, -90 aside is to the right); a joint that
    turns both ways goes left first. After a leg straight down, "up" is ahead. A joint with a
    radius is a bend, and its pieces are the straights between tangent points, as in
    `bent_pipe`; one without is a mitred elbow, and its pieces are measured between mitre
    centres, as in `stepped_pipe`. The pipe ends at the first wick, before the first piece of
    length 0. The last piece carries on as the burner.

    Geometry: `models.pipe_space`, Euclid's, exact. An error tilts upward what follows its joint,
    as a stiff pipe does; an error to the side turns a pipe without raising it, and a twist of an
    upright leg likewise, so neither is asked for. The bar crosses the engine level and at right
    angles, and counts as long: the clearance is that of what is seen from the side.

    Head loss and air shut in: as for `stepped_pipe` and `bent_pipe`. Each joint that is drawn to
    turn counts as ``bend_equivalent_length`` bores; arcs conduct less for being oval and curved.
    Air is caught in every leg that goes down by more than a bore; over a bar it stays at the
    crest, where a pipe under it can give it back (`models.air_lock`).

    ``bend_ratio`` is that of the tightest bend, and 99 where there is none.

    All results are NaN where the first piece, the bore or the wall is not above 0, another piece,
    a radius or the bar's diameter is below 0, a turn with its error is not below 180 deg, the
    length is not finite, or the bracket as in `slack_tilt`; ``pipe_head_loss``,
    ``air_lock_ratio`` and ``air_lock_clears`` as for `bent_pipe`; ``obstacle_clearance`` also
    where a piece is too short for the mitres at its ends.
    """
    pieces = (piece_1, piece_2, piece_3, piece_4, piece_5, piece_6, piece_7, piece_8)
    turns_up = (turn_up_1, turn_up_2, turn_up_3, turn_up_4, turn_up_5, turn_up_6, turn_up_7)
    turns_aside = (
        turn_aside_1,
        turn_aside_2,
        turn_aside_3,
        turn_aside_4,
        turn_aside_5,
        turn_aside_6,
        turn_aside_7,
    )
    radii = (
        bend_radius_1,
        bend_radius_2,
        bend_radius_3,
        bend_radius_4,
        bend_radius_5,
        bend_radius_6,
        bend_radius_7,
    )
    errors = (
        joint_error_1,
        joint_error_2,
        joint_error_3,
        joint_error_4,
        joint_error_5,
        joint_error_6,
        joint_error_7,
    )
    with np.errstate(all="ignore"):  # an impossible point is answered by NaN, not a warning
        tilt = outlet_tilt + slack_tilt(bracket_slack, bracket_distance, bracket_play)
        chain = lay(outlet_height, tilt, pieces, turns_up, turns_aside, errors, radii)
        outside_radius = 0.5 * pipe_bore + pipe_wall
        gap = bar_gap(chain, (obstacle_position, obstacle_height), outside_radius)
        arcs = arc_lengths(chain)
        straights = sum(piece.length for piece in chain.straights)
        pipe_length = straights + sum(arcs)

        turned = [
            180.0 - np.maximum(np.abs(up + error), np.abs(aside))
            for up, aside, error in zip(turns_up, turns_aside, errors, strict=True)
        ]
        possible = (
            (smallest([piece_1, pipe_bore, pipe_wall, *turned]) > 0.0)
            & (smallest([*pieces, *radii, obstacle_diameter]) >= 0.0)
            & np.isfinite(pipe_length + tilt)
        )
        spoil = np.where(possible, 0.0, np.nan)

        fluid = fuel.properties(fuel_temperature, fuel_water)
        reynolds, fall = fall_of(pipe_bore, burn_rate, fluid.density, fluid.viscosity)
        bores: Array = END_EQUIVALENT_LENGTH
        equivalent_length = straights
        for joint, arc in zip(chain.joints, arcs, strict=True):
            bores = bores + bend_equivalent_length * np.where(joint.drawn, 1.0, 0.0)
            if np.any(joint.radius > 0.0):
                equivalent_length = equivalent_length + arc * _bend_resistance(
                    joint, pipe_bore, reynolds, pipe_ovality
                )
        equivalent_length = equivalent_length + bores * pipe_bore
        lock = air_lock(
            heights(chain),
            pipe_bore,
            equivalent_length,
            mouth_height(breather_height, breather_bore, breather_scarf),
            fluid,
            bubble_rise_factor,
            occlusion_bond_number,
        )
        tightest: Array = np.inf
        for joint in chain.joints:
            tightest = np.minimum(tightest, np.where(joint.radius > 0.0, joint.radius, np.inf))
        rise = chain.straights[-1].ahead[2]
        ratio = 0.5 * tightest / outside_radius
        return LaidPipe(
            burner_height=chain.end[2] + spoil,
            burner_tilt=np.degrees(np.arcsin(np.clip(rise, -1.0, 1.0))) + spoil,
            wick_distance=chain.end[0] + spoil,
            wick_aside=chain.end[1] + spoil,
            pipe_length=pipe_length + spoil,
            obstacle_clearance=gap - 0.5 * obstacle_diameter + spoil,
            pipe_head_loss=fall * equivalent_length + spoil,
            pipe_loss_burn_rate=burn_rate + 0.0 * spoil,
            air_lock_head=lock.head + spoil,
            air_lock_ratio=lock.ratio + spoil,
            air_lock_clears=lock.clears + spoil,
            bend_ratio=np.where(np.isinf(tightest), NO_BEND, ratio) + spoil,
        )


def _bend_resistance(joint: Joint, pipe_bore: Array, reynolds: Array, ovality: Array) -> Array:
    """Resistance of a bend's arc over that of straight round pipe; 1 where it is an elbow."""
    dean = reynolds * np.sqrt(0.5 * pipe_bore / joint.radius)
    bent = joint.radius > 0.0
    curved = curvature_resistance(np.where(bent, dean, 0.0))
    return np.where(bent, curved / oval_conductance(ovality), 1.0)
