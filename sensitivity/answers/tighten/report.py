"""The report of ``tighten``: what closer tolerances buy, and the cheapest set of them."""

from __future__ import annotations

from collections.abc import Mapping

from sensitivity.answers.report import answer_page, figures_of, wanted_in_words
from sensitivity.answers.tighten.find import Halved, Tightened
from sensitivity.answers.tighten.tables import halved_table, set_table, shown_halved
from sensitivity.answers.tighten.words import (
    dimension_in_words,
    gain_in_words,
    halving_verdict,
    set_verdict,
    tighten_verdict,
)
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Figure, Items, Page, Section, Words
from sensitivity.presentation.drawing import plan_drawings
from sensitivity.pricing.allocation import Found


def tighten_page(tightened: Tightened, figures: Mapping[str, Figure], command: str) -> Page:
    """Tell the story of closer tolerances."""
    found = tightened.found
    wanted = wording.of_a_hundred(found.target) if found else ""
    many = tightened.study.vocabulary.many
    question = (
        f"The question: which tolerances to hold closer, so that {wanted} {many} keep within "
        "every limit for the least work"
        if found
        else "The question: what does it gain to hold one dimension twice as close"
    )
    return answer_page(
        tightened.study,
        tightened.plan,
        question=f"{question} ({wanted_in_words(tightened.study)})?",
        answer=tighten_verdict(tightened),
        brief=[("Hold closer", _hold_closer(tightened)), ("What it gains", _gains(tightened))],
        told=[
            Section("If one spread is halved", _halving(tightened, figures)),
            *(
                [Section(f"What reaches {wanted}", _set(tightened, found, figures))]
                if found
                else []
            ),
        ],
        how=[
            (
                "Closer tolerances:",
                "a dimension goes to a closer process of the workshop table, or to a share of its "
                "stated spread where it names none; effort is the table's bench minutes. The set "
                "is searched for on one sample and borne out on another.",
            )
        ],
        command=command,
        drawings=figures_of(plan_drawings(tightened.study, tightened.plan)),
    )


def _settled(tightened: Tightened) -> list[Halved]:
    return [row for row in tightened.halved if row.gain is not None and row.gain.low > 0.0]


def _hold_closer(tightened: Tightened) -> str:
    found = tightened.found
    if found is not None and found.steps:
        names = [dimension_in_words(step.dimension) for step in found.steps]
        text = f"{wording.listed(names)}: {found.minutes:.0f} minutes more at the bench."
        return f"{text[0].upper()}{text[1:]}"
    if found is not None and found.reached:
        return "Nothing need be closer."
    rows = _settled(tightened)[:2]
    if not rows:
        return "Nothing: halving no one spread gains anything that is settled."
    text = wording.listed([dimension_in_words(row.dimension) for row in rows])
    return f"{text[0].upper()}{text[1:]}, if anything."


def _gains(tightened: Tightened) -> str:
    drawn = wording.share_of_a_hundred(tightened.stated)
    found, many = tightened.found, tightened.study.vocabulary.many
    if found is not None:
        reached = (
            "" if found.reached else f" That is short of {wording.of_a_hundred(found.target)}."
        )
        return (
            f"{wording.share_of_a_hundred(found.overall)} of 100 {many} keep within every limit, "
            f"against {wording.share_of_a_hundred(found.as_drawn)} as drawn.{reached}"
        )
    told = f"{drawn} of 100 {many} keep within every limit as drawn."
    if not (rows := _settled(tightened)):
        return told
    name = dimension_in_words(rows[0].dimension)
    return f"{told} Halving the spread of {name} alone: {gain_in_words(rows[0])}."


def _halving(tightened: Tightened, figures: Mapping[str, Figure]) -> list[Block]:
    blocks: list[Block] = [Words(halving_verdict(tightened)), halved_table(tightened)]
    if hidden := len(tightened.halved) - len(shown_halved(tightened)):
        blocks.append(Words(f"And {hidden} more that gain nothing that is settled.", quiet=True))
    if "halved" in figures and _settled(tightened):
        blocks.append(figures["halved"])
    elif "halved" in figures:
        blocks.append(Words("No figure of the gains: none of them is clear of zero."))
    return blocks


def _set(tightened: Tightened, found: Found, figures: Mapping[str, Figure]) -> list[Block]:
    blocks: list[Block] = [
        Words(set_verdict(tightened)),
        set_table(found),
        Items(
            [
                (
                    "Another sample:",
                    f"these yields are of a sample that the search has not seen, seed "
                    f"{found.fresh_seed}.",
                ),
                (
                    "Every build dimension exactly as drawn:",
                    f"{wording.percent(found.exact)}; no care in making can do better.",
                ),
            ]
        ),
    ]
    if "set" in figures and found.steps:
        blocks.append(figures["set"])
    return blocks
