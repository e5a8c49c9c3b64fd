"""The feed from the tank to the sump, from event to event, for many burners at once.

A burner is always in one of two states. *Sealed*: fuel covers the breather's mouth, nothing
leaves the tank and the wicks draw the sump down. *Open*: air has entered and the valve feeds,
until the mouth is covered and the tank's vacuum is rebuilt. Every change of state has a closed
time, so the time of a run costs nothing: only its events do, and of those a whole row of
feeds is taken in one stride (`models.feed_strides`).

Fields are arrays of one axis, a burner an element, or numbers that hold for all. Levels and
heads are in mm, heights above the inside of the sump floor, volumes in ml, times in min,
flows in ml/min, and areas in ml/mm (a tenth of the area in cm2). Heads come as parts of the head
for which the valve's flow is stated: the head is in proportion to the fuel over `headless`.

Events are passed over hundreds of times for each burner, so what is rare (a tank that runs
dry, a wick that goes out, a level that turns) is worked out for the few that meet it.
"""

from typing import Any, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from models.arrays import Array

Flags = NDArray[np.bool_] | bool
Floats = NDArray[np.float64]
Rows = NDArray[np.intp]
Fields = TypeVar("Fields", bound=tuple[Any, ...])

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
    overshoot: Array  # mm for each ml of tank air at the full head, once the vacuum was built
    first_overshoot: Array  # likewise where it is built from nothing
    column: Array  # fuel in the breather, ml, at the full head
    sump_area: Array
    tank_volume: Array
    headless: Array  # fuel in the tank that stands no higher than the sump's, below 0 if more
    head_volume: Array  # fuel over that at the full head
    viscous_share: Array  # of the valve's loss at the full head
    share_squared: Array
    inertial_share: Array  # four times


class Met(NamedTuple):
    """What a step means for each burner; levels are those of the sump."""

    burn: Floats
    fall: Floats  # of the level while nothing is fed, mm/min
    minutes_per_mm: Floats  # of that fall
    lip: Floats
    unlit_lip: Array  # as it is once the wick is out
    drained: Floats  # at which the pipe draws air; minus infinity where nothing burns
    coverable: NDArray[np.bool_]  # the mouth is not above the lip
    full_flow: Array  # twice that of the valve at the full head
    steepness: Array  # of that flow over the fuel in the tank, 1/min
    is_shut: Flags


class State(NamedTuple):
    """Where the fuel is, and what has happened in a step so far; arrays, one for each burner."""

    level: Floats  # in the sump
    tank: Floats
    left: Floats  # of the step's duration
    sealed: NDArray[np.bool_]
    filled: NDArray[np.bool_]  # the vacuum has been built once
    fallen: Floats  # of the breather's column since the valve was shut; above 0 once it is
    spilled: Floats
    feeds: Floats
    high: Floats  # level in the sump, since the step began or the wick went out
    low: Floats
    out: NDArray[np.bool_]
    lit_left: Floats  # what was left, and the extremes till then, where the wick went out
    lit_high: Floats
    lit_low: Floats


def some(values: Fields, rows: Rows | slice) -> Fields:
    """Of each field of a row of burners, the chosen ones."""
    taken: list[Any] = [some(v, rows) if isinstance(v, tuple) else chosen(v, rows) for v in values]
    return type(values)(*taken)


def put(whole: Any, rows: Rows, part: Any) -> Any:
    """Give a copy in which the chosen ones are replaced."""
    result = np.array(whole)
    result[rows] = part
    return result


def chosen(value: Array, rows: Rows | slice) -> Array:
    """Take the chosen ones of a field; a number holds for all."""
    return value[rows] if isinstance(value, np.ndarray) and value.ndim else value


def upper_edge(
    burner: Burner, tank: Floats, overshoot: Array, part: Floats | None = None
) -> Floats:
    """Level at which the mouth is shut and the vacuum rebuilt, mm; `part` of the full head."""
    if part is None:
        part = tank - burner.headless
        np.maximum(part, 0.0, out=part)
        part /= burner.head_volume
    level: Floats = burner.tank_volume - tank
    level *= part
    level *= overshoot
    level += burner.mouth
    return level


def rise_time(volume: Floats, rate: Floats, fall: Floats, able: Flags = True) -> Floats:
    """First time at which rate t - fall t^2/2 reaches a positive `volume`; infinite if never."""
    time = 2.0 * volume
    root = time * fall
    np.subtract(rate * rate, root, out=root)
    possible = (rate > 0.0) & (root >= 0.0)
    possible &= able
    np.sqrt(root, out=root)
    root += rate
    time /= root
    return np.where(possible, time, np.inf)


def _given(rate: Floats, fall: Floats, time: Floats) -> Floats:
    """Volume that has come by then, rate t - fall t^2/2."""
    volume = fall * time
    volume *= -0.5
    volume += rate
    volume *= time
    return volume


