"""A plan's evaluation where every input is a standard normal of its own.

Methods for rare failures move points about, and want a space in which every direction is alike.
A point z has one coordinate a varying input; the copula and the stated spreads come after it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.plan import Plan
from sensitivity.engine.replicate import cut_rows, passing_rows, row_blocks
from sensitivity.spreads.derived import at_score
from sensitivity.spreads.spread import Spread, quantile, support
from sensitivity.study.study import Input
from sensitivity.system.system import Values, inside_range

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

FURTHEST = 37.0
"""Beyond this a standard normal's lower tail is nothing in double precision."""

UNBOUNDED = ("normal", "lognormal")


@dataclass(frozen=True, slots=True)
class Way:
    """One way of failing: an end of a limit, or an input out of its physical range.

    ``limit`` is the place of the limit among the plan's, -1 for an input's range, which leaves
    the model without an answer and so breaks every limit.
    """

    limit: int
    name: str


@dataclass(frozen=True)
class Evaluation:
    """Points evaluated: distances from failing, by way, and the limits broken.

    Attributes
    ----------
    margins : array (w, n)
        Below zero where the point fails in this way; minus infinity without an answer, and
        infinite where that is an input's range's doing, which is a way of its own.
    broken : array (l, n)
        Whether each limit is broken.
    """

    margins: Floats
    broken: Flags

    @property
    def failing(self) -> Flags:
        """Whether any limit is broken (n,)."""
        return np.asarray(np.logical_or.reduce(self.broken, axis=0))


@dataclass(frozen=True)
class NormalSpace:
    """A plan seen from standard normals."""

    plan: Plan

    @property
    def dimensions(self) -> int:
        """Number of varying inputs, d."""
        return len(self.plan.varying)

    @cached_property
    def factor(self) -> Floats:
        """Lower factor (d, d) that makes independent normals dependent; one's own where alone."""
        names = [item.name for item in self.plan.varying]
        whole = np.eye(len(names))
        if self.plan.copula is not None:
            places = [names.index(name) for name in self.plan.copula.names]
            whole[np.ix_(places, places)] = self.plan.copula.factor
        return whole

    @cached_property
    def ways(self) -> tuple[Way, ...]:
        """All ways of failing, ends of limits first."""
        found = []
        for place, limit in enumerate(self.plan.limits):
            if limit.at_least is not None:
                found.append(Way(place, f"{limit.result} too low"))
            if limit.at_most is not None:
                found.append(Way(place, f"{limit.result} too high"))
        return (*found, *(Way(-1, f"{item.name} out of its range") for item in self._ranged))

    @cached_property
    def _ranged(self) -> tuple[Input, ...]:
        """The varying inputs that can leave the physical range of the models."""
        bounds = {quantity.name: quantity.range for quantity in self.plan.system.inputs}
        return tuple(
            item
            for item in self.plan.varying
            if item.spread is not None
            and bounds[item.name].stated
            and not all(
                bounds[item.name].low <= end <= bounds[item.name].high
                for end in support(item.spread)
            )
        )

    def values(self, z: Floats) -> dict[str, Floats | float]:
        """Turn points (n, d) into values (n,) of every input; a held input stays a number."""
        return self.values_of_dependent(z if self.plan.copula is None else z @ self.factor.T)

    def values_of_dependent(self, dependent: Floats) -> dict[str, Floats | float]:
        """Turn normals (n, d) that the copula has already joined into values of every input."""
        values: dict[str, Floats | float] = {item.name: item.nominal for item in self.plan.inputs}
        for column, item in enumerate(self.plan.varying):
            assert item.spread is not None
            values[item.name] = value_at(item.spread, dependent[:, column])
        return values

    def results(self, z: Floats) -> Floats:
        """Evaluate all results (k, n) at points (n, d); NaN without an answer."""
        inside = self._inside(self.values(z))
        results = np.empty((len(self.plan.outputs), len(z)))
        for rows in row_blocks(len(z)):
            answer = self.plan.system.evaluate(cut_rows(inside, rows))
            for row, name in enumerate(self.plan.outputs):
                results[row, rows] = answer[name]
        return results

    def evaluate(self, z: Floats) -> Evaluation:
        """Evaluate points (n, d): how far each is from failing, and in which way."""
        results = self.results(z)
        valid: Flags = np.logical_and.reduce(np.isfinite(results), axis=0)
        margins: list[Floats] = []
        for limit in self.plan.limits:
            margins.extend(limit.margins(results[self.plan.outputs.index(limit.result)]))
        bounds = {quantity.name: quantity.range for quantity in self.plan.system.inputs}
        if self._ranged:
            values = self.values(z)
            for item in self._ranged:
                value, bound = values[item.name], bounds[item.name]
                margins.append(np.minimum(value - bound.low, bound.high - value))
        table = np.where(valid, np.stack(margins), -np.inf)
        if self._ranged:
            # A point out of its range fails in that way and in no other, and how far out is known.
            count = len(self._ranged)
            ranges = np.stack(margins[-count:])
            outside = np.logical_or.reduce(ranges < 0.0, axis=0)
            table[:-count] = np.where(outside, np.inf, table[:-count])
            table[-count:] = ranges
        return Evaluation(table, ~passing_rows(self.plan, results, valid))

    def _inside(self, values: Values) -> Values:
        return {
            quantity.name: inside_range(values[quantity.name], quantity)[0]
            for quantity in self.plan.system.inputs
        }

    def log_widened(self, z: Floats, factor: float) -> Floats:
        """Logarithm (n,) of how much likelier points (n, d) are with wider normal spreads.

        Every normal's deviation, and that of every lognormal's logarithm, times ``factor``.
        Under the wider spreads the dependent normals y = L z are D y, so that the points are
        normal with factor A = L^-1 D L: the ratio of densities is
        exp(z'z/2 - |A^-1 z|^2/2)/det D.
        """
        widths = np.array(
            [
                factor if item.spread is not None and item.spread.shape in UNBOUNDED else 1.0
                for item in self.plan.varying
            ]
        )
        inner = np.linalg.solve(self.factor, (z @ self.factor.T / widths).T).T
        squares = np.einsum("nd,nd->n", z, z) - np.einsum("nd,nd->n", inner, inner)
        return np.asarray(0.5 * squares - np.log(widths).sum())


def value_at(spread: Spread, z: Floats) -> Floats:
    """Value of an input where its own standard normal is z (n,), exact far out in both tails."""
    from sensitivity.spreads.special_functions import ndtr

    match spread.shape:
        case "normal":
            return np.asarray(spread.centre + spread.scale * z)
        case "lognormal":
            return np.asarray(spread.centre * np.exp(spread.scale * z))
        case "slipped" | "learnt":
            return at_score(spread, z)
        case _:
            inside = np.clip(ndtr(np.clip(z, -FURTHEST, FURTHEST)), 0.0, 1.0 - 2.0**-53)
            return quantile(spread, inside)
