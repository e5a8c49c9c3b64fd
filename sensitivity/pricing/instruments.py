"""Which instruments of the workshop table read a dimension, and how a reading errs."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sensitivity.errors import CallError, nearest
from sensitivity.quantities.units import conversion
from sensitivity.spreads.spread import bounded, quantile
from sensitivity.spreads.workshop import WorkshopEntry, alternatives, quantity_of, workshop_table
from sensitivity.study.study import Input
from sensitivity.system.remarks import ReadAs

Floats = NDArray[np.float64]

_JOB: dict[ReadAs, str] = {
    "bore": "reading_a_bore",
    "gap": "reading_a_gap",
    "depth": "reading_a_depth",
    "height": "reading_a_height",
    "outside size": "reading_an_outside_size",
    "angle": "reading_an_angle",
}
_BY_QUANTITY: dict[str, ReadAs] = {"length": "outside size", "angle": "angle"}
"""How what a model does not say of an input is read, by its unit alone."""

_PLAIN = {"length": "length", "angle": "tilt or angle", "ratio": "pure number"}
_NOT_LISTED = {"reading_a_gap": ("feeler_gauges",)}
"""A job that one instrument does, and that the table therefore has no list of alternatives for."""


def instruments_for(item: Input, at_hand: Sequence[str] = ()) -> tuple[WorkshopEntry, ...]:
    """Find the instruments that read a dimension, those of fewest minutes first.

    From the table's lists of instruments that do the same job. Which job it is, the model says
    (``read_as``). Where it does not, a length is read as an outside size, an angle as an angle.

    Parameters
    ----------
    item : Input
        The dimension.
    at_hand : sequence of str
        Names of the only instruments there are: all of them that read this quantity count,
        whatever the job.

    Returns
    -------
    tuple of WorkshopEntry
        None of them where the table has no instrument for this quantity.
    """
    table = workshop_table("instrument")
    quantity = quantity_of(item.unit)
    if at_hand:
        names: Sequence[str] = [name for name in at_hand if table[name].quantity == quantity]
    else:
        read_as = item.read_as or _BY_QUANTITY.get(quantity)
        job = "" if read_as is None else _JOB[read_as]
        listed = (row.names for row in alternatives() if row.job == job)
        names = next(listed, _NOT_LISTED.get(job, ()))
    return tuple(sorted((table[name] for name in names), key=lambda entry: entry.minutes))


def check_instruments(names: Sequence[str]) -> None:
    """Refuse instruments that are not in the table, all at once.

    Raises
    ------
    CallError
        Naming each, and the nearest that there is.
    """
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
    """Turn probabilities into errors of reading.

    Parameters
    ----------
    entry : WorkshopEntry
        The instrument; its errors are a share of the size where it is ``relative``.
    unit : str
        Of the values and of the errors.
    values, uniforms : array of one shape
        What is read, and the probabilities, 0..1.

    Returns
    -------
    array of that shape
    """
    factor = 1.0 if entry.relative else conversion(entry.unit, unit).factor
    errors = quantile(bounded(entry.shape, factor * entry.low, factor * entry.high), uniforms)
    return errors * np.abs(values) if entry.relative else errors
