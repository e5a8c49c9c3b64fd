"""Which one nominal to draw elsewhere, told quickly: what ``run`` names and ``redraw`` finds.

Where ranges are stated a few settings of each are tried on few points, each nominal alone. Where
none is, small moves of all of them say whose range to ask for.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from sensitivity.engine.intervals import Estimate
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.pricing.allocation_search import limit_shares
from sensitivity.pricing.hurting import danger
from sensitivity.pricing.nominals import Nominal, nominals_of
from sensitivity.pricing.slopes import POINTS, TO_NAME, Slope, leading_nominals, with_points
from sensitivity.pricing.variants import Variant, at_setting, run_variants

SETTINGS = 7
"""Settings tried of each range, its ends among them."""
WORTH_IT = 0.01
"""Gain at moments from which a move is named, and less than which a nearer setting may lose."""


@dataclass(frozen=True, slots=True)
class OneMove:
    """One nominal drawn elsewhere, all else as it is.

    Attributes
    ----------
    nominal : Nominal
    to : float
        Where it would be drawn, in its unit: the nearest setting tried that does about as well as
        any.
    gain : Estimate
        Share of moments that keep every limit more.
    """

    nominal: Nominal
    to: float
    gain: Estimate


@dataclass(frozen=True, slots=True)
class NominalToMove:
    """The nominal to name.

    Attributes
    ----------
    move : OneMove or None
        The best single move within a stated range; None where none is worth naming.
    asked : Slope or None
        Where no range is stated: the nominal whose small move gains most. What is drawn at zero is
        not asked for.
    """

    move: OneMove | None
    asked: Slope | None


def nominal_to_move(
    plan: Plan,
    *,
    among: Collection[str] | None = None,
    inches: bool = False,
    options: RunOptions = DEFAULTS,
) -> NominalToMove:
    """Name the nominal to draw elsewhere; half a second for a pipe.

    Parameters
    ----------
    plan : Plan
        With limits, of the design as stated.
    among : collection of str, optional
        Inputs of which small moves are tried where no range is stated: those that decide anything.
        All of them unless given.
    inches : bool
        Whether settings are round in inches, as of ``nominals_of``.
    options : RunOptions
        Who computes, and who is told.
    """
    few = with_points(plan, POINTS)
    sampling = replace(few.sampling, replicates=min(TO_NAME, few.sampling.replicates))
    few = replace(few, sampling=sampling)
    ranged = [each for each in nominals_of(few, inches=inches) if each.settings]
    if ranged:
        return NominalToMove(_best_alone(few, ranged, options), None)
    found = leading_nominals(plan, among=among, inches=inches, options=options)
    sizes = [slope for slope in found if slope.nominal.item.nominal != 0.0]
    return NominalToMove(None, sizes[0] if sizes else None)


def _best_alone(plan: Plan, nominals: list[Nominal], options: RunOptions) -> OneMove | None:
    """Try a few settings of each nominal alone; None where none is settled and worth naming."""
    tried = [(each, value) for each in nominals for value in _spread_out(each)]
    variants: list[Variant] = [{each.name: at_setting(each.item, v)} for each, v in tried]
    passes = run_variants(plan, variants, options=options)
    dangers = [
        danger(plan.limits, limit_shares(plan, passes, place)) for place in range(len(tried) + 1)
    ]
    gains = {
        place: passes.gain(place)
        for place in range(1, len(tried) + 1)
        if dangers[place] <= max(1.0, dangers[0])
    }
    worth = [place for place, gain in gains.items() if gain.low > 0.0 and gain.value >= WORTH_IT]
    if not worth:
        return None
    best = max(worth, key=lambda place: gains[place].value)
    nominal = tried[best - 1][0]
    level = [
        place
        for place in worth
        if tried[place - 1][0] is nominal and gains[best].value - gains[place].value < WORTH_IT
    ]
    near = min(level, key=lambda place: abs(tried[place - 1][1] - nominal.item.nominal))
    return OneMove(nominal, tried[near - 1][1], gains[near])


def _spread_out(nominal: Nominal) -> list[float]:
    """Pick settings evenly over a range, without the one that is drawn."""
    last = len(nominal.settings) - 1
    places = {round(n * last / (SETTINGS - 1)) for n in range(SETTINGS)}
    values = [nominal.settings[place] for place in sorted(places)]
    return [value for value in values if value != nominal.item.nominal]
