"""What stands beside the study: other studies to compare it with, and trials to learn from."""

from __future__ import annotations

import os
import tomllib
from functools import lru_cache
from pathlib import Path
from typing import Literal, NamedTuple

from sensitivity.quantities.text_files import UnreadableError, as_text, read_regular
from sensitivity.study.caps import LARGEST_STUDY

MOST = 200
"""Files that are looked at."""

Sort = Literal["study", "trials", ""]


class Beside(NamedTuple):
    """Names of files, as from the study's folder."""

    studies: tuple[str, ...] = ()
    trials: tuple[str, ...] = ()


def beside(study: Path) -> Beside:
    """Find what stands in a study's folder, and trials one folder below it.

    Nothing is followed out of the folder.
    """
    folder = study.parent
    try:
        found = [*sorted(folder.glob("*.toml")), *sorted(folder.glob("*/*.toml"))][:MOST]
    except OSError:
        return Beside()
    sorts: dict[str, list[str]] = {"study": [], "trials": [], "": []}
    for path in found:
        if path != study and path.resolve().is_relative_to(folder):
            sort = _sort(path)
            if sort == "trials" or path.parent == folder:
                sorts[sort].append(path.relative_to(folder).as_posix())
    return Beside(tuple(sorts["study"]), tuple(sorts["trials"]))


def _sort(path: Path) -> Sort:
    try:
        known = os.stat(path)
    except OSError:
        return ""
    return _sort_of(path, known.st_mtime_ns, known.st_size)


@lru_cache(maxsize=2 * MOST)
def _sort_of(path: Path, changed: int, size: int) -> Sort:
    """Tell what a file is by its keys; each state of it is read but once."""
    try:
        keys = tomllib.loads(as_text(read_regular(path, LARGEST_STUDY)))
    except (UnreadableError, OSError, ValueError, RecursionError):
        return ""
    return "trials" if "trials" in keys else "study" if "models" in keys else ""
