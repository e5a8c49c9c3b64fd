"""The feed from the tank to the sump, from event to event, for many burners at once.

A burner is always in one of two states. *Sealed*: fuel covers the breather's mouth, nothing
leaves the tank and the wicks draw the sump down. *Open*: air has entered and the valve feeds,
until the mouth is covered and the tank's vacuum is rebuilt. Every change of state has a closed
time, so the time of a run costs nothing: only its events do, and of those a whole row of
feeds is taken in one stride (`skip_feeds`).

All fields and arguments are arrays that broadcast against each other, or numbers. Levels and
heads are in mm, heights above the inside of the sump floor, volumes in ml, times in min,
flows in ml/min, and areas in ml/mm (a tenth of the area in cm2).
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.arrays import Array
from models.fuel_level import velocity_head

Flags = NDArray[np.bool_] | bool

SMALLEST_FEED = 1e-6
"""Least volume of a feed, ml, so that a burner that holds no head at all has countable feeds."""

EMPTY = 1e-6
"""A tank that can give less than this, ml, gives nothing."""

MOST_ROUNDS = 300
"""Rounds of feed and draw in one step after which a burner is given up; most take two."""

SLOWEST = 3.0
"""Feeds are skipped while the flow exceeds the burn by so many times what just covers the mouth.

Nearer to that limit they change too much from one to the next.
"""

_TINY = 1e-300
# Gauss and Legendre's rule of three points on 0..1.
_POINTS = (0.1127016653792583, 0.5, 0.8872983346207417)
_WEIGHTS = (5.0 / 18.0, 8.0 / 18.0, 5.0 / 18.0)


class Burner(NamedTuple):
    """What stays the same over a run."""

    mouth: Array
    lower_edge: Array
    overshoot: Array  # mm for each ml of tank air and mm of tank head
    lip: Array
    crown: Array
    pipe_bore: Array
    pipe_loss: Array  # mm for each ml/min
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


class Run(NamedTuple):
    """Where the fuel is, and what has happened so far."""

    sump_level: Array
    tank_fuel: Array
    sealed: Flags
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


def tank_head(burner: Burner, tank_fuel: Array) -> Array:
    """Fuel surface in the tank above that in the sump, mm."""
    head: Array = np.maximum(
        burner.tank_head - (burner.tank_fuel - tank_fuel) / burner.tank_area, 0.0
    )
    return head


def upper_edge(burner: Burner, tank_fuel: Array) -> Array:
    """Level at which the mouth is covered and the tank's vacuum rebuilt, mm."""
    air = burner.tank_volume - tank_fuel
    return burner.mouth + burner.overshoot * air * tank_head(burner, tank_fuel)


def feed_rate(burner: Burner, valve_opening: Array, tank_fuel: Array) -> tuple[Array, Array]:
    """Flow through the valve, ml/min, and its fall with time while it flows, ml/min2.

    q/q0 = x from v x + (1 - v) x^2 = H/H0, v the viscous share of the valve's loss at the
    head H0 for which q0 is stated; dq/dt = dq/dH (-q/tank_area).
    """
    share, full = burner.viscous_share, burner.feed_capacity * valve_opening
    head = tank_head(burner, tank_fuel)
    part = head / burner.tank_head
    root: Array = np.sqrt(share * share + 4.0 * (1.0 - share) * part) + _TINY
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
        rate > 0.0, (rate + root) / fall, 2.0 * np.maximum(volume, 0.0) / (root - rate + _TINY)
    )
    return np.where(volume < 0.0, 0.0, time)


def at_the_wicks(burner: Burner, step: Condition, run: Run) -> tuple[Array, Array, Array, Array]:
    """Burn rate; level at the wicks over the sump's; lip and crown brought to the sump, mm.

    The crown counts as uncovered, too, when the sump is empty.
    """
    burn = np.where(run.wick_out, 0.0, step.burn_rate)
    rise = step.shift - burner.pipe_loss * burn - velocity_head(burn, burner.pipe_bore)
    return burn, rise, burner.lip - rise, np.maximum(burner.crown - rise, 0.0)


def begin(burner: Burner, step: Condition, run: Run) -> Run:
    """Enter a step: what now stands over the lip runs away, once its height is noted."""
    burn, rise, lip, _ = at_the_wicks(burner, step, run)
    takes_time = step.duration > 0.0
    level = run.sump_level
    kept = np.where(takes_time, np.minimum(level, lip), level)
    run = run._replace(
        left=step.duration + 0.0 * run.clock,
        sump_level=kept,
        spilled=run.spilled + burner.sump_area * (level - kept),
    )
    return _note(run, step, burn, takes_time, level + rise, kept + rise)


