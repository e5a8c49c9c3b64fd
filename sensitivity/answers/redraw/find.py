"""Which nominals to draw elsewhere, by how much, alone and together, and what then works.

Searched for at moments taken at random on one sample: with one nominal, with two, and so on. These
are priced in parts that work, and of those level with the best the fewest moves are taken. A fresh
sample, of another seed, bears it out or has it halved.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan, plan_run
from sensitivity.engine.two_levels import TwoLevels
from sensitivity.errors import CallError
from sensitivity.presentation.units_said import Said, said_by
from sensitivity.pricing.allocation_search import limit_shares
from sensitivity.pricing.bought import Bought, bought_at
from sensitivity.pricing.finalists import MOST_FINALISTS, PARTS, priced_in_parts
from sensitivity.pricing.hurting import danger
from sensitivity.pricing.nominals import Nominal, nominals_of
from sensitivity.pricing.priced import Priced, one_level, price_more, with_band
from sensitivity.pricing.redrawing import (
    Moves,
    State,
    best_states,
    level_about,
    nearest,
    part_of,
    pruned,
    variant_of,
    with_setting,
)
from sensitivity.pricing.slopes import POINTS, Slope, nominal_slopes, with_points
from sensitivity.pricing.variants import Variant, VariantPasses, run_variants
from sensitivity.study.study import Study

LEVEL = 0.01
"""Parts that work, or moments kept, less than one in a hundred apart count as level."""
NEARER = (0.0003, 0.001, 0.003, 0.01)
"""Shares of moments that may be lost to stay nearer to the drawing, of the moves priced.

The least of them are for parts that are to keep at nearly all their moments: one moment in a
hundred lost may be every part.
"""
REPLICATES = 8
"""Of the search, which a fresh sample bears out."""
MOST_HALVINGS = 4


@dataclass(frozen=True, slots=True)
class Move:
    """One nominal drawn elsewhere.

    Attributes
    ----------
    nominal : Nominal
    to : float
        Where it is drawn instead, in its unit.
    undone : Proportion or None
        Parts that work with all the other moves and without this one; None where not priced.
    lost : Estimate or None
        Parts that then work less.
    level : (float, float)
        Between which settings, all else as proposed, moments are kept level with what is proposed
        or better.
    """

    nominal: Nominal
    to: float
    undone: Proportion | None
    lost: Estimate | None
    level: tuple[float, float]

    @property
    def up(self) -> bool:
        """Tell whether it is moved up."""
        return self.to > self.nominal.item.nominal

    @property
    def open_end(self) -> bool:
        """Tell whether moments are still kept level, or better, where its range ends that way."""
        ends = self.nominal.settings
        return self.level[1] == ends[-1] if self.up else self.level[0] == ends[0]


@dataclass(frozen=True)
class Redrawn:
    """What small moves gain, and the best joint move within what the study allows.

    Attributes
    ----------
    slopes : tuple of Slope
        Of every nominal that could be moved, what gains most first.
    moves : tuple of Move
        What to draw elsewhere; empty where nothing is worth it, or nothing may be moved.
    tried : bool
        Whether anything may be moved.
    promised : float
        Share of moments that the search promised to gain.
    gained : Estimate or None
        Share of moments gained on the fresh sample; None where nothing is moved.
    halvings : int
        How often the move was halved before a fresh sample bore it out.
    fresh_seed : int
        Seed of the sample that these figures come from.
    stated, there : TwoLevels
        As drawn and as redrawn.
    more : Estimate or None
        Parts that work more.
    drawn_shares, shares : mapping of str to Proportion
        Share of moments at which each limit is kept, as drawn and as redrawn.
    kept_out : bool
        Whether a limit that hurts stands against what was tried.
    bought : tuple of Bought
        Of the moves, those to sizes that can be bought, and what that costs.
    """

    study: Study
    plan: Plan
    slopes: tuple[Slope, ...]
    moves: tuple[Move, ...]
    tried: bool
    promised: float
    gained: Estimate | None
    halvings: int
    fresh_seed: int
    stated: TwoLevels
    there: TwoLevels
    more: Estimate | None
    drawn_shares: Mapping[str, Proportion]
    shares: Mapping[str, Proportion]
    kept_out: bool
    bought: tuple[Bought, ...] = ()

    @cached_property
    def said(self) -> Said:
        """How quantities are said: in the study's units."""
        return said_by(self.study)

    @property
    def ranged(self) -> tuple[Slope, ...]:
        """Those that may be moved."""
        return tuple(slope for slope in self.slopes if slope.nominal.settings)

    @property
    def asked_for(self) -> tuple[Slope, ...]:
        """Sizes of which a small move would gain something settled, if their range were stated.

        What is drawn at zero is an error or a square corner, and is shown, not asked for.
        """
        return tuple(
            slope
            for slope in self.slopes
            if slope.settled and not slope.nominal.settings and slope.nominal.item.nominal != 0.0
        )


