"""What closer tolerances buy, in shop words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sensitivity.answers.finalists import hurts_first, physics
from sensitivity.answers.levels import sampled
from sensitivity.answers.next_commands import Ask, next_in_words
from sensitivity.answers.tighten.find import Halved, Tightened
from sensitivity.presentation import wording
from sensitivity.pricing.allocation_found import Found, Step
from sensitivity.pricing.closer_work import Dimension


def tighten_verdict(tightened: Tightened) -> str:
    """Say in shop words what was asked: the set for a target, or what halving buys."""
    return halving_verdict(tightened) if tightened.found is None else set_verdict(tightened)


def halving_verdict(tightened: Tightened) -> str:
    """Say in a sentence or two what halving a spread buys."""
    levels, many = tightened.levels, tightened.study.vocabulary.many
    parts = levels is not None and levels.one_level is None
    unsafe = [row.dimension.name for row in settled_rows(tightened) if not row.safe]
    settled = [row for row in settled_rows(tightened) if row.safe]
    not_taken = (
        f" Not counted, for a limit that hurts would be broken more often than it may: "
        f"{wording.listed([wording.in_words(name) for name in unsafe])}."
        if unsafe
        else ""
    )
    if not settled:
        return f"Halving no one spread gains anything that is clear of zero.{not_taken}"
    first = settled[0].worth
    assert first is not None
    counted = [r for r in tightened.halved if r.worth is not None and np.isfinite(r.worth.low)]
    others = len(counted) - len(settled) - len(unsafe)
    uncounted = len(tightened.halved) - len(counted)
    second = settled[1].worth if len(settled) > 1 else None
    clear = not uncounted and (second is None or second.high < first.low)
    of_what = f"more of 100 {many} that work" if parts else "more of 100"
    if levels is None:
        of_what += " at a moment taken at random"
    text = (
        f"Halving the spread of {wording.in_words(settled[0].dimension.name)} gains "
        f"{'most' if clear else 'as much as any'}, {100 * first.value:.2g} {of_what}"
    )
    if others:
        text += (
            f"; for {others} of the {len(tightened.halved)} it gains nothing that is clear of zero"
        )
    if uncounted:
        text += f"; for {uncounted} there is no figure"
    return f"{text}.{not_taken}"


def settled_rows(tightened: Tightened) -> list[Halved]:
    """Pick what gains something that is settled, in parts that work where they were priced."""
    return [row for row in tightened.halved if row.worth is not None and row.worth.low > 0.0]


def set_verdict(tightened: Tightened) -> str:
    """Say in shop words which tolerances reach the target, or what is in the way."""
    found = tightened.found
    assert found is not None
    first = hurts_first(
        tightened.study,
        found.drawn_shares,
        found.shares,
        kept_out=found.kept_out,
        least_only=False,
    )
    return " ".join([*first, _of_the_set(tightened, found)])


def _of_the_set(tightened: Tightened, found: Found) -> str:
    wanted, many = wording.of_a_hundred(found.target), tightened.study.vocabulary.many
    share, band = sampled(found.works), physics(found.there, many)
    if found.reached and not found.steps:
        return f"As stated, about {share} of 100 {many} work: nothing need be closer.{band}"
    if found.reached:
        what = _what_to_do(tightened, found.steps)
        return (
            f"{what[0].upper()}{what[1:]}: about {share} of 100 {many} work, "
            f"against {sampled(found.as_drawn.works)} as drawn, for about "
            f"{found.minutes:.0f} minutes more at the bench{_with_jigs(found)}. "
            f"{_how_cheap(found)}{band}"
        )
    if found.closest.works.high >= found.target:
        head = (
            f"No set of tolerances tried is sure to make {wanted} {many} work; more --points may "
            "settle it."
        )
    else:
        head = f"No set of tolerances tried makes {wanted} {many} work."
    return f"{head} {_why_not(tightened, found)}{band}"


def _with_jigs(found: Found) -> str:
    """Say what of the minutes is for making jigs, once for all that they hold."""
    if not found.making:
        return ""
    minutes = f"{sum(found.making.values()):.0f}"
    return f", {minutes} of them for making the jig{'s' if len(found.making) > 1 else ''} once"


def _how_cheap(found: Found) -> str:
    """Say whether any cheaper set would do."""
    if found.cheapest:
        return "No cheaper set of those tried does; all else may stay as it is."
    return "That is a cheap set, not all of them were tried; all else may stay as it is."


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
        f'make {wording.listed(names)} by "{wording.in_words(how)}"'
        if how in processes
        else f"hold {wording.listed(names)} to {how} of the spread"
        for how, names in gathered.items()
    ]
    return "; ".join(parts)


def _why_not(tightened: Tightened, found: Found) -> str:
    limit = wording.in_words(found.in_the_way)
    broken = wording.out_of_a_hundred(1.0 - found.closest_shares[found.in_the_way].value)
    exact, many = sampled(found.exact.works), tightened.study.vocabulary.many
    at = "" if found.there.one_level else " moments taken at random"
    text = (
        "With every tolerance that gains by it at its closest, about "
        f"{sampled(found.closest.works)} of 100 {many} work; in the way "
        f"is {limit}, broken in {broken}{at}."
    )
    if found.exact.works.low >= found.target:
        text += (
            f" Were every dimension exactly as drawn it would be {exact}, but the workshop table "
            "comes no closer. A better nominal may do it."
        )
    else:
        text += (
            f" Even with every dimension exactly as drawn it would be {exact}: what is wrong is a "
            "nominal, a running condition or a doubt of the model, not a tolerance."
        )
    gain = found.works.value - found.as_drawn.works.value
    if gain < 0.01:
        return f"{text} No tolerance tried is worth one in a hundred before that."
    return (
        f"{text} What is worth doing all the same: "
        f"{_what_to_do(tightened, found.steps)}; with that about "
        f"{sampled(found.works)} work instead of "
        f"{sampled(found.as_drawn.works)}, for about {found.minutes:.0f} minutes more"
        f"{_with_jigs(found)}."
    )


def dimension_in_words(dimension: Dimension) -> str:
    """Name a dimension, and how many inputs it is if it is several alike."""
    name, count = wording.in_words(dimension.name), len(dimension.inputs)
    return name if count == 1 else f"{name} ({count} alike)"


def gain_in_words(row: Halved) -> str:
    """Write what halving a spread gains at moments, or why there is no figure."""
    if row.gain is None:
        return f"not by weights: {row.refused}"
    if row.gain.low != row.gain.low:
        return "too few failures to say"
    return wording.points_of_percent(row.gain)


def worth_in_words(row: Halved) -> str:
    """Write how many more parts work if a spread is halved; empty where that was not priced."""
    if row.more is None:
        return ""
    return wording.gain_of_a_hundred(row.more) + ("" if row.safe else ", can hurt")


def unpriced_in_words(tightened: Tightened, shown: Sequence[Halved]) -> str:
    """Say why a gain in parts that work is empty among the rows shown, if one is."""
    if tightened.levels is None or all(row.more is not None for row in shown):
        return ""
    many = tightened.study.vocabulary.many
    return f"Left empty: too little is gained at a moment for {many} that work to be counted."


def next_after_tightening(tightened: Tightened) -> str:
    """Say what to ask next where closer work does not do it; nothing where it does."""
    found = tightened.found
    if found is not None and found.reached:
        return ""
    if found is None and any(row.safe for row in settled_rows(tightened)):
        return ""
    redraw = Ask("redraw", "says which nominal to move")
    return next_in_words(tightened.study, "tighten", redraw)
