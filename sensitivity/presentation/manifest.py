"""Whose file is it? The list that spiritlevel keeps of what it wrote in a folder.

``manifest.json`` names each file with its SHA-256. A file that is not on the list, or that has
been changed since, is somebody's work and is never removed. The first version kept no list; of
its folders the names that it could write are known, and nothing else in them is ours.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import stat
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

MANIFEST = "manifest.json"
PART = f"{MANIFEST}.part"
"""The list while it is being written."""

_FORMAT = 1

_EARLIEST_TABLES = (
    "inputs outputs sensitivity advice second_order comparison window order alone halved set "
    "measured settings matters_now"
)
_EARLIEST_FIGURES = (
    "drawing results what_matters rare_failures comparison window map measuring halved set built"
)
_EARLIEST = frozenset(
    [
        "report.html",
        "result.json",
        "study.toml",
        "samples.csv.gz",
        *(f"tables/{name}.csv" for name in _EARLIEST_TABLES.split()),
        *(f"figures/{name}.svg" for name in _EARLIEST_FIGURES.split()),
    ]
)
"""Names that version 0.1.0, which kept no list, could write whatever the study."""


def digest(content: bytes) -> str:
    """SHA-256 of a file's content."""
    return hashlib.sha256(content).hexdigest()


def manifest_text(version: str, files: Mapping[str, str | None]) -> str:
    """Write the list: each file's name and SHA-256, or None for one that is yet to be written."""
    listed = {"manifest": _FORMAT, "spiritlevel": version, "files": dict(sorted(files.items()))}
    return json.dumps(listed, indent=1) + "\n"


def is_whole(folder: Path) -> bool:
    """Tell whether a folder has its list, and every file on it as it was written."""
    listed = _listed(folder)
    if listed is None:
        return False
    found = set(_names_in(folder))
    return all(
        name in found and value is not None and _as_written(folder / name, value)
        for name, value in listed.items()
    )


def strangers(folder: Path, *, unfinished: bool = False) -> Iterator[str]:
    """Name what spiritlevel did not write in a folder, or what was changed since.

    Parameters
    ----------
    folder : Path
        A folder; links in it are not followed.
    unfinished : bool
        The folder was being written when the program was killed: what is on its list is ours even
        where it is half written.

    Yields
    ------
    str
        A name inside the folder, ``/`` between its parts and at the end of a folder's.
    """
    ours = _ours(folder, unfinished=unfinished)
    folders = {parent for name in ours for parent in _parents(name)}
    for name in _names_in(folder):
        if name.endswith("/"):
            if name not in folders:
                yield name
        elif name not in ours or not _as_written(folder / name, ours[name]):
            yield name


def remove_ours(folder: Path, *, unfinished: bool = False) -> bool:
    """Remove what spiritlevel wrote in a folder, then the folder if nothing else is in it.

    Returns
    -------
    bool
        Whether the folder is gone; not where it holds somebody's file.
    """
    found = set(_names_in(folder))  # not through a link
    known = _ours(folder, unfinished=unfinished)
    ours = {name: value for name, value in known.items() if name in found}
    # What tells whose the others are goes last, so that a kill in between leaves it.
    telling = ("result.json", PART, MANIFEST)
    for name in ours:
        if name not in telling:
            _unlink_ours(folder / name, ours[name])
    folders = {parent for name in known for parent in _parents(name)}
    for name in sorted(folders & found, key=len, reverse=True):
        _remove_empty(folder / name)
    for name in telling:
        if name in ours:
            _unlink_ours(folder / name, ours[name])
    _remove_empty(folder)
    return not os.path.lexists(folder)


def _unlink_ours(path: Path, value: str | None) -> None:
    if _as_written(path, value):
        path.unlink()


def _remove_empty(folder: Path) -> None:
    if folder.is_dir() and not folder.is_symlink() and not any(folder.iterdir()):
        folder.rmdir()


def _ours(folder: Path, *, unfinished: bool) -> dict[str, str | None]:
    """Find what is ours by name, with its SHA-256 where that must be as it was."""
    listed = _listed(folder)
    if unfinished:
        return dict.fromkeys([*(listed or ()), MANIFEST, PART])
    if listed is not None:
        return {**listed, MANIFEST: None}
    return _of_the_first_version(folder)


def _listed(folder: Path) -> dict[str, str | None] | None:
    content = _json_in(folder / MANIFEST)
    if not isinstance(content, dict) or content.get("manifest") != _FORMAT:
        return None
    files = content.get("files")
    if not isinstance(files, dict) or not all(_is_inside(name) for name in files):
        return None
    return {name: value if isinstance(value, str) else None for name, value in files.items()}


def _is_inside(name: str) -> bool:
    return not name.startswith("/") and not {"", ".", ".."} & set(name.split("/"))


def _of_the_first_version(folder: Path) -> dict[str, str | None]:
    """Find what version 0.1.0 wrote; nothing where the folder is not one of its own."""
    document = _json_in(folder / "result.json")
    if not isinstance(document, dict) or not {"schema", "spiritlevel"} <= document.keys():
        return {}
    ours: dict[str, str | None] = dict.fromkeys(_EARLIEST)
    models, designs = document.get("models"), document.get("designs")
    for model in _names(models):
        ours |= dict.fromkeys([f"figures/{model}.svg", f"figures/drawing_{model}.svg"])
    for design in designs if isinstance(designs, list) else ():
        if isinstance(design, dict):
            ours |= dict.fromkeys(f"{name}.toml" for name in _names([design.get("name")]))
    if isinstance(study := document.get("study"), str):
        # A study that was edited where it lay is the builder's work.
        ours["study.toml"] = digest(study.encode("utf-8", "surrogatepass"))
    return ours


def _names(found: Any) -> list[str]:
    listed = found if isinstance(found, list) else []
    return [each for each in listed if isinstance(each, str) and re.fullmatch(r"[^/\0]+", each)]


def _json_in(path: Path) -> Any:
    if not _is_file(path):
        return None
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return None


def _is_file(path: Path) -> bool:
    try:
        return stat.S_ISREG(path.lstat().st_mode)
    except OSError:
        return False


def _as_written(path: Path, value: str | None) -> bool:
    return _is_file(path) and (value is None or _digest_of(path) == value)


def _digest_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _parents(name: str) -> Iterator[str]:
    parts = name.split("/")[:-1]
    for count in range(1, len(parts) + 1):
        yield "/".join(parts[:count]) + "/"


def _names_in(folder: Path, within: str = "") -> Iterator[str]:
    """All names in a folder in order, without following links; a folder's ends with ``/``."""
    with os.scandir(folder / within) as found:
        entries = sorted(found, key=lambda entry: entry.name)
    for entry in entries:
        if entry.is_dir(follow_symlinks=False):
            yield f"{within}{entry.name}/"
            yield from _names_in(folder, f"{within}{entry.name}/")
        else:
            yield f"{within}{entry.name}"
