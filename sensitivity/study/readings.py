"""Which results a gauge can reach on the finished part: as the study says, and as the models do."""

from __future__ import annotations

from collections.abc import Mapping

from sensitivity.errors import QuantityError, nearest
from sensitivity.quantities.quantity import read_quantity
from sensitivity.spreads.workshop import quantity_of, workshop_table
from sensitivity.study.faults import Faults
from sensitivity.study.form import ReadingTable
from sensitivity.study.study import Input, Reading
from sensitivity.study.toml_lines import Path as KeyPath
from sensitivity.system.catalogue import Quantity
from sensitivity.system.system import System


def resolve_readings(
    tables: Mapping[str, ReadingTable],
    system: System,
    inputs: tuple[Input, ...],
    faults: Faults,
    *,
    whole: bool = True,
) -> Mapping[str, Reading]:
    """Find the results that can be gauged: those stated, then those whose model says so.

    Parameters
    ----------
    tables : mapping of name to ReadingTable
        As stated.
    system : System
        What computes the results.
    inputs : tuple of Input
        Those that could be read, of which some may be held while a result is read.
    faults : Faults
        Takes what is wrong; a reading with a fault is left out.
    whole : bool
        Whether every model is known.

    Returns
    -------
    mapping of name to Reading
        In the study's order, then in that of the models.
    """
    known = {quantity.name: quantity for quantity in system.results}
    taken = {quantity.name for quantity in system.inputs}
    found: dict[str, Reading] = {}
    for name, table in tables.items():
        path: KeyPath = ("readings", name)
        if name in taken:
            problem = "is an input, which can be read without this; readings are of results"
            faults.add(path, problem)
        elif name not in known:
            if whole:
                faults.add(path, f"no model computes this; {nearest(name, known)}")
        elif (reading := _reading(known[name], table, inputs, path, faults)) is not None:
            found[name] = reading
    for quantity in system.results:
        if quantity.read_as is not None and quantity.name not in tables:
            found[quantity.name] = Reading(
                quantity.name, quantity.unit, quantity.meaning, quantity.read_as
            )
    return found


def _reading(
    quantity: Quantity,
    table: ReadingTable,
    inputs: tuple[Input, ...],
    path: KeyPath,
    faults: Faults,
) -> Reading | None:
    before = len(faults.found)
    _check_instrument(quantity, table.instrument, path, faults)
    at: dict[str, float] = {}
    for name, stated in table.at.items():
        at.update(_held(name, stated, inputs, (*path, "at", name), faults))
    if len(faults.found) > before or faults.under(path):
        return None
    return Reading(
        name=quantity.name,
        unit=quantity.unit,
        meaning=quantity.meaning,
        read_as=quantity.read_as,
        instrument=table.instrument or "",
        at=at,
    )


def _check_instrument(
    quantity: Quantity, instrument: str | None, path: KeyPath, faults: Faults
) -> None:
    table = workshop_table("instrument")
    if instrument is None:
        if quantity.read_as is None and not faults.under(path):
            faults.add(path, 'wants the instrument that reads it, like instrument = "height_gauge"')
    elif instrument not in table:
        problem = f'no instrument "{instrument}"; {nearest(instrument, table)}'
        listed = "spiritlevel processes lists them"
        faults.add((*path, "instrument"), f"{problem} ({listed})")
    elif not (
        table[instrument].relative or table[instrument].quantity == quantity_of(quantity.unit)
    ):
        unit = f"in {quantity.unit}" if quantity.unit else "a pure number"
        problem = f'"{instrument}" reads {_A[table[instrument].quantity]}; this result is {unit}'
        faults.add((*path, "instrument"), problem)


_A = {"length": "a length", "angle": "a tilt or an angle", "ratio": "a pure number"}


def _held(
    name: str,
    stated: str | float,
    inputs: tuple[Input, ...],
    path: KeyPath,
    faults: Faults,
) -> dict[str, float]:
    """Read at what a condition is held; one of a schedule is held in all its steps."""
    items = [item for item in inputs if item.name == name or item.name.startswith(f"{name}.")]
    conditions = [item.name for item in inputs if item.kind == "running"]
    if not items:
        faults.add(path, f"no input; {nearest(name, conditions)}")
        return {}
    found = {}
    for item in items:
        if item.kind != "running" and item.adjust is None:
            problem = f'is no condition of running but of kind "{item.kind}", as the part has it'
            faults.add(path, problem)
            return {}
        try:
            found[item.name] = read_quantity(stated, item.unit)
        except QuantityError as error:
            faults.add(path, str(error))
            return {}
    return found
