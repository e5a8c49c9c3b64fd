"""How it stands with what was measured, in shop words."""

from __future__ import annotations

from sensitivity.answers.built.find import LEVEL, Built, Part
from sensitivity.answers.finalists import of_which, physics_in_short
from sensitivity.answers.levels import sampled
from sensitivity.answers.settings_words import (
    adjustable_in_words,
    at_their_ends,
    settings_in_words,
    settings_left_out,
)
from sensitivity.presentation import wording
from sensitivity.pricing.ranking import Ranked

NAMED = 3
"""Dimensions named at most as what matters next."""

RULE = (
    "Good: the part is within its drawn spread with 95 % probability or more, given the reading "
    "and how the instrument errs. Not good: 5 % or less. Between: too close for this instrument "
    "to say (JCGM 106:2012; ISO 14253-1:2017)."
)


def built_verdict(found: Built) -> str:
    """Say in shop words how it stands, where to set it, and whether the parts are good."""
    drawn = sampled(found.drawn.works).replace(" (", ", ").replace(")", "")
    drawn += physics_in_short(found.drawn)
    unsettled = found.change.low <= 0.0 <= found.change.high
    drawn += "; no change is settled" if unsettled else ""
    return " ".join(
        [
            *settings_left_out(found.barred),
            f"Of 100 {found.study.system.vocabulary.many} that read as this one does, "
            f"{sampled(found.now.works)} {of_which(found.now)} as they stand"
            f"{physics_in_short(found.now)} ({drawn}, before anything was measured).",
            *_where_to_set(found),
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
        return [f"Leave {names} as drawn: no better setting is settled; more --points may tell."]
    text = f"Set {settings_in_words(best.at, found.study.inputs)}: "
    text += sampled(best.overall)
    text += physics_in_short(found.there) if found.there is not None else ""
    if best.level is not None and best.level[0] < best.level[1]:
        level = " to ".join(wording.significant(end) for end in best.level)
        text += f" ({wording.with_unit(level, found.settings.inputs[0].unit)} is as good)"
    ends = at_their_ends(found.settings, best.at)
    if ends:
        text += f"; that is as far as {ends} can be set"
    return [text + "."]


def _parts(found: Built) -> list[str]:
    texts = []
    for verdict, words in (("good", "As drawn"), ("not good", "Not as drawn")):
        names = [_name(part) for part in found.parts if part.conformity.verdict == verdict]
        if names:
            texts.append(f"{words}: {wording.listed(names)}.")
    for part in found.parts:
        if part.conformity.verdict == "too close to say":
            instrument = wording.instrument(part.measured.entry.name)
            deciding = wording.instrument(part.deciding_instrument)
            more = f"; {deciding} would tell" if deciding else ""
            texts.append(f"Too close for {instrument} to say: {_name(part)}{more}.")
    return texts


def _name(part: Part) -> str:
    return wording.in_words(part.measured.item.name)


def _next(found: Built) -> str:
    left = [row for row in still_to_measure(found) if row.advice == "measure"]
    if left:
        names = wording.listed([wording.in_words(row.name) for row in left[:NAMED]])
        return f"Of what is not measured yet, most hangs on {names}."
    if found.ranking.rows:
        return "Nothing else that could be measured stands out."
    return found.ranking.note


def measured_names(found: Built) -> set[str]:
    """Name the inputs that were measured, and the groups of which all were."""
    names = {part.measured.item.name for part in found.parts}
    groups: dict[str, set[str]] = {}
    for item in found.study.varying:
        groups.setdefault(item.shown_group, set()).add(item.name)
    return names | {group for group, members in groups.items() if members <= names}


def still_to_measure(found: Built) -> list[Ranked]:
    """Rank the build dimensions that were not measured, what matters most first."""
    done = measured_names(found)
    return [row for row in found.ranking.of_kind("build") if row.name not in done]


def coarse_in_words(found: Built) -> list[str]:
    """Name each instrument that says less of its dimension than the drawing does."""
    return [
        f"A {wording.instrument(part.measured.entry.name)} says less of {_name(part)} than the "
        f"drawing does ({part.measured.item.stated}): read it closer, or leave the reading out."
        for part in found.parts
        if part.coarse
    ]
