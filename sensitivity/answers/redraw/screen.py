"""What a terminal shows of ``redraw``: where to draw what, what small moves gain, the verdict."""

from __future__ import annotations

from sensitivity.answers import narrow
from sensitivity.answers.finalists import levels_in_words
from sensitivity.answers.redraw.find import Redrawn
from sensitivity.answers.redraw.tables import moves_table, nominals_table, shown_slopes
from sensitivity.answers.redraw.words import next_after_redrawing, redraw_verdict
from sensitivity.presentation.blocks import Block, Items, Words


def redraw_screen(found: Redrawn) -> list[Block]:
    """Tell where to draw what."""
    sampling, many = found.plan.sampling, found.study.vocabulary.many
    blocks: list[Block] = [
        Words(
            f"{sampling.replicates} replicates of {sampling.points} points, the same {many} for "
            f"every move; seed {found.plan.seed}, borne out on seed {found.fresh_seed}",
            quiet=True,
        )
    ]
    if found.moves:
        blocks.append(moves_table(found))
    blocks.append(nominals_table(found))
    if hidden := len(found.slopes) - len(shown_slopes(found)):
        blocks.append(Words(f"and {hidden} more of which a move gains next to nothing", quiet=True))
    blocks.append(Words(f"{ONE_WAY} {narrow.IN_BRACKETS}", quiet=True))
    told = [("", f"As drawn: {levels_in_words(found.stated, many)}.")]
    if found.moves:
        told.append(("", f"As redrawn: {levels_in_words(found.there, many)}."))
    told.append(("", redraw_verdict(found)))
    if onward := next_after_redrawing(found):
        told.append(("", onward))
    return [*blocks, Items(told)]


ONE_WAY = (
    "A small move is half a standard deviation of the spread, which moves along, or the finest "
    "step stated; below zero it gains the other way."
)
