"""All printing to the terminal. Nothing else in the engine knows of a screen."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from typing import Any, Literal

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

PIPED_WIDTH = 110


class _PlainConsole(Console):
    """A console that shows words as they stand, whatever a study has in them."""

    def on_broken_pipe(self) -> None:
        """Leave it to the boundary: a reader that has gone is no fault."""
        raise BrokenPipeError

    def render_str(self, text: str, **options: Any) -> Text:
        """Take no brackets or colons for markup, and let no control character through."""
        options |= {"markup": False, "emoji": False, "highlight": False}
        return super().render_str(_printable(text), **options)


def _printable(text: str) -> str:
    return "".join(
        letter if letter.isprintable() or letter == "\n" else "\ufffd" for letter in text
    )


def console() -> Console:
    """A console on standard output; wide enough for the tables where nobody is watching."""
    reconfigure = getattr(sys.stdout, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="replace")  # an old code page has no minus sign
    # rich reads the terminal's width, and COLUMNS where it is set.
    width = None if sys.stdout.isatty() or "COLUMNS" in os.environ else PIPED_WIDTH
    return _PlainConsole(width=width, highlight=False, markup=False, emoji=False)


def say_error(message: str) -> None:
    """Print one error on standard error, plain."""
    reconfigure = getattr(sys.stderr, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="replace")
    _PlainConsole(stderr=True, highlight=False, soft_wrap=True, markup=False, emoji=False).print(
        f"spiritlevel: {message}"
    )


def new_table(title: str, *columns: str, right: Iterable[int] = ()) -> Table:
    """Start a table with its columns; those in ``right`` are set to the right."""
    table = Table(title=title, title_justify="left", title_style="bold", box=box.SIMPLE_HEAD)
    wanted = set(right)
    for place, column in enumerate(columns):
        justify: Literal["left", "right"] = "right" if place in wanted else "left"
        # A name is copied into studies, so it is never cut; what explains it may fold.
        table.add_column(column, justify=justify, overflow="fold", no_wrap=place == 0)
    return table
