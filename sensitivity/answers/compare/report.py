"""The report of ``compare``: several designs under the same limits, and why they differ."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from sensitivity.answers.assumptions import assumptions
from sensitivity.answers.compare.find import Compared, comparison_verdict, telling_limit
from sensitivity.answers.doubts import doubt_in_brief, doubts_section
from sensitivity.answers.report import drawing_section, on_sampling, wanted_in_words
from sensitivity.engine.plan import plan_run
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Figure, Folded, Items, Page, Section, Words
from sensitivity.presentation.blocks import PlainTable as Table
from sensitivity.presentation.drawing import plan_drawings
from sensitivity.presentation.page import cautions_section, render, repeat_section
from sensitivity.study.study import Sampling

CAUSES = 6
"""Causes of a result's spread that are named for each design."""


def comparison_report(
    compared: Sequence[Compared], sampling: Sampling, figures: Mapping[str, str], command: str
) -> str:
    """Write the report of a comparison as HTML."""
    return render(_page(compared, sampling, figures, command))


def _page(
    compared: Sequence[Compared], sampling: Sampling, figures: Mapping[str, str], command: str
) -> Page:
    first, others = compared[0], compared[1:]
    names = [design.study.name for design in compared]
    assert sampling.seed is not None
    return Page(
        f"{wording.listed(names)} compared",
        "The question: which of these designs keeps within its limits most often, and why? Wanted "
        f"at once of each: {wanted_in_words(first.study)}.",
        " ".join(comparison_verdict(first, design) for design in others),
        [
            ("How likely each works", _likely(compared)),
            ("What makes the difference", _difference(first, others)),
            ("What is in doubt", doubt_in_brief(first.study)),
        ],
        [
            *drawing_section(_drawings(compared, sampling)),
            Section(
                "What was assumed",
                [
                    Folded(f"{d.study.name}: {d.study.title}", assumptions(d.study))
                    for d in compared
                ],
            ),
            Section("Results against the limits", [_yields(compared), *_figure(figures)]),
            Section("Why they differ", _why(compared)),
            Section("How sure this is", [Items(on_sampling(sampling))]),
            Section("What the physics does not know", _doubts(compared)),
            cautions_section(),
            repeat_section(
                command,
                sampling.seed,
                {design.study.name: design.study.text for design in compared},
            ),
        ],
    )


def _likely(compared: Sequence[Compared]) -> str:
    return (
        "; ".join(
            f"{design.study.name}: {wording.share_of_a_hundred(design.overall)} of 100"
            for design in compared
        )
        + " keep within every limit."
    )


def _difference(first: Compared, others: Sequence[Compared]) -> str:
    parts = []
    for design in others:
        limit = telling_limit(first, design)
        parts.append(
            f"{design.study.name} against {first.study.name}: mostly {wording.in_words(limit)}, "
            f"{wording.points_of_percent(design.differences[limit])}"
        )
    return f"{'; '.join(parts)}."


def _drawings(compared: Sequence[Compared], sampling: Sampling) -> list[Figure]:
    found = []
    for design in compared:
        study = design.study
        plan = plan_run(replace(study, sampling=replace(sampling, target_half_width=None)))
        for name, (svg, words) in plan_drawings(study, plan).items():
            found.append(Figure(f"{name}_{study.name}", svg, f"{study.name}. {words}"))
    return found


def _yields(compared: Sequence[Compared]) -> Table:
    head = ["limit", compared[0].study.name]
    for design in compared[1:]:
        head += [design.study.name, f"{design.study.name} less {compared[0].study.name}"]
    rows = []
    for name in (*compared[0].shares, ""):
        row = [wording.in_words(name) if name else "all limits together"]
        for design in compared:
            row.append(wording.percent(design.shares[name] if name else design.overall))
            if design.overall_difference is not None:
                difference = design.differences[name] if name else design.overall_difference
                row.append(wording.points_of_percent(difference))
        rows.append(row)
    return Table("How many burners keep within each limit", head, rows)


def _figure(figures: Mapping[str, str]) -> list[Block]:
    words = "Burners that keep within each limit and all of them, in each design, with intervals"
    return [Figure(name, svg, words) for name, svg in figures.items()]


def _why(compared: Sequence[Compared]) -> list[Block]:
    first = compared[0]
    units = {limit.result: limit.unit for limit in first.study.limits}
    blocks: list[Block] = [
        Words(
            "What moves a result, each input or group alone: the standard deviation that it "
            "causes, largest first. A result whose indices are refused has none."
        )
    ]
    told = list(dict.fromkeys(telling_limit(first, design) for design in compared[1:]))
    for limit in told:
        head = ["", *(design.study.name for design in compared)]
        head[0] = f"{wording.in_words(limit)}, {units[limit] or 'a pure number'}"
        rows = [["mean", *(wording.measured(design.means[limit]) for design in compared)]]
        for place in range(CAUSES):
            causes = [list(design.causes.get(limit, {}).items()) for design in compared]
            if all(place >= len(each) for each in causes):
                break
            rows.append(
                [
                    f"cause {place + 1}",
                    *(
                        f"{wording.in_words(each[place][0])} {wording.measured(each[place][1])}"
                        if place < len(each)
                        else ""
                        for each in causes
                    ),
                ]
            )
        blocks.append(Table(f"What moves {wording.in_words(limit)}", head, rows))
    return blocks


def _doubts(compared: Sequence[Compared]) -> list[Block]:
    alike = {
        tuple(item for item in design.study.varying if item.kind == "model") for design in compared
    }
    if len(alike) == 1:
        return doubts_section(compared[0].study)
    return [Folded(d.study.name, doubts_section(d.study)) for d in compared]
