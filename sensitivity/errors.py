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
class Fault:
    """One thing wrong with a study: where it stands, what was found, what would be right."""

    key: str
    problem: str
    line: int | None = None

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
        count = len(self.faults)
        head = f"{path}: {count} fault{'s' if count != 1 else ''} in {where}; nothing was run"
        shown = [f"  {fault}" for fault in self.faults[:MOST_SHOWN]]
        if count > MOST_SHOWN:
            shown.append(f"  and {count - MOST_SHOWN:,} more")
        super().__init__("\n".join([head, *shown]))


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
