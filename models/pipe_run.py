"""The fuel pipe from the sump to the wicks, stepped or bent round a bar in its way.

Both pipes lie in one upright plane: x from the sump outlet towards the wicks, z above the
inside of the sump floor. The direction of each straight is the drawn one plus the running
sum of the joint errors before it, so an error at the sump tilts everything after it.
"""

from typing import Annotated, NamedTuple

import numpy as np

from models import fuel
from models.air_lock import air_lock, mouth_height
from models.arrays import DEGREES, Array, smallest
from models.pipe_flow import END_EQUIVALENT_LENGTH, curvature_resistance, fall_of, oval_conductance
from models.pipe_geometry import (
    along_from_outlet,
    bent_chain,
    heading,
    heights_about_outlet,
    mitred_chain,
    quarter_turn,
    slack_turn,
    turned_back,
)
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
from models.ranges import masked_where


class SteppedPipe(NamedTuple):
    """Results of `stepped_pipe`, each of the broadcast shape of the inputs it depends on."""

    burner_height: Annotated[
        Array, "mm", "axis of the burner pipe at the first wick, over the floor", "read as height"
    ]
    burner_tilt: Annotated[
        Array, "deg", "burner pipe, upward from the first wick on", "read as angle"
    ]
    wick_distance: Annotated[
        Array, "mm", "first wick beyond the outlet, along the engine", "read as outside size"
    ]
    dip_length: Annotated[
        Array,
        "mm",
        "room along the engine that the dip under the obstacle takes",
        "read as outside size",
    ]
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


class BentPipe(NamedTuple):
    """Results of `bent_pipe`, each of the broadcast shape of the inputs it depends on."""

    burner_height: Annotated[
        Array, "mm", "axis of the burner pipe at the first wick, over the floor", "read as height"
    ]
    burner_tilt: Annotated[
        Array, "deg", "burner pipe, upward from the first wick on", "read as angle"
    ]
    wick_distance: Annotated[
        Array, "mm", "first wick beyond the outlet, along the engine", "read as outside size"
    ]
    dip_length: Annotated[
        Array,
        "mm",
        "room along the engine that the dip under the obstacle takes",
        "read as outside size",
    ]
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
    bend_ratio: Annotated[Array, "", "bend radius over outside diameter of the pipe"]


