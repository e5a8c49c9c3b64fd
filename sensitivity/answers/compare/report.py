"""The report of ``compare``: several designs under the same limits, and why they differ."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sensitivity.answers.assumptions import assumptions
from sensitivity.answers.compare.find import Compared, Comparison
from sensitivity.answers.compare.tables import (
    causes_tables,
    contest_tables,
    reasons_tables,
    works_table,
    yields_table,
)
from sensitivity.answers.compare.words import (
    band_in_words,
    comparison_verdict,
    on_nobody,
    telling_limit,
    working,
    works_in_words,
)
from sensitivity.answers.doubts import doubt_in_brief, doubts_section
from sensitivity.answers.report import drawing_section, on_sampling, wanted_in_words
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Figure, Folded, Items, Page, Section, Words
from sensitivity.presentation.drawing import plan_drawings
from sensitivity.presentation.page import cautions_section, repeat_section


def comparison_page(found: Comparison, figures: Mapping[str, Figure], command: str) -> Page:
    """Tell the story of a comparison."""
    first, plan = found.first, found.plans[0]
    names = [design.study.name for design in found.designs]
    many = first.study.vocabulary.many
    return Page(
        f"{wording.listed(names)} compared",
        f"The question: as which of these designs do most {many} work, and why? Wanted "
        f"at once of each: {wanted_in_words(first.study)}.",
        comparison_verdict(found),
        [
            ("How likely each works", _likely(found)),
            ("What makes the difference", _difference(first, found.others)),
            ("What is in doubt", doubt_in_brief(first.study)),
        ],
        [
            *drawing_section(_drawings(found), many),
            Section(
                "What was assumed",
                [
                    Folded(f"{d.study.name}: {d.study.title}", assumptions(d.study))
                    for d in found.designs
                ],
            ),
            Section(
                "Results against the limits",
                [works_table(found), yields_table(found), *figures.values()],
            ),
            Section("Why they differ", _why(found)),
            *_on_nobody(found),
            Section("How sure this is", [Items(on_sampling(plan.sampling, many))]),
            Section("What the physics does not know", _doubts(found.designs)),
            cautions_section(first.study.vocabulary),
            repeat_section(
                command,
                plan.seed,
                {design.study.name: design.study.text for design in found.designs},
            ),
        ],
    )


def _likely(found: Comparison) -> str:
    listed = "; ".join(f"{d.study.name}: {working(d.levels)} of 100" for d in found.designs)
    text = f"{listed} {works_in_words(found)}."
    bands = [
        f"{design.study.name} {band_in_words(design.levels)}"
        for design in found.designs
        if design.levels.band is not None
    ]
    return f"{text} As the physics may turn out: {wording.listed(bands)}." if bands else text


def _difference(first: Compared, others: Sequence[Compared]) -> str:
    parts = []
    for design in others:
        limit = telling_limit(first, design)
        parts.append(
            f"{design.study.name} against {first.study.name}: mostly {wording.in_words(limit)}, "
            f"{wording.points_of_percent(design.differences[limit])}"
        )
    at_random = "" if first.levels.one_level else " at a moment taken at random"
    return f"{'; '.join(parts)}{at_random}."


def _drawings(found: Comparison) -> list[Figure]:
    drawn = []
    for design, plan in zip(found.designs, found.plans, strict=True):
        study = design.study
        for name, (svg, words) in plan_drawings(study, plan).items():
            drawn.append(Figure(f"{name}_{study.name}", svg, f"{study.name}. {words}"))
    return drawn


def _why(found: Comparison) -> list[Block]:
    return [
        Words(
            "What differs is put into the first design one at a time, all else as it is there, on "
            "the same samples: what changes is that difference's own. What only one of the designs "
            "has cannot be put into the other alone; of that, what moves a result is the standard "
            "deviation that each causes alone."
        ),
        *reasons_tables(found),
        *causes_tables(found),
    ]


def _on_nobody(found: Comparison) -> list[Section]:
    told: list[Block] = [
        *(Words(sentence) for sentence in on_nobody(found)),
        *contest_tables(found),
    ]
    return [Section("On nobody's figure", told)] if told else []


def _doubts(compared: Sequence[Compared]) -> list[Block]:
    alike = {
        tuple(item for item in design.study.varying if item.kind == "model") for design in compared
    }
    if len(alike) == 1:
        return doubts_section(compared[0].study)
    return [Folded(d.study.name, doubts_section(d.study)) for d in compared]
