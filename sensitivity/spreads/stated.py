"""From the words of ``[inputs.NAME]`` to its spread: the ways that `studies/README.md` lists."""

from __future__ import annotations

import numpy as np

from sensitivity.errors import QuantityError
from sensitivity.quantities.quantity import (
    read_difference,
    read_half_width,
    read_quantity,
    without_sign,
)
from sensitivity.quantities.units import conversion, pint_expression
from sensitivity.spreads.samples import SampleFiles
from sensitivity.spreads.shape_words import shape_in_words
from sensitivity.spreads.spread import (
    UNBOUNDED_COVERAGE,
    Shape,
    Spread,
    bounded,
    empirical,
    lognormal,
    mean,
    normal,
    standard_deviation,
)
from sensitivity.spreads.statement import SpreadStatement, StatementError, Way, way_of
from sensitivity.spreads.tolerances import iso_286, iso_2768_angular, iso_2768_linear
from sensitivity.spreads.workshop import deviation_in_words, workshop_spread, workshop_table

WIDEST_RELATIVE = 10.0

FAR = 3.0
"""Times the nominal, or that part of it, beyond which a reading is nowhere near it."""


def stated_spread(
    statement: SpreadStatement, nominal: float, unit: str, files: SampleFiles
) -> tuple[Spread | None, str]:
    """Read the spread of one input, and the words that state it.

    Parameters
    ----------
    statement : SpreadStatement
        As read from the study.
    nominal : float
        The nominal, in ``unit``.
    unit : str
        The model's unit.
    files : SampleFiles
        The files beside the study.

    Returns
    -------
    Spread or None, str
        None and no words for an input that is held.

    Raises
    ------
    StatementError
        Naming the key.
    """
    way = way_of(statement)
    if way is None:
        return None, ""
    if way == "measured" and statement.instrument is None:
        instruments = ", ".join(workshop_table("instrument"))
        raise StatementError(way, f'say with what: instrument = "..."; known: {instruments}')
    return _sound(way, statement, nominal, unit, files)


def _sound(
    way: Way, table: SpreadStatement, nominal: float, unit: str, files: SampleFiles
) -> tuple[Spread, str]:
    """Read a spread and see that floating-point numbers can hold it."""
    try:
        with np.errstate(all="ignore"):
            spread, stated = _READERS[way](table, nominal, unit, files)
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


def is_nowhere_near(nominal: float, unit: str, low: float, high: float, width: float = 0.0) -> bool:
    """Tell whether readings from ``low`` to ``high`` can hardly be of this nominal.

    They are all three times as large or a third, or of the other sign, and three times the
    ``width`` of what is believed of it away: a point or a unit has slipped. Of a nominal of zero,
    and of a temperature whose zero is a convention, nothing can be said so.

    Parameters
    ----------
    nominal, low, high, width : float
        In ``unit``.
    unit : str
        A unit spelling.
    """
    if nominal == 0.0 or pint_expression(unit) in ("degree_Celsius", "degree_Fahrenheit"):
        return False
    shares = sorted((low / nominal, high / nominal))
    apart = max(low - nominal, nominal - high)
    return (shares[1] < 1.0 / FAR or shares[0] > FAR) and apart > 3.0 * width


def far_in_words(nominal: float, unit: str) -> str:
    """Say that a reading is nowhere near its nominal, and what to do."""
    shown = f"{nominal:g} {unit}".rstrip()
    return (
        f"nowhere near the nominal, {shown}: has a decimal point or a unit slipped? If it is so, "
        "state it as the nominal"
    )


