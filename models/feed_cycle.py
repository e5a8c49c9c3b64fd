"""The feed in time: a run of changing conditions, and what the level at the wicks does in it."""

import inspect
from typing import Annotated, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.arrays import Array
from models.breather import (
    NOT_NEGATIVE,
    POSITIVE,
    SHARE,
    bond_number_at_1_mm,
    breather_mouth,
)
from models.feed_events import TINY, Burner, Condition, Run, at_the_wicks
from models.feed_run import run_step
from models.fuel import density, within
from models.fuel_level import overshoot_height, shift_at_wick, velocity_head, wick_window

PER_STEP = ("duration", "burn_rate", "valve_opening", "grade", "acceleration", "cant")
"""Arguments of `feed_cycle` that have one value for each step of the schedule."""

BREATHER_END = (
    "breather_height",
    "breather_bore",
    "breather_wall",
    "breather_scarf",
    "breather_chamfer",
    "scarf_radius_factor",
    "scarf_closing",
    "air_entry_factor",
    "cling_factor",
    "receding_angle",
    "slosh_amplitude",
)
"""Arguments of `feed_cycle` that say how the breather's end holds air out."""

_COLUMN = 0.25e-3 * np.pi
"""Fuel in 1 mm of a breather of 1 mm bore, ml."""

TRACE_PIECES = 40
"""Pieces into which `feed_cycle_trace` cuts each step, besides the events in it."""


class FeedCycle(NamedTuple):
    """What a run does; the fields have the shape of the arguments together, less the steps."""

    run_flood_margin: Annotated[Array, "mm", "wick lip less the highest level in the run"]
    run_starve_margin: Annotated[
        Array, "mm", "least left before the pipe draws air, lit and the valve not shut"
    ]
    highest_level_at_wick: Annotated[
        Array, "mm", "highest level at the wicks, as if none ran over the lip"
    ]
    lowest_level_at_wick: Annotated[
        Array, "mm", "lowest level, lit and the valve not shut, as if no wick went out"
    ]
    spilled_volume: Annotated[Array, "ml", "fuel that ran over the lip of the first wick"]
    burnt_volume: Annotated[Array, "ml", "fuel burnt by the wicks"]
    fuel_left_in_tank: Annotated[Array, "ml", "fuel in the tank at the end"]
    fuel_left_in_sump: Annotated[Array, "ml", "fuel in the sump at the end"]
    minutes_to_wick_out: Annotated[
        Array, "min", "time until the pipe draws air; of the whole run if it never does"
    ]
    feeds_per_minute: Annotated[Array, "1/min", "entries of air over the time lit; 0 if never lit"]
    tank_air_at_end: Annotated[Array, "ml", "air space of the tank at the end"]


class FeedCycleTrace(NamedTuple):
    """The level of one burner in time, event by event; one-dimensional arrays, one length."""

    minutes: Annotated[NDArray[np.float64], "min", "time from the start"]
    level_at_wick: Annotated[NDArray[np.float64], "mm", "level at the wicks above the sump floor"]
    step: Annotated[NDArray[np.int64], "", "step of the schedule, from 0"]


