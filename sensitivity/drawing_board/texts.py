"""A study's text with what stands in it, each read but once: an edit's answer waits for it."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sensitivity.study.assembly import study_from_tables
from sensitivity.study.faults import Faults
from sensitivity.study.file import study_of_text
from sensitivity.study.study import Study
from sensitivity.study.toml_lines import Outline, outline

MOST = 8
"""Texts that are kept: what is on the board, what is saved, and the steps of one edit."""


@dataclass(frozen=True, slots=True)
class Text:
    """A TOML text, its plain tables, which are not to be changed, and the lines of its keys."""

    text: str
    content: Mapping[str, Any]
    outline: Outline


_known: dict[str, Text] = {}


def text_of(text: str) -> Text:
    """Read a TOML text.

    Raises
    ------
    ValueError, RecursionError
        Where it is none, as ``tomllib`` has it.
    """
    found = _known.get(text)
    return kept(Text(text, tomllib.loads(text), outline(text))) if found is None else found


def kept(found: Text) -> Text:
    """Keep what was read, or was made of what was read, and let the oldest go."""
    _known.pop(found.text, None)
    _known[found.text] = found
    while len(_known) > MOST:
        _known.pop(next(iter(_known)))
    return found


def tables_of(text: str) -> Mapping[str, Any]:
    """Read TOML as plain tables, which are not to be changed."""
    return text_of(text).content


def study_of(text: str, path: Path, model_files: tuple[str, ...]) -> Study:
    """As ``study_of_text``, of a text that was read already.

    Raises
    ------
    StudyError
        With all its faults.
    """
    try:
        read = text_of(text)
    except (ValueError, RecursionError):
        return study_of_text(text, path, model_files)  # it says what is wrong, and where
    if read.outline.too_much is not None:
        return study_of_text(text, path, model_files)
    return study_from_tables(
        read.content,
        where=str(path),
        name=path.stem,
        folder=path.parent,
        faults=Faults(read.outline.lines),
        text=text,
        model_files=model_files,
    )
