"""A study as plain frozen values: what is varied, what is wanted, how it is sampled."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from sensitivity.errors import CallError
from sensitivity.spreads import spread as spreads
from sensitivity.spreads.copula import Correlation
from sensitivity.spreads.spread import Spread
from sensitivity.spreads.statement import Origin
from sensitivity.system.remarks import Kind, ReadAs
from sensitivity.system.system import System
from sensitivity.system.vocabulary import Vocabulary

if TYPE_CHECKING:
    from sensitivity.study.doubts import Doubts

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

Units = Literal["mm", "inch"]

FEWEST_REPLICATES, MOST_REPLICATES = 8, 100_000

KEEPS = 0.99
"""Share of the moments at which what works keeps every limit, where a study does not say."""
LOWEST_KEEPS, HIGHEST_KEEPS = 0.5, 0.9999
BLUNDER = 0.02
"""Chance that a dimension was made wrong, by a slip, where a study does not say."""
CEILING = 0.001
"""Most that the chance of breaking a limit that hurts may be, where a study does not say."""


@dataclass(frozen=True, slots=True)
class Redraw:
    """Where a nominal may be drawn instead, in its input's unit.

    From ``low`` to ``high``; by multiples of ``step`` where only these can be set, or at ``sizes``
    (ascending) where only these can be bought; ``series`` is the trade's name for them, such as
    ``number drills``, where they are one of its series.
    """

    low: float
    high: float
    step: float | None = None
    sizes: tuple[float, ...] = ()
    series: str = ""


@dataclass(frozen=True, slots=True)
class Input:
    """One input: its nominal, its spread if it varies, and on whose word.

    ``nominal`` and the spread are in ``unit``, the model's own. ``origin`` is the way in which
    the spread is stated, and ``stated`` the study's words for it, for tables; ``process`` the
    workshop process it comes from, if one; ``drawn`` the nominal as written; ``read_as`` what a
    gauge reads it as, where the model says; ``sourced`` whether its spread rests on a source;
    ``blunder`` the chance that it was made wrong, by a slip, where the study says. ``written`` and
    ``steps`` are its quantities as the study writes them: places on its scale, the nominal first,
    and differences, its spread's and the step in which it is drawn. ``given`` says whether the
    study states it at all; ``borrowed`` that it is a dimension whose nominal is its model's own,
    of no engine of this builder's.
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
    redraw: Redraw | None = None
    stated: str = ""
    process: str = ""
    drawn: str = ""
    origin: Origin = "held"
    read_as: ReadAs | None = None
    sourced: bool = True
    blunder: float | None = None
    given: bool = True
    borrowed: bool = False
    written: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()

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
    """What one result must meet, in its unit, and why.

    Where breaking it ``hurts``, its chance is to stay at ``ceiling`` or below whatever else is
    gained. ``written`` is what the study writes of its ends.
    """

    result: str
    unit: str
    at_least: float | None = None
    at_most: float | None = None
    because: str = ""
    hurts: bool = False
    ceiling: float = CEILING
    written: tuple[str, ...] = ()

    def margins(self, values: Floats | float) -> tuple[Floats, ...]:
        """Distances (n,) of a result (n,) from each end that is stated, positive inside.

        In the limit's unit, ``at_least`` first; NaN where there is no answer.
        """
        found = []
        if self.at_least is not None:
            found.append(np.asarray(values - self.at_least))
        if self.at_most is not None:
            found.append(np.asarray(self.at_most - values))
        return tuple(found)

    def margin(self, values: Floats | float) -> Floats:
        """Distance (n,) of a result (n,) from the nearer end, positive where it is met.

        In the limit's unit; NaN where there is no answer.
        """
        return np.asarray(np.minimum.reduce(self.margins(values)))

    def met(self, values: Floats | float) -> Flags:
        """Mark (n,) where a result (n,) meets the limit, its ends included; no answer does not."""
        met = np.asarray(np.isfinite(values))
        # Compared, and not told by the sign of a difference, which may be rounded away.
        if self.at_least is not None:
            met &= np.asarray(values >= self.at_least)
        if self.at_most is not None:
            met &= np.asarray(values <= self.at_most)
        return met


@dataclass(frozen=True, slots=True)
class Reading:
    """A result that a gauge can reach on the finished part: with what, and in which conditions.

    Attributes
    ----------
    name, unit, meaning : str
        Of the result, as its model has them.
    read_as : ReadAs or None
        What a gauge reads it as, where the model says.
    instrument : str
        With what it is read, where the study says; empty where any that does such a job will do.
    at : mapping of str to float
        Inputs held while it is read, each in its unit: a pipe is gauged on a level plate. What
        else varies while running stays as it happens to be.
    """

    name: str
    unit: str
    meaning: str
    read_as: ReadAs | None = None
    instrument: str = ""
    at: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Sampling:
    """How much is sampled; a seed of None is drawn anew."""

    seed: int | None = None
    replicates: int = 16
    points: int = 2048
    confidence: float = 0.95
    target_half_width: float | None = None
    max_replicates: int = 256


@dataclass(frozen=True)
class Study:
    """A study read, checked and joined to its models: what is not a field is not known.

    Attributes
    ----------
    title, name : str
        In words; and the file's stem, which names the results folder.
    text : str
        The file as given, only to be shown and kept; empty where there was none.
    system : System
    inputs : tuple of Input
        As stated, in the study's order, then those held at their default.
    limits, correlations : tuple of Limit, tuple of Correlation
    sampling : Sampling
    models : tuple of str
        In the order of the study, which is that of its story.
    keeps : float
        Share of the moments, drawn of the running inputs, at which what works keeps every limit.
    units : "mm" or "inch"
        In which quantities are said back: as stated, or as most of its lengths are written.
    readings : mapping of str to Reading
        Results that can be gauged on the finished part, by name: as the study says, or the models.
    blunder : float
        Chance that a dimension was made wrong, by a slip, where its input does not say.
    doubts : Doubts or None
        What earlier trials taught of the inputs of kind model, which have it already.
    """

    title: str
    name: str
    text: str
    system: System
    inputs: tuple[Input, ...]
    limits: tuple[Limit, ...]
    correlations: tuple[Correlation, ...]
    sampling: Sampling
    models: tuple[str, ...] = ()
    units: Units = "mm"
    keeps: float = KEEPS
    readings: Mapping[str, Reading] = field(default_factory=dict)
    blunder: float = BLUNDER
    doubts: Doubts | None = None

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
    def vocabulary(self) -> Vocabulary:
        """What its parts are called."""
        return self.system.vocabulary

    @property
    def varying(self) -> tuple[Input, ...]:
        """The inputs that have a spread, in the study's order."""
        return tuple(item for item in self.inputs if item.spread is not None)
