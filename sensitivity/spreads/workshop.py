"""The workshop's processes and instruments, read from ``workshop.toml`` beside this file."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any, Literal

import numpy as np

from sensitivity.errors import QuantityError, nearest
from sensitivity.quantities.quantity import read_difference
from sensitivity.quantities.units import conversion, pint_expression
from sensitivity.spreads.shape_words import shape_in_words
from sensitivity.spreads.spread import Shape, Spread, bounded, standard_deviation

Kind = Literal["process", "instrument"]
_UNIT_OF = {"length": "mm", "angle": "deg", "time": "s", "mass": "g", "ratio": ""}
_A = {
    "length": "a length",
    "angle": "an angle",
    "time": "a time",
    "mass": "a mass",
    "ratio": "a pure number",
}


@dataclass(frozen=True, slots=True)
class WorkshopEntry:
    """A process or an instrument: what it says, the deviation it leaves, and on whose word.

    ``low`` and ``high`` are deviations from the nominal in ``unit``; where ``relative`` is
    set they are shares of the nominal itself. ``sizes`` are the least and the largest that an
    instrument takes, in ``unit``; None where the table does not say. ``minutes`` are for each
    dimension, ``making`` those for the jig, once for all that it holds.
    """

    name: str
    says: str
    quantity: str
    unit: str
    low: float
    high: float
    relative: bool
    shape: Shape
    minutes: float
    basis: str
    source: str
    sizes: tuple[float, float] | None = None
    making: float = 0.0

    @property
    def minutes_for_one(self) -> float:
        """Bench minutes where it is used for one dimension alone."""
        return self.minutes + self.making


@lru_cache(maxsize=2)
def workshop_table(kind: Kind) -> dict[str, WorkshopEntry]:
    """Read all entries of one kind, by name.

    Parameters
    ----------
    kind : str
        ``"process"`` or ``"instrument"``.
    """
    return {name: _entry(name, row) for name, row in _content()[kind].items()}


@lru_cache(maxsize=1)
def _content() -> Mapping[str, dict[str, dict[str, Any]]]:
    text = files("sensitivity.spreads").joinpath("workshop.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def _entry(name: str, row: dict[str, Any]) -> WorkshopEntry:
    unit = _UNIT_OF[row["quantity"]]
    if "relative" in row:
        half = read_difference(row["relative"], "")
        low, high = -half, half
    elif "between" in row:
        low, high = (read_difference(end, unit) for end in row["between"])
    else:
        half = read_difference(row["plus_minus"], unit)
        low, high = -half, half
    return WorkshopEntry(
        name=name,
        says=row["says"],
        quantity=row["quantity"],
        unit=unit,
        low=low,
        high=high,
        relative="relative" in row,
        shape=row["shape"],
        minutes=float(row["minutes"]),
        basis=row["basis"],
        source=row["source"],
        sizes=_sizes(row.get("sizes")),
        making=float(row.get("making", 0.0)),
    )


def deviation_in_words(entry: WorkshopEntry) -> str:
    """Write what a process or an instrument leaves, such as ``± 2 deg, anywhere within``."""
    scale, unit = (100.0, " %") if entry.relative else (1.0, f" {entry.unit}".rstrip())
    low, high = scale * entry.low, scale * entry.high
    ends = f"± {high:.4g}{unit}" if low == -high else f"{low:.4g} to {high:.4g}{unit}"
    return f"{ends}, {shape_in_words(entry.shape)}".replace("-0", "−0")


def workshop_spread(
    kind: Kind, name: str, centre: float, unit: str
) -> tuple[Spread, WorkshopEntry]:
    """Find the spread that a process or an instrument leaves about ``centre`` (in ``unit``).

    Parameters
    ----------
    kind : str
        ``"process"`` or ``"instrument"``.
    name : str
        As the table has it.
    centre : float
        The nominal, or what was read, in ``unit``.
    unit : str
        A unit spelling.

    Returns
    -------
    Spread, WorkshopEntry
        About ``centre``, in ``unit``.

    Raises
    ------
    QuantityError
        For an unknown name, or one for another quantity than the unit's.
    """
    table = workshop_table(kind)
    if name not in table:
        listed = "spiritlevel processes lists them"
        raise QuantityError(f'no {kind} "{name}"; {nearest(name, table)} ({listed})')
    entry = table[name]
    if entry.relative:
        factor = abs(centre)
    else:
        try:
            factor = conversion(entry.unit, unit).factor
        except QuantityError:
            wanted = f'"{unit}"' if unit else "a pure number"
            raise QuantityError(
                f'{kind} "{name}" is for {_A[entry.quantity]}; this input is in {wanted}'
            ) from None
    low, high = centre + factor * entry.low, centre + factor * entry.high
    return bounded(entry.shape, low, high), entry


@dataclass(frozen=True, slots=True)
class Alternatives:
    """Ways to do one job, loosest first; ``sizes`` in mm if it is for some sizes only."""

    job: str
    names: tuple[str, ...]
    sizes: tuple[float, float] | None


@lru_cache(maxsize=1)
def alternatives() -> tuple[Alternatives, ...]:
    """Read all lists of alternatives, of processes and of instruments."""
    return tuple(
        Alternatives(job, tuple(row["loosest_first"]), _sizes(row.get("sizes")))
        for job, row in _content()["alternatives"].items()
    )


def _sizes(ends: list[str] | None) -> tuple[float, float] | None:
    return (
        None if ends is None else (read_difference(ends[0], "mm"), read_difference(ends[1], "mm"))
    )


def closer_processes(
    name: str, nominal: float, unit: str
) -> tuple[tuple[WorkshopEntry, Spread], ...]:
    """Find what may take a process's place and holds the same dimension closer.

    Parameters
    ----------
    name : str
        The process as stated.
    nominal, unit : float, str
        The dimension; lists for other sizes are left alone.

    Returns
    -------
    tuple of (WorkshopEntry, Spread)
        Loosest first, each closer than the one before it and dearer: what is both wider and
        dearer than another is left out.
    """
    current, _ = workshop_spread("process", name, nominal, unit)
    named: set[str] = set()
    for row in alternatives():
        if name in row.names and _is_for(row, nominal, unit):
            named.update(row.names)
    found = [workshop_spread("process", other, nominal, unit) for other in named - {name}]
    found = [row for row in found if standard_deviation(row[0]) < standard_deviation(current)]
    front: list[tuple[WorkshopEntry, Spread]] = []
    for spread, entry in sorted(
        found, key=lambda row: (row[1].minutes_for_one, standard_deviation(row[0]))
    ):
        if not front or standard_deviation(spread) < standard_deviation(front[-1][1]):
            front.append((entry, spread))
    return tuple(front)


def _is_for(row: Alternatives, nominal: float, unit: str) -> bool:
    if row.sizes is None:
        return True
    size = nominal * conversion(unit, "mm").factor
    return row.sizes[0] <= size <= row.sizes[1]


@dataclass(frozen=True, slots=True)
class EffortTrend:
    """How the table's minutes grow as a dimension is held closer: a power of the deviation.

    ``minutes = scale * deviation ** -power``, deviation (standard) in ``unit``, between the
    closest and the loosest of the table.
    """

    unit: str
    scale: float
    power: float
    closest: float
    loosest: float

    def minutes(self, deviation: float) -> float:
        """Minutes to hold one dimension to a standard deviation in ``unit``; NaN off the table."""
        if not self.closest * (1.0 - 1e-9) <= deviation <= self.loosest * (1.0 + 1e-9):
            return float("nan")
        return float(self.scale * deviation**-self.power)


@lru_cache(maxsize=8)
def effort_trend(quantity: str) -> EffortTrend | None:
    """Fit the trend of one quantity's processes; None where no list of them is in the table.

    Least squares of the logarithms within the lists of alternatives, so that the power is how one
    job grows dearer, and not how one job differs from another.

    Parameters
    ----------
    quantity : str
        ``"length"``, ``"angle"`` or ``"ratio"``.
    """
    table = workshop_table("process")
    runs = []
    for row in alternatives():
        entries = [table[name] for name in row.names if name in table]
        if entries and all(e.quantity == quantity and not e.relative for e in entries):
            spreads = [bounded(entry.shape, entry.low, entry.high) for entry in entries]
            deviations = np.log([standard_deviation(spread) for spread in spreads])
            runs.append((deviations, np.log([entry.minutes_for_one for entry in entries])))
    if not runs:
        return None
    x, y = (np.concatenate([run[axis] - run[axis].mean() for run in runs]) for axis in (0, 1))
    power = -float((x * y).sum() / (x * x).sum())
    every = np.concatenate([run[0] for run in runs])
    level = np.concatenate([run[1] for run in runs]).mean() + power * every.mean()
    ends = np.exp([every.min(), every.max()])
    return EffortTrend(
        _UNIT_OF[quantity], float(np.exp(level)), power, float(ends[0]), float(ends[1])
    )


def quantity_of(unit: str) -> str:
    """Name what a unit measures, as the table does; empty where the table does not know it.

    Parameters
    ----------
    unit : str
        A unit spelling.
    """
    # pint lets an angle pass for a pure number, which a tolerance does not.
    if pint_expression(unit) in ("dimensionless", "percent"):
        return "ratio"
    for quantity in ("length", "angle", "time", "mass"):
        try:
            conversion(unit, _UNIT_OF[quantity])
        except QuantityError:
            continue
        return quantity
    return ""
