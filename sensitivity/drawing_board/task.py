"""What the page asks to be worked out, as a value that goes to another process."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sensitivity.drawing_board.beside import Beside
from sensitivity.errors import CallError, nearest
from sensitivity.study.study import Study

SEED = 1
"""Where a study states none: the same on every edit, so that a change is the design's."""

LAST_QUICK = "views"
"""The stage with the drawing, behind the first yield: what comes after makes way for all else."""

COMMANDS = (
    "run",
    "check",
    "window",
    "measure",
    "tighten",
    "redraw",
    "built",
    "learn",
    "compare",
)
AS_SAVED = "as saved"
"""What is on the board is compared with what stands in its file."""

_DOUBTS = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _-]{0,60}\.json")
_MOST = 40
_LONGEST = 200


@dataclass(frozen=True)
class Action:
    """A command on what is on the board, with what it takes; see ``read_action``."""

    command: str
    inputs: tuple[str, ...] = ()
    target: float | None = None
    measured: tuple[str, ...] = ()
    instruments: tuple[str, ...] = ()
    at_hand: tuple[str, ...] = ()
    readings: str = ""
    seen: tuple[str, ...] = ()
    at: tuple[str, ...] = ()
    lowest: tuple[str, ...] = ()
    highest: tuple[str, ...] = ()
    step: tuple[str, ...] = ()
    other: str = ""
    trials: str = ""
    doubts: str = ""
    believe: bool = False
    write: bool = False

    @property
    def suffix(self) -> str:
        """Behind the study's name, the folder of its results."""
        return "-results" if self.command == "run" else f"-{self.command}-results"


@dataclass(frozen=True)
class Task:
    """One text of a study to think about, or one action on it.

    Attributes
    ----------
    revision : int
        Of the board: what is found is shown only while that is still so.
    study : Study or None
        On the board; None while it is not whole.
    text, saved : str
        On the board, and in the file.
    path : Path
    model_files : tuple of str
    action : Action or None
        None to draw it and to find how many work, coarsely first.
    known : tuple of str
        Stages that were told already.
    """

    revision: int
    study: Study | None
    text: str
    saved: str
    path: Path
    model_files: tuple[str, ...] = ()
    action: Action | None = None
    known: tuple[str, ...] = ()


def read_action(asked: Any, near: Beside) -> Action:
    """Read an action as the page sends it.

    Parameters
    ----------
    asked : any
        ``command``, and what it takes: names, quantities, a target of a hundred.
    near : Beside
        Studies that it may be compared with, trials, and tables of readings.

    Raises
    ------
    CallError
        Where it is anything else.
    """
    if not isinstance(asked, dict):
        raise CallError("an action has a command")
    command = asked.get("command")
    if command not in COMMANDS:
        raise CallError(f"no such command here; {nearest(str(command), COMMANDS)}")
    target = asked.get("target")
    if target is not None and not (isinstance(target, int | float) and 1.0 <= target < 100.0):
        raise CallError("a target is so many of 100, from 1 to 99.9")
    other = asked.get("other", "")
    if command == "compare" and other not in (*near.studies, AS_SAVED):
        raise CallError("compare with a study of the same folder, or with this one as saved")
    trials = asked.get("trials") or ""
    if trials and trials not in near.trials:
        raise CallError("learn from trials that stand in the study's own folder")
    readings = asked.get("readings") or ""
    if readings and readings not in near.readings:
        raise CallError("take readings from a table that stands in the study's own folder")
    doubts = asked.get("doubts") or ""
    if doubts and not (isinstance(doubts, str) and _DOUBTS.fullmatch(doubts)):
        raise CallError(
            'keep what was learnt in a file of the study\'s own folder, named like "doubts.json"'
        )
    return Action(
        command=command,
        inputs=_texts(asked, "inputs"),
        target=None if target is None else target / 100.0,
        measured=_texts(asked, "measured"),
        instruments=_texts(asked, "instruments"),
        at_hand=_texts(asked, "at_hand"),
        readings=readings,
        seen=_texts(asked, "seen"),
        at=_texts(asked, "at"),
        lowest=_texts(asked, "lowest"),
        highest=_texts(asked, "highest"),
        step=_texts(asked, "step"),
        other=other if command == "compare" else "",
        trials=trials,
        doubts=doubts if command == "learn" else "",
        believe=asked.get("believe") is True,
        write=asked.get("write") is True,
    )


def _texts(asked: Mapping[str, Any], key: str) -> tuple[str, ...]:
    found = asked.get(key, [])
    good = isinstance(found, list) and len(found) <= _MOST
    if not good or not all(isinstance(each, str) and len(each) <= _LONGEST for each in found):
        raise CallError(f"{key}: should be a short list of words")
    return tuple(found)
