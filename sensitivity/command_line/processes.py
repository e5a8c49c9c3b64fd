"""``processes``: the workshop table, whole or what has some words in it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from sensitivity.command_line.boundary import guarded
from sensitivity.command_line.options import UnitsSaid, units_asked

if TYPE_CHECKING:
    from sensitivity.spreads.workshop import Kind, WorkshopEntry

KINDS: tuple[Kind, ...] = ("process", "instrument")


@guarded
def processes(
    words: Annotated[
        list[str] | None,
        typer.Argument(metavar="WORD", help="Show what has all of these words, like drill."),
    ] = None,
    kind: Annotated[
        str | None, typer.Option(metavar="KIND", help="process or instrument; both unless given.")
    ] = None,
    units: UnitsSaid = "mm",
) -> None:
    """The workshop's processes and instruments, with sources."""
    from sensitivity.command_line.catalogue_screen import show_processes
    from sensitivity.errors import CallError
    from sensitivity.spreads.workshop import workshop_table

    kinds, said = _kinds(kind), units_asked(units)
    entries = {each: tuple(workshop_table(each).values()) for each in kinds}
    wanted = tuple(words or ())
    shown = [
        (each, [entry for entry in entries[each] if all(_has(entry, word) for word in wanted)])
        for each in kinds
    ]
    if not any(found for _, found in shown):
        raise CallError(_nothing(wanted, [entry for each in kinds for entry in entries[each]]))
    show_processes(shown, said)


def _kinds(asked: str | None) -> tuple[Kind, ...]:
    from sensitivity.errors import CallError

    if asked is None:
        return KINDS
    for kind in KINDS:
        if asked.casefold() in (kind, f"{kind}s", f"{kind}es"):
            return (kind,)
    raise CallError(f'--kind: found "{asked}"; write process or instrument')


def _text(entry: WorkshopEntry) -> str:
    name = f"{entry.name} {entry.name.replace('_', ' ')}"
    return f"{name} {entry.says} {entry.basis} {entry.quantity}".casefold()


def _has(entry: WorkshopEntry, word: str) -> bool:
    """Tell whether a word stands in what is said of an entry, in any of its forms."""
    low = word.casefold()
    stem = re.sub(r"(?<=[a-z]{4})(?:ing|ed|s)$", "", low)
    return low in _text(entry) or stem in _text(entry)


def _nothing(words: Sequence[str], entries: Sequence[WorkshopEntry]) -> str:
    """Say which word nothing has, with the nearest that something has."""
    from difflib import get_close_matches

    whole = '"spiritlevel processes" lists all'
    missing = [word for word in words if not any(_has(entry, word) for entry in entries)]
    if not missing:
        quoted = " and ".join(f'"{word}"' for word in words)
        return f"nothing here has {quoted} together; ask for one of them ({whole})"
    told = " ".join(f"{entry.name.replace('_', ' ')} {entry.says}" for entry in entries)
    known = {*re.findall(r"[a-z]{3,}", told.casefold()), *(entry.name for entry in entries)}
    said = []
    for word in missing:
        close = get_close_matches(word.casefold()[:60], sorted(known), n=2, cutoff=0.6)
        near = " or ".join(f'"{each}"' for each in close)
        said.append(f'nothing here has "{word}"' + (f"; the nearest is {near}" if near else ""))
    return f"{'; '.join(said)} ({whole})"
