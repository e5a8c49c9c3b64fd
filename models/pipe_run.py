"""The fuel pipe from the sump to the wicks, stepped or bent round a bar in its way.

Both pipes lie in one upright plane: x from the sump outlet towards the wicks, z above the
inside of the sump floor. The direction of each straight is the drawn one plus the running
sum of the joint errors before it, so an error at the sump tilts everything after it.
"""

from typing import Annotated, NamedTuple

import numpy as np
from scipy.special import ellipe

from models import fuel
from models.air_lock import air_lock, mouth_height
from models.arrays import STANDARD_GRAVITY, Array
from models.pipe_geometry import (
    bent_chain,
    heading,
    mitred_chain,
    quarter_turn,
    slack_tilt,
    smallest,
)

END_EQUIVALENT_LENGTH = 3.0 * np.pi / 16.0
"""Length of pipe, in bores, that resists like its two ends into still fuel: 0.589.

Exact for creeping flow through an aperture, 3 mu Q/r^3 (Sampson 1891, Phil. Trans. R. Soc.
A 182, 449), half of it at each end, over 8 mu Q/(pi r^4) a unit length of pipe.
"""

LAMINAR_LIMIT = 2000.0
"""Reynolds number above which no answer is given: the flow may be turbulent."""


class SteppedPipe(NamedTuple):
    """Results of `stepped_pipe`, each of the broadcast shape of the inputs it depends on."""

    burner_height: Annotated[
        Array, "mm", "axis of the burner pipe at the first wick, over the floor"
    ]
    burner_tilt: Annotated[Array, "deg", "burner pipe, upward from the first wick on"]
    wick_distance: Annotated[Array, "mm", "first wick beyond the outlet, along the engine"]
    dip_length: Annotated[Array, "mm", "room along the engine that the dip under the bar takes"]
    pipe_length: Annotated[Array, "mm", "length of the pipe along its centreline"]
    obstacle_clearance: Annotated[Array, "mm", "least gap of pipe and bar, below 0 if they meet"]
    pipe_head_loss: Annotated[Array, "mm", "fall of the fuel level along the pipe while burning"]
    pipe_loss_burn_rate: Annotated[Array, "ml/min", "burn rate for which that fall is stated"]
    air_lock_head: Annotated[Array, "mm", "most head that air shut in while filling can hold up"]
    air_lock_ratio: Annotated[
        Array, "", "speed of filling over that of a bubble's rise: above 1 it sweeps air on"
    ]
    air_lock_clears: Annotated[Array, "", "1 where shut in air does not stop the feed, else 0"]


class BentPipe(NamedTuple):
    """Results of `bent_pipe`, each of the broadcast shape of the inputs it depends on."""

    burner_height: Annotated[
        Array, "mm", "axis of the burner pipe at the first wick, over the floor"
    ]
    burner_tilt: Annotated[Array, "deg", "burner pipe, upward from the first wick on"]
    wick_distance: Annotated[Array, "mm", "first wick beyond the outlet, along the engine"]
    dip_length: Annotated[Array, "mm", "room along the engine that the dip under the bar takes"]
    pipe_length: Annotated[Array, "mm", "length of the pipe along its centreline"]
    obstacle_clearance: Annotated[Array, "mm", "least gap of pipe and bar, below 0 if they meet"]
    pipe_head_loss: Annotated[Array, "mm", "fall of the fuel level along the pipe while burning"]
    pipe_loss_burn_rate: Annotated[Array, "ml/min", "burn rate for which that fall is stated"]
    air_lock_head: Annotated[Array, "mm", "most head that air shut in while filling can hold up"]
    air_lock_ratio: Annotated[
        Array, "", "speed of filling over that of a bubble's rise: above 1 it sweeps air on"
    ]
    air_lock_clears: Annotated[Array, "", "1 where shut in air does not stop the feed, else 0"]
    bend_ratio: Annotated[Array, "", "bend radius over outside diameter of the pipe"]


