"""What an annotation says beside unit and meaning: range, kind and honest spread, how it is read.

Each remark is a plain string, told by its form, so that a model imports nothing:

* ``"> 0"``, ``">= 0"``, ``"0..1"``: the values that make physical sense;
* ``"per step"``: one value for each step of a study's schedule;
* ``"model"``, ``"running"``, ``"build"``: the kind of an argument; and what it honestly varies by,
  ``"model: 0.6..1 triangular"``, ``"running: +-0.8 normal"``, ``"model: lognormal 50 %"``, in the
  argument's own unit, which a new study carries;
* ``"read as height"``: what a gauge reads it as, of ``READINGS``;
* ``"yes or no"``: of an argument or a result that is 1 or 0, which is said in words.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, cast, get_args

from sensitivity.quantities.units import pint_expression

Kind = Literal["build", "running", "model"]
"""A dimension one can hold; a condition one lives with; what the physics does not know."""

ReadAs = Literal["bore", "gap", "depth", "height", "outside size", "angle", "time", "mass"]
"""What an instrument reads a dimension or a result as, which says which instruments do it."""

READINGS: tuple[ReadAs, ...] = get_args(ReadAs)

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_SHAPES = r"normal|rectangular|triangular|arcsine|log_uniform"
_KIND = re.compile(rf"({'|'.join(get_args(Kind))})(?::\s*(\S.*))?")
_BETWEEN = re.compile(rf"({_NUMBER})\s*\.\.\s*({_NUMBER})(?:\s+({_SHAPES}))?")
_PLUS_MINUS = re.compile(rf"\+-\s*({_NUMBER})(?:\s+({_SHAPES}))?")
_LOGNORMAL = re.compile(rf"lognormal\s+({_NUMBER})\s*%")


class RemarkError(ValueError):
    """A remark that has none of the known forms; the message says which there are."""


@dataclass(frozen=True, slots=True)
class PhysicalRange:
    """The values that make physical sense; ``stated`` is the text in the annotation."""

    stated: str = ""
    low: float = float("-inf")
    high: float = float("inf")
    open_low: bool = False
    open_high: bool = False

    def holds(self, value: float) -> bool:
        """Tell whether one value lies in the range."""
        above = value > self.low if self.open_low else value >= self.low
        below = value < self.high if self.open_high else value <= self.high
        return above and below


ANYWHERE = PhysicalRange()
"""Any value makes sense."""


@dataclass(frozen=True, slots=True)
class Remarks:
    """The remarks of one annotation.

    Attributes
    ----------
    range : PhysicalRange
    per_step : bool
    kind : Kind or None
        None where the model does not say.
    spread : tuple of (str, object)
        Keys of a study's statement of the spread and their values, quantities in the argument's
        unit (kelvins for a difference of degrees Celsius), such as
        ``(("between", ("0.6", "1")), ("shape", "triangular"))``; empty if there is none.
    read_as : ReadAs or None
    yes_or_no : bool
    """

    range: PhysicalRange = ANYWHERE
    per_step: bool = False
    kind: Kind | None = None
    spread: tuple[tuple[str, object], ...] = ()
    read_as: ReadAs | None = None
    yes_or_no: bool = False


def read_remarks(stated: Iterable[str], unit: str) -> Remarks:
    """Read the remarks of one annotation.

    Parameters
    ----------
    stated : iterable of str
        The strings behind unit and meaning; empty ones say nothing.
    unit : str
        Of the argument or result, which its honest spread is in.

    Raises
    ------
    RemarkError
        Where one has no known form.
    """
    bounds, per_step, yes_or_no = ANYWHERE, False, False
    kind: Kind | None = None
    spread: tuple[tuple[str, object], ...] = ()
    read_as: ReadAs | None = None
    for remark in (text.strip() for text in stated):
        if match := _KIND.fullmatch(remark):
            kind = cast(Kind, match[1])
            spread = _spread(match[2], unit) if match[2] else ()
        elif remark.startswith("read as "):
            read_as = _read_as(remark.removeprefix("read as "))
        elif remark == "per step":
            per_step = True
        elif remark == "yes or no":
            yes_or_no = True
        elif remark:
            bounds = physical_range(remark)
    return Remarks(bounds, per_step, kind, spread, read_as, yes_or_no)


def physical_range(text: str) -> PhysicalRange:
    """Read a range such as ``"> 0"``, ``">= 0"`` or ``"0..1"``; raise RemarkError otherwise."""
    if match := re.fullmatch(rf"\s*(>=|>|<=|<)\s*({_NUMBER})\s*", text):
        sign, value = match.group(1), float(match.group(2))
        if sign.startswith(">"):
            return PhysicalRange(text, low=value, open_low=sign == ">")
        return PhysicalRange(text, high=value, open_high=sign == "<")
    if match := re.fullmatch(rf"\s*({_NUMBER})\s*\.\.\s*({_NUMBER})\s*", text):
        return PhysicalRange(text, low=float(match.group(1)), high=float(match.group(2)))
    raise RemarkError(f'range "{text}" is not like "> 0", ">= 0" or "0..1"')


def _spread(text: str, unit: str) -> tuple[tuple[str, object], ...]:
    def quantity(number: str, unit: str = unit) -> str | float:
        return f"{number} {unit}" if unit else float(number)

    if match := _BETWEEN.fullmatch(text):
        ends = (quantity(match[1]), quantity(match[2]))
        return (("between", ends), *((("shape", match[3]),) if match[3] else ()))
    if match := _PLUS_MINUS.fullmatch(text):
        shape = (("shape", match[2]),) if match[2] else ()
        # A difference of temperature is in kelvins, as a study states it.
        celsius = bool(unit) and pint_expression(unit) == "degree_Celsius"
        return (("plus_minus", quantity(match[1], "K" if celsius else unit)), *shape)
    if match := _LOGNORMAL.fullmatch(text):
        return (("lognormal", f"{match[1]} %"),)
    raise RemarkError(
        f'spread "{text}" is not like "0.6..1 triangular", "+-0.8 normal" or "lognormal 50 %"'
    )


def _read_as(text: str) -> ReadAs:
    if text not in READINGS:
        raise RemarkError(f'"read as {text}" is not one of {", ".join(READINGS)}')
    return text
