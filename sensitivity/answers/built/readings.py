"""What was read off the finished parts: from the words of a call or a CSV file to values.

All faults at once, like those of a study.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from sensitivity.errors import CallError, Fault, QuantityError, nearest
from sensitivity.pricing.instruments import instruments_for, why_not
from sensitivity.quantities.csv_table import CsvError, plain_number, read_csv
from sensitivity.quantities.quantity import read_quantity
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
    """One reading in words: the input, what was read, with what, and where that was said."""

    name: str
    measured: str
    instrument: str
    where: str


@dataclass(frozen=True, slots=True)
class Measured:
    """One reading: the input as the study has it, what was read in its unit, and with what.

    ``size`` is how the part's true size is spread about the reading.
    """

    item: Input
    value: float
    words: str
    entry: WorkshopEntry
    size: Spread

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
    known = {item.name: item for item in study.inputs}
    seen: set[str] = set()
    found = []
    for one in (reading for each in heard for reading in each.readings):
        key = f"{one.where} {one.name or 'the first column'}"
        if one.name not in known:
            faults.append(Fault(key, f"{study.name} has no such input; {nearest(one.name, known)}"))
        elif one.name in seen:
            faults.append(Fault(key, "was measured twice; give the reading to be believed"))
        else:
            found.append(_one(study, known[one.name], one, key, faults))
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


def _one(study: Study, item: Input, one: Stated, key: str, faults: list[Fault]) -> Measured | None:
    problems = []
    value = item.nominal
    try:
        value = read_quantity(_number_if_pure(one.measured, item.unit), item.unit)
        physical = next(q.range for q in study.system.inputs if q.name == item.name)
        if not physical.holds(value):
            shown = f"{value:g} {item.unit}".rstrip()
            problems.append(f"found {shown}; physically it is {physical.stated}")
    except QuantityError as error:
        problems.append(str(error))
    table = workshop_table("instrument")
    if not one.instrument:
        likely = ", ".join(entry.name for entry in instruments_for(item))
        shown = f"; likely: {likely}" if likely else ""
        how = f"--with {item.name}=INSTRUMENT" if one.where == "--measured" else "the last column"
        problems.append(f"say with what: {how}{shown}")
    elif one.instrument not in table:
        listed = "spiritlevel processes lists them"
        problems.append(
            f'no instrument "{one.instrument}"; {nearest(one.instrument, table)} ({listed})'
        )
    else:
        problems += why_not(table[one.instrument], item)
    if problems:
        faults += [Fault(key, problem) for problem in problems]
        return None
    size, entry = workshop_spread("instrument", one.instrument, value, item.unit)
    width = max(spread.high - spread.low for spread in (size, item.spread or size))
    if is_nowhere_near(item.nominal, item.unit, value, value, width):
        shown = f'found "{one.measured}", {far_in_words(item.nominal, item.unit)}'
        faults.append(Fault(key, shown))
        return None
    return Measured(item, value, one.measured, entry, size)


def _number_if_pure(text: str, unit: str) -> str | float:
    """Take a bare number as one where the input is a pure number."""
    try:
        return text if unit else plain_number(text)
    except ValueError:
        return text


def _correlation_faults(study: Study, measured: set[str]) -> list[Fault]:
    """Refuse a reading that would tell of another input; that is not worked out here."""
    faults = []
    for correlation in study.correlations:
        one, other = correlation.inputs
        if (one in measured) != (other in measured):
            told, left = (one, other) if one in measured else (other, one)
            problem = (
                f"is correlated with {left} in this study, and what its reading tells of {left} is "
                f"not worked out; measure {left} too, or state a shared cause and what each adds"
            )
            faults.append(Fault(told, problem))
    return faults
