"""How a part as known keeps its limits at a moment taken at random, as it is and set anew."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Proportion
from sensitivity.engine.plan import Plan
from sensitivity.engine.two_levels import share_proportion
from sensitivity.learning.evaluation import results_of
from sensitivity.learning.observations import EventSeen, Trial, ValueSeen
from sensitivity.learning.posterior import EqualRows
from sensitivity.pricing.assembly_settings import AssemblySettings
from sensitivity.pricing.hurting import choosable, danger
from sensitivity.pricing.variants import Variant
from sensitivity.spreads.spread import Spread, normal, quantile
from sensitivity.study.study import Limit

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

MOST_SETTINGS = 12
SET = 0x55
"""Key of the errors of setting."""


def kept_at_a_moment(plan: Plan, rows: EqualRows, setting: Variant | None = None) -> Proportion:
    """Find how often rows (r, n) keep every limit at a moment of their own.

    Parameters
    ----------
    plan : Plan
        Of the design, with limits.
    rows : EqualRows
        Parts as known.
    setting : mapping of name to Spread or float, optional
        What is set anew, and where.
    """
    # All results are asked for: one without an answer fails, whatever the others say.
    seen = tuple(ValueSeen(name, 0.0, normal(0.0, 1.0)) for name in plan.outputs)
    found = _results(plan, rows, setting or {}, Trial("moment", seen=seen))
    kept: Flags = np.ones(rows.shape, dtype=np.bool_)
    for name, values in found.items():
        kept &= np.isfinite(values)
        for limit in plan.limits:
            if limit.result == name:
                kept &= limit.met(values)
    return share_proportion(kept.mean(axis=1), rows.shape[1], plan.sampling.confidence)


def settings_for(
    plan: Plan, rows: EqualRows, settings: AssemblySettings
) -> tuple[AssemblySettings, tuple[Limit, ...]]:
    """Keep the settings that may serve parts like this, and hurt nobody more often than they may.

    By rows at a moment each: of the settings at which no limit that hurts is broken more often
    than its ceiling (where it is at every one, of the least dangerous), those are kept that serve
    the most rows, a row counting the less, the more settings already serve it, and that as drawn.

    Returns
    -------
    AssemblySettings
        ``MOST_SETTINGS`` at most.
    tuple of Limit
        Limits that hurt, by which settings were left out.
    """
    hurting = [limit for limit in plan.limits if limit.hurts]
    seen = tuple(EventSeen(limit.result, broken=True) for limit in plan.limits)
    shares: list[Mapping[str, Proportion]] = []
    works = []
    for variant in settings.variants:
        found = _results(plan, rows, variant, Trial("moment", seen=seen))
        met = {limit.result: limit.met(found[limit.result]) for limit in plan.limits}
        works.append(np.logical_and.reduce([*met.values()]).ravel())
        shares.append(
            {
                limit.result: share_proportion(
                    met[limit.result].mean(axis=1), rows.shape[1], plan.sampling.confidence
                )
                for limit in hurting
            }
        )
    safe = choosable({place: danger(hurting, each) for place, each in enumerate(shares)})
    gone = [each for place, each in enumerate(shares) if place not in safe]
    barred = tuple(limit for limit in hurting if any(danger([limit], each) > 1.0 for each in gone))
    nominal = [item.nominal for item in settings.inputs]
    drawn = [at for at, place in enumerate(safe) if [*settings.points[place]] == nominal]
    serving = _serving(np.stack([works[place] for place in safe], axis=1), drawn)
    kept = [safe[at] for at in serving]
    return replace(settings, points=settings.points[kept]), barred


def _serving(works: Flags, first: list[int]) -> list[int]:
    """Choose settings (s,) that serve the most rows (n, s), apart from each other, in order.

    Those that are ``first`` are taken whatever they serve.
    """
    if works.shape[1] <= MOST_SETTINGS:
        return list(range(works.shape[1]))
    kept = [*first]
    served = works[:, kept].sum(axis=1, dtype=np.float64)
    for _ in range(MOST_SETTINGS - len(kept)):
        worth = (works / (1.0 + served[:, None]) ** 2).sum(axis=0)
        worth[kept] = -1.0
        kept.append(int(worth.argmax()))
        served += works[:, kept[-1]]
    return sorted(kept)


def _results(plan: Plan, rows: EqualRows, setting: Variant, trial: Trial) -> dict[str, Floats]:
    """Compute what a trial sees of rows, of which some inputs are set anew."""
    values, held = dict(rows.values), dict(trial.held)
    stream = np.random.SeedSequence(plan.seed, spawn_key=(SET,))
    generator = np.random.default_rng(stream)
    for name, spread in setting.items():
        if isinstance(spread, Spread):
            # Errors of setting are the same at each setting.
            values[name] = quantile(spread, generator.random(rows.shape))
        else:
            values.pop(name, None)
            held[name] = float(spread)
    return results_of(plan, values, rows.z, Trial(trial.identifier, held=held, seen=trial.seen))
