"""Quantities as a builder writes them: ``"10.3 mm"``, ``"1-1/2 in"``, ``'5/32"'``, ``"3 thou"``.

A strict front reads the number and looks the unit up in a closed list of spellings; pint only
ever converts. (Handed the whole string, pint reads "1 1/2 in" as half an inch in silence.)
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING

from sensitivity.errors import QuantityError, nearest

if TYPE_CHECKING:
    import pint

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

# ASCII digits alone: Python's own \d takes the digits of every script.
_DECIMAL = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_NUMBER = re.compile(
    r"^(?P<mixed>[+-]?[0-9]+[ -][0-9]+/[0-9]+)|^(?P<fraction>[+-]?[0-9]+/[0-9]+)"
    rf"|^(?P<decimal>{_DECIMAL})"
)
_SLOPE = re.compile(rf"^(?P<rise>{_DECIMAL}) in (?P<run>{_DECIMAL})$")
_FACTOR = re.compile(r'(mmH2O|inH2O|[A-Za-zµμ°%"″]+)(?:\^?(-?[1-9])|([²³]))?')
_SUPERSCRIPT = {"²": 2, "³": 3}


@lru_cache(maxsize=1)
def _registry() -> pint.UnitRegistry[float]:
    import pint

    registry: pint.UnitRegistry[float] = pint.UnitRegistry(cache_folder=None)
    registry.define("inch_H2O_39F = 249.08891 pascal")  # conventional inch of water, NIST SP 811
    registry.define("millimetre_of_water = 9.80665 pascal")  # conventional, NIST SP 811
    registry.define("turn_per_minute = 1 / minute")  # pint's own counts radians
    return registry


def _nearest_unit(text: str) -> str:
    close = nearest(text, (spelling for spelling in SPELLINGS if len(spelling) > 1))
    return close if close.startswith("did") else "units look like mm, in, thou, deg, degC, ml/min"


@dataclass(frozen=True, slots=True)
class _Factor:
    """One unit of a product, by pint's name, and its power."""

    name: str
    power: int


def _product(text: str, *, whole: str) -> tuple[_Factor, ...]:
    """Read a product of spellings such as ``m2K`` or ``mPa s``."""
    factors = []
    for piece in re.split(r"[ *·]", text):
        position = 0
        while match := _FACTOR.match(piece, position):
            spelling, power, superscript = match.groups()
            symbol = not spelling.replace("H2O", "").isalpha()
            if spelling not in SPELLINGS or (symbol and (power or superscript)):
                break
            name = SPELLINGS[spelling]
            factors.append(_Factor(name, _SUPERSCRIPT.get(superscript) or int(power or 1)))
            position = match.end()
        if not piece or position != len(piece):
            raise QuantityError(f'"{whole}" is not a unit known here; {_nearest_unit(whole)}')
    return tuple(factors)


@lru_cache(maxsize=256)
def _above_and_below(unit: str) -> tuple[tuple[_Factor, ...], tuple[_Factor, ...]]:
    """Read a unit's factors above the line and below it, or raise QuantityError."""
    unit = unit.strip()
    if unit in SPELLINGS:
        return ((_Factor(SPELLINGS[unit], 1),) if unit else ()), ()
    first, *rest = re.split(r" ?/ ?", unit)
    above = () if first == "1" and rest else _product(first, whole=unit)
    below: tuple[_Factor, ...] = ()
    for part in rest:
        inside = re.fullmatch(r"\(([^()]+)\)", part)
        if inside is None and " " in part:
            raise QuantityError(f'"{unit}": put what stands below the line in brackets: "W/(m2 K)"')
        below += _product(part if inside is None else inside[1], whole=unit)
    _check_once(unit, above, below)
    return above, below


def _check_once(unit: str, above: tuple[_Factor, ...], below: tuple[_Factor, ...]) -> None:
    """Refuse a unit named twice, which is a slip more often than it is meant ("K K/K").

    A ratio such as ``kg/kg`` may name one above and below, with nothing beside it.
    """
    names = [factor.name for factor in (*above, *below)]
    if len(set(names)) < len(names) and not (len(above) == len(below) == 1 and above == below):
        raise QuantityError(f'"{unit}" names a unit twice; write it once, with its power')
    if "percent" in names and (len(above) != 1 or above[0].name != "percent"):
        raise QuantityError(f'"{unit}": a percentage is no factor of a unit')


@lru_cache(maxsize=256)
def pint_expression(unit: str) -> str:
    """Translate a unit spelling, simple or built with ``*``, ``/`` and powers, for pint.

    A power is one digit behind the spelling (``m2``, ``m^2``, ``m²``, ``m-2``); a product stands
    with a space or ``*``; below the line it stands in brackets. A unit is named once.

    >>> pint_expression("ml/min")
    'milliliter/(minute)'

    Raises
    ------
    QuantityError
        Where it is not built so, or from spellings that are not in ``SPELLINGS``.
    """
    above, below = _above_and_below(unit)
    if not above and not below:
        return SPELLINGS[""]
    return _written(above) + (f"/({_written(below)})" if below else "")


def _written(factors: tuple[_Factor, ...]) -> str:
    each = [f.name if f.power == 1 else f"{f.name}**{f.power}" for f in factors]
    return "*".join(each) or "1"


@dataclass(frozen=True, slots=True)
class Conversion:
    """``value in the wanted unit = factor * value + offset``; a difference takes the factor."""

    factor: float
    offset: float = 0.0


_TEMPERATURES = {"degree_Celsius", "degree_Fahrenheit", "kelvin"}
_ANGLES = {"degree", "arcminute", "arcsecond", "radian", "milliradian"}


def _angles_in(unit: str) -> int:
    """Power of an angle in a unit. To pint a radian is a pure number; to a builder it is not."""
    above, below = _above_and_below(unit)
    return sum(f.power for f in above if f.name in _ANGLES) - sum(
        f.power for f in below if f.name in _ANGLES
    )


@lru_cache(maxsize=1024)
def conversion(unit: str, wanted: str) -> Conversion:
    """Find the conversion between two unit spellings.

    An angle converts to angles alone: a slope of 45 deg is 100 %, not 78.5 %, and one turn a
    minute is not 0.955 deg/s. A temperature converts to temperatures alone.

    Raises
    ------
    QuantityError
        Where a unit is not known, or the two do not measure the same.
    """
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

    alike = _angles_in(unit) == _angles_in(wanted)
    try:
        if alike and have not in _TEMPERATURES and want not in _TEMPERATURES:
            return Conversion(float(registry.Quantity(1.0, have).to(want).magnitude))
    except (pint.DimensionalityError, pint.OffsetUnitCalculusError):
        pass
    shown = f'"{unit}"' if unit else "a pure number"
    right = f'"{wanted}"' if wanted else "a pure number"
    raise QuantityError(f"{shown} does not convert to {right}")


def split_number(text: str) -> tuple[float, str]:
    """Split ``"1 1/2 in"`` into its number and its unit, ``(1.5, "in")``.

    Digits are ASCII; a number is whole, decimal (one exponent), a fraction, or a whole number and
    a fraction below one; ``"1 in 80"`` is a pure number. The unit is not looked up here.

    Raises
    ------
    QuantityError
        On anything else.
    """
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