def stepped_pipe(
    outlet_height: OutletHeight = 8.0,
    outlet_tilt: OutletTilt = 0.0,
    run_1: Annotated[
        Array, "mm", "from the sump to the first elbow", "> 0", "read as outside size"
    ] = 37.5,
    drop: Annotated[
        Array, "mm", "from the first elbow down to the second", "> 0", "read as outside size"
    ] = 8.0,
    run_2: Annotated[
        Array, "mm", "under the obstacle, second elbow to third", "> 0", "read as outside size"
    ] = 15.0,
    rise: Annotated[
        Array, "mm", "from the third elbow up to the fourth", "> 0", "read as outside size"
    ] = 8.0,
    run_3: Annotated[
        Array, "mm", "from the fourth elbow to the first wick", "> 0", "read as outside size"
    ] = 42.5,
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
) -> SteppedPipe:
    """Level, clearance and resistance of a pipe stepped under a bar by four mitred elbows.

    Geometry: Euclid's, exact. Lengths are between mitre centres; each elbow turns the pipe
    by -90, +90, +90, -90 deg plus its error. The clearance counts the sharp outer edges of
    the mitres; it is exact until the centre of the bar lies inside the pipe.

    Head loss: `laminar_pressure_drop` over the length, ``bend_equivalent_length`` for each
    elbow and `END_EQUIVALENT_LENGTH`, by rho g, in mm of fuel. An elbow's share is not known
    at the feed's Reynolds number (about 10): 0.5 to 12.5 bores, log-uniform. The upper end is
    K1/64 of the 2-K method for K1 = 800 (Hooper 1981, Chem. Eng. 24 August, 96), made for
    larger pipes; the lower is the order of the excess in creeping flow; 2.5 is their geometric
    mean. Viscosity is doubtful by 4 %, and methanol in the fuel, left out here, makes it up to
    9 % too high; the doubt of the elbows, many times that, has to carry both.

    Air shut in: `models.air_lock`, with the drop (and what the runs before and after it fall) as
    the column, and the sump filled to the breather's mouth. The level of the run itself cannot
    serve: it is found from this pipe. This step goes under the bar, so air is caught on its
    drop side and while filling only.

    All results are NaN where a length, the bore or the wall is not above 0, the bar's diameter
    is below 0, an elbow error is 90 deg or more, the length is not finite, or the bracket as in
    `slack_tilt`; ``pipe_head_loss`` also where the burn rate is below 0 or the Reynolds number
    above 2000, and with ``air_lock_ratio`` and ``air_lock_clears`` where the fuel is outside its
    range; ``obstacle_clearance`` also where a run is too short for the mitres at its ends.
    """
    with np.errstate(all="ignore"):  # an impossible point is answered by NaN, not a warning
        slack = slack_turn(bracket_slack, bracket_distance, bracket_play)
        tilt_1 = outlet_tilt + joint_error_1
        tilt_2 = tilt_1 + joint_error_2
        tilt_3 = tilt_2 + joint_error_3
        tilt_4 = tilt_3 + joint_error_4
        headings = (
            heading(outlet_tilt),
            quarter_turn(heading(tilt_1), -1),
            heading(tilt_2),
            quarter_turn(heading(tilt_3), 1),
            heading(tilt_4),
        )
        lengths = (run_1, drop, run_2, rise, run_3)
        # The slack turns the whole pipe about its outlet: as well the bar, the other way.
        in_pipe, gap = mitred_chain(
            (0.0, 0.0),
            headings,
            lengths,
            turned_back((obstacle_position, obstacle_height - outlet_height), slack),
            0.5 * pipe_bore + pipe_wall,
        )
        heights = heights_about_outlet(in_pipe, slack, outlet_height)
        first, fourth, end = (along_from_outlet(in_pipe[n], slack) for n in (1, 4, -1))
        pipe_length = run_1 + drop + run_2 + rise + run_3
        errors = (joint_error_1, joint_error_2, joint_error_3, joint_error_4)
        spare_turn = [90.0 - np.abs(error) for error in errors]
        least = smallest([*lengths, pipe_bore, pipe_wall, *spare_turn])
        possible = (
            (least > 0.0)
            & (obstacle_diameter >= 0.0)
            & np.isfinite(pipe_length + outlet_tilt + slack[1])
        )
        masked = masked_where(possible)
        fluid = fuel.properties(fuel_temperature, fuel_water)
        _, fall = fall_of(pipe_bore, burn_rate, fluid.density, fluid.viscosity)
        bores = 4.0 * bend_equivalent_length + END_EQUIVALENT_LENGTH
        equivalent_length = pipe_length + bores * pipe_bore
        lock = air_lock(
            heights,
            pipe_bore,
            equivalent_length,
            mouth_height(breather_height, breather_bore, breather_scarf),
            fluid,
            bubble_rise_factor,
            occlusion_bond_number,
        )
        return SteppedPipe(
            burner_height=masked(heights[-1]),
            burner_tilt=masked(tilt_4 + np.arcsin(slack[1]) * DEGREES),
            wick_distance=masked(end),
            dip_length=masked(fourth - first + pipe_bore + 2.0 * pipe_wall),
            pipe_length=masked(pipe_length),
            obstacle_clearance=masked(gap - 0.5 * obstacle_diameter),
            pipe_head_loss=masked(fall * equivalent_length),
            pipe_loss_burn_rate=masked(burn_rate),
            air_lock_head=masked(lock.head),
            air_lock_ratio=masked(lock.ratio),
            air_lock_clears=masked(lock.clears),
        )


