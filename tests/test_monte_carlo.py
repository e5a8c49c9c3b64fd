"""Replicates: the same whoever computes them, enough of them, and a clean stop."""

import os
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import fields

import numpy as np
import pytest

from sensitivity.engine.intervals import proportion
from sensitivity.engine.monte_carlo import run_replicates
from sensitivity.engine.plan import plan_run
from sensitivity.engine.result import assemble
from sensitivity.errors import ModelError
from tests.strategies import GOOD, MODELS


def same(one, other):
    """Whether two summaries hold the same numbers, bit for bit."""
    for field in fields(one):
        left, right = getattr(one, field.name), getattr(other, field.name)
        if isinstance(left, dict):
            assert left.keys() == right.keys()
            for name in left:
                np.testing.assert_array_equal(left[name], right[name])
        else:
            np.testing.assert_array_equal(left, right)


@pytest.fixture
def plan(read):
    return plan_run(read(), pairs=True, keep_samples=True)


def test_same_summaries_whoever_computes_them(plan):
    alone = run_replicates(plan, workers=1)
    assert len(alone) == 8
    pool = run_replicates(plan, workers=2)
    with ThreadPoolExecutor(3) as threads:
        threaded = run_replicates(plan, executor=threads)
        assert threads.submit(int).result() == 0  # it is not shut down
    for others in (pool, threaded):
        assert len(others) == len(alone)
        for one, other in zip(alone, others, strict=True):
            same(one, other)


def test_replicates_are_not_copies_of_each_other(plan):
    means = [summary.mean[0] for summary in run_replicates(plan, workers=1)]
    assert len(set(means)) == len(means)


# --- enough of them -----------------------------------------------------------------------------


def half_width(summaries, count):
    passes = np.array([summary.passes_all for summary in summaries[:count]])
    return proportion(passes, summaries[0].rows, 0.95).half_width


@pytest.mark.parametrize("target", [0.2, 0.004, 0.0025])
def test_adaptive_stopping_reaches_its_target_and_no_further(read, target):
    plan = plan_run(read(f"{GOOD}target_half_width = {target}\nmax_replicates = 400\n"))
    alone = run_replicates(plan, workers=1)
    assert half_width(alone, len(alone)) <= target
    # Judged from 16 replicates on: sooner, an interval would hold too seldom.
    for count in range(16, len(alone)):
        assert half_width(alone, count) > target
    assert len(alone) >= 16
    with ThreadPoolExecutor(3) as threads:
        threaded = run_replicates(plan, executor=threads)
    assert len(threaded) == len(alone)
    for one, other in zip(alone, threaded, strict=True):
        same(one, other)


def test_targets_of_the_test_above_are_not_all_met_at_once(read):
    counts = [
        len(run_replicates(plan_run(read(f"{GOOD}target_half_width = {target}\n")), workers=1))
        for target in (0.2, 0.004)
    ]
    assert counts[0] == 16
    assert counts[1] > 16


def test_adaptive_stopping_is_the_same_in_a_process_pool(read):
    plan = plan_run(read(f"{GOOD}target_half_width = 0.004\n"))
    assert len(run_replicates(plan, workers=2)) == len(run_replicates(plan, workers=1))


@pytest.mark.parametrize("most", [8, 11])
def test_no_more_than_max_replicates(read, most):
    plan = plan_run(read(f"{GOOD}target_half_width = 1e-6\nmax_replicates = {most}\n"))
    assert len(run_replicates(plan, workers=1)) == most


def test_fewer_than_eight_are_never_taken(read):
    from dataclasses import replace

    plan = plan_run(read())
    few = replace(plan, sampling=replace(plan.sampling, replicates=1))
    assert len(run_replicates(few, workers=1)) == 8


# --- who is told --------------------------------------------------------------------------------


class Watcher:
    """Keeps what it is told."""

    def __init__(self):
        self.told, self.closed = [], 0

    def done(self, count, total):
        self.told.append((count, total))

    def close(self):
        self.closed += 1


