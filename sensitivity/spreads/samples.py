"""Measured values in CSV files beside a study: read once, from its own folder, within caps."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sensitivity.errors import QuantityError
from sensitivity.quantities.csv_table import (
    DECIMAL_COMMAS,
    CsvError,
    CsvTable,
    plain_number,
    read_csv,
)
from sensitivity.quantities.text_files import UnreadableError, as_text, inside, read_regular
from sensitivity.quantities.units import conversion, pint_expression

Floats = NDArray[np.float64]

FEWEST_VALUES = 5
MOST_VALUES = 5_000
"""Values of one column; thousands say no more of a spread than that."""
MOST_VALUES_OF_A_STUDY = 10_000
LARGEST_FILE = 1 << 20
LARGEST_FILES_OF_A_STUDY = 4 << 20


class SampleFiles:
    """The files of measured values that one study names.

    It keeps what was read, so that several inputs may name one file, and counts what a study
    asks for in all, so that no study runs away.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._tables: dict[Path, CsvTable] = {}
        self._bytes = 0
        self._values = 0

    def values(self, stated: str, unit: str) -> tuple[str, Floats]:
        """Read the values (n,) that ``"pipes.csv:height_mm"`` names, in ``unit``.

        Returns
        -------
        str, array (n,)
            The file's name, and the values.

        Raises
        ------
        QuantityError
            Where the column cannot be read, or is no set of values; in words that say nothing of
            what stands in the file.
        """
        name, _, column = stated.rpartition(":")
        if not name or not column:
            raise QuantityError(f'found "{stated}"; write it like "pipes.csv:height_mm"')
        factor, offset = _change(column, unit)
        try:
            cells = self._table(name).column(column)
        except UnreadableError as error:
            raise QuantityError(f"{name} cannot be read: {error}") from None
        except CsvError as error:
            raise QuantityError(f"{name}: {error}") from None
        except OSError as error:
            raise QuantityError(
                f"{name} cannot be read: {(error.strerror or 'a fault of the machine').lower()}"
            ) from None
        self._values += len(cells)
        if self._values > MOST_VALUES_OF_A_STUDY:
            raise QuantityError(
                f"more than {MOST_VALUES_OF_A_STUDY:,} measured values in one study; a few hundred "
                "of each size say as much"
            )
        values = np.array([_number(cell, f"{name}, line {line}", column) for line, cell in cells])
        if values.size < FEWEST_VALUES or np.ptp(values) == 0.0:
            raise QuantityError(
                f"{name} has {values.size} values in {column}; at least {FEWEST_VALUES} that are "
                "not all the same make a spread"
            )
        return name, values * factor + offset

    def _table(self, name: str) -> CsvTable:
        path = inside(self._folder, name)
        if path not in self._tables:
            data = read_regular(path, LARGEST_FILE)
            self._bytes += len(data)
            if self._bytes > LARGEST_FILES_OF_A_STUDY:
                raise UnreadableError(
                    "large",
                    f"the files of one study are together at most "
                    f"{LARGEST_FILES_OF_A_STUDY >> 20} MiB",
                )
            self._tables[path] = read_csv(as_text(data), most_rows=MOST_VALUES)
        return self._tables[path]


def _change(column: str, unit: str) -> tuple[float, float]:
    """Factor and offset from the unit that a column's name ends in."""
    measured_in = column.rpartition("_")[2]
    try:
        pint_expression(measured_in)
    except QuantityError:
        measured_in = ""
    if not measured_in and pint_expression(unit) != "dimensionless":
        raise QuantityError(f'column "{column}" does not end in its unit, like "{column}_{unit}"')
    try:
        change = conversion(measured_in, unit)
    except QuantityError as error:
        raise QuantityError(
            f'{error}; column "{column}" should end in its unit, like "{column}_{unit}"'
        ) from None
    return change.factor, change.offset


def _number(cell: str, where: str, column: str) -> float:
    try:
        value = plain_number(cell)
    except ValueError:
        remedy = f"; {DECIMAL_COMMAS}" if "," in cell else ""
        found = "there is nothing" if not cell else "what stands there is not a number"
        raise QuantityError(f"{where}, column {column}: {found}{remedy}") from None
    if not np.isfinite(value):
        raise QuantityError(f"{where}, column {column}: no number of any size met with")
    return value
