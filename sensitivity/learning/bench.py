"""What the models' own trade brings to the bench: words for failures, and trials worth making.

Found by entry point, group ``spiritlevel.bench``, of the distribution whose models a study uses,
as its vocabulary is: the engine knows parts and results, and no trade.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from sensitivity.errors import ModelFileError, QuantityError
from sensitivity.quantities.quantity import read_difference, read_quantity
from sensitivity.spreads.spread import Spread, bounded
from sensitivity.study.study import Study, Units
from sensitivity.system.catalogue import distribution_of
from sensitivity.system.installed import brought_by, points_of
from sensitivity.system.loading import load

BENCH_GROUP = "spiritlevel.bench"
READING_KEYS = {"of", "plus_minus", "relative", "at"}
TRIAL_KEYS = {"name", "title", "safe", "minutes", "readings", "steps", "cautions"}


@dataclass(frozen=True, slots=True)
class BenchReading:
    """What a trial reads: a result or an input, how it may be out, and what is held.

    ``plus_minus`` is a quantity in words, ``relative`` a share of what is read; one of them is set.
    """

    of: str
    plus_minus: str = ""
    relative: float = 0.0
    at: Mapping[str, str] = field(default_factory=dict)

    def error(self, unit: str, value: float) -> Spread:
        """How the reading may be out, about nothing, in the unit of what is read."""
        half = self.relative * abs(value) or read_difference(self.plus_minus, unit)
        return bounded("rectangular", -half, half)

    def held(self, study: Study) -> dict[str, float]:
        """What of it the study has, as inputs held; one of a schedule in all its steps."""
        found = {}
        for item in study.inputs:
            base = item.name.partition(".")[0]
            if base in self.at:
                found[item.name] = read_quantity(self.at[base], item.unit)
        return found


@dataclass(frozen=True, slots=True)
class BenchTrial:
    """A trial as the trade makes it: what it reads, how long it takes, how it is done.

    ``safe`` is one without putting the part to use.
    """

    name: str
    title: str
    safe: bool
    minutes: float
    readings: tuple[BenchReading, ...]
    steps: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class Bench:
    """Words for what is seen when a result's limit is broken, and trials."""

    symptoms: Mapping[str, Sequence[str]] = field(default_factory=dict)
    trials: tuple[BenchTrial, ...] = ()


EMPTY = Bench()

IN_INCHES = (
    ("(____) mm\\b", "\\1 in"),
    ("a tenth of a millimetre", "4 thou"),
    ("a millimetre", "40 thou"),
)
"""What a step says in millimetres, and the nearest that a builder in inches uses."""


def bench_of(study: Study) -> Bench:
    """Find what the first of a study's installed models brings to the bench.

    Raises
    ------
    ModelFileError
        Where what is installed as a bench is none.
    """
    for model in study.system.models:
        name = distribution_of(model)
        found = installed_bench(name) if name else None
        if found is not None:
            return found
    return EMPTY


@lru_cache(maxsize=32)
def installed_bench(distribution: str) -> Bench | None:
    """Read the bench that an installed distribution brings; None if it brings none."""
    for point in points_of(BENCH_GROUP):
        if brought_by(point) == distribution:
            return read_bench(load(point), f'bench "{point.name}" ({point.value})')
    return None


def read_bench(content: object, where: str) -> Bench:
    """Check what a trade brings to the bench.

    Parameters
    ----------
    content : mapping
        ``symptoms``: result to list of words; ``trials``: list of tables.
    where : str
        What a message names.

    Raises
    ------
    ModelFileError
        Where it has not that form.
    """
    if not isinstance(content, Mapping):
        raise ModelFileError(f"{where}: found {type(content).__name__}; should be a mapping")
    symptoms = content.get("symptoms", {})
    try:
        words = {name: tuple(map(_text, said)) for name, said in symptoms.items()}
        trials = tuple(_trial(table) for table in content.get("trials", []))
    except (KeyError, TypeError, ValueError, AttributeError, QuantityError) as error:
        raise ModelFileError(f"{where}: {error}") from None
    return Bench(words, trials)


def _text(value: Any) -> str:
    if not isinstance(value, str) or not value.strip():
        raise ValueError(f"found {value!r}; should be text")
    return value


def _trial(table: Mapping[str, Any]) -> BenchTrial:
    if set(table) != TRIAL_KEYS:
        raise ValueError(f"a trial should have {', '.join(sorted(TRIAL_KEYS))}; found {set(table)}")
    return BenchTrial(
        name=_text(table["name"]),
        title=_text(table["title"]),
        safe=bool(table["safe"]),
        minutes=float(table["minutes"]),
        readings=tuple(_reading(row) for row in table["readings"]),
        steps=tuple(map(_text, table["steps"])),
        cautions=tuple(map(_text, table["cautions"])),
    )


def _reading(row: Mapping[str, Any]) -> BenchReading:
    if not set(row) <= READING_KEYS or ("plus_minus" in row) == ("relative" in row):
        raise ValueError(f"a reading should have of, and plus_minus or relative; found {dict(row)}")
    at = {name: _text(value) for name, value in row.get("at", {}).items()}
    return BenchReading(
        _text(row["of"]), row.get("plus_minus", ""), float(row.get("relative", 0.0)), at
    )


def trials_for(study: Study, bench: Bench) -> tuple[BenchTrial, ...]:
    """Find the trials of which a study computes all that they read.

    A running condition that is read tells of neither the part nor the physics.
    """
    known = {item.name for item in study.system.results}
    known |= {item.name for item in study.varying if item.kind != "running"}
    return tuple(
        trial for trial in bench.trials if all(reading.of in known for reading in trial.readings)
    )


def steps_said(trial: BenchTrial, units: Units) -> tuple[str, ...]:
    """Give the steps with their blanks in the builder's units: ``____ in`` for ``____ mm``."""
    if units == "mm":
        return trial.steps
    told = []
    for step in trial.steps:
        for metric, inches in IN_INCHES:
            step = re.sub(metric, inches, step)
        told.append(step)
    return tuple(told)
