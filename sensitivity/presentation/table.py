"""The one table model: what a table shows, decided once, for terminal, page, CSV and notebook.

A cell holds the text that a reader sees and the values behind it, so that no writer formats a
number of its own. A column says under which names its values stand in files, and where it is
seen: some are too wide for a terminal, some are for files alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

if TYPE_CHECKING:
    import pandas as pd

Seen = Literal["everywhere", "page", "terminal", "file"]


class Cell(NamedTuple):
    """What a reader sees, and the values behind it, one for each key of its column.

    ``unit`` is the values', as the models state it, where it is not one for the whole column.
    """

    text: str = ""
    values: tuple[object, ...] = ()
    unit: str = ""


class Column(NamedTuple):
    """A column: its heading, the names of its values in files, and where it is seen.

    Attributes
    ----------
    head : str
        What a reader sees above it.
    keys : tuple of str
        Names of the values in files, as many as each of its cells has; none for a reader's column.
    unit : str
        Of the values, as the models state it.
    right : bool
        Set to the right.
    seen : "everywhere", "page", "terminal" or "file"
        A page's column is too wide for a terminal, a terminal's says in short what the page says
        at length; a file's has values alone.
    """

    head: str = ""
    keys: tuple[str, ...] = ()
    unit: str = ""
    right: bool = False
    seen: Seen = "everywhere"


@dataclass(frozen=True, slots=True)
class Row:
    """A row: whether a reader is shown it, whether files hold it, and whether a line parts it.

    ``ruled`` draws a line above it, as above a sum.
    """

    cells: tuple[Cell, ...]
    shown: bool = True
    filed: bool = True
    ruled: bool = False


@dataclass(frozen=True)
class Table:
    """A table: its name among the files, its title, its columns and its rows.

    A terminal shows the ``first`` of its rows, all where that is 0, and ``rest`` below them.

    Raises
    ------
    ValueError
        Where a row has not one cell for each column, or a cell that is written to files not one
        value for each key of its column.
    """

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    kind: Literal["table"] = "table"
    first: int = 0
    rest: str = ""

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row.cells) != len(self.columns):
                raise ValueError(
                    f"{self.name}: {len(row.cells)} cells for {len(self.columns)} columns"
                )
            for column, cell in zip(self.columns, row.cells, strict=True):
                if row.filed and len(cell.values) != len(column.keys):
                    raise ValueError(
                        f"{self.name}, {column.head or column.keys}: {len(cell.values)} values "
                        f"for {len(column.keys)} names"
                    )

    @property
    def columns_on_page(self) -> tuple[Column, ...]:
        """The columns that a page has."""
        return self._columns("page")

    @property
    def columns_on_terminal(self) -> tuple[Column, ...]:
        """The columns that a terminal has."""
        return self._columns("terminal")

    @property
    def rows_on_page(self) -> list[list[str]]:
        """The text of the rows that a page shows."""
        return [texts for texts, _ in self._texts("page")]

    @property
    def rows_on_terminal(self) -> list[tuple[list[str], bool]]:
        """The text of the rows that a terminal shows, and whether a line stands above each."""
        found = list(self._texts("terminal"))
        return found[: self.first] if self.first else found

    @property
    def has_values(self) -> bool:
        """Tell whether files hold anything of it."""
        return any(column.keys for column in self.columns)

    def records(self) -> list[dict[str, Any]]:
        """Lay the rows that files hold out as values by name."""
        return [
            {
                key: value
                for column, cell in zip(self.columns, row.cells, strict=True)
                for key, value in zip(column.keys, cell.values, strict=True)
            }
            for row in self.rows
            if row.filed
        ]

    def units(self) -> dict[str, str]:
        """Name the unit of each value that has one."""
        return {key: column.unit for column in self.columns for key in column.keys if column.unit}

    def to_frame(self) -> pd.DataFrame:
        """Give the values as a DataFrame, with ``attrs["units"]`` from column to unit."""
        import pandas as pd

        names = [key for column in self.columns for key in column.keys]
        frame = pd.DataFrame(self.records(), columns=names)
        frame.attrs["units"] = self.units()
        frame.attrs["title"] = self.title
        return frame

    def _columns(self, writer: Literal["page", "terminal"]) -> tuple[Column, ...]:
        return tuple(column for column in self.columns if column.seen in ("everywhere", writer))

    def _texts(self, writer: Literal["page", "terminal"]) -> Iterator[tuple[list[str], bool]]:
        seen = [column.seen in ("everywhere", writer) for column in self.columns]
        for row in self.rows:
            if row.shown:
                texts = [cell.text for cell, wanted in zip(row.cells, seen, strict=True) if wanted]
                yield texts, row.ruled


def table_of(
    name: str,
    title: str,
    columns: Iterable[Column],
    rows: Iterable[Sequence[Cell] | Row],
) -> Table:
    """Build a table from columns and rows of cells."""
    made = (row if isinstance(row, Row) else Row(tuple(row)) for row in rows)
    return Table(name, title, tuple(columns), tuple(made))


def written(tables: Mapping[str, Table]) -> dict[str, list[dict[str, Any]]]:
    """Lay tables out as records by name, without those that have nothing for files."""
    found = {name: table.records() for name, table in tables.items() if table.has_values}
    return {name: records for name, records in found.items() if records}
