"""The report of ``measure``: in which order to measure, with what, and what that gains."""

from __future__ import annotations

from collections.abc import Mapping

from sensitivity.answers.measure.find import Measuring, Step
from sensitivity.answers.measure.words import (
    RULE,
    adjustable_in_words,
    measuring_verdict,
    setting_in_words,
    share_in_words,
)
from sensitivity.answers.report import answer_page, figures_of, wanted_in_words
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Figure, Page, Section, Words
from sensitivity.presentation.blocks import PlainTable as Table
from sensitivity.presentation.drawing import plan_drawings
from sensitivity.presentation.page import render
from sensitivity.pricing.readings import Candidate


def measuring_report(found: Measuring, figures: Mapping[str, str], command: str) -> str:
    """Write the report of an order of measuring as HTML."""
    return render(_page(found, figures, command))


def _page(found: Measuring, figures: Mapping[str, str], command: str) -> Page:
    set_to_suit = found.set_well is not None
    return answer_page(
        found.study,
        found.plan,
        question=(
            "The question: which dimensions to measure, in which order and with what, so that the "
            f"most burners keep within every limit ({wanted_in_words(found.study)})?"
        ),
        answer=measuring_verdict(found),
        brief=[("Measure first", _first(found)), ("What it gains", _gains(found))],
        told=[
            Section(
                "In which order to measure",
                [
                    Words(
                        f"After each reading {adjustable_in_words(found)} is set to suit what has "
                        "been read."
                        if set_to_suit
                        else "Nothing can be set; what a reading can still do is to keep a burner "
                        "unlit that is likelier to fail than to work, and have it remade."
                    ),
                    _order(found),
                    *_beyond(found),
                    Figure(
                        "measuring",
                        figures["measuring"],
                        "Yield after each reading in turn, and what each dimension gains by "
                        "itself, with intervals",
                    ),
                ],
            ),
            Section("Each dimension by itself", _alone(found)),
            *([Section("If nothing is set to suit", _unlit(found))] if set_to_suit else []),
        ],
        how=[("Order:", RULE)],
        command=command,
        drawings=figures_of(plan_drawings(found.study, found.plan)),
    )


def _first(found: Measuring) -> str:
    if not found.steps:
        return "No dimension is worth measuring by itself."
    named = [
        f"{wording.in_words(step.name)} ({wording.in_words(step.reading.instrument)}, "
        f"{step.reading.minutes:g} min)"
        for step in found.steps[:2]
    ]
    text = f"{wording.listed(named)}."
    more = len(found.steps) - len(named)
    return f"{text[0].upper()}{text[1:]}" + (f" Then {more} more." if more else "")


def _gains(found: Measuring) -> str:
    before = wording.share_of_a_hundred(found.as_drawn)
    if not found.steps:
        return f"Nothing: {before} of 100 burners keep within every limit, measured or not."
    of = "burners" if found.set_well is not None else "burners that are then lit"
    return (
        f"{wording.share_of_a_hundred(found.final)} of 100 {of} keep within every limit, against "
        f"{before} as drawn, for {found.minutes:g} minutes of measuring."
    )


def _order(found: Measuring) -> Table:
    if found.set_well is None or found.settings is None:
        head = [
            "measured",
            "with",
            "minutes",
            "gains, of 100",
            "not lit",
            "of those lit keep within",
        ]
        rows = [["nothing, all lit", "", "", "", "", wording.percent(found.as_drawn)]]
        rows += [[*_reading(n, s), *_unlit_cells(s)] for n, s in enumerate(found.steps, start=1)]
        return Table("Measure in this order, and remake what is likelier to fail", head, rows)
    drawn = {item.name: item.nominal for item in found.settings.inputs}
    head = ["measured", "with", "minutes", "gains, of 100", "keeps within every limit"]
    at_drawing = setting_in_words(drawn, found.study.inputs)
    at_best = setting_in_words(found.set_well.at, found.study.inputs)
    gain = wording.gain_of_a_hundred(found.set_well.gain)
    rows = [
        [f"nothing, {at_drawing} as drawn", "", "", "", wording.percent(found.as_drawn)],
        [f"nothing, {at_best}", "", "", gain, wording.percent(found.set_well.overall)],
    ]
    for place, step in enumerate(found.steps, start=1):
        assert step.overall is not None
        rows.append([*_reading(place, step), wording.percent(step.overall)])
    return Table(f"Measure in this order, and set {adjustable_in_words(found)} to suit", head, rows)


def _reading(place: int, step: Step) -> list[str]:
    reading = step.reading
    return [
        f"{place}. {wording.in_words(step.name)}",
        wording.in_words(reading.instrument),
        f"{reading.minutes:g}",
        wording.gain_of_a_hundred(reading.gain),
    ]


def _unlit_cells(step: Step) -> list[str]:
    unlit = step.unlit
    return [
        "all" if unlit.share.failures == 0 else wording.percent(unlit.share),
        share_in_words(unlit.lit),
    ]


def _beyond(found: Measuring) -> list[Block]:
    if found.ceiling is None:
        return []
    return [
        Words(
            f"No measuring can do better than {wording.percent(found.ceiling)}: the others work at "
            f"no {adjustable_in_words(found)} that can be set.",
            quiet=True,
        )
    ]


def _alone(found: Measuring) -> list[Block]:
    shown = [row for row in found.candidates if row.settled]
    others = [wording.in_words(row.name) for row in found.candidates if not row.settled]
    blocks: list[Block] = []
    if shown:
        head = ["dimension", "gains if known exactly, of 100", "with", "minutes", "gains, of 100"]
        blocks.append(
            Table(
                "What one reading is worth, nothing else being measured",
                head,
                [_candidate(row) for row in shown],
            )
        )
    if others:
        blocks.append(Words(f"No gain by themselves: {wording.listed(others)}."))
    return blocks


def _candidate(row: Candidate) -> list[str]:
    cells = [wording.in_words(row.name), wording.gain_of_a_hundred(row.perfect)]
    if row.advised is None:
        none = "none reads it close enough" if row.readings else "no instrument in the table"
        return [*cells, none, "", ""]
    return [
        *cells,
        wording.in_words(row.advised.instrument),
        f"{row.advised.minutes:g}",
        wording.gain_of_a_hundred(row.advised.gain),
    ]


def _unlit(found: Measuring) -> list[Block]:
    assert found.set_well is not None
    where = setting_in_words(found.set_well.at, found.study.inputs)
    rows = [["nothing, all lit", "", wording.percent(found.set_well.overall)]]
    rows += [
        [f"{place}. {wording.in_words(step.name)}", *_unlit_cells(step)]
        for place, step in enumerate(found.steps, start=1)
    ]
    return [
        Words(
            f"With {where} for all burners, and those remade that the readings show likelier to "
            "fail than to work:"
        ),
        Table(
            "Measured, and not set to suit",
            ["measured so far", "not lit", "of those lit keep within every limit"],
            rows,
        ),
    ]
