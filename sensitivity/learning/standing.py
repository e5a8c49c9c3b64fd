"""How a part stands with what was seen of it: how many of its like work, as it is and set anew.

Rows that each stand for as much (``Posterior.resampled``) are parts on two levels, tried at fresh
moments of running. A setting that is tried draws the error of setting anew; all else of the part
stays as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.kept import Counted, count_each, hardest_first
from sensitivity.engine.moments import (
    CrossedValues,
    Variant,
    cross,
    crossed_sample,
    crossed_values,
    crossing_plan,
    failing,
    failing_as_each,
    moments_of,
    positions,
)
from sensitivity.engine.monte_carlo import each_replicate
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.verdicts import PILOT, Counting, audit_numbers, counting_for
from sensitivity.learning.posterior import EqualRows
from sensitivity.pricing.finalists import Finalists
from sensitivity.system.system import inside_range

Floats = NDArray[np.float64]

PARTS = 1
"""Which sequence of a replicate its settings' errors come from."""


def standing(
    plan: Plan,
    rows: EqualRows,
    settings: Sequence[Variant] = (),
    *,
    keeps: float,
    options: RunOptions = DEFAULTS,
) -> Finalists:
    """Count which rows work at enough moments, as they are and at each setting.

    Parameters
    ----------
    plan : Plan
        Of the design, with limits.
    rows : EqualRows
        Parts (r, n) that each stand for as much; n a power of two.
    settings : sequence of mappings of name to Spread or float
        What each has instead, such as ``AssemblySettings.variants``.
    keeps : float
        Share of the moments at which a part that works keeps every limit.
    options : RunOptions
        Who computes, and who is told.

    Returns
    -------
    Finalists
        Shares (r, s + 1) that work, as they are first.
    """
    table = verdict_table(plan, rows, settings, keeps=keeps, options=options)
    return Finalists(keeps, table.mean(axis=1), table.shape[1], plan.sampling.confidence)


def verdict_table(
    plan: Plan,
    rows: EqualRows,
    settings: Sequence[Variant] = (),
    *,
    keeps: float,
    moments: int | None = None,
    options: RunOptions = DEFAULTS,
) -> Floats:
    """Find the verdicts (r, n, s + 1) of rows, as they are first, then at each setting.

    Those that are audited count for all that they stand for, so that means are unbiased whatever
    setting each row is given. ``moments`` are as many as ``keeps`` wants unless given; for the
    other parameters see ``standing``.
    """
    counting = counting_for(plan, keeps, moments=moments)
    shape = rows.shape
    found = each_replicate(
        partial(_table, crossing_plan(plan), counting, rows, tuple(settings)),
        shape[0],
        workers=options.workers,
        executor=options.executor,
        progress=options.progress(),
    )
    return np.stack(found)


def verdicts(plan: Plan, rows: EqualRows, *, keeps: float) -> Floats:
    """Find the verdict (r, n) of each row: 1 where it works at enough moments, 0 where not."""
    counting, crossing = counting_for(plan, keeps), crossing_plan(plan)
    replicates = range(rows.shape[0])
    return np.stack([_counted(crossing, counting, rows, (), r)[0].verdicts for r in replicates])


def some_of(rows: EqualRows, count: int, replicates: int) -> EqualRows:
    """Take ``count`` of the rows of each of the first replicates, evenly from all of them."""
    total = rows.shape[1]
    step = slice(None, None, max(1, total // count))
    shape = (replicates, len(range(*step.indices(total))))
    return replace(
        rows,
        shape=shape,
        values={name: each[:replicates, step] for name, each in rows.values.items()},
        z={name: each[:replicates, step] for name, each in rows.z.items()},
    )


def _table(
    plan: Plan,
    counting: Counting,
    rows: EqualRows,
    settings: tuple[Variant, ...],
    replicate: int,
) -> Floats:
    counted = _counted(plan, counting, rows, settings, replicate)
    return np.stack([each.weighted for each in counted], axis=1)


def _counted(
    plan: Plan,
    counting: Counting,
    rows: EqualRows,
    settings: tuple[Variant, ...],
    replicate: int,
) -> list[Counted]:
    ways = _ways(plan, counting, rows, settings, replicate)
    parts = rows.shape[1]
    moments, pilot = np.arange(counting.moments), np.arange(min(PILOT, parts))
    few = pilot[:: max(1, len(settings))]
    tried = [failing(plan, ways[0], pilot, moments)]
    tried += [failing(plan, way, few, moments) for way in ways[1:]]
    order = hardest_first(np.concatenate(tried), counting.step)
    return count_each(
        failing_as_each(plan, ways, parts),
        len(ways),
        parts,
        order,
        counting.step,
        audit=audit_numbers(plan, replicate, parts),
    )


def _ways(
    plan: Plan,
    counting: Counting,
    rows: EqualRows,
    settings: tuple[Variant, ...],
    replicate: int,
) -> list[CrossedValues]:
    """Values of the rows over fresh moments, as they are and at each setting."""
    from sensitivity.spreads.special_functions import ndtr

    parts = rows.shape[1]
    at = moments_of(plan, replicate, counting.moments)
    (anew,) = positions(plan, replicate, PARTS, parts)
    scores = _independent(plan, {name: each[replicate] for name, each in rows.z.items()})
    sample = cross(plan, {**anew, **{name: ndtr(z) for name, z in scores.items()}}, at)
    quantities = {quantity.name: quantity for quantity in plan.system.inputs}
    own = {
        name: np.asarray(inside_range(each[replicate][:, None], quantities[name])[0])
        for name, each in rows.values.items()
        if name in quantities
    }
    stated = crossed_values(plan, sample)
    stated = replace(stated, by_part={**stated.by_part, **own})
    fresh = crossed_sample(plan, replicate, parts, counting.moments)
    found = [stated]
    for variant in settings:
        # What is set is drawn afresh, all else is taken from the rows.
        set_anew = crossed_values(plan, fresh, variant, stated)
        found.append(replace(set_anew, leaning=stated.leaning, by_moment=stated.by_moment))
    return found


def _independent(plan: Plan, scores: dict[str, Floats]) -> dict[str, Floats]:
    """Turn the rows' normal scores into independent ones, where the study correlates some."""
    if plan.copula is None:
        return scores
    kind = {item.name: item.kind for item in plan.inputs}
    tied = sorted(
        (name for name in plan.copula.names if name in scores),
        key=lambda name: kind[name] != "model",
    )
    if not tied:
        return scores
    places = [plan.copula.names.index(name) for name in tied]
    matrix = (plan.copula.factor @ plan.copula.factor.T)[np.ix_(places, places)]
    free = np.linalg.solve(np.linalg.cholesky(matrix), np.stack([scores[name] for name in tied]))
    return {**scores, **dict(zip(tied, free, strict=True))}
