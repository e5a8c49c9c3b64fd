"""A study as plain frozen values: what is varied, what is wanted, how it is sampled."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sensitivity.errors import CallError
from sensitivity.spreads import spread as spreads
from sensitivity.spreads.spread import Spread
from sensitivity.system.system import System

Kind = Literal["build", "running", "model"]

FEWEST_REPLICATES = 8


@dataclass(frozen=True, slots=True)
class Input:
    """One input: its nominal, its spread if it varies, and on whose word.

    ``nominal`` and the spread are in ``unit``, the model's own. ``stated`` is the spread in
    the study's words, for tables; ``process`` the workshop process it comes from, if one;
    ``drawn`` the nominal as written.
    """

    name: str
    unit: str
    meaning: str
    nominal: float
    spread: Spread | None = None
    kind: Kind = "build"
    basis: str = ""
    group: str = ""
    adjust: tuple[float, float] | None = None
    stated: str = ""
    process: str = ""
    drawn: str = ""

    @property
    def mean(self) -> float:
        """Mean value, in the unit."""
        return self.nominal if self.spread is None else spreads.mean(self.spread)

    @property
    def standard_deviation(self) -> float:
        """Standard deviation, in the unit; nothing for an input held at its nominal."""
        return 0.0 if self.spread is None else spreads.standard_deviation(self.spread)

    @property
    def shown_group(self) -> str:
        """Name under which the sensitivity to this input is reported."""
        return self.group or self.name


@dataclass(frozen=True, slots=True)
class Limit:
    """What one result must meet, in its unit, and why."""

    result: str
    unit: str
    at_least: float | None = None
    at_most: float | None = None
    because: str = ""


@dataclass(frozen=True, slots=True)
class Correlation:
    """Rank correlation of two inputs, and why it is believed."""

    inputs: tuple[str, str]
    rank: float
    because: str = ""


@dataclass(frozen=True, slots=True)
class Sampling:
    """How much is sampled; a seed of None is drawn anew."""

    seed: int | None = None
    replicates: int = 16
    points: int = 8192
    confidence: float = 0.95
    target_half_width: float | None = None
    max_replicates: int = 256


@dataclass(frozen=True)
class Study:
    """A study read, checked and joined to its models."""

    title: str
    name: str
    text: str
    system: System
    inputs: tuple[Input, ...]
    limits: tuple[Limit, ...]
    correlations: tuple[Correlation, ...]
    sampling: Sampling

    def nominal_results(self) -> dict[str, float]:
        """Evaluate the system at the nominals; NaN where it has no answer."""
        answers = self.system.evaluate({item.name: item.nominal for item in self.inputs})
        return {item.name: float(answers[item.name]) for item in self.system.results}

    def check_drawn(self) -> None:
        """Raise CallError where the design as drawn has no answer for what it is judged by."""
        results = self.nominal_results()
        judged = [limit.result for limit in self.limits] or list(results)
        missing = [name for name in judged if results[name] != results[name]]
        if missing and (self.limits or len(missing) == len(judged)):
            blamed = next(
                model.name
                for model in self.system.models
                if {item.name for item in model.results} & set(missing)
            )
            raise CallError(
                f"{self.name}: as drawn there is no answer for {', '.join(missing)}; the drawing "
                f'is physically impossible, or outside what the model "{blamed}" knows: '
                f'"spiritlevel models {blamed}" says what it asks'
            )

    @property
    def varying(self) -> tuple[Input, ...]:
        """The inputs that have a spread, in the study's order."""
        return tuple(item for item in self.inputs if item.spread is not None)
