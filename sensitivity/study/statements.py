"""Saying in Python what a study file says: each statement is the table it would be there.

Nothing is checked here. ``make_study`` checks all of it together, as it does a file.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypedDict, Unpack

from sensitivity.spreads.spread import Shape
from sensitivity.spreads.statement import Stated
from sensitivity.system.remarks import Kind

Keys = tuple[tuple[str, object], ...]
"""The keys of a table, each with its value, in the order stated."""


class About(TypedDict, total=False):
    """What every input may have beside its nominal and its spread."""

    basis: str
    kind: Kind
    group: str
    adjust: Sequence[Stated]
    redraw: Sequence[Stated]
    redraw_step: Stated
    redraw_sizes: Sequence[Stated] | str
    tube: str
    blunder: Stated


@dataclass(frozen=True, slots=True)
class InputStatement:
    """What is stated of one input: the keys of ``[inputs.NAME]`` with their values."""

    keys: Keys


@dataclass(frozen=True, slots=True)
class LimitStatement:
    """What is wanted of one result: the keys of ``[limits.RESULT]`` with their values."""

    result: str
    keys: Keys


@dataclass(frozen=True, slots=True)
class ReadingStatement:
    """How one result can be gauged: the keys of ``[readings.RESULT]`` with their values."""

    result: str
    keys: Keys


@dataclass(frozen=True, slots=True)
class CorrelationStatement:
    """What is stated of two inputs together: the keys of ``[[correlations]]`` with their values."""

    keys: Keys


def _given(**keys: object) -> Keys:
    return tuple((key, value) for key, value in keys.items() if value is not None)


def held(nominal: Stated | None = None, **about: Unpack[About]) -> InputStatement:
    """Hold an input at a nominal, such as ``"12.3 mm"``, or at the model's own.

    Parameters
    ----------
    nominal : str or number, optional
        With its unit, such as ``"12.3 mm"``; the model's own if not given.
    """
    return InputStatement(_given(nominal=nominal, **about))


def normal(
    nominal: Stated | None = None,
    *,
    plus_minus: Stated | None = None,
    standard_deviation: Stated | None = None,
    coverage_factor: float | None = None,
    **about: Unpack[About],
) -> InputStatement:
    """State a normal spread about the nominal, by its half-width or its standard deviation.

    Parameters
    ----------
    nominal : str or number, optional
        With its unit; a bare number where the model has none. The model's own if not given.
    plus_minus : str or number, optional
        Half-width of ``coverage_factor`` standard deviations.
    standard_deviation : str or number, optional
        In place of ``plus_minus``.
    coverage_factor : float, optional
        3 unless given; goes with ``plus_minus``.
    """
    return InputStatement(
        _given(
            nominal=nominal,
            plus_minus=plus_minus,
            standard_deviation=standard_deviation,
            shape=None if plus_minus is None else "normal",
            coverage_factor=coverage_factor,
            **about,
        )
    )


def _plus_minus(
    shape: Shape,
    nominal: Stated | None,
    half: Stated,
    about: About,
    flat: float | None = None,
) -> InputStatement:
    return InputStatement(_given(nominal=nominal, plus_minus=half, shape=shape, flat=flat, **about))


def rectangular(
    nominal: Stated | None = None, *, plus_minus: Stated, **about: Unpack[About]
) -> InputStatement:
    """State that an input lies anywhere within a half-width of its nominal, equally likely.

    Parameters
    ----------
    nominal : str or number, optional
        With its unit, such as ``"12.3 mm"``; the model's own if not given.
    plus_minus : str or number
        Half-width.
    """
    return _plus_minus("rectangular", nominal, plus_minus, about)


def triangular(
    nominal: Stated | None = None, *, plus_minus: Stated, **about: Unpack[About]
) -> InputStatement:
    """State that an input lies within a half-width of its nominal, likeliest at the nominal.

    Parameters
    ----------
    nominal : str or number, optional
        With its unit, such as ``"12.3 mm"``; the model's own if not given.
    plus_minus : str or number
        Half-width.
    """
    return _plus_minus("triangular", nominal, plus_minus, about)


def arcsine(
    nominal: Stated | None = None, *, plus_minus: Stated, **about: Unpack[About]
) -> InputStatement:
    """State that an input swings between a half-width each way, as a cycle does.

    Parameters
    ----------
    nominal : str or number, optional
        With its unit, such as ``"12.3 mm"``; the model's own if not given.
    plus_minus : str or number
        Half-width.
    """
    return _plus_minus("arcsine", nominal, plus_minus, about)


def trapezoidal(
    nominal: Stated | None = None, *, plus_minus: Stated, flat: float, **about: Unpack[About]
) -> InputStatement:
    """State a trapezoid whose top is ``flat`` (0 to 1) of its base.

    Parameters
    ----------
    nominal : str or number, optional
        With its unit, such as ``"12.3 mm"``; the model's own if not given.
    plus_minus : str or number
        Half-width.
    flat : float
        Ratio of the top to the base.
    """
    return _plus_minus("trapezoidal", nominal, plus_minus, about, flat)


def between(
    low: Stated,
    high: Stated,
    *,
    nominal: Stated | None = None,
    shape: Shape | None = None,
    flat: float | None = None,
    coverage_factor: float | None = None,
    **about: Unpack[About],
) -> InputStatement:
    """State the two ends of an input, on both sides of its nominal or from it; rectangular.

    Parameters
    ----------
    low, high : str or number
        The ends.
    nominal : str or number, optional
        With its unit, such as ``"12.3 mm"``; the model's own if not given.
    shape, flat, coverage_factor : optional
        As in a study file.
    """
    return InputStatement(
        _given(
            nominal=nominal,
            between=(low, high),
            shape=shape,
            flat=flat,
            coverage_factor=coverage_factor,
            **about,
        )
    )


def lognormal(
    nominal: Stated | None = None, *, relative: Stated, **about: Unpack[About]
) -> InputStatement:
    """State a positive quantity whose median is the nominal, by its relative deviation.

    Parameters
    ----------
    nominal : str or number, optional
        With its unit, such as ``"12.3 mm"``; the model's own if not given.
    relative : str or number
        Standard deviation over mean, such as ``"12 %"``.
    """
    return InputStatement(_given(nominal=nominal, lognormal=relative, **about))


def iso286(
    nominal: Stated | None,
    tolerance_class: str,
    *,
    shape: Shape | None = None,
    flat: float | None = None,
    **about: Unpack[About],
) -> InputStatement:
    """State a tolerance class of the nominal size, such as ``"H11"`` or ``"h9"``.

    Parameters
    ----------
    nominal : str or number, optional
        With its unit, such as ``"12.3 mm"``; the model's own if not given.
    tolerance_class : str
        Letters H, h, JS and js, grades 6 to 14.
    shape, flat : optional
        As in a study file; rectangular unless given.
    """
    return InputStatement(
        _given(nominal=nominal, iso286=tolerance_class, shape=shape, flat=flat, **about)
    )


def iso2768(
    nominal: Stated | None,
    tolerance_class: str,
    *,
    leg: Stated | None = None,
    shape: Shape | None = None,
    flat: float | None = None,
    **about: Unpack[About],
) -> InputStatement:
    """State a general tolerance class, ``"f"``, ``"m"``, ``"c"`` or ``"v"``; angles by the leg.

    Parameters
    ----------
    nominal : str or number, optional
        With its unit, such as ``"12.3 mm"``; the model's own if not given.
    tolerance_class : str
        f, m, c or v.
    leg : str, optional
        Shorter leg of an angle.
    shape, flat : optional
        As in a study file; rectangular unless given.
    """
    return InputStatement(
        _given(nominal=nominal, iso2768=tolerance_class, leg=leg, shape=shape, flat=flat, **about)
    )


def process(nominal: Stated | None, name: str, **about: Unpack[About]) -> InputStatement:
    """State the process of the workshop table that makes it.

    Parameters
    ----------
    nominal : str or number, optional
        With its unit, such as ``"12.3 mm"``; the model's own if not given.
    name : str
        As ``spiritlevel processes`` lists it.
    """
    return InputStatement(_given(nominal=nominal, process=name, **about))


def samples(nominal: Stated | None, column: str, **about: Unpack[About]) -> InputStatement:
    """State a column of measured values, such as ``"pipes.csv:height_mm"``.

    Parameters
    ----------
    nominal : str or number, optional
        With its unit, such as ``"12.3 mm"``; the model's own if not given.
    column : str
        File and column; the column's name ends in its unit.
    """
    return InputStatement(_given(nominal=nominal, samples=column, **about))


def measured(
    nominal: Stated | None, reading: Stated, *, instrument: str, **about: Unpack[About]
) -> InputStatement:
    """State what was read off the finished part, and with what instrument of the workshop table.

    Parameters
    ----------
    nominal : str or number, optional
        With its unit, such as ``"12.3 mm"``; the model's own if not given.
    reading : str or number
        With its unit.
    instrument : str
        As ``spiritlevel processes`` lists it.
    """
    return InputStatement(_given(nominal=nominal, measured=reading, instrument=instrument, **about))


def limit(
    result: str,
    *,
    at_least: Stated | None = None,
    at_most: Stated | None = None,
    because: str = "",
    hurts: bool | None = None,
    ceiling: float | None = None,
) -> LimitStatement:
    """State what a result must meet, and why.

    Parameters
    ----------
    result : str
        Name of a result of one of the models.
    at_least, at_most : str or number, optional
        With units; at least one of them.
    because : str
        Why it is wanted.
    hurts : bool, optional
        Whether breaking it may hurt somebody, so that its chance is not traded for the rest.
    ceiling : float, optional
        Most that its chance may be where it hurts, above 0 and below 1; 0.001 unless given.
    """
    return LimitStatement(
        result,
        _given(at_least=at_least, at_most=at_most, because=because, hurts=hurts, ceiling=ceiling),
    )


def reading(
    result: str, *, instrument: str | None = None, at: Mapping[str, Stated] | None = None
) -> ReadingStatement:
    """State that a gauge can reach a result on the finished part, and how.

    Parameters
    ----------
    result : str
        Name of a result of one of the models.
    instrument : str, optional
        As ``spiritlevel processes`` lists it; any that does the job unless given, where the model
        says what the result is read as.
    at : mapping of name to str or number, optional
        Conditions held while it is read, such as ``{"grade": "0 %"}``.
    """
    return ReadingStatement(result, _given(instrument=instrument, at=dict(at) if at else None))


def correlation(first: str, second: str, *, rank: float, because: str = "") -> CorrelationStatement:
    """State the rank correlation (Spearman's) of two inputs, and why it is believed.

    Parameters
    ----------
    first, second : str
        Names of inputs that vary.
    rank : float
        Above -1 and below 1.
    because : str
        Why it is believed.
    """
    return CorrelationStatement(_given(inputs=(first, second), rank=rank, because=because))
