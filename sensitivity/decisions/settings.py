"""What can be set at assembly, the settings to try, and every burner of a sample at each.

A setting moves the spread of its input, which is how well it can be set, so that the nominal
lies at the setting. All settings are tried on the same burners (common random numbers).
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sensitivity.decisions.variants import Variant, evaluated_blocks
from sensitivity.errors import CallError
from sensitivity.monte_carlo import each_replicate
from sensitivity.plan import Plan
from sensitivity.progress import Progress
from sensitivity.spread import moved
from sensitivity.study import Input, Study
from sensitivity.system import Values

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

MOST_ON_AN_AXIS = {1: 33, 2: 9, 3: 5}
"""Settings of each adjustable input, by how many there are; more than three share a sequence."""

SEQUENCE = 64
MOST_CELLS = 4 << 30
"""Bytes that a sample may take; more points than that are refused before any is drawn."""


@dataclass(frozen=True)
class Settings:
    """The adjustable inputs and the settings (s, k) to try of them, each in its unit."""

    inputs: tuple[Input, ...]
    points: Floats

    @property
    def variants(self) -> tuple[Variant, ...]:
        """Each setting as a variant of the design."""
        return tuple(
            {item.name: _set_at(item, float(value)) for item, value in zip(self.inputs, point)}
            for point in self.points
        )

    def at(self, place: int) -> dict[str, float]:
        """One setting, by input name."""
        return {i.name: float(v) for i, v in zip(self.inputs, self.points[place], strict=True)}


def _set_at(item: Input, value: float):
    return value if item.spread is None else moved(item.spread, value - item.nominal)


def settings_of(study: Study) -> Settings | None:
    items = tuple(item for item in study.inputs if item.adjust is not None)
    if not items:
        return None
    count = len(items)
    axes = []
    if count in MOST_ON_AN_AXIS:
        axes = [_axis(item, MOST_ON_AN_AXIS[count]) for item in items]
        points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, count)
    else:
        from scipy.stats import qmc
        box = np.array([item.adjust for item in items])
        shares = qmc.Sobol(count, scramble=False).random(SEQUENCE)
        points = box[:, 0] + shares * (box[:, 1] - box[:, 0])
    return Settings(items, points)


def _axis(item: Input, most: int) -> Floats:
    low, high = item.adjust
    step = round_step((high - low) / (most - 1))
    inner = step * np.arange(np.ceil(low / step - 1e-9), np.floor(high / step + 1e-9) + 1)
    ends = [low, high]
    if low <= item.nominal <= high:
        ends.append(item.nominal)
    values = np.sort(np.concatenate([inner, ends]))
    return values[np.concatenate([[True], np.diff(values) > 1e-6 * step])]


def round_step(least: float) -> float:
    """Smallest of 1, 2, 2.5, 5 times a power of ten that is ``least`` or more."""
    power = 10.0 ** np.floor(np.log10(least))
    return float(power * next(f for f in (1.0, 2.0, 2.5, 5.0, 10.0) if f * power >= least * (1 - 1e-9)))


@dataclass(frozen=True)
class Burners:
    """Every burner of a sample, by replicate (r) and row (n).

    Attributes
    ----------
    values : array (r, n, c)
        The dimensions that may be measured.
    works : array (r, n, s)
        Whether each keeps within all limits at each setting.
    as_drawn : array (r, n)
        Whether it does as drawn.
    smallest : array (r, n)
        As drawn, the smallest margin to any limit, each in its own standard deviations.
    """

    values: Floats
    works: Flags
    as_drawn: Flags
    smallest: Floats


def sample_burners(plan: Plan, settings: Settings | None, names: Sequence[str], *, workers=None, executor: Executor | None = None, progress: Progress | None = None) -> Burners:
    task = partial(_one_replicate, plan, settings.variants if settings else (), tuple(names))
    answers = each_replicate(task, plan.sampling.replicates, workers=workers, executor=executor, progress=progress)
    values, works, as_drawn, margins = (np.stack(part) for part in zip(*answers, strict=True))
    return Burners(values, works, as_drawn, _smallest(margins))


def _one_replicate(plan, variants, names, replicate):
    values, works, drawn, margins = [], [], [], []
    for block in evaluated_blocks(plan, variants, replicate):
        together = [np.logical_and.reduce(met, axis=0) for met in block.met]
        size = together[0].size
        values.append(np.stack([block.inputs[name] for name in names], axis=1))
        works.append(np.stack(together[1:], axis=1) if variants else np.empty((size, 0), bool))
        drawn.append(together[0])
        margins.append(_margins(plan, block.results, size))
    return tuple(np.concatenate(part) for part in (values, works, drawn, margins))


def _margins(plan: Plan, results: Values, size: int) -> Floats:
    """Margins (n, sides) to each end of each limit, positive where it is met."""
    sides = []
    for limit in plan.limits:
        value = np.broadcast_to(results[limit.result], (size,))
        if limit.at_least is not None:
            sides.append(value - limit.at_least)
        if limit.at_most is not None:
            sides.append(limit.at_most - value)
    return np.stack(sides, axis=1)


def _smallest(margins: Floats) -> Floats:
    finite = np.isfinite(margins)
    filled = np.where(finite, margins, 0.0)
    count = np.maximum(finite.sum((0,1)), 1)
    mean = filled.sum((0, 1))/count
    deviation = np.sqrt((np.where(finite, filled-mean, 0.0)**2).sum((0,1))/count)
    deviation[deviation == 0] = 1.0
    return np.where(finite, filled / deviation, -3.0).min(axis=2)