def feed(burner: Burner, step: Condition, run: Run) -> Run:
    """Feed the open burners until covered, a wick out, the tank empty or the step over.

    Or until the flow has fallen by half, so that its fall may be taken as steady in between:
    exact for a valve that loses by the square, else the volume is 5 % low where the flow
    does fall by half and 0.01 % in a common feed.
    """
    burn, rise, lip, crown = at_the_wicks(burner, step, run)
    area, level = burner.sump_area, run.sump_level
    rate, fall = feed_rate(burner, step.valve_opening, run.tank_fuel)
    net = rate - burn
    top = upper_edge(burner, run.tank_fuel)
    wanted = np.maximum(area * (top - level), SMALLEST_FEED)
    # A mouth that is above the lip is never covered: all that comes runs away.
    covers = np.where(lip >= burner.mouth, rise_time(wanted, net, fall), np.inf)
    usable = np.minimum(run.tank_fuel, tank_head(burner, run.tank_fuel) * burner.tank_area)
    ends = np.minimum(rise_time(usable, rate, fall), covers)
    ends = np.minimum(ends, np.where(rate > 0.0, 0.5 * rate / fall, np.inf))
    ends = np.minimum(ends, np.where(run.sealed, 0.0, run.left))
    dries = np.where(burn > 0.0, fall_time(area * (level - crown), net, fall), np.inf)
    time = np.minimum(ends, dries)
    out = dries < ends

    fed = time * (rate - 0.5 * fall * time)
    filled = level + (fed - burn * time) / area
    kept = np.minimum(filled, lip)
    # The level turns where the feed has fallen to the burn. Unspilled, it ends at the top.
    turns = np.minimum(time, np.maximum(net, 0.0) / (fall + _TINY))
    peak = np.minimum(level + turns * (net - 0.5 * fall * turns) / area, np.maximum(top, level))
    # Had it burnt on to the end of the step, fed as when the wick went out:
    deeper = np.where(out, np.maximum(fall * time - net, 0.0) * (run.left - time) / area, 0.0)
    low = np.minimum(kept, np.maximum(kept - deeper, 0.0))
    run = _note(run, step, burn, run.left > 0.0, peak + rise, low + rise)
    return _pass(run, time, burn, out)._replace(
        sump_level=kept,
        tank_fuel=np.maximum(run.tank_fuel - fed, 0.0),
        spilled=run.spilled + area * (filled - kept),
        sealed=run.sealed | (covers <= time),
    )


def draw(burner: Burner, step: Condition, run: Run) -> tuple[Run, Flags]:
    """Let the wicks draw down the sealed burners until air enters, a wick goes out or the end.

    Also gives which burners let air in.
    """
    burn, rise, _, crown = at_the_wicks(burner, step, run)
    area, level = burner.sump_area, run.sump_level
    enters = np.where(
        level > burner.lower_edge, area * (level - burner.lower_edge) / (burn + _TINY), 0.0
    )
    ends = np.minimum(np.where(run.sealed, run.left, 0.0), enters)
    dries = np.where(burn > 0.0, area * np.maximum(level - crown, 0.0) / (burn + _TINY), np.inf)
    time = np.minimum(ends, dries)
    out = dries < ends
    entered = run.sealed & (run.left > 0.0) & (enters <= time)
    had_it_burnt_on = np.maximum(level - burn * ends / area, 0.0)
    run = _note(run, step, burn, run.left > 0.0, level + rise, had_it_burnt_on + rise)
    run = _pass(run, time, burn, out)._replace(
        sump_level=level - burn * time / area,
        sealed=run.sealed & np.logical_not(entered),
        feeds=run.feeds + np.where(entered, 1.0, 0.0),
    )
    return run, entered


