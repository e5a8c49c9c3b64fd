"""One replicate: what it keeps, and that memory does not grow with the number of inputs."""

import tracemalloc
from dataclasses import replace
from pathlib import Path

import numpy as np

from sensitivity.engine.column_swaps import TOGETHER
from sensitivity.engine.plan import plan_run
from sensitivity.engine.replicate import KEPT_FAILURES, kept_failures, one_replicate
from sensitivity.study.file import read_study

WHOLE = Path(__file__).parent.parent / "studies" / "bramble" / "whole_burner.toml"


def plan_of(points):
    study = read_study(WHOLE)
    return plan_run(replace(study, sampling=replace(study.sampling, seed=1, points=points)))


def peak(plan):
    tracemalloc.start()
    try:
        one_replicate(plan, 1)
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


def test_memory_is_that_of_the_samples_not_of_the_swaps():
    plan = plan_of(8192)
    one_replicate(replace(plan, groups=plan.groups[:1]), 0)  # what is loaded once is loaded
    few = peak(replace(plan, groups=plan.groups[:TOGETHER]))
    many = peak(replace(plan, groups=plan.groups[:12]))
    assert many < 1.1 * few
    # Two samples of all inputs and results, and what a block of swapped ones takes, 8 bytes each:
    # a million designs (2^19 points) of a burner of 216 columns take less than 3 GB.
    columns = len(plan.inputs) + len(plan.outputs)
    assert few / 8192 < 28 * columns


def test_failing_rows_are_kept_with_their_place_in_the_spread():
    summary = one_replicate(plan_of(256), 0)
    failing = np.flatnonzero(summary.sample["meets_all_limits"] == 0.0)[:KEPT_FAILURES]
    assert summary.failing.shape == (failing.size, len(plan_of(256).varying))
    names = [item.name for item in plan_of(256).varying]
    ordered = np.argsort(np.argsort(summary.sample["outlet_tilt"]))
    place = summary.failing[:, names.index("outlet_tilt")]
    # A larger value stands at a larger place: the kept place orders the kept values.
    assert np.array_equal(np.argsort(place), np.argsort(ordered[failing]))


def test_a_long_run_keeps_fewer_failing_rows_of_each_replicate():
    plan = plan_of(256)
    most = replace(plan, sampling=replace(plan.sampling, replicates=100_000))
    assert kept_failures(plan) == KEPT_FAILURES
    assert one_replicate(most, 1).failing.shape[0] == kept_failures(most) == 1
