"""What stands beside the study: other studies, trials to learn from, and tables of readings."""

from __future__ import annotations

import os
import tomllib
from functools import lru_cache
from pathlib import Path
from typing import Literal, NamedTuple, get_args

from sensitivity.answers.built.readings import COLUMNS, LARGEST_READINGS, MOST_READINGS
from sensitivity.quantities.csv_table import CsvError, read_csv
from sensitivity.quantities.text_files import UnreadableError, as_text, read_regular
from sensitivity.study.caps import LARGEST_STUDY

MOST = 200
"""Files that are looked at."""

Sort = Literal["study", "trials", "readings", ""]


class Beside(NamedTuple):
    """Names of files, as from the study's folder."""

    studies: tuple[str, ...] = ()
    trials: tuple[str, ...] = ()
    readings: tuple[str, ...] = ()


def beside(study: Path) -> Beside:
    """Find what stands in a study's folder, and trials and readings one folder below it.

    Nothing is followed out of the folder.
    """
    folder = study.parent
    try:
        found = [
            path
            for pattern in ("*.toml", "*/*.toml", "*.csv", "*/*.csv")
            for path in sorted(folder.glob(pattern))[:MOST]
        ]
    except OSError:
        return Beside()
    sorts: dict[str, list[str]] = {sort: [] for sort in get_args(Sort)}
    for path in found:
        if path != study and path.resolve().is_relative_to(folder):
            sort = _sort(path)
            if sort != "study" or path.parent == folder:
                sorts[sort].append(path.relative_to(folder).as_posix())
    return Beside(tuple(sorts["study"]), tuple(sorts["trials"]), tuple(sorts["readings"]))


def _sort(path: Path) -> Sort:
    try:
        known = os.stat(path)
    except OSError:
        return ""
    return _sort_of(path, known.st_mtime_ns, known.st_size)


@lru_cache(maxsize=2 * MOST)
def _sort_of(path: Path, changed: int, size: int) -> Sort:
    """Tell what a file is by its keys or columns; each state of it is read but once."""
    try:
        if path.suffix == ".csv":
            table = read_csv(as_text(read_regular(path, LARGEST_READINGS)), most_rows=MOST_READINGS)
            return "readings" if set(COLUMNS) <= set(table.columns) else ""
        keys = tomllib.loads(as_text(read_regular(path, LARGEST_STUDY)))
    except (UnreadableError, CsvError, OSError, ValueError, RecursionError):
        return ""
    return "trials" if "trials" in keys else "study" if "models" in keys else ""