def bent_pipe(
    outlet_height: OutletHeight = 8.0,
    outlet_tilt: OutletTilt = 0.0,
    run_1: Annotated[
        Array, "mm", "straight from the sump to the first bend", "> 0", "read as outside size"
    ] = 24.7,
    slope_1: Annotated[
        Array, "mm", "straight downhill between bends 1 and 2", "> 0", "read as outside size"
    ] = 3.0,
    run_2: Annotated[
        Array, "mm", "straight under the obstacle, bend 2 to 3", "> 0", "read as outside size"
    ] = 8.0,
    slope_2: Annotated[
        Array, "mm", "straight uphill between bends 3 and 4", "> 0", "read as outside size"
    ] = 3.0,
    run_3: Annotated[
        Array, "mm", "straight from the last bend to the first wick", "> 0", "read as outside size"
    ] = 29.8,
    bend_radius: Annotated[
        Array, "mm", "radius of the bends to the centreline", "> 0", "read as outside size"
    ] = 10.0,
    bend_angle: Annotated[
        Array, "deg", "angle through which each bend is drawn", ">= 0", "read as angle"
    ] = 45.0,
    bend_error_1: Annotated[
        Array, "deg", "first bend, angle bent beyond the drawn", "read as angle"
    ] = 0.0,
    bend_error_2: Annotated[
        Array, "deg", "second bend, angle bent beyond the drawn", "read as angle"
    ] = 0.0,
    bend_error_3: Annotated[
        Array, "deg", "third bend, angle bent beyond the drawn", "read as angle"
    ] = 0.0,
    bend_error_4: Annotated[
        Array, "deg", "fourth bend, angle bent beyond the drawn", "read as angle"
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
) -> BentPipe:
    """Level, clearance and resistance of a pipe bent under a bar by four bends of one radius.

    Geometry: Euclid's, exact. The bends turn the pipe down, up, up and down, each by the drawn
    angle plus its error (springback makes that negative), along arcs that grow with the angle
    and touch the straights between them; a slack far bracket turns all of it, as in
    `stepped_pipe`. ``dip_length`` reaches from the first bend's beginning to the last's end;
    with ``run_1`` and ``run_3`` it must find room between sump and first wick. The flattening of
    the bends is left out of the clearance: at the default it is 0.06 mm either way.

    Head loss: as for `stepped_pipe`, except that the arcs conduct less for being oval
    (`oval_conductance`) and, above a Dean number of 11.6 only, curved
    (`curvature_resistance`). The doubt about what a bend adds, ``bend_equivalent_length``, is
    that of the elbow; a smooth bend is nearer its lower end. Air shut in: as there, the column
    from the first bend's beginning to the second's end.

    A ``bend_ratio`` below 2, bent by hand over a former, is asking for a kink (common
    practice, no source); copper tube of handbook sizes is bent to 2 or more (Copper
    Development Association, Copper Tube Handbook, bending guide).

    All results are NaN where a straight, the radius, the bore or the wall is not above 0, the
    bar's diameter is below 0, a bend's actual turn is not from 0 to below 180 deg, the
    length is not finite, or the bracket as in `slack_tilt`; ``pipe_head_loss`` also where the
    burn rate is below 0 or the Reynolds number above 2000, and with ``air_lock_ratio`` and
    ``air_lock_clears`` where the ovality is outside 0 to 1 or the fuel outside its range.
    """
    with np.errstate(all="ignore"):  # an impossible point is answered by NaN, not a warning
        slack = slack_turn(bracket_slack, bracket_distance, bracket_play)
        turn_1 = bend_angle + bend_error_1
        turn_2 = bend_angle + bend_error_2
        turn_3 = bend_angle + bend_error_3
        turn_4 = bend_angle + bend_error_4
        # Summing errors, not turns, keeps the burner level when the pipe is as drawn.
        tilt_2 = outlet_tilt - bend_error_1 + bend_error_2
        tilt_4 = tilt_2 + bend_error_3 - bend_error_4
        headings = (
            heading(outlet_tilt),
            heading(outlet_tilt - turn_1),
            heading(tilt_2),
            heading(tilt_2 + turn_3),
            heading(tilt_4),
        )
        lengths = (run_1, slope_1, run_2, slope_2, run_3)
        outside_radius = 0.5 * pipe_bore + pipe_wall
        in_pipe, gap = bent_chain(
            (0.0, 0.0),
            headings,
            lengths,
            (False, True, True, False),
            bend_radius,
            turned_back((obstacle_position, obstacle_height - outlet_height), slack),
            outside_radius,
        )
        heights = heights_about_outlet(in_pipe, slack, outlet_height)
        first, last, end = (along_from_outlet(in_pipe[n], slack) for n in (1, -2, -1))
        straights = run_1 + slope_1 + run_2 + slope_2 + run_3
        turns = (turn_1, turn_2, turn_3, turn_4)
        arcs = bend_radius * np.radians(turn_1 + turn_2 + turn_3 + turn_4)
        pipe_length = straights + arcs
        possible = (
            (smallest([*lengths, bend_radius, pipe_bore, pipe_wall]) > 0.0)
            & (smallest([*turns, obstacle_diameter]) >= 0.0)
            & (smallest([180.0 - turn for turn in turns]) > 0.0)
            & np.isfinite(pipe_length + outlet_tilt + slack[1])
        )
        masked = masked_where(possible)
        fluid = fuel.properties(fuel_temperature, fuel_water)
        reynolds, fall = fall_of(pipe_bore, burn_rate, fluid.density, fluid.viscosity)
        dean = reynolds * np.sqrt(0.5 * pipe_bore / bend_radius)
        arcs_as_straight = arcs * curvature_resistance(dean) / oval_conductance(pipe_ovality)
        bores = 4.0 * bend_equivalent_length + END_EQUIVALENT_LENGTH
        equivalent_length = straights + arcs_as_straight + bores * pipe_bore
        lock = air_lock(
            heights,
            pipe_bore,
            equivalent_length,
            mouth_height(breather_height, breather_bore, breather_scarf),
            fluid,
            bubble_rise_factor,
            occlusion_bond_number,
        )
        return BentPipe(
            burner_height=masked(heights[-1]),
            burner_tilt=masked(tilt_4 + np.arcsin(slack[1]) * DEGREES),
            wick_distance=masked(end),
            dip_length=masked(last - first),
            pipe_length=masked(pipe_length),
            obstacle_clearance=masked(gap - 0.5 * obstacle_diameter),
            pipe_head_loss=masked(fall * equivalent_length),
            pipe_loss_burn_rate=masked(burn_rate),
            air_lock_head=masked(lock.head),
            air_lock_ratio=masked(lock.ratio),
            air_lock_clears=masked(lock.clears),
            bend_ratio=masked(0.5 * bend_radius / outside_radius),
        )
