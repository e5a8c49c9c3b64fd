"""What an answer is told in: paragraphs, lists, tables and figures, as plain values.

The terminal, the report and a notebook write the same blocks; nothing here knows how.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple, Union

from sensitivity.presentation.table import Table


class Words(NamedTuple):
    """A paragraph."""

    text: str
    quiet: bool = False
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


class Verbatim(NamedTuple):
    """Text as it is, such as a command or a study."""

    text: str
    kind: str = "verbatim"


class Folded(NamedTuple):
    """Blocks behind a line that unfolds them."""

    summary: str
    blocks: Sequence[Block]
    kind: str = "folded"


Block = Union[Words, Items, Table, PlainTable, Figure, Verbatim, "Folded"]


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
    drawings : sequence of Figure
        What the first page shows: one, or one of each design.
    first : sequence of Section
        The rest of the first page: what to do, what it hangs on, cautions.
    sections : sequence of Section
        What stands behind it, folded.
    card : bool
        Whether a bench card stands beside it.
    """

    title: str
    question: str
    answer: str
    brief: Sequence[tuple[str, str]]
    drawings: Sequence[Figure]
    first: Sequence[Section]
    sections: Sequence[Section]
    card: bool = False
