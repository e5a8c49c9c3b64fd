"""Quantities as a builder writes them: ``"10.3 mm"``, ``"1-1/2 in"``, ``'5/32"'``, ``"3 thou"``.

A strict front reads the number and looks the unit up in a closed list of spellings; pint only
ever converts. (Handed the whole string, pint reads "1 1/2 in" as half an inch in silence.)
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any

from sensitivity.errors import QuantityError, nearest

# Spelling: pint's name. The empty unit is a pure number.
SPELLINGS: dict[str, str] = {
    "": "dimensionless",
    "%": "percent",
    "mm": "millimeter",
    "cm": "centimeter",
    "m": "meter",
    "um": "micrometer",
    "µm": "micrometer",  # micro sign
    "μm": "micrometer",  # Greek mu
    "micron": "micrometer",
    "in": "inch",
    "inch": "inch",
    "inches": "inch",
    '"': "inch",
    "″": "inch",
    "thou": "thou",
    "mil": "thou",
    "mils": "thou",
    "ft": "foot",
    "deg": "degree",
    "degree": "degree",
    "degrees": "degree",
    "°": "degree",
    "arcmin": "arcminute",
    "arcsec": "arcsecond",
    "rad": "radian",
    "mrad": "milliradian",
    "degC": "degree_Celsius",
    "°C": "degree_Celsius",
    "degF": "degree_Fahrenheit",
    "°F": "degree_Fahrenheit",
    "K": "kelvin",
    "ml": "milliliter",
    "mL": "milliliter",
    "cc": "milliliter",
    "l": "liter",
    "L": "liter",
    "litre": "liter",
    "ug": "microgram",
    "mg": "milligram",
    "g": "gram",
    "kg": "kilogram",
    "oz": "ounce",
    "lb": "pound",
    "ms": "millisecond",
    "s": "second",
    "min": "minute",
    "h": "hour",
    "Hz": "hertz",
    "rpm": "turn_per_minute",
    "N": "newton",
    "mN": "millinewton",
    "Pa": "pascal",
    "mPa": "millipascal",
    "hPa": "hectopascal",
    "kPa": "kilopascal",
    "MPa": "megapascal",
    "GPa": "gigapascal",
    "mbar": "millibar",
    "bar": "bar",
    "psi": "psi",
    "atm": "standard_atmosphere",
    "mmH2O": "millimetre_of_water",
    "inH2O": "inch_H2O_39F",
    "J": "joule",
    "kJ": "kilojoule",
    "MJ": "megajoule",
    "mW": "milliwatt",
    "W": "watt",
    "kW": "kilowatt",
    "mol": "mole",
    "A": "ampere",
    "V": "volt",
    "ohm": "ohm",
    "nm": "nanometer",
}

LONGEST_QUANTITY = 100

_DECIMAL = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
_NUMBER = re.compile(
    rf"^(?P<mixed>[+-]?\d+[ -]\d+/\d+)|^(?P<fraction>[+-]?\d+/\d+)|^(?P<decimal>{_DECIMAL})"
)
_SLOPE = re.compile(rf"^(?P<rise>{_DECIMAL}) in (?P<run>{_DECIMAL})$")
_FACTOR = re.compile(r'([A-Za-zµμ°%"″]+(?:2O)?)\^?(-?\d|²|³)?')
_SUPERSCRIPT = {"²": "2", "³": "3", None: "1", "": "1"}


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    registry = pint.UnitRegistry(cache_folder=None)
    registry.define("inch_H2O_39F = 249.08891 pascal")  # conventional inch of water, NIST SP 811
    registry.define("millimetre_of_water = 9.80665 pascal")  # conventional, NIST SP 811
    registry.define("turn_per_minute = 1 / minute")  # pint's own counts radians
    return registry


def _nearest_unit(text: str) -> str:
    close = nearest(text, (spelling for spelling in SPELLINGS if len(spelling) > 1))
    return close if close.startswith("did") else "units look like mm, in, thou, deg, degC, ml/min"


def _pint_factors(text: str, *, whole: str) -> list[str]:
    """Translate a product of spellings such as ``m2K`` or ``mPa s`` for pint."""
    factors = []
    for piece in re.split(r"[ *·]", text):
        if piece in SPELLINGS and piece:
            factors.append(SPELLINGS[piece])
            continue
        position = 0
        for match in _FACTOR.finditer(piece):
            name, power = match.group(1), match.group(2)
            if match.start() != position or name not in SPELLINGS:
                break
            factors.append(f"{SPELLINGS[name]}**{_SUPERSCRIPT.get(power, power)}")
            position = match.end()
        if not piece or position != len(piece):
            raise QuantityError(f'"{whole}" is not a unit known here; {_nearest_unit(whole)}')
    return factors


@lru_cache(maxsize=256)
def pint_expression(unit: str) -> str:
    """Translate a unit spelling, simple or built with ``*``, ``/`` and powers, for pint.

    >>> pint_expression("ml/min")
    'milliliter/(minute)'
    """
    unit = unit.strip()
    if unit in SPELLINGS:
        return SPELLINGS[unit]
    above, *below = unit.split("/")
    if any(" " in part.strip(" ()") and "(" not in part for part in below):
        raise QuantityError(f'"{unit}": put what stands below the line in brackets: "W/(m2 K)"')
    text = "*".join(_pint_factors(above, whole=unit)) if above not in ("", "1") else "1"
    for part in below:
        text += "/(" + "*".join(_pint_factors(part.strip(" ()"), whole=unit)) + ")"
    return text


@dataclass(frozen=True, slots=True)
class Conversion:
    """``value in the wanted unit = factor * value + offset``; a difference takes the factor."""

    factor: float
    offset: float = 0.0


_TEMPERATURES = {"degree_Celsius", "degree_Fahrenheit", "kelvin"}
_ANGLES = {"degree", "arcminute", "arcsecond", "radian", "milliradian"}


@lru_cache(maxsize=1024)
def conversion(unit: str, wanted: str) -> Conversion:
    """Find the conversion between two unit spellings, or raise QuantityError."""
    if unit == wanted:
        return Conversion(1.0)
    have, want = pint_expression(unit), pint_expression(wanted)
    if have == want:
        return Conversion(1.0)
    registry = _registry()
    if have in _TEMPERATURES and want in _TEMPERATURES:
        zero = float(registry.Quantity(0.0, have).to(want).magnitude)
        slope = {"kelvin": "kelvin"}
        delta = registry.Quantity(1.0, slope.get(have, f"delta_{have}"))
        return Conversion(float(delta.to(slope.get(want, f"delta_{want}")).magnitude), zero)
    import pint

    try:
        if (have in _ANGLES) != (want in _ANGLES):
            # pint counts radians as pure numbers; a slope of 45 deg is 100 %, not 78.5 %.
            raise QuantityError("")
        return Conversion(float(registry.Quantity(1.0, have).to(want).magnitude))
    except (pint.DimensionalityError, pint.OffsetUnitCalculusError, QuantityError):
        shown = f'"{unit}"' if unit else "a pure number"
        right = f'"{wanted}"' if wanted else "a pure number"
        raise QuantityError(f"{shown} does not convert to {right}") from None


def split_number(text: str) -> tuple[float, str]:
    """Split ``"1 1/2 in"`` into ``(1.5, "in")``; raise QuantityError on anything else."""
    text = text.strip()
    if len(text) > LONGEST_QUANTITY:
        raise QuantityError(f'"{text[:20]}..." is too long for a quantity')
    if slope := _SLOPE.match(text):
        run = float(slope["run"])
        if run == 0:
            raise QuantityError(f'"{text}": a slope of one in nothing')
        return float(slope["rise"]) / run, ""
    match = _NUMBER.match(text)
    if match is None:
        raise QuantityError(f'"{text}" does not begin with a number; write it like "10.3 mm"')
    unit = text[match.end() :].strip()
    if unit[:1] in {".", "/", "-", "+", ","} or unit[:1].isdigit() or "\n" in unit:
        raise QuantityError(
            f'"{text}" is not one number and a unit; write "10.3 mm", "13/32 in" or "1 1/2 in"'
        )
    try:
        if match["mixed"]:
            whole, part = re.split(r"(?<=\d)[ -]", match["mixed"], maxsplit=1)
            sign = -1 if whole.startswith("-") else 1
            value = float(sign * (abs(int(whole)) + _fraction(part, text)))
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
    if isinstance(text, str):
        value, unit = split_number(text)
        if unit == "" and not _is_pure(wanted) and not _SLOPE.match(text.strip()):
            raise QuantityError(f'"{text}" has no unit; write {_with_units(value, wanted)}')
        return value, conversion(unit, wanted)
    if not _is_pure(wanted):
        raise QuantityError(f"{text!r} has no unit; write {_with_units(float(text), wanted)}")
    try:
        return _finite(float(text), text), Conversion(1.0)
    except OverflowError:
        return _finite(float("inf"), text), Conversion(1.0)


def _with_units(value: float, wanted: str) -> str:
    """Suggest a unit; for a length both of the usual ones, for a slip between them is costly."""
    units = ("mm", "in") if wanted == "mm" else (wanted,)
    return " or ".join(f'"{value:g} {unit}"' for unit in units)


def _is_pure(unit: str) -> bool:
    return pint_expression(unit) == "dimensionless"


def read_quantity(text: str | float, wanted: str) -> float:
    """Read a quantity into the wanted unit.

    Parameters
    ----------
    text : str or number
        A quantity such as ``"13/32 in"``; a bare number only where ``wanted`` is ``""``.
    wanted : str
        A unit spelling from ``SPELLINGS``, or built from them.

    Raises
    ------
    QuantityError
        With what was found and what would be right.
    """
    value, change = _read(text, wanted)
    return _finite(value * change.factor + change.offset, text)


def read_difference(text: str | float, wanted: str) -> float:
    """Read a difference, such as a half-width, into the wanted unit.

    A difference of temperature is stated in K (or its own degF): "5 degC" is a temperature.
    """
    if isinstance(text, str) and pint_expression(wanted) in _TEMPERATURES:
        value, unit = split_number(text)
        if unit != "" and pint_expression(unit) == "degree_Celsius":
            raise QuantityError(f'"{text}" is a temperature; write the difference as "{value:g} K"')
    value, change = _read(text, wanted)
    return _finite(value * change.factor, text)
