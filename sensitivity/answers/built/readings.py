"""What was read off the finished parts: from the words of a call or a CSV file to values.

All faults at once, like those of a study.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import isfinite
from pathlib import Path

from sensitivity.errors import CallError, Fault, QuantityError, nearest
from sensitivity.presentation import wording
from sensitivity.pricing.instruments import Readable, instruments_for, why_not
from sensitivity.quantities.csv_table import CsvError, plain_number, read_csv
from sensitivity.quantities.quantity import read_quantity, suggesting
from sensitivity.quantities.text_files import UnreadableError, as_text, read_regular
from sensitivity.spreads.spread import Spread
from sensitivity.spreads.stated import far_in_words, is_nowhere_near
from sensitivity.spreads.workshop import (
    WorkshopEntry,
    deviation_in_words,
    workshop_spread,
    workshop_table,
)
from sensitivity.study.study import Input, Study

COLUMNS = ("input", "measured", "instrument")
LARGEST_READINGS = 1 << 20  # bytes
MOST_READINGS = 1000


@dataclass(frozen=True, slots=True)
class Stated:
    """One reading in words: of what, what was read, with what, and where that was said."""

    name: str
    measured: str
    instrument: str
    where: str


@dataclass(frozen=True, slots=True)
class Measured:
    """One reading: what was read as the study has it, the value in its unit, and with what.

    ``drawn`` is what it is as drawn, in its unit; ``size`` how the true size is spread about the
    reading by the instrument alone.
    """

    item: Readable
    value: float
    words: str
    entry: WorkshopEntry
    size: Spread
    drawn: float

    @property
    def error(self) -> Spread:
        """How the reading errs: reading less truth, about 0, in its unit."""
        size = self.size
        return replace(
            size,
            low=self.value - size.high,
            high=self.value - size.low,
            centre=self.value - size.centre,
        )

    @property
    def stated(self) -> str:
        """The reading in words, for tables: ``measured 12.1 mm ± 0.03 mm, rectangular``."""
        return f"measured {self.words} {deviation_in_words(self.entry)}"


@dataclass(frozen=True, slots=True)
class Heard:
    """What a call or a file says was measured, and what is wrong with how it says it."""

    readings: tuple[Stated, ...] = ()
    faults: tuple[Fault, ...] = ()


def heard_in_call(measured: Iterable[str], instruments: Iterable[str]) -> Heard:
    """Pair ``NAME=QUANTITY`` with ``NAME=INSTRUMENT``."""
    faults: list[Fault] = []
    read = _named(measured, "--measured", 'rise="12.1 mm"', faults)
    used = _named(instruments, "--with", "rise=digital_caliper", faults)
    for name in used:
        if name not in read:
            text = f"was not measured; {nearest(name, read)}"
            faults.append(Fault(f"--with {name}", text))
    readings = [Stated(name, text, used.get(name, ""), "--measured") for name, text in read.items()]
    return Heard(tuple(readings), tuple(faults))


def _named(pairs: Iterable[str], option: str, like: str, faults: list[Fault]) -> dict[str, str]:
    found: dict[str, str] = {}
    for pair in pairs:
        name, equals, text = (part.strip() for part in pair.partition("="))
        if not (name and equals and text):
            faults.append(Fault(option, f'found "{pair}"; write it like {option} {like}'))
        elif name in found:
            faults.append(Fault(f"{option} {name}", "is given twice; give it once"))
        else:
            found[name] = text
    return found


def heard_in_file(path: Path) -> Heard:
    """Read the columns input, measured and instrument of a CSV file; lines with # are remarks.

    Parameters
    ----------
    path : Path
        A regular file of at most 1 MiB. Between semicolons a comma may be the decimal sign.

    Returns
    -------
    Heard
        What is wrong with the file is a fault, which says nothing of what stands in it.
    """
    try:
        table = read_csv(as_text(read_regular(path, LARGEST_READINGS)), most_rows=MOST_READINGS)
        columns = [column for column in COLUMNS if column in table.columns]
        if len(columns) < len(COLUMNS):
            names = " or ".join(column for column in COLUMNS if column not in columns)
            first = ",".join(COLUMNS)
            return _unread(path, f"no column {names}; the first line should be {first}")
        rows = zip(*(table.column(column) for column in COLUMNS), strict=True)
    except (UnreadableError, CsvError) as error:
        return _unread(path, str(error))
    except OSError as error:
        return _unread(path, (error.strerror or "a fault of the machine").lower())
    return Heard(
        tuple(
            Stated(name, measured, instrument, f"{path.name}, line {line},")
            for (line, name), (_, measured), (_, instrument) in rows
        )
    )


def _unread(path: Path, problem: str) -> Heard:
    return Heard(faults=(Fault(str(path), problem),))


def read_measured(study: Study, *heard: Heard) -> tuple[Measured, ...]:
    """Read what was measured, in the study's units.

    Raises
    ------
    CallError
        With all faults: how it is said, unknown names, units, instruments, impossible values.
    """
    faults = [fault for each in heard for fault in each.faults]
    known: dict[str, Readable] = {item.name: item for item in study.inputs}
    known |= study.readings
    drawn = study.nominal_results() if study.readings else {}
    seen: set[str] = set()
    found = []
    for one in (reading for each in heard for reading in each.readings):
        key = f"{one.where} {one.name or 'the first column'}"
        if one.name not in known:
            faults.append(Fault(key, _unknown(study, one.name, known)))
        elif one.name in seen:
            faults.append(Fault(key, "was measured twice; give the reading to be believed"))
        else:
            found.append(_one(study, known[one.name], one, key, drawn, faults))
        seen.add(one.name)
    faults += _correlation_faults(study, seen)
    if faults:
        count = len(faults)
        head = f"{count} fault{'s' if count != 1 else ''} in what was measured; nothing was run"
        raise CallError("\n".join([head, *(f"  {fault}" for fault in faults)]))
    if not found:
        raise CallError(
            'nothing was measured: say --measured rise="12.1 mm" --with rise=digital_caliper, or '
            "--readings FILE.csv"
        )
    return tuple(one for one in found if one is not None)


def _unknown(study: Study, name: str, known: Mapping[str, Readable]) -> str:
    results = {quantity.name for quantity in study.system.results}
    if name not in results:
        return f"{study.name} has no such input or result; {nearest(name, [*known, *results])}"
    gauged = wording.listed([*study.readings]) if study.readings else "none"
    return (
        "is a result that no model says a gauge can reach; where one can, state [readings."
        f"{name}] in the study, with its instrument (those that can: {gauged})"
    )


def _one(
    study: Study,
    item: Readable,
    one: Stated,
    key: str,
    drawn: Mapping[str, float],
    faults: list[Fault],
) -> Measured | None:
    problems = []
    nominal = item.nominal if isinstance(item, Input) else drawn[item.name]
    value = nominal
    try:
        with suggesting(inches=study.units == "inch"):
            value = read_quantity(_number_if_pure(one.measured, item.unit), item.unit)
        problems += _impossible(study, item, value)
    except QuantityError as error:
        problems.append(str(error))
    table = workshop_table("instrument")
    instrument = one.instrument or ("" if isinstance(item, Input) else item.instrument)
    size_drawn = nominal if isfinite(nominal) else None
    if not instrument:
        likely = ", ".join(entry.name for entry in instruments_for(item, size=size_drawn))
        shown = f"; likely: {likely}" if likely else ""
        how = f"--with {item.name}=INSTRUMENT" if one.where == "--measured" else "the last column"
        problems.append(f"say with what: {how}{shown}")
    elif instrument not in table:
        listed = "spiritlevel processes lists them"
        problems.append(f'no instrument "{instrument}"; {nearest(instrument, table)} ({listed})')
    else:
        problems += why_not(table[instrument], item)
    if problems:
        faults += [Fault(key, problem) for problem in problems]
        return None
    size, entry = workshop_spread("instrument", instrument, value, item.unit)
    if isinstance(item, Input):
        width = max(spread.high - spread.low for spread in (size, item.spread or size))
        if is_nowhere_near(nominal, item.unit, value, value, width):
            shown = f'found "{one.measured}", {far_in_words(nominal, item.unit)}'
            faults.append(Fault(key, shown))
            return None
    return Measured(item, value, one.measured, entry, size, nominal)


def _impossible(study: Study, item: Readable, value: float) -> list[str]:
    if not isinstance(item, Input):
        return []
    physical = next(q.range for q in study.system.inputs if q.name == item.name)
    if physical.holds(value):
        return []
    shown = f"{value:g} {item.unit}".rstrip()
    return [f"found {shown}; physically it is {physical.stated}"]


def _number_if_pure(text: str, unit: str) -> str | float:
    """Take a bare number as one where the input is a pure number."""
    try:
        return text if unit else plain_number(text)
    except ValueError:
        return text


def _correlation_faults(study: Study, measured: set[str]) -> list[Fault]:
    """Refuse a reading that stands alone and would tell of another input."""
    alone = {i.name for i in study.inputs if i.spread is None or i.kind == "running" or i.adjust}
    faults = []
    for correlation in study.correlations:
        one, other = correlation.inputs
        read = {one, other} & measured
        if len(read) == 1 and read <= alone:
            told, left = (one, other) if one in measured else (other, one)
            problem = (
                f"is correlated with {left} in this study, and what its reading tells of {left} is "
                f"not worked out; measure {left} too, or state a shared cause and what each adds"
            )
            faults.append(Fault(told, problem))
    return faults
