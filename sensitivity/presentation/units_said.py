"""In which units a study's quantities are said: as its builder wrote them, inches or mm.

What is computed stays in the models' units; what is said follows the study (``Study.units``), and
within inches the name: in thou where the study wrote thou for it, as a fraction where it wrote
fractions and the value lies on their grid, in decimal inches otherwise. What somebody wrote is
said as it was written.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from math import isfinite, lcm
from typing import Any

from sensitivity.errors import QuantityError
from sensitivity.presentation import wording
from sensitivity.presentation.manner import Manner, Written, factor_said, unit_said
from sensitivity.presentation.table import Cell, Column, Table
from sensitivity.quantities.quantity import read_difference, read_quantity, split_number
from sensitivity.quantities.tube import by_name
from sensitivity.quantities.units import conversion
from sensitivity.spreads.shape_words import shape_in_words
from sensitivity.spreads.spread import Spread
from sensitivity.spreads.workshop import workshop_table
from sensitivity.study.remembered import remembered
from sensitivity.study.study import Input, Limit, Study, Units
from sensitivity.study.units_used import (
    FINEST_ON_A_RULE,
    INCHES,
    METRIC,
    THOU,
    drawn_in_fractions,
)

__all__ = ["Manner", "Said", "factor_said", "said_by", "unit_said"]

FINEST = 128
"""Finest part of an inch that is said as a fraction."""

AT_THE_BENCH = {"mm": 2, "in": 3, "thou": 0}
"""Decimals to which a caliper or a micrometer is read."""

_BELOW = re.compile(r"[0-9]/([0-9]+)")


@dataclass(frozen=True)
class Said:
    """How the quantities of a study are said, by name or by unit.

    Attributes
    ----------
    units : "mm" or "inch"
        The study's.
    values, spreads : mapping of name to Manner
        Of each input and result; of how far each strays, half-widths and standard deviations.
    thou : bool
        Whether the study writes thou at all: differences are said so where nothing is written.
    """

    units: Units = "mm"
    values: Mapping[str, Manner] = field(default_factory=dict)
    spreads: Mapping[str, Manner] = field(default_factory=dict)
    thou: bool = False

    def of(self, name: str) -> Manner:
        """How values of an input or a result are said; KeyError where there is none such."""
        return self.values[name]

    def spread_of(self, name: str) -> Manner:
        """How differences in an input or a result are said: half-widths, deviations, shifts."""
        return self.spreads[name]

    def of_unit(self, unit: str) -> Manner:
        """How values that have a model's unit, and no name, are said."""
        return Manner(unit, unit_said(unit, self.units), factor_said(unit, self.units))

    def difference_of_unit(self, unit: str) -> Manner:
        """How differences that have a model's unit, and no name, are said: lengths in thou."""
        manner = self.of_unit(unit)
        return _in_thou(manner) if manner.unit == "in" else manner

    def drawn(self, item: Input) -> str:
        """Write the nominal of an input as the study does."""
        manner = self.values[item.name]
        if item.drawn and not manner.yes_or_no and by_name(item.drawn) is None:
            return item.drawn
        return manner.text(item.nominal)

    def stated(self, item: Input, *, shape: bool = True) -> str:
        """Write the spread of an input as the study states it: ``± 3 thou, anywhere within``.

        What is stated by a process or a class of tolerance is in the study's units too; without
        ``shape`` nothing is said of how values lie.
        """
        spread = item.spread
        if spread is None:
            return "held"
        lies = f", {shape_in_words(spread.shape)}" if shape else ""
        words = self._ends(item, spread)
        if words:
            return f"{words}{lies}"
        return (
            item.stated if shape else item.stated.removesuffix(f", {shape_in_words(spread.shape)}")
        )

    def _ends(self, item: Input, spread: Spread) -> str:
        """Write between which ends a spread lies, from its figures; empty where words alone do."""
        if spread.base is not None:
            return ""
        places, differences = self.values[item.name], self.spreads[item.name]
        low, high = spread.low - item.nominal, spread.high - item.nominal
        match item.origin:
            case "plus_minus":
                return f"± {differences.text(high)}"
            case "standard_deviation":
                return f"standard deviation {differences.text(spread.scale)}"
            case "between":
                return places.pair(spread.low, spread.high)
            case _ if differences.factor == 1.0:
                return ""
            case "process":
                entry = workshop_table("process").get(item.process)
                return "" if entry is None or entry.relative else _deviation(differences, low, high)
            case "iso286" | "iso2768":
                return f"{item.stated.split(' (')[0]} ({_deviation(differences, low, high)})"
            case "measured":
                about = spread.centre
                errs = _deviation(differences, spread.low - about, spread.high - about)
                return f"measured {places.text(about)} {errs}"
        return ""

    def limit(self, limit: Limit) -> str:
        """Write what a result must be: ``at least 1/64 in``."""
        manner = self.values[limit.result]
        if manner.yes_or_no and (limit.at_least, limit.at_most) in ((1.0, None), (None, 0.0)):
            return "yes" if limit.at_least else "no"
        if limit.at_least is not None and limit.at_most is not None:
            return manner.pair(limit.at_least, limit.at_most)
        if limit.at_least is not None:
            return f"at least {manner.text(limit.at_least)}"
        assert limit.at_most is not None
        return f"at most {manner.text(limit.at_most)}"

    def limit_in_short(self, limit: Limit) -> str:
        """Write what a result must be in few letters: ``≥ 1/64 in``."""
        words = self.limit(limit)
        return words.replace("at least", "≥").replace("at most", "≤")

    def in_one_table(self, scales: Iterable[tuple[str, float]]) -> Said:
        """Give the same with one precision for each unit, for a table of some names.

        Parameters
        ----------
        scales : iterable of (str, float)
            The names, and how widely each is spread, in its model's unit: the narrowest is shown
            with two digits, or with one where that is finer than its unit is read at the bench.
        """
        wanted: dict[str, int] = {}
        for name, scale in scales:
            manner = self.values[name]
            if manner.unit and isfinite(scale) and scale > 0.0:  # pure numbers are not alike
                found = wording.decimals_for(scale * manner.factor)
                wanted[manner.unit] = max(found, wanted.get(manner.unit, 0))
        places = {
            unit: min(found, max(AT_THE_BENCH[unit], found - 1)) if unit in AT_THE_BENCH else found
            for unit, found in wanted.items()
        }
        if "in" in places:
            places["in"] = max(places["in"], AT_THE_BENCH["in"])
        values = {n: replace(m, places=places.get(m.unit)) for n, m in self.values.items()}
        return replace(self, values=values)

    def also(self, name: str, *texts: str | float) -> Said:
        """Give the same with what a call writes of a name: a reading, a setting, ``1/32 in``."""
        manner = self.values[name]
        told = _told(manner.model_unit, self.units, (*texts,), (), manner)
        return replace(self, values={**self.values, name: told})

    def stepped(self, name: str, step: str | float) -> Said:
        """Give the same with a step that a call asks for: ``1/32 in`` is answered in 32nds."""
        manner = self.values[name]
        told = _told(manner.model_unit, self.units, (), (step,), manner)
        return replace(self, values={**self.values, name: told})

    def table(self, table: Table) -> Table:
        """Convert the values of a table, for files and frames; what a reader sees is said."""
        if self.units == "mm":
            return table
        columns = tuple(c._replace(unit=unit_said(c.unit, self.units)) for c in table.columns)
        rows = tuple(
            replace(row, cells=tuple(map(self._cell, table.columns, row.cells)))
            for row in table.rows
        )
        return replace(table, columns=columns, rows=rows)

    def _cell(self, column: Column, cell: Cell) -> Cell:
        unit = cell.unit or column.unit
        said = unit_said(unit, self.units)
        if said == unit:
            return cell
        factor = factor_said(unit, self.units)
        values = tuple(
            said
            if cell.unit and value == cell.unit
            else float(f"{value * factor:.12g}")  # 0.485 in is filed as 0.485
            if isinstance(value, float)
            else value
            for value in cell.values
        )
        return cell._replace(values=values, unit=said if cell.unit else "")


