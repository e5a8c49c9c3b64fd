"""What closer tolerances buy, in shop words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sensitivity.answers.tighten.find import Halved, Tightened
from sensitivity.presentation import wording
from sensitivity.pricing.allocation import Found, Step
from sensitivity.pricing.closer_work import Dimension


def tighten_verdict(tightened: Tightened) -> str:
    """Say in shop words what was asked: the set for a target, or what halving buys."""
    return halving_verdict(tightened) if tightened.found is None else set_verdict(tightened)


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


def dimension_in_words(dimension: Dimension) -> str:
    """Name a dimension, and how many inputs it is if it is several alike."""
    name, count = wording.in_words(dimension.name), len(dimension.inputs)
    return name if count == 1 else f"{name} ({count} alike)"


def gain_in_words(row: Halved) -> str:
    """Write what halving a spread gains, or why there is no figure."""
    if row.gain is None:
        return f"not by weights: {row.refused}"
    if row.gain.low != row.gain.low:
        return "too few failures to say"
    return wording.points_of_percent(row.gain)
