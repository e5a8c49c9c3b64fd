"""Quantities as a builder writes them: ``"10.3 mm"``, ``"1½ in"``, ``'5/32"'``, ``"No. 60"``.

A strict front reads the number and looks the unit up in a closed list of spellings. (Handed the
whole string, pint, which the units are held to, reads "1 1/2 in" as half an inch in silence.)
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from fractions import Fraction

from sensitivity.errors import QuantityError
from sensitivity.quantities.spelling import plain, refused
from sensitivity.quantities.trade_sizes import trade_size
from sensitivity.quantities.units import TEMPERATURES, Conversion, conversion, pint_expression

LONGEST_QUANTITY = 100

# ASCII digits alone: Python's own \d takes the digits of every script.
_DECIMAL = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_NUMBER = re.compile(
    r"^(?P<mixed>[+-]?[0-9]+[ -][0-9]+/[0-9]+)|^(?P<fraction>[+-]?[0-9]+/[0-9]+)"
    rf"|^(?P<decimal>{_DECIMAL})"
)
_PLUS_MINUS = re.compile(r"^\s*(?:±|\+/?[-−])\s*")
_SLOPE = re.compile(rf"^(?P<rise>{_DECIMAL})(?: in | ?: ?)(?P<run>{_DECIMAL})$")

_INCHES_FIRST: ContextVar[bool] = ContextVar("inches_first", default=False)


@contextmanager
def suggesting(*, inches: bool) -> Iterator[None]:
    """Let what has no unit be asked for in inches first, as a study is written; in here alone."""
    before = _INCHES_FIRST.set(inches)
    try:
        yield
    finally:
        _INCHES_FIRST.reset(before)


def split_number(text: str) -> tuple[float, str]:
    """Split ``"1 1/2 in"`` into its number and its unit, ``(1.5, "in")``.

    Digits are ASCII; a number is whole, decimal (one exponent), a fraction, or a whole number and
    a fraction below one, ``½`` too; ``"1 in 80"`` and ``"1:80"`` are pure numbers. The unit is not
    looked up here.

    Parameters
    ----------
    text : str
        A quantity as written, of at most 100 characters.

    Returns
    -------
    float, str
        The number, and the unit as it is spelled.

    Raises
    ------
    QuantityError
        On anything else.
    """
    text = plain(text).strip()
    if len(text) > LONGEST_QUANTITY:
        raise QuantityError(f'"{text[:20]}..." is too long for a quantity')
    if slope := _SLOPE.match(text):
        run = float(slope["run"])
        if run == 0:
            raise QuantityError(f'"{text}": a slope of one in nothing')
        return float(slope["rise"]) / run, ""
    match = _NUMBER.match(text)
    if match is None:
        like = "0.405 in" if _INCHES_FIRST.get() else "10.3 mm"
        raise QuantityError(f'"{text}" does not begin with a number; write it like "{like}"')
    unit = text[match.end() :].strip()
    counted = unit[:1].isdigit() and not re.match(r"1 ?/ ?[A-Za-z(]", unit)  # but "3 1/min"
    if unit[:1] in {".", "/", "-", "+", ","} or counted or "\n" in unit:
        raise QuantityError(
            f'"{text}" is not one number and a unit; write "10.3 mm", "13/32 in" or "1 1/2 in"'
        )
    try:
        if match["mixed"]:
            whole, part = re.split(r"(?<=\d)[ -]", match["mixed"], maxsplit=1)
            sign = -1 if whole.startswith("-") else 1
            fraction = _fraction(part, text)
            if fraction >= 1:
                raise QuantityError(f'"{text}": a fraction behind a whole number is below one')
            value = float(sign * (abs(int(whole)) + fraction))
        elif match["fraction"]:
            value = float(_fraction(match["fraction"], text))
        else:
            value = float(match["decimal"])
    except (OverflowError, ValueError):  # ValueError: more digits than Python reads
        value = float("inf")
    return _finite(value, text), unit


def _finite(value: float, text: str | float) -> float:
    if not float("-inf") < value < float("inf"):
        shown = f"{str(text)[:20]}..." if len(str(text)) > 24 else str(text)
        raise QuantityError(f'"{shown}" is not a number of any size met with')
    return value


def _fraction(text: str, whole: str) -> Fraction:
    above, below = text.split("/")
    if int(below) == 0:
        raise QuantityError(f'"{whole}" divides by nothing')
    return Fraction(int(above), int(below))


def _read(text: str | float, wanted: str) -> tuple[float, Conversion]:
    """Read a quantity; one that is refused is answered with the spelling that would be read."""
    if not isinstance(text, str):
        return _read_number(text, wanted)
    try:
        return _read_text(text, wanted)
    except QuantityError as error:
        if len(text) > LONGEST_QUANTITY:
            raise
        raise refused(text, error, lambda other: _would_read(other, wanted)) from None


def _would_read(text: str, wanted: str) -> object:
    size = trade_size(text)
    return _read_text(text, wanted) if size is None else _of_a_length(text, wanted)


def _read_text(text: str, wanted: str) -> tuple[float, Conversion]:
    value, unit = split_number(text)
    if unit == "" and not _is_pure(wanted) and not _SLOPE.match(plain(text).strip()):
        raise QuantityError(f'"{text}" has no unit; write {_with_units(text.strip(), wanted)}')
    return value, conversion(unit, wanted)


def _read_number(text: float, wanted: str) -> tuple[float, Conversion]:
    if not _is_pure(wanted):
        raise QuantityError(f"{text!r} has no unit; write {_with_units(f'{text:g}', wanted)}")
    try:
        return _finite(float(text), text), Conversion(1.0)
    except OverflowError:
        return _finite(float("inf"), text), Conversion(1.0)


def _with_units(number: str, wanted: str) -> str:
    """Suggest a unit; for a length both of the usual ones, for a slip between them is costly.

    A fraction is one of an inch; else the study's unit goes first, and a whole number is of thou.
    """
    units = ("mm", "in") if wanted == "mm" else (wanted,)
    if wanted == "mm" and "/" in number:
        units = ("in", "mm")
    elif wanted == "mm" and _INCHES_FIRST.get():
        units = ("thou" if number.isdigit() else "in", "mm")
    return " or ".join(f'"{number} {unit}"' for unit in units)


def _is_pure(unit: str) -> bool:
    return pint_expression(unit) == "dimensionless"


def read_quantity(text: str | float, wanted: str) -> float:
    """Read a quantity into the wanted unit.

    Parameters
    ----------
    text : str or number
        A quantity such as ``"13/32 in"``, or a length's name in the trade, such as ``"No. 60"``
        (``trade_sizes``); a bare number only where ``wanted`` is ``""``.
    wanted : str
        A unit spelling from ``SPELLINGS``, or built from them.

    Raises
    ------
    QuantityError
        With what was found and what would be right.
    """
    if isinstance(text, str) and (size := trade_size(text)) is not None:
        return size.millimetres * _of_a_length(text, wanted)
    value, change = _read(text, wanted)
    return _finite(value * change.factor + change.offset, text)


def _of_a_length(text: str, wanted: str) -> float:
    try:
        return conversion("mm", wanted).factor
    except QuantityError:
        shown = f"in {wanted}" if wanted else "a pure number"
        raise QuantityError(f'"{text}" is a length; this is {shown}') from None


def read_difference(text: str | float, wanted: str) -> float:
    """Read a difference, such as a half-width, into the wanted unit.

    A difference of temperature is stated in K (or its own degF): "5 degC" is a temperature.

    Parameters
    ----------
    text : str or number
        A quantity; a bare number only where ``wanted`` is a pure number.
    wanted : str
        A unit spelling.

    Raises
    ------
    QuantityError
        With what was found and what would be right.
    """
    if isinstance(text, str) and trade_size(text) is not None:
        raise QuantityError(f'"{text}" is a size; write a difference like "0.1 mm" or "4 thou"')
    if isinstance(text, str) and pint_expression(wanted) in TEMPERATURES:
        value, unit = split_number(text)
        if unit != "" and pint_expression(unit) == "degree_Celsius":
            raise QuantityError(f'"{text}" is a temperature; write the difference as "{value:g} K"')
    value, change = _read(text, wanted)
    return _finite(value * change.factor, text)


def read_half_width(text: str | float, wanted: str) -> float:
    """Read a half-width like a difference; ``±`` may stand before it.

    Parameters
    ----------
    text : str or number
        A quantity, such as ``"0.2 mm"`` or ``"± 0.2 mm"``.
    wanted : str
        A unit spelling.

    Raises
    ------
    QuantityError
        With what was found and what would be right.
    """
    return read_difference(without_sign(text), wanted)


def without_sign(text: str | float) -> str | float:
    """Take the ``±`` (or ``+-``, ``+/-``) away that may stand before a half-width."""
    return _PLUS_MINUS.sub("", text) if isinstance(text, str) else text