@remembered
def said_by(study: Study) -> Said:
    """Find how the quantities of a study are said."""
    limits = {limit.result: limit for limit in study.limits}
    texts = [text for item in study.inputs for text in (*item.written, *item.steps)]
    texts += [text for limit in study.limits for text in limit.written]
    thou = any(_unit_of(text) in THOU for text in texts)
    values, spreads = {}, {}
    truths = {each.name for each in study.system.inputs if each.yes_or_no}
    for item in study.inputs:
        rule = (f"1/{FINEST_ON_A_RULE} in",) if drawn_in_fractions(item) else ()
        told = _told(item.unit, study.units, item.written, (*item.steps, *rule))
        values[item.name] = replace(told, yes_or_no=item.name in truths)
        stated = item.steps[:1] if item.origin in ("plus_minus", "standard_deviation") else ()
        in_thou = _unit_of(stated[0]) in THOU if stated else thou
        spreads[item.name] = _difference(item.unit, study.units, item.steps, in_thou)
    for result in study.system.results:
        limit = limits.get(result.name)
        written = limit.written if limit else ()
        told = _told(result.unit, study.units, written, ())
        values[result.name] = replace(told, yes_or_no=result.yes_or_no)
        spreads[result.name] = _difference(result.unit, study.units, (), thou)
    return Said(study.units, values, spreads, thou)


