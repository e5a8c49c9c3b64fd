"""What a builder must still give, with its sketch number and an example in the builder's unit."""

from __future__ import annotations

from fractions import Fraction

from sensitivity.errors import Asked
from sensitivity.quantities.units import conversion
from sensitivity.study.study import Units
from sensitivity.system.catalogue import Quantity

_INCHES = {"mm": "in", "cm": "in", "mm2": "in2", "cm2": "in2"}
"""Units of lengths and areas in an inch study; all other units stay."""

_SIXTEENTHS, _SIXTY_FOURTHS = 6.0, 3.0
"""Lengths in mm above which an example is in 16ths of an inch, and in 64ths; below it in thou."""


def asked_for(quantity: Quantity, number: int, units: Units) -> Asked:
    """Say what is asked for where a nominal is left empty.

    Parameters
    ----------
    quantity : Quantity
        The model's input.
    number : int
        Its sketch number; 0 where it has none.
    units : "mm" or "inch"
        Of the study.
    """
    return Asked(
        number, quantity.name.replace("_", " "), quantity.meaning, example(quantity, units)
    )


def example(quantity: Quantity, units: Units) -> str:
    """Write a value of the kind that is asked for, as TOML: ``"5/16 in"``; a number with no unit.

    Where the model has a default it is near that; an example is nobody's dimension.
    """
    unit, value = quantity.unit, 1.0 if quantity.default is None else quantity.default
    if not unit:
        return f"{value:g}"
    if units == "mm" or unit not in _INCHES:
        return f'"{_rounded(value):g} {unit}"'
    if unit != "mm":
        said = _INCHES[unit]
        return f'"{_rounded(conversion(unit, said).factor * value):g} {said}"'
    if 0.0 < abs(value) < _SIXTY_FOURTHS:
        return f'"{round(value / 0.0254)} thou"'
    below = 16 if abs(value) > _SIXTEENTHS else 64
    return f'"{mixed(Fraction(round(value / 25.4 * below), below))} in"'


def _rounded(value: float) -> float:
    """Two digits of a value: an example is no drawing."""
    return float(f"{value:.2g}")


def mixed(size: Fraction) -> str:
    """Write a size as a whole number and a fraction: ``1 5/16``."""
    whole, rest = divmod(abs(size), 1)
    sign = "-" if size < 0 else ""
    if not rest:
        return f"{sign}{whole}"
    return f"{sign}{whole} {rest}" if whole else f"{sign}{rest}"