def laminar_pressure_drop(length: Array, bore: Array, flow: Array, viscosity: Array) -> Array:
    """Pressure lost along a round pipe, Pa: dp = 128 mu L Q/(pi d^4), Hagen-Poiseuille.

    Length and bore in mm, flow in ml/min, viscosity in mPa s; any shapes that broadcast.
    Exact for developed laminar flow, Reynolds number below about 2000.
    """
    square = bore * bore
    # mPa s * mm * (ml/min) / mm^4 = 1e-12/60 W m/1e-12 m4 = 1/60 Pa
    return (128.0 / (60.0 * np.pi)) * viscosity * length * flow / (square * square)


def reynolds_number(bore: Array, flow: Array, density: Array, viscosity: Array) -> Array:
    """Reynolds number 4 rho Q/(pi d mu) by mean velocity and bore; units as above, kg/m3."""
    return density * flow / (15.0 * np.pi * bore * viscosity)


def curvature_resistance(dean: Array) -> Array:
    """Resistance of a curved pipe to laminar flow over that of a straight one.

    1/(1 - (1 - (11.6/De)^0.45)^(1/0.45)) above a Dean number De = Re sqrt(d/2R) of 11.6,
    exactly 1 below (White 1929, Proc. R. Soc. A 123, 645). Stated for long coils, De below
    2000 and d/2R below 0.066: a hand-bent pipe is shorter and tighter, so above De = 11.6
    this is a guess on the high side. The default pipe stays below at 3 ml/min, even at 60 degC.
    """
    if not np.any(dean > 11.6):
        return dean * 0.0 + 1.0
    slow = 11.6 / np.maximum(dean, 11.6)
    return 1.0 / (1.0 - (1.0 - slow**0.45) ** (1.0 / 0.45)) + dean * 0.0


def oval_conductance(ovality: Array) -> Array:
    """Laminar flow through a flattened pipe over that through the round pipe it was made of.

    Q = pi a^3 b^3 dp/(4 mu L (a^2 + b^2)) in an ellipse of half-axes a, b (Boussinesq 1868,
    J. Math. Pures Appl. 13, 377). With ovality o = (a - b)/((a + b)/2), h = (o/2)^2, and the
    wall's length kept: (1 - h)^3/((1 + h) S^4), S the perimeter over pi (a + b) by the
    complete elliptic integral. Exact for an ellipse; o from 0 to 1 (axes 3 to 1), else NaN.
    """
    o = np.where((ovality >= 0.0) & (ovality <= 1.0), ovality, np.nan)
    h = 0.25 * o * o
    long_half = 1.0 + 0.5 * o
    short_over_long = (1.0 - 0.5 * o) / long_half
    S = (2.0 / np.pi) * long_half * ellipe(1.0 - short_over_long * short_over_long)
    less = 1.0 - h
    conductance: Array = less * less * less / ((1.0 + h) * np.square(S * S))
    return conductance


def feed_resistance(
    pipe_bore: Array, burn_rate: Array, fuel_temperature: Array, fuel_water: Array
) -> tuple[Array, Array]:
    """Reynolds number of the feed, and fall of level in 1 mm of round pipe, mm.

    NaN for the fall where the Reynolds number is above 2000 or the burn rate negative.
    """
    density = fuel.density(fuel_temperature, fuel_water)
    viscosity = fuel.viscosity(fuel_temperature, fuel_water)
    reynolds = reynolds_number(pipe_bore, burn_rate, density, viscosity)
    pascal = laminar_pressure_drop(1.0, pipe_bore, burn_rate, viscosity)
    fall = pascal * (1000.0 / STANDARD_GRAVITY) / density
    return reynolds, np.where((reynolds >= 0.0) & (reynolds <= LAMINAR_LIMIT), fall, np.nan)


