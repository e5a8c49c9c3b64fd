"""An input that was read by itself: what is then known of it, in one dimension and exactly.

Where nothing stated ties an input to others, its readings say nothing of these. Its stated spread
times how likely the readings are is tabulated, and stands in the place of what is stated: so ten
dimensions that were read with a gauge each cost no row of the sample.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.plan import Plan
from sensitivity.learning.marginals import FURTHEST, GRID, Marginal, Tabulated, score_of, value_of
from sensitivity.learning.observations import Trial, ValueSeen
from sensitivity.learning.weights import log_density
from sensitivity.spreads.spread import Spread

Floats = NDArray[np.float64]

NORMAL_REACH = 9.0
"""Standard deviations to which a normal error is followed."""


def readings_apart(
    plan: Plan, names: Collection[str], trials: Sequence[Trial], tied: Collection[str]
) -> tuple[dict[str, list[ValueSeen]], tuple[Trial, ...]]:
    """Part the readings of single inputs from what else was seen.

    Parameters
    ----------
    plan : Plan
        Of the design as stated.
    names : collection of str
        Inputs of the part that vary.
    trials : sequence of Trial
        What was seen.
    tied : collection of str
        Inputs of which more is known than what is stated of each alone.

    Returns
    -------
    dict of str to list of ValueSeen
        Readings by input.
    tuple of Trial
        What else was seen; trials of which nothing is left are not there.
    """
    joined = set(tied) | set(plan.copula.names if plan.copula is not None else ())
    own: dict[str, list[ValueSeen]] = {}
    left = []
    for trial in trials:
        rest = []
        for one in trial.seen:
            alone = one.result in names and one.result not in joined
            if isinstance(one, ValueSeen) and alone and one.result not in trial.held:
                own.setdefault(one.result, []).append(one)
            else:
                rest.append(one)
        if rest:
            left.append(replace(trial, seen=tuple(rest)))
    return own, tuple(left)


def all_told(
    marginals: Mapping[str, Marginal], own: Mapping[str, Sequence[ValueSeen]]
) -> tuple[dict[str, Tabulated], float]:
    """Tabulate each input with its readings, and find the logarithm of how likely they all are.

    Minus infinity where an input cannot have had its readings; it is then left as stated.
    """
    found, whole = {}, 0.0
    for name, readings in own.items():
        table, logarithm = told(marginals[name], readings)
        whole += logarithm
        if table is not None:
            found[name] = table
    return found, whole


def told(marginal: Marginal, readings: Sequence[ValueSeen]) -> tuple[Tabulated | None, float]:
    """Tabulate one input with its readings.

    Parameters
    ----------
    marginal : Spread or Tabulated
        How it varies before they were had.
    readings : sequence of ValueSeen
        Of it, which err independently.

    Returns
    -------
    Tabulated or None
        Its normal score, as ``marginal`` has it, by that of a standard normal of its own; None
        where no value of it can have had the readings.
    float
        Logarithm of the density of the readings.
    """
    from sensitivity.spreads.special_functions import ndtri

    ends = np.array([_window(one) for one in readings])
    low, high = score_of(marginal, np.array([ends[:, 0].max(), ends[:, 1].min()]))
    if not low < high:
        return None, -np.inf
    edges = np.linspace(low, high, GRID)
    middles = 0.5 * (edges[1:] + edges[:-1])
    logs = -0.5 * middles**2 - 0.5 * np.log(2.0 * np.pi)
    values = value_of(marginal, middles)
    for one in readings:
        logs = logs + log_density(one.error, one.value - values)
    top = float(logs.max())
    if not np.isfinite(top):
        return None, -np.inf
    cells = np.exp(logs - top) * (edges[1] - edges[0])
    total = float(cells.sum())
    below = np.concatenate([[0.0], np.cumsum(cells)]) / total
    above = np.concatenate([np.cumsum(cells[::-1])[::-1], [0.0]]) / total
    # By the nearer end, so that neither tail lacks digits.
    scores = np.where(below < 0.5, ndtri(below), -ndtri(above))
    scores = np.clip(scores, -FURTHEST, FURTHEST)
    kept = np.concatenate([[True], np.diff(scores) > 0.0])
    return Tabulated(scores[kept], edges[kept]), top + float(np.log(total))


def _window(one: ValueSeen) -> tuple[float, float]:
    """Ends between which the truth can lie."""
    low, high = error_ends(one.error)
    return one.value - high, one.value - low


def error_ends(error: Spread) -> tuple[float, float]:
    """Ends of an error; of a normal so far out that no more is to be had."""
    if error.shape == "normal":
        reach = NORMAL_REACH * error.scale
        return error.centre - reach, error.centre + reach
    return error.low, error.high
