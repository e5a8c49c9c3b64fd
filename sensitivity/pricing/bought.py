"""What it costs to draw a nominal at a size that can be bought, where another would do better."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor

from sensitivity.engine.intervals import Estimate, estimate
from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.pricing.nominals import Nominal, round_step
from sensitivity.pricing.redrawing import Moves, State, variant_of, with_setting
from sensitivity.pricing.variants import run_variants

PARTS = 10
"""Round values tried, about, from one size to the next."""


@dataclass(frozen=True, slots=True)
class Bought:
    """A nominal drawn at a size that can be bought.

    Attributes
    ----------
    nominal : Nominal
    size : float
        At which it is drawn, in its unit.
    wanted : float
        Where it would keep the most moments, from the size below to the one above; the size itself
        where nothing tried does better.
    cost : Estimate
        Share of moments lost at the size, on a fresh sample.
    """

    nominal: Nominal
    size: float
    wanted: float
    cost: Estimate


def bought_at(
    moves: Moves, state: State, places: Sequence[int], fresh: Plan, *, options: RunOptions
) -> tuple[Bought, ...]:
    """Price the sizes of a joint move, each against the best value about it, all else as moved.

    Parameters
    ----------
    moves : Moves
        On whose sample the best values are found.
    state : tuple of float
        The joint move.
    places : sequence of int
        Nominals that it moves; of them those that have sizes are told of.
    fresh : Plan
        A sample that the search has not seen.
    options : RunOptions
        How it is computed.
    """
    wanted: dict[int, float] = {}
    for place in places:
        if tries := _between(moves.nominals[place], state[place]):
            values = (state[place], *tries)
            kept = moves.kept([with_setting(state, place, value) for value in values])
            wanted[place] = values[kept.index(max(kept))]
    if not wanted:
        return ()
    states = [state, *(with_setting(state, place, value) for place, value in wanted.items())]
    passes = run_variants(
        fresh, [variant_of(moves.nominals, each) for each in states], options=options
    )
    shares = passes.together / passes.rows
    return tuple(
        Bought(
            nominal=moves.nominals[place],
            size=state[place],
            wanted=value,
            cost=estimate(shares[:, column] - shares[:, 1], passes.confidence),
        )
        for column, (place, value) in enumerate(wanted.items(), start=2)
    )


def _between(nominal: Nominal, size: float) -> tuple[float, ...]:
    """Round values between the sizes below and above one; none where no sizes are stated."""
    stated = nominal.item.redraw
    sizes = stated.sizes if stated is not None else ()
    at = bisect_left(sizes, size)
    if at >= len(sizes) or sizes[at] != size:
        return ()
    low, high = sizes[max(at - 1, 0)], sizes[min(at + 1, len(sizes) - 1)]
    step = round_step(0.5 * (high - low) / PARTS)
    counts = range(floor(low / step) + 1, ceil(high / step))
    values = (float(f"{count * step:.12g}") for count in counts)
    return tuple(value for value in values if low < value < high and value != size)
