"""Sizes that are bought by a name: drills by number and letter, SWG, drills for taps.

``trade_sizes.toml`` has the tables with their sources. Every size is a length; it is read from its
name and said back by it.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_left
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from importlib.resources import files
from string import ascii_uppercase
from typing import Any

from sensitivity.errors import QuantityError, nearest

INCH = 25.4
"""Millimetres, exactly: international yard and pound agreement, 1959."""
SAME = 1e-6
"""Millimetres within which two sizes are one."""


@dataclass(frozen=True, slots=True)
class TradeSize:
    """One size: its name, such as ``No. 60`` or ``22 SWG``, and its millimetres."""

    name: str
    millimetres: float


@lru_cache(maxsize=1)
def _content() -> dict[str, Any]:
    text = files("sensitivity.quantities").joinpath("trade_sizes.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


_GAUGES = (*(f"{count}/0" for count in range(7, 1, -1)), *(str(number) for number in range(51)))
_LISTS: dict[str, tuple[str, tuple[str, ...]]] = {
    "number drills": ("number_drills", tuple(f"No. {number}" for number in range(80, 0, -1))),
    "letter drills": ("letter_drills", tuple(f"letter {letter}" for letter in ascii_uppercase)),
    "SWG": ("standard_wire_gauge", tuple(f"{gauge} SWG" for gauge in _GAUGES)),
}
_STEPPED = {"metric drills": "metric_drills", "fractional drills": "fractional_drills"}

SERIES = (*_LISTS, *_STEPPED)
"""The series in which a size can be bought, by the name that a study gives them."""


@lru_cache(maxsize=16)
def series(name: str) -> tuple[TradeSize, ...]:
    """List the sizes of a series, the smallest first.

    Parameters
    ----------
    name : str
        One of ``SERIES``; capitals do not matter.

    Raises
    ------
    QuantityError
        For any other name, with those that there are.
    """
    known = {each.casefold(): each for each in SERIES}
    key = " ".join(name.split()).casefold()
    if key not in known:
        listed = ", ".join(f'"{each}"' for each in SERIES)
        close = nearest(key, known)
        near = close if close.startswith("did") else f"there are {listed}"
        raise QuantityError(f'no sizes called "{name[:40]}"; {near}')
    found = _listed(known[key]) if known[key] in _LISTS else _stepped(known[key])
    return tuple(sorted(found, key=lambda size: size.millimetres))


def _listed(name: str) -> list[TradeSize]:
    key, names = _LISTS[name]
    inches = _content()[key]["sizes"]
    return [TradeSize(each, _inches(size)) for each, size in zip(names, inches, strict=True)]


def _inches(size: float) -> float:
    return round(INCH * size, 9)


def _stepped(name: str) -> list[TradeSize]:
    table = _content()[_STEPPED[name]]
    found = []
    for step in table["steps"]:
        low, high, by = (Fraction(str(step[key])) for key in ("from", "to", "by"))
        for count in range(int((high - low) / by) + 1):
            size = low + count * by
            if table["unit"] == "in":
                found.append(TradeSize(f"{size} in", _inches(float(size))))
            else:
                found.append(TradeSize(f"{float(size):g} mm", float(size)))
    return found


def either_side(millimetres: float, name: str) -> tuple[TradeSize | None, TradeSize | None]:
    """Find the sizes of a series that are nearest to a wanted one, below it and above it.

    Parameters
    ----------
    millimetres : float
        What is wanted.
    name : str
        One of ``SERIES``.

    Returns
    -------
    TradeSize or None, TradeSize or None
        Both are the size itself where it can be bought; None where the series ends.
    """
    sizes = series(name)
    above = bisect_left(sizes, millimetres - SAME, key=lambda size: size.millimetres)
    if above < len(sizes) and sizes[above].millimetres <= millimetres + SAME:
        return sizes[above], sizes[above]
    return (sizes[above - 1] if above else None), (sizes[above] if above < len(sizes) else None)


def named(millimetres: float, name: str) -> TradeSize | None:
    """Find the size of a series that is this one; None where there is none."""
    below, above = either_side(millimetres, name)
    return below if below is above else None


_DRILL = r"(?: drill)?"
_NUMBER = re.compile(rf"(?:no\.? ?|number |# ?)([0-9]{{1,4}}){_DRILL}")
_LETTER = re.compile(rf"letter ([a-z]){_DRILL}|([a-z]) drill")
_GAUGE = re.compile(r"([0-9]{1,4}(?:/0)?) ?s\.?w\.?g\.?|s\.?w\.?g\.? ?([0-9]{1,4}(?:/0)?)")
_JOB = r"(tapping|clearance)(?: drill| size)?"
_BA = re.compile(rf"([0-9]{{1,2}}) ?ba {_JOB}")
_ME = re.compile(rf'([0-9]+/[0-9]+) ?(?:in|"|)? ?[x×] ?([0-9]{{2}})(?: ?tpi)? ?me {_JOB}')
_NO_JOB = re.compile(r'[0-9]{1,2} ?ba|[0-9]+/[0-9]+ ?(?:in|"|)? ?[x×] ?[0-9]{2}(?: ?tpi)? ?me')
_OTHER_GAUGE = re.compile(r"([0-9]{1,2}) ?(gauge|gage|ga|awg|bwg|g)")
_BARE_NUMBER = re.compile(r"([0-9]{1,2}) drill")


def trade_size(text: str) -> TradeSize | None:
    """Read the name of a size; None where the text is no such name.

    ``No. 60``, ``#60``, ``number 60``, each with or without ``drill``; ``letter F``, ``F drill``;
    ``22 SWG``, ``swg 22``, ``3/0 SWG``; ``2 BA tapping``, ``1/4 x 40 ME clearance``. Capitals do
    not matter.

    Parameters
    ----------
    text : str
        As written.

    Raises
    ------
    QuantityError
        Where it is nearly such a name, or the table does not have it; with what would be right.
    """
    words = " ".join(text.split())
    if len(words) > 40:
        return None
    low = words.casefold()
    if match := _NUMBER.fullmatch(low):
        return _found("number drills", f"No. {int(match[1])}", text, "No. 80 to No. 1")
    if match := _LETTER.fullmatch(low):
        return _found("letter drills", f"letter {(match[1] or match[2]).upper()}", text, "A to Z")
    if match := _GAUGE.fullmatch(low):
        gauge = match[1] or match[2]
        plain = gauge if "/" in gauge else str(int(gauge))
        return _found("SWG", f"{plain} SWG", text, "7/0 SWG to 50 SWG")
    if match := _BA.fullmatch(low):
        return _for_a_tap("ba_drills", str(int(match[1])), "BA", match[2], text)
    if match := _ME.fullmatch(low):
        return _for_a_tap("me_drills", f"{match[1]} x {match[2]}", "ME", match[3], text)
    _refuse_near_names(text, low)
    return None


def _found(name: str, wanted: str, text: str, there_are: str) -> TradeSize:
    for size in series(name):
        if size.name == wanted:
            return size
    raise QuantityError(f'"{text}": there is no such size; the sizes are {there_are}')


def _for_a_tap(key: str, thread: str, system: str, job: str, text: str) -> TradeSize:
    table = _content()[key]
    threads = table.get("threads") or [str(number) for number in range(len(table["tapping"]))]
    if thread not in threads:
        listed = "0 BA to 12 BA" if system == "BA" else ", ".join(threads)
        raise QuantityError(f'"{text}": no drill is known for this tap; there are {listed}')
    drill = table[job][threads.index(thread)]
    size = trade_size(drill)
    millimetres = (
        _inches(float(Fraction(drill.removesuffix(" in")))) if size is None else (size.millimetres)
    )
    return TradeSize(f"{thread} {system} {job} drill", millimetres)


def _refuse_near_names(text: str, low: str) -> None:
    """Answer what is nearly a name: it could be read two ways, or lacks a word."""
    if _NO_JOB.fullmatch(low):
        raise QuantityError(
            f'"{text}" is a thread; write "{text} tapping" or "{text} clearance" for its drills'
        )
    if match := _OTHER_GAUGE.fullmatch(low):
        if match[2] == "g":
            return  # grams
        remedy = f'write "{match[1]} SWG" if it is that, or the thickness in mm or in'
        raise QuantityError(f'"{text}": which gauge? {remedy[0].upper()}{remedy[1:]}')
    if match := _BARE_NUMBER.fullmatch(low):
        raise QuantityError(f'"{text}": write "No. {int(match[1])}" for a number drill')
    if len(low) == 1 and "a" <= low <= "z":
        raise QuantityError(f'"{text}" has no number; write "letter {low.upper()}" for that drill')
