"""The demo's yields and first-order indices by brute force: plain random numbers, no sequence.

A yield is a count among independent burners. A first-order index is the variance of the means in
equally likely slices of one input, less what chance puts there, by the whole variance: its
definition, Var(E[Y|X]) / Var(Y) (Sobol' 1993), with nothing of the estimators in common.

    python tests/bench/brute_force.py --burners 1000000
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

from sensitivity.answers.run import run
from sensitivity.engine.options import RunOptions
from sensitivity.engine.sampling import draw
from sensitivity.spreads.copula import correlate
from sensitivity.study.file import read_study

STUDIES = Path(__file__).resolve().parents[2] / "studies" / "bramble"
FAST = ("stepped_pipe", "bent_pipe", "needle_valve", "deflector_gap", "tank_on_a_warm_day")
SLICES, FURTHEST = 200, 4.5
"""Slices of an input; standard errors beyond which two answers differ."""


def first_order(uniform: np.ndarray, values: np.ndarray) -> tuple[float, float]:
    """First-order index of an input, by slices, and its standard error."""
    order = np.argsort(uniform)
    slices = values[order][: values.size // SLICES * SLICES].reshape(SLICES, -1)
    rows = slices.shape[1]
    within = slices.var(axis=1, ddof=1).mean() / rows
    between = slices.mean(axis=1).var(ddof=1) - within
    # The means of slices are the curve plus noise of this variance, independent in each slice.
    error = np.sqrt((4.0 * max(between, 0.0) * within + 2.0 * within**2) / SLICES)
    return between / values.var(), error / values.var()


def compare(name: str, burners: int) -> list[tuple[str, float, float, float]]:
    """What is compared of a study: engine's value, brute force's, distance in standard errors."""
    answer = run(read_study(STUDIES / f"{name}.toml"), options=RunOptions(seed=1))
    result = answer.found.result
    plan = result.plan
    generator = np.random.default_rng(20)
    uniforms = {item.name: generator.random(burners) for item in plan.varying}
    if plan.copula:
        uniforms = correlate(plan.copula, uniforms)
    found = result.study.system.evaluate(draw(plan, uniforms))
    met = np.ones(burners, dtype=bool)
    for limit in result.study.limits:
        values = np.broadcast_to(found[limit.result], (burners,))
        low = -np.inf if limit.at_least is None else limit.at_least
        high = np.inf if limit.at_most is None else limit.at_most
        met &= (values >= low) & (values <= high)
    share, engine = met.mean(), result.overall
    error = np.hypot(np.sqrt(share * (1 - share) / burners), (engine.high - engine.low) / 4.0)
    rows = [("yield", engine.value, share, (engine.value - share) / max(error, 1e-12))]
    for limit in result.study.limits:
        values = np.asarray(found[limit.result])
        if not np.isfinite(values).all():
            continue
        for group in plan.groups:
            index = result.sensitivity.get(limit.result, {}).get(group.name)
            if index is None or len(group.inputs) > 1 or index.first.value < 0.02:
                continue
            brute, own = first_order(uniforms[group.inputs[0]], values)
            error = np.hypot(own, (index.first.high - index.first.low) / 4.0)
            label = f"first {limit.result} of {group.name}"
            rows.append((label, index.first.value, brute, (index.first.value - brute) / error))
    return rows


def main() -> int:
    """Compare; 1 where two answers differ by more than chance lets them."""
    asked = argparse.ArgumentParser(description="Yields and indices by brute force.")
    asked.add_argument("--burners", type=int, default=1_000_000)
    burners = asked.parse_args().burners
    failed = False
    for name in FAST:
        print(name)
        for label, engine, brute, distance in compare(name, burners):
            failed |= abs(distance) > FURTHEST
            mark = "  FAILED" if abs(distance) > FURTHEST else ""
            print(f"  {label:44}{engine:10.5f}{brute:10.5f}{distance:7.1f} s.e.{mark}")
    return int(failed)


if __name__ == "__main__":
    sys.exit(main())