def feed_cycle(
    duration: Annotated[Array, "min", "how long this step lasts", ">= 0", "per step"] = 5.0,
    burn_rate: Annotated[
        Array, "ml/min", "fuel burnt by all wicks together; 0 unlit", ">= 0", "per step"
    ] = 3.0,
    valve_opening: Annotated[
        Array, "", "share of the feed capacity the valve is set to; 0 shut", "0..1", "per step"
    ] = 1.0,
    grade: Annotated[
        Array, "%", "gradient, positive if it raises the level at the wicks", "", "per step"
    ] = 0.0,
    acceleration: Annotated[
        Array, "m/s2", "acceleration, positive if it raises the level at the wicks", "", "per step"
    ] = 0.0,
    cant: Annotated[
        Array, "deg", "sideways lean, positive if it raises that level", "-45..45", "per step"
    ] = 0.0,
    breather_height: Annotated[
        Array, "mm", "lowest point of the breather's mouth above the sump floor", "> 0"
    ] = 13.0,
    breather_bore: Annotated[Array, "mm", "inside diameter of the breather", "> 0"] = 5.0,
    breather_wall: Annotated[Array, "mm", "wall of the breather's tube", ">= 0"] = 0.5,
    breather_scarf: Annotated[
        Array, "deg", "slant of the breather's mouth from a square cut", "0..60"
    ] = 0.0,
    breather_chamfer: Annotated[
        Array, "", "outer edge of its end: 0 square, 1 bevelled to a knife edge", "0..1"
    ] = 0.0,
    scarf_radius_factor: Annotated[
        Array, "", "radius over which air enters a mouth cut at 45 deg, in bore radii", "1..1.6"
    ] = 1.2,
    scarf_closing: Annotated[
        Array, "", "rise of fuel that shuts a slanted mouth, over that on a round tube", "0..1"
    ] = 0.6,
    air_entry_factor: Annotated[
        Array, "", "head that holds air out, over that of a clean wetted rim", ">= 0"
    ] = 0.8,
    cling_factor: Annotated[
        Array, "", "depth at which fuel on the outer rim lets go, over that of a still ring", ">= 0"
    ] = 0.9,
    receding_angle: Annotated[
        Array, "deg", "contact angle at which fuel draws back on the breather's end", "0..60"
    ] = 5.0,
    slosh_amplitude: Annotated[
        Array, "mm", "amplitude of the waves at the breather on a rough track", ">= 0"
    ] = 0.0,
    vacuum_breakdown: Annotated[
        Array, "", "share of the tank's vacuum that is lost when air enters", "0..1"
    ] = 1.0,
    burner_height: Annotated[Array, "mm", "axis of the burner pipe above the sump floor"] = 8.0,
    outlet_height: Annotated[Array, "mm", "axis of the sump outlet above the sump floor"] = 8.0,
    pipe_bore: Annotated[Array, "mm", "inside diameter of the burner pipe", "> 0"] = 3.2,
    wick_lip_height: Annotated[
        Array, "mm", "lip of the wick tubes above the axis of the burner pipe", "> 0"
    ] = 6.6,
    wick_hold: Annotated[
        Array, "mm", "level below the crown at which wet wicks still keep air out", ">= 0"
    ] = 2.0,
    reach: Annotated[
        Array, "mm", "distance from the breather's mouth to the wicks, along the engine"
    ] = 95.0,
    outlet_reach: Annotated[
        Array, "mm", "distance from the breather's mouth to the sump outlet, along the engine"
    ] = 0.0,
    lateral: Annotated[
        Array, "mm", "distance from the breather's mouth to the wicks, across the engine"
    ] = 0.0,
    pipe_head_loss: Annotated[
        Array, "mm", "head lost in the fuel pipe at pipe_loss_burn_rate, in mm of fuel", ">= 0"
    ] = 0.5,
    pipe_loss_burn_rate: Annotated[
        Array, "ml/min", "burn rate for which pipe_head_loss is stated", "> 0"
    ] = 3.0,
    hot_column_lift: Annotated[
        Array, "mm", "rise of the level at the wicks by fuel that is hot there, while burning"
    ] = 0.0,
    fuel_temperature: Annotated[Array, "degC", "temperature of the fuel", "0..60"] = 20.0,
    fuel_water: Annotated[Array, "", "mass fraction of water in the fuel", "0..0.15"] = 0.06,
    sump_free_area: Annotated[
        Array, "cm2", "free surface of the sump and what stands at its level", "> 0"
    ] = 4.0,
    sump_fill_at_start: Annotated[
        Array, "", "level in the sump at the start, over that which shuts the mouth", "0..1"
    ] = 1.0,
    tank_volume: Annotated[Array, "ml", "inside of the tank, fuel and air", "> 0"] = 60.0,
    tank_air_volume: Annotated[Array, "ml", "air space of the tank at the start", ">= 0"] = 20.0,
    tank_head: Annotated[
        Array, "mm", "fuel surface in the tank above that in the sump, at the start", "> 0"
    ] = 30.0,
    tank_floor_area: Annotated[Array, "cm2", "free surface of the fuel in the tank", "> 0"] = 18.0,
    feed_capacity: Annotated[
        Array, "ml/min", "fuel the valve passes, fully set, at tank_head", ">= 0"
    ] = 4.6,
    valve_viscous_share: Annotated[
        Array, "", "part of the valve's loss that goes as the flow, the rest as its square", "0..1"
    ] = 0.5,
) -> FeedCycle:
    """Highest and lowest level over a schedule of running conditions, and where the fuel goes.

    Each step of the schedule holds for its `duration`. Per-step arguments have the step as
    their first axis, or are numbers that hold throughout; all others broadcast against the
    axes that are left. Levels as in `fuel_level`, from event to event:

    * mouth shut: nothing leaves the tank, the wicks draw the sump down at
      burn_rate/sump_free_area until it is so far below the mouth that air enters;
    * air enters, and the valve feeds q less the burn until what has run in shuts the mouth
      and rebuilds the vacuum: from the level at which air enters to that which shuts the mouth,
      and vacuum_breakdown V_air rho g H/p_atm. The first filling builds the vacuum from nothing,
      so it takes all of that term whatever vacuum_breakdown says;
    * valve: v q/q0 + (1 - v) (q/q0)^2 = H/H0, q0 = feed_capacity valve_opening,
      v = valve_viscous_share; as fuel leaves, V_air grows, and H, counted from the mouth,
      falls by volume over tank_floor_area;
    * at the wicks: the sump's level and reach (grade/100 + acceleration/g) +
      lateral tan(cant), less pipe_head_loss burn_rate/pipe_loss_burn_rate (laminar) and the
      velocity head, and hot_column_lift while lit. The sump's surface turns about the
      breather's mouth;
    * what stands over the lip at the first wick runs away; a mouth above the lip is never
      shut and the tank runs out over it;
    * the pipe draws air where the level at the first wick is wick_hold below the pipe's crown,
      or that at the outlet in the sump below the outlet's own crown. The flames then live on
      what the wicks themselves hold (`wick_supply`, whose minutes come on top); here all wicks
      count as out for the rest of the run, and nothing burns any more;
    * the column that the vacuum holds up in the breather, breather bore area times H, counts as
      fuel in the tank. Each feed lets it fall into the sump and draws it up again, which
      leaves nothing; air that enters with the valve shut lets it fall for good.

    The run begins with the tank at the pressure of the atmosphere, as after filling, and the
    valve as in the first step. tank + sump + burnt + spilled = filled, to rounding. The
    margins go on below 0: highest_level_at_wick is what the breather would have let stand had
    the lip been higher, lowest_level_at_wick what the step in which a wick goes out would have
    come to had it burnt on. Steps with the valve shut, which is how a fire is let go out, count
    for minutes_to_wick_out and not for the lowest level, unless there are no others.

    Doubts, as arguments: those of `fuel_level`; valve_viscous_share; vacuum_breakdown, 1 being
    the most. A bubble at a time breaks the vacuum down in part. And as the feed fades while the
    vacuum grows, against a burn b the sump gains only (1 - b/q)^2 of the overshoot (v = 0) to
    1 - b/q + (b/q) ln(b/q) (v = 1). Left out: that the vacuum lags behind the falling sump, so
    that air enters late, by the head at which the valve passes what swells the air (0.07 mm
    as drawn, 0.3 mm with 80 ml of air and v = 1, and a third fewer feeds; air_entry_factor has
    to carry it); a column in the breather that holds more than the sump takes up to its mouth,
    which shuts it before the vacuum is gone: more and smaller feeds, by a factor of 1.3
    upwards, in the same band; warming of the tank (`tank_surge`); the flow in the pipe after a
    change of level (some seconds); wicks beyond the first (`wicks`).

    The level is a sawtooth: the result depends on where in a cycle a step ends, as the burner's
    does. A feed more or less is a jump of up to one feed in what is left in tank and sump, and of
    a cycle's minutes in minutes_to_wick_out.
    """
    with np.errstate(all="ignore"):
        burner, steps, run, sound = _set_out(**locals())
        for step in steps:
            run = run_step(burner, step, run)
        sound = sound & (run.left == 0.0) & np.isfinite(run.highest)
        total = sum((step.duration for step in steps), 0.0 * run.clock)
        is_fed = np.isfinite(run.lowest_fed)
        lowest = np.where(is_fed, run.lowest_fed, run.lowest)

        def masked(result: Array) -> Array:
            kept: Array = np.where(sound, result, np.nan)[()]
            return kept

        return FeedCycle(
            run_flood_margin=masked(burner.lip - run.highest),
            run_starve_margin=masked(np.where(is_fed, run.least_fed, run.least)),
            highest_level_at_wick=masked(run.highest),
            lowest_level_at_wick=masked(lowest),
            spilled_volume=masked(run.spilled),
            burnt_volume=masked(run.burnt),
            fuel_left_in_tank=masked(run.tank_fuel),
            fuel_left_in_sump=masked(burner.sump_area * run.sump_level),
            minutes_to_wick_out=masked(np.minimum(run.out_minutes, total)),
            feeds_per_minute=masked(
                np.where(run.lit_minutes > 0.0, run.feeds, 0.0) / (run.lit_minutes + TINY)
            ),
            tank_air_at_end=masked(burner.tank_volume - run.tank_fuel),
        )


