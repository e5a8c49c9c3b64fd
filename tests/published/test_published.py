"""Every published value under tests/published, one test a value.

A file holds tables ``[[check]]`` with the keys of `REQUIRED` and perhaps of `OPTIONAL`; a
list among the inputs is handed over as an array, and `printed` then holds as many numbers,
in order, parted by spaces. A table that does not keep to this fails under its own id.
"""

import importlib
import tomllib
from pathlib import Path

import numpy as np
import pytest

FOLDER = Path(__file__).parent
READ_ELSEWHERE = {
    "trade.toml",  # facts of the trade, nothing printed: test_trade.py
    "trade_sizes.toml",  # whole lists: test_trade_sizes.py
}
REQUIRED = {
    "name": str,
    "source": str,
    "where": str,
    "call": str,
    "inputs": dict,
    "printed": str,
    "tolerance": int | float,
    "because": str,
}
OPTIONAL = {"field": str, "memory": bool}


def read(folder):
    """All checks of a folder as (file stem + name, table), malformed ones among them."""
    found = []
    for path in sorted(folder.glob("*.toml")):
        if path.name in READ_ELSEWHERE:
            continue
        tables = tomllib.loads(path.read_text(encoding="utf-8"))
        checks = tables.pop("check", [])
        # What is wrong with a file becomes a check that fails, so that nothing is passed over.
        found += [(f"{path.stem}: {key}", {"not a check": key}) for key in tables]
        if not isinstance(checks, list) or not checks:
            found.append((f"{path.stem}: empty", {}))
            continue
        for number, table in enumerate(checks, 1):
            found.append((f"{path.stem}: {table.get('name', f'check {number}')}", table))
    return found


def complaints(table):
    """What is wrong with one table, in words; nothing if it is well formed."""
    known = REQUIRED | OPTIONAL
    wrong = [f"missing key {key!r}" for key in REQUIRED if key not in table]
    wrong += [f"unknown key {key!r}" for key in table if key not in known]
    wrong += [
        f"{key!r} is {value!r}, not {known[key]}"
        for key, value in table.items()
        if key in known and (not isinstance(value, known[key]) or value == "")
    ]
    if wrong:
        return wrong
    if table["call"].count(":") != 1:
        wrong.append(f"'call' is {table['call']!r}, not 'module:function'")
    try:
        numbers = [float(digits) for digits in table["printed"].split()]
    except ValueError:
        numbers = []
    if not numbers or not np.isfinite(numbers).all():
        wrong.append(f"'printed' is {table['printed']!r}, not finite numbers")
    if isinstance(table["tolerance"], bool) or not 0.0 <= table["tolerance"] < np.inf:
        wrong.append(f"'tolerance' is {table['tolerance']!r}, not a finite number >= 0")
    return wrong


def computed(table):
    """Result of the call, one number for each printed one."""
    module, _, name = table["call"].partition(":")
    inputs = {
        key: np.asarray(value, dtype=float)
        if isinstance(value, list) and not any(isinstance(one, str) for one in value)
        else value
        for key, value in table["inputs"].items()
    }
    result = getattr(importlib.import_module(module), name)(**inputs)
    if hasattr(result, "_fields") or "field" in table:
        result = getattr(result, table["field"])
    return np.atleast_1d(np.asarray(result, dtype=float)).ravel()


def agree(table):
    """Assert that what is computed lies within the tolerance of what is printed."""
    printed = np.array([float(digits) for digits in table["printed"].split()])
    result = computed(table)
    assert result.shape == printed.shape, (result, printed)
    off = np.abs(result - printed)
    assert (off <= table["tolerance"]).all(), (
        f"computed {result}, printed {table['printed']}, off by {off}, "
        f"tolerance {table['tolerance']} ({table['because']}); {table['source']}, {table['where']}"
    )


CHECKS = read(FOLDER)


def test_there_are_checks_and_no_two_of_one_name():
    names = [name for name, _ in CHECKS]
    assert names, f"no check in {FOLDER}"
    assert sorted(set(names)) == sorted(names)


@pytest.mark.parametrize("table", [table for _, table in CHECKS], ids=[name for name, _ in CHECKS])
def test_published_value(table):
    assert not complaints(table)
    agree(table)


# The reader itself: what must not slip through.

SOUND = {
    "name": "a square root",
    "source": "arithmetic",
    "where": "by hand",
    "call": "numpy:sqrt",
    "inputs": {"x": 4.0},
    "printed": "2.0",
    "tolerance": 0.05,
    "because": "digits",
}


@pytest.mark.parametrize("key", REQUIRED)
def test_missing_key_is_refused(key):
    assert complaints({name: value for name, value in SOUND.items() if name != key})


@pytest.mark.parametrize(
    "change",
    [
        {"tolerence": 0.1},
        {"printed": 2.0},
        {"printed": "two"},
        {"printed": "nan"},
        {"printed": ""},
        {"tolerance": "0.1"},
        {"tolerance": -0.1},
        {"tolerance": float("inf")},
        {"tolerance": True},
        {"inputs": []},
        {"call": "numpy.sqrt"},
        {"because": ""},
        {"memory": "yes"},
    ],
    ids=str,
)
def test_malformed_table_is_refused(change):
    assert not complaints(SOUND)
    assert complaints(SOUND | change)


def test_folder_is_read_whole(tmp_path):
    assert read(tmp_path) == []
    (tmp_path / "empty.toml").write_text("")
    (tmp_path / "other.toml").write_text('[[checks]]\nname = "misspelt"\n')
    (tmp_path / "sound.toml").write_text('[[check]]\nname = "one"\n[[check]]\nname = "two"\n')
    found = read(tmp_path)
    assert [name for name, _ in found] == [
        "empty: empty",
        "other: checks",
        "other: empty",
        "sound: one",
        "sound: two",
    ]
    assert all(complaints(table) for _, table in found)


def test_comparison_can_fail():
    square = {**SOUND, "call": f"{__name__}:squares", "inputs": {"sides": [1, 2]}}
    agree(square | {"printed": "1 4"})
    agree(square | {"printed": "1 4", "call": f"{__name__}:named", "field": "area"})
    for wrong in (
        {"printed": "1 4.1"},
        {"printed": "1"},
        {"printed": "1 4 9"},
        {"printed": "1 4", "inputs": {"sides": [1.0, float("nan")]}},
    ):
        with pytest.raises(AssertionError):
            agree(square | wrong)
    with pytest.raises(KeyError):
        agree(square | {"printed": "1 4", "call": f"{__name__}:named"})
    with pytest.raises(AttributeError):
        agree(square | {"printed": "1 4", "field": "area"})


def squares(sides):
    return sides**2


def named(sides):
    from collections import namedtuple

    return namedtuple("Square", "area")(sides**2)