def fall_time(volume: Floats, rate: Floats, fall: Floats) -> Floats:
    """Time at which rate t - fall t^2/2 has fallen by `volume`; none if it is below 0."""
    root = np.sqrt(rate * rate + 2.0 * fall * np.maximum(volume, 0.0))
    time = np.where(
        rate > 0.0, (rate + root) / fall, 2.0 * np.maximum(volume, 0.0) / (root - rate + TINY)
    )
    return np.where(volume < 0.0, 0.0, time)


def let_column_fall(burner: Burner, met: Met, state: State, when: NDArray[np.bool_]) -> State:
    """Let the breather's column into the sump where air has entered and the valve is shut.

    It falls no further than until it shuts the mouth; the rest waits for the next air.
    """
    part = np.maximum(state.tank - burner.headless, 0.0) / burner.head_volume
    stands = np.maximum(np.minimum(burner.column * part, state.tank) - state.fallen, 0.0)
    room = burner.sump_area * (np.minimum(burner.mouth, met.lip) - state.level)
    falls = np.where(when, np.minimum(stands, np.maximum(room, 0.0)), 0.0)
    level = state.level + falls / burner.sump_area
    return state._replace(
        level=level,
        tank=state.tank - falls,
        fallen=state.fallen + falls + np.where(when, TINY, 0.0),
        sealed=np.where(when, stands - falls > SMALLEST_FEED, state.sealed),
        high=np.maximum(state.high, level),
    )


def feed(burner: Burner, met: Met, state: State) -> tuple[Met, State]:
    """Feed the open burners until covered, a wick out, the tank empty or the step over.

    Flow through the valve: q/q0 = x from v x + (1 - v) x^2 = H/H0, v the viscous share of the
    valve's loss at the head H0 for which q0 is stated; dq/dt = dq/dH (-q/tank_area).

    The end of a feed belongs to what the tank then holds, which is taken from a feed that ends
    by what it holds now: the overshoot is a thousandth of it, and changes by a few parts in a
    hundred.

    A feed also ends where the flow has fallen by a twentieth, so that its fall may be taken as
    steady in between: exact for a valve that loses by the square, else the volume is at most
    0.04 % low where the flow does fall by so much, and 0.01 % in a common feed.
    """
    tank, level, area, burn = state.tank, state.level, burner.sump_area, met.burn
    left = np.where(state.sealed, 0.0, state.left) if state.sealed.any() else state.left
    if np.all(met.is_shut):
        rate = falling = np.zeros(level.shape)
        net, fed, time, top = -burn, np.zeros(level.shape), left, level
        covers = rate + np.inf
    else:
        over = tank - burner.headless
        usable = np.minimum(tank, over)
        part = np.maximum(over, 0.0, out=over)
        part /= burner.head_volume
        root = burner.inertial_share * part
        root += burner.share_squared
        np.sqrt(root, out=root)
        rate = met.full_flow * part
        rate /= burner.viscous_share + root
        falling = met.steepness / root
        steady = STEADY / falling
        falling *= rate
        dry = usable <= EMPTY
        if dry.any():
            rate, falling = np.where(dry, 0.0, rate), np.where(dry, 0.0, falling)
            steady = np.where(dry, np.inf, steady)
        net = rate - burn

        overshoot = burner.overshoot
        if not state.filled.all():
            overshoot = np.where(state.filled, overshoot, burner.first_overshoot)
        later = upper_edge(burner, tank, overshoot, part)
        later -= level
        np.maximum(later, 0.0, out=later)
        later *= area
        later *= rate
        later /= np.maximum(net, 0.1 * rate + TINY)
        np.subtract(tank, later, out=later)
        top = upper_edge(burner, np.maximum(later, 0.0, out=later), overshoot)
        wanted = top - level
        wanted *= area
        np.maximum(wanted, SMALLEST_FEED, out=wanted)
        # A mouth that is above the lip is never covered: all that comes runs away.
        covers = rise_time(wanted, net, falling, met.coverable)
        time = np.minimum(covers, steady, out=steady)
        np.minimum(time, left, out=time)
        fed = _given(rate, falling, time)
        # The flow goes on falling, so a tank that runs empty before has given too much by then.
        rows = np.flatnonzero(fed > usable)
        if rows.size:
            empties = rise_time(usable[rows], rate[rows], falling[rows])
            time[rows] = np.minimum(time[rows], empties)
            fed = _given(rate, falling, time)
    reached = burn * time
    np.subtract(fed, reached, out=reached)
    reached /= area
    reached += level

    low = None
    # The level rises before it falls, so it is above an air leak throughout if at both ends.
    rows = np.flatnonzero(np.minimum(level, reached) < met.drained)
    if rows.size:
        time = np.array(time)
        rows, low = _out_while_fed(burner, met, state, rows, time, net, falling)
    if rows.size:
        fed = _given(rate, falling, time)
        reached = level + (fed - burn * time) / area

    kept = np.minimum(reached, met.lip)
    spilled = state.spilled
    if (reached > met.lip).any():
        spilled = spilled + area * (reached - kept)
    # Unspilled, the level ends at the top.
    high = np.minimum(reached, top)
    np.maximum(state.high, high, out=high)
    turning = np.flatnonzero((net > 0.0) & (falling * time > net))
    if turning.size:
        gained = 0.5 * net[turning] ** 2 / falling[turning] / chosen(area, turning)
        peak = np.minimum(level[turning] + gained, np.maximum(top[turning], level[turning]))
        high[turning] = np.maximum(high[turning], peak)
    lowest = np.minimum(state.low, kept)
    if low is not None:
        lowest[rows] = np.minimum(lowest[rows], np.minimum(low, kept[rows]))
    covered = covers <= time
    np.subtract(tank, fed, out=fed)
    state = state._replace(
        level=kept,
        tank=np.maximum(fed, 0.0, out=fed),
        left=state.left - time,
        sealed=state.sealed | covered,
        filled=state.filled | covered,
        spilled=spilled,
        high=high,
        low=lowest,
    )
    return go_out(burner, met, state, rows) if rows.size else (met, state)