def feed_cycle_trace(**arguments: Array) -> FeedCycleTrace:
    """Level at the wicks of one burner in time, to be drawn between the crown and the lip.

    Takes the arguments of `feed_cycle` by name, as numbers, per-step ones also of shape
    (steps,). Every feed is followed singly. The level is what the fuel stands at, so it ends
    at the lip and at the crown where `feed_cycle` tells how far beyond it would have gone;
    else its extremes are those of `feed_cycle`. A burner without an answer has an empty trace.
    """
    bound = inspect.signature(feed_cycle).bind(**arguments)
    bound.apply_defaults()
    points: list[tuple[float, float, int]] = []
    with np.errstate(all="ignore"):
        burner, steps, run, sound = _set_out(**bound.arguments)
        for number, step in enumerate(steps if sound else ()):
            piece = step._replace(duration=step.duration / TRACE_PIECES)

            def watch(
                before: Run, after: Run, piece: Condition = piece, number: int = number
            ) -> None:
                # A wick that goes out lets the level rise by what the pipe has lost till then.
                for out in (before.wick_out, after.wick_out):
                    wicks = at_the_wicks(burner, piece, after._replace(wick_out=out))
                    level = np.asarray(after.sump_level + wicks.rise).item()
                    point = (np.asarray(after.clock).item(), level, number)
                    if not points or point != points[-1]:
                        points.append(point)

            for _ in range(TRACE_PIECES if step.duration > 0.0 else 0):
                run = run_step(burner, piece, run, watch)
    minutes, levels, numbers = zip(*points, strict=True) if points else ((), (), ())
    return FeedCycleTrace(np.array(minutes), np.array(levels), np.array(numbers, dtype=np.int64))


