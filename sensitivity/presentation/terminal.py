"""All printing to the terminal. Nothing else in the engine knows of a screen."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Sequence
from typing import Any, Literal

from rich import box
from rich.console import Console
from rich.table import Table as Grid
from rich.text import Text

from sensitivity.presentation.blocks import Block, Items, Verbatim, Words
from sensitivity.presentation.table import Table
from sensitivity.presentation.texts import shown

PIPED_WIDTH = 110
GAP = 3
"""Columns of a terminal between two columns of a table."""
NAMES, LONG_HEAD = 36, 14
"""Letters of a name that are kept on one line, and of a heading."""
NARROWEST = 20
"""Columns below which nothing can be read; some terminals and scripts say 0."""


class _PlainConsole(Console):
    """A console that shows words as they stand, whatever a study has in them."""

    def on_broken_pipe(self) -> None:
        """Leave it to the boundary: a reader that has gone is no fault."""
        raise BrokenPipeError

    def render_str(self, text: str, **options: Any) -> Text:
        """Take no brackets or colons for markup, and let nothing through that cannot be seen."""
        options |= {"markup": False, "emoji": False, "highlight": False}
        return super().render_str(shown(text), **options)


def console() -> Console:
    """A console on standard output; wide enough for the tables where nobody is watching."""
    reconfigure = getattr(sys.stdout, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="replace")  # an old code page has no minus sign
    return _PlainConsole(width=_width(), highlight=False, markup=False, emoji=False)


def _width() -> int | None:
    """Width to print in; None where rich may ask the terminal, or COLUMNS, itself."""
    asked = os.environ.get("COLUMNS", "")
    if asked.isdigit() and int(asked) >= NARROWEST:
        return None
    if not sys.stdout.isatty():
        return PIPED_WIDTH
    try:
        found = os.get_terminal_size(sys.stdout.fileno()).columns
    except OSError:
        return PIPED_WIDTH
    return max(found, NARROWEST)


def say_error(message: str) -> None:
    """Print one error on standard error, plain."""
    reconfigure = getattr(sys.stderr, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="replace")
    _PlainConsole(stderr=True, highlight=False, soft_wrap=True, markup=False, emoji=False).print(
        f"spiritlevel: {message}"
    )


def new_table(title: str, *columns: str, right: Iterable[int] = ()) -> Grid:
    """Start a table with its columns; those in ``right`` are set to the right."""
    table = Grid(
        title=title,
        title_justify="left",
        title_style="bold",
        box=box.SIMPLE_HEAD,
        show_edge=False,
        pad_edge=False,
    )
    wanted = set(right)
    for place, column in enumerate(columns):
        justify: Literal["left", "right"] = "right" if place in wanted else "left"
        # A name is copied into studies, so it is never cut; what explains it may fold.
        table.add_column(column, justify=justify, overflow="fold", no_wrap=place == 0)
    return table


def show(title: str, blocks: Iterable[Block], *closing: str) -> None:
    """Print an answer: its title, its blocks, and quiet lines that close it.

    Figures stand in files, and what a page folds is not for a terminal.
    """
    out = console()
    out.print(title, style="bold")
    out.print()
    for block in blocks:
        _show(out, block)
    for line in closing:
        out.print(line, style="dim")


def _show(out: Console, block: Block) -> None:
    match block:
        case Words():
            out.print(block.text, style="dim" if block.quiet else "")
            out.print()
        case Items():
            for lead, words in block.items:
                out.print(f"{lead} {words}".strip())
            out.print()
        case Table():
            out.print(_grid(block, out.width))
            if block.rest:
                out.print(block.rest)
            out.print()
        case Verbatim():
            out.print(block.text)
            out.print()
        case _:
            pass


def _grid(table: Table, width: int) -> Grid:
    columns, rows = table.columns_on_terminal, table.rows_on_terminal
    right = [place for place, column in enumerate(columns) if column.right]
    heads = [column.head for column in columns]
    cells = [[texts[place] for texts, _ in rows] for place in range(len(columns))]
    widest = _widest(heads, cells)
    if sum(widest) + GAP * (len(widest) - 1) > width:
        heads = [_folded(head) for head in heads]
    grid = new_table(table.title, *heads, right=right)
    for column, head, each in zip(grid.columns, heads, cells, strict=True):
        column.no_wrap = column.no_wrap and max(map(_length, each), default=0) <= NAMES
        # A word or a number is never split, as long as there is room at all.
        words = [word for text in (head, *each) for word in text.split()]
        column.min_width = min(max(map(len, words), default=1), NAMES)
    widest = _widest(heads, cells)
    least = [
        each if column.no_wrap else min(column.min_width or 1, each)
        for column, each in zip(grid.columns, widest, strict=True)
    ]
    text = _widest([max(head.split(), key=len, default="") for head in heads], cells)
    if sum(least) + GAP * (len(least) - 1) <= width < sum(widest) + GAP * (len(widest) - 1):
        for column, room in zip(grid.columns, _fitted(widest, text, least, width), strict=True):
            column.width = room
    for texts, ruled in rows:
        if ruled:
            grid.add_section()
        grid.add_row(*texts)
    return grid


def _widest(heads: Sequence[str], cells: Sequence[Sequence[str]]) -> list[int]:
    """The longest line of each column."""
    return [max(map(_length, (head, *each))) for head, each in zip(heads, cells, strict=True)]


def _fitted(
    widest: Sequence[int], text: Sequence[int], least: Sequence[int], width: int
) -> list[int]:
    """Give each column its room: headings are folded first, then where most can be folded.

    No column gets less than its longest word, or numbers would be cut; ``least`` fit.
    """
    rooms = list(widest)
    for floor in (text, least):
        while sum(rooms) + GAP * (len(rooms) - 1) > width:
            spare = [room - low for room, low in zip(rooms, floor, strict=True)]
            if max(spare) <= 0:
                break
            rooms[spare.index(max(spare))] -= 1
    return rooms


def _length(text: str) -> int:
    return max(map(len, text.split("\n")))


def _folded(head: str) -> str:
    """Fold a heading that is one long name at the underscore nearest to its middle."""
    places = [place for place, letter in enumerate(head) if letter == "_"]
    if len(head) <= LONG_HEAD or " " in head or not places:
        return head
    at = min(places, key=lambda place: abs(place - len(head) / 2))
    return f"{head[:at]}\n{head[at:]}"


def write_document(text: str) -> None:
    """Write what is read again by a program, JSON or a study: in UTF-8 whatever the locale."""
    reconfigure = getattr(sys.stdout, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(encoding="utf-8")
    sys.stdout.write(text)
