"""How a quantity may be spelled: what means one thing is read as it, the rest is answered.

A keyboard or a word processor writes ``½``, ``1½`` and a true minus sign: each means one thing and
is read. What could mean two, or is spelled as this closed grammar is not, is refused with the
spelling that would be read.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable

from sensitivity.errors import QuantityError

_VULGAR = re.compile(r"([0-9]?)( ?)([¼-¾⅐-⅞])([0-9]?)")
_DECIMAL_COMMA = re.compile(r"([+-]?[0-9]*),([0-9]+)(?![0-9,.])")
_DIAMETER = re.compile(r"(?:[øØ⌀]|dia\.? |diameter )\s*(?=[0-9.])", re.IGNORECASE)
_SPLIT_FRACTION = re.compile(r"(?<=[0-9]) ?/ ?(?=[0-9])")
_SLOPE = re.compile(r"([0-9.]+) ?-? ?(?:in|to) ?-? ?([0-9.]+)", re.IGNORECASE)
_NUMBER_FIRST = re.compile(r"(?P<number>[+-]?[0-9.][0-9./ -]*?)\s*(?P<unit>[^0-9\s./-].*)")

_LISTED = (
    "mm cm in inch inches thou mil mils ft deg degree degrees degC degF ml ml/min g kg psi bar"
)
MISSPELT: dict[str, str] = {
    **{spelling.casefold(): spelling for spelling in _LISTED.split()},
    **dict.fromkeys(("millimetre", "millimetres", "millimeter", "millimeters", "mms"), "mm"),
    **dict.fromkeys(("centimetre", "centimetres", "centimeter", "centimeters", "cms"), "cm"),
    **dict.fromkeys(("ins", "''", "”", "“", "´´", "``"), "in"),
    **dict.fromkeys(("thous", "thousandth", "thousandths", "th"), "thou"),
    **dict.fromkeys(("foot", "feet", "'", "’", "′"), "ft"),
    **dict.fromkeys(("degs", "º"), "deg"),
    **dict.fromkeys(("c", "ºc", "˚c", "deg c", "degrees c", "celsius", "centigrade", "℃"), "degC"),
    **dict.fromkeys(("f", "ºf", "˚f", "deg f", "degrees f", "fahrenheit", "℉"), "degF"),
    **dict.fromkeys(("k", "kelvin", "kelvins"), "K"),
    **dict.fromkeys(("sec", "secs", "second", "seconds"), "s"),
    **dict.fromkeys(("mins", "minute", "minutes"), "min"),
    **dict.fromkeys(("hr", "hrs", "hour", "hours"), "h"),
    **dict.fromkeys(("mls", "c.c", "ccs", "millilitre", "millilitres", "milliliters"), "ml"),
    **dict.fromkeys(("litres", "liter", "liters"), "l"),
    **dict.fromkeys(("gram", "grams", "gm", "gms"), "g"),
    **dict.fromkeys(("percent", "per cent", "pct"), "%"),
    **dict.fromkeys(("sq in", "sq. in", "sq ins", "square inch", "square inches"), "in2"),
    **dict.fromkeys(("sq mm", "square mm", "square millimetres", "mm sq"), "mm2"),
    **dict.fromkeys(("sq cm", "square cm", "square centimetres", "cm sq"), "cm2"),
    **dict.fromkeys(("ml per min", "ml per minute", "ml/minute", "ml a minute"), "ml/min"),
}
"""Spellings that are met with and not read, in small letters without a full stop at the end."""


def plain(text: str) -> str:
    """Write a quantity with what this grammar reads: a hyphen for a minus, ``1 1/2`` for ``1½``.

    >>> plain("1½ in")
    '1 1/2 in'

    Parameters
    ----------
    text : str
        As written.
    """
    text = text.replace("−", "-").replace("⁄", "/")
    return _VULGAR.sub(_as_fraction, text)


def _as_fraction(match: re.Match[str]) -> str:
    whole, gap, sign, after = match.groups()
    fraction = unicodedata.normalize("NFKC", sign).replace("⁄", "/")
    # Apart from a digit behind it, which would be one more of the lower number's.
    return (f"{whole} " if whole else gap) + fraction + (f" {after}" if after else "")


def refused(text: str, error: QuantityError, reads: Callable[[str], object]) -> QuantityError:
    """Put what would be read into the refusal of a quantity, where something like it would.

    Parameters
    ----------
    text : str
        As written.
    error : QuantityError
        Its refusal.
    reads : callable
        Raises QuantityError for what would not be read either.

    Returns
    -------
    QuantityError
        The refusal itself where nothing like it would be read.
    """
    found: list[str] = []
    for candidate in _candidates(text):
        try:
            reads(candidate)
        except QuantityError:
            continue
        found.append(candidate)
    if not found:
        return error
    quoted = " or ".join(f'"{each}"' for each in found[:2])
    if (shown := _shown(text)) in found:
        return QuantityError(f'"{shown}" holds a sign that is not seen; write it anew')
    return QuantityError(f'"{shown}": write {quoted}')


def _candidates(text: str) -> list[str]:
    """Spellings that may have been meant, most likely first; all alike but for what is mended."""
    words = " ".join(_ascii(plain(text)).split())
    words = _SPLIT_FRACTION.sub("/", _DIAMETER.sub("", words, count=1))
    words = re.sub(r"^([+-]) (?=[0-9.])", r"\1", words.removeprefix("±").strip())
    if slope := _SLOPE.fullmatch(words):
        return [f"{slope[1]} in {slope[2]}"]
    numbers = [words]
    if comma := _DECIMAL_COMMA.match(words):
        rest = words[comma.end() :]
        numbers = [f"{comma[1] or '0'}.{comma[2]}{rest}"]
        if len(comma[2]) == 3 and comma[1].strip("+-0"):  # a comma between thousands
            numbers.insert(0, f"{comma[1]}{comma[2]}{rest}")
    each = (spelled for number in numbers for spelled in (_with_unit(number), number))
    return [spelled for spelled in dict.fromkeys(each) if spelled != text]


def _with_unit(text: str) -> str:
    match = _NUMBER_FIRST.fullmatch(text)
    if match is None:
        return text
    unit = match["unit"].casefold().rstrip(". ")
    return f"{match['number']} {MISSPELT[unit]}" if unit in MISSPELT else text


def _ascii(text: str) -> str:
    """Write the digits and letters of other widths and scripts as ASCII; drop what is not seen."""
    letters = []
    for letter in text:
        if letter.isascii():
            letters.append(letter)
        elif unicodedata.category(letter) == "Cf":
            continue
        elif (digit := unicodedata.decimal(letter, None)) is not None:
            letters.append(str(digit))
        elif unicodedata.decomposition(letter).startswith(("<wide>", "<square>")):
            letters.append(unicodedata.normalize("NFKC", letter))
        else:
            letters.append({"–": "-", "—": "-", "‐": "-", "‑": "-", "№": "No."}.get(letter, letter))
    return "".join(letters)


def _shown(text: str) -> str:
    seen = "".join(letter for letter in text if letter.isprintable())
    return seen if len(seen) <= 40 else f"{seen[:40]}..."
