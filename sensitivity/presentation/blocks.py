"""What an answer is told in: paragraphs, lists, tables and figures, as plain values.

The terminal, the report and a notebook write the same blocks; nothing here knows how.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple, Union

from sensitivity.presentation.table import Table


class Words(NamedTuple):
    """A paragraph; what is of a screen alone is not printed."""

    text: str
    quiet: bool = False
    on_paper: bool = True
    kind: str = "words"


class Items(NamedTuple):
    """A list; each item is words, or a lead and words."""

    items: Sequence[tuple[str, str]]
    ordered: bool = False
    kind: str = "items"


class PlainTable(NamedTuple):
    """A table of text alone: what it shows, its headings, its rows."""

    caption: str
    head: Sequence[str]
    rows: Sequence[Sequence[str]]
    kind: str = "plain table"


class Figure(NamedTuple):
    """A figure as SVG text, its name among the files, and what it shows in words."""

    name: str
    svg: str
    words: str
    kind: str = "figure"

    def _repr_svg_(self) -> str:
        """Show itself in a notebook."""
        return self.svg[self.svg.index("<svg") :]


class View(NamedTuple):
    """One view of a labelled drawing as SVG text, its name, and what its numbers are, if said."""

    name: str
    svg: str
    numbers: Sequence[tuple[int, str]] = ()
    words: str = ""

    @property
    def legend(self) -> str:
        """Each number and what it is, in a row."""
        return ", ".join(f"{number} {words}" for number, words in self.numbers)


class Views(NamedTuple):
    """The views of a labelled drawing, and what they show.

    Attributes
    ----------
    columns : sequence of sequence of View
        That stand side by side where there is room, and under each other where there is none.
    words : str
        For a caption.
    aspect : float
        Width over height of them all, side by side.
    apart : bool
        Whether they are more than could be read on paper on a part of a sheet.
    """

    columns: Sequence[Sequence[View]]
    words: str
    aspect: float
    apart: bool = False
    kind: str = "views"

    @property
    def legend(self) -> str:
        """What all numbers are, in their order; empty where it is not said."""
        views = [view for column in self.columns for view in column]
        return View("", "", sorted(pair for view in views for pair in view.numbers)).legend


class Verbatim(NamedTuple):
    """Text as it is, such as a command or a study."""

    text: str
    kind: str = "verbatim"


class Folded(NamedTuple):
    """Blocks behind a line that unfolds them."""

    summary: str
    blocks: Sequence[Block]
    kind: str = "folded"


Block = Union[Words, Items, Table, PlainTable, Figure, Views, Verbatim, "Folded"]


class Section(NamedTuple):
    """A part of the story under its heading.

    Attributes
    ----------
    title : str
        Its heading.
    blocks : sequence of Block
        What stands under it.
    folded : str
        The line that unfolds it on a screen; none where it stands open.
    on_paper : bool
        Whether it is printed while it is folded.
    """

    title: str
    blocks: Sequence[Block]
    folded: str = ""
    on_paper: bool = True

    @property
    def anchor(self) -> str:
        """What a link to it names."""
        return re.sub(r"[^a-z0-9]+", "-", self.title.lower()).strip("-")


class Page(NamedTuple):
    """A whole report: a first page that stands alone, and the rest folded behind it.

    Attributes
    ----------
    title, question, answer : str
        What it is of, what was asked, and the verdict.
    brief : sequence of (str, str)
        What a reader in a hurry must know beside the verdict: leads and words.
    drawings : sequence of Figure or Views
        What the first page shows: one, or one of each design.
    first : sequence of Section
        The rest of the first page: what to do, what it hangs on, cautions.
    sections : sequence of Section
        What stands behind it, folded.
    card : bool
        Whether a bench card stands beside it.
    sheet : Views or None
        A drawing of more views than a part of the first page shows: a sheet behind it.
    """

    title: str
    question: str
    answer: str
    brief: Sequence[tuple[str, str]]
    drawings: Sequence[Figure | Views]
    first: Sequence[Section]
    sections: Sequence[Section]
    card: bool = False
    sheet: Views | None = None


class Card(NamedTuple):
    """A bench card, one sheet: what to make to what, what to gauge, where to set it.

    Attributes
    ----------
    title : str
        Of the design.
    verdict : str
        How many work, in a sentence.
    drawing : Figure, Views or None
        With its sketch numbers.
    make, holds : sequence of PlainTable
        What to make, and the limits that show that it works: pieces to stand side by side.
    making : str
        What the letters and marks in ``make`` mean.
    act : sequence of Block
        What to gauge and where to set it, in order.
    cautions : str
        Of the trade.
    apart : bool
        Whether the drawing is a second sheet: it has more views than can be read on a part of one.
    """

    title: str
    verdict: str
    drawing: Figure | Views | None
    make: Sequence[PlainTable]
    making: str
    act: Sequence[Block]
    holds: Sequence[PlainTable]
    cautions: str
    apart: bool = False
