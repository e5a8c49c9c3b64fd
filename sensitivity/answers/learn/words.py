"""What trials say, in shop words."""

from __future__ import annotations

from sensitivity.answers.learn.find import Fault, Learnt, Remedy
from sensitivity.answers.learn.readings import SettlingReading
from sensitivity.answers.levels import moments_in_words, sampled
from sensitivity.answers.settings_words import settings_in_words, settings_left_out
from sensitivity.engine.intervals import Proportion
from sensitivity.engine.moments import of_kinds
from sensitivity.learning.next_trial import NextTrial
from sensitivity.learning.suspects import Suspect
from sensitivity.learning.words import conflict_in_words
from sensitivity.presentation import wording
from sensitivity.study.study import BLUNDER

LIKELY_OUT = 0.2
"""Chance beyond which a suspect is said to be out of its drawn spread rather than within it."""
NAMED = 3
"""Suspects named at most in a sentence."""
WORTH_READING = 0.05
"""Share that the best reading must settle to be advised."""


def learn_verdict(found: Learnt) -> str:
    """Say how it stands, where to set it, where to look first, and which trial comes next."""
    return " ".join(
        [
            *_in_spite(found),
            *settings_left_out(found.barred),
            _stands(found),
            *_set(found),
            *([] if found.fault is None else fault_in_words(found, found.fault)),
            *_read(found),
            *_next(found),
        ]
    )


def _in_spite(found: Learnt) -> list[str]:
    if not found.known.conflict.there:
        return []
    words = conflict_in_words(found.plan, found.known.conflict).partition(" Look again")[0]
    return [f"Taken as seen in spite of a conflict (--believe): {words}"]


def _stands(found: Learnt) -> str:
    many = found.study.vocabulary.many
    keeps = "keep every limit"
    if of_kinds(found.plan, "running"):
        keeps += f" in {moments_in_words(found.study.keeps)}"
    before = how_many(found.before).partition(" (")[0]
    return (
        f"Of 100 {many} that behave as this one did, {how_many(found.now)} {keeps} as they stand "
        f"({before} before the trials{slips_in_short(found)})."
    )


def how_many(share: Proportion) -> str:
    """Write how many of a hundred work; none or all, and of how many, where that is so."""
    if share.passes == 0:
        return f"none (of {share.rows:,} tried)"
    if share.failures == 0:
        return f"all (of {share.rows:,} tried)"
    return sampled(share)


def slips_in_short(found: Learnt) -> str:
    """Say that slips are allowed for, behind a figure; empty where none are."""
    return ", slips among them" if found.slips else ""


def slips_in_words(found: Learnt) -> str:
    """Say what a slip is taken to be, and how likely."""
    if not found.slips:
        return "No slip is allowed for: every dimension is as stated."
    chance = found.study.blunder
    usual = ", where none is stated" if abs(chance - BLUNDER) < 1e-12 else ""
    return (
        f"A slip is allowed for in each of {len(found.slips)} dimensions, "
        f"with a chance of {_one_in(chance)}{usual}: it then lies anywhere within five stated "
        "half-widths of its middle. That is a choice and not a measurement; blunder = ... in the "
        "study, or of one input, states another."
    )


def _one_in(chance: float) -> str:
    return f"1 in {wording.significant(1.0 / chance, 3)}" if chance > 0.0 else "nothing"


def _set(found: Learnt) -> list[str]:
    if found.best is None or found.settings is None:
        return []
    names = wording.listed([wording.in_words(item.name) for item in found.settings.inputs])
    if found.set_well is None:
        return [f"Leave {names} as drawn: no other setting is clearly better."]
    where = settings_in_words(found.set_well.at, found.said)
    return [f"With {where}: {how_many(found.set_well.overall)}."]


