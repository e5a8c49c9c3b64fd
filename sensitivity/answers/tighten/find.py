"""What closer tolerances buy, and the cheapest set of them with which enough parts work.

Effort is the workshop table's bench minutes. Each spread is halved at moments; the first few are
priced in parts that work. The set is reported only if a fresh sample, of another seed, bears it
out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan, plan_run
from sensitivity.engine.two_levels import TwoLevels
from sensitivity.errors import CallError
from sensitivity.presentation.units_said import Said, said_by
from sensitivity.pricing.allocation import cheapest_set
from sensitivity.pricing.allocation_found import Found
from sensitivity.pricing.allocation_search import Search, is_safe
from sensitivity.pricing.closer_work import Dimension, dimensions_of, share_of
from sensitivity.pricing.finalists import MOST_FINALISTS, Finalists
from sensitivity.pricing.priced import Priced, one_level, price_more, with_band
from sensitivity.pricing.reweighting import (
    Reweighted,
    reweighted_yields,
    weights_refused,
)
from sensitivity.pricing.variants import (
    Variant,
    VariantPasses,
    run_variants,
)
from sensitivity.study.study import Study

WORTH_PRICING = 0.05
"""Share of the largest gain at a moment below which a gain is surely too small to be priced in
parts that work."""


@dataclass(frozen=True, slots=True)
class Halved:
    """What becomes of the design if one dimension's spread is halved and all else stays.

    Attributes
    ----------
    dimension : Dimension
    overall, gain : Estimate or None
        Share of moments kept, and what it gains; None where ``refused`` says why.
    works, more : Proportion or None, Estimate or None
        Parts that work, and how many more do; None where it was not priced.
    safe : bool
        Whether no limit that hurts comes to be broken more often than its ceiling allows.
    weighted : Reweighted or None
        What it rests on where it comes from weights.
    """

    dimension: Dimension
    overall: Estimate | None
    gain: Estimate | None
    works: Proportion | None = None
    more: Estimate | None = None
    safe: bool = True
    weighted: Reweighted | None = None
    refused: str = ""

    @property
    def worth(self) -> Estimate | None:
        """What it gains: in parts that work where it was priced, else at moments."""
        return self.gain if self.more is None else self.more


@dataclass(frozen=True)
class Tightened:
    """What halving each spread buys, ranked, and the set for the target if one was asked for.

    Attributes
    ----------
    stated : Proportion
        Share of parts and moments that keep every limit as drawn.
    levels : TwoLevels or None
        How many parts work as drawn; None where the gains are of moments alone, by weights.
    """

    study: Study
    plan: Plan
    stated: Proportion
    levels: TwoLevels | None
    dimensions: tuple[Dimension, ...]
    halved: tuple[Halved, ...]
    found: Found | None

    @cached_property
    def said(self) -> Said:
        """How quantities are said: in the study's units."""
        return said_by(self.study)


def price_tolerances(
    study: Study,
    *,
    target: float | None = None,
    by_weights: bool = False,
    options: RunOptions = DEFAULTS,
) -> Tightened:
    """Price closer tolerances of a study's build inputs.

    Raises
    ------
    CallError
        Where the study has no limits, or no build input that varies.
    """
    if not study.limits:
        raise CallError(f"{study.name} states no limits, so a closer tolerance gains nothing")
    plan, dimensions = plan_run(study, indices=False), dimensions_of(study)
    if not dimensions:
        raise CallError(f"{study.name}: no input of kind build varies, so none can be tightened")
    variants = [
        {item.name: share_of(item, 0.5) for item in dimension.inputs} for dimension in dimensions
    ]
    priced: Priced[int] | None = None
    if by_weights:
        rows, stated = _by_weights(plan, dimensions, variants, options)
        if one_level(plan):
            priced = Priced(run_variants(plan, [], options=options), {})
    else:
        rows, stated, priced = _halve(plan, dimensions, variants, study.keeps, options)
    found = None
    if target is not None:
        search = Search(
            plan,
            tuple(d for d in dimensions if d.choices),
            target,
            options,
            study.keeps,
            known=_finalists(priced),
        )
        found = cheapest_set(search)
    levels = None
    if priced is not None:
        orders = priced.orders
        levels = with_band(
            plan, priced.stated, stated, keeps=study.keeps, orders=orders, options=options
        )
    return Tightened(study, plan, stated, levels, dimensions, _ranked(rows), found)


def _finalists(priced: Priced[int] | None) -> Finalists | None:
    if priced is None or isinstance(priced.counted, VariantPasses):
        return None
    return priced.counted


def _halve(
    plan: Plan,
    dimensions: Sequence[Dimension],
    variants: Sequence[Variant],
    keeps: float,
    options: RunOptions,
) -> tuple[list[Halved], Proportion, Priced[int]]:
    passes = run_variants(plan, variants, options=options)
    places = range(1, len(variants) + 1)
    gains = {place: passes.gain(place) for place in places}
    if one_level(plan):
        priced: Priced[int] = Priced(passes, {place: place for place in places})
    else:
        first = sorted(places, key=lambda place: -gains[place].value)[:MOST_FINALISTS]
        least = WORTH_PRICING * gains[first[0]].value
        chosen = {place: variants[place - 1] for place in first if gains[place].high >= least}
        priced = price_more(plan, chosen, keeps=keeps, options=options)
    rows = [
        Halved(
            dimension,
            _as_estimate(passes.overall(place)),
            gains[place],
            works=priced.works(place) if place in priced.columns else None,
            more=priced.gain(place) if place in priced.columns else None,
            safe=is_safe(plan, passes, place) or not is_safe(plan, passes, 0),
        )
        for place, dimension in enumerate(dimensions, start=1)
    ]
    return rows, passes.overall(0), priced


def _by_weights(
    plan: Plan,
    dimensions: Sequence[Dimension],
    variants: Sequence[Variant],
    options: RunOptions,
) -> tuple[list[Halved], Proportion]:
    refused = [weights_refused(plan, variant) for variant in variants]
    sound = [variant for variant, reason in zip(variants, refused, strict=True) if not reason]
    weighted = iter(reweighted_yields(plan, sound, options=options))
    rows = []
    for dimension, reason in zip(dimensions, refused, strict=True):
        if reason:
            rows.append(Halved(dimension, None, None, refused=reason))
        else:
            found = next(weighted)
            rows.append(Halved(dimension, found.overall, found.gain, weighted=found))
    return rows, run_variants(plan, [], options=options).overall(0)


def _as_estimate(share: Proportion) -> Estimate:
    return Estimate(share.value, share.low, share.high)


def _ranked(rows: list[Halved]) -> tuple[Halved, ...]:
    """Rank by what is gained: those without a figure, then in parts that work, then at moments."""

    def place(row: Halved) -> tuple[bool, float]:
        return row.more is None and row.gain is not None, -row.worth.value if row.worth else -np.inf

    return tuple(sorted(rows, key=place))
