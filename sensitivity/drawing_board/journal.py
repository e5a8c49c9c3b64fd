"""Unsaved edits, kept beside the study: a killed program loses none.

``STUDY.toml.unsaved`` has a line of JSON for each step, written before the page is told of it. The
first says of which text of the study the rest is. It goes when the study is saved, or when nothing
in it differs from what is saved.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sensitivity.errors import MachineError
from sensitivity.quantities.text_files import UnreadableError, as_text, read_regular

MOST_STEPS = 200
"""Steps that are kept; beyond them the oldest are dropped."""
LARGEST = 1 << 25
"""Bytes of a journal beyond which it is not ours."""


@dataclass(frozen=True, slots=True)
class Kept:
    """What a journal holds: the texts in their order, refused values, and of which text."""

    texts: tuple[str, ...]
    refused: dict[str, dict[str, str]]
    of: str


def place_of(study: Path) -> Path:
    """Where the journal of a study stands."""
    return study.with_name(f"{study.name}.unsaved")


def unsaved_in(folder: Path) -> Path | None:
    """Find a study that was begun on the page here and never saved; the newest, if any."""
    found = [path for path in folder.glob("*.toml.unsaved") if not path.with_suffix("").exists()]
    newest = max(found, key=lambda path: path.stat().st_mtime, default=None)
    return None if newest is None else newest.with_suffix("")


def mark_of(text: str) -> str:
    """Tell one text of a study from another."""
    return hashlib.sha256(text.encode()).hexdigest()


def read_journal(study: Path) -> Kept | None:
    """Read what was not saved; None where there is nothing.

    A last line that was cut short, as by a power cut, is left out; anything else that is not ours
    is left alone.
    """
    try:
        lines = as_text(read_regular(place_of(study), LARGEST)).split("\n")
    except (UnreadableError, OSError):
        return None
    steps: list[dict[str, Any]] = []
    for line in lines:
        with contextlib.suppress(ValueError):
            step = json.loads(line)
            if isinstance(step, dict):
                steps.append(step)
    if not steps or not isinstance(steps[0].get("of"), str):
        return None
    texts = [step["text"] for step in steps if isinstance(step.get("text"), str)]
    told: list[dict[str, Any]] = [s["refused"] for s in steps if isinstance(s.get("refused"), dict)]
    refused = told[-1] if told else {}
    kept = {
        str(key): {"value": str(each.get("value", "")), "problem": str(each.get("problem", ""))}
        for key, each in refused.items()
        if isinstance(each, dict)
    }
    return Kept(tuple(texts[-MOST_STEPS:]), kept, steps[0]["of"])


def add_step(study: Path, saved: str, step: dict[str, Any]) -> None:
    """Write one step; the first brings the head with it.

    Raises
    ------
    MachineError
        Where the folder cannot be written.
    """
    path = place_of(study)
    try:
        fresh = not path.exists()
        with path.open("a", encoding="utf-8", newline="\n") as stream:
            if fresh:
                stream.write(json.dumps({"of": mark_of(saved)}) + "\n")
            stream.write(json.dumps(step) + "\n")
            stream.flush()
            # A killed program loses nothing now. For a power cut the disk is waited for, but the
            # page is not: that may take longer than all else.
            threading.Thread(target=_settle, args=(os.dup(stream.fileno()),)).start()
    except OSError as error:
        raise MachineError(
            f"{path.name} cannot be written, so this edit would not outlive the page: "
            f"{(error.strerror or '').lower()}"
        ) from None


def _settle(handle: int) -> None:
    try:
        with contextlib.suppress(OSError):  # it is written, as far as this machine can tell
            os.fsync(handle)
    finally:
        os.close(handle)


def end_journal(study: Path) -> None:
    """Take the journal away: nothing is unsaved."""
    place_of(study).unlink(missing_ok=True)
