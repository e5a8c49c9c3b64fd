"""A run through the steps of a schedule: rounds of feed and draw, whole rows of them at once."""

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.arrays import Array
from models.feed_events import (
    TINY,
    Burner,
    Flags,
    Floats,
    Met,
    State,
    chosen,
    draw,
    feed,
    let_column_fall,
    put,
    some,
)
from models.feed_strides import skip_feeds

MOST_ROUNDS = 300
"""Rounds of feed and draw in one step after which a burner is given up; most take two."""

CROWDED = 0.7
"""Share of the burners still under way below which the others are laid aside."""

Watch = Callable[[State, State], None]


class Condition(NamedTuple):
    """One step of the schedule."""

    duration: Array
    burn_rate: Array
    valve_opening: Array
    full_flow: Array  # through the valve, so far open, at the full head
    shift: Array  # of the level at the wicks over that at the mouth, at rest
    outlet_shift: Array  # of the level at the outlet
    loss: Array  # of level at the wicks, while lit


class Run(NamedTuple):
    """Where the fuel is between two steps, and what has happened so far."""

    sump_level: Floats
    tank_fuel: Floats
    sealed: NDArray[np.bool_]
    filled: NDArray[np.bool_]  # the vacuum has been built once
    fallen: Floats  # of the breather's column since the valve was shut; above 0 once it is
    wick_out: NDArray[np.bool_]
    unfinished: NDArray[np.bool_]  # given up in some step
    clock: Floats
    burnt: Floats
    spilled: Floats
    feeds: Floats
    lit_minutes: Floats
    out_minutes: Floats  # infinite while no wick has gone out
    highest: Floats  # at the wicks
    lowest: Floats
    lowest_fed: Floats  # lit, the valve not shut
    least: Floats  # left before the pipe draws air
    least_fed: Floats


class Wicks(NamedTuple):
    """Where the pipe and its wicks are."""

    lip: Array
    drained: Array  # level at the first wick at which the pipe draws air there
    outlet: Array  # level at the outlet at which it draws air there


class AtTheWicks(NamedTuple):
    """What a step means at the wicks."""

    burn: Floats
    rise: Floats  # of the level there over that of the sump
    draws: Floats  # level of the sump at which the pipe draws air; below 0 only once it is empty
    is_fed: Flags  # lit, the valve not shut


def at_the_wicks(wicks: Wicks, step: Condition, wick_out: Flags) -> AtTheWicks:
    """Burn rate, and the levels that matter; the pipe draws air at the wicks or at the outlet."""
    burn = np.where(wick_out, 0.0, step.burn_rate)
    lit = burn > 0.0
    rise = np.where(lit, step.shift - step.loss, step.shift)
    draws = np.maximum(wicks.drained - rise, wicks.outlet - step.outlet_shift)
    return AtTheWicks(burn, rise, draws, lit & (np.asarray(step.valve_opening) > 0.0))


def run_step(
    burner: Burner, wicks: Wicks, step: Condition, run: Run, watch: Watch | None = None
) -> Run:
    """Run through one step.

    With `watch`, which is shown the state before and after every event, no feed is skipped.
    """
    if not np.all(step.duration > 0.0):
        rows = np.flatnonzero(np.broadcast_to(step.duration > 0.0, run.clock.shape))
        if rows.size == 0:
            return run
        after = run_step(
            some(burner, rows), some(wicks, rows), some(step, rows), some(run, rows), watch
        )
        return Run(*(put(old, rows, new) for old, new in zip(run, after, strict=True)))
    there = at_the_wicks(wicks, step, run.wick_out)
    met = _meet(burner, wicks, step, there)
    state = _begin(burner, step, met, run)
    if watch:
        watch(state, state)
    met, state = _draw_and_skip(burner, met, state, watch)
    state = _rounds(burner, met, state, watch)
    return _end(wicks, step, there, run, state)


def _meet(burner: Burner, wicks: Wicks, step: Condition, there: AtTheWicks) -> Met:
    """Work out what holds through a step, as levels of the sump."""
    lip = wicks.lip - there.rise
    drained = np.maximum(there.draws, 0.0)
    if not np.all(there.burn > 0.0):
        drained = np.where(there.burn > 0.0, drained, -np.inf)
    return Met(
        burn=there.burn,
        fall=there.burn / burner.sump_area,
        minutes_per_mm=burner.sump_area / (there.burn + TINY),
        lip=lip,
        unlit_lip=wicks.lip - step.shift,
        drained=drained,
        coverable=lip >= burner.mouth,
        full_flow=2.0 * step.full_flow,
        steepness=step.full_flow / burner.head_volume,
        is_shut=np.asarray(step.valve_opening) <= 0.0,
    )


