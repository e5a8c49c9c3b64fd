"""Replicates on a Dask cluster: a real scheduler and two workers, processes of their own."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import invoke
from tests.strategies import GOOD

# A worker that is asked to dies in the midst of the first replicate it is given, once.
MORTAL = '''
import os
import signal
from pathlib import Path
from typing import Annotated, NamedTuple


class Fit(NamedTuple):
    play: Annotated[object, "mm", "how much the pin can move in the hole"]


def pin_fit(
    hole: Annotated[object, "mm", "diameter of the hole", "> 0"] = 5.0,
    pin: Annotated[object, "mm", "diameter of the pin", "> 0"] = 4.9,
) -> Fit:
    """Play of a pin in a hole."""
    mark = os.environ.get("DIES_ONCE")
    if mark and not Path(mark).exists():
        Path(mark).touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return Fit(hole - pin)
'''

STUDY = """
models = ["pin_fit"]
[inputs.hole]
plus_minus = "0.02 mm"
[inputs.pin]
plus_minus = "0.1 mm"
[limits.play]
at_least = "0.02 mm"
"""


def started(module, *words, environment=None):
    """Start a program of ``distributed``; what it says of itself is read line by line."""
    return subprocess.Popen(
        [sys.executable, "-W", "ignore", "-m", f"distributed.cli.{module}", *words],
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | (environment or {}),
    )


def told(process, pattern):
    """Read on until a line matches."""
    for line in process.stderr:
        if found := re.search(pattern, line):
            return found
    raise AssertionError(f"it ended without a word of {pattern}")


@pytest.fixture
def cluster(tmp_path):
    """Address of a scheduler with two workers, one of which will die in its first replicate."""
    died = tmp_path / "died"
    scheduler = started("dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard")
    running = [scheduler]
    try:
        address = told(scheduler, r"Scheduler at: +(\S+)")[1]
        for _ in range(2):
            worker = started(
                "dask_worker", address, "--nthreads", "1", "--no-nanny", "--no-dashboard",
                "--local-directory", str(tmp_path), environment={"DIES_ONCE": str(died)},
            )  # fmt: skip
            running.append(worker)
            told(worker, "Registered to")
        yield address, died, running
    finally:
        for process in running:
            process.kill()
            process.wait()
            process.stderr.close()


def test_result_is_the_same_on_a_cluster_that_loses_a_worker(cluster, tmp_path):
    address, died, running = cluster
    model, study = tmp_path / "mortal.py", tmp_path / "study.toml"
    model.write_text(MORTAL, "utf-8")
    study.write_text(STUDY, "utf-8")
    command = [
        sys.executable, "-W", "ignore", "-m", "sensitivity", "run", study, "--model-file", model,
        "--seed", "1", "--points", "64", "--json",
    ]  # fmt: skip
    there = subprocess.run(
        [*command, "--scheduler", address, "--out", tmp_path / "there"],
        capture_output=True, text=True, cwd=tmp_path, check=False,
    )  # fmt: skip
    assert there.returncode == 0, there.stderr
    assert died.exists()
    assert sum(process.poll() is not None for process in running) == 1
    here = subprocess.run(
        [*command, "--workers", "1", "--out", tmp_path / "here"],
        capture_output=True, text=True, cwd=tmp_path, check=False,
    )  # fmt: skip
    assert json.loads(there.stdout)["yield"]["estimate"] < 1.0
    results = [Path(tmp_path, place, "result.json").read_bytes() for place in ("here", "there")]
    assert here.stdout == there.stdout
    assert results[0] == results[1]


def test_no_scheduler_there(at_home, model_file, monkeypatch):
    from sensitivity.engine import cluster

    monkeypatch.setattr(cluster, "SECONDS_TO_ANSWER", 1)
    (at_home / "study.toml").write_text(GOOD, "utf-8")
    ran = invoke(
        "run", "study.toml", "--model-file", model_file, "--scheduler", "tcp://127.0.0.1:9"
    )
    assert ran.exit_code == 2
    assert "no scheduler answers" in ran.stderr
    assert not (at_home / "study-results").exists()
