"""Variants of one design in parts that work, by what the answer knows them by, in rounds.

Where nothing varies from moment to moment a part that works is one that keeps, so every variant
that was screened is priced already; else a few are, on the same parts and moments, and more of
them in further rounds. The band over the physics' doubts goes with one or two of them.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Generic, TypeVar

from sensitivity.engine.doubt_band import BandOfReplicate, doubt_band
from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.engine.kept import Order
from sensitivity.engine.moments import crossing_plan, of_kinds
from sensitivity.engine.monte_carlo import each_replicate
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.two_levels import (
    BAND_REPLICATES,
    LevelSizes,
    TwoLevels,
    band_of_replicate,
)
from sensitivity.engine.verdicts import Counting, prepare
from sensitivity.pricing.finalists import (
    Finalists,
    counting_to_choose,
    further_priced,
    paired_difference,
    priced_in_parts,
)
from sensitivity.pricing.variants import Variant, VariantPasses, passes_difference
from sensitivity.spreads.spread import Spread

Key = TypeVar("Key", bound=Hashable)


@dataclass(frozen=True)
class Priced(Generic[Key]):
    """Parts that work as stated and as each of some variants.

    Attributes
    ----------
    counted : VariantPasses or Finalists
        The former where a part that keeps is one that works.
    columns : mapping of key to int
        Where each variant stands in it; 0 is the design as stated.
    """

    counted: VariantPasses | Finalists
    columns: Mapping[Key, int]

    @property
    def orders(self) -> tuple[Order, ...]:
        """In which moments may be counted without an audit."""
        return self.counted.plain if isinstance(self.counted, Finalists) else ()

    @property
    def stated(self) -> Proportion:
        """Parts that work as stated."""
        return self._works(0)

    def works(self, key: Key) -> Proportion:
        """Parts that work as a variant."""
        return self._works(self.columns[key])

    def gain(self, key: Key) -> Estimate:
        """Parts gained by a variant over the design as stated."""
        return self._more(self.columns[key], 0)

    def more(self, key: Key, other: Key) -> Estimate:
        """Parts that work more as one variant than as another, on the same parts and moments."""
        return self._more(self.columns[key], self.columns[other])

    def _works(self, column: int) -> Proportion:
        if isinstance(self.counted, VariantPasses):
            return self.counted.overall(column)
        return self.counted.works(column)

    def _more(self, column: int, other: int) -> Estimate:
        found = self.counted
        if column == other:
            return Estimate(0.0, 0.0, 0.0)
        if isinstance(found, VariantPasses):
            passes = found.together
            return passes_difference(
                passes[:, column], passes[:, other], found.rows, found.confidence
            )
        shares = found.shares
        return paired_difference(shares[:, column], shares[:, other], found.parts, found.confidence)


def one_level(plan: Plan) -> bool:
    """Tell whether nothing varies from moment to moment, so that what keeps works."""
    return not of_kinds(plan, "running")


def price_more(
    plan: Plan,
    variants: Mapping[Key, Variant],
    known: Priced[Key] | None = None,
    *,
    keeps: float,
    options: RunOptions = DEFAULTS,
) -> Priced[Key]:
    """Price variants in parts that work, and keep those that are known already.

    Every round has the same parts and moments, replicate by replicate, so that variants of one
    may be compared with those of another.
    """
    every = list(variants.values())
    if known is None:
        found = priced_in_parts(plan, every, keeps=keeps, options=options)
        return Priced(found, {key: place for place, key in enumerate(variants, start=1)})
    before = known.counted
    assert isinstance(before, Finalists)
    start = before.shares.shape[1]
    columns = {key: start + place for place, key in enumerate(variants)}
    return Priced(
        further_priced(plan, before, every, options=options), {**known.columns, **columns}
    )


def with_band(
    plan: Plan,
    works: Proportion,
    share: Proportion,
    variant: Variant | None = None,
    *,
    keeps: float,
    orders: tuple[Order, ...] = (),
    options: RunOptions = DEFAULTS,
) -> TwoLevels:
    """Put beside what was priced already between which figures the physics may move it.

    Parameters
    ----------
    plan : Plan
        Of the design as stated.
    works, share : Proportion
        Parts that work, and parts that keep at a moment, as the variant.
    variant : mapping of name to Spread or float, optional
        What it has instead; nothing is the design as stated.
    keeps : float
        As of ``two_levels``.
    orders : tuple of Order, optional
        In which the moments are counted, as of ``Finalists``, for a variant not far from stated:
        for all tolerances at their closest, a mean W(m) came out 0.01 too high (measured). Without
        them it has a pilot of its own.
    options : RunOptions
        Who computes, and who is told.

    Returns
    -------
    TwoLevels
        Its ``works`` and ``share`` are those given; ``evaluations`` are the band's.
    """
    plan = varied(plan, variant or {})
    counting = counting_to_choose(plan, keeps, orders)
    found = TwoLevels(
        works=works,
        share=share,
        keeps=keeps,
        moments=counting.moments,
        parts=works.rows // plan.sampling.replicates,
        evaluations=0,
        correction=0.0,
        pilot=0,
        band=None,
        no_band="no model inputs",
        one_level="no running inputs" if one_level(plan) else None,
    )
    if not of_kinds(plan, "model"):
        return found
    plan = crossing_plan(plan)
    bands = each_replicate(
        partial(_band, plan, counting, orders),
        min(plan.sampling.replicates, BAND_REPLICATES),
        workers=options.workers,
        executor=options.executor,
        progress=options.progress(),
    )
    return replace(
        found,
        band=doubt_band(plan, bands),
        no_band=None,
        evaluations=sum(each.evaluations for each in bands),
    )


def _band(
    plan: Plan, counting: Counting, orders: tuple[Order, ...], replicate: int
) -> BandOfReplicate:
    if orders:
        order = orders[replicate]
    else:
        order = prepare(plan, counting, replicate, counting.pilot).unaudited
    found = band_of_replicate(plan, counting, LevelSizes(), order, replicate)
    assert found is not None
    return found


def varied(plan: Plan, variant: Variant) -> Plan:
    """Give a plan's inputs what a variant has instead; names keep their random numbers."""
    inputs = []
    for item in plan.inputs:
        change = variant.get(item.name)
        if isinstance(change, Spread):
            item = replace(item, spread=change)
        elif change is not None:
            item = replace(item, spread=None, nominal=float(change))
        inputs.append(item)
    return replace(plan, inputs=tuple(inputs))
