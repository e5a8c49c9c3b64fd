"""How far the physics may still move the share that works, once something was seen of the part.

Points of the model inputs m are taken from the rows, and at each the same parts, moved to what they
would be with that m: b + K (m' - m), with K the regression of the build inputs' normal scores on
those of the model inputs. Where a gauge told of the build alone K is nothing and that is exact;
where a trial told of both at once it is exact for scores that are jointly normal.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.doubt_band import (
    POINTS,
    BandOfReplicate,
    DoubtBand,
    band_builds,
    doubt_band,
)
from sensitivity.engine.kept import count, hardest_first
from sensitivity.engine.moments import (
    CrossedValues,
    Variant,
    cross,
    crossed_values,
    crossing_plan,
    failing,
    moments_of,
    of_kinds,
    positions,
)
from sensitivity.engine.monte_carlo import each_replicate
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.verdicts import PILOT, Counting, counting_for
from sensitivity.learning.posterior import Posterior
from sensitivity.learning.space import Space, space_of
from sensitivity.system.system import inside_range

Floats = NDArray[np.float64]

SETTLED = 4.0
"""Standard errors above which a correlation of build and model inputs is taken to be there."""
BUILT = 3
"""Which sequence of a replicate the errors of a setting come from."""


def band_of(
    known: Posterior,
    setting: Variant | None = None,
    *,
    keeps: float,
    moments: int | None = None,
    options: RunOptions = DEFAULTS,
) -> DoubtBand | None:
    """Find between which figures the physics may move the share that works of parts like this.

    Parameters
    ----------
    known : Posterior
        With what was seen, of a design with limits.
    setting : mapping of name to Spread or float, optional
        What is set anew, and where; nothing is the part as it is.
    keeps : float
        Share of the moments at which a part that works keeps every limit.
    moments : int, optional
        How many a part is tried at; as many as ``keeps`` wants unless given.
    options : RunOptions
        Who works, and who is told.

    Returns
    -------
    DoubtBand or None
        None where no doubt of the physics is stated.
    """
    plan = known.plan
    if not of_kinds(plan, "model"):
        return None
    builds = band_builds(plan)
    replicates = len(known.weights)
    rows = known.resampled(max(POINTS, builds))
    z = np.stack([rows.z[name] for name in known.names], axis=2)
    points = z.reshape(-1, z.shape[2])[:: replicates * z.shape[1] // POINTS][:POINTS]
    at = _crossed(known, z[:, :builds], points, builds)
    task = partial(
        _one_replicate,
        crossing_plan(plan),
        counting_for(plan, keeps, moments=moments),
        space_of(plan, (), marginals=known.marginals),
        at,
        setting or {},
        builds,
    )
    found = each_replicate(
        task,
        replicates,
        workers=options.workers,
        executor=options.executor,
        progress=options.progress(),
    )
    return doubt_band(plan, found)


def _crossed(known: Posterior, z: Floats, points: Floats, builds: int) -> Floats:
    """Scores (r, points * builds, p) of each replicate's parts at each point, point by point."""
    models = len(of_kinds(known.plan, "model"))
    weights = known.weights.ravel()
    every = np.stack([known.z[name].ravel() for name in known.names], axis=1)
    middle = every - weights @ every / weights.sum()
    covariance = (weights[:, None] * middle).T @ middle / weights.sum()
    deviation = np.sqrt(np.maximum(np.diag(covariance), 1e-300))
    there = np.abs(covariance / np.outer(deviation, deviation)) > SETTLED / np.sqrt(known.ess)
    between = np.where(there, covariance, 0.0)[models:, :models]
    follows = between @ np.linalg.pinv(covariance[:models, :models], hermitian=True)
    own = np.tile(z, (1, len(points), 1))
    had = np.repeat(points[:, :models], builds, axis=0)
    moved = own.copy()
    moved[:, :, models:] += (had - own[:, :, :models]) @ follows.T
    moved[:, :, :models] = had
    return moved


def _one_replicate(
    plan: Plan,
    counting: Counting,
    space: Space,
    at: Floats,
    setting: Variant,
    builds: int,
    replicate: int,
) -> BandOfReplicate:
    from sensitivity.spreads.special_functions import ndtr

    values = _values(plan, space, at[replicate], setting, builds, replicate, counting.moments)
    moments = np.arange(counting.moments)
    pilot = np.arange(0, len(at[replicate]), max(1, len(at[replicate]) // PILOT))[:PILOT]
    order = hardest_first(failing(plan, values, pilot, moments), counting.step)
    counted = count(partial(failing, plan, values), len(at[replicate]), order, counting.step)
    shares = counted.verdicts.reshape(-1, builds)
    points = at[replicate][::builds, : len(of_kinds(plan, "model"))]
    return BandOfReplicate(
        shares.mean(axis=1), np.full(len(shares), builds), ndtr(points), counted.evaluations
    )


def _values(
    plan: Plan,
    space: Space,
    scores: Floats,
    setting: Variant,
    builds: int,
    replicate: int,
    moments: int,
) -> CrossedValues:
    """Values of parts of these scores (k, p), over a replicate's moments."""
    from sensitivity.spreads.special_functions import ndtr

    independent = np.linalg.solve(space.factor, scores.T).T
    own = {name: ndtr(independent[:, column]) for column, name in enumerate(space.names)}
    (anew,) = positions(plan, replicate, BUILT, builds)
    tiled = {name: np.tile(each, len(scores) // builds) for name, each in anew.items()}
    at = moments_of(plan, replicate, moments)
    found = crossed_values(plan, cross(plan, {**tiled, **own}, at))
    quantities = {quantity.name: quantity for quantity in plan.system.inputs}
    part = {
        name: np.asarray(inside_range(each[:, None], quantities[name])[0])
        for name, each in space.part(scores).items()
    }
    found = replace(found, by_part={**found.by_part, **part})
    if not setting:
        return found
    fresh = crossed_values(plan, cross(plan, tiled, at), setting, found)
    return replace(fresh, leaning=found.leaning, by_moment=found.by_moment)
