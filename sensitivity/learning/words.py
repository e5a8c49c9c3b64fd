"""What was seen, and what of it could not be expected, in shop words."""

from __future__ import annotations

from sensitivity.engine.plan import Plan
from sensitivity.learning.conflict import Conflict, Expected
from sensitivity.learning.observations import Seen, ValueSeen
from sensitivity.presentation import wording


def seen_in_words(plan: Plan, one: Seen) -> str:
    """Say what was seen: ``burner height 8.2 mm``, or ``flood margin all breaking its limit``."""
    name = wording.in_words(one.result)
    if isinstance(one, ValueSeen):
        if one.words:
            return f"{name} {one.words}"
        units = {q.name: q.unit for q in (*plan.system.inputs, *plan.system.results)}
        return f"{name} {wording.with_unit(wording.significant(one.value), units[one.result])}"
    return f"{name} {'breaking' if one.broken else 'keeping'} its limit"


def rarity(one: Expected) -> str:
    """Say how rarely such a thing is seen: ``once in 800``, or ``less than once in 10,000``."""
    return once_in(one.probability, one.floor)


def once_in(probability: float, floor: float) -> str:
    """Write a small probability as ``once in N``, and none below what the points tried can tell."""
    times = 1.0 / max(probability, floor)
    if probability <= 3.0 * floor:
        return f"less than once in {float(f'{1.0 / (3.0 * floor):.1g}'):,.0f}"
    return f"once in {float(f'{times:.2g}'):,.0f}"


def conflict_in_words(plan: Plan, conflict: Conflict) -> str:
    """Say what is in conflict with what is stated, and what to look at again."""
    many = plan.system.vocabulary.many
    odd = conflict.surprising
    if odd:
        told = "; ".join(f"{seen_in_words(plan, each.seen)} is seen {rarity(each)}" for each in odd)
        text = f"{told} {many} as stated"
    else:
        floor = conflict.expected[0].floor
        text = (
            f"each by itself could be, but all that was seen together is met "
            f"{once_in(conflict.together, floor)} {many} as stated"
        )
    moved = _moved_in_words(conflict)
    return (
        f"{text}: a statement, what was seen, or the model is wrong. {moved}"
        "Look again; where it stands, correct what is stated, or go on in spite of it with "
        "--believe"
    )


def _moved_in_words(conflict: Conflict) -> str:
    if not conflict.moved:
        return ""
    each = [
        f"{wording.in_words(one.name)} by {wording.significant(one.deviations, 2)}"
        for one in conflict.moved
        if abs(one.deviations) >= 0.5
    ]
    if not each:
        return ""
    return f"It would move most, in standard deviations of what is stated: {wording.listed(each)}. "


def impossible_in_words(plan: Plan, conflict: Conflict) -> str:
    """Say that nothing as stated can have been seen so, and which observation alone is enough."""
    one, many = plan.system.vocabulary.one, plan.system.vocabulary.many
    alone = [each for each in conflict.expected if each.probability <= each.floor]
    if alone:
        told = wording.listed([seen_in_words(plan, each.seen) for each in alone])
        return (
            f"no {one} as stated can be like this: of {many} tried, not one has {told}. "
            "Read again, or widen what is stated"
        )
    told = wording.listed([seen_in_words(plan, each.seen) for each in conflict.expected])
    return (
        f"no {one} as stated can be like this: each by itself could be, but not {told} together. "
        "Read again, or widen what is stated"
    )
