"""The report of ``redraw``: which nominals to draw elsewhere, and what that rests on."""

from __future__ import annotations

from collections.abc import Mapping

from sensitivity.answers.finalists import levels_in_words, of_which
from sensitivity.answers.levels import levels_table
from sensitivity.answers.redraw.find import Redrawn
from sensitivity.answers.redraw.screen import ONE_WAY
from sensitivity.answers.redraw.tables import moves_table, nominals_table, shown_slopes
from sensitivity.answers.redraw.words import move_in_words, redraw_verdict
from sensitivity.answers.report import answer_page, figures_of, wanted_in_words
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Figure, Page, Section, Words
from sensitivity.presentation.drawing import plan_drawings


def redraw_page(found: Redrawn, figures: Mapping[str, Figure], command: str) -> Page:
    """Tell the story of a drawing and where it is best moved."""
    many = found.study.vocabulary.many
    act: list[Block] = [moves_table(found)] if found.moves else [Words(_elsewhere(found))]
    told = [Section("What small moves gain", _slopes(found, figures), "Each nominal by itself")]
    if found.moves:
        folded = "What they gain together, and with each left out"
        told.insert(0, Section("The moves together", _moves(found, figures), folded))
    return answer_page(
        found.study,
        found.plan,
        question=f"The question: which nominals to draw elsewhere, so that most {many} work, which "
        f"is to {of_which(found.stated)} ({wanted_in_words(found.study)})?",
        answer=redraw_verdict(found),
        brief=[("Draw elsewhere", _elsewhere(found)), ("What it gains", _gains(found))],
        act=Section("What to draw elsewhere", act),
        told=told,
        how=[
            (
                "Moves:",
                "the best joint move within the ranges and steps that the study states is searched "
                "for at moments taken at random, moves that gain next to nothing are given up, "
                f"and the shortest that is level with the best in {many} that work is taken. It is "
                f"borne out on a sample that the search has not seen, seed {found.fresh_seed}.",
            )
        ],
        command=command,
        drawings=figures_of(plan_drawings(found.study, found.plan)),
    )


def _elsewhere(found: Redrawn) -> str:
    if not found.moves:
        return "Nothing." if found.tried else "Nothing: no nominal has a range stated."
    text = wording.listed([move_in_words(found, move) for move in found.moves])
    return f"{text[0].upper()}{text[1:]}."


def _gains(found: Redrawn) -> str:
    many = found.study.vocabulary.many
    as_drawn = levels_in_words(found.stated, many)
    if not found.moves:
        return f"As drawn {as_drawn}."
    return f"{levels_in_words(found.there, many)}. As drawn {as_drawn}."


def _moves(found: Redrawn, figures: Mapping[str, Figure]) -> list[Block]:
    blocks: list[Block] = [levels_table(found.there, found.study)]
    return [*blocks, *([figures["moves"]] if "moves" in figures else [])]


def _slopes(found: Redrawn, figures: Mapping[str, Figure]) -> list[Block]:
    blocks: list[Block] = [nominals_table(found)]
    if hidden := len(found.slopes) - len(shown_slopes(found)):
        blocks.append(
            Words(f"And {hidden} more of which a move gains next to nothing.", quiet=True)
        )
    blocks.append(Words(ONE_WAY, quiet=True))
    return [*blocks, *([figures["nominals"]] if "nominals" in figures else [])]
