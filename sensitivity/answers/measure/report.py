"""The report of ``measure``: in which order to measure, with what, and what that gains."""

from __future__ import annotations

from collections.abc import Mapping

from sensitivity.answers.finalists import physics_in_short
from sensitivity.answers.levels import levels_table, sampled
from sensitivity.answers.measure.find import Measuring
from sensitivity.answers.measure.tables import alone_table, order_table, rejection_table
from sensitivity.answers.measure.words import (
    RULE,
    as_drawn_it_reads,
    as_physics_may_turn_out,
    at_best,
    does,
    gains_in_words,
    measure_verdict,
    said_in_words,
    without_gain_in_words,
)
from sensitivity.answers.report import answer_page, figures_of, wanted_in_words
from sensitivity.answers.settings_words import adjustable_in_words
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Figure, Page, Section, Words
from sensitivity.presentation.drawing import plan_drawings


def measure_page(found: Measuring, figures: Mapping[str, Figure], command: str) -> Page:
    """Tell the story of an order of measuring."""
    set_to_suit, said = found.set_well is not None, found.study.system.vocabulary
    return answer_page(
        found.study,
        found.plan,
        question=(
            "The question: what to measure, in which order and with what, so that the "
            f"most {said.many} work ({wanted_in_words(found.study)})?"
        ),
        answer=measure_verdict(found),
        brief=[("Measure first", _first(found)), ("What it gains", _gains(found))],
        act=Section(
            "In which order to measure",
            [
                Words(
                    f"After each reading {adjustable_in_words(found.settings)} is set to suit "
                    "what has been read."
                    if set_to_suit
                    else f"Nothing can be set; what a reading can still do is to keep a "
                    f"{said.one} {said.unused} that is likelier to fail than to work, and have "
                    "it remade."
                ),
                order_table(found),
                *([Words(reads)] if (reads := as_drawn_it_reads(found)) else []),
                *([Words(words)] if (words := said_in_words(found)) else []),
            ],
        ),
        told=[
            Section(
                "What each step gains",
                [
                    Words(gains_in_words(found), quiet=True),
                    figures["measuring"],
                    levels_table(found.levels, found.study),
                ],
                "Step by step, with what the physics does not know",
            ),
            Section("Each reading by itself", _alone(found), "What one reading alone gains"),
            *(
                [
                    Section(
                        "If nothing is set to suit",
                        [rejection_table(found, at_best(found))],
                        f"What is likelier to fail is kept {said.unused}",
                    )
                ]
                if set_to_suit
                else []
            ),
        ],
        how=[("Order:", RULE)],
        command=command,
        drawings=figures_of(plan_drawings(found.study, found.plan)),
    )


def _first(found: Measuring) -> str:
    if not found.steps:
        return "Nothing is worth measuring by itself."
    named = [
        f"{wording.in_words(step.name)} ({wording.instrument(step.reading.instrument)}, "
        f"{step.reading.minutes:g} min)"
        for step in found.steps[:2]
    ]
    text = f"{wording.listed(named)}."
    more = len(found.steps) - len(named)
    return f"{text[0].upper()}{text[1:]}" + (f" Then {more} more." if more else "")


def _gains(found: Measuring) -> str:
    before, said = sampled(found.as_drawn), found.study.system.vocabulary
    if not found.steps:
        return f"Nothing: {before} of 100 {said.many} {does(found)}, measured or not."
    of = said.many if found.set_well is not None else f"{said.many} that are then {said.used}"
    return (
        f"{sampled(found.final)} of 100 {of} {does(found)}{as_physics_may_turn_out(found)}, "
        f"against {before} as drawn{physics_in_short(found.levels)}, for {found.minutes:g} minutes "
        "of measuring."
    )


def _alone(found: Measuring) -> list[Block]:
    others = without_gain_in_words(found)
    table = [alone_table(found)] if any(row.settled for row in found.candidates) else []
    return [*table, *([Words(others)] if others else [])]
