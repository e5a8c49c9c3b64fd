"""Which instruments of the workshop table read a dimension, and how a reading errs."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sensitivity.errors import CallError, nearest
from sensitivity.quantities.quantity import conversion
from sensitivity.spreads.spread import bounded, quantile
from sensitivity.spreads.workshop import WorkshopEntry, alternatives, quantity_of, workshop_table
from sensitivity.study.study import Input

Floats = NDArray[np.float64]

_JOB_OF_QUANTITY = {"length": "reading_an_outside_size", "angle": "reading_an_angle"}
_JOB_OF_LENGTH = (
    ("reading_a_bore", r"\b(bore|hole|inside diameter)\b"),
    ("reading_a_gap", r"\b(gap|slit|clearance)\b"),
    ("reading_a_depth", r"\bdepth\b"),
    ("reading_a_height", r"\b(height|above)\b"),
)
_PLAIN = {"length": "length", "angle": "tilt or angle", "ratio": "pure number"}
_NOT_LISTED = {"reading_a_gap": ("feeler_gauges",)}
"""A job that one instrument does, and that the table therefore has no list of alternatives for."""


def instruments_for(item: Input, at_hand: Sequence[str] = ()) -> tuple[WorkshopEntry, ...]:
    """Find the instruments that read a dimension, those of fewest minutes first.

    From the table's lists of instruments that do the same job; which job it is, is told by the
    unit and, for a length, by the words of the input's name and meaning: a bore, a gap, a
    depth, a height, and otherwise an outside size. Where the builder names what is ``at_hand``,
    all of it that reads this quantity counts, whatever the words say.
    """
    table = workshop_table("instrument")
    quantity = quantity_of(item.unit)
    if at_hand:
        names: Sequence[str] = [name for name in at_hand if table[name].quantity == quantity]
    else:
        job = _job(item, quantity)
        listed = (row.names for row in alternatives() if row.job == job)
        names = next(listed, _NOT_LISTED.get(job, ()))
    return tuple(sorted((table[name] for name in names), key=lambda entry: entry.minutes))


def _job(item: Input, quantity: str) -> str:
    if quantity == "length":
        words = f"{item.name} {item.meaning}".replace("_", " ").lower()
        for job, pattern in _JOB_OF_LENGTH:
            if re.search(pattern, words):
                return job
    return _JOB_OF_QUANTITY.get(quantity, "")


def check_instruments(names: Sequence[str]) -> None:
    """Refuse instruments that are not in the table, all at once."""
    table = workshop_table("instrument")
    unknown = [f'no instrument "{name}"; {nearest(name, table)}' for name in names]
    unknown = [text for text, name in zip(unknown, names, strict=True) if name not in table]
    if unknown:
        raise CallError("; ".join(unknown))


def why_not(entry: WorkshopEntry, item: Input) -> list[str]:
    """Say why an instrument cannot read an input, if it is for another quantity."""
    if entry.quantity == quantity_of(item.unit):
        return []
    unit = f"in {item.unit}" if item.unit else "a pure number"
    return [f"{entry.name} reads a {_PLAIN[entry.quantity]}; this is {unit}"]


def reading_errors(entry: WorkshopEntry, unit: str, values: Floats, uniforms: Floats) -> Floats:
    """Turn probabilities into the errors of readings of ``values``, in ``unit``; one shape."""
    factor = 1.0 if entry.relative else conversion(entry.unit, unit).factor
    errors = quantile(bounded(entry.shape, factor * entry.low, factor * entry.high), uniforms)
    return errors * np.abs(values) if entry.relative else errors
