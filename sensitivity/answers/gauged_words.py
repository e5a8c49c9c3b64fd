"""What is to be gauged, in words: what it should read as drawn, and what of it a gauge reaches."""

from __future__ import annotations

from collections.abc import Iterable
from math import isfinite

from sensitivity.presentation import wording
from sensitivity.presentation.units_said import said_by
from sensitivity.study.study import Reading, Study

AXIS = "axis of "
ITS_TOP = "; no rule touches an axis: read the top there and take half the outside diameter off"
"""Of a height that the model gives of an axis, which nothing touches."""


def should_read(study: Study, name: str) -> str:
    """Write what a dimension or a result reads on a part that is exactly as drawn.

    A result is read with what its reading holds held (``at``); empty where there is no answer.
    """
    said = said_by(study)
    for item in study.inputs:
        if item.name == name:
            return said.drawn(item)
    reading = study.readings.get(name)
    if reading is None:
        return ""
    held = {item.name: item.nominal for item in study.inputs} | dict(reading.at)
    value = float(study.system.evaluate(held)[name])
    if not isfinite(value):
        return ""
    return said.of(name).text(max(value, 0.0) if reading.read_as == "gap" else value)


def reached_in_words(study: Study, names: Iterable[str]) -> str:
    """Say what each result that is gauged is, as its model has it; empty where none is one."""
    found = [study.readings[name] for name in names if name in study.readings]
    return " ".join(f"{_capital(wording.in_words(each.name))}: {_reached(each)}." for each in found)


def _reached(reading: Reading) -> str:
    touched = reading.read_as == "height" and reading.meaning.startswith(AXIS)
    return reading.meaning + (ITS_TOP if touched else "")


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