def _told(
    unit: str,
    units: Units,
    places: Iterable[str | float],
    steps: Iterable[str | float],
    before: Manner | None = None,
) -> Manner:
    """Find how values are said from what was written for them: the first decides on thou."""
    texts = tuple(str(text) for text in places)
    written = _written(unit, units, texts, read_quantity)
    below = _denominator((*texts, *(str(step) for step in steps)))
    plain = Manner(unit, unit_said(unit, units), factor_said(unit, units))
    if before is None:
        thou = plain.unit == "in" and bool(written) and written[0].unit in THOU
        before = _in_thou(plain) if thou else plain
    whole = lcm(before.denominator or 1, below or 1)
    if before.denominator or below:
        below = whole if whole <= FINEST else max(before.denominator, below)
    return replace(before, denominator=below, written=(*before.written, *written))


def _difference(unit: str, units: Units, steps: tuple[str, ...], in_thou: bool) -> Manner:
    """Find how differences are said."""
    plain = Manner(unit, unit_said(unit, units), factor_said(unit, units))
    written = _written(unit, units, steps, read_difference)
    if plain.unit == "in" and in_thou:
        plain = _in_thou(plain)
    return replace(plain, denominator=_denominator(steps), written=written)


def _in_thou(manner: Manner) -> Manner:
    return replace(manner, unit="thou", factor=1000.0 * manner.factor)


def _written(unit: str, units: Units, texts: Iterable[str], read: Any) -> tuple[Written, ...]:
    """Read what was written in the study's own units; what was written otherwise is converted."""
    found = []
    other = METRIC if units == "inch" else INCHES
    for text in texts:
        if (named := by_name(text)) is not None:  # "22 SWG (0.711 mm)"
            value = named[1] * conversion("mm", unit).factor
            plain = Manner(unit, unit_said(unit, units), factor_said(unit, units))
            inches = round(value * plain.factor, 4)
            exact = plain.unit == "in" and abs(value * plain.factor - inches) < 1e-9
            size = f"{inches:.4f}".removesuffix("0") + " in" if exact else plain.text(value)
            found.append(Written(value, named[0], f"({size})"))
            continue
        spelled = _unit_of(text)
        if spelled in other or (spelled == "" and unit != ""):
            continue
        try:
            value = read(text, unit)
        except QuantityError:
            continue
        number = text.strip().removesuffix(spelled).strip()
        shown = "in" if spelled in INCHES - THOU else "thou" if spelled in THOU else spelled
        found.append(Written(value, number.replace("-", "−", number.startswith("-")), shown))
    return tuple(found)


def _unit_of(text: str) -> str:
    try:
        return split_number(text)[1]
    except QuantityError:
        return ""


def _denominator(texts: Iterable[str]) -> int:
    """Find the finest part of an inch that was written; 0 where no fraction was."""
    found = 0
    for text in texts:
        if _unit_of(text) not in INCHES - THOU:
            continue
        plain = unicodedata.normalize("NFKC", text).replace("⁄", "/")
        match = _BELOW.search(plain)
        below = int(match[1]) if match else 0
        if 1 < below <= FINEST:
            whole = lcm(found or 1, below)
            found = whole if whole <= FINEST else max(found, below)
    return found


def _deviation(manner: Manner, low: float, high: float) -> str:
    """Write from how far below to how far above: ``± 4 thou``, ``0 to 3 thou``."""
    if abs(low + high) <= 1e-6 * (high - low):
        return f"± {manner.text(high)}"
    return manner.pair(low, high)
