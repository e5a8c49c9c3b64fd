"""The report of ``built``: how it stands with what was measured of it."""

from __future__ import annotations

from collections.abc import Mapping

from sensitivity.answers.built.find import Built
from sensitivity.answers.built.tables import (
    matters_table,
    parts_table,
    told_table,
    yields_table,
)
from sensitivity.answers.built.words import (
    RULE,
    built_verdict,
    coarse_in_words,
)
from sensitivity.answers.finalists import of_which, physics_in_short
from sensitivity.answers.levels import sampled
from sensitivity.answers.report import answer_page, figures_of, wanted_in_words
from sensitivity.answers.settings_words import settings_in_words
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Figure, Page, Section, Words
from sensitivity.presentation.drawing import plan_drawings


def built_page(found: Built, figures: Mapping[str, Figure], command: str) -> Page:
    """Tell how it stands with what was measured."""
    said = found.study.system.vocabulary
    return answer_page(
        found.study,
        found.plan,
        question=(
            f"The question: with what was measured so far, how likely is this {said.one} to work, "
            "what still matters, and where to set it? Wanted at once: "
            f"{wanted_in_words(found.study)}."
        ),
        answer=built_verdict(found),
        brief=[
            ("How it stands", _stands(found)),
            ("Measure next", _next(found)),
        ],
        act=Section("What matters now", _matters(found)),
        told=[
            Section(
                "What was measured",
                [
                    parts_table(found),
                    *(Words(words) for words in coarse_in_words(found)),
                    figures["built"],
                ],
                "Each reading, against the drawing",
            ),
            *_told(found),
            Section("How likely it works", [yields_table(found)], "Before and now, and set well"),
        ],
        how=[
            ("Good or not:", RULE),
            (
                "A measured part:",
                "is what the drawing says of it and what was read, each by what it can tell; with "
                "a fine instrument that is the reading. A reading of a result tells of all that it "
                "is made of, together. Where a reading contradicts the drawing, the latter is "
                "widened.",
            ),
        ],
        command=command,
        drawings=figures_of(plan_drawings(found.study, found.plan, "As measured")),
    )


def _stands(found: Built) -> str:
    many = found.study.system.vocabulary.many
    text = (
        f"{sampled(found.now.works)} of 100 {many} that read like this one {of_which(found.now)}"
        f"{physics_in_short(found.now)}, against {sampled(found.drawn.works)} before anything was "
        "measured."
    )
    if found.set_well is not None:
        where = settings_in_words(found.set_well.at, found.said)
        text += f" With {where}: {sampled(found.set_well.overall)}."
    return text


def _next(found: Built) -> str:
    most = [one for one in found.matters if one.most][:2]
    if not most:
        return "No other reading has a clear gain."
    told = [
        f"{wording.in_words(one.item.name)} ({wording.gain_of_a_hundred(one.gain)} of 100, known)"
        for one in most
    ]
    text = wording.listed(told)
    return f"{text[0].upper()}{text[1:]}."


def _told(found: Built) -> list[Section]:
    if not found.told:
        return []
    title = "What the readings say of the rest"
    return [Section(title, [told_table(found)], "Dimensions that were not measured")]


def _matters(found: Built) -> list[Block]:
    if not found.matters:
        return [Words("Nothing is left to measure.")]
    return [matters_table(found)]
