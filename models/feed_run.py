"""A run through the steps of a schedule: rounds of feed and draw, whole rows of them at once."""

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.arrays import Array
from models.feed_events import (
    SMALLEST_FEED,
    TINY,
    Burner,
    Condition,
    Flags,
    Run,
    at_the_wicks,
    begin,
    draw,
    feed,
    feed_rate,
    let_pass,
    note,
    tank_head,
    top_of_feed,
    upper_edge,
)

MOST_ROUNDS = 300
"""Rounds of feed and draw in one step after which a burner is given up; most take two."""

SLOWEST = 3.0
"""Feeds are skipped while the flow exceeds the burn by so many times what just covers the mouth.

Nearer to that limit they change too much from one to the next.
"""

# Gauss and Legendre's rule of three points on 0..1.
_POINTS = (0.1127016653792583, 0.5, 0.8872983346207417)
_WEIGHTS = (5.0 / 18.0, 8.0 / 18.0, 5.0 / 18.0)


def run_step(
    burner: Burner, step: Condition, run: Run, watch: Callable[[Run, Run], None] | None = None
) -> Run:
    """Run through one step.

    With `watch`, which is shown the run before and after every event, no feed is skipped.
    """
    begun = begin(burner, step, run)
    if watch:
        watch(run, begun)
    return _rounds(burner, step, begun, watch)


def _rounds(
    burner: Burner, step: Condition, run: Run, watch: Callable[[Run, Run], None] | None
) -> Run:
    """Feed and draw in turn until nothing is left of the step."""
    for number in range(MOST_ROUNDS if watch is None else 100 * MOST_ROUNDS):
        busy = np.asarray(run.left > 0.0)
        count = np.count_nonzero(busy)
        if count == 0:
            break
        if number > 0 and 4 * count < busy.size and watch is None:
            # A few slow burners need not keep all the others waiting.
            slow = _rounds(
                Burner(*_some(burner, busy)),
                Condition(*_some(step, busy)),
                Run(*_some(run, busy)),
                None,
            )
            return Run(*(_put(old, new, busy) for old, new in zip(run, slow, strict=True)))
        fed = feed(burner, step, run)
        drawn, entered = draw(burner, step, fed)
        if watch:
            watch(run, fed)
            watch(fed, drawn)
        elif np.any(drawn.left > 0.0):
            drawn = skip_feeds(burner, step, drawn, entered)
        run = drawn
    return run


def skip_feeds(burner: Burner, step: Condition, run: Run, entered: Flags) -> Run:
    """Take in one stride all whole feeds that still fit into the step, where air has `entered`.

    Between two entries of air the sump gains nothing, so the tank loses what is burnt and
    spilled: D(x), x what it has lost already. The number of feeds n(x) obeys
    n(x + D(x)) = n(x) + 1, hence n = integral of dx/D + ln(D(x)/D(0))/2 for D that
    changes little from feed to feed (Euler and Maclaurin). The fuel is conserved exactly;
    the time of the last entry is right to some thousandths of a feed.
    """
    wicks = at_the_wicks(burner, step, run)
    burn, lip = wicks.burn, wicks.lip
    able = entered & (run.left > 0.0) & (burn > 0.0) & (lip >= burner.mouth)
    if not np.any(able):
        return run
    area, start = burner.sump_area, run.tank_fuel

    def one_feed(tank: Array) -> tuple[Array, Array, Array]:
        """Taken from the tank by one feed and draw; spilled of it; least rate for a stride."""
        rate, fall = feed_rate(burner, step.valve_opening, tank)
        top = top_of_feed(burner, tank, True, burner.lower_edge, rate, burn)
        wanted = np.maximum(area * (top - burner.lower_edge), SMALLEST_FEED)
        root = np.sqrt(2.0 * fall * wanted)
        net = np.maximum(rate - burn, np.maximum(root, SMALLEST_FEED))
        feeding = 2.0 * wanted / (net + np.sqrt((net - root) * (net + root)))
        return wanted + burn * feeding, area * np.maximum(top - lip, 0.0), burn + SLOWEST * root

    taken, over, least = one_feed(start)
    part = least / (burner.feed_capacity * step.valve_opening + TINY)
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
    steeper = 0.5 * (last - taken) / (reach + TINY) * (1.0 + rest)
    gone = np.where(some, np.clip(reach - last * rest / (1.0 + steeper), 0.0, reach), 0.0)
    over_all = gone * over_share
    time = np.where(some, np.minimum((gone - over_all) / (burn + TINY), run.left), 0.0)
    over_all = np.where(over_all > 0.0, gone - burn * time, 0.0)

    # The overshoot is a parabola of what the tank holds: highest at its vertex or an end.
    vertex = burner.tank_volume + burner.tank_fuel - burner.tank_area * burner.tank_head
    first_fed = start - np.minimum(taken, gone)
    peak = upper_edge(burner, np.minimum(np.maximum(0.5 * vertex, start - gone), first_fed))
    run = note(run, step, wicks, some, peak, burner.lower_edge)
    return let_pass(run, time, burn, False)._replace(
        tank_fuel=start - burn * time - over_all,
        spilled=run.spilled + over_all,
        feeds=run.feeds + whole,
    )


def _some(values: tuple[Any, ...], which: NDArray[np.bool_]) -> Iterator[Any]:
    """Of each value of a row of burners, those that are marked."""
    for value in values:
        yield np.broadcast_to(value, which.shape)[which] if np.ndim(value) else value


def _put(whole: Any, part: Any, which: NDArray[np.bool_]) -> Any:
    """Put the marked ones back."""
    result = np.array(np.broadcast_to(whole, which.shape))
    result[which] = part
    return result
