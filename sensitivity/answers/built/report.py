"""The report of ``built``: how a burner stands with what was measured of it."""

from __future__ import annotations

from collections.abc import Mapping
from math import isnan

from sensitivity.answers.built.find import Built, Part
from sensitivity.answers.built.words import RULE, built_verdict, still_to_measure
from sensitivity.answers.measure.words import setting_in_words
from sensitivity.answers.ranking_tables import MEASURES
from sensitivity.answers.report import answer_page, figures_of, wanted_in_words
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Figure, Page, Section, Words
from sensitivity.presentation.blocks import PlainTable as Table
from sensitivity.presentation.drawing import plan_drawings
from sensitivity.presentation.page import render
from sensitivity.spreads.workshop import deviation_in_words


def built_report(found: Built, figures: Mapping[str, str], command: str) -> str:
    """Write the report of a burner that is partly measured as HTML."""
    return render(_page(found, figures, command))


def _page(found: Built, figures: Mapping[str, str], command: str) -> Page:
    return answer_page(
        found.study,
        found.plan,
        question=(
            "The question: with what was measured so far, how likely is this burner to work, what "
            f"still matters, and where to set it? Wanted at once: {wanted_in_words(found.study)}."
        ),
        answer=built_verdict(found),
        brief=[
            ("How it stands", _stands(found)),
            ("Measure next", _next(found)),
        ],
        told=[
            Section("What was measured", _parts(found, figures)),
            Section("How likely it works", [_yields(found)]),
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
    text = (
        f"{wording.share_of_a_hundred(found.now)} of 100 burners that read like this one keep "
        f"within every limit, against {wording.share_of_a_hundred(found.as_drawn)} before "
        "anything was measured."
    )
    if found.set_well is not None:
        where = setting_in_words(found.set_well.at, found.study.inputs)
        text += f" With {where}: {wording.share_of_a_hundred(found.set_well.overall)}."
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


def _parts(found: Built, figures: Mapping[str, str]) -> list[Block]:
    head = ["dimension", "drawn between", "read", "with", "out by", "is as drawn, %", "verdict"]
    rows = [
        [
            wording.in_words(part.measured.item.name),
            _tolerance(part),
            part.measured.words,
            wording.in_words(part.measured.entry.name),
            deviation_in_words(part.measured.entry),
            _probability(part.conformity.probability),
            part.conformity.verdict,
        ]
        for part in found.parts
    ]
    blocks: list[Block] = [Table("Each reading, and whether the part is as drawn", head, rows)]
    blocks += [
        Words(
            f"A {wording.in_words(part.measured.entry.name)} says less of "
            f"{wording.in_words(part.measured.item.name)} than the drawing does "
            f"({part.measured.item.stated}): read it closer, or leave the reading out."
        )
        for part in found.parts
        if part.coarse
    ]
    words = "Each reading in its drawn spread, with how far the instrument may be out"
    one_setting = found.settings is not None and len(found.settings.inputs) == 1
    return [
        *blocks,
        Figure(
            "built",
            figures["built"],
            f"{words}; below, the yield at each setting, as measured" if one_setting else words,
        ),
    ]


def _tolerance(part: Part) -> str:
    if part.conformity.tolerance is None:
        return "no tolerance"
    low, high = part.conformity.tolerance
    return wording.value_range(low, high, part.measured.item.unit, (high - low) / 4.0)


def _probability(value: float) -> str:
    if isnan(value):
        return ""
    if 0.001 <= value <= 0.999:
        return f"{100.0 * value:.1f}"
    return "below 0.1" if value < 0.5 else "above 99.9"


def _yields(found: Built) -> Table:
    standing = ""
    if found.settings is not None:
        drawn = {item.name: item.nominal for item in found.settings.inputs}
        standing = f", {setting_in_words(drawn, found.study.inputs)}"
    rows = [
        ["as drawn, nothing measured", "", wording.percent(found.as_drawn)],
        [
            f"as measured{standing}",
            wording.gain_of_a_hundred(found.change),
            wording.percent(found.now),
        ],
    ]
    if found.best is not None:
        where = setting_in_words(found.best.at, found.study.inputs)
        rows.append(
            [
                f"as measured, {where}",
                wording.gain_of_a_hundred(found.best.gain),
                wording.percent(found.best.overall),
            ]
        )
    head = ["which", "gains, of 100", "keeps within every limit"]
    return Table("Before and after measuring", head, rows)


def _matters(found: Built) -> list[Block]:
    rows = still_to_measure(found)
    if not rows:
        return [Words(found.ranking.note or "Nothing is left to measure.")]
    at = ""
    if found.set_well is not None:
        at = f", with {setting_in_words(found.set_well.at, found.study.inputs)}"
    head = ["dimension", "drawn", "spread", MEASURES[found.ranking.measured_by], "advice"]
    cells = [
        [wording.in_words(r.name), r.drawn, r.spread, wording.index(r.measure), r.advice]
        for r in rows
    ]
    note = [Words(found.ranking.note)] if found.ranking.note else []
    return [*note, Table(f"Not measured yet: what matters now{at}", head, cells)]
