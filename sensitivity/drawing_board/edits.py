"""Changing a study's text as its builder would by hand: comments, order and spacing stay.

A change names a key (``inputs``, ``drop``, ``nominal``) and what is to stand there; None takes it
away. Only what a study's form knows can be named, and never its models.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import tomlkit
from tomlkit.toml_document import TOMLDocument

from sensitivity.drawing_board.texts import Text, kept, tables_of, text_of
from sensitivity.errors import CallError, QuantityError
from sensitivity.quantities.quantity import read_quantity, split_number
from sensitivity.study.caps import LONGEST_TEXT
from sensitivity.study.form import InputTable, LimitTable, ReadingTable, SamplingTable
from sensitivity.study.starter_counted import with_as_many
from sensitivity.study.study import Units
from sensitivity.study.toml_lines import Path as KeyPath
from sensitivity.system.setting_out import setting_out_of
from sensitivity.system.system import System

Value = str | float | int | bool | list[str] | None

TOP = ("title", "keeps", "blunder", "units")
"""Keys outside any table that may be changed; not the models, which are chosen once."""
TABLES: Mapping[str, Sequence[str]] = {
    "inputs": tuple(InputTable.model_fields),
    "limits": tuple(LimitTable.model_fields),
    "readings": tuple(name for name in ReadingTable.model_fields if name != "at"),
}
ASKED_BACK = 100.0
"""Times what stood there at which a size is asked back; judgement, no source."""
IN_A_UNIT = frozenset(
    ("nominal", "plus_minus", "standard_deviation", "measured", "leg", "redraw_step", "at_least")
) | {"at_most", "between", "adjust", "redraw", "redraw_sizes"}
"""Keys whose values are quantities in the unit of their input or result."""

_NAME = re.compile(r"[A-Za-z0-9_]{1,80}(?:\.[A-Za-z0-9_]{1,80})?")
_COMMA = re.compile(r"[-+]?\d*,\d+")
_PLAIN = re.compile(r"[-+]?(?:\d+(?:\.\d*)?|\.\d+)")


class Change(NamedTuple):
    """What is to stand at a key; None takes it away."""

    path: tuple[str, ...]
    value: Value


def read_changes(asked: Any) -> tuple[Change, ...]:
    """Read changes as a page sends them: a list of ``{"path": [...], "value": ...}``.

    Raises
    ------
    CallError
        Where they are anything else, or name what may not be changed here.
    """
    if not isinstance(asked, list) or not 1 <= len(asked) <= 40:
        raise CallError("changes: should be a list of 1 to 40")
    return tuple(_read_change(one) for one in asked)


def _read_change(asked: Any) -> Change:
    if not isinstance(asked, dict) or set(asked) != {"path", "value"}:
        raise CallError("a change has a path and a value")
    path, value = asked["path"], asked["value"]
    if not isinstance(path, list) or not all(isinstance(part, str) for part in path):
        raise CallError("a path is a list of names")
    if not _may_be_changed(path):
        raise CallError(f"{'.'.join(path)[:200]} is not changed here")
    texts = value if isinstance(value, list) else [value]
    fits = all(
        each is None or isinstance(each, bool | int | float | str) for each in texts
    ) and not (isinstance(value, list) and not all(isinstance(each, str) for each in value))
    if not fits or len(texts) > 60:
        raise CallError(f"{'.'.join(path)}: not a value that a study can have")
    if any(len(each) > LONGEST_TEXT for each in texts if isinstance(each, str)):
        raise CallError(f"{'.'.join(path)}: longer than {LONGEST_TEXT} letters")
    return Change(tuple(path), value)


def _may_be_changed(path: Sequence[str]) -> bool:
    if len(path) == 1:
        return path[0] in TOP
    if len(path) == 2:
        return (path[0] == "sampling" and path[1] in SamplingTable.model_fields) or (
            path[0] == "limits" and _NAME.fullmatch(path[1]) is not None
        )
    return (
        len(path) == 3
        and path[0] in TABLES
        and _NAME.fullmatch(path[1]) is not None
        and path[2] in TABLES[path[0]]
    )


def with_its_unit(change: Change, unit: str) -> Change:
    """Give a bare number the quantity's own unit, as its label says it; leave others alone.

    It is never the unit of what stood there: whoever types 13 under a label in mm means mm, also
    where 1/2 in stood.

    Parameters
    ----------
    change : Change
        As typed.
    unit : str
        Of the quantity, empty for a pure number: a bare number is then a number.
    """
    if change.path[-1] not in IN_A_UNIT or change.value is None:
        return change
    if isinstance(change.value, list):
        return change._replace(value=[_united(new, unit) for new in change.value])
    united = _united(change.value, unit)
    if unit == "" and isinstance(united, str) and _PLAIN.fullmatch(united.strip()):
        number = float(united)
        return change._replace(value=int(number) if number == int(number) else number)
    return change._replace(value=united)


def _united(new: Any, unit: str) -> Any:
    if not isinstance(new, str) or not unit:
        return new
    try:
        return new if split_number(new)[1] else f"{new.strip()} {unit}"
    except QuantityError:
        return new


def asked_back(change: Change, before: Value, unit: str) -> str:
    """Ask whether a size is meant that is a hundred times what stood there; else say nothing.

    Parameters
    ----------
    change : Change
        Of a nominal, with its unit.
    before : str, number, list or None
        What stands there.
    unit : str
        Of the quantity; empty for a pure number, of which nothing is asked.
    """
    if change.path[-1] != "nominal" or not unit:
        return ""
    if not (isinstance(change.value, str) and isinstance(before, str)):
        return ""
    try:
        now, then = read_quantity(change.value, unit), read_quantity(before, unit)
    except QuantityError:
        return ""
    small, large = sorted((abs(now), abs(then)))
    if not small or large / small < ASKED_BACK:
        return ""
    times = f"{large / small:.0f} times" if abs(now) == large else f"1/{large / small:.0f} of"
    return f"{change.value} is {times} the {before} that stood there; enter it again if it is meant"


def changed(text: str, changes: Sequence[Change]) -> str:
    """Write a study's text with changes made, all else in it as it was.

    Parameters
    ----------
    text : str
        TOML.
    changes : sequence of Change
        Made in their order.
    """
    for change in changes:
        text = _with_change(text, change)
    return text


def with_those_counted(
    text: str, changes: Sequence[Change], system: System | None, units: Units
) -> str:
    """Write a text with changes made, and where a count is changed, as many as it then says.

    Parameters
    ----------
    text, changes
        As ``changed`` has them.
    system : System or None
        The models of the study, where they join.
    units : "mm" or "inch"
        Of the study.
    """
    made = changed(text, changes)
    if system is None:
        return made
    counts = {by for by, _ in setting_out_of(system.models).counted.values()}
    if not any(each.path[0] == "inputs" and each.path[1] in counts for each in changes):
        return made
    return with_as_many(made, system, units)


def value_at(content: Mapping[str, Any], path: Sequence[str | int]) -> Any:
    """Give what stands at a key of plain tables; None where nothing does."""
    found: Any = content
    for part in path:
        if not isinstance(found, Mapping) or part not in found:
            return None
        found = found[part]
    return found


def _with_change(text: str, change: Change) -> str:
    content = tables_of(text)
    if value_at(content, change.path) == change.value:
        return text
    before = value_at(content, change.path)
    if before is not None and not isinstance(before, Mapping):
        made = _with_line(text, content, change)
    elif change.value is not None:
        made = _with_added(text, content, change)
    else:
        made = None
    if made is not None:
        return made
    document = tomlkit.parse(text)
    _set(document, change)
    return tomlkit.dumps(document)


def _set(document: TOMLDocument, change: Change) -> None:
    place: Any = document
    for part in change.path[:-1]:
        if part not in place:
            if change.value is None:
                return
            place[part] = tomlkit.table()
        place = place[part]
    key = change.path[-1]
    if change.value is not None:
        place[key] = change.value
    elif key in place:
        del place[key]


_LINE = re.compile(
    r"(?P<head>\s*[^=#]+=\s*)"
    r'(?:"(?:[^"\\]|\\.)*"|\'[^\']*\'|\[(?:[^\[\]"#]|"[^"]*")*\]|[^\s#"\'\[{]+)'
    r"(?P<tail>\s*(?:#.*)?)"
)
"""A key with its value, all in one line, and what stands behind it."""


def _with_line(text: str, content: Mapping[str, Any], change: Change) -> str | None:
    """Write another value in a key's own line, or take the line away.

    None where the line does not bear it; it is then left to the library.
    """
    at = text_of(text).outline.lines.get(change.path)
    lines = text.split("\n")
    match = _LINE.fullmatch(lines[at - 1]) if at else None
    if at is None or match is None:
        return None
    wanted = _with_value(content, change)
    if change.value is None:
        del lines[at - 1]
        return _if_right("\n".join(lines), wanted)
    before, lines[at - 1] = lines[at - 1], f"{match['head']}{_written(change.value)}{match['tail']}"
    made = "\n".join(lines)
    if _says(before, value_at(content, change.path)) and _says(lines[at - 1], change.value):
        # One whole line for another of the same key: the rest need not be read again.
        kept(Text(made, wanted, text_of(text).outline))
        return made
    return _if_right(made, wanted)


def _says(line: str, value: Any) -> bool:
    """Tell whether a line by itself is a key with this value, and nothing more."""
    try:
        found: Any = tomllib.loads(line)
    except tomllib.TOMLDecodeError:
        return False
    while isinstance(found, dict) and len(found) == 1:
        (found,) = found.values()
    return bool(found == value and type(found) is type(value))


def _if_right(made: str, wanted: Mapping[str, Any]) -> str | None:
    try:
        return made if tables_of(made) == wanted else None
    except tomllib.TOMLDecodeError:
        return None


def _written(value: Value) -> str:
    return tomlkit.item(value).as_string()


def _with_added(text: str, content: Mapping[str, Any], change: Change) -> str | None:
    """Write a new key behind the last of its table, a new table behind the last of its sort.

    So it stands before the comments of what follows. None where the lines do not bear it (a value
    of several lines, say); it is then left to the library.
    """
    *table, key = change.path
    at = text_of(text).outline.lines
    inside = [
        line for path, line in at.items() if list(path[:-1]) == table and _is_key(path, content)
    ]
    own = at.get(tuple(table))
    sort = [line for path, line in at.items() if path[0] == change.path[0]]
    written = [f"{_key(key)} = {_written(change.value)}"]
    if inside or own:
        place = max([*inside, own or 0])
    elif table:
        written = ["", f"[{'.'.join(map(_key, table))}]", *written]
        place = max(sort) if sort and len(table) > 1 else text.rstrip().count("\n") + 1
    else:
        return None
    lines = text.split("\n")
    made = "\n".join([*lines[:place], *written, *lines[place:]])
    return _if_right(made, _with_value(content, change))


def _is_key(path: KeyPath, content: Mapping[str, Any]) -> bool:
    """Tell a key from a table."""
    value = value_at(content, path)
    tables = isinstance(value, list) and any(isinstance(each, Mapping) for each in value)
    return not (tables or isinstance(value, Mapping))


def _key(name: str) -> str:
    return tomlkit.key([name]).as_string() if "." not in name else f'"{name}"'


def _with_value(content: Mapping[str, Any], change: Change) -> dict[str, Any]:
    """Give the tables with a change made; what it does not touch is the same, not a copy."""
    made = place = dict(content)
    for part in change.path[:-1]:
        place[part] = dict(place.get(part, {}))
        place = place[part]
    if change.value is None:
        del place[change.path[-1]]
    else:
        place[change.path[-1]] = change.value
    return made
