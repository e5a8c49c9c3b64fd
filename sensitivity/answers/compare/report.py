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
    comparison_verdict,
    telling_limit,
)
from sensitivity.answers.doubts import doubt_in_brief, doubts_section
from sensitivity.answers.report import (
    doubts_folded,
    drawing_section,
    hangs_section,
    how_sure_section,
    on_sampling,
    wanted_in_words,
)
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Figure, Folded, Page, Section, Words
from sensitivity.presentation.drawing import plan_drawings
from sensitivity.presentation.page import cautions_section, repeat_section


def comparison_page(found: Comparison, figures: Mapping[str, Figure], command: str) -> Page:
    """Tell the story of a comparison."""
    first, plan = found.first, found.plans[0]
    names = [design.study.name for design in found.designs]
    many = first.study.vocabulary.many
    shown, behind = _first_of_each(found)
    return Page(
        f"{wording.listed(names)} compared",
        f"The question: as which of these designs do most {many} work, and why? Wanted "
        f"at once of each: {wanted_in_words(first.study)}.",
        comparison_verdict(found),
        [("What makes the difference", _difference(first, found.others))],
        shown,
        [
            Section("How likely each works", [works_table(found)]),
            hangs_section([doubt_in_brief(first.study)]),
            cautions_section(first.study.vocabulary),
        ],
        [
            Section(
                "Results against the limits",
                [yields_table(found), *figures.values()],
                "How often each design keeps each limit",
            ),
            Section("Why they differ", _why(found), "Each difference put in by itself"),
            *_unsourced(found),
            *drawing_section(behind, many),
            Section(
                "What was assumed",
                [
                    Folded(f"{d.study.name}: {d.study.title}", assumptions(d.study))
                    for d in found.designs
                ],
                "Every input of each design",
                on_paper=False,
            ),
            doubts_folded(_doubts(found.designs)),
            how_sure_section(on_sampling(plan.sampling, many)),
            repeat_section(
                command,
                plan.seed,
                {design.study.name: design.study.text for design in found.designs},
            ),
        ],
    )


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


def _first_of_each(found: Comparison) -> tuple[list[Figure], list[Figure]]:
    """Draw each design: the first drawing of each, and all others."""
    shown: list[Figure] = []
    behind: list[Figure] = []
    for design, plan in zip(found.designs, found.plans, strict=True):
        study = design.study
        drawn = [
            Figure(f"{name}_{study.name}", svg, f"{study.name}. {words}")
            for name, (svg, words) in plan_drawings(study, plan).items()
        ]
        shown += drawn[:1]
        behind += drawn[1:]
    return shown, behind


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


def _unsourced(found: Comparison) -> list[Section]:
    folded = "Each halved and doubled"
    tables = contest_tables(found)
    return [Section("Spreads without a source", tables, folded, False)] if tables else []


def _doubts(compared: Sequence[Compared]) -> list[Block]:
    alike = {
        tuple(item for item in design.study.varying if item.kind == "model") for design in compared
    }
    if len(alike) == 1:
        return doubts_section(compared[0].study)
    return [Folded(d.study.name, doubts_section(d.study)) for d in compared]
