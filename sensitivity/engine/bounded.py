"""Which points keep every limit, by a model's bounds where these tell it, else by the model.

A model may bring bounds between which its results surely lie, at a fraction of its price. Whether a
point keeps its limits is then known without the model wherever a whole pair of bounds lies on one
side of them; the model is asked about the others alone, many of them at a time. The verdict is the
model's own either way.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any, get_type_hints

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.blocks import BLOCK, row_blocks
from sensitivity.engine.plan import Plan
from sensitivity.errors import ModelError
from sensitivity.study.study import Limit
from sensitivity.system.blame import raised
from sensitivity.system.catalogue import Model, companion
from sensitivity.system.returned import ROUNDING
from sensitivity.system.system import Answers, System, Values

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Cells = tuple[NDArray[np.intp], ...]

HELD_BACK = 4 * BLOCK
"""Points without a verdict by bounds that are gathered before their model is asked."""


@dataclass(frozen=True)
class Bounded:
    """The model of a plan that is asked last, its bounds, and what is computed before.

    Attributes
    ----------
    model : Model
        No other model takes its results.
    bounds : callable
        Takes its arguments; for each result of ``own`` a field (low, high), and ``answered``.
    before : System
        All other models.
    own, others : tuple of Limit
        The limits of this model's results, all of which it bounds, and those of others.
    """

    model: Model
    bounds: Callable[..., Any]
    before: System
    own: tuple[Limit, ...]
    others: tuple[Limit, ...]


def bounded(plan: Plan) -> Bounded | None:
    """Find a model of a plan whose bounds may tell which points keep their limits, if any."""
    system = plan.system
    for model in reversed(system.models):
        names = {quantity.name for quantity in model.results}
        own = tuple(limit for limit in plan.limits if limit.result in names)
        taken = any(names & system.sources[other.name] for other in system.models)
        if not own or taken:
            continue
        bounds = _bounds_of(model)
        if bounds is not None and {limit.result for limit in own} <= _bounded_results(bounds):
            before = replace(system, models=tuple(each for each in system.models if each != model))
            others = tuple(limit for limit in plan.limits if limit not in own)
            return Bounded(model, bounds, before, own, others)
    return None


@lru_cache(maxsize=64)
def _bounds_of(model: Model) -> Callable[..., Any] | None:
    return companion(model, "bound")


@lru_cache(maxsize=64)
def _bounded_results(bounds: Callable[..., Any]) -> frozenset[str]:
    return frozenset(get_type_hints(get_type_hints(bounds).get("return", object)))


@dataclass
class Verdicts:
    """Which points keep every limit, found tile by tile; whole once ``finish`` is called.

    Attributes
    ----------
    plan : Plan
    kept : flags
        Of all points; a tile of them is judged at a time, and may be filled in later.
    """

    plan: Plan
    kept: Flags
    _by: Bounded | None = field(init=False)
    _cells: list[tuple[Flags, Cells]] = field(default_factory=list, init=False)
    _values: list[Values] = field(default_factory=list, init=False)
    _count: int = field(default=0, init=False)

    def __post_init__(self) -> None:
        self._by = bounded(self.plan)

    def judge(self, tile: tuple[slice, ...], values: Values) -> None:
        """Judge the points of a tile, whose inputs broadcast to its shape."""
        plan, by, kept = self.plan, self._by, self.kept[tile]
        if by is None:
            kept[...] = keeps(plan.limits, plan.outputs, plan.system.evaluate(values))
            return
        answers = by.before.evaluate(values)
        known = {**values, **answers}
        good = keeps(by.others, tuple(answers), answers)
        told = _asked(by, plan.system, known)
        with np.errstate(all="ignore"):
            sure, lost = good & told.answered, ~good
            for limit in by.own:
                low, high = getattr(told, limit.result)
                if limit.at_least is not None:
                    sure, lost = sure & (low >= limit.at_least), lost | (high < limit.at_least)
                if limit.at_most is not None:
                    sure, lost = sure & (high <= limit.at_most), lost | (low > limit.at_most)
        kept[...] = sure
        cells = np.nonzero(np.logical_not(np.broadcast_to(sure | lost, kept.shape)))
        if not cells[0].size:
            return
        self._cells.append((kept, cells))
        self._values.append(
            {
                name: _at(known[name], kept.shape, cells)
                for name in plan.system.sources[by.model.name]
            }
        )
        self._count += cells[0].size
        if self._count >= HELD_BACK:
            self.finish()

    def finish(self) -> None:
        """Ask the model about the points that its bounds left open."""
        if not self._count:
            return
        assert self._by is not None
        names = self._values[0].keys()
        values = {
            name: _end_to_end([each[name] for each in self._values], self._cells) for name in names
        }
        model, system = self._by.model, replace(self.plan.system, models=(self._by.model,))
        results = tuple(quantity.name for quantity in model.results)
        good = np.empty(self._count, dtype=np.bool_)
        for rows in row_blocks(self._count):
            some = {
                name: value[rows] if isinstance(value, np.ndarray) else value
                for name, value in values.items()
            }
            good[rows] = keeps(self._by.own, results, system.evaluate(some))
        start = 0
        for kept, cells in self._cells:
            end = start + cells[0].size
            kept[cells] = good[start:end]
            start = end
        self._cells, self._values, self._count = [], [], 0


def _at(value: Floats | float, shape: tuple[int, ...], cells: Cells) -> Floats | float:
    """Take the values (n,) of some cells of a tile; a number holds for all."""
    return np.broadcast_to(value, shape)[cells] if isinstance(value, np.ndarray) else value


def _end_to_end(pieces: list[Floats | float], cells: list[tuple[Flags, Cells]]) -> Floats | float:
    """Lay the values of several tiles in a row; a number that holds in all of them stays one."""
    if not isinstance(pieces[0], np.ndarray) and all(piece == pieces[0] for piece in pieces):
        return pieces[0]
    return np.concatenate(
        [
            np.broadcast_to(piece, where[0].shape)
            for piece, (_, where) in zip(pieces, cells, strict=True)
        ]
    )


def _asked(by: Bounded, system: System, values: Values) -> Any:
    """Ask a model's bounds."""
    arguments = system.arguments(by.model, values)
    try:
        with np.errstate(all="ignore"):
            return by.bounds(**arguments)
    except KeyboardInterrupt:
        raise
    except BaseException as error:
        raise ModelError(
            f'bounds of model "{by.model.name}" ({by.model.place}) raised '
            f"{raised(error, by.bounds)}"
        ) from error


