"""Whole rows of feeds taken in one stride."""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.arrays import Array
from models.feed_events import (
    SMALLEST_FEED,
    TINY,
    Burner,
    Floats,
    Met,
    Rows,
    State,
    put,
    some,
    upper_edge,
)

SLOWEST = 3.0
"""Feeds are skipped while the flow exceeds the burn by so many times what just covers the mouth.

Nearer to that limit they change too much from one to the next.
"""

WORTH_A_LOOK = 0.5
"""Feeds that must fit into a step for a stride to be worked out: it takes whole ones only."""

CROWDED = 0.85
"""Share of the burners that may take a stride from which on no others are sorted out."""

# Gauss and Legendre's rule of three points on 0..1.
_POINTS = (0.1127016653792583, 0.5, 0.8872983346207417)
_WEIGHTS = (5.0 / 18.0, 8.0 / 18.0, 5.0 / 18.0)


class _Row(NamedTuple):
    """What a stride follows from, of the burners that may take one; more may be among them."""

    able: NDArray[np.bool_]
    home: Rows  # their places in the state
    burner: Burner
    burn: Floats
    lip: Floats
    full_flow: Array  # twice that of the valve at the full head
    steepness: Array
    tank: Floats
    left: Floats
    taken: Any = 0.0  # by the first feed and draw
    reach: Any = 0.0  # by feeds like the first, in the rest of the step
    room: Any = 0.0  # most that a stride may take


class _One(NamedTuple):
    """One feed and draw: what the tank loses, what is spilled of it, how much flow just covers."""

    taken: Floats
    spilled: Array
    covering: Floats


def skip_feeds(burner: Burner, met: Met, state: State, entered: NDArray[np.bool_]) -> State:
    """Take in one stride all whole feeds that still fit into the step, where air has `entered`.

    Between two entries of air the sump gains nothing, so the tank loses what is burnt and
    spilled: D(x), x what it has lost already. The number of feeds n(x) obeys
    n(x + D(x)) = n(x) + 1, hence n = integral of dx/D + ln(D(x)/D(0))/2 for D that
    changes little from feed to feed (Euler and Maclaurin). The fuel is conserved exactly;
    the time of the last entry is right to some thousandths of a feed.
    """
    able = _may_stride(burner, met, state, entered)
    if not able.any():
        return state
    row = _sorted_out(
        _Row(
            able=able,
            home=np.arange(able.size),
            burner=burner._replace(first_overshoot=0.0, column=0.0),  # no stride needs them
            burn=met.burn,
            lip=met.lip,
            full_flow=met.full_flow,
            steepness=met.steepness,
            tank=state.tank,
            left=state.left,
        )
    )
    row = _first_look(row)
    return _stride(_sorted_out(row), state) if row.able.any() else state


def _sorted_out(row: _Row) -> _Row:
    """Leave those that take no stride out, unless they are few."""
    if np.count_nonzero(row.able) >= CROWDED * row.able.size:
        return row
    return some(row, np.flatnonzero(row.able))


