"""The feed in time: a run of changing conditions, and what the level at the wicks does in it."""

import inspect
from collections.abc import Mapping
from functools import partial
from typing import Annotated, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.arrays import Array
from models.feed_events import TINY, Burner, Floats, State, some
from models.feed_run import Condition, Run, Wicks, at_the_wicks, run_step
from models.feed_set_out import Feed, set_out
from models.quantities import (
    Acceleration,
    AirEntryFactor,
    BreatherBore,
    BreatherChamfer,
    BreatherHeight,
    BreatherScarf,
    BreatherWall,
    BurnerHeight,
    BurnRate,
    Cant,
    ClingFactor,
    Duration,
    FuelTemperature,
    FuelWater,
    Grade,
    HotColumnLift,
    Lateral,
    OutletHeight,
    OutletReach,
    PipeBore,
    PipeHeadLoss,
    Reach,
    RecedingAngle,
    ScarfClosing,
    ScarfRadiusFactor,
    SloshAmplitude,
    SumpFreeArea,
    TankAirVolume,
    TankFloorArea,
    TankHead,
    TankVolume,
    ValveOpening,
    WickHold,
    WickLipHeight,
)

TRACE_PIECES = 40
"""Pieces into which `feed_cycle_trace` cuts each step, besides the events in it."""


