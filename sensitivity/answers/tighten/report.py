"""The report of ``tighten``: what closer tolerances buy, and the cheapest set of them."""

from __future__ import annotations

from collections.abc import Mapping

from sensitivity.answers.finalists import levels_in_words, of_which
from sensitivity.answers.levels import levels_table, sampled
from sensitivity.answers.report import answer_page, figures_of, wanted_in_words
from sensitivity.answers.tighten.find import Tightened
from sensitivity.answers.tighten.tables import halved_table, set_table, shown_halved
from sensitivity.answers.tighten.words import (
    dimension_in_words,
    gain_in_words,
    halving_verdict,
    set_verdict,
    settled_rows,
    tighten_verdict,
    unpriced_in_words,
    worth_in_words,
)
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Figure, Items, Page, Section, Words
from sensitivity.presentation.drawing import plan_drawings
from sensitivity.pricing.allocation_found import Found


def tighten_page(tightened: Tightened, figures: Mapping[str, Figure], command: str) -> Page:
    """Tell the story of closer tolerances."""
    found = tightened.found
    wanted = wording.of_a_hundred(found.target) if found else ""
    many = tightened.study.vocabulary.many
    question = (
        f"The question: which tolerances to hold closer, so that {wanted} {many} work, which is to "
        f"{of_which(found.there)}, for the least effort"
        if found
        else "The question: what does it gain to hold one dimension twice as close"
    )
    return answer_page(
        tightened.study,
        tightened.plan,
        question=f"{question} ({wanted_in_words(tightened.study)})?",
        answer=tighten_verdict(tightened),
        brief=[("Hold closer", _hold_closer(tightened)), ("What it gains", _gains(tightened))],
        act=_act(tightened),
        told=[
            Section(
                "If one spread is halved", _halving(tightened, figures), "What each gains alone"
            ),
            *(
                [
                    Section(
                        f"What reaches {wanted}",
                        _set(tightened, found, figures),
                        "How it was found, and what it gains",
                    )
                ]
                if found
                else []
            ),
        ],
        how=[
            (
                "Closer tolerances:",
                "a dimension goes to a closer process of the workshop table, or to a share of its "
                "stated spread where it names none; effort is the table's bench minutes. The set "
                "is searched for on one sample, at moments taken at random and then in "
                f"{many} that work, and borne out on another with one step less and one more.",
            )
        ],
        command=command,
        drawings=figures_of(plan_drawings(tightened.study, tightened.plan)),
    )


def _act(tightened: Tightened) -> Section:
    """What to hold closer, as a table: the set that was found, or each spread halved alone."""
    found = tightened.found
    if found is not None and found.steps:
        return Section(
            "What to hold closer", [Words(set_verdict(tightened)), set_table(found, tightened.said)]
        )
    said = [Words(halving_verdict(tightened))]
    return Section(
        "What to hold closer",
        [*said, halved_table(tightened)] if settled_rows(tightened) else said,
    )


def _hold_closer(tightened: Tightened) -> str:
    found = tightened.found
    if found is not None and found.steps:
        names = [dimension_in_words(step.dimension) for step in found.steps]
        text = f"{wording.listed(names)}: {found.minutes:.0f} minutes more at the bench."
        return f"{text[0].upper()}{text[1:]}"
    if found is not None and found.reached:
        return "Nothing need be closer."
    rows = settled_rows(tightened)[:2]
    if not rows:
        return "Nothing: halving no one spread gains anything that is clear of zero."
    text = wording.listed([dimension_in_words(row.dimension) for row in rows])
    return f"{text[0].upper()}{text[1:]}, if anything."


def _gains(tightened: Tightened) -> str:
    found, many, levels = tightened.found, tightened.study.vocabulary.many, tightened.levels
    if found is not None:
        reached = (
            "" if found.reached else f" That is short of {wording.of_a_hundred(found.target)}."
        )
        return (
            f"{levels_in_words(found.there, many)}; as drawn {sampled(found.as_drawn.works)} "
            f"work.{reached}"
        )
    if levels is None:
        share = wording.share_of_a_hundred(tightened.stated)
        told = f"At a moment taken at random {share} of 100 {many} keep every limit as drawn."
    else:
        told = f"As drawn {levels_in_words(levels, many)}."
    if not (rows := settled_rows(tightened)):
        return told
    name = dimension_in_words(rows[0].dimension)
    gain = worth_in_words(rows[0]) or gain_in_words(rows[0])
    return f"{told} Halving the spread of {name} alone: {gain}."


def _halving(tightened: Tightened, figures: Mapping[str, Figure]) -> list[Block]:
    blocks: list[Block] = [Words(halving_verdict(tightened)), halved_table(tightened)]
    if hidden := len(tightened.halved) - len(shown_halved(tightened)):
        blocks.append(
            Words(f"And {hidden} more that gain nothing that is clear of zero.", quiet=True)
        )
    if empty := unpriced_in_words(tightened, shown_halved(tightened)):
        blocks.append(Words(empty, quiet=True))
    if "halved" in figures and settled_rows(tightened):
        blocks.append(figures["halved"])
    elif "halved" in figures:
        blocks.append(Words("No figure of the gains: none of them is clear of zero."))
    return blocks


def _set(tightened: Tightened, found: Found, figures: Mapping[str, Figure]) -> list[Block]:
    blocks: list[Block] = [
        Words(set_verdict(tightened)),
        set_table(found, tightened.said),
        levels_table(found.there, tightened.study),
        Items(
            [
                (
                    "Another sample:",
                    f"these figures are of a sample that the search has not seen, seed "
                    f"{found.fresh_seed}.",
                ),
                (
                    "Every build dimension exactly as drawn:",
                    f"{wording.percent(found.exact.works)} work; no care in making can do better.",
                ),
            ]
        ),
    ]
    if "set" in figures and found.steps:
        blocks.append(figures["set"])
    return blocks