def stepped_pipe(
    outlet_height: Annotated[Array, "mm", "axis of the sump outlet above the sump floor"] = 8.0,
    outlet_tilt: Annotated[Array, "deg", "upward tilt of the first run"] = 0.0,
    run_1: Annotated[Array, "mm", "from the sump to the first elbow", "> 0"] = 37.5,
    drop: Annotated[Array, "mm", "from the first elbow down to the second", "> 0"] = 8.0,
    run_2: Annotated[Array, "mm", "under the bar, second elbow to third", "> 0"] = 15.0,
    rise: Annotated[Array, "mm", "from the third elbow up to the fourth", "> 0"] = 8.0,
    run_3: Annotated[Array, "mm", "from the fourth elbow to the first wick", "> 0"] = 42.5,
    joint_error_1: Annotated[Array, "deg", "first elbow, upward error of its angle"] = 0.0,
    joint_error_2: Annotated[Array, "deg", "second elbow, upward error of its angle"] = 0.0,
    joint_error_3: Annotated[Array, "deg", "third elbow, upward error of its angle"] = 0.0,
    joint_error_4: Annotated[Array, "deg", "fourth elbow, upward error of its angle"] = 0.0,
    pipe_bore: Annotated[Array, "mm", "inside diameter of the fuel pipe", "> 0"] = 3.2,
    pipe_wall: Annotated[Array, "mm", "wall thickness of the fuel pipe", "> 0"] = 0.4,
    obstacle_height: Annotated[Array, "mm", "centre of the bar above the sump floor"] = 7.0,
    obstacle_position: Annotated[Array, "mm", "centre of the bar beyond the sump outlet"] = 45.0,
    obstacle_diameter: Annotated[Array, "mm", "diameter of the bar", ">= 0"] = 5.0,
    burn_rate: Annotated[Array, "ml/min", "fuel burnt by all the wicks", ">= 0"] = 3.0,
    fuel_temperature: Annotated[Array, "degC", "temperature of the fuel", "0..60"] = 20.0,
    fuel_water: Annotated[Array, "", "mass fraction of water in the fuel", "0..0.15"] = 0.06,
    bend_equivalent_length: Annotated[Array, "", "bores of pipe as good as an elbow", ">= 0"] = 2.5,
    bracket_slack: Annotated[Array, "mm", "far bracket lets the pipe up or down by", ">= 0"] = 0.0,
    bracket_distance: Annotated[Array, "mm", "far bracket beyond the outlet", "> 0"] = 140.0,
    bracket_play: Annotated[Array, "", "where in that slack the pipe lies, up", "-1..1"] = 0.0,
    breather_height: Annotated[
        Array, "mm", "lowest point of the breather's mouth above the sump floor", "> 0"
    ] = 12.0,
    breather_bore: Annotated[Array, "mm", "inside diameter of the breather", "> 0"] = 5.0,
    breather_scarf: Annotated[
        Array, "deg", "slant of the breather's mouth from a square cut", "0..60"
    ] = 0.0,
    bubble_rise_factor: Annotated[Array, "", "doubt of a bubble's rise in the pipe", "> 0"] = 1.0,
    occlusion_bond_number: Annotated[
        Array, "", "below it fuel fills the bore as it runs along a level pipe", ">= 0"
    ] = 0.8,
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
        tilt = outlet_tilt + slack_tilt(bracket_slack, bracket_distance, bracket_play)
        tilt_1 = tilt + joint_error_1
        tilt_2 = tilt_1 + joint_error_2
        tilt_3 = tilt_2 + joint_error_3
        tilt_4 = tilt_3 + joint_error_4
        headings = (
            heading(tilt),
            quarter_turn(heading(tilt_1), -1),
            heading(tilt_2),
            quarter_turn(heading(tilt_3), 1),
            heading(tilt_4),
        )
        lengths = (run_1, drop, run_2, rise, run_3)
        corners, gap = mitred_chain(
            (0.0, outlet_height),
            headings,
            lengths,
            (obstacle_position, obstacle_height),
            0.5 * pipe_bore + pipe_wall,
        )
        pipe_length = run_1 + drop + run_2 + rise + run_3
        errors = (joint_error_1, joint_error_2, joint_error_3, joint_error_4)
        spare_turn = [90.0 - np.abs(error) for error in errors]
        least = smallest([*lengths, pipe_bore, pipe_wall, *spare_turn])
        possible = (
            (least > 0.0)
            & (obstacle_diameter >= 0.0)
            & np.isfinite(pipe_length)
            & np.isfinite(tilt)
        )
        spoil = np.where(possible, 0.0, np.nan)

        _, fall = feed_resistance(pipe_bore, burn_rate, fuel_temperature, fuel_water)
        bores = 4.0 * bend_equivalent_length + END_EQUIVALENT_LENGTH
        equivalent_length = pipe_length + bores * pipe_bore
        lock = air_lock(
            [z for _, z in corners],
            pipe_bore,
            equivalent_length,
            mouth_height(breather_height, breather_bore, breather_scarf),
            fuel_temperature,
            fuel_water,
            bubble_rise_factor,
            occlusion_bond_number,
        )
        return SteppedPipe(
            burner_height=corners[-1][1] + spoil,
            burner_tilt=tilt_4 + spoil,
            wick_distance=corners[-1][0] + spoil,
            dip_length=corners[4][0] - corners[1][0] + pipe_bore + 2.0 * pipe_wall + spoil,
            pipe_length=pipe_length + spoil,
            obstacle_clearance=gap - 0.5 * obstacle_diameter + spoil,
            pipe_head_loss=fall * equivalent_length + spoil,
            pipe_loss_burn_rate=burn_rate + 0.0 * spoil,
            air_lock_head=lock.head + spoil,
            air_lock_ratio=lock.ratio + spoil,
            air_lock_clears=lock.clears + spoil,
        )


def bent_pipe(
    outlet_height: Annotated[Array, "mm", "axis of the sump outlet above the sump floor"] = 8.0,
    outlet_tilt: Annotated[Array, "deg", "upward tilt of the first run"] = 0.0,
    run_1: Annotated[Array, "mm", "straight from the sump to the first bend", "> 0"] = 24.7,
    slope_1: Annotated[Array, "mm", "straight downhill between bends 1 and 2", "> 0"] = 3.0,
    run_2: Annotated[Array, "mm", "straight under the bar between bends 2 and 3", "> 0"] = 8.0,
    slope_2: Annotated[Array, "mm", "straight uphill between bends 3 and 4", "> 0"] = 3.0,
    run_3: Annotated[Array, "mm", "straight from the last bend to the first wick", "> 0"] = 29.8,
    bend_radius: Annotated[Array, "mm", "radius of the bends to the centreline", "> 0"] = 10.0,
    bend_angle: Annotated[Array, "deg", "angle through which each bend is drawn", ">= 0"] = 45.0,
    bend_error_1: Annotated[Array, "deg", "first bend, angle bent beyond the drawn"] = 0.0,
    bend_error_2: Annotated[Array, "deg", "second bend, angle bent beyond the drawn"] = 0.0,
    bend_error_3: Annotated[Array, "deg", "third bend, angle bent beyond the drawn"] = 0.0,
    bend_error_4: Annotated[Array, "deg", "fourth bend, angle bent beyond the drawn"] = 0.0,
    pipe_ovality: Annotated[Array, "", "(widest - least bore)/mean in the bends", "0..1"] = 0.06,
    pipe_bore: Annotated[Array, "mm", "inside diameter of the fuel pipe", "> 0"] = 3.2,
    pipe_wall: Annotated[Array, "mm", "wall thickness of the fuel pipe", "> 0"] = 0.4,
    obstacle_height: Annotated[Array, "mm", "centre of the bar above the sump floor"] = 7.0,
    obstacle_position: Annotated[Array, "mm", "centre of the bar beyond the sump outlet"] = 45.0,
    obstacle_diameter: Annotated[Array, "mm", "diameter of the bar", ">= 0"] = 5.0,
    burn_rate: Annotated[Array, "ml/min", "fuel burnt by all the wicks", ">= 0"] = 3.0,
    fuel_temperature: Annotated[Array, "degC", "temperature of the fuel", "0..60"] = 20.0,
    fuel_water: Annotated[Array, "", "mass fraction of water in the fuel", "0..0.15"] = 0.06,
    bend_equivalent_length: Annotated[Array, "", "bores of pipe as good as a bend", ">= 0"] = 2.5,
    bracket_slack: Annotated[Array, "mm", "far bracket lets the pipe up or down by", ">= 0"] = 0.0,
    bracket_distance: Annotated[Array, "mm", "far bracket beyond the outlet", "> 0"] = 140.0,
    bracket_play: Annotated[Array, "", "where in that slack the pipe lies, up", "-1..1"] = 0.0,
    breather_height: Annotated[
        Array, "mm", "lowest point of the breather's mouth above the sump floor", "> 0"
    ] = 12.0,
    breather_bore: Annotated[Array, "mm", "inside diameter of the breather", "> 0"] = 5.0,
    breather_scarf: Annotated[
        Array, "deg", "slant of the breather's mouth from a square cut", "0..60"
    ] = 0.0,
    bubble_rise_factor: Annotated[Array, "", "doubt of a bubble's rise in the pipe", "> 0"] = 1.0,
    occlusion_bond_number: Annotated[
        Array, "", "below it fuel fills the bore as it runs along a level pipe", ">= 0"
    ] = 0.8,
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
        tilt = outlet_tilt + slack_tilt(bracket_slack, bracket_distance, bracket_play)
        turn_1 = bend_angle + bend_error_1
        turn_2 = bend_angle + bend_error_2
        turn_3 = bend_angle + bend_error_3
        turn_4 = bend_angle + bend_error_4
        # Summing errors, not turns, keeps the burner level when the pipe is as drawn.
        tilt_2 = tilt - bend_error_1 + bend_error_2
        tilt_4 = tilt_2 + bend_error_3 - bend_error_4
        headings = (
            heading(tilt),
            heading(tilt - turn_1),
            heading(tilt_2),
            heading(tilt_2 + turn_3),
            heading(tilt_4),
        )
        lengths = (run_1, slope_1, run_2, slope_2, run_3)
        outside_radius = 0.5 * pipe_bore + pipe_wall
        ends, gap = bent_chain(
            (0.0, outlet_height),
            headings,
            lengths,
            (False, True, True, False),
            bend_radius,
            (obstacle_position, obstacle_height),
            outside_radius,
        )
        straights = run_1 + slope_1 + run_2 + slope_2 + run_3
        turns = (turn_1, turn_2, turn_3, turn_4)
        arcs = bend_radius * np.radians(turn_1 + turn_2 + turn_3 + turn_4)
        pipe_length = straights + arcs
        possible = (
            (smallest([*lengths, bend_radius, pipe_bore, pipe_wall]) > 0.0)
            & (smallest([*turns, obstacle_diameter]) >= 0.0)
            & (smallest([180.0 - turn for turn in turns]) > 0.0)
            & np.isfinite(pipe_length + tilt)
        )
        spoil = np.where(possible, 0.0, np.nan)

        reynolds, fall = feed_resistance(pipe_bore, burn_rate, fuel_temperature, fuel_water)
        dean = reynolds * np.sqrt(0.5 * pipe_bore / bend_radius)
        arcs_as_straight = arcs * curvature_resistance(dean) / oval_conductance(pipe_ovality)
        bores = 4.0 * bend_equivalent_length + END_EQUIVALENT_LENGTH
        equivalent_length = straights + arcs_as_straight + bores * pipe_bore
        lock = air_lock(
            [z for _, z in ends],
            pipe_bore,
            equivalent_length,
            mouth_height(breather_height, breather_bore, breather_scarf),
            fuel_temperature,
            fuel_water,
            bubble_rise_factor,
            occlusion_bond_number,
        )
        return BentPipe(
            burner_height=ends[-1][1] + spoil,
            burner_tilt=tilt_4 + spoil,
            wick_distance=ends[-1][0] + spoil,
            dip_length=ends[-2][0] - ends[1][0] + spoil,
            pipe_length=pipe_length + spoil,
            obstacle_clearance=gap - 0.5 * obstacle_diameter + spoil,
            pipe_head_loss=fall * equivalent_length + spoil,
            pipe_loss_burn_rate=burn_rate + 0.0 * spoil,
            air_lock_head=lock.head + spoil,
            air_lock_ratio=lock.ratio + spoil,
            air_lock_clears=lock.clears + spoil,
            bend_ratio=0.5 * bend_radius / outside_radius + spoil,
        )