BLOCK = 8192
"""Burners that are followed at a time."""


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
    duration: Annotated[Duration, "per step"] = 5.0,
    burn_rate: Annotated[BurnRate, ">= 0", "per step"] = 3.0,
    valve_opening: Annotated[ValveOpening, "per step"] = 1.0,
    grade: Annotated[Grade, "per step"] = 0.0,
    acceleration: Annotated[Acceleration, "per step"] = 0.0,
    cant: Annotated[Cant, "per step"] = 0.0,
    breather_height: BreatherHeight = 13.0,
    breather_bore: BreatherBore = 5.0,
    breather_wall: BreatherWall = 0.5,
    breather_scarf: BreatherScarf = 0.0,
    breather_chamfer: BreatherChamfer = 0.0,
    scarf_radius_factor: ScarfRadiusFactor = 1.2,
    scarf_closing: ScarfClosing = 0.6,
    air_entry_factor: AirEntryFactor = 0.8,
    cling_factor: ClingFactor = 0.9,
    receding_angle: RecedingAngle = 5.0,
    slosh_amplitude: SloshAmplitude = 0.0,
    vacuum_breakdown: Annotated[
        Array,
        "",
        "share of the tank's vacuum that is lost when air enters",
        "0..1",
        "model: 0.3..1",
    ] = 1.0,
    burner_height: BurnerHeight = 8.0,
    outlet_height: OutletHeight = 8.0,
    pipe_bore: PipeBore = 3.2,
    wick_lip_height: WickLipHeight = 6.6,
    wick_hold: WickHold = 2.0,
    reach: Reach = 95.0,
    outlet_reach: OutletReach = 0.0,
    lateral: Lateral = 0.0,
    pipe_head_loss: PipeHeadLoss = 0.5,
    pipe_loss_burn_rate: Annotated[
        Array, "ml/min", "burn rate for which pipe_head_loss is stated", "> 0"
    ] = 3.0,
    hot_column_lift: HotColumnLift = 0.0,
    fuel_temperature: FuelTemperature = 20.0,
    fuel_water: FuelWater = 0.06,
    sump_free_area: SumpFreeArea = 4.0,
    sump_fill_at_start: Annotated[
        Array,
        "",
        "level in the sump at the start, over that which shuts the mouth",
        "0..1",
        "running: 0..1",
    ] = 1.0,
    tank_volume: TankVolume = 60.0,
    tank_air_volume: TankAirVolume = 20.0,
    tank_head: Annotated[TankHead, "> 0"] = 30.0,
    tank_floor_area: TankFloorArea = 18.0,
    feed_capacity: Annotated[
        Array,
        "ml/min",
        "fuel the valve passes, fully set, at tank_head",
        ">= 0",
        "running: lognormal 20 %",
    ] = 4.6,
    valve_viscous_share: Annotated[
        Array,
        "",
        "part of the valve's loss that goes as the flow, the rest as its square",
        "0..1",
        "model: 0..1",
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
    given = Feed(
        duration=duration,
        burn_rate=burn_rate,
        valve_opening=valve_opening,
        grade=grade,
        acceleration=acceleration,
        cant=cant,
        breather_height=breather_height,
        breather_bore=breather_bore,
        breather_wall=breather_wall,
        breather_scarf=breather_scarf,
        breather_chamfer=breather_chamfer,
        scarf_radius_factor=scarf_radius_factor,
        scarf_closing=scarf_closing,
        air_entry_factor=air_entry_factor,
        cling_factor=cling_factor,
        receding_angle=receding_angle,
        slosh_amplitude=slosh_amplitude,
        vacuum_breakdown=vacuum_breakdown,
        burner_height=burner_height,
        outlet_height=outlet_height,
        pipe_bore=pipe_bore,
        wick_lip_height=wick_lip_height,
        wick_hold=wick_hold,
        reach=reach,
        outlet_reach=outlet_reach,
        lateral=lateral,
        pipe_head_loss=pipe_head_loss,
        pipe_loss_burn_rate=pipe_loss_burn_rate,
        hot_column_lift=hot_column_lift,
        fuel_temperature=fuel_temperature,
        fuel_water=fuel_water,
        sump_free_area=sump_free_area,
        sump_fill_at_start=sump_fill_at_start,
        tank_volume=tank_volume,
        tank_air_volume=tank_air_volume,
        tank_head=tank_head,
        tank_floor_area=tank_floor_area,
        feed_capacity=feed_capacity,
        valve_viscous_share=valve_viscous_share,
    )
    with np.errstate(all="ignore"):
        burner, wicks, steps, run, sound = set_out(given)
        run = _through(burner, wicks, steps, run)
        total = sum((step.duration for step in steps), 0.0 * run.clock)
        is_fed = np.isfinite(run.lowest_fed)
        answered = sound & np.reshape(np.isfinite(run.highest) & ~run.unfinished, sound.shape)
        all_answered = bool(answered.all())

        def masked(result: Array) -> Array:
            shaped = np.reshape(result, answered.shape)
            kept: Array = (shaped if all_answered else np.where(answered, shaped, np.nan))[()]
            return kept

        return FeedCycle(
            run_flood_margin=masked(wicks.lip - run.highest),
            run_starve_margin=masked(np.where(is_fed, run.least_fed, run.least)),
            highest_level_at_wick=masked(run.highest),
            lowest_level_at_wick=masked(np.where(is_fed, run.lowest_fed, run.lowest)),
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


def _through(burner: Burner, wicks: Wicks, steps: tuple[Condition, ...], run: Run) -> Run:
    """Run through all steps, so many burners at a time that what is theirs stays at hand."""
    count = run.clock.size
    if count <= BLOCK:
        for step in steps:
            run = run_step(burner, wicks, step, run)
        return run
    blocks = [slice(start, start + BLOCK) for start in range(0, count, BLOCK)]
    ends = [
        _through(
            some(burner, rows),
            some(wicks, rows),
            tuple(some(step, rows) for step in steps),
            some(run, rows),
        )
        for rows in blocks
    ]
    return Run(*(np.concatenate(parts) for parts in zip(*ends, strict=True)))


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
        burner, wicks, steps, run, sound = set_out(Feed(**bound.arguments))
        for number, step in enumerate(steps if sound else ()):
            piece = step._replace(duration=step.duration / TRACE_PIECES)
            rises = {out: at_the_wicks(wicks, piece, out).rise for out in (False, True)}

            def watch(
                before: State,
                after: State,
                began: Floats,
                lasts: Array = piece.duration,
                rises: Mapping[bool, Array] = rises,
                number: int = number,
            ) -> None:
                minutes = (began + (lasts - after.left)).item()
                # A wick that goes out lets the level rise by what the pipe has lost till then.
                for state in (before, after):
                    level = (after.level + rises[bool(state.out.item())]).item()
                    point = (minutes, level, number)
                    if not points or point != points[-1]:
                        points.append(point)

            for _ in range(TRACE_PIECES if step.duration > 0.0 else 0):
                run = run_step(burner, wicks, piece, run, partial(watch, began=run.clock))
    minutes, levels, numbers = zip(*points, strict=True) if points else ((), (), ())
    return FeedCycleTrace(np.array(minutes), np.array(levels), np.array(numbers, dtype=np.int64))
