"""How each build input can be held closer, by the workshop table, and what that takes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from sensitivity.quantities.units import conversion
from sensitivity.spreads.altered import narrowed
from sensitivity.spreads.spread import Spread, standard_deviation
from sensitivity.spreads.workshop import (
    closer_processes,
    deviation_in_words,
    effort_trend,
    quantity_of,
    workshop_table,
)
from sensitivity.study.study import Input, Study

FACTORS = (0.7, 0.5, 0.35, 0.25)
"""Shares of its spread to which an input without a process may be tightened."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One way to hold a dimension closer.

    ``process`` is empty where the spread is merely to be ``factor`` of what it is. ``minutes`` are
    added bench minutes, for all the inputs of the dimension together; ``making`` those for a jig,
    once for all the dimensions that go to the process.
    """

    process: str
    factor: float
    stated: str
    spreads: Mapping[str, Spread]
    minutes: float
    making: float = 0.0


@dataclass(frozen=True, slots=True)
class Dimension:
    """A build input, or several of one group that are made alike, and how to hold it closer.

    ``choices`` go from the loosest to the closest. ``note`` says why there are none.
    """

    name: str
    inputs: tuple[Input, ...]
    choices: tuple[Choice, ...]
    note: str


def dimensions_of(study: Study) -> tuple[Dimension, ...]:
    """Find what can be tightened: build inputs, those of one group and made alike together."""
    alike: dict[tuple[object, ...], list[Input]] = {}
    for item in study.varying:
        if item.kind == "build" and not is_made(item):
            alike.setdefault(_likeness(item), []).append(item)
    grouped = [items[0].group for items in alike.values() if len(items) > 1]
    return tuple(
        # Two sorts in one group are told apart by their first inputs.
        _dimension(
            items[0].name
            if len(items) == 1 or grouped.count(items[0].group) > 1
            else items[0].group,
            tuple(items),
        )
        for items in alike.values()
    )


def is_made(item: Input) -> bool:
    """Tell whether an input has been measured, so that no process can alter it any more."""
    return item.origin == "measured"


def _likeness(item: Input) -> tuple[object, ...]:
    assert item.spread is not None
    if not item.group:
        return (item.name,)
    s = item.spread
    ends = tuple(float(f"{end - item.nominal:.9g}") for end in (s.low, s.high, s.centre))
    return (item.group, item.unit, item.process, s.shape, ends, s.scale, s.flat)


def _dimension(name: str, items: tuple[Input, ...]) -> Dimension:
    first = items[0]
    if first.process:
        found = [closer_processes(item.process, item.nominal, item.unit) for item in items]
        now = _minutes_of(first.process)
        # Of unlike sizes, what serves all of them.
        common = [row[0] for row in found[0] if all(row[0] in [r[0] for r in f] for f in found)]
        by_process = tuple(
            Choice(
                process=entry.name,
                factor=1.0,
                stated=deviation_in_words(entry),
                spreads={
                    item.name: next(row[1] for row in rows if row[0] == entry)
                    for item, rows in zip(items, found, strict=True)
                },
                minutes=len(items) * (entry.minutes - now),
                making=entry.making,
            )
            for entry in common
        )
        closest = first.process.replace("_", " ")
        note = "" if by_process else f'the workshop table has nothing closer than "{closest}"'
        return Dimension(name, items, by_process, note)
    trend = effort_trend(quantity_of(first.unit)) if quantity_of(first.unit) else None
    if trend is None:
        note = (
            f"no process in the workshop table to judge the effort by ({first.unit or 'a number'})"
        )
        return Dimension(name, items, (), note)
    factor = conversion(first.unit, trend.unit).factor
    choices = []
    for share in FACTORS:
        spreads = {item.name: share_of(item, share) for item in items}
        minutes = sum(
            trend.minutes(factor * standard_deviation(spreads[item.name]))
            - trend.minutes(factor * item.standard_deviation)
            for item in items
        )
        if np.isfinite(minutes):
            choices.append(Choice("", share, f"{share:g} of {first.stated}", spreads, minutes))
    note = "" if choices else "its spread is off the workshop table, so its effort is not known"
    return Dimension(name, items, tuple(choices), note)


def _minutes_of(process: str) -> float:
    return workshop_table("process")[process].minutes


def share_of(item: Input, share: float) -> Spread:
    """Narrow a spread about its nominal; measured values about their own middle.

    What is stated one-sidedly about the nominal comes nearer to it as the work gets better; the
    bias of measured values is the nominal's to cure.
    """
    spread = item.spread
    assert spread is not None
    inside = spread.low <= item.nominal <= spread.high
    about = item.nominal if inside and spread.shape != "empirical" else spread.centre
    return narrowed(spread, share, about)
