"""One exception class a failure; the exit status stands on the class.

Every message says what was found and what would be right. ``command_line`` is the only place
that prints them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches


class SpiritlevelError(Exception):
    """Anything spiritlevel refuses or fails at, in words for the person at the bench."""

    exit_status = 2


class CallError(SpiritlevelError):
    """The command was called with something it cannot use."""


class QuantityError(SpiritlevelError):
    """A quantity that cannot be read, or whose unit does not convert."""


class WiringError(SpiritlevelError):
    """Models that cannot be joined into one system."""


class ModelFileError(SpiritlevelError):
    """A model file that cannot be loaded, or a function in it that cannot be read as a model."""


class ModelError(SpiritlevelError):
    """A model that raised, or returned what it does not promise, while it was evaluated."""


class FolderError(SpiritlevelError):
    """A results folder that is not ours to replace."""


class MachineError(SpiritlevelError):
    """The machine's fault: no space, no permission."""

    exit_status = 1


@dataclass(frozen=True, slots=True)
class Asked:
    """A quantity that is still to be given: its sketch number (0 for none), what it is, like what.

    ``example`` is as it would stand in a study.
    """

    number: int
    name: str
    meaning: str
    example: str


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a study: where it stands, what was found, what would be right.

    ``asked`` says that nothing is wrong but that a quantity is still to be given.
    """

    key: str
    problem: str
    line: int | None = None
    asked: Asked | None = None

    def __str__(self) -> str:
        where = f"line {self.line}: " if self.line is not None else ""
        return f"{where}{self.key}: {self.problem}" if self.key else f"{where}{self.problem}"


MOST_SHOWN = 100
"""Faults that a message lists; beyond them nobody reads on."""


class StudyError(SpiritlevelError):
    """All the faults of one study file at once, or of another file of the same form."""

    def __init__(self, path: str, faults: Iterable[Fault], *, where: str = "this study") -> None:
        self.path = path
        self.faults = tuple(sorted(faults, key=lambda fault: fault.line or 0))
        wrong = [fault for fault in self.faults if fault.asked is None]
        asked = [fault for fault in self.faults if fault.asked is not None]
        lines = []
        if wrong or not asked:
            count = len(wrong)
            plural = "s" if count != 1 else ""
            lines.append(f"{path}: {count} fault{plural} in {where}; nothing was run")
            lines += [f"  {fault}" for fault in wrong[:MOST_SHOWN]]
            if count > MOST_SHOWN:
                lines.append(f"  and {count - MOST_SHOWN:,} more")
        super().__init__("\n".join([*lines, *(_still_to_give(path, asked) if asked else ())]))


def _still_to_give(path: str, asked: list[Fault]) -> list[str]:
    """List what is still to be given: its number on the drawing, its line, and an example."""
    numbered = any(fault.asked and fault.asked.number for fault in asked)
    head = (
        f"{path}: {len(asked)} still to be given, {'each ' if len(asked) > 1 else ''}on its line"
        f"{' and with its number on the drawing' if numbered else ''}; nothing was run"
    )
    rows = [
        (
            f"({each.number})" if each.number else "",
            f"line {fault.line}" if fault.line else "",
            each,
        )
        for fault in asked
        if (each := fault.asked) is not None
    ]
    wide = max(len(each.name) for _, _, each in rows)
    number, line = max(len(row[0]) for row in rows), max(len(row[1]) for row in rows)
    return [
        head,
        *(
            f"  {text:>{number}}  {at:{line}}  {each.name:{wide}}  like nominal = {each.example}"
            for text, at, each in rows
        ),
    ]


LONGEST_ECHO = 400


def shortened(text: str) -> str:
    """Cut the middle out of a text that is too long to be read, and leave the rest as it is."""
    if len(text) <= LONGEST_ECHO:
        return text
    half = LONGEST_ECHO // 2
    return f"{text[:half]} [... {len(text) - 2 * half} characters more] {text[-half:]}"


def nearest(name: str, known: Iterable[str]) -> str:
    """A phrase that points to the nearest known name, or lists the names where none is near."""
    name = name[:100]
    names = sorted(set(known))
    close = get_close_matches(name, names, n=1, cutoff=0.6)
    if close:
        return f'did you mean "{close[0]}"?'
    if not names:
        return "there are none"
    shown = ", ".join(names[:40]) + (", ..." if len(names) > 40 else "")
    return f"known: {shown}"
