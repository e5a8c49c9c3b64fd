"""The statement of one input's spread: which keys it may have, and the one way it is stated."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from sensitivity.spreads.spread import Shape

Stated = str | float
"""A quantity as written: with its unit, or a bare number where there is none."""

Way = Literal[
    "plus_minus",
    "between",
    "standard_deviation",
    "lognormal",
    "iso286",
    "iso2768",
    "process",
    "samples",
    "measured",
]
"""The ways to state a spread; an input has one of them, or is held."""

Origin = Way | Literal["held"]
"""Where the spread of an input comes from."""

WAYS: tuple[Way, ...] = get_args(Way)

# What each companion key goes with; anywhere else it would be read and not used.
COMPANIONS: dict[str, tuple[Way, ...]] = {
    "shape": ("plus_minus", "between", "iso286", "iso2768"),
    "flat": ("plus_minus", "between", "iso286", "iso2768"),
    "coverage_factor": ("plus_minus", "between"),
    "leg": ("iso2768",),
    "instrument": ("measured",),
}

SPREAD_KEYS: tuple[str, ...] = (*WAYS, *COMPANIONS)
"""All the keys that state a spread."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpreadStatement:
    """What is stated of one input's spread, in the words of the study; None is not stated."""

    plus_minus: Stated | None = None
    between: tuple[Stated, Stated] | None = None
    standard_deviation: Stated | None = None
    lognormal: Stated | None = None
    iso286: str | None = None
    iso2768: str | None = None
    process: str | None = None
    samples: str | None = None
    measured: Stated | None = None
    shape: Shape | None = None
    flat: float | None = None
    coverage_factor: float | None = None
    leg: Stated | None = None
    instrument: str | None = None


class StatementError(Exception):
    """A fault in the statement of a spread, with the key it stands at."""

    def __init__(self, key: str, problem: str) -> None:
        self.key, self.problem = key, problem
        super().__init__(problem)


def way_of(statement: SpreadStatement) -> Way | None:
    """Find the one way in which a spread is stated; None for an input that is held.

    Parameters
    ----------
    statement : SpreadStatement
        As read from the study.

    Raises
    ------
    StatementError
        Where there are two, or a key without what it goes with.
    """
    ways = [way for way in WAYS if getattr(statement, way) is not None]
    if len(ways) > 1:
        raise StatementError(ways[1], f"a spread is stated one way; found {' and '.join(ways)}")
    way = ways[0] if ways else None
    for key, partners in COMPANIONS.items():
        if getattr(statement, key) is not None and way not in partners:
            raise StatementError(key, f"goes with {' or '.join(partners)}, which is not here")
    return way
