"""Between which figures the results of a feed surely lie, at a tenth of the price of a run.

Whether a run keeps its limits wants no run where fuel that is conserved, and a valve that passes
more than is burnt, decide it already. As in `models.feed_events`, levels are those of the sump, mm,
and fuel is in ml; each bound holds for a run as it is computed, its strides included.
"""

import inspect
from functools import cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.arrays import Array
from models.feed_cycle import feed_cycle
from models.feed_events import STEADY, TINY, Burner
from models.feed_run import MOST_ROUNDS, Condition, Wicks
from models.feed_set_out import Feed, SetOut, as_it_stands

Flags = NDArray[np.bool_] | bool
Pair = tuple[Array, Array]

SLACK = 1e-6
"""What every comparison leaves for rounding, in its unit."""

FADING = 1.01
"""Over the burn, the flow from which the level surely rises: a feed's flow is taken to fall
steadily between two of its rounds, which makes it at most 0.13 % too low."""

STEADILY = 1.002
"""Part by which the time of a tank's fall may differ for that; the volume is 0.04 % low at most."""

DRY = 1e-3
"""Fuel that a tank must hold, ml, to be sure to give some."""

ROUNDS_LEFT = 50
"""Rounds in a step that may come from elsewhere than whole feeds and a fading flow."""


class FeedCycleBounds(NamedTuple):
    """Lowest and highest that some results of `feed_cycle` can be, in its units.

    An infinite bound tells nothing. Where `answered` is true `feed_cycle` has an answer.
    """

    run_flood_margin: Pair
    run_starve_margin: Pair
    spilled_volume: Pair
    minutes_to_wick_out: Pair
    answered: Flags


class _SoFar(NamedTuple):
    """What is sure of a run at the end of a step, no fuel having been spilled."""

    clock: Array
    fuel: Array  # in tank and sump, had all wicks burnt on
    low: Array  # level that the sump was never below, while no wick could go out
    high: Array  # level that it is not above now
    filled: Flags  # the vacuum has surely been built
    may_be_out: Flags
    earliest: Array  # that a wick can go out
    latest: Array
    least: Array  # margin to the lip
    left: Array  # least level over that at which the pipe draws air, lit and the valve not shut
    slowing: Array  # rounds that a fading flow can ask for, times the root in its law


def feed_cycle_bounds(**arguments: Array) -> FeedCycleBounds:
    """Bounds of `feed_cycle`, whose arguments it takes by name, and in whose shapes it answers.

    They rest on four facts, the same for a run as for a burner:

    * tank + sump + burnt = filled while nothing is spilled;
    * the level never stands above the mouth by more than the overshoot of what the tank can hold;
    * while the valve passes more than is burnt the level is not below the one at which air enters.
      From then on the tank holds no more than at that flow, T = T0 (v x + (1 - v) x^2) over
      `headless`, x = burn/q0; so the sump holds at least the rest of the fuel;
    * a wick that burns at a time has left at least what is below its pipe.

    Nothing is told of a run in which fuel may be spilled, but that a wick is out by the time at
    which all fuel would have been burnt.
    """
    bound = _signature().bind(**arguments)
    bound.apply_defaults()
    with np.errstate(all="ignore"):
        return _bounds(as_it_stands(Feed(**bound.arguments)))


@cache
def _signature() -> inspect.Signature:
    return inspect.signature(feed_cycle)


def _bounds(feed: SetOut) -> FeedCycleBounds:
    burner, wicks, level, tank = feed.burner, feed.wicks, feed.level, feed.tank_fuel
    ceiling = _highest(burner, 0.0, burner.first_overshoot)  # the sump is never fuller
    at = _SoFar(
        clock=0.0,
        fuel=tank + burner.sump_area * level,
        low=np.minimum(level, burner.lower_edge),
        high=level,
        filled=False,
        may_be_out=False,
        earliest=np.inf,
        latest=np.inf,
        least=np.inf,
        left=np.inf,
        slowing=0.0,
    )
    start = at.fuel
    for step in feed.steps:
        at = _through(burner, wicks, step, ceiling, at)
    spills_none = at.least > SLACK
    end = np.maximum(at.fuel - burner.sump_area * ceiling, 0.0)
    gap = burner.sump_area * (burner.mouth - burner.lower_edge)
    rounds = (start - at.fuel) / gap + at.slowing / _root(burner, end)
    answered = feed.sound & spills_none & (gap > 0.0) & (rounds <= MOST_ROUNDS - ROUNDS_LEFT)
    told = at.left < np.inf
    return FeedCycleBounds(
        run_flood_margin=(np.where(answered, at.least - SLACK, -np.inf), np.inf),
        run_starve_margin=(np.where(answered & told, at.left - SLACK, -np.inf), np.inf),
        spilled_volume=(0.0, np.where(answered, 0.0, np.inf)),
        minutes_to_wick_out=(
            np.where(answered, np.minimum(at.earliest, at.clock), 0.0),
            np.minimum(at.latest, at.clock),
        ),
        answered=answered,
    )


