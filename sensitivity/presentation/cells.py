"""Cells of tables: what a number reads as, and the values behind it, decided once."""

from __future__ import annotations

from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.presentation import wording
from sensitivity.presentation.table import Cell, Column

NOTHING = Cell()


def words(text: str) -> Cell:
    """A cell for readers alone."""
    return Cell(text)


def text(value: str) -> Cell:
    """A cell of text that is filed as it reads."""
    return Cell(value, (value,))


def named(name: str) -> Cell:
    """A name, in plain words for a reader and as it is in files."""
    return Cell(wording.in_words(name), (name,))


def filed(*values: object) -> Cell:
    """A cell for files alone."""
    return Cell("", values)


def read_as(reads: str, *values: object) -> Cell:
    """A cell that reads one way and is filed as values."""
    return Cell(reads, values)


def interval_column(head: str, key: str, *, right: bool = False) -> Column:
    """A column of estimates: the value and the ends of its interval, under ``key``."""
    return Column(head, interval_keys(key), right=right)


def interval_keys(key: str) -> tuple[str, str, str]:
    """Names of an estimate and of the ends of its interval in files."""
    return key, f"{key}_low", f"{key}_high"


def interval_values(value: Estimate | Proportion | None) -> tuple[float | None, ...]:
    """Lay out an estimate and the ends of its interval; three times None where there is none."""
    return (None, None, None) if value is None else (value.value, value.low, value.high)


def percent(share: Proportion) -> Cell:
    """A probability as a percentage with its interval."""
    return Cell(wording.percent(share), interval_values(share))


def gain(difference: Estimate | None) -> Cell:
    """A difference of two yields, as parts of a hundred."""
    reads = "" if difference is None else wording.gain_of_a_hundred(difference)
    return Cell(reads, interval_values(difference))


def index(value: Estimate, *, settled: bool = True) -> Cell:
    """An index with its interval, or that it is not settled."""
    return Cell(wording.index(value, settled=settled), interval_values(value))