def _may_stride(
    burner: Burner, met: Met, state: State, entered: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Tell in which burners' rest of the step a feed may fit.

    A feed gives more than what the sump loses between its edges, and what is burnt meanwhile:
    that times q/(q - burn), q no more than the flow at the full head.
    """
    burn, flow = met.burn, 0.5 * met.full_flow
    gap = burner.sump_area * (burner.mouth - burner.lower_edge)
    able: NDArray[np.bool_] = state.left * burn * (flow - burn) >= WORTH_A_LOOK * gap * flow
    able &= entered & met.coverable & (burn > 0.0) & (flow > burn) & (state.left > 0.0)
    return able


def _one_feed(row: _Row, tank: Floats) -> _One:
    """Work out one feed from the lower edge, and the draw after it, of a tank that holds so much.

    As in `feed_events.feed`, for a tank that is not dry.
    """
    burner = row.burner
    part = tank - burner.headless
    np.maximum(part, 0.0, out=part)
    part /= burner.head_volume
    root = part * burner.inertial_share
    root += burner.share_squared
    np.sqrt(root, out=root)
    rate = row.full_flow * part
    rate /= burner.viscous_share + root
    net = rate - row.burn
    later = upper_edge(burner, tank, burner.overshoot, part)
    later -= burner.lower_edge
    later *= burner.sump_area
    later *= rate
    later /= np.maximum(net, 0.1 * rate + TINY)
    np.subtract(tank, later, out=later)
    top = upper_edge(burner, np.maximum(later, 0.0, out=later), burner.overshoot)
    spilled: Array = 0.0
    if (top > row.lip).any():
        spilled = burner.sump_area * np.maximum(top - row.lip, 0.0)
    wanted = np.subtract(top, burner.lower_edge, out=top)
    wanted *= burner.sump_area
    np.maximum(wanted, SMALLEST_FEED, out=wanted)
    # The flow that just covers the mouth: its square is 2 fall wanted.
    rate *= row.steepness
    rate /= root
    rate *= wanted
    rate *= 2.0
    covering = np.sqrt(rate, out=rate)
    np.maximum(net, np.maximum(covering, SMALLEST_FEED, out=root), out=net)
    excess = net - covering
    excess *= net + covering
    np.sqrt(excess, out=excess)
    excess += net
    taken = row.burn * wanted
    taken *= 2.0
    taken /= excess
    taken += wanted
    return _One(taken, spilled, covering)


def _first_look(row: _Row) -> _Row:
    """Work out the first feed, how far feeds like it would go, and whether any would fit."""
    burner, first = row.burner, _one_feed(row, row.tank)
    part = first.covering * (2.0 * SLOWEST)
    part += 2.0 * row.burn
    part /= row.full_flow
    part *= burner.viscous_share + (1.0 - burner.viscous_share) * part
    over = row.tank - burner.headless
    until_slow = over - burner.head_volume * part
    room = np.minimum(row.tank, over) - 2.0 * first.taken
    np.minimum(room, until_slow, out=room)
    np.maximum(room, 0.0, out=room)
    reach = row.left * row.burn
    if np.any(first.spilled):
        reach = reach * (first.taken / (first.taken - first.spilled))
    np.minimum(reach, room, out=reach)
    return row._replace(
        able=row.able & (reach >= WORTH_A_LOOK * first.taken),
        taken=first.taken,
        reach=reach,
        room=room,
    )


def _stride(row: _Row, state: State) -> State:
    """Go as far as whole feeds go."""
    burner, burn, start, left = row.burner, row.burn, row.tank, row.left
    taken, reach = row.taken, row.reach
    # The overshoot is a parabola of what the tank holds: highest at its vertex or an end.
    vertex = 0.5 * (burner.tank_volume + burner.headless)
    fullest = np.minimum(np.maximum(vertex, start - reach - 2.0 * taken), start)
    over = np.flatnonzero(upper_edge(burner, fullest, burner.overshoot) > row.lip)
    if over.size:
        # What is spilled comes on top of what is burnt: its share from half way there.
        flooding = some(row, over)
        one = _one_feed(flooding, flooding.tank - 0.5 * flooding.reach)
        reach = flooding.left * flooding.burn * (one.taken / (one.taken - one.spilled))
        reach = put(row.reach, over, np.minimum(reach, flooding.room))
    count, over_share = np.zeros(reach.shape), np.zeros(reach.shape)
    for point, weight in zip(_POINTS, _WEIGHTS, strict=True):
        one = _one_feed(row, start - point * reach)
        count += weight / one.taken
        if np.ndim(one.spilled):
            over_share += weight * one.spilled / one.taken
    last = _one_feed(row, start - reach).taken
    count *= reach
    count += 0.5 * np.log(last / taken)
    whole = np.floor(count)
    goes = row.able & (whole > 0.0)
    rest = count - whole
    steeper = 0.5 * (last - taken) / (reach + TINY) * (1.0 + rest)
    gone = np.where(goes, np.clip(reach - last * rest / (1.0 + steeper), 0.0, reach), 0.0)
    spilled = gone * over_share if over.size else 0.0
    time = np.where(goes, np.minimum((gone - spilled) / (burn + TINY), left), 0.0)
    if over.size:
        spilled = np.where(spilled > 0.0, gone - burn * time, 0.0)

    first_fed = start - np.minimum(taken, gone)
    highest = np.minimum(np.maximum(vertex, start - gone), first_fed)
    peak = upper_edge(burner, highest, burner.overshoot)
    after = {
        "tank": start - burn * time - spilled,
        "left": left - time,
        "feeds": state.feeds[row.home] + np.where(goes, whole, 0.0),
        "high": np.maximum(state.high[row.home], np.where(goes, peak, -np.inf)),
        "low": np.minimum(state.low[row.home], np.where(goes, burner.lower_edge, np.inf)),
    }
    if over.size:
        after["spilled"] = state.spilled[row.home] + spilled
    if row.home.size < state.left.size:
        after = {name: put(getattr(state, name), row.home, new) for name, new in after.items()}
    return state._replace(**after)