@pytest.mark.parametrize("target", ["", "target_half_width = 0.004\n"])
def test_progress_counts_up_and_is_closed(read, target):
    watcher = Watcher()
    summaries = run_replicates(plan_run(read(GOOD + target)), workers=1, progress=watcher)
    assert [count for count, _ in watcher.told] == list(range(1, len(summaries) + 1))
    assert all(count <= total for count, total in watcher.told)
    assert watcher.told[-1] == (len(summaries), len(summaries))
    assert watcher.closed == 1


FAILS_LATER = MODELS.replace(
    "    play = hole *",
    "    if np.ndim(hole) and np.max(hole) > LIMIT:\n"
    "        raise RuntimeError('this model gives up')\n    play = hole *",
)


@pytest.mark.parametrize("workers", [1, 2])
def test_model_that_fails_in_a_later_replicate(write_study, tmp_path, read, workers):
    # The largest hole of replicate 0 is below that of some later one: the model fails between.
    tops = [
        s.sample["hole"].max()
        for s in run_replicates(plan_run(read(), keep_samples=True), workers=1)
    ]
    assert tops[0] < max(tops)
    path = tmp_path / "later.py"
    path.write_text(FAILS_LATER.replace("LIMIT", repr(float(0.5 * (tops[0] + max(tops))))))
    from sensitivity.study.file import read_study

    watcher = Watcher()
    with pytest.raises(ModelError, match="this model gives up"):
        run_replicates(
            plan_run(read_study(write_study(), [str(path)])), workers=workers, progress=watcher
        )
    assert watcher.closed == 1


def test_result_of_the_whole(read):
    study = read()
    plan = plan_run(study)
    summaries = run_replicates(plan, workers=1)
    result = assemble(study, plan, summaries)
    assert result.replicates == 8
    # A and B and one swapped sample for each of four inputs, 64 rows each, 8 replicates
    assert result.evaluations == 8 * 64 * (2 + 4)
    assert result.overall.rows == 8 * 64 * 2


# --- Ctrl-C -------------------------------------------------------------------------------------

# Each process that evaluates leaves a mark, so that nothing has to be timed.
SLOW = MODELS.replace(
    "    play = hole *",
    "    pathlib.Path(__file__).with_name(f'at-work-{os.getpid()}').touch()\n"
    "    time.sleep(0.01 if np.ndim(hole) else 0.0)\n    play = hole *",
).replace("import numpy as np", "import os\nimport pathlib\nimport time\n\nimport numpy as np")


def everything_in(folder):
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@pytest.mark.parametrize("workers", [1, 2])
def test_interrupt_leaves_what_stood_before(tmp_path, workers):
    (tmp_path / "models").mkdir()
    models = tmp_path / "models" / "slow.py"
    models.write_text(SLOW)
    home = tmp_path / "home"
    (home / "study-results").mkdir(parents=True)
    (home / "study.toml").write_text(GOOD)
    (home / "study-results" / "result.json").write_text('{"schema": 1, "spiritlevel": "0"}')
    (home / "study-results" / "report.html").write_text("as it was")
    before = everything_in(home)
    process = subprocess.Popen(
        [sys.executable, "-m", "sensitivity", "run",
         "study.toml", "--model-file", str(models), "--replicates", "100000",
         "--workers", str(workers)],
        cwd=home, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        start_new_session=True,
        # as in a terminal, even where these tests run in the background
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )  # fmt: skip
    at_work = 1 if workers == 1 else 1 + workers  # the first replicate runs in the parent
    try:
        for _ in range(6000):
            marks = list((tmp_path / "models").glob("at-work-*"))
            if len(marks) >= at_work or process.poll() is not None:
                break
            time.sleep(0.01)
        assert len(marks) == at_work, process.communicate()
        os.killpg(process.pid, signal.SIGINT)  # a terminal sends it to the workers too
        out, err = process.communicate(timeout=60)
    finally:
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
            process.communicate()
    assert process.returncode == 130
    assert out == ""
    assert err.splitlines() == [
        "spiritlevel: interrupted; nothing was written, and what stood before still stands"
    ]
    assert everything_in(home) == before
    assert sorted(path.name for path in home.iterdir()) == ["study-results", "study.toml"]