def _out_while_fed(
    burner: Burner,
    met: Met,
    state: State,
    rows: Rows,
    time: Floats,
    net: Floats,
    falling: Floats,
) -> tuple[Rows, Floats]:
    """Tell which wicks go out before `time`, and shorten that; and how low it would have come.

    Had they burnt on: as deep as the step's end, fed as when the wick went out; or, if that was
    enough to rise, as deep as every later draw.
    """
    area, level, falls = chosen(burner.sump_area, rows), state.level[rows], falling[rows]
    dries = fall_time(area * (level - chosen(met.drained, rows)), net[rows], falls)
    out = dries < time[rows]
    rows, dries, falls = rows[out], dries[out], falls[out]
    time[rows] = dries
    area, level, spare = chosen(burner.sump_area, rows), state.level[rows], net[rows]
    reached = level + dries * (spare - 0.5 * falls * dries) / area
    kept = np.minimum(reached, chosen(met.lip, rows))
    deeper = np.maximum(falls * dries - spare, 0.0) * (state.left[rows] - dries) / area
    low = np.where(deeper > 0.0, kept - deeper, chosen(burner.lower_edge, rows))
    return rows, np.maximum(low, 0.0)


def draw(burner: Burner, met: Met, state: State) -> tuple[Met, State, NDArray[np.bool_]]:
    """Let the wicks draw down the sealed burners until air enters, a wick goes out or the end.

    Also gives which burners let air in.
    """
    sealed, level, left = state.sealed, state.level, state.left
    enters = np.maximum(level - burner.lower_edge, 0.0) * met.minutes_per_mm
    time = np.minimum(np.where(sealed, left, 0.0), enters)
    reached = level - met.fall * time
    low = np.minimum(state.low, np.maximum(reached, 0.0))
    entered = sealed & (enters <= left) & (left > 0.0)
    rows = np.flatnonzero(sealed & (reached < met.drained))
    if rows.size:
        over = np.maximum(level[rows] - chosen(met.drained, rows), 0.0)
        dries = over * chosen(met.minutes_per_mm, rows)
        out = dries < time[rows]
        rows = rows[out]
        time[rows] = dries[out]
        reached[rows] = level[rows] - over[out]
        entered[rows] = False
    state = state._replace(
        level=reached,
        left=left - time,
        sealed=sealed ^ entered,
        feeds=state.feeds + entered,
        low=low,
    )
    falls = entered & met.is_shut
    if falls.any():
        state = let_column_fall(burner, met, state, falls)
    if rows.size:
        met, state = go_out(burner, met, state, rows)
    return met, state, entered


def go_out(burner: Burner, met: Met, state: State, rows: Rows) -> tuple[Met, State]:
    """Put out the wicks in these rows: from here on nothing burns, and levels are noted anew."""
    lip = chosen(met.unlit_lip, rows)
    met = met._replace(
        burn=put(met.burn, rows, 0.0),
        fall=put(met.fall, rows, 0.0),
        minutes_per_mm=put(met.minutes_per_mm, rows, chosen(burner.sump_area, rows) / TINY),
        lip=put(met.lip, rows, lip),
        drained=put(met.drained, rows, -np.inf),
        coverable=put(met.coverable, rows, lip >= chosen(burner.mouth, rows)),
    )
    state = state._replace(
        out=put(state.out, rows, True),
        lit_left=put(state.lit_left, rows, state.left[rows]),
        lit_high=put(state.lit_high, rows, state.high[rows]),
        lit_low=put(state.lit_low, rows, state.low[rows]),
        high=put(state.high, rows, state.level[rows]),
        low=put(state.low, rows, state.level[rows]),
    )
    return met, state
