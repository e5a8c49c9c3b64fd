"""How it stands with what was measured, in shop words."""

from __future__ import annotations

from sensitivity.answers.built.conformity import Verdict
from sensitivity.answers.built.find import LEVEL, Built, Part
from sensitivity.answers.built.knowledge import Widened
from sensitivity.answers.built.matters import Matter
from sensitivity.answers.built.readings import Measured
from sensitivity.answers.finalists import of_which, physics_in_short
from sensitivity.answers.levels import sampled
from sensitivity.answers.next_commands import Ask, next_in_words
from sensitivity.answers.settings_words import (
    adjustable_in_words,
    at_their_ends,
    settings_in_words,
    settings_left_out,
)
from sensitivity.learning.words import conflict_in_words
from sensitivity.presentation import wording
from sensitivity.presentation.units_said import Said
from sensitivity.spreads.shape_words import shape_in_words
from sensitivity.study.study import Input

NAMED = 3
"""Dimensions named at most as what matters next."""

RULE = (
    "As drawn: the part is within its drawn spread with 95 % probability or more, given the "
    "reading and how the instrument errs. Not as drawn: it is beyond an end of it with 95 %. "
    "Between: too close for this instrument to say (JCGM 106:2012; ISO 14253-1:2017)."
)
SAID: dict[Verdict, str] = {
    "good": "as drawn",
    "not good": "not as drawn",
    "too close to say": "too close to say",
    "no tolerance": "",
}
WIDE = 0.3
"""Width of the band from which the doubt is named that most of it hangs on."""
FEW = 0.5
"""Share that works below which parts as drawn are said to be no comfort."""


def built_verdict(found: Built) -> str:
    """Say in shop words how it stands, where to set it, and whether the parts are good."""
    drawn = sampled(found.drawn.works).replace(" (", ", ").replace(")", "")
    drawn += physics_in_short(found.drawn)
    unsettled = found.change.low <= 0.0 <= found.change.high
    drawn += "; no clear change" if unsettled else ""
    return " ".join(
        [
            *settings_left_out(found.barred),
            *believed_in_words(found),
            f"Of 100 {found.study.system.vocabulary.many} that read as this one does, "
            f"{sampled(found.now.works)} {of_which(found.now)} as they stand"
            f"{physics_in_short(found.now)} ({drawn}, before anything was measured).",
            *_where_to_set(found),
            *_physics(found),
            *_parts(found),
            _next(found),
        ]
    )


def _where_to_set(found: Built) -> list[str]:
    if found.best is None or found.settings is None:
        return []
    names = adjustable_in_words(found.settings)
    best = found.set_well
    if best is None:
        if found.best.gain.high < LEVEL:
            return [f"Leave {names} as drawn: no setting is better."]
        return [f"Leave {names} as drawn: no other is clearly better; more --points may tell."]
    text = f"Set {settings_in_words(best.at, found.said)}: "
    text += sampled(best.overall)
    text += physics_in_short(found.there) if found.there is not None else ""
    if best.level is not None and best.level[0] < best.level[1]:
        manner = found.said.of(found.settings.inputs[0].name)
        text += f" ({manner.pair(*best.level)} is as good)"
    ends = at_their_ends(found.settings, best.at)
    if ends:
        text += f"; that is as far as {ends} can be set"
    return [text + "."]


def _physics(found: Built) -> list[str]:
    """Name the doubt of the physics that most of what is left hangs on, where there is one."""
    levels = found.there if found.set_well is not None and found.there is not None else found.now
    band = levels.band
    if band is None or band.leading is None or band.high.value - band.low.value < WIDE:
        return []
    return [f"Of what the physics does not know, {wording.in_words(band.leading[0])} counts most."]


def _parts(found: Built) -> list[str]:
    texts = [contradicted_in_words(one) for one in found.widened]
    for verdict, words in (("good", "As drawn"), ("not good", "Not as drawn")):
        names = [_name(part) for part in found.parts if part.conformity.verdict == verdict]
        if not names:
            continue
        text = f"{words}: {wording.listed(names)}"
        if verdict == "good" and _at_best(found) < FEW:
            text += ", but even so most that are made of such parts fail"
        texts.append(text + ".")
    for part in found.parts:
        if part.conformity.verdict == "too close to say":
            instrument = wording.instrument(part.measured.entry.name)
            deciding = wording.instrument(part.deciding_instrument)
            more = f"; {deciding} would tell" if deciding else ""
            texts.append(f"Too close for {instrument} to say: {_name(part)}{more}.")
    return texts


def _at_best(found: Built) -> float:
    return found.now.value if found.set_well is None else found.set_well.overall.value


def contradicted_in_words(one: Widened) -> str:
    """Say that a reading contradicts what is stated of its dimension, and what was made of that."""
    name = wording.in_words(one.measured.item.name)
    return (
        f"{name[0].upper()}{name[1:]} reads {one.measured.words}, which is seen less than once in "
        f"a hundred as stated: read it again. What is stated of it was taken "
        f"{wording.significant(one.factor, 2)} times as wide here."
    )


def errs_in_words(said: Said, one: Measured) -> str:
    """Write how an instrument may be out, in the study's units: ``± 1.2 thou, normal``."""
    strays, size = said.spread_of(one.item.name), one.size
    low, high = size.low - one.value, size.high - one.value
    if abs(low + high) > 1e-6 * (high - low):
        return f"{strays.rough(low)} to {strays.rough(high)}"
    return f"± {strays.rough(high)}, {shape_in_words(size.shape)}"


def _name(part: Part) -> str:
    return wording.in_words(part.measured.item.name)


def _next(found: Built) -> str:
    most = [one for one in found.matters if one.most]
    if most:
        names = wording.listed([wording.in_words(one.item.name) for one in most[:NAMED]])
        return f"Measure next, for most depends on it: {names}."
    if found.matters:
        return "No other reading has a clear gain."
    return "Nothing is left to measure."


def advice(one: Matter) -> str:
    """Say in a word what to do about something that was not measured."""
    if one.most:
        return "measure"
    return "worth something" if one.settled else "no clear gain"


def coarse_in_words(found: Built) -> list[str]:
    """Name each instrument that says less of its dimension than the drawing does."""
    return [
        f"A {wording.instrument(part.measured.entry.name)} says less of {_name(part)} than the "
        f"drawing does ({found.said.stated(part.measured.item)}), which counts for more here."
        for part in found.parts
        if part.coarse and isinstance(part.measured.item, Input)
    ]


def believed_in_words(found: Built) -> list[str]:
    """Say that readings were believed in spite of a conflict."""
    if not found.known.conflict.there:
        return []
    text = conflict_in_words(found.known.plan, found.known.conflict).partition(" Look again")[0]
    return [f"Taken as read in spite of a conflict (--believe): {text}"]


def next_after_reading(found: Built) -> str:
    """Say what to ask next: what the first lighting tells."""
    learn = Ask("learn", "takes what is seen when it is tried", " --trials TRIALS.toml")
    return next_in_words(found.study, "built", learn)
