"""What closer tolerances buy, and the cheapest set of them that reaches a wanted yield.

Effort is the workshop table's bench minutes. The set is searched for on one sample, going greedily
by yield gained per added minute and then giving up what turns out not to be needed; it is
reported only if a fresh sample, of another seed, bears it out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from sensitivity import __version__
from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan, plan_run
from sensitivity.errors import CallError
from sensitivity.presentation import wording
from sensitivity.presentation.json_values import SCHEMA, estimate_value, proportion_value
from sensitivity.pricing.allocation import Found, Search, Step, cheapest_set
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


def tighten(
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


def halving_verdict(tightened: Tightened) -> str:
    """Say in one sentence what halving a spread buys."""
    settled = [row for row in tightened.halved if row.gain is not None and row.gain.low > 0.0]
    if not settled:
        return "Halving no one spread gains anything that is settled."
    first = settled[0]
    assert first.gain is not None
    counted = [r for r in tightened.halved if r.gain is not None and np.isfinite(r.gain.low)]
    others, uncounted = len(counted) - len(settled), len(tightened.halved) - len(counted)
    second = settled[1].gain if len(settled) > 1 else None
    clear = not uncounted and (second is None or second.high < first.gain.low)
    text = (
        f"Halving the spread of {wording.in_words(first.dimension.name)} buys "
        f"{'most' if clear else 'as much as any'}, {100 * first.gain.value:.2g} more of 100"
    )
    if others:
        text += f"; for {others} of the {len(tightened.halved)} it buys nothing that is settled"
    if uncounted:
        text += f"; for {uncounted} there is no figure"
    return f"{text}."


def set_verdict(tightened: Tightened) -> str:
    """Say in shop words which tolerances reach the target, or what is in the way."""
    found = tightened.found
    assert found is not None
    wanted = wording.of_a_hundred(found.target)
    share = wording.share_of_a_hundred(found.overall)
    if found.reached and not found.steps:
        return f"As stated, about {share} of 100 keep within every limit: nothing need be closer."
    if found.reached:
        what = _what_to_do(tightened, found.steps)
        return (
            f"{what[0].upper()}{what[1:]}: about {share} of 100 keep within every limit, "
            f"against {wording.share_of_a_hundred(found.as_drawn)} as drawn, for about "
            f"{found.minutes:.0f} minutes more at the bench. All else may stay as it is."
        )
    if found.closest.high >= found.target:
        head = f"No set of tolerances tried is sure to reach {wanted}; more --points may settle it."
    else:
        head = f"No set of tolerances tried reaches {wanted}."
    return f"{head} {_why_not(tightened, found)}"


def _what_to_do(tightened: Tightened, steps: Sequence[Step]) -> str:
    """Gather the steps: ``Go to ... for a, b and c; hold d to 0.5 of its spread``."""
    gathered: dict[str, list[str]] = {}
    order = [dimension.name for dimension in tightened.dimensions]
    for step in sorted(steps, key=lambda step: order.index(step.dimension.name)):
        name = wording.in_words(step.dimension.name)
        how = step.choice.process or f"{step.choice.factor:g}"
        gathered.setdefault(how, []).append(name)
    processes = {step.choice.process for step in steps}
    parts = [
        f'go to "{wording.in_words(how)}" for {wording.listed(names)}'
        if how in processes
        else f"hold {wording.listed(names)} to {how} of the spread"
        for how, names in gathered.items()
    ]
    return "; ".join(parts)


def _why_not(tightened: Tightened, found: Found) -> str:
    limit = wording.in_words(found.in_the_way)
    broken = wording.out_of_a_hundred(1.0 - found.closest_shares[found.in_the_way].value)
    exact = wording.share_of_a_hundred(found.exact)
    adjustable = [item.name for item in tightened.study.inputs if item.adjust is not None]
    which = " or ".join(adjustable) or "INPUT"
    window = f'"spiritlevel window {tightened.study.name}.toml {which}"'
    if not adjustable:
        window += " for what you can move"
    text = (
        "With all that gains by it at its closest, about "
        f"{wording.share_of_a_hundred(found.closest)} of 100 keep within every limit; in the way "
        f"is {limit}, broken in {broken}."
    )
    if found.exact.low >= found.target:
        text += (
            f" Were every dimension exactly as drawn it would be {exact}, but the workshop table "
            f"comes no closer. A better nominal may do it: {window}."
        )
    else:
        text += (
            f" Even with every dimension exactly as drawn it would be {exact}: what is wrong is a "
            "nominal, a running condition or a doubt of the model, not a tolerance. Next: "
            f"{window}."
        )
    gain = found.overall.value - found.as_drawn.value
    if gain < 0.01:
        return f"{text} No tolerance tried is worth a point in a hundred before that."
    return (
        f"{text} What is worth doing all the same: "
        f"{_what_to_do(tightened, found.steps)}; that brings about "
        f"{wording.share_of_a_hundred(found.overall)} instead of "
        f"{wording.share_of_a_hundred(found.as_drawn)}, for about {found.minutes:.0f} minutes more."
    )


def tighten_document(tightened: Tightened) -> dict[str, Any]:
    """Lay the answer out as plain values."""
    sampling, found = tightened.plan.sampling, tightened.found
    return {
        "schema": SCHEMA,
        "spiritlevel": __version__,
        "command": "tighten",
        "title": tightened.study.title,
        "seed": tightened.plan.seed,
        "replicates": sampling.replicates,
        "points": sampling.points,
        "confidence": sampling.confidence,
        "verdict": halving_verdict(tightened) if found is None else set_verdict(tightened),
        "yield_as_drawn": proportion_value(tightened.stated),
        "halved": [
            {
                "dimension": row.dimension.name,
                "inputs": [item.name for item in row.dimension.inputs],
                "yield": None if row.overall is None else estimate_value(row.overall),
                "gain": None if row.gain is None else estimate_value(row.gain),
                "effective_sample_size": row.weighted and row.weighted.effective,
                "effective_failures": row.weighted and row.weighted.effective_failures,
                "refused": row.refused,
            }
            for row in tightened.halved
        ],
        "set": None if found is None else _found_body(found),
        "left_out": {d.name: d.note for d in tightened.dimensions if d.note},
        "study": tightened.study.text,
    }


def _found_body(found: Found) -> dict[str, Any]:
    return {
        "target": found.target,
        "reached": found.reached,
        "fresh_seed": found.fresh_seed,
        "minutes": found.minutes,
        "yield_as_drawn": proportion_value(found.as_drawn),
        "yield": proportion_value(found.overall),
        "yield_at_closest": proportion_value(found.closest),
        "limits_at_closest": {
            name: proportion_value(share) for name, share in found.closest_shares.items()
        },
        "in_the_way": "" if found.reached else found.in_the_way,
        "yield_exactly_as_drawn": proportion_value(found.exact),
        "steps": [
            {
                "dimension": step.dimension.name,
                "inputs": [item.name for item in step.dimension.inputs],
                "process": step.choice.process,
                "factor": step.choice.factor,
                "minutes": step.choice.minutes,
                "yield": proportion_value(step.overall),
                "gain": estimate_value(step.gain),
            }
            for step in found.steps
        ],
    }
