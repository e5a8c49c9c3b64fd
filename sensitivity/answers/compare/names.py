"""Names that tell designs apart where their files are called the same."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from sensitivity.study.study import Study

FOLDERS = 3
"""Folders of a path that a name may take up; beyond that a number says it in short."""


def named_apart(studies: Sequence[Study], paths: Sequence[Path] = ()) -> list[Study]:
    """Name studies apart, so that each can be spoken of, saved and read again.

    Parameters
    ----------
    studies : sequence of Study
        In their order.
    paths : sequence of Path
        Where each was read, if it was.

    Returns
    -------
    list of Study
        The same, those of one name with the folders that differ before it (``a_pipe`` and
        ``b_pipe``), or with a number behind it (``pipe_1`` and ``pipe_2``).
    """
    names = [study.name for study in studies]
    told = _with_folders(names, paths) if paths else _numbered(names)
    return [replace(study, name=name) for study, name in zip(studies, told, strict=True)]


def _with_folders(names: Sequence[str], paths: Sequence[Path]) -> list[str]:
    alike = _shared(names)
    folders = [path.resolve().parent.parts[1:] for path in paths]
    for depth in range(FOLDERS + 1):
        told = [
            "_".join([*(parts[-depth:] if depth and name.casefold() in alike else ()), name])
            for name, parts in zip(names, folders, strict=True)
        ]
        if not _shared(told):
            return told
    return _numbered(names)


def _shared(names: Sequence[str]) -> set[str]:
    """Names, by which capitals do not count, that more than one has."""
    counts = Counter(name.casefold() for name in names)
    return {name for name, count in counts.items() if count > 1}


def _numbered(names: Sequence[str]) -> list[str]:
    alike = _shared(names)
    taken = {name.casefold() for name in names}
    found = []
    for name in names:
        own, number = name, 0
        while name.casefold() in alike and own.casefold() in taken:
            number += 1
            own = f"{name}_{number}"
        taken.add(own.casefold())
        found.append(own)
    return found