def unit_faults(table: SpreadStatement, unit: str) -> list[tuple[str, str]]:
    """Check the units alone of a spread whose nominal cannot be read: (key, problem).

    Parameters
    ----------
    table : SpreadStatement
        As read from the study.
    unit : str
        The model's.
    """
    faults = []
    for key, read in (
        ("plus_minus", read_half_width),
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


def _shape(table: SpreadStatement) -> Shape:
    if table.shape == "trapezoidal" and table.flat is None:
        raise StatementError("shape", "a trapezoid wants its ratio of top to base: flat = 0.5")
    if table.flat is not None and table.shape != "trapezoidal":
        raise StatementError("flat", 'goes with shape = "trapezoidal"')
    if table.coverage_factor is not None and table.shape != "normal":
        raise StatementError("coverage_factor", 'goes with shape = "normal"')
    return table.shape or "rectangular"


def _between(table: SpreadStatement, low: float, high: float, nominal: float) -> Spread:
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


def _in_shape(table: SpreadStatement) -> str:
    return f", {shape_in_words(table.shape or 'rectangular')}"


def _as_read(stated: str | float) -> str:
    """Write a quantity as it is stated, with a true minus sign."""
    text = stated if isinstance(stated, str) else f"{stated:g}"
    return f"−{text[1:]}" if text.startswith("-") else text


def _read_plus_minus(
    table: SpreadStatement, nominal: float, unit: str, files: SampleFiles
) -> tuple[Spread, str]:
    assert table.plus_minus is not None
    half = _positive(table.plus_minus, read_half_width(table.plus_minus, unit))
    spread = _between(table, nominal - half, nominal + half, nominal)
    return spread, f"± {without_sign(table.plus_minus)}{_in_shape(table)}"


def _read_between(
    table: SpreadStatement, nominal: float, unit: str, files: SampleFiles
) -> tuple[Spread, str]:
    assert table.between is not None
    low, high = (read_quantity(end, unit) for end in table.between)
    if not low < high:
        raise QuantityError(f"found {list(table.between)}; the first should be below the second")
    if not low <= nominal <= high:
        raise QuantityError(
            f"found {list(table.between)}, which leaves out the nominal {nominal:g} {unit}"
        )
    return _between(table, low, high, nominal), (
        f"{_as_read(table.between[0])} to {_as_read(table.between[1])}{_in_shape(table)}"
    )


def _read_standard_deviation(
    table: SpreadStatement, nominal: float, unit: str, files: SampleFiles
) -> tuple[Spread, str]:
    text = table.standard_deviation
    assert text is not None
    spread = normal(nominal, _positive(text, read_difference(text, unit)))
    return spread, f"standard deviation {text}, {shape_in_words('normal')}"


def _read_lognormal(
    table: SpreadStatement, nominal: float, unit: str, files: SampleFiles
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
    return lognormal(nominal, relative), f"± {relative * 100:.3g} %, {shape_in_words('lognormal')}"


def _read_iso286(
    table: SpreadStatement, nominal: float, unit: str, files: SampleFiles
) -> tuple[Spread, str]:
    assert table.iso286 is not None
    millimetre = conversion("mm", unit)
    low, high = iso_286(nominal / millimetre.factor, table.iso286)
    spread = _between(
        table, nominal + low * millimetre.factor, nominal + high * millimetre.factor, nominal
    )
    return spread, f"{table.iso286} ({low:+g} to {high:+g} mm){_in_shape(table)}"


def _read_iso2768(
    table: SpreadStatement, nominal: float, unit: str, files: SampleFiles
) -> tuple[Spread, str]:
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


def _read_process(
    table: SpreadStatement, nominal: float, unit: str, files: SampleFiles
) -> tuple[Spread, str]:
    assert table.process is not None
    spread, entry = workshop_spread("process", table.process, nominal, unit)
    return spread, deviation_in_words(entry)


def _read_measured(
    table: SpreadStatement, nominal: float, unit: str, files: SampleFiles
) -> tuple[Spread, str]:
    assert table.measured is not None
    assert table.instrument is not None
    found = read_quantity(table.measured, unit)
    try:
        spread, entry = workshop_spread("instrument", table.instrument, found, unit)
    except QuantityError as error:
        raise StatementError("instrument", str(error)) from None
    if is_nowhere_near(nominal, unit, found, found, spread.high - spread.low):
        raise QuantityError(f"found {table.measured!r}, {far_in_words(nominal, unit)}")
    return spread, f"measured {table.measured} {deviation_in_words(entry)}"


def _read_samples(
    table: SpreadStatement, nominal: float, unit: str, files: SampleFiles
) -> tuple[Spread, str]:
    assert table.samples is not None
    name, values = files.values(table.samples, unit)
    if is_nowhere_near(nominal, unit, float(values.min()), float(values.max())):
        raise QuantityError(f"the values of {name} are {far_in_words(nominal, unit)}")
    return empirical(values), f"{values.size} measured, {name}"


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
