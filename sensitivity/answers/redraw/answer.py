"""The answer of ``redraw``, as one value."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from sensitivity.answers.answer import Answer
from sensitivity.answers.redraw.document import redraw_body
from sensitivity.answers.redraw.find import Redrawn, find_redraw
from sensitivity.answers.redraw.screen import redraw_screen
from sensitivity.answers.redraw.tables import moves_table, nominals_table
from sensitivity.answers.redraw.words import redraw_verdict
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.presentation.blocks import Block, Figure, Page
from sensitivity.presentation.table import Table
from sensitivity.study.study import Study


@dataclass(frozen=True, repr=False)
class RedrawAnswer(Answer[Redrawn]):
    """What small moves of the nominals gain, and where to draw them, together."""

    command: ClassVar[str] = "redraw"

    @property
    def verdict(self) -> str:
        """What to draw elsewhere, and what then works."""
        return redraw_verdict(self.found)

    def screen(self) -> Sequence[Block]:
        """The moves, what small moves gain, and the verdict."""
        return redraw_screen(self.found)

    def page(self) -> Page:
        """The write-up."""
        from sensitivity.answers.redraw.report import redraw_page

        return redraw_page(self.found, self.drawings, self.repeat)

    def body(self) -> dict[str, Any]:
        """Moves and slopes as plain values."""
        return redraw_body(self.found)

    def _sheets(self) -> Sequence[Table]:
        moves = [moves_table(self.found)] if self.found.moves else []
        return [*moves, nominals_table(self.found)]

    def _drawn(self) -> Sequence[Figure]:
        from sensitivity.answers.redraw.figures import redraw_figures

        return redraw_figures(self.found)


def redraw(study: Study, *, options: RunOptions = DEFAULTS) -> RedrawAnswer:
    """Find which nominals to draw elsewhere, within what the study allows.

    Parameters
    ----------
    study : Study
        With limits; ``redraw`` beside an input states where it may be drawn.
    options : RunOptions
        How much is sampled, by whom, and who is told.

    Returns
    -------
    RedrawAnswer
        What a small move of each nominal gains, and the best joint move, borne out by a fresh
        sample.

    Raises
    ------
    CallError
        Where the study has no limits, or nothing that is drawn and made.
    """
    asked = options.asked_of(study)
    return RedrawAnswer(find_redraw(asked, options=options))
