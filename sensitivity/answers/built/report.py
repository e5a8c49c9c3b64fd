"""The report of ``built``: how it stands with what was measured of it."""

from __future__ import annotations

from collections.abc import Mapping

from sensitivity.answers.built.find import Built
from sensitivity.answers.built.tables import matters_table, parts_table, yields_table
from sensitivity.answers.built.words import (
    RULE,
    built_verdict,
    coarse_in_words,
    still_to_measure,
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
        told=[
            Section(
                "What was measured",
                [
                    parts_table(found),
                    *(Words(words) for words in coarse_in_words(found)),
                    figures["built"],
                ],
            ),
            Section("How likely it works", [yields_table(found)]),
            Section("What matters now", _matters(found)),
        ],
        how=[
            ("Good or not:", RULE),
            (
                "A measured part:",
                "is believed to be what was read, spread as its instrument errs; what the drawing "
                "said of it is left out.",
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
        where = settings_in_words(found.set_well.at, found.study.inputs)
        text += f" With {where}: {sampled(found.set_well.overall)}."
    return text


def _next(found: Built) -> str:
    rows = [row for row in still_to_measure(found) if row.advice == "measure"][:2]
    if rows:
        text = wording.listed([f"{wording.in_words(row.name)} ({row.spread})" for row in rows])
        return f"{text[0].upper()}{text[1:]}."
    return (
        "Nothing else that could be measured stands out."
        if found.ranking.rows
        else found.ranking.note
    )


def _matters(found: Built) -> list[Block]:
    if not still_to_measure(found):
        return [Words(found.ranking.note or "Nothing is left to measure.")]
    note = [Words(found.ranking.note)] if found.ranking.note else []
    return [*note, matters_table(found)]