def find_redraw(study: Study, *, options: RunOptions = DEFAULTS) -> Redrawn:
    """Find which nominals of a study to draw elsewhere.

    Raises
    ------
    CallError
        Where the study has no limits, or nothing that is drawn and made.
    """
    if not study.limits:
        raise CallError(f"{study.name} states no limits, so no drawing is better than another")
    plan = plan_run(study, indices=False)
    nominals = nominals_of(plan, inches=study.units == "inch")
    if not nominals:
        raise CallError(f"{study.name}: no nominal of kind build could be moved")
    slopes = nominal_slopes(with_points(plan, POINTS), nominals, options=options)
    ranged = tuple(each for each in nominals if each.settings)
    search = with_points(plan, POINTS)
    fewer = min(REPLICATES, plan.sampling.replicates)
    search = replace(search, sampling=replace(search.sampling, replicates=fewer))
    moves = Moves(search, ranged, options)
    state = _chosen(study, plan, moves, options) if ranged else ()
    return _proved(study, plan, slopes, moves, state, options)


def _chosen(study: Study, plan: Plan, moves: Moves, options: RunOptions) -> State:
    """Take the fewest and shortest of the moves that are level with the best in parts that work."""
    found = [pruned(moves, state) for state in best_states(moves)[-MOST_FINALISTS:]]
    states = [each for each in dict.fromkeys(found) if each != moves.drawn]
    if not states:
        return moves.drawn
    variants = {each: moves.variant(each) for each in states}
    priced = _with_drawn(moves, _priced(plan, variants, study, options, parts=PARTS // 2))
    state = _level_with_best(moves, priced, list(priced.columns))
    if state == moves.drawn:
        return state
    near = dict.fromkeys(nearest(moves, state, lost) for lost in NEARER)
    variants.update((each, moves.variant(each)) for each in near if each != moves.drawn)
    if one_level(plan):
        priced = _priced(plan, variants, study, options)
    else:
        fresh = {each: v for each, v in variants.items() if each not in priced.columns}
        priced = price_more(plan, fresh, priced, keeps=study.keeps, options=options)
    return _level_with_best(moves, _with_drawn(moves, priced), [state, *near])


def _with_drawn(moves: Moves, priced: Priced[State]) -> Priced[State]:
    """Count the design as stated among those priced."""
    return Priced(priced.counted, {**priced.columns, moves.drawn: 0})


def _level_with_best(moves: Moves, priced: Priced[State], among: Sequence[State]) -> State:
    """Take the fewest and shortest of some moves that are level with the best of all priced."""
    top = max(priced.columns, key=lambda state: priced.works(state).value)
    level = [state for state in among if is_level(priced.more(top, state))]
    return min(level, key=lambda s: (len(moves.moved(s)), _length(moves.nominals, s)))


def is_level(short: Estimate) -> bool:
    """Tell whether so little less is level with the best: not told apart, or within a point."""
    return short.low <= 0.0 or short.value < LEVEL


def _length(nominals: Sequence[Nominal], state: State) -> float:
    """Length of a joint move, each by its range."""
    ways = [
        (value - each.item.nominal) / each.width
        for each, value in zip(nominals, state, strict=True)
    ]
    return float(np.sqrt(np.sum(np.square(ways))))


def _priced(
    plan: Plan,
    variants: Mapping[State, Variant],
    study: Study,
    options: RunOptions,
    *,
    parts: int = PARTS,
) -> Priced[State]:
    """Price states in parts that work; where nothing runs, by what they keep."""
    every, columns = list(variants.values()), {s: n for n, s in enumerate(variants, start=1)}
    if one_level(plan):
        return Priced(run_variants(plan, every, options=options), columns)
    found = priced_in_parts(plan, every, keeps=study.keeps, parts=parts, options=options)
    return Priced(found, columns)


def _proved(
    study: Study,
    plan: Plan,
    slopes: tuple[Slope, ...],
    moves: Moves,
    state: State,
    options: RunOptions,
) -> Redrawn:
    """Try a joint move on samples that the search has not seen; halve it while it falls short."""
    halvings = 0
    while True:
        fresh = _fresh(plan, halvings + 1)
        passes = run_variants(fresh, [variant_of(moves.nominals, state)], options=options)
        promised = 0.0
        if moves.nominals:
            now, before = moves.kept([state, moves.drawn])
            promised = now - before
        moved = bool(moves.nominals) and state != moves.drawn
        if not moved or passes.gain(1).value >= 0.5 * promised > 0.0:
            break
        halvings += 1
        done = halvings > MOST_HALVINGS
        state = moves.drawn if done else part_of(moves.nominals, state, 0.5)
    return _told(study, plan, fresh, slopes, moves, state, passes, promised, halvings, options)


def _fresh(plan: Plan, attempt: int) -> Plan:
    seed = int(np.random.SeedSequence([plan.seed, attempt]).generate_state(1)[0])
    return replace(plan, sampling=replace(plan.sampling, seed=seed))


def _told(
    study: Study,
    plan: Plan,
    fresh: Plan,
    slopes: tuple[Slope, ...],
    moves: Moves,
    state: State,
    passes: VariantPasses,
    promised: float,
    halvings: int,
    options: RunOptions,
) -> Redrawn:
    places = moves.moved(state)
    undone = {
        place: with_setting(state, place, moves.drawn[place])
        for place in places[: MOST_FINALISTS - 1]
    }
    states = [each for each in dict.fromkeys([state, *undone.values()]) if each != moves.drawn]
    priced = _priced(
        fresh, {each: variant_of(moves.nominals, each) for each in states}, study, options
    )
    priced = _with_drawn(moves, priced)
    more = priced.more(state, moves.drawn)
    if places and more.low <= 0.0:
        # More moments are kept, but by parts that do not come to work for it.
        places, state = [], moves.drawn
    levels = level_about(moves, state, LEVEL) if places else {}
    found = tuple(
        Move(
            nominal=moves.nominals[place],
            to=state[place],
            undone=priced.works(undone[place]) if place in undone else None,
            lost=priced.more(state, undone[place]) if place in undone else None,
            level=levels[place],
        )
        for place in places
    )
    column = 1 if places else 0
    stated = with_band(
        fresh, priced.stated, passes.overall(0),
        keeps=study.keeps, orders=priced.orders, options=options,
    )  # fmt: skip
    there = stated
    if places:
        there = with_band(
            fresh, priced.works(state), passes.overall(1), variant_of(moves.nominals, state),
            keeps=study.keeps, options=options,
        )  # fmt: skip
    dangers = [each[1] for each in moves.known.values()]
    return Redrawn(
        study=study,
        plan=plan,
        slopes=slopes,
        moves=_in_order(found),
        tried=bool(moves.nominals),
        promised=promised,
        gained=passes.gain(1) if places else None,
        halvings=halvings,
        fresh_seed=fresh.seed,
        stated=stated,
        there=there,
        more=more if places else None,
        drawn_shares=limit_shares(fresh, passes, 0),
        shares=limit_shares(fresh, passes, column),
        kept_out=max([*dangers, danger(plan.limits, limit_shares(fresh, passes, column))]) > 1.0,
        bought=bought_at(moves, state, places, fresh, options=options) if places else (),
    )


def _in_order(found: tuple[Move, ...]) -> tuple[Move, ...]:
    """Order moves by what is lost without them, the most first; those not priced last."""
    return tuple(sorted(found, key=lambda move: -move.lost.value if move.lost else 1.0))
