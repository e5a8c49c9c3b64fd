"""The workshop's processes and instruments, read from ``workshop.toml`` beside this file."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any, Literal

from sensitivity.errors import QuantityError, nearest
from sensitivity.quantity import conversion, read_difference
from sensitivity.spread import Shape, Spread, bounded

Kind = Literal["process", "instrument"]
_UNIT_OF = {"length": "mm", "angle": "deg", "ratio": ""}


@dataclass(frozen=True, slots=True)
class WorkshopEntry:
    """A process or an instrument: what it says, the deviation it leaves, and on whose word.

    ``low`` and ``high`` are deviations from the nominal in ``unit``; where ``relative`` is
    set they are shares of the nominal itself.
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


@lru_cache(maxsize=2)
def workshop_table(kind: Kind) -> dict[str, WorkshopEntry]:
    """Read all entries of one kind, by name."""
    text = files("sensitivity").joinpath("workshop.toml").read_text(encoding="utf-8")
    table: dict[str, dict[str, Any]] = tomllib.loads(text)[kind]
    return {name: _entry(name, row) for name, row in table.items()}


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
    )


def deviation_in_words(entry: WorkshopEntry) -> str:
    """Write the deviation that a process or an instrument leaves, such as ``± 2 deg, normal``."""
    scale, unit = (100.0, " %") if entry.relative else (1.0, f" {entry.unit}".rstrip())
    low, high = scale * entry.low, scale * entry.high
    ends = f"± {high:.4g}{unit}" if low == -high else f"{low:.4g} to {high:.4g}{unit}"
    return f"{ends}, {entry.shape.replace('_', '-')}".replace("-0", "−0")


def workshop_spread(
    kind: Kind, name: str, centre: float, unit: str
) -> tuple[Spread, WorkshopEntry]:
    """Find the spread that a process or an instrument leaves about ``centre`` (in ``unit``)."""
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
                f'{kind} "{name}" is for a {entry.quantity}; this input is in {wanted}'
            ) from None
    low, high = centre + factor * entry.low, centre + factor * entry.high
    return bounded(entry.shape, low, high), entry
