"""Where a nominal may be drawn instead: a range, with a step, or with sizes that can be bought."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import inf

from sensitivity.errors import QuantityError
from sensitivity.quantities.quantity import read_difference, read_quantity
from sensitivity.quantities.trade_sizes import SERIES, TradeSize, series
from sensitivity.quantities.units import conversion
from sensitivity.study.faults import Faults
from sensitivity.study.form import InputTable
from sensitivity.study.study import Redraw
from sensitivity.study.toml_lines import Path as KeyPath
from sensitivity.system.catalogue import Quantity


def read_redraw(
    quantity: Quantity, table: InputTable, path: KeyPath, faults: Faults
) -> Redraw | None:
    """Read where a nominal may be drawn instead; None where nothing is stated, or is faulty.

    Parameters
    ----------
    quantity : Quantity
        Of the input.
    table : InputTable
        As stated.
    path : tuple
        The table's key.
    faults : Faults
        Takes what is wrong.
    """
    if all(each is None for each in (table.redraw, table.redraw_step, table.redraw_sizes)):
        return None
    before, unit = len(faults.found), quantity.unit
    range_ = _ascending(quantity, "redraw", table.redraw or (), path, faults)
    sizes: tuple[float, ...] = ()
    name = ""
    if isinstance(table.redraw_sizes, str):
        name, sizes = _of_a_series(table, unit, path, faults)
    else:
        sizes = _ascending(quantity, "redraw_sizes", table.redraw_sizes or (), path, faults)
    step = None
    try:
        if table.redraw_step is not None:
            step = read_difference(table.redraw_step, unit)
            if not step > 0.0:
                raise QuantityError(f"found {table.redraw_step}; should be above zero")
    except QuantityError as error:
        faults.add((*path, "redraw_step"), str(error))
    if table.redraw_step is not None and table.redraw_sizes is not None:
        faults.add((*path, "redraw_step"), "goes without redraw_sizes, or they without it")
    elif table.redraw_step is not None and table.redraw is None:
        faults.add((*path, "redraw_step"), 'wants its range, like redraw = ["8 mm", "13 mm"]')
    kind = table.kind or quantity.kind or "build"
    if (range_ or sizes) and kind != "build":
        key = "redraw" if table.redraw is not None else "redraw_sizes"
        faults.add((*path, key), f"is for what is drawn and made; this is of kind {kind}")
    if len(faults.found) > before:
        return None
    low, high = range_ or (-inf, inf)
    sizes = tuple(size for size in sizes if low <= size <= high and quantity.range.holds(size))
    if table.redraw_sizes is not None and len(sizes) < 2:
        of_them = f"of the {name}" if name else "of them"
        faults.add((*path, "redraw_sizes"), f"fewer than two {of_them} lie in the range of redraw")
        return None
    if sizes:
        return Redraw(sizes[0], sizes[-1], sizes=sizes, series=name)
    return Redraw(low, high, step) if range_ else None


def _ascending(
    quantity: Quantity,
    key: str,
    stated: Sequence[str | float],
    path: KeyPath,
    faults: Faults,
) -> tuple[float, ...]:
    """Read quantities that should ascend and physically be; none where one is not so."""
    try:
        found = tuple(read_quantity(each, quantity.unit) for each in stated)
        if any(low >= high for low, high in pairwise(found)):
            raise QuantityError(f"found {list(stated)}; should be in ascending order")
        if not all(map(quantity.range.holds, found)):
            raise QuantityError(f"found {list(stated)}; physically it is {quantity.range.stated}")
    except QuantityError as error:
        faults.add((*path, key), str(error))
        return ()
    return found


def _of_a_series(
    table: InputTable, unit: str, path: KeyPath, faults: Faults
) -> tuple[str, tuple[float, ...]]:
    """Read the name of a series, and its sizes in the input's unit."""
    assert isinstance(table.redraw_sizes, str)
    try:
        listed = series(table.redraw_sizes)
        name = next(each for each in SERIES if series(each) == listed)
        if table.redraw is None:
            raise QuantityError('wants a range beside it, like redraw = ["1 mm", "3 mm"]')
        try:
            factor = conversion("mm", unit).factor
        except QuantityError:
            shown = f"in {unit}" if unit else "a pure number"
            raise QuantityError(f"{name} are lengths; this input is {shown}") from None
    except QuantityError as error:
        faults.add((*path, "redraw_sizes"), str(error))
        return "", ()
    return name, tuple(factor * size.millimetres for size in listed)


def sizes_written(table: InputTable) -> tuple[str, ...]:
    """Say what the sizes are called: as stated, or the names of the series."""
    stated = table.redraw_sizes
    if isinstance(stated, str):
        return tuple(size.name for size in _series_or_none(stated))
    return tuple(each for each in stated or () if isinstance(each, str))


def _series_or_none(name: str) -> tuple[TradeSize, ...]:
    try:
        return series(name)
    except QuantityError:
        return ()
