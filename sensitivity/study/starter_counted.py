"""What there are several of, as many as a count says: each is stated like the first of them.

A starter of one wick that is to have four gets three more, each with the spread that the first has
and a basis that says it is suggested.
"""

from __future__ import annotations

import json
import tomllib
from collections import defaultdict
from collections.abc import Mapping
from itertools import pairwise
from typing import Any

from sensitivity.errors import QuantityError
from sensitivity.quantities.quantity import read_quantity
from sensitivity.spreads.statement import SPREAD_KEYS, WAYS
from sensitivity.study.starter import OTHERS, decided_table, groups_of
from sensitivity.study.study import Units
from sensitivity.study.toml_lines import outline
from sensitivity.system.setting_out import setting_out_of
from sensitivity.system.system import System

OF_ONE_ALONE = ("measured", "instrument", "samples")
"""What was read off one part says nothing of its like."""

SUGGESTED = "suggested"
"""How a basis begins that nobody has chosen yet."""


def alike(system: System, inputs: Mapping[str, Any]) -> dict[str, list[str]]:
    """Name, by count, the inputs that are there: as many as it says, in their order.

    Parameters
    ----------
    system : System
        The models, joined.
    inputs : mapping
        Tables of a study's inputs, as they stand; a count that is not given yet has none.
    """
    known = {quantity.name for quantity in system.inputs}
    found: dict[str, list[str]] = defaultdict(list)
    places = setting_out_of(system.models).counted.items()
    for name, (by, place) in sorted(places, key=lambda each: each[1][1]):
        if {name, by} <= known and place <= _count(inputs.get(by)):
            found[by].append(name)
    return dict(found)


def counts_given(system: System, inputs: Mapping[str, Any]) -> dict[str, float]:
    """Read the counts that are given already, by name."""
    counts = {by for by, _ in setting_out_of(system.models).counted.values()}
    found = {by: _count(inputs.get(by)) for by in counts}
    return {by: count for by, count in found.items() if count}


def exact_beside_others(system: System, inputs: Mapping[str, Any]) -> list[str]:
    """Name those taken as perfect of which the like vary."""
    declared = {quantity.name for quantity in system.inputs if quantity.spread}
    found: list[str] = []
    for names in alike(system, inputs).values():
        exact = [name for name in names if not _varies(inputs.get(name)) and name not in declared]
        if len(exact) < len(names):
            found += exact
    return found


def with_as_many(text: str, system: System, units: Units) -> str:
    """Write a study's text with a table more for each that is counted and does not stand there.

    A table that was only suggested goes again where the count does not reach it any more.

    Parameters
    ----------
    text : str
        TOML; what a builder has stated in it stays.
    system : System
        Its models, joined.
    units : "mm" or "inch"
        Of the study.
    """
    inputs = tomllib.loads(text).get("inputs", {})
    if not isinstance(inputs, Mapping):
        return text
    for by, names in alike(system, inputs).items():
        first = inputs.get(names[0])
        if not isinstance(first, Mapping):
            continue
        given = {by: str(inputs[by]["nominal"])}
        if len(names) > 1 and names[1] not in inputs:  # from one to several: they are alike now
            for group, members in groups_of(system, given).items():
                for name in members:
                    text = _with_group(text, name, group)
            first = tomllib.loads(text)["inputs"][names[0]]
        for before, name in pairwise(names):
            if name not in inputs:
                table = _like(first, names[0], decided_table(name, system, units, given))
                text = _behind(text, before, name, table)
    return _without_unreached(text, system, inputs)


def _with_group(text: str, name: str, group: str) -> str:
    """Say that an input is reported with its like, behind what else is said of it."""
    read = tomllib.loads(text)
    table = read["inputs"].get(name)
    at = _last_key(text, name)
    if not at or not isinstance(table, Mapping) or "group" in table:
        return text
    lines = text.split("\n")
    made = "\n".join([*lines[:at], f"group = {_toml(group)}", *lines[at:]])
    wanted = {**read, "inputs": {**read["inputs"], name: {**table, "group": group}}}
    return made if _reads(made, wanted) else text


def _reads(made: str, wanted: Mapping[str, Any]) -> bool:
    try:
        return tomllib.loads(made) == wanted
    except tomllib.TOMLDecodeError:
        return False


def _last_key(text: str, name: str) -> int:
    keys = (line for path, line in outline(text).lines.items() if path[:2] == ("inputs", name))
    return max(keys, default=0)


def _without_unreached(text: str, system: System, inputs: Mapping[str, Any]) -> str:
    there = {name for names in alike(system, inputs).values() for name in names}
    counts = counts_given(system, inputs)
    for name, (by, place) in setting_out_of(system.models).counted.items():
        table = inputs.get(name)
        if by not in counts or place == 1 or name in there or not isinstance(table, Mapping):
            continue
        if str(table.get("basis", "")).startswith(SUGGESTED):
            text = _without(text, name)
    return text


def _without(text: str, name: str) -> str:
    """Take a table away with what stands at its lines; leave it where that is not all there is."""
    read = tomllib.loads(text)
    wanted = {**read, "inputs": {key: at for key, at in read["inputs"].items() if key != name}}
    lines, start = text.split("\n"), outline(text).lines.get(("inputs", name), 0)
    end = _end_of(text, name)
    while end < len(lines) and not lines[end].strip():
        end += 1
    made = "\n".join([*lines[: max(start - 1, 0)], *lines[end:]])
    return made if _reads(made, wanted) else text


def _end_of(text: str, name: str) -> int:
    """Count the lines to the end of an input's table, with comments that stand right behind it."""
    lines = text.split("\n")
    at = _last_key(text, name)
    while at < len(lines) and lines[at].strip() and not lines[at].startswith("["):
        at += 1
    return at


def _count(table: Any) -> float:
    try:
        return read_quantity(table["nominal"], "")
    except (KeyError, TypeError, QuantityError):
        return 0.0


def _varies(table: Any) -> bool:
    return isinstance(table, Mapping) and any(key in table for key in WAYS)


def _like(first: Mapping[str, Any], called: str, suggested: list[str]) -> list[str]:
    """The table as a starter has it, but with the spread of the first where it has its own."""
    if not _varies(first) or any(key in first for key in OF_ONE_ALONE):
        return suggested
    basis = str(first.get("basis", ""))
    if not basis.startswith(SUGGESTED):
        basis = f"{SUGGESTED}: like {called.replace('_', ' ')}"
    keys = (*SPREAD_KEYS, "blunder", "group", "basis")
    stated = {key: value for key, value in first.items() if key in keys} | {"basis": basis}
    return [*suggested[:2], *(f"{key} = {_toml(value)}" for key, value in stated.items())]


def _toml(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)


def _behind(text: str, before: str, name: str, table: list[str]) -> str:
    """Put a table behind that of another input; at the end where it cannot stand there."""
    wanted = tomllib.loads(text)
    added = tomllib.loads("\n".join(table))["inputs"][name]
    wanted = {**wanted, "inputs": {**wanted["inputs"], name: added}}
    lines = text.split("\n")
    at = _end_of(text, before)
    told = [line for line in lines[:at] if not line.startswith(OTHERS)]
    tries = ("\n".join([*told, "", *table, *lines[at:]]), "\n".join([*lines, "", *table, ""]))
    return next((made for made in tries if _reads(made, wanted)), text)
