"""Other processes: killed ones are replaced, none outlives its parent, and no more than needed."""

import os
import signal
import subprocess
import sys
import time
from concurrent.futures import BrokenExecutor, Executor
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from sensitivity.engine import monte_carlo, workers
from sensitivity.engine.monte_carlo import each_replicate, run_replicates
from sensitivity.engine.plan import plan_run
from sensitivity.engine.workers import aside, one_crew
from sensitivity.errors import MachineError
from tests.strategies import GOOD, MODELS


def dies(folder, once, replicate):
    """Replicate 3 kills its process: the first time, or each time."""
    mark = folder / "died"
    if replicate == 3 and not (once and mark.exists()):
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return replicate**2


def test_replicate_of_a_killed_worker_is_computed_again(tmp_path):
    found = each_replicate(partial(dies, tmp_path, True), 8, workers=2)
    assert (tmp_path / "died").exists()
    assert found == [replicate**2 for replicate in range(8)]


def test_worker_that_is_killed_each_time_is_a_plain_message(tmp_path):
    with pytest.raises(MachineError, match=r"worker process was killed.*replicate [123]") as told:
        each_replicate(partial(dies, tmp_path, False), 8, workers=2)
    assert told.value.exit_status == 1
    assert "fault in spiritlevel" not in str(told.value)


def test_executor_that_breaks_is_a_plain_message():
    class Broken(Executor):
        def submit(self, task, /, *words, **more):
            raise BrokenExecutor("it has gone")

    with pytest.raises(MachineError, match="it has gone"):
        each_replicate(abs, 8, executor=Broken())


def process_of(replicate):
    return os.getpid()


def test_stages_of_a_run_have_their_processes_in_common(read):
    """Also where a stage takes what it wants and leaves off, as a run's replicates do."""
    study = read(GOOD)
    with one_crew():
        each_replicate(process_of, 8, workers=2)
        first = set(workers._crews[-1].pool._processes)  # one may have done all of so little
        assert len(first) == 2
        run_replicates(plan_run(study), workers=2)
        after = aside(os.getpid, workers=None)
        assert after is not None
        assert {*each_replicate(process_of, 8, workers=2), after()} <= first
    assert aside(os.getpid, workers=None) is None


def test_of_much_work_the_first_replicate_is_not_done_here_either():
    assert os.getpid() not in each_replicate(process_of, 4, workers=2, at_least=np.inf)
    assert set(each_replicate(process_of, 4, workers=1, at_least=np.inf)) == {os.getpid()}


def test_no_more_workers_than_replicates_left(monkeypatch):
    asked = []

    def counted(task, replicates, workers, meanwhile):
        asked.append(workers)
        return map(task, replicates)

    monkeypatch.setattr(monte_carlo, "by_processes", counted)
    assert each_replicate(abs, 5, workers=500) == [0, 1, 2, 3, 4]
    assert each_replicate(abs, 1, workers=500) == [0]
    assert asked == [4]


def test_a_worker_that_starts_from_nothing_keeps_libraries_quiet():
    """As by spawn, on Windows and macOS; a forked one has it from its parent."""
    code = (
        "import logging, warnings\nfrom sensitivity.engine.workers import _begin\n"
        "_begin(True)\nwarnings.warn('a warning')\nlogging.getLogger('lib').warning('a log')\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
    assert (done.stdout, done.stderr) == (b"", b"")


# --- signals ------------------------------------------------------------------------------------

# Each process that evaluates leaves a mark, and then is busy for as long as it is let.
BUSY = MODELS.replace(
    "    play = hole *",
    "    if np.ndim(hole):\n"
    "        pathlib.Path(__file__).with_name(f'at-work-{os.getpid()}').touch()\n"
    "        time.sleep(0.02)\n    play = hole *",
).replace("import numpy as np", "import os\nimport pathlib\nimport time\n\nimport numpy as np")


def is_running(process):
    """Whether it runs: one that has ended and that nobody has asked after (Z) does not."""
    found = Path(f"/proc/{process}/stat")
    try:
        os.kill(process, 0)
        return not found.exists() or found.read_text().rpartition(")")[2].split()[0] not in "ZX"
    except (ProcessLookupError, FileNotFoundError):
        return False


def soon(true, seconds=60.0):
    for _ in range(int(seconds * 100)):
        if true():
            return True
        time.sleep(0.01)
    return False


@pytest.fixture
def busy(tmp_path):
    """Run a study in two workers that are at work; give the process and the three numbers."""
    (tmp_path / "models").mkdir()
    models = tmp_path / "models" / "busy.py"
    models.write_text(BUSY)
    (tmp_path / "home").mkdir()
    (tmp_path / "home" / "study.toml").write_text(GOOD)
    process = subprocess.Popen(
        [sys.executable, "-m", "sensitivity", "run", "study.toml", "--model-file", str(models),
         "--replicates", "100000", "--workers", "2"],
        cwd=tmp_path / "home", stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )  # fmt: skip

    def at_work():
        return [int(path.name.rpartition("-")[2]) for path in models.parent.glob("at-work-*")]

    assert soon(lambda: len(at_work()) == 3 or process.poll() is not None)
    assert process.poll() is None, process.communicate()
    yield process, at_work()
    if process.poll() is None:
        os.killpg(process.pid, signal.SIGKILL)
    process.communicate()


def test_no_worker_outlives_a_killed_parent(busy):
    process, all_three = busy
    assert all(is_running(number) for number in all_three)
    process.kill()  # it alone, and it can do nothing about it
    process.wait(timeout=60)
    assert soon(lambda: not any(is_running(number) for number in all_three))


@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP"])
def test_ended_by_another_signal(busy, tmp_path, name):
    process, all_three = busy
    number = getattr(signal, name)
    process.send_signal(number)
    out, err = process.communicate(timeout=60)
    assert (process.returncode, out) == (128 + number, "")
    assert err.splitlines() == [
        f"spiritlevel: ended by {name}; nothing was written, and what stood before still stands"
    ]
    assert soon(lambda: not any(is_running(number) for number in all_three))
    assert [path.name for path in (tmp_path / "home").iterdir()] == ["study.toml"]
