"""Values that were read in a trial: the reading, and how it may be out.

An instrument of the workshop table, a stated half-width, or, of a time, the last digit as it was
written.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sensitivity.errors import QuantityError, nearest
from sensitivity.learning.observations import Seen, ValueSeen
from sensitivity.presentation import wording
from sensitivity.presentation.units_said import Manner
from sensitivity.quantities.quantity import (
    read_half_width,
    read_quantity,
    split_number,
    without_sign,
)
from sensitivity.quantities.spelling import plain
from sensitivity.quantities.units import conversion
from sensitivity.spreads.spread import Spread, bounded
from sensitivity.spreads.workshop import deviation_in_words, workshop_spread, workshop_table
from sensitivity.study.faults import Faults
from sensitivity.study.form import echo
from sensitivity.study.toml_lines import Path as KeyPath

SECONDS = 1.0
"""By which a time is out at least, when it is stated to the last digit of what was written."""
VALUE_KEYS = ("value", "instrument", "plus_minus")
CHANGE_HINT = 'write { value = "7 mm", instrument = "height_gauge" }, "broken" or "kept"'


def value_seen(
    name: str, stated: Any, strays: Manner, path: KeyPath, faults: Faults
) -> tuple[Seen, str] | None:
    """Read a value that was seen in a trial, and how it may be out; None, and a fault, where not.

    Parameters
    ----------
    name : str
        Of what was read.
    strays : Manner
        How differences in it are said; its unit too.
    stated : any
        A quantity, or a table of value, instrument and plus_minus.
    path : Path
        Its key.
    faults : Faults
        Takes what is wrong.
    """
    table = stated if isinstance(stated, Mapping) else {"value": stated}
    unknown = [key for key in table if key not in VALUE_KEYS]
    for key in unknown:
        faults.add((*path, key), f"unknown key; {nearest(key, VALUE_KEYS)}")
    value = table.get("value")
    if unknown:
        return None
    if not isinstance(value, str | int | float) or isinstance(value, bool):
        faults.add(path, f"found {echo(stated)}; {CHANGE_HINT}")
        return None
    try:
        reading = read_quantity(value, strays.model_unit)
        error, how = _error(table, str(value), reading, strays)
    except QuantityError as problem:
        faults.add(path, str(problem))
        return None
    return ValueSeen(name, reading, error, str(value)), f"{wording.in_words(name)} {value}, {how}"


def _error(
    table: Mapping[str, Any], written: str, reading: float, strays: Manner
) -> tuple[Spread, str]:
    """How a reading may be out, about nothing: its instrument, as stated, or as a time is read."""
    instrument, stated = table.get("instrument"), table.get("plus_minus")
    unit = strays.model_unit
    if instrument is not None and stated is not None:
        raise QuantityError("state the instrument or plus_minus, not both")
    if stated is not None:
        half = read_half_width(stated, unit)
        if not half > 0.0:
            raise QuantityError(f"plus_minus: found {echo(stated)}; should be above 0")
        return bounded("rectangular", -half, half), f"± {without_sign(stated)}"
    if instrument is not None:
        if not isinstance(instrument, str):
            raise QuantityError(f"found {echo(instrument)}; should be an instrument in quotes")
        if instrument not in workshop_table("instrument"):
            listed = "spiritlevel processes lists them"
            problem = nearest(instrument, workshop_table("instrument"))
            raise QuantityError(f'no instrument "{instrument}"; {problem} ({listed})')
        spread, entry = workshop_spread("instrument", instrument, reading, unit)
        low, high = spread.low - reading, spread.high - reading
        out = deviation_in_words(entry).partition(",")[0]
        if strays.unit != unit and abs(low + high) <= 1e-6 * (high - low):
            out = f"± {strays.rough(high)}"
        words = f"{wording.instrument(instrument)} ({out})"
        return bounded(entry.shape, low, high), words
    if not _is_time(unit):
        raise QuantityError(
            'say with what it was read: instrument = "..." (spiritlevel processes lists them), or '
            'plus_minus = "..."'
        )
    number, own = split_number(written)
    seconds = conversion("s", unit).factor
    half = max(
        0.5 * _last_digit(plain(written), number) * conversion(own, unit).factor, SECONDS * seconds
    )
    shown = wording.significant(half / seconds, 3)
    return bounded("rectangular", -half, half), f"by the watch (± {shown} s)"


def _is_time(unit: str) -> bool:
    try:
        conversion("s", unit)
    except QuantityError:
        return False
    return True


def _last_digit(written: str, number: float) -> float:
    """Worth of the last digit written: 0.1 of "6.5 min", 1 of "6 min"; of a fraction its part."""
    text = written.strip().split(" ")[0]
    _, point, decimals = text.partition(".")
    digits = "".join(letter for letter in decimals if letter.isdigit())
    if point:
        return float(10.0 ** -len(digits))
    if "/" in written:
        below = written.split("/")[1].split(" ")[0]
        return 1.0 / float(below) if below.isdigit() else 1.0
    return 1.0 if number == round(number) else abs(number)
