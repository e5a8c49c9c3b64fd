"""The drawing by itself: nominal results and the two classical stack-ups against the limits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.answers.implausible import Implausible, implausible
from sensitivity.engine.worst_case import StackUp, stack_up
from sensitivity.study.study import Limit, Study

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Stacked:
    """One result: as drawn, its root-sum-square range (95 %) and its worst case, in its unit."""

    name: str
    unit: str
    nominal: float
    root_sum_square: tuple[float, float]
    worst_case: tuple[float, float]
    limit: Limit | None

    @property
    def scale(self) -> float:
        """How widely it is spread, for choosing digits."""
        low, high = self.root_sum_square
        return (high - low) / 4 or abs(self.nominal) / 100

    @property
    def met(self) -> bool:
        """Whether the design as drawn keeps the limit, if there is one."""
        limit = self.limit
        return limit is None or bool(limit.met(self.nominal))


@dataclass(frozen=True)
class Checked:
    """A study's results without sampling, and what of it is implausible in a workshop.

    ``no_answer`` is the share of the box without any.
    """

    study: Study
    results: tuple[Stacked, ...]
    no_answer: float
    implausible: tuple[Implausible, ...] = ()

    @property
    def judged(self) -> tuple[Stacked, ...]:
        """The results that have a limit; all, if none has one."""
        return tuple(result for result in self.results if result.limit) or self.results


def check_drawing(study: Study) -> Checked:
    """Evaluate the nominals and search the tolerance box.

    Raises
    ------
    CallError
        Where the design as drawn has no answer for what it is judged by.
    """
    study.check_drawn()
    stacked: StackUp = stack_up(study)
    limits = {limit.result: limit for limit in study.limits}
    results = tuple(
        Stacked(
            name=quantity.name,
            unit=quantity.unit,
            nominal=float(stacked.nominal[row]),
            root_sum_square=_ends(stacked.root_sum_square[row]),
            worst_case=_ends(stacked.worst[row]),
            limit=limits.get(quantity.name),
        )
        for row, quantity in enumerate(study.system.results)
    )
    return Checked(study, results, stacked.no_answer, implausible(study))


def _ends(pair: Floats) -> tuple[float, float]:
    return float(pair[0]), float(pair[1])
