"""In which order to measure the build dimensions, with which instrument, and the yield after each.

A part is made, then measured, then what can be set at assembly (``adjust``) is set to suit what
was read; how well it can be set is its stated spread. Where nothing can be set, what a reading can
still do is to keep a burner unlit that is likelier to fail than to work: it is remade instead.
``information`` estimates what either is worth.

The order is greedy: at each step the dimension whose reading gains most, given those read before,
with the cheapest instrument (in minutes) whose gain lies in the interval of the best one's. It
stops where the target is reached, or where no gain is settled. A gain counts as settled at the
stated confidence shared out among all dimensions tried (Bonferroni), since it is the largest of
many that is looked at.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.decisions.information import (
    features,
    held_out_choices,
    middle_of_working,
    taken,
)
from sensitivity.decisions.instruments import check_instruments, instruments_for, reading_errors
from sensitivity.decisions.settings import Burners, Settings, sample_burners, settings_of
from sensitivity.decisions.variants import moved_difference
from sensitivity.errors import CallError
from sensitivity.intervals import Estimate, Proportion, proportion, share_of_counts
from sensitivity.plan import Plan, plan_run
from sensitivity.progress import Progress
from sensitivity.study import Input, Study
from sensitivity.workshop import WorkshopEntry

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Places = NDArray[np.intp]

MOST_STEPS = 12
CONSIDERED = 8
"""Dimensions tried after the first step: those that gained most at the step before."""

WITH_INSTRUMENTS = 3
"""Of those, how many are tried with each instrument; the others with a perfect one alone."""


@dataclass(frozen=True, slots=True)
class Reading:
    """An instrument, the minutes of one reading, and what the reading gains."""

    instrument: str
    minutes: float
    gain: Estimate


@dataclass(frozen=True, slots=True)
class Candidate:
    """A dimension that may be measured, alone: what it is worth.

    ``perfect`` is the gain if it were known exactly; ``readings`` are of each instrument tried,
    cheapest first; ``advised`` is the one to take: None where no instrument of the table reads
    it, or where even perfect knowledge has no settled gain.
    """

    name: str
    perfect: Estimate
    readings: tuple[Reading, ...]
    advised: Reading | None


@dataclass(frozen=True, slots=True)
class Step:
    """One reading of the order, given those before it.

    Attributes
    ----------
    name : str
        The dimension.
    reading : Reading
        The instrument, its minutes, and what this step adds to the step before.
    overall : Proportion or None
        Yield with all read so far and the adjustable inputs set to suit; None without any.
    unlit : Proportion
        As drawn: share of burners likelier to fail than to work, by all read so far.
    lit : Proportion
        As drawn: yield among the others.
    """

    name: str
    reading: Reading
    overall: Proportion | None
    unlit: Proportion
    lit: Proportion


@dataclass(frozen=True)
class Measuring:
    """What to measure, in order.

    Attributes
    ----------
    as_drawn : Proportion
        Yield with nothing measured and nothing set.
    setting : mapping of str to float
        Where to set the adjustable inputs when nothing is measured, in their units.
    set_well, setting_gain : Proportion and Estimate, or None
        Yield when they are set there, and what that gains on the drawing.
    ceiling : Proportion or None
        Share of burners that work at one setting or another: no reading can do better.
    candidates : tuple of Candidate
        Each dimension alone, largest gain first.
    steps : tuple of Step
        The order.
    """

    study: Study
    plan: Plan
    settings: Settings | None
    target: float | None
    as_drawn: Proportion
    setting: Mapping[str, float]
    set_well: Proportion | None
    setting_gain: Estimate | None
    ceiling: Proportion | None
    candidates: tuple[Candidate, ...]
    steps: tuple[Step, ...]

    @property
    def reached(self) -> bool:
        """Whether the low end of the yield's interval reaches the target."""
        return self.target is not None and self.final.low >= self.target

    @property
    def final(self) -> Proportion:
        """Yield after the last step: set to suit, or of those lit where nothing can be set."""
        if not self.steps:
            return self.set_well or self.as_drawn
        return self.steps[-1].overall or self.steps[-1].lit

    @property
    def minutes(self) -> float:
        """Minutes of all readings of the order."""
        return sum(step.reading.minutes for step in self.steps)


def measure(
    study: Study,
    *,
    target: float | None = None,
    at_hand: Sequence[str] = (),
    workers: int | None = None,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Measuring:
    """Find the order in which to measure.

    Parameters
    ----------
    study : Study
        With limits; its inputs of kind ``build`` that vary and cannot be set may be measured.
    target : float, optional
        Yield, 0..1, at which to stop.
    at_hand : sequence of str, optional
        Names of the only instruments to consider.

    Raises
    ------
    CallError
        Where there are no limits, nothing to measure, or an instrument is not in the table.
    """
    check_instruments(at_hand)
    items = measurable(study)
    plan = plan_run(study, indices=False)
    settings = settings_of(study)
    burners = sample_burners(
        plan,
        settings,
        [item.name for item in items],
        workers=workers,
        executor=executor,
        progress=progress,
    )
    order = _Order(plan, items, burners, settings, at_hand)
    confidence, rows = plan.sampling.confidence, burners.as_drawn.shape[1]
    before = order.without
    candidates = order.candidates(range(len(items)), with_instruments=len(items))
    ranked = sorted(candidates, key=lambda place: -candidates[place].perfect.value)
    alone = tuple(candidates[place] for place in ranked)
    steps: list[Step] = []
    tried = candidates
    while len(steps) < MOST_STEPS:
        best = order.best(tried)
        if best is None or _reached(steps, order.without_yield(), target):
            break
        steps.append(order.take(best, tried[best]))
        left = sorted(tried.keys() - {best}, key=lambda place: -tried[place].perfect.value)
        tried = order.candidates(left[:CONSIDERED], with_instruments=WITH_INSTRUMENTS)
