"""Between which figures the results of a feed surely lie, at a tenth of the price of a run.

Whether a run keeps its limits wants no run where fuel that is conserved, and a valve that passes
more than is burnt, decide it already. As in `models.feed_events`, levels are those of the sump, mm,
and fuel is in ml; each bound holds for a run as it is computed, its strides included.
"""

import inspect
from functools import cache
from typing import NamedTuple

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

    # How far the level can fall, and when it can reach and when it must have reached the pipe.
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
        minutes = np.where(at.low > verge, np.maximum(lasting, 0.0), 0.0) / (burn + TINY)
        minutes = np.minimum(np.maximum(minutes - SLACK, 0.0), step.duration)
        can = lit & np.logical_not(above | may_be_out)
        earliest = np.where(can, at.clock + minutes, earliest)
        may_be_out = may_be_out | can
        all_gone = np.maximum((at.fuel - area * draws) / (burn + TINY), 0.0) + SLACK
        gone = np.where(lit & (all_gone < step.duration), at.clock + all_gone, np.inf)
        latest = np.minimum(latest, gone)

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
