"""Whether intervals hold their value as often as promised, over seeds that no test has seen.

The Ishigami function of ``tests/published/test_coverage.py``, whose mean, standard deviation and
indices are known exactly; the count of intervals that hold theirs is binomial.

    python tests/bench/many_seeds.py --seeds 1000
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy import stats

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from sensitivity.engine.plan import plan_run
from sensitivity.engine.replicate import one_replicate
from tests.published.test_coverage import (
    CONFIDENCE,
    FIRST,
    ISHIGAMI,
    REPLICATES,
    SEEDS,
    TOTAL,
    VARIANCE,
    holds,
    read,
)

NAMES = (
    "mean", "standard deviation", "first x1", "first x2", "first x3", "total x1", "total x2",
    "total x3",
)  # fmt: skip
EXACT = np.concatenate([[3.5, VARIANCE**0.5], FIRST, TOTAL])


def held(count: int) -> np.ndarray:
    """Whether each interval (count, 8) of as many seeds holds its value."""
    found = []
    with tempfile.TemporaryDirectory() as folder:
        study = read(Path(folder), ISHIGAMI)
    for seed in range(SEEDS, SEEDS + count):
        plan = plan_run(replace(study, sampling=replace(study.sampling, seed=seed)))
        run = [one_replicate(plan, replicate) for replicate in range(REPLICATES)]
        values = [
            np.concatenate([[s.mean[0], s.deviation[0]], s.first[0], s.total[0]]) for s in run
        ]
        found.append(holds(values, EXACT))
    return np.array(found)


def main() -> int:
    """Count; 1 where a count is outside the central 99.9 % of its binomial."""
    asked = argparse.ArgumentParser(description="Coverage of intervals over many seeds.")
    asked.add_argument("--seeds", type=int, default=1000)
    count = asked.parse_args().seeds
    low, high = (int(end) for end in stats.binom.interval(0.999, count, CONFIDENCE))
    counts = held(count).sum(axis=0)
    print(f"of {count} intervals at {CONFIDENCE:.0%}, {low} to {high} should hold their value:")
    for name, number in zip(NAMES, counts, strict=True):
        print(f"  {name:20}{number:6}{'' if low <= number <= high else '  FAILED'}")
    return int(not np.all((counts >= low) & (counts <= high)))


if __name__ == "__main__":
    sys.exit(main())
