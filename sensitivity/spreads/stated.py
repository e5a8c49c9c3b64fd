"""From the words of ``[inputs.NAME]`` to its spread: the ways that `studies/README.md` lists."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np

from sensitivity.errors import QuantityError, nearest
from sensitivity.quantities.quantity import (
    conversion,
    pint_expression,
    read_difference,
    read_quantity,
)
from sensitivity.spreads.spread import (
    UNBOUNDED_COVERAGE,
    Floats,
    Shape,
    Spread,
    bounded,
    empirical,
    lognormal,
    mean,
    normal,
    standard_deviation,
)
from sensitivity.spreads.tolerances import iso_286, iso_2768_angular, iso_2768_linear
from sensitivity.spreads.workshop import deviation_in_words, workshop_spread, workshop_table
from sensitivity.study.form import InputTable

WAYS = (
    "plus_minus",
    "between",
    "standard_deviation",
    "lognormal",
    "iso286",
    "iso2768",
    "process",
    "samples",
    "measured",
)
FEWEST_VALUES = 5
WIDEST_RELATIVE = 10.0
LARGEST_SAMPLES = 16 << 20  # bytes

# What each companion key goes with; anywhere else it would be read and not used.
_COMPANIONS = {
    "shape": ("plus_minus", "between", "iso286", "iso2768"),
    "flat": ("plus_minus", "between", "iso286", "iso2768"),
    "coverage_factor": ("plus_minus", "between"),
    "leg": ("iso2768",),
    "instrument": ("measured",),
}

SPREAD_KEYS = (*WAYS, *_COMPANIONS)
"""All the keys that state a spread."""


class StatementError(Exception):
    """A fault in the statement of a spread, with the key it stands at."""

    def __init__(self, key: str, problem: str) -> None:
        self.key, self.problem = key, problem
        super().__init__(problem)


def stated_spread(
    table: InputTable, nominal: float, unit: str, folder: Path
) -> tuple[Spread | None, str]:
    """Read the spread of one input, and the words that state it.

    Parameters
    ----------
    table : InputTable
        As read from the study.
    nominal : float
        The nominal, in ``unit``.
    unit : str
        The model's unit.
    folder : Path
        Where the study lies; CSV files are named from there.

    Raises
    ------
    StatementError
        Naming the key.
    """
    ways = [way for way in WAYS if getattr(table, way) is not None]
    if len(ways) > 1:
        raise StatementError(ways[1], f"a spread is stated one way; found {' and '.join(ways)}")
    way = ways[0] if ways else ""
    for key, partners in _COMPANIONS.items():
        if getattr(table, key) is not None and way not in partners:
            raise StatementError(key, f"goes with {' or '.join(partners)}, which is not here")
    if not way:
        return None, ""
    if way == "measured" and table.instrument is None:
        instruments = ", ".join(workshop_table("instrument"))
        raise StatementError(way, f'say with what: instrument = "..."; known: {instruments}')
    return _sound(way, table, nominal, unit, folder)


def _sound(
    way: str, table: InputTable, nominal: float, unit: str, folder: Path
) -> tuple[Spread, str]:
    """Read a spread and see that floating-point numbers can hold it."""
    try:
        with np.errstate(all="ignore"):
            spread, stated = _READERS[way](table, nominal, unit, folder)
            figures = [spread.low, spread.high, mean(spread), standard_deviation(spread)]
        held = spread.low < spread.high and bool(np.isfinite(figures).all())
    except QuantityError as error:
        raise StatementError(way, str(error)) from None
    except (OverflowError, ZeroDivisionError):
        held = False
    if not held:
        raise StatementError(
            way,
            f"found {getattr(table, way)!r} about {nominal:g} {unit}".rstrip()
            + "; that is too narrow or too wide for a spread",
        )
    return spread, stated


def unit_faults(table: InputTable, unit: str) -> list[tuple[str, str]]:
    """Check the units alone of a spread whose nominal cannot be read: (key, problem)."""
    faults = []
    for key, read in (
        ("plus_minus", read_difference),
        ("standard_deviation", read_difference),
        ("between", read_quantity),
        ("measured", read_quantity),
    ):
        stated = getattr(table, key)
        try:
            for text in stated if isinstance(stated, tuple) else (stated,):
                if text is not None:
                    read(text, unit)
        except QuantityError as error:
            faults.append((key, str(error)))
    return faults


def _shape(table: InputTable) -> Shape:
    if table.shape == "trapezoidal" and table.flat is None:
        raise StatementError("shape", "a trapezoid wants its ratio of top to base: flat = 0.5")
    if table.flat is not None and table.shape != "trapezoidal":
        raise StatementError("flat", 'goes with shape = "trapezoidal"')
    if table.coverage_factor is not None and table.shape != "normal":
        raise StatementError("coverage_factor", 'goes with shape = "normal"')
    return table.shape or "rectangular"


def _between(table: InputTable, low: float, high: float, nominal: float) -> Spread:
    shape = _shape(table)
    if shape == "log_uniform" and low <= 0:
        raise StatementError("shape", "log_uniform wants both ends above zero")
    return bounded(
        shape,
        low,
        high,
        mode=nominal,
        flat=table.flat or 0.0,
        coverage=table.coverage_factor or UNBOUNDED_COVERAGE,
    )


def _positive(text: str | float, value: float) -> float:
    if not value > 0:
        raise QuantityError(
            f"found {text!r}; a spread is above zero (leave it out to hold the input)"
        )
    return value


def _in_shape(table: InputTable) -> str:
    return f", {(table.shape or 'rectangular').replace('_', '-')}"


def _read_plus_minus(
    table: InputTable, nominal: float, unit: str, folder: Path
) -> tuple[Spread, str]:
    assert table.plus_minus is not None
    half = _positive(table.plus_minus, read_difference(table.plus_minus, unit))
    spread = _between(table, nominal - half, nominal + half, nominal)
    return spread, f"± {table.plus_minus}{_in_shape(table)}"


def _read_between(table: InputTable, nominal: float, unit: str, folder: Path) -> tuple[Spread, str]:
    assert table.between is not None
    low, high = (read_quantity(end, unit) for end in table.between)
    if not low < high:
        raise QuantityError(f"found {list(table.between)}; the first should be below the second")
    if not low <= nominal <= high:
        raise QuantityError(
            f"found {list(table.between)}, which leaves out the nominal {nominal:g} {unit}"
        )
    return _between(table, low, high, nominal), (
        f"{table.between[0]} to {table.between[1]}{_in_shape(table)}"
    )


def _read_standard_deviation(
    table: InputTable, nominal: float, unit: str, folder: Path
) -> tuple[Spread, str]:
    text = table.standard_deviation
    assert text is not None
    return normal(nominal, _positive(text, read_difference(text, unit))), f"sd {text}, normal"


def _read_lognormal(
    table: InputTable, nominal: float, unit: str, folder: Path
) -> tuple[Spread, str]:
    text = table.lognormal
    assert text is not None
    relative = _positive(text, read_difference(text, ""))
    if relative > WIDEST_RELATIVE:
        raise QuantityError(
            f"found {text!r}; a share of itself above 1000 % says nothing of a size"
        )
    if nominal <= 0:
        raise QuantityError(f"a lognormal is about a nominal above zero, not {nominal:g} {unit}")
    return lognormal(nominal, relative), f"± {relative * 100:.3g} %, lognormal"


def _read_iso286(table: InputTable, nominal: float, unit: str, folder: Path) -> tuple[Spread, str]:
    assert table.iso286 is not None
    millimetre = conversion("mm", unit)
    low, high = iso_286(nominal / millimetre.factor, table.iso286)
    spread = _between(
        table, nominal + low * millimetre.factor, nominal + high * millimetre.factor, nominal
    )
    return spread, f"{table.iso286} ({low:+g} to {high:+g} mm){_in_shape(table)}"


def _read_iso2768(table: InputTable, nominal: float, unit: str, folder: Path) -> tuple[Spread, str]:
    assert table.iso2768 is not None
    if pint_expression(unit) == "degree":
        try:
            leg = 10.0 if table.leg is None else read_quantity(table.leg, "mm")
        except QuantityError as error:
            raise StatementError("leg", str(error)) from None
        half, shown = iso_2768_angular(table.iso2768, leg), "deg"
        factor = 1.0
    else:
        if table.leg is not None:
            raise StatementError("leg", "goes with an angle; this input is a length")
        factor = conversion("mm", unit).factor
        half, shown = iso_2768_linear(nominal / factor, table.iso2768), "mm"
    spread = _between(table, nominal - half * factor, nominal + half * factor, nominal)
    return spread, f"ISO 2768-{table.iso2768} (± {half:.3g} {shown}){_in_shape(table)}"


def _read_process(table: InputTable, nominal: float, unit: str, folder: Path) -> tuple[Spread, str]:
    assert table.process is not None
    spread, entry = workshop_spread("process", table.process, nominal, unit)
    return spread, deviation_in_words(entry)


def _read_measured(
    table: InputTable, nominal: float, unit: str, folder: Path
) -> tuple[Spread, str]:
    assert table.measured is not None
    assert table.instrument is not None
    found = read_quantity(table.measured, unit)
    try:
        spread, entry = workshop_spread("instrument", table.instrument, found, unit)
    except QuantityError as error:
        raise StatementError("instrument", str(error)) from None
    return spread, f"measured {table.measured} {deviation_in_words(entry)}"


def _read_samples(table: InputTable, nominal: float, unit: str, folder: Path) -> tuple[Spread, str]:
    assert table.samples is not None
    name, _, column = table.samples.rpartition(":")
    if not name or not column:
        raise QuantityError(f'found "{table.samples}"; write it like "pipes.csv:height_mm"')
    measured_in = column.rpartition("_")[2]
    try:
        pint_expression(measured_in)
    except QuantityError:
        measured_in = ""
    if not measured_in and pint_expression(unit) != "dimensionless":
        raise QuantityError(f'column "{column}" does not end in its unit, like "{column}_{unit}"')
    try:
        change = conversion(measured_in, unit)
    except QuantityError as error:
        raise QuantityError(
            f'{error}; column "{column}" should end in its unit, like "{column}_{unit}"'
        ) from None
    values = _column(folder / name, name, column) * change.factor + change.offset
    if values.size < FEWEST_VALUES or np.ptp(values) == 0.0:
        raise QuantityError(
            f"{name} has {values.size} values in {column}; at least {FEWEST_VALUES} that are not "
            "all the same make a spread"
        )
    return empirical(values), f"{values.size} measured, {name}"


def _column(path: Path, name: str, column: str) -> Floats:
    """Read one column of a CSV file; lines that begin with # are remarks."""
    try:
        if path.exists() and not path.is_file():
            raise QuantityError(f"{name} cannot be read: it is not a file")
        if path.is_file() and path.stat().st_size > LARGEST_SAMPLES:
            raise QuantityError(f"{name} is larger than 16 MiB")
        lines = path.read_text(encoding="utf-8-sig").splitlines()
        plain = (line for line in lines if not line.lstrip().startswith("#"))
        rows = csv.DictReader(plain, strict=True)
        cells = [(row.get(column) or "").strip() for row in rows]
    except (OSError, ValueError, csv.Error) as error:
        raise QuantityError(f"{name} cannot be read: {error}") from None
    if column not in (rows.fieldnames or ()):
        raise QuantityError(
            f'{name} has no column "{column}"; {nearest(column, rows.fieldnames or ())}'
        )
    values = []
    for cell in cells:
        try:
            values.append(float(cell))
        except ValueError:
            raise QuantityError(f'{name}, column {column}: "{cell}" is not a number') from None
    array = np.asarray(values, dtype=np.float64)
    if not np.isfinite(array).all():
        raise QuantityError(f"{name}, column {column}: not all values are finite")
    return array


_READERS = {
    "plus_minus": _read_plus_minus,
    "between": _read_between,
    "standard_deviation": _read_standard_deviation,
    "lognormal": _read_lognormal,
    "iso286": _read_iso286,
    "iso2768": _read_iso2768,
    "process": _read_process,
    "samples": _read_samples,
    "measured": _read_measured,
}