def _begin(burner: Burner, step: Condition, met: Met, run: Run) -> State:
    """Enter a step: what now stands over the lip runs away, once its height is noted."""
    level = run.sump_level
    kept = np.minimum(level, met.lip)
    # A valve that is opened again goes on with the vacuum where it was.
    opens = (run.fallen > 0.0) & np.logical_not(met.is_shut)
    state = State(
        level=kept,
        tank=run.tank_fuel,
        left=step.duration + np.zeros(level.shape),
        sealed=run.sealed & np.logical_not(opens),
        filled=run.filled,
        fallen=np.where(opens, 0.0, run.fallen),
        spilled=run.spilled + burner.sump_area * (level - kept),
        feeds=run.feeds,
        high=level,
        low=kept,
        out=run.wick_out,
        lit_left=run.clock,  # means nothing where no wick goes out
        lit_high=level,
        lit_low=level,
    )
    falls = np.logical_not(state.sealed) & state.filled & (state.fallen <= 0.0) & met.is_shut
    return let_column_fall(burner, met, state, falls) if falls.any() else state


def _rounds(burner: Burner, met: Met, state: State, watch: Watch | None) -> State:
    """Feed and draw in turn until nothing is left of the step."""
    for _ in range(MOST_ROUNDS if watch is None else 100 * MOST_ROUNDS):
        count = np.count_nonzero(state.left > 0.0)
        if count == 0:
            break
        if count < CROWDED * state.left.size and watch is None:
            # A few slow burners need not keep all the others waiting.
            busy = np.flatnonzero(state.left > 0.0)
            before = some(state, busy)
            after = _rounds(some(burner, busy), some(met, busy), before, None)
            merged: list[Any] = [
                old if new is same else put(old, busy, new)
                for old, new, same in zip(state, after, before, strict=True)
            ]
            return State(*merged)
        before = state
        met, state = feed(burner, met, state)
        if watch:
            watch(before, state)
        met, state = _draw_and_skip(burner, met, state, watch)
    return state


def _draw_and_skip(
    burner: Burner, met: Met, state: State, watch: Watch | None
) -> tuple[Met, State]:
    """Draw where the mouth is shut, and take what whole feeds still fit into the step."""
    if not (state.sealed & (state.left > 0.0)).any():
        return met, state
    before = state
    met, state, entered = draw(burner, met, state)
    if watch:
        watch(before, state)
    elif entered.any():
        state = skip_feeds(burner, met, state, entered)
    return met, state


def _end(wicks: Wicks, step: Condition, there: AtTheWicks, run: Run, state: State) -> Run:
    """Leave a step: what it has done, and its extremes at the wicks."""
    gone = np.flatnonzero(state.out & np.logical_not(run.wick_out))
    high, low, lit = state.high, state.low, step.duration
    out_minutes = run.out_minutes
    if gone.size:
        high = put(high, gone, state.lit_high[gone])
        low = put(low, gone, state.lit_low[gone])
        lit = put(np.broadcast_to(lit, high.shape), gone, 0.0)
        lit[gone] = chosen(step.duration, gone) - state.lit_left[gone]
        out_minutes = put(out_minutes, gone, run.clock[gone] + lit[gone])
    noted = _note(run, there, high, low)
    if gone.size:
        unlit = at_the_wicks(some(wicks, gone), some(step, gone), True)
        rest = _note(some(noted, gone), unlit, state.high[gone], state.low[gone])
        noted = Run(*(put(old, gone, new) for old, new in zip(noted, rest, strict=True)))
    return noted._replace(
        sump_level=state.level,
        tank_fuel=state.tank,
        sealed=state.sealed,
        filled=state.filled,
        fallen=state.fallen,
        wick_out=state.out,
        unfinished=run.unfinished | (state.left > 0.0),
        clock=run.clock + step.duration,
        burnt=run.burnt + there.burn * lit,
        spilled=state.spilled,
        feeds=state.feeds,
        lit_minutes=run.lit_minutes + np.where(there.burn > 0.0, lit, 0.0),
        out_minutes=out_minutes,
    )


def _note(run: Run, there: AtTheWicks, high: Floats, low: Floats) -> Run:
    """Keep the extremes of the level at the wicks and of the margin, from levels of the sump."""
    low, left = low + there.rise, low - there.draws
    run = run._replace(
        highest=np.maximum(run.highest, high + there.rise),
        lowest=np.minimum(run.lowest, low),
        least=np.minimum(run.least, left),
    )
    if not np.any(there.is_fed):
        return run
    if not np.all(there.is_fed):
        low, left = np.where(there.is_fed, low, np.inf), np.where(there.is_fed, left, np.inf)
    return run._replace(
        lowest_fed=np.minimum(run.lowest_fed, low), least_fed=np.minimum(run.least_fed, left)
    )


def at_start(level: Floats, tank_fuel: Floats) -> Run:
    """Begin a run: the tank at the pressure of the atmosphere, nothing yet burnt."""
    none = np.zeros(level.shape)
    no, never = none > 0.0, none + np.inf
    return Run(
        sump_level=level,
        tank_fuel=tank_fuel,
        sealed=no,
        filled=no,
        fallen=none,
        wick_out=no,
        unfinished=no,
        clock=none,
        burnt=none,
        spilled=none,
        feeds=none,
        lit_minutes=none,
        out_minutes=never,
        highest=-never,
        lowest=never,
        lowest_fed=never,
        least=never,
        least_fed=never,
    )