def _set_out(
    **arguments: Array,
) -> tuple[Burner, tuple[Condition, ...], Run, NDArray[np.bool_] | bool]:
    """The burner, the steps, the state at the start, and where all arguments make sense."""
    given = arguments
    lip, crown = wick_window(given["burner_height"], given["pipe_bore"], given["wick_lip_height"])
    bond_at_1_mm = bond_number_at_1_mm(given["fuel_temperature"], given["fuel_water"])
    end = {name: given[name] for name in BREATHER_END}
    breather = breather_mouth(**end, bond_at_1_mm=bond_at_1_mm)
    fuel_density = density(given["fuel_temperature"], given["fuel_water"])
    free_area = within(given["sump_free_area"], POSITIVE)
    tank_volume = within(given["tank_volume"], POSITIVE)
    air = within(given["tank_air_volume"], NOT_NEGATIVE)
    loss = within(given["pipe_head_loss"], NOT_NEGATIVE)
    loss = loss / within(given["pipe_loss_burn_rate"], POSITIVE)
    burner = Burner(
        mouth=breather.closes,
        lower_edge=breather.enters,
        overshoot=overshoot_height(fuel_density, 1.0, 1.0, free_area),
        breakdown=within(given["vacuum_breakdown"], SHARE),
        column=_COLUMN * given["breather_bore"] * given["breather_bore"],
        lip=lip,
        drained=crown - within(given["wick_hold"], NOT_NEGATIVE),
        outlet=given["outlet_height"] + 0.5 * given["pipe_bore"],
        sump_area=0.1 * free_area,
        tank_volume=tank_volume,
        tank_fuel=within(tank_volume - air, NOT_NEGATIVE),
        tank_head=within(given["tank_head"], POSITIVE),
        tank_area=0.1 * within(given["tank_floor_area"], POSITIVE),
        feed_capacity=within(given["feed_capacity"], NOT_NEGATIVE),
        viscous_share=within(given["valve_viscous_share"], SHARE),
    )
    start = within(given["sump_fill_at_start"], SHARE) * burner.mouth
    check = 0.0 * sum(burner) + 0.0 * start
    for name in ("reach", "lateral", "outlet_reach", "hot_column_lift", "breather_wall"):
        check = check + 0.0 * given[name]
    steps = []
    for number in range(_step_count(given)):
        duration, burn, opening, grade, acceleration, cant = (
            np.asarray(given[name])[number] if np.ndim(given[name]) else given[name]
            for name in PER_STEP
        )
        shift = shift_at_wick(given["reach"], given["lateral"], grade, acceleration, cant)
        outlet_shift = shift_at_wick(given["outlet_reach"], 0.0, grade, acceleration, 0.0)
        burn = within(burn, NOT_NEGATIVE)
        step = Condition(
            duration=within(duration, NOT_NEGATIVE),
            burn_rate=burn,
            valve_opening=within(opening, SHARE),
            shift=shift,
            outlet_shift=outlet_shift,
            loss=loss * burn + velocity_head(burn, given["pipe_bore"]) - given["hot_column_lift"],
        )
        steps.append(step)
        check = check + 0.0 * sum(step)
    sound = np.isfinite(check)
    # A burner that makes no sense takes no time, and so holds up none of the others.
    steps = [step._replace(duration=np.where(sound, step.duration, 0.0)) for step in steps]
    run = Run(
        sump_level=start,
        tank_fuel=burner.tank_fuel,
        sealed=False,
        filled=False,
        fallen=0.0,
        wick_out=False,
        left=0.0,
        clock=0.0,
        burnt=0.0,
        spilled=0.0,
        feeds=0.0,
        lit_minutes=0.0,
        out_minutes=np.inf,
        highest=-np.inf,
        lowest=np.inf,
        lowest_fed=np.inf,
        least=np.inf,
        least_fed=np.inf,
    )
    return burner, tuple(steps), run, sound


def _step_count(given: dict[str, Array]) -> int:
    """Number of steps that the per-step arguments state; 1 if all of them are numbers."""
    counts = {np.shape(given[name])[0] for name in PER_STEP if np.ndim(given[name])}
    if len(counts) > 1:
        raise ValueError(f"per-step arguments with {sorted(counts)} steps: give all the same")
    return counts.pop() if counts else 1
