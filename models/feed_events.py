"""The feed from the tank to the sump, from event to event, for many burners at once.

A burner is always in one of two states. *Sealed*: fuel covers the breather's mouth, nothing
leaves the tank and the wicks draw the sump down. *Open*: air has entered and the valve feeds,
until the mouth is covered and the tank's vacuum is rebuilt. Every change of state has a closed
time, so the time of a run costs nothing: only its events do, and of those a whole row of
feeds is taken in one stride (`models.feed_run`).

All fields and arguments are arrays that broadcast against each other, or numbers. Levels and
heads are in mm, heights above the inside of the sump floor, volumes in ml, times in min,
flows in ml/min, and areas in ml/mm (a tenth of the area in cm2).
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.arrays import Array

Flags = NDArray[np.bool_] | bool

SMALLEST_FEED = 1e-6
"""Least volume of a feed, ml, so that a burner that holds no head at all has countable feeds."""

EMPTY = 1e-6
"""A tank that can give less than this, ml, gives nothing."""

STEADY = 0.05
"""Part by which the flow may fall before its rate of fall is taken anew."""

TINY = 1e-300


class Burner(NamedTuple):
    """What stays the same over a run."""

    mouth: Array  # level that shuts it
    lower_edge: Array
    overshoot: Array  # mm for each ml of tank air and mm of tank head
    breakdown: Array  # part of it that is lost when air enters
    column: Array  # fuel in the breather, ml for each mm of tank head
    lip: Array
    drained: Array  # level at the first wick at which the pipe draws air there
    outlet: Array  # level at the outlet at which it draws air there
    sump_area: Array
    tank_volume: Array
    tank_fuel: Array  # at the start
    tank_head: Array  # at the start
    tank_area: Array
    feed_capacity: Array  # at that head, the valve fully set
    viscous_share: Array


class Condition(NamedTuple):
    """One step of the schedule."""

    duration: Array
    burn_rate: Array
    valve_opening: Array
    shift: Array  # of the level at the wicks over that at the mouth, at rest
    outlet_shift: Array  # of the level at the outlet
    loss: Array  # of level at the wicks, while lit


class Run(NamedTuple):
    """Where the fuel is, and what has happened so far."""

    sump_level: Array
    tank_fuel: Array
    sealed: Flags
    filled: Flags  # the vacuum has been built once
    fallen: Array  # of the breather's column since the valve was shut; above 0 once it is
    wick_out: Flags
    left: Array  # of the step's duration
    clock: Array
    burnt: Array
    spilled: Array
    feeds: Array
    lit_minutes: Array
    out_minutes: Array  # infinite while no wick has gone out
    highest: Array  # at the wicks
    lowest: Array
    lowest_fed: Array  # lit, the valve not shut
    least: Array  # left before the pipe draws air
    least_fed: Array


def tank_head(burner: Burner, tank_fuel: Array) -> Array:
    """Fuel surface in the tank above that in the sump, mm."""
    head: Array = np.maximum(
        burner.tank_head - (burner.tank_fuel - tank_fuel) / burner.tank_area, 0.0
    )
    return head


def upper_edge(burner: Burner, tank_fuel: Array, filled: Flags = True) -> Array:
    """Level at which the mouth is shut and the vacuum rebuilt, or built if not yet `filled`, mm."""
    air = burner.tank_volume - tank_fuel
    lost = np.where(filled, burner.breakdown, 1.0)
    return burner.mouth + lost * burner.overshoot * air * tank_head(burner, tank_fuel)


def top_of_feed(
    burner: Burner, tank_fuel: Array, filled: Flags, level: Array, rate: Array, burn: Array
) -> Array:
    """Level at which a feed ends that has begun at `level`, mm.

    Its end belongs to what the tank then holds, which is taken from a feed that ends by what it
    holds now: the overshoot is a thousandth of it, and changes by a few parts in a hundred.
    """
    top = upper_edge(burner, tank_fuel, filled)
    share = rate / np.maximum(rate - burn, 0.1 * rate + TINY)
    taken = burner.sump_area * np.maximum(top - level, 0.0) * share
    return upper_edge(burner, np.maximum(tank_fuel - taken, 0.0), filled)


def feed_rate(burner: Burner, valve_opening: Array, tank_fuel: Array) -> tuple[Array, Array]:
    """Flow through the valve, ml/min, and its fall with time while it flows, ml/min2.

    q/q0 = x from v x + (1 - v) x^2 = H/H0, v the viscous share of the valve's loss at the
    head H0 for which q0 is stated; dq/dt = dq/dH (-q/tank_area).
    """
    share, full = burner.viscous_share, burner.feed_capacity * valve_opening
    head = tank_head(burner, tank_fuel)
    part = head / burner.tank_head
    root: Array = np.sqrt(share * share + 4.0 * (1.0 - share) * part) + TINY
    usable = np.minimum(tank_fuel, head * burner.tank_area)
    rate = np.where(usable > EMPTY, full * (2.0 * part) / (share + root), 0.0)
    return rate, rate * full / (root * burner.tank_head * burner.tank_area)


def rise_time(volume: Array, rate: Array, fall: Array) -> Array:
    """First time at which rate t - fall t^2/2 reaches a positive `volume`; infinite if never."""
    square = rate * rate - 2.0 * fall * volume
    root = np.sqrt(np.maximum(square, 0.0))
    time: Array = np.where((rate > 0.0) & (square >= 0.0), 2.0 * volume / (rate + root), np.inf)
    return time


def fall_time(volume: Array, rate: Array, fall: Array) -> Array:
    """Time at which rate t - fall t^2/2 has fallen by `volume`; none if it is below 0."""
    root = np.sqrt(rate * rate + 2.0 * fall * np.maximum(volume, 0.0))
    time: Array = np.where(
        rate > 0.0, (rate + root) / fall, 2.0 * np.maximum(volume, 0.0) / (root - rate + TINY)
    )
    return np.where(volume < 0.0, 0.0, time)


class AtTheWicks(NamedTuple):
    """What a step means at the wicks; the last two as levels of the sump, mm."""

    burn: Array
    rise: Array  # of the level at the wicks over that of the sump
    lip: Array
    draws: Array  # at which the pipe draws air; below 0 not before the sump is empty


def at_the_wicks(burner: Burner, step: Condition, run: Run) -> AtTheWicks:
    """Burn rate, and the levels that matter; the pipe draws air at the wicks or at the outlet."""
    burn = np.where(run.wick_out, 0.0, step.burn_rate)
    rise = np.where(burn > 0.0, step.shift - step.loss, step.shift)
    draws = np.maximum(burner.drained - rise, burner.outlet - step.outlet_shift)
    return AtTheWicks(burn, rise, burner.lip - rise, draws)


def begin(burner: Burner, step: Condition, run: Run) -> Run:
    """Enter a step: what now stands over the lip runs away, once its height is noted."""
    wicks = at_the_wicks(burner, step, run)
    takes_time = step.duration > 0.0
    level = run.sump_level
    kept = np.where(takes_time, np.minimum(level, wicks.lip), level)
    run = run._replace(
        left=step.duration + 0.0 * run.clock,
        sump_level=kept,
        spilled=run.spilled + burner.sump_area * (level - kept),
    )
    run = note(run, step, wicks, takes_time, level, kept)
    is_shut = takes_time & (step.valve_opening <= 0.0)
    opens = takes_time & (step.valve_opening > 0.0) & (run.fallen > 0.0)
    run = run._replace(
        # A valve that is opened again goes on with the vacuum where it was.
        sealed=run.sealed & np.logical_not(opens),
        fallen=np.where(opens, 0.0, run.fallen),
    )
    feeding = np.logical_not(run.sealed) & run.filled & (run.fallen <= 0.0)
    return let_column_fall(burner, wicks, run, is_shut & feeding)


def let_column_fall(burner: Burner, wicks: AtTheWicks, run: Run, when: Flags) -> Run:
    """Let the breather's column into the sump where air has entered and the valve is shut.

    It falls no further than until it shuts the mouth; the rest waits for the next air.
    """
    if not np.any(when):
        return run
    stands = np.minimum(burner.column * tank_head(burner, run.tank_fuel), run.tank_fuel)
    stands = np.maximum(stands - run.fallen, 0.0)
    room = burner.sump_area * (np.minimum(burner.mouth, wicks.lip) - run.sump_level)
    falls = np.where(when, np.minimum(stands, np.maximum(room, 0.0)), 0.0)
    return run._replace(
        sump_level=run.sump_level + falls / burner.sump_area,
        tank_fuel=run.tank_fuel - falls,
        fallen=run.fallen + falls + np.where(when, TINY, 0.0),
        sealed=np.where(when, stands - falls > SMALLEST_FEED, run.sealed),
    )


def feed(burner: Burner, step: Condition, run: Run) -> Run:
    """Feed the open burners until covered, a wick out, the tank empty or the step over.

    Or until the flow has fallen by a twentieth, so that its fall may be taken as steady in
    between: exact for a valve that loses by the square, else the volume is at most 0.04 % low
    where the flow does fall by so much, and 0.01 % in a common feed.
    """
    wicks = at_the_wicks(burner, step, run)
    burn, lip, drained = wicks.burn, wicks.lip, np.maximum(wicks.draws, 0.0)
    area, level = burner.sump_area, run.sump_level
    rate, fall = feed_rate(burner, step.valve_opening, run.tank_fuel)
    net = rate - burn
    top = top_of_feed(burner, run.tank_fuel, run.filled, level, rate, burn)
    wanted = np.maximum(area * (top - level), SMALLEST_FEED)
    # A mouth that is above the lip is never covered: all that comes runs away.
    covers = np.where(lip >= burner.mouth, rise_time(wanted, net, fall), np.inf)
    usable = np.minimum(run.tank_fuel, tank_head(burner, run.tank_fuel) * burner.tank_area)
    ends = np.minimum(rise_time(usable, rate, fall), covers)
    ends = np.minimum(ends, np.where(rate > 0.0, STEADY * rate / fall, np.inf))
    ends = np.minimum(ends, np.where(run.sealed, 0.0, run.left))
    dries = np.where(burn > 0.0, fall_time(area * (level - drained), net, fall), np.inf)
    time = np.minimum(ends, dries)
    out = dries < ends

    fed = time * (rate - 0.5 * fall * time)
    filled = level + (fed - burn * time) / area
    running = run.left > 0.0
    kept = np.where(running, np.minimum(filled, lip), filled)
    # The level turns where the feed has fallen to the burn. Unspilled, it ends at the top.
    turns = np.minimum(time, np.maximum(net, 0.0) / (fall + TINY))
    peak = np.minimum(level + turns * (net - 0.5 * fall * turns) / area, np.maximum(top, level))
    # Had it burnt on: as deep as the step's end, fed as when the wick went out; or, if that was
    # enough to rise, as deep as every later draw.
    deeper = np.maximum(fall * time - net, 0.0) * (run.left - time) / area
    had_it_burnt_on = np.where(deeper > 0.0, kept - deeper, burner.lower_edge)
    low = np.where(out, np.minimum(kept, np.maximum(had_it_burnt_on, 0.0)), kept)
    run = note(run, step, wicks, running, peak, low)
    return let_pass(run, time, burn, out)._replace(
        sump_level=kept,
        tank_fuel=np.maximum(run.tank_fuel - fed, 0.0),
        spilled=run.spilled + area * (filled - kept),
        sealed=run.sealed | (covers <= time),
        filled=run.filled | (covers <= time),
    )


def draw(burner: Burner, step: Condition, run: Run) -> tuple[Run, Flags]:
    """Let the wicks draw down the sealed burners until air enters, a wick goes out or the end.

    Also gives which burners let air in.
    """
    wicks = at_the_wicks(burner, step, run)
    burn, drained = wicks.burn, np.maximum(wicks.draws, 0.0)
    area, level = burner.sump_area, run.sump_level
    enters = np.where(
        level > burner.lower_edge, area * (level - burner.lower_edge) / (burn + TINY), 0.0
    )
    ends = np.minimum(np.where(run.sealed, run.left, 0.0), enters)
    dries = np.where(burn > 0.0, area * np.maximum(level - drained, 0.0) / (burn + TINY), np.inf)
    time = np.minimum(ends, dries)
    out = dries < ends
    entered = run.sealed & (run.left > 0.0) & (enters <= time)
    had_it_burnt_on = np.maximum(level - burn * ends / area, 0.0)
    running = run.left > 0.0
    run = note(run, step, wicks, running, level, had_it_burnt_on)
    run = let_pass(run, time, burn, out)._replace(
        sump_level=level - burn * time / area,
        sealed=run.sealed & np.logical_not(entered),
        feeds=run.feeds + np.where(entered, 1.0, 0.0),
    )
    falls = entered & (step.valve_opening <= 0.0)
    if np.any(falls):
        run = let_column_fall(burner, wicks, run, falls)
        run = note(run, step, wicks, running, run.sump_level, run.sump_level)
    return run, entered


def note(run: Run, step: Condition, wicks: AtTheWicks, when: Flags, high: Array, low: Array) -> Run:
    """Keep the extremes of the level at the wicks and of the margin, from levels of the sump."""
    fed = when & (wicks.burn > 0.0) & (step.valve_opening > 0.0)
    high, least, low = high + wicks.rise, low - wicks.draws, low + wicks.rise
    return run._replace(
        highest=np.where(when, np.maximum(run.highest, high), run.highest),
        lowest=np.where(when, np.minimum(run.lowest, low), run.lowest),
        lowest_fed=np.where(fed, np.minimum(run.lowest_fed, low), run.lowest_fed),
        least=np.where(when, np.minimum(run.least, least), run.least),
        least_fed=np.where(fed, np.minimum(run.least_fed, least), run.least_fed),
    )


def let_pass(run: Run, time: Array, burn: Array, out: Flags) -> Run:
    """Let `time` pass, at the end of which the wick goes `out`."""
    clock = run.clock + time
    return run._replace(
        left=run.left - time,
        clock=clock,
        burnt=run.burnt + burn * time,
        lit_minutes=run.lit_minutes + np.where(burn > 0.0, time, 0.0),
        wick_out=run.wick_out | out,
        out_minutes=np.where(out, clock, run.out_minutes),
    )
