"""Figures in few letters, for tables that are read on a terminal of 80 columns.

A page and the files have the same at length: a terminal's column stands beside theirs.
"""

from __future__ import annotations

import textwrap

from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.presentation import cells, wording
from sensitivity.presentation.table import Cell, Column

HEAD = 10
"""Letters of a line of a heading, unless a word has more."""
HUNDREDTHS = 2
"""Decimals of a gain of a hundred at most, where it stands alone."""

IN_BRACKETS = "In brackets: not clear of zero."


def fold(words: str, width: int) -> str:
    """Fold a text for a cell; a page runs the lines together again."""
    return "\n".join(textwrap.wrap(words, width, break_long_words=False, break_on_hyphens=False))


def heading(words: str) -> str:
    """Fold a heading, so that its column is no wider than what stands in it."""
    return fold(words, HEAD)


def share(found: Proportion | None) -> str:
    """Write a share of a hundred alone: ``27.5``, ``none`` or ``all``; empty where there is none.

    None and all are of those tried.
    """
    if found is None:
        return ""
    if found.passes == 0:
        return "none"
    if found.failures == 0:
        return "all"
    return wording.share_alone(found)


def share_with_interval(found: Proportion | None) -> str:
    """Write a share of a hundred and its interval: ``27.5 (26.6 to 28.3)``."""
    if found is None:
        return ""
    if found.passes == 0 or found.failures == 0:
        bound = wording.percent(found).partition(" %")[0]
        return f"{share(found)} ({bound})"
    return wording.percent(found).replace(" %", "")


def gain(found: Estimate | None) -> str:
    """Write a gain of a hundred alone: ``+13.5``, in brackets where it is not clear of zero.

    ``IN_BRACKETS`` says so; empty where there is none.
    """
    if found is None:
        return ""
    text = wording.gain_of_a_hundred(found).partition(" (")[0]
    if len(text.partition(".")[2]) > HUNDREDTHS:  # an interval of next to nothing
        rounded = wording.number(100.0 * found.value, HUNDREDTHS)
        text = f"+{rounded}" if float(rounded.replace("−", "-")) > 0.0 else rounded
    return text if found.low > 0.0 or found.high < 0.0 else f"({text})"


def share_columns(head: str, key: str, short: str) -> tuple[Column, Column]:
    """Head a share on a page and in files, and the same in short on a terminal."""
    return (
        Column(head, cells.interval_keys(key), seen="page"),
        Column(heading(short), right=True, seen="terminal"),
    )


def share_cells(found: Proportion | None, *, interval: bool = False) -> tuple[Cell, Cell]:
    """Write a share for a page and for a terminal; there with its interval where it is wide."""
    at_length = "" if found is None else wording.percent(found)
    return (
        Cell(at_length, cells.interval_values(found)),
        Cell(share_with_interval(found) if interval else share(found)),
    )


def gain_columns(head: str, key: str, short: str) -> tuple[Column, Column]:
    """Head a gain on a page and in files, and the same in short on a terminal."""
    return share_columns(head, key, short)


def gain_cells(found: Estimate | None) -> tuple[Cell, Cell]:
    """Write a gain for a page and for a terminal."""
    return cells.gain(found), Cell(gain(found))
