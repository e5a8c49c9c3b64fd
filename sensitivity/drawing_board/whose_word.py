"""On whose word a spread stands, once its builder has chosen it: never "suggested" any more."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sensitivity.drawing_board.edits import Change, value_at
from sensitivity.spreads.statement import SPREAD_KEYS, WAYS
from sensitivity.spreads.workshop import Kind, workshop_table
from sensitivity.study.starter_counted import SUGGESTED

OWN = "my own figure, no source"
"""Of a spread that a builder types: it is nobody else's, and is counted among those unsourced."""

OF_ITSELF = {
    "iso286": "tolerance class of ISO 286",
    "iso2768": "general tolerance of ISO 2768",
    "samples": "my own measurements",
}
"""By the way in which a spread is stated, whose word it then is."""

_ENTRIES: Mapping[str, Kind] = {"process": "process", "instrument": "instrument"}


def with_whose_word(changes: Sequence[Change], content: Mapping[str, Any]) -> list[Change]:
    """Add to changes of a spread on whose word it then stands, where that is not typed with them.

    Words that a builder has typed stay as long as the spread is stated in the same way.

    Parameters
    ----------
    changes : sequence of Change
        As asked for.
    content : mapping
        The study's tables before them.
    """
    made = list(changes)
    for name in dict.fromkeys(each.path[1] for each in changes if each.path[0] == "inputs"):
        stands = value_at(content, ("inputs", name))
        before: Mapping[str, Any] = stands if isinstance(stands, Mapping) else {}
        mine = {each.path[2]: each.value for each in changes if each.path[:2] == ("inputs", name)}
        if "basis" in mine or all(
            mine[key] == before.get(key) for key in SPREAD_KEYS if key in mine
        ):
            continue
        after = {key: value for key, value in {**before, **mine}.items() if value is not None}
        basis = before.get("basis")
        same_way = [key in before for key in WAYS] == [key in after for key in WAYS]
        if (word := _word(after)) != basis and not (same_way and _typed(basis)):
            made.append(Change(("inputs", name, "basis"), word))
    return made


def _word(table: Mapping[str, Any]) -> str | None:
    """Whose word a spread is by how it is stated; none where there is none."""
    way = next((key for key in WAYS if key in table), None)
    for key, kind in _ENTRIES.items():
        entry = workshop_table(kind).get(str(table.get(key, "")))
        if entry is not None and way in ("process", "measured"):
            return entry.source
    return None if way is None else OF_ITSELF.get(way, OWN)


def _typed(basis: Any) -> bool:
    """Tell words that a builder has typed from those that are suggested, or were added here."""
    sources = {
        entry.source for kind in _ENTRIES.values() for entry in workshop_table(kind).values()
    }
    added = {OWN, *OF_ITSELF.values(), *sources}
    return isinstance(basis, str) and not basis.startswith(SUGGESTED) and basis not in {"", *added}
