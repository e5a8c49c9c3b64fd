"""Units: a closed list of spellings, what may be built from them, and their conversions.

Their names are pint's, and their sizes are held to it (``quantities/unit_factors``).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from sensitivity.errors import QuantityError, nearest
from sensitivity.quantities.unit_factors import Size, factor_between, size_of, temperature_between

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

_FACTOR = re.compile(r'(mmH2O|inH2O|[A-Za-zµμ°%"″]+)(?:\^?(-?[1-9])|([²³]))?')
_SUPERSCRIPT = {"²": 2, "³": 3}


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
    """Translate a unit spelling, simple or built with ``*``, ``/`` and powers, into pint's names.

    A power is one digit behind the spelling (``m2``, ``m^2``, ``m²``, ``m-2``); a product stands
    with a space or ``*``; below the line it stands in brackets. A unit is named once.

    >>> pint_expression("ml/min")
    'milliliter/(minute)'

    Parameters
    ----------
    unit : str
        A spelling from ``SPELLINGS``, or built from them; empty for a pure number.

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


TEMPERATURES = {"degree_Celsius", "degree_Fahrenheit", "kelvin"}
_ANGLES = {"degree", "arcminute", "arcsecond", "radian", "milliradian"}


def _angles_in(unit: str) -> int:
    """Power of an angle in a unit. To pint a radian is a pure number; to a builder it is not."""
    above, below = _above_and_below(unit)
    return sum(f.power for f in above if f.name in _ANGLES) - sum(
        f.power for f in below if f.name in _ANGLES
    )


def _size(unit: str) -> Size:
    above, below = _above_and_below(unit)
    return size_of([*((f.name, f.power) for f in above), *((f.name, -f.power) for f in below)])


@lru_cache(maxsize=1024)
def conversion(unit: str, wanted: str) -> Conversion:
    """Find the conversion between two unit spellings.

    An angle converts to angles alone: a slope of 45 deg is 100 %, not 78.5 %, and one turn a
    minute is not 0.955 deg/s. A temperature converts to temperatures alone.

    Parameters
    ----------
    unit, wanted : str
        Unit spellings.

    Returns
    -------
    Conversion
        Factor and offset.

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
    if have in TEMPERATURES and want in TEMPERATURES:
        return Conversion(*temperature_between(have, want))
    if (
        _angles_in(unit) == _angles_in(wanted)
        and have not in TEMPERATURES
        and want not in TEMPERATURES
    ):
        factor = factor_between(_size(unit), _size(wanted))
        if factor is not None:
            return Conversion(factor)
    shown = f'"{unit}"' if unit else "a pure number"
    right = f'"{wanted}"' if wanted else "a pure number"
    raise QuantityError(f"{shown} does not convert to {right}")
