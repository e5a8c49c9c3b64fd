"""What closer tolerances buy, and the cheapest set of them that reaches a wanted yield.

Effort is the workshop table's bench minutes. The set is searched for on one sample, going greedily
by yield gained per added minute and then giving up what turns out not to be needed; it is
reported only if a fresh sample, of another seed, bears it out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan, plan_run
from sensitivity.errors import CallError
from sensitivity.pricing.allocation import Found, Search, cheapest_set
from sensitivity.pricing.closer_work import Dimension, dimensions_of, share_of
from sensitivity.pricing.variants import (
    Reweighted,
    Variant,
    reweighted_yields,
    run_variants,
    weights_refused,
)
from sensitivity.study.study import Study


@dataclass(frozen=True, slots=True)
class Halved:
    """The yield if one dimension's spread is halved and all else stays, and what that gains.

    ``weighted`` is what it rests on where it comes from weights; ``refused`` says why there is
    no figure.
    """

    dimension: Dimension
    overall: Estimate | None
    gain: Estimate | None
    weighted: Reweighted | None = None
    refused: str = ""


@dataclass(frozen=True)
class Tightened:
    """What halving each spread buys, ranked, and the set for the target if one was asked for."""

    study: Study
    plan: Plan
    stated: Proportion
    dimensions: tuple[Dimension, ...]
    halved: tuple[Halved, ...]
    found: Found | None


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
    halved, stated = _halve(plan, dimensions, by_weights, options)
    found = None
    if target is not None:
        search = Search(plan, tuple(d for d in dimensions if d.choices), target, options)
        found = cheapest_set(search)
    return Tightened(study, plan, stated, dimensions, halved, found)


def _halve(
    plan: Plan,
    dimensions: Sequence[Dimension],
    by_weights: bool,
    options: RunOptions,
) -> tuple[tuple[Halved, ...], Proportion]:
    variants: list[Variant] = [
        {item.name: share_of(item, 0.5) for item in dimension.inputs} for dimension in dimensions
    ]
    if not by_weights:
        passes = run_variants(plan, variants, options=options)
        rows = [
            Halved(dimension, _as_estimate(passes.overall(place)), passes.gain(place))
            for place, dimension in enumerate(dimensions, start=1)
        ]
        return _ranked(rows), passes.overall(0)
    refused = [weights_refused(plan, variant) for variant in variants]
    sound = [variant for variant, reason in zip(variants, refused, strict=True) if not reason]
    weighted = iter(reweighted_yields(plan, sound, options=options))
    rows = []
    for dimension, reason in zip(dimensions, refused, strict=True):
        if reason:
            rows.append(Halved(dimension, None, None, refused=reason))
        else:
            found = next(weighted)
            rows.append(Halved(dimension, found.overall, found.gain, found))
    return _ranked(rows), run_variants(plan, [], options=options).overall(0)


def _as_estimate(share: Proportion) -> Estimate:
    return Estimate(share.value, share.low, share.high)


def _ranked(rows: list[Halved]) -> tuple[Halved, ...]:
    return tuple(sorted(rows, key=lambda row: -row.gain.value if row.gain else np.inf))