def _through(burner: Burner, wicks: Wicks, step: Condition, ceiling: Array, at: _SoFar) -> _SoFar:
    """Go through a step, from what is sure before it to what is sure after it."""
    area, burn, opens = burner.sump_area, step.burn_rate, np.asarray(step.valve_opening) > 0.0
    lit = np.asarray(burn) > 0.0
    spent = burn * step.duration
    fuel = at.fuel - spent
    rise = _either(lit, step.shift - step.loss, step.shift)
    draws = np.maximum(wicks.drained - rise, wicks.outlet - step.outlet_shift)
    draws = np.maximum(draws, 0.0)

    # How high it can stand.
    top: Array = burner.mouth
    filled = at.filled
    if opens.any():
        overshoot = _either(filled, burner.overshoot, burner.first_overshoot)
        least = np.maximum(fuel - area * ceiling, 0.0)
        top = _either(opens, _highest(burner, least, overshoot), top)
        if not np.all(filled):
            # Else it would have stood higher than it can.
            gained = (_flow(burner, least, step.full_flow) / FADING - burn) * step.duration
            wanted = area * (np.maximum(at.high, top) - at.low) + SLACK
            filled = filled | (opens & (gained > wanted))
    seen = np.maximum(at.high, top)

    # How far it can fall, and when it can reach and when it must have reached the pipe.
    low: Array = at.low
    kept: Array = 0.0
    if opens.any():
        kept = _fades_at(burner, burn, step.full_flow)
        low = np.minimum(low, (fuel - kept) / area)
    if not opens.all():
        low = _either(opens, low, at.low - spent / area)
    verge = draws + SLACK
    above = low > verge  # so it was before
    may_be_out, earliest, latest = at.may_be_out, at.earliest, at.latest
    if not (above | np.logical_not(lit)).all():
        lasting = _either(opens, at.fuel - kept - area * draws, area * (at.low - draws))
        was_above = at.low > verge
        minutes = np.where(was_above, np.maximum(lasting, 0.0), 0.0) / (burn + TINY)
        minutes = np.minimum(np.maximum(minutes - SLACK, 0.0), step.duration)
        can = lit & np.logical_not(above | may_be_out)
        all_gone = np.maximum((at.fuel - area * draws) / (burn + TINY), 0.0) + SLACK
        gone = np.where(lit & (all_gone < step.duration), at.clock + all_gone, np.inf)
        open_yet = can & opens & was_above & (gone == np.inf)
        if open_yet.any():
            dry = np.minimum(at.least, wicks.lip - rise - seen) > SLACK
            holds, fails = _as_it_fades(burner, step, at, (seen, kept, draws), open_yet & dry)
            can = can & np.logical_not(holds)
            low = np.where(holds, verge, low)
            end = at.clock + step.duration - 0.5 * SLACK * area / (burn + TINY)
            gone = np.where(fails, end, gone)
        earliest = np.where(can, at.clock + minutes, earliest)
        may_be_out = may_be_out | can
        latest = np.minimum(latest, gone)

    drawn = lit & np.logical_not(may_be_out)
    if drawn.any():
        drawn = drawn & (spent > area * (seen - burner.lower_edge) + SLACK)
    rises = rise
    if np.any(may_be_out):
        rises = np.where(may_be_out, np.maximum(rise, step.shift), rise)
    left = at.left
    if (lit & opens).any():
        least_left = np.where(may_be_out, -np.inf, low - draws)
        left = _either(lit & opens, np.minimum(left, least_left), left)
    return _SoFar(
        clock=at.clock + step.duration,
        fuel=fuel,
        low=low,
        high=_either(drawn, top, seen),
        filled=filled,
        may_be_out=may_be_out,
        earliest=earliest,
        latest=latest,
        least=np.minimum(at.least, wicks.lip - rises - seen),
        left=left,
        slowing=at.slowing + step.duration * step.full_flow / burner.head_volume / STEADY,
    )