def skip_feeds(burner: Burner, step: Condition, run: Run, entered: Flags) -> Run:
    """Take in one stride all whole feeds that still fit into the step, where air has `entered`.

    Between two entries of air the sump gains nothing, so the tank loses what is burnt and
    spilled: D(x), x what it has lost already. The number of feeds n(x) obeys
    n(x + D(x)) = n(x) + 1, hence n = integral of dx/D + ln(D(x)/D(0))/2 for D that
    changes little from feed to feed (Euler and Maclaurin). The fuel is conserved exactly;
    the time of the last entry is right to some thousandths of a feed.
    """
    burn, rise, lip, _ = at_the_wicks(burner, step, run)
    able = entered & (run.left > 0.0) & (burn > 0.0) & (lip >= burner.mouth)
    if not np.any(able):
        return run
    area, start = burner.sump_area, run.tank_fuel

    def one_feed(tank: Array) -> tuple[Array, Array, Array]:
        """Taken from the tank by one feed and draw; spilled of it; least rate for a stride."""
        rate, fall = feed_rate(burner, step.valve_opening, tank)
        top = upper_edge(burner, tank)
        wanted = np.maximum(area * (top - burner.lower_edge), SMALLEST_FEED)
        root = np.sqrt(2.0 * fall * wanted)
        net = np.maximum(rate - burn, np.maximum(root, SMALLEST_FEED))
        feeding = 2.0 * wanted / (net + np.sqrt((net - root) * (net + root)))
        return wanted + burn * feeding, area * np.maximum(top - lip, 0.0), burn + SLOWEST * root

    taken, over, least = one_feed(start)
    part = least / (burner.feed_capacity * step.valve_opening + _TINY)
    part = part * (burner.viscous_share + (1.0 - burner.viscous_share) * part)
    until_slow = start - burner.tank_fuel + burner.tank_area * burner.tank_head * (1.0 - part)
    head = tank_head(burner, start)
    until_empty = np.minimum(start, head * burner.tank_area) - 2.0 * taken
    room = np.where(able, np.maximum(np.minimum(until_slow, until_empty), 0.0), 0.0)
    # What is spilled comes on top of what is burnt: its share from half way there.
    reach = np.minimum(run.left * burn * taken / (taken - over), room)
    one, lost, _ = one_feed(start - 0.5 * reach)
    reach = np.minimum(run.left * burn * one / (one - lost), room)
    count, over_share = 0.0 * reach, 0.0 * reach
    for point, weight in zip(_POINTS, _WEIGHTS, strict=True):
        one, lost, _ = one_feed(start - point * reach)
        count = count + weight / one
        over_share = over_share + weight * lost / one
    last, _, _ = one_feed(start - reach)
    count = np.where(reach > 0.0, reach * count + 0.5 * np.log(last / taken), 0.0)
    whole = np.maximum(np.floor(count), 0.0)
    some = whole > 0.0
    rest = count - whole
    steeper = 0.5 * (last - taken) / (reach + _TINY) * (1.0 + rest)
    gone = np.where(some, np.clip(reach - last * rest / (1.0 + steeper), 0.0, reach), 0.0)
    over_all = gone * over_share
    time = np.where(some, np.minimum((gone - over_all) / (burn + _TINY), run.left), 0.0)
    over_all = np.where(over_all > 0.0, gone - burn * time, 0.0)

    # The overshoot is a parabola of what the tank holds: highest at its vertex or an end.
    vertex = burner.tank_volume + burner.tank_fuel - burner.tank_area * burner.tank_head
    last_fed = start - np.maximum(gone - last, 0.0)
    peak = upper_edge(burner, np.minimum(np.maximum(0.5 * vertex, last_fed), start))
    run = _note(run, step, burn, some, peak + rise, burner.lower_edge + rise)
    return _pass(run, time, burn, False)._replace(
        tank_fuel=start - burn * time - over_all,
        spilled=run.spilled + over_all,
        feeds=run.feeds + whole,
    )


def run_step(
    burner: Burner, step: Condition, run: Run, watch: Callable[[Run, Run], None] | None = None
) -> Run:
    """Run through one step.

    With `watch`, which is shown the run before and after every event, no feed is skipped.
    """
    before, run = run, begin(burner, step, run)
    if watch:
        watch(before, run)
    for _ in range(MOST_ROUNDS if watch is None else 100 * MOST_ROUNDS):
        if not np.any(run.left > 0.0):
            break
        fed = feed(burner, step, run)
        drawn, entered = draw(burner, step, fed)
        if watch:
            watch(run, fed)
            watch(fed, drawn)
        elif np.any(drawn.left > 0.0):
            drawn = skip_feeds(burner, step, drawn, entered)
        run = drawn
    return run


def _note(run: Run, step: Condition, burn: Array, when: Flags, high: Array, low: Array) -> Run:
    """Keep the extremes of the level at the wicks."""
    fed = when & (burn > 0.0) & (step.valve_opening > 0.0)
    return run._replace(
        highest=np.where(when, np.maximum(run.highest, high), run.highest),
        lowest=np.where(when, np.minimum(run.lowest, low), run.lowest),
        lowest_fed=np.where(fed, np.minimum(run.lowest_fed, low), run.lowest_fed),
    )


def _pass(run: Run, time: Array, burn: Array, out: Flags) -> Run:
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