def fault_in_words(found: Learnt, fault: Fault) -> list[str]:
    """Say where to look first, how likely each is out, and what making it anew would do."""
    broken = wording.listed([wording.in_words(name) for name in fault.seen])
    many = found.study.vocabulary.many
    rare = wording.out_of_a_hundred(fault.expected) if fault.expected > 0.0 else "hardly any"
    what = "Such a failure" if found.of_failure else "So unusual a reading"
    text = f"{what} ({broken}) is seen in {rare} {many}."
    named = [one for one in fault.named if one.item.kind == "build"]
    if not named:
        return [text, "It points to no dimension: more is to be seen, or --points may tell."]
    names = wording.listed([_name(one) for one in named[:NAMED]])
    found_out = [one for one in named if one.out[1] >= LIKELY_OUT]
    if found_out:
        each = [
            f"{_name(one)} ({round(100 * one.out[1])} in 100 that it is outside its drawn spread)"
            for one in sorted(found_out, key=lambda one: -one.out[1])[:NAMED]
        ]
        text += f" Look first at {wording.listed(each)}."
    else:
        text += (
            f" It points most to {names}; but none by itself is likely to be outside its drawn "
            "spread: small errors add up."
        )
    remedy = best_remedy(fault)
    if remedy is not None:
        made = wording.listed([wording.in_words(name) for name in remedy.names])
        if len(remedy.names) > NAMED:
            made = f"all {len(remedy.names)} suspects"
        text += f" With {made} made anew as drawn: {how_many(remedy.works)}."
    return [text]


def best_remedy(fault: Fault) -> Remedy | None:
    """Choose what to make anew: the fewest that gain nearly as much as the most."""
    settled = [one for one in fault.remedies if one.gain.low > 0.0]
    if not settled:
        return None
    most = max(one.gain.value for one in settled)
    enough = [one for one in settled if one.gain.value >= 0.8 * most]
    return min(enough, key=lambda one: (len(one.names), -one.gain.value))


def _name(one: Suspect) -> str:
    return wording.in_words(one.item.name)


def advised_reading(found: Learnt) -> SettlingReading | None:
    """Choose what to read: the quickest that settles nine tenths of what the best settles."""
    if not found.readings:
        return None
    best = found.readings[0]
    if best.settles.low <= 0.0 or best.settles.value < WORTH_READING:
        return None
    enough = [one for one in found.readings if one.settles.value >= 0.9 * best.settles.value]
    return min(enough, key=lambda one: (one.instrument.minutes, -one.settles.value))


def _read(found: Learnt) -> list[str]:
    one = advised_reading(found)
    if one is None:
        return []
    low, high = one.where
    reads = found.said.of(one.name).pair(low, high, (high - low) / 4.0)
    what = "the failure" if found.of_failure else "how near to its limits it stands"
    minutes = wording.significant(one.instrument.minutes, 2)
    return [
        f"One reading says most: {wording.in_words(one.name)} by "
        f"{wording.instrument(one.instrument.name)}, {minutes} min, settles "
        f"{round(100 * one.settles.value)} % of {what}; expect {reads}."
    ]


def _next(found: Learnt) -> list[str]:
    one = advised_trial(found)
    if one is None:
        return []
    minutes = wording.significant(one.trial.minutes, 2)
    return [f"Next trial: {one.trial.title} ({minutes} min); it would settle {_settled(one)}."]


def _settled(one: NextTrial) -> str:
    texts = []
    if one.of_part.low > 0.01:
        texts.append(f"{round(100 * one.of_part.value)} % of how near to its limits it stands")
    if one.doubts:
        name, share = one.doubts[0]
        texts.append(f"{round(100 * share.value)} % of the doubt about {wording.in_words(name)}")
    return wording.listed(texts)


def advised_trial(found: Learnt) -> NextTrial | None:
    """Choose the first trial, safe ones first, that would settle anything."""
    telling = [one for one in found.trials if one.of_part.low > 0.01 or one.doubts]
    return telling[0] if telling else None


def doubts_in_words(found: Learnt) -> list[str]:
    """Say what the trials taught of the physics."""
    if found.kept is None:
        return ["No doubt about the physics is stated, so nothing is learnt of it."]
    moved = [one for one in found.doubts if one.told >= 0.1]
    if not moved:
        texts = ["These trials say next to nothing of the physics."]
    else:
        each = [
            f"{wording.in_words(one.item.name)} lies in "
            f"{found.said.of(one.item.name).pair(*one.after, (one.after[1] - one.after[0]) / 4)}"
            for one in moved[:NAMED]
        ]
        texts = [f"Nine chances in ten: {wording.listed(each)}."]
    return texts
