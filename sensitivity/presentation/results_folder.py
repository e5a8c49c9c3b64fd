"""What a command leaves behind: report, JSON, tables, figures and the study."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sensitivity.presentation.folder import write_folder
from sensitivity.presentation.table import Table
from sensitivity.presentation.texts import text_cell


def samples_file(sample: Mapping[str, NDArray[np.float64]]) -> bytes:
    """Write every sampled part as ``samples.csv.gz``: a column an input or result."""
    import pandas as pd

    stream = io.BytesIO()
    pd.DataFrame({text_cell(name): values for name, values in sample.items()}).to_csv(
        stream, index=False, float_format="%.7g", compression={"method": "gzip", "mtime": 0}
    )
    return stream.getvalue()


def write_results(
    target: Path,
    *,
    document: str,
    tables: Mapping[str, Table],
    figures: Mapping[str, str],
    studies: Mapping[str, str],
    report: str,
    more: Mapping[str, bytes],
) -> None:
    """Write an answer's folder, whole or not at all.

    Parameters
    ----------
    target : Path
        The folder.
    document, report : str
        Text of ``result.json`` and ``report.html``.
    tables : mapping of name to Table
        Those with values become ``tables/NAME.csv``.
    figures : mapping of name to str
        SVG text, ``figures/NAME.svg``.
    studies : mapping of name to str
        Studies as given: ``study.toml`` if it is one, else each under its name.
    more : mapping of name to bytes
        Further files.
    """
    files = _files(
        document=document,
        tables={name: table.records() for name, table in tables.items() if table.has_values},
        figures=figures,
        studies=studies,
        report=report,
    )
    write_folder(target, {**files, **more})


def _files(
    *,
    document: str,
    tables: Mapping[str, Sequence[Mapping[Any, object]]],
    figures: Mapping[str, str],
    studies: Mapping[str, str],
    report: str,
) -> dict[str, str | bytes]:
    """Name every file of a results folder with its content."""
    files: dict[str, str | bytes] = {"report.html": report, "result.json": document}
    files |= {f"tables/{name}.csv": csv_text(rows) for name, rows in tables.items() if rows}
    files |= {f"figures/{name}.svg": svg for name, svg in figures.items()}
    for name, text in studies.items():
        files[f"{'study' if len(studies) == 1 else name}.toml"] = text
    return files


def csv_text(rows: Sequence[Mapping[Any, object]]) -> str:
    """Write rows as CSV, under the names that they have; a spreadsheet runs no cell of it.

    What a row does not have, and what is no number, is left empty.
    """
    stream = io.StringIO()
    names = list(dict.fromkeys(name for row in rows for name in row))
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow([text_cell(name) for name in names])
    for row in rows:
        writer.writerow([_written(row.get(name)) for name in names])
    return stream.getvalue()


def _written(value: object) -> object:
    return "" if value is None or value != value else text_cell(value)
