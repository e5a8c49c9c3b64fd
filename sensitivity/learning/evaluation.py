"""Results of a trial for parts that are known as rows: what would be seen of each.

Running conditions that the trial leaves open are drawn anew for each row, given the part where the
study correlates them, but for those that something else seen in the same trial has told of.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.plan import Plan
from sensitivity.engine.replicate import cut_rows, row_blocks
from sensitivity.learning.observations import EventSeen, Trial
from sensitivity.learning.space import limits_of, space_of
from sensitivity.spreads.spread import quantile
from sensitivity.system.system import inside_range

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

SEEN_AGAIN, READ_AGAIN = 0x54, 0x57
"""Keys of the conditions that are drawn for rows, and of the errors of their readings."""


def results_of(
    plan: Plan,
    values: Mapping[str, Floats],
    z: Mapping[str, Floats],
    trial: Trial,
    conditions: Mapping[str, Floats] | None = None,
    *,
    key: int = 0,
) -> dict[str, Floats]:
    """Compute what a trial sees of each row: results and inputs (r, n) by name.

    Parameters
    ----------
    plan : Plan
        Of the design.
    values, z : mapping of str to array (r, n)
        The rows: inputs of the part and their normal scores.
    trial : Trial
        Its conditions, and what is asked for.
    conditions : mapping of str to array (r, n), optional
        Running inputs of this trial that are known for each row.
    key : int
        Tells one trial's conditions from another's.
    """
    space = space_of(plan, [trial])
    occasion = space.occasions[0]
    shape = next(iter(values.values())).shape
    scores = np.stack([z[name].ravel() for name in space.names], axis=1)
    independent: Floats = np.asarray(np.linalg.solve(space.factor, scores.T).T, dtype=np.float64)
    stream = np.random.SeedSequence(plan.seed, spawn_key=(SEEN_AGAIN, key))
    own = np.random.default_rng(stream).standard_normal((len(scores), len(occasion.open)))
    w = np.concatenate([independent, own], axis=1)
    open_ = space.conditions(occasion, w, independent)
    for name, known in (conditions or {}).items():
        open_[name] = known.ravel()
    stated = {item.name: item.nominal for item in plan.inputs}
    part = {name: each.ravel() for name, each in values.items()}
    every: dict[str, Floats | float] = {**stated, **part, **open_, **trial.held}
    inputs = {item.name: inside_range(every[item.name], item)[0] for item in plan.system.inputs}
    wanted = {one.result for one in trial.seen}
    found = {name: np.empty(len(scores)) for name in wanted}
    for rows in row_blocks(len(scores)):
        cut = cut_rows(inputs, rows)
        answer = {**cut, **occasion.system.evaluate(cut)}
        for name in wanted:
            found[name][rows] = answer[name]
    return {name: each.reshape(shape) for name, each in found.items()}


def events_of(plan: Plan, found: Mapping[str, Floats], trial: Trial, weights: Floats) -> Flags:
    """Mark the rows (r, n) that show what a trial saw: its events, and values as far out as its.

    A value is shown by a row that reads as much, or more, on its side of the middle of all rows,
    which weigh as they do (r, n).
    """
    limits = limits_of(plan)
    flags = np.ones(weights.shape, dtype=np.bool_)
    for key, one in enumerate(trial.seen):
        result = found[one.result]
        if isinstance(one, EventSeen):
            flags &= limits[one.result].met(result) != one.broken
            continue
        stream = np.random.SeedSequence(plan.seed, spawn_key=(READ_AGAIN, key))
        uniforms = np.random.default_rng(stream).uniform(1e-9, 1.0, result.shape)
        read = result + quantile(one.error, uniforms)
        below = float((weights * (read < one.value)).sum())
        flags &= (read >= one.value) if below > 0.5 * float(weights.sum()) else (read <= one.value)
    return flags
