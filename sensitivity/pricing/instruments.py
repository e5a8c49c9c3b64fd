"""Which instruments of the workshop table read a dimension or a result, and how a reading errs."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sensitivity.errors import CallError, nearest
from sensitivity.quantities.units import conversion
from sensitivity.spreads.spread import bounded, quantile
from sensitivity.spreads.workshop import WorkshopEntry, alternatives, quantity_of, workshop_table
from sensitivity.study.study import Input, Reading
from sensitivity.system.remarks import ReadAs

Floats = NDArray[np.float64]

Readable = Input | Reading
"""A dimension, or a result that a gauge can reach."""

_JOB: dict[ReadAs, str] = {
    "bore": "reading_a_bore",
    "gap": "reading_a_gap",
    "depth": "reading_a_depth",
    "height": "reading_a_height",
    "outside size": "reading_an_outside_size",
    "angle": "reading_an_angle",
    "time": "reading_a_time",
    "mass": "reading_a_mass",
}
_BY_QUANTITY: dict[str, ReadAs] = {
    "length": "outside size",
    "angle": "angle",
    "time": "time",
    "mass": "mass",
}
"""How what a model does not say of an input is read, by its unit alone."""

_PLAIN = {
    "length": "length",
    "angle": "tilt or angle",
    "time": "time",
    "mass": "mass",
    "ratio": "pure number",
}
_NOT_LISTED = {
    "reading_a_gap": ("feeler_gauges", "drill_shanks"),
    "reading_a_time": ("stopwatch",),
    "reading_a_mass": ("pocket_scale",),
}
"""Jobs that one instrument does at a size, so that the table has no list of alternatives for."""


def instruments_for(
    item: Readable, at_hand: Sequence[str] = (), *, size: float | None = None
) -> tuple[WorkshopEntry, ...]:
    """Find the instruments that read a dimension or a result, those of fewest minutes first.

    From the table's lists of instruments that do the same job, those that take its size. Which
    job it is, the model says (``read_as``). Where it does not, a length is read as an outside
    size, an angle as an angle. Where a study says with what a result is read, that alone counts.

    Parameters
    ----------
    item : Input or Reading
        The dimension, or the result.
    at_hand : sequence of str
        Names of the only instruments there are: those of them that do the job or, where the model
        does not say which that is, all that read this quantity.
    size : float, optional
        About how large it is, in its unit; the nominal of a dimension unless given. An instrument
        is not asked whether it takes a size of nothing, which is an error about another size.

    Returns
    -------
    tuple of WorkshopEntry
        None of them where the table has no instrument for this quantity.
    """
    table = workshop_table("instrument")
    quantity = quantity_of(item.unit)
    read_as = item.read_as or _BY_QUANTITY.get(quantity)
    job = "" if read_as is None else _JOB[read_as]
    listed = (row.names for row in alternatives() if row.job == job)
    names: Sequence[str] = next(listed, _NOT_LISTED.get(job, ()))
    if isinstance(item, Reading) and item.instrument:
        names = [item.instrument]
    elif at_hand and item.read_as is None:
        names = [name for name in table if table[name].quantity == quantity]
    if isinstance(item, Input) and size is None:
        size = item.nominal
    found = [
        table[name]
        for name in names
        if (not at_hand or name in at_hand) and takes(table[name], item.unit, size or 0.0)
    ]
    return tuple(sorted(found, key=lambda entry: entry.minutes))


def takes(entry: WorkshopEntry, unit: str, size: float) -> bool:
    """Tell whether an instrument takes a size (in ``unit``), where the table says what it takes."""
    if entry.sizes is None or size == 0.0 or quantity_of(unit) != entry.quantity:
        return True
    own = abs(size) * conversion(unit, entry.unit).factor
    return entry.sizes[0] <= own <= entry.sizes[1]


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


def why_not(entry: WorkshopEntry, item: Readable) -> list[str]:
    """Say why an instrument cannot read an input or a result, if it is for another quantity."""
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