def _as_it_fades(
    burner: Burner,
    step: Condition,
    at: _SoFar,
    levels: tuple[Array, Array, Array],
    asked: NDArray[np.bool_],
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Tell in which burners the level surely is over the pipe, or not, where a step ends.

    `levels` are the highest that it can be, the fuel in the tank at which the flow has faded to the
    burn, and the level at which the pipe draws air; only those are worked out that are `asked`
    for, which have spilled nothing. From the flow's law a tank that feeds falls from x0 to x1 in
    (H0 A/q0) (v ln(x0/x1) + 2 (1 - v) (x0 - x1)), exactly. It has reached the fading flow no later
    than with the sump at its lowest, and no sooner than with it at its highest; from then on it
    falls no faster than this, and where the level stays above the pipe, for want of a mouth
    that is shut, no more slowly than at the burn.
    """
    cells: Any = np.nonzero(asked) if asked.ndim else asked

    def of(value: Array) -> Array:
        return np.broadcast_to(value, asked.shape)[cells] if np.ndim(value) else value

    burn, lasts, flow = of(step.burn_rate), of(step.duration), of(step.full_flow)
    fuel, low = of(at.fuel), of(at.low)
    seen, kept, draws = (of(value) for value in levels)
    some = Burner(*(of(value) for value in burner))
    area, end, least = some.sump_area, fuel - burn * lasts, np.maximum(some.headless, 0.0)

    # All at the end of the step, for the level only falls by then.
    most = end - area * (draws + SLACK)  # in the tank, or the sump holds too little
    tank = fuel - area * low
    time = np.maximum(tank - kept, 0.0) / burn
    time = time + STEADILY * FADING * _time_to_fall(some, flow, np.minimum(tank, kept), most)
    enough = (most > least + DRY) & (time <= lasts)

    most = end - area * (draws - SLACK)
    tank = fuel - area * seen
    wait = np.maximum(tank - kept, 0.0) / burn
    tank = np.maximum(np.minimum(tank, kept), 0.0)
    time = wait + _time_to_fall(some, flow, tank, np.maximum(most, least)) / STEADILY
    short = (tank > most) & (wait < lasts) & ((most < least) | (time > lasts))

    holds, fails = np.zeros(asked.shape, dtype=np.bool_), np.zeros(asked.shape, dtype=np.bool_)
    holds[cells], fails[cells] = enough, short
    return holds, fails


def _time_to_fall(burner: Burner, full_flow: Array, start: Array, end: Array) -> Array:
    """Time in which a tank that feeds all along falls from holding so much to holding so much."""
    share = burner.viscous_share
    first, last = (
        2.0 * part / (share + np.sqrt(burner.inertial_share * part + burner.share_squared))
        for part in (_part(burner, start), _part(burner, end))
    )
    fallen = share * np.log((first + TINY) / (last + TINY)) + 2.0 * (1.0 - share) * (first - last)
    time: Array = burner.head_volume / full_flow * fallen
    return time


def _either(which: Flags, one: Array, other: Array) -> Array:
    """Take one where it is true and the other elsewhere; no pass where it is one of them alone."""
    if np.all(which):
        return one
    chosen: Array = np.where(which, one, other) if np.any(which) else other
    return chosen


def _part(burner: Burner, tank: Array) -> Array:
    """Part of the full head at which a tank stands that holds so much."""
    part: Array = np.maximum(tank - burner.headless, 0.0) / burner.head_volume
    return part


def _root(burner: Burner, tank: Array) -> Array:
    root: Array = np.sqrt(burner.inertial_share * _part(burner, tank) + burner.share_squared)
    return root


def _flow(burner: Burner, tank: Array, full_flow: Array) -> Array:
    """Flow through the valve, as in `feed_events.feed`."""
    part = _part(burner, tank)
    root = np.sqrt(burner.inertial_share * part + burner.share_squared)
    return 2.0 * full_flow * part / (burner.viscous_share + root)


def _fades_at(burner: Burner, burn: Array, full_flow: Array) -> Array:
    """Fuel in the tank down to which the valve passes more than is burnt, by its law of loss."""
    share = FADING * burn / (full_flow + TINY)
    part = share * (burner.viscous_share + (1.0 - burner.viscous_share) * share)
    kept = burner.headless + burner.head_volume * part
    fades: Array = np.maximum(kept, np.maximum(burner.headless, 0.0) + DRY)
    return fades


def _highest(burner: Burner, least: Array, overshoot: Array) -> Array:
    """Highest level that shuts the mouth and rebuilds the vacuum, of a tank that holds no less.

    A parabola of what it holds, as in `feed_events.upper_edge`: highest at its vertex or there.
    """
    fullest = np.maximum(0.5 * (burner.tank_volume + burner.headless), least)
    part = _part(burner, fullest)
    level: Array = burner.mouth + overshoot * (burner.tank_volume - fullest) * part
    return level
