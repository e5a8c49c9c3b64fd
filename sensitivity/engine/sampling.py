"""One replicate's points: a scrambled Sobol' sequence turned by the inputs' distributions."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.plan import Plan
from sensitivity.engine.sobol import sobol_points
from sensitivity.spreads.copula import correlate
from sensitivity.spreads.spread import quantile

Floats = NDArray[np.float64]


def scrambled_points(seed: int, key: tuple[int, ...], dimensions: int, points: int) -> Floats:
    """Scrambled Sobol' points (points, dimensions), in 0..1 with both ends left out.

    Each replicate has generators of its own, by its key, so that the answer depends on neither
    the number of workers nor their order.
    """
    generator = np.random.default_rng(np.random.SeedSequence(seed, spawn_key=key))
    return sobol_points(dimensions, points, generator, centred=True)


def replicate_uniforms(plan: Plan, replicate: int) -> tuple[dict[str, Floats], dict[str, Floats]]:
    """Draw the two samples A and B of one replicate, as probabilities (points,) by input.

    Both come from one sequence in twice as many dimensions; correlated inputs are already
    dependent within each sample.
    """
    count = len(plan.columns)
    points = scrambled_points(plan.seed, (replicate,), 2 * count, plan.sampling.points)
    names = {item.name for item in plan.varying}
    samples = []
    for offset in (0, count):
        uniforms = {
            name: points[:, offset + column]
            for column, name in enumerate(plan.columns)
            if name in names
        }
        samples.append(correlate(plan.copula, uniforms) if plan.copula else uniforms)
    return samples[0], samples[1]


def draw(plan: Plan, uniforms: dict[str, Floats]) -> dict[str, Floats | float]:
    """Turn probabilities (n,) into values of every input; a held input stays a number."""
    values: dict[str, Floats | float] = {}
    for item in plan.inputs:
        if item.spread is None:
            values[item.name] = item.nominal
        else:
            values[item.name] = quantile(item.spread, uniforms[item.name])
    return values
