"""All printing to the terminal. Nothing else in the engine knows of a screen."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from typing import Literal

from rich import box
from rich.console import Console
from rich.table import Table

PIPED_WIDTH = 110


def console() -> Console:
    """A console on standard output; wide enough for the tables where nobody is watching."""
    width = None if sys.stdout.isatty() else PIPED_WIDTH
    return Console(width=width, highlight=False, soft_wrap=False)


def say_error(message: str) -> None:
    """Print one error on standard error, plain."""
    Console(stderr=True, highlight=False, soft_wrap=True, markup=False).print(
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
