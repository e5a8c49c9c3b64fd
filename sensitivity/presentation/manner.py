"""How values of one name are said: in which unit, with how many digits, as a fraction or not."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import floor, isfinite, log10
from typing import Any, NamedTuple

import numpy as np

from sensitivity.engine.intervals import Estimate
from sensitivity.presentation import wording
from sensitivity.quantities.units import conversion
from sensitivity.study.study import Units
from sensitivity.study.units_used import MICRONS

INCH_DECIMALS = 3
"""Decimals of an inch, where nothing says how many a value deserves: a thousandth."""
SEVERAL_THOU = 3.0
"""A spread from which nobody reads tenths of a thousandth."""
MOST_DECIMALS = 4
"""Decimals of an inch at most, where the scale is a tenth of a thousandth or more."""

_MILLIMETRES = re.compile(r"(?<![A-Za-z])(?:mm|cm)(?![A-Za-z])")


@lru_cache(maxsize=256)
def unit_said(unit: str, units: Units) -> str:
    """Name the unit in which values of a model's unit are said: ``in2`` for ``cm2`` in inches."""
    if units == "mm":
        return unit
    return "thou" if unit in MICRONS else _MILLIMETRES.sub("in", unit)


@lru_cache(maxsize=256)
def factor_said(unit: str, units: Units) -> float:
    """What a value in a model's unit is multiplied by, to be in the unit that is said."""
    said = unit_said(unit, units)
    return 1.0 if said == unit else 1.0 / conversion(said, unit).factor


class Written(NamedTuple):
    """A value that somebody wrote, in the model's unit, and the number and the unit written."""

    value: float
    number: str
    unit: str


@dataclass(frozen=True, slots=True)
class Manner:
    """How values of one name are said.

    Attributes
    ----------
    model_unit, unit : str
        Of the values that come in, and of what is said.
    factor : float
        ``said = factor * value``.
    denominator : int
        Of the finest fraction that was written for it; 0 where none was.
    written : tuple
        What somebody wrote.
    places : int or None
        Decimals of all its values, where a table has one precision for each unit; None elsewhere.
    yes_or_no : bool
        Whether 1 and 0 are said in words.
    """

    model_unit: str
    unit: str
    factor: float = 1.0
    denominator: int = 0
    written: tuple[Written, ...] = ()
    places: int | None = None
    yes_or_no: bool = False

    def text(self, value: float, scale: float | None = None) -> str:
        """Write a value with its unit: ``0.245 in``, ``13/32 in``, ``69 thou``.

        Parameters
        ----------
        value : float
            In the model's unit.
        scale : float, optional
            In the model's unit, a standard deviation say: as many digits as show it with two.
        """
        if (word := self._word(value)) is not None:
            return word
        exact = self._exact(value)
        return wording.with_unit(*(exact or (self._decimal(value, scale), self.unit)))

    def number(self, value: float, scale: float | None = None) -> str:
        """Write a value without its unit, which stands beside it: ``13/32``, ``0.245``."""
        if (word := self._word(value)) is not None:
            return word
        exact = self._exact(value)
        return exact[0] if exact and exact[1] == self.unit else self._decimal(value, scale)

    def rough(self, value: float) -> str:
        """Write a value that nobody wrote with two digits and its unit: ``± 3.1 thou``."""
        if self._exact(value) or value == 0.0:
            return self.text(value)
        return wording.with_unit(wording.significant(value * self.factor, 2), self.unit)

    def pair(self, low: float, high: float, scale: float | None = None) -> str:
        """Write a range with its unit: ``3/8 to 13/32 in``."""
        if not (isfinite(low) and isfinite(high)):
            return wording.NO_VALUE
        if (words := self._words(low, high)) is not None:
            return words
        ends = self._exact(low), self._exact(high)
        if ends[0] and ends[1] and ends[0][1] == ends[1][1]:
            return wording.with_unit(f"{ends[0][0]} to {ends[1][0]}", ends[1][1])
        texts = (self._decimal(end, scale) for end in (low, high))
        return wording.with_unit(" to ".join(texts), self.unit)

    def ends(self, low: float, high: float, scale: float | None = None) -> str:
        """Write a range without its unit, which stands beside it: ``0.21 to 0.25``."""
        if not (isfinite(low) and isfinite(high)):
            return wording.NO_VALUE
        if (words := self._words(low, high)) is not None:
            return words
        return f"{self._decimal(low, scale)} to {self._decimal(high, scale)}"

    def measured(self, estimate: Estimate) -> str:
        """Write an estimate without its unit, with its interval where three digits show it."""
        value, low, high = (
            self.factor * end for end in (estimate.value, estimate.low, estimate.high)
        )
        return wording.measured(Estimate(value, low, high))

    def numbers(self, values: Any) -> Any:
        """Convert values, a number or an array, for an axis in ``unit``."""
        return values if self.factor == 1.0 else np.multiply(values, self.factor)

    def decimals(self, scale: float) -> int:
        """Decimals that show a scale (in the model's unit) with two digits."""
        said = scale * self.factor
        wanted = wording.decimals_for(said)
        if self.unit == "in" and said >= 1e-4:
            return min(wanted, MOST_DECIMALS)
        if self.unit == "thou":
            return 0 if said >= SEVERAL_THOU else min(wanted, MOST_DECIMALS - INCH_DECIMALS)
        return wanted

    def _word(self, value: float) -> str | None:
        """Give 1 and 0 in words, of what is one or the other; None of all else."""
        return {1.0: "yes", 0.0: "no"}.get(value) if self.yes_or_no else None

    def _words(self, low: float, high: float) -> str | None:
        words = self._word(low), self._word(high)
        if words[0] is None or words[1] is None:
            return None
        return words[0] if words[0] == words[1] else f"{words[0]} to {words[1]}"

    def _decimal(self, value: float, scale: float | None) -> str:
        said = value * self.factor
        if self.places is not None:
            return wording.number(said, self.places)
        if scale is not None and scale > 0.0 and isfinite(scale):
            return wording.number(said, self.decimals(scale))
        if said == 0.0:
            return "0"
        if self.unit == "in":
            return wording.number(said, max(INCH_DECIMALS, _two_digits(said)))
        if self.unit == "thou":
            return wording.number(said, 0 if abs(said) >= 10.0 else max(1, _two_digits(said)))
        return wording.significant(said)

    def _exact(self, value: float) -> tuple[str, str] | None:
        """Give number and unit as written, or as a fraction on the grid that was written."""
        if not isfinite(value) or self.places is not None:
            return None
        for one in self.written:
            if abs(value - one.value) <= 1e-9 * max(abs(value), abs(one.value)):
                return ("0", self.unit) if one.value == 0.0 else (one.number, one.unit)
        if self.denominator and self.unit in ("in", "thou") and value != 0.0:
            inches = value * self.factor / (1000.0 if self.unit == "thou" else 1.0)
            parts = inches * self.denominator
            if abs(parts - round(parts)) < 1e-6 * max(1.0, abs(parts)) and round(parts) != 0:
                return _fraction(Fraction(round(parts), self.denominator)), "in"
        return None


def _fraction(value: Fraction) -> str:
    sign, size = "−" if value < 0 else "", abs(value)
    whole, rest = divmod(size, 1)
    if not rest:
        return f"{sign}{whole}"
    return f"{sign}{whole} {rest}" if whole else f"{sign}{rest}"


def _two_digits(value: float) -> int:
    """Decimals that show two digits of a value."""
    return max(1 - floor(log10(abs(value))), 0) if isfinite(value) else 0