def keeps(limits: tuple[Limit, ...], outputs: tuple[str, ...], answer: Values) -> Flags:
    """Mark the points of an answer that has all its outputs and meets the limits."""
    good: Flags = np.ones((), dtype=np.bool_)
    with np.errstate(all="ignore"):
        # What the system has seen to be whole need not be looked through again.
        for name in () if isinstance(answer, Answers) and answer.whole else outputs:
            # A sum that is a number tells at one pass that all have an answer, as they mostly do.
            if not math.isfinite(np.add.reduce(answer[name], axis=None)):
                good = good & np.isfinite(answer[name])
        for limit in limits:
            value = answer[limit.result]
            if limit.at_least is not None:
                good = good & (value >= limit.at_least)
            if limit.at_most is not None:
                good = good & (value <= limit.at_most)
    return np.asarray(good)


def check_bounds(plan: Plan, values: Values) -> None:
    """Raise ModelError where a result lies outside of its model's bounds at some points.

    Verdicts rest on them, so a few points are asked both ways.
    """
    by = bounded(plan)
    if by is None:
        return
    answers = plan.system.evaluate(values)
    told = _asked(by, plan.system, {**values, **answers})
    has_all = keeps((), plan.outputs, answers)
    _hold(by, "an answer", ~np.asarray(told.answered) | has_all)
    for limit in by.own:
        value, (low, high) = answers[limit.result], getattr(told, limit.result)
        slack = ROUNDING * np.maximum(1.0, np.abs(value))
        with np.errstate(invalid="ignore"):
            outside = (value < low - slack) | (value > high + slack)
        _hold(by, f'"{limit.result}"', ~outside)


def _hold(by: Bounded, what: str, where: Flags) -> None:
    if not np.all(where):
        raise ModelError(
            f'model "{by.model.name}" ({by.model.place}) promises {what} by its bounds and does '
            "not keep to them"
        )
