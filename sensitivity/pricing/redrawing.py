"""Where nominals are best drawn, together: found on one sample at moments taken at random.

The best moves of one nominal, of two and so on, on margins that are straight in the nominals, are
the starts; from there they are moved on the model itself, by smaller and smaller steps, to settings
that the builder can have. Then moves that gain next to nothing are given up, and what is left is
drawn nearer to the drawing while next to nothing is lost: never the middle of a level stretch.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.pricing.allocation_search import limit_shares
from sensitivity.pricing.hurting import danger
from sensitivity.pricing.linear_margins import Floats, bounds_of, ladder, linear_margins
from sensitivity.pricing.nominals import Nominal
from sensitivity.pricing.variants import (
    Variant,
    VariantPasses,
    at_setting,
    run_variants,
)

LEAST = 0.003
"""Share of moments that a move must gain beside the others to be kept."""
_FRACTIONS = (0.15, 0.04)
"""Steps tried on the model, as shares of a range; the finest that can be set is tried last."""
_SWEEPS = 2
PARTS = 12
"""Parts of a move that are tried at once, twice over."""
LOOKED_AT = 10
"""Settings looked at on either side of where a nominal is drawn."""

State = tuple[float, ...]
"""Where each nominal is drawn, in their order."""


@dataclass
class Moves:
    """Joint moves of some nominals, judged on one sample; what was tried is not tried again.

    Attributes
    ----------
    plan : Plan
    nominals : tuple of Nominal
        With ranges.
    options : RunOptions
    known : dict
        Share of moments kept, and the danger, by state.
    """

    plan: Plan
    nominals: tuple[Nominal, ...]
    options: RunOptions
    known: dict[State, tuple[float, float]] = field(default_factory=dict)

    @property
    def drawn(self) -> State:
        """All as drawn."""
        return tuple(each.item.nominal for each in self.nominals)

    def variant(self, state: State) -> Variant:
        """What a state changes."""
        return variant_of(self.nominals, state)

    def kept(self, states: Sequence[State]) -> list[float]:
        """Share of moments kept by each state; below nothing where a ceiling forbids it."""
        fresh = [each for each in dict.fromkeys((self.drawn, *states)) if each not in self.known]
        if fresh:
            passes = self.passes(fresh)
            for place, state in enumerate(fresh, start=1):
                shares = limit_shares(self.plan, passes, place)
                value = passes.overall(place).value
                self.known[state] = value, danger(self.plan.limits, shares)
        most = max(1.0, self.known[self.drawn][1])
        told = [self.known[each] for each in states]
        return [value if risk <= most else value - 1.0 - risk for value, risk in told]

    def passes(self, states: Sequence[State]) -> VariantPasses:
        """Count the passes of states, after the design as stated."""
        return run_variants(self.plan, [self.variant(s) for s in states], options=self.options)

    def moved(self, state: State) -> list[int]:
        """Places of the nominals that a state moves."""
        return [place for place, (a, b) in enumerate(zip(state, self.drawn, strict=True)) if a != b]


def variant_of(nominals: Sequence[Nominal], state: State) -> Variant:
    """Give each nominal that a state moves its spread there."""
    return {
        each.name: at_setting(each.item, value)
        for each, value in zip(nominals, state, strict=True)
        if value != each.item.nominal
    }


def best_states(moves: Moves) -> list[State]:
    """Find the joint moves that keep most often at moments: of one nominal, of two, and so on.

    Each at settings that can be had; a rung that keeps no better than the one before is left out.
    """
    linear = linear_margins(moves.plan, moves.nominals, options=moves.options)
    found: list[State] = []
    best = moves.kept([moves.drawn])[0]
    for rung in ladder(linear, *bounds_of(moves.nominals), LEAST):
        free = [place for place, move in enumerate(rung) if move != 0.0]
        state = _polished(moves, _settled(moves, rung, found), free)
        (kept,) = moves.kept([state])
        if kept >= best + LEAST:
            best = kept
            found.append(state)
    return found


def _settled(moves: Moves, rung: Floats, before: Sequence[State]) -> State:
    """Start from a rung, a part of it, or the rung before it: whatever keeps most often."""
    starts = [moves.drawn, *before[-1:]]
    for share in (1.0, 0.5, 0.25):
        starts.append(
            tuple(
                each.nearest(each.item.nominal + share * move * each.width)
                for each, move in zip(moves.nominals, rung, strict=True)
            )
        )
    kept = moves.kept(starts)
    return starts[max(range(len(starts)), key=lambda place: kept[place])]


def _polished(moves: Moves, state: State, free: Sequence[int]) -> State:
    """Move some nominals on the model itself, by smaller and smaller steps."""
    for fraction in (*_FRACTIONS, 0.0):
        for _ in range(_SWEEPS):
            further = _one_round(moves, state, free, fraction)
            if further == state:
                break
            state = further
    return state


def _one_round(moves: Moves, state: State, free: Sequence[int], fraction: float) -> State:
    """Move each nominal by a share of its range, both ways; then all that gain, one after another.

    All of a round are counted at once: a sample is dearer to draw than a few more variants.
    """
    steps: list[tuple[int, State]] = []
    for place in free:
        settings = moves.nominals[place].settings
        at = settings.index(state[place])
        stride = max(1, round(fraction * (len(settings) - 1)))
        steps += [
            (place, with_setting(state, place, settings[to]))
            for to in (at - stride, at + stride)
            if 0 <= to < len(settings)
        ]
    now, *kept = moves.kept([state, *(tried for _, tried in steps)])
    order = sorted(range(len(steps)), key=lambda n: -kept[n])
    together, taken = [state], set()
    for n in order:
        place, tried = steps[n]
        if kept[n] > now and place not in taken:
            taken.add(place)
            together.append(with_setting(together[-1], place, tried[place]))
    values = moves.kept(together)
    return together[max(range(len(together)), key=lambda n: values[n])]


def pruned(moves: Moves, state: State, least: float = LEAST) -> State:
    """Give up the moves that gain next to nothing beside the others, the least first."""
    while places := moves.moved(state):
        undone = [with_setting(state, place, moves.drawn[place]) for place in places]
        now, *without = moves.kept([state, *undone])
        most = max(range(len(without)), key=lambda n: without[n])
        if now - without[most] >= least:
            return state
        state = undone[most]
    return state


def nearest(moves: Moves, state: State, lost: float) -> State:
    """Draw a joint move nearer to the drawing, while no more than ``lost`` of the moments is lost.

    First all of it together, then one nominal after another, the longest move first.
    """
    (wanted,) = moves.kept([state])
    wanted -= lost
    state = _least(moves, lambda part: part_of(moves.nominals, state, part), wanted)
    order = sorted(moves.moved(state), key=lambda place: -_length(moves, state, place))
    for place in order if len(order) > 1 else []:
        each, whole = moves.nominals[place], state

        def nearer(part: float, each: Nominal = each, whole: State = whole) -> State:
            at = whole[moves.nominals.index(each)]
            value = each.nearest(each.item.nominal + part * (at - each.item.nominal))
            return with_setting(whole, moves.nominals.index(each), value)

        state = _least(moves, nearer, wanted)
    return state


def _least(moves: Moves, at: Callable[[float], State], wanted: float) -> State:
    """Find the least part of the way that keeps as often as is wanted; all of it, if none does."""
    low, high = 0.0, 1.0
    for _ in range(2):
        parts = [low + (high - low) * n / PARTS for n in range(PARTS + 1)]
        kept = moves.kept([at(part) for part in parts])
        enough = next((n for n, value in enumerate(kept) if value >= wanted), PARTS)
        low, high = parts[max(enough - 1, 0)], parts[enough]
    return at(high)


def part_of(nominals: Sequence[Nominal], state: State, part: float) -> State:
    """Take a part of a joint move, at settings that can be had."""
    return tuple(
        each.nearest(each.item.nominal + part * (value - each.item.nominal))
        for each, value in zip(nominals, state, strict=True)
    )


def _length(moves: Moves, state: State, place: int) -> float:
    each = moves.nominals[place]
    return abs(state[place] - each.item.nominal) / each.width


def with_setting(state: State, place: int, value: float) -> State:
    """Change where one nominal is drawn."""
    return (*state[:place], value, *state[place + 1 :])


def level_about(moves: Moves, state: State, lost: float) -> dict[int, tuple[float, float]]:
    """Find between which settings each moved nominal keeps level with a state, or better.

    All else as in the state; level is within ``lost`` of the moments that it keeps. At most
    ``LOOKED_AT`` settings on either side are looked at, the end of the range among them.
    """
    places = moves.moved(state)
    rows: dict[int, list[float]] = {}
    for place in places:
        settings = moves.nominals[place].settings
        at = settings.index(state[place])
        below, above = settings[:at], settings[at + 1 :]
        rows[place] = [*_thinned(below[::-1])[::-1], state[place], *_thinned(above)]
    tried = [with_setting(state, place, value) for place in places for value in rows[place]]
    (now,) = moves.kept([state])
    moves.kept(tried)
    found = {}
    for place in places:
        row = rows[place]
        kept = moves.kept([with_setting(state, place, value) for value in row])
        first = last = row.index(state[place])
        while first > 0 and kept[first - 1] >= now - lost:
            first -= 1
        while last < len(row) - 1 and kept[last + 1] >= now - lost:
            last += 1
        found[place] = row[first], row[last]
    return found


def _thinned(values: Sequence[float]) -> list[float]:
    """Pick values evenly, the first and the last among them."""
    if len(values) <= LOOKED_AT:
        return list(values)
    return [values[round(n * (len(values) - 1) / (LOOKED_AT - 1))] for n in range(LOOKED_AT)]
