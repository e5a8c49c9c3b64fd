"""Tables in CSV, read strictly: what could be read two ways is refused with its remedy.

The first line names the columns; lines that begin with ``#`` are remarks. Columns stand between
commas, or between semicolons, and then a comma may be the decimal sign. No message says what
stands in the file: it may not be the file that was meant.
"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from difflib import get_close_matches

from sensitivity.errors import SpiritlevelError

MOST_COLUMNS = 1000
LONGEST_NAME = 100
DECIMAL_COMMAS = (
    "a decimal comma wants semicolons between the columns; or write the number with a point"
)
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_WITH_COMMA = re.compile(r"^([+-]?[0-9]*),([0-9]+)(?![0-9.,])")


class CsvError(SpiritlevelError):
    """A table that cannot be read, or could be read in more than one way."""


@dataclass(frozen=True, slots=True)
class CsvTable:
    """Columns by name and rows with the line each stands on, as text without outer spaces.

    ``decimal_comma`` tells that columns are separated by semicolons, so that a comma inside a
    number is its decimal sign.
    """

    columns: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    decimal_comma: bool

    def column(self, name: str) -> tuple[tuple[int, str], ...]:
        """Cells of one column, each with its line; a decimal comma is written as a point.

        Parameters
        ----------
        name : str
            As the first line has it.

        Returns
        -------
        tuple of (int, str)
            Line and cell, in the order of the rows.

        Raises
        ------
        CsvError
            Where there is no such column; the nearest is told by its place.
        """
        if name not in self.columns:
            names = [column[:LONGEST_NAME] for column in self.columns]
            close = get_close_matches(name[:LONGEST_NAME], names, n=1, cutoff=0.6)
            near = f"; column {names.index(close[0]) + 1} is nearest to it" if close else ""
            raise CsvError(
                f'no column "{name}" among the {len(names)} that its first line names{near}'
            )
        place = self.columns.index(name)
        return tuple((line, self._pointed(cells[place])) for line, cells in self.rows)

    def _pointed(self, cell: str) -> str:
        return _WITH_COMMA.sub(r"\1.\2", cell) if self.decimal_comma else cell


def read_csv(text: str, *, most_rows: int) -> CsvTable:
    """Read a table.

    Parameters
    ----------
    text : str
        The file's text.
    most_rows : int
        Rows beyond which it is refused.

    Raises
    ------
    CsvError
        Where a row has other cells than the first line names, a column is named twice, a
        quotation mark never closes, there are too many rows, or there is no table at all.
    """
    ends = text.replace("\r\n", "\n").replace("\r", "\n")
    kept = [
        (number, line)
        for number, line in enumerate(ends.split("\n"), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not kept:
        raise CsvError("there is nothing in it")
    if len(kept) - 1 > most_rows:
        raise CsvError(f"more than {most_rows:,} rows")
    separator = ";" if ";" in kept[0][1] else ","
    reader = csv.reader(
        (line for _, line in kept),
        delimiter=separator,
        skipinitialspace=True,
        strict=True,
    )
    found: list[tuple[int, tuple[str, ...]]] = []
    try:
        for cells in reader:
            line = kept[reader.line_num - 1][0]
            found.append((line, tuple(cell.strip() for cell in cells)))
    except csv.Error:
        line = kept[max(reader.line_num, 1) - 1][0]
        raise CsvError(f"line {line} is not CSV; look for a quotation mark") from None
    columns = found[0][1]
    _check_columns(columns)
    rows = tuple((line, _filled(line, cells, columns, separator)) for line, cells in found[1:])
    return CsvTable(columns, rows, decimal_comma=separator == ";")


def _check_columns(columns: tuple[str, ...]) -> None:
    if len(columns) > MOST_COLUMNS:
        raise CsvError(f"more than {MOST_COLUMNS:,} columns")
    first: dict[str, int] = {}
    for place, name in enumerate(columns, start=1):
        if name and first.setdefault(name, place) != place:
            raise CsvError(f"one column is named twice: the first is {first[name]}, then {place}")


def _filled(
    line: int, cells: tuple[str, ...], columns: tuple[str, ...], separator: str
) -> tuple[str, ...]:
    """Refuse a row longer than the first line; fill up one that is shorter."""
    if len(cells) > len(columns):
        remedy = f"; {DECIMAL_COMMAS}" if separator == "," else ""
        raise CsvError(
            f"line {line} has {len(cells)} values where the first line names {len(columns)} "
            f"column{'s' if len(columns) > 1 else ''}{remedy}"
        )
    return cells + ("",) * (len(columns) - len(cells))


def plain_number(text: str) -> float:
    """Read a number in ASCII digits with a decimal point; raise ValueError on anything else.

    Parameters
    ----------
    text : str
        Without spaces or a unit.

    Raises
    ------
    ValueError
        On anything else.
    """
    if not _NUMBER.fullmatch(text):
        raise ValueError("not a number")
    return float(text)
