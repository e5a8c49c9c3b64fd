"""Samples evaluated in blocks of rows that fit the cache, and which rows meet the limits."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.plan import Plan
from sensitivity.system.system import Values

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

BLOCK = 8192
"""Rows evaluated at a time: few enough for a core's own cache, and enough that the price of each
call to the array library, some hundred a model, does not tell."""


def row_blocks(rows: int, block: int = BLOCK) -> Iterator[slice]:
    """Cut rows into blocks that fit the cache."""
    for start in range(0, rows, block):
        yield slice(start, min(start + block, rows))


def cut_rows(values: Values, rows: slice) -> Values:
    """Take a block of rows; held inputs stay numbers."""
    return {
        name: value[rows] if isinstance(value, np.ndarray) else value
        for name, value in values.items()
    }


@dataclass(frozen=True)
class Evaluated:
    """Outputs (k, n) of one sample, which rows meet all limits, and how many meet each (l,)."""

    outputs: Floats
    met_all: Flags
    passes: NDArray[np.int64]
    invalid: int

    def column(self, row: int) -> Floats:
        """One output, or the pass/fail result behind the last of them."""
        return self.outputs[row] if row < len(self.outputs) else self.met_all.astype(np.float64)


def evaluate_sample(
    plan: Plan,
    sample: Values,
    known: Evaluated | None = None,
    changed: frozenset[str] = frozenset(),
) -> Evaluated:
    """Evaluate a sample in blocks; only what ``changed`` reaches if results are known."""
    outputs = np.empty((len(plan.outputs), plan.sampling.points))
    for rows in row_blocks(plan.sampling.points):
        before = None
        if known is not None:
            before = dict(zip(plan.outputs, known.outputs[:, rows], strict=True))
        answer = plan.system.evaluate(cut_rows(sample, rows), before, changed)
        for row, name in enumerate(plan.outputs):
            outputs[row, rows] = answer[name]
    return judged(plan, outputs)


def judged(plan: Plan, outputs: Floats) -> Evaluated:
    """See which rows of outputs (k, n) have an answer, and which limits they meet."""
    valid: Flags = np.logical_and.reduce(np.isfinite(outputs), axis=0)
    met = passing_rows(plan, outputs, valid)
    return Evaluated(
        outputs=outputs,
        met_all=np.logical_and.reduce(met, axis=0),
        passes=np.count_nonzero(met, axis=1).astype(np.int64),
        invalid=int(np.count_nonzero(~valid)),
    )


def passing_rows(plan: Plan, results: Floats, valid: Flags) -> Flags:
    """Mark which limits (l, n) each row meets; a row without an answer meets none."""
    met = np.empty((len(plan.limits), results.shape[1]), dtype=np.bool_)
    for row, limit in enumerate(plan.limits):
        values = results[plan.outputs.index(limit.result)]
        met[row] = valid & limit.met(values)
    return met
