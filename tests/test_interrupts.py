"""Ctrl-C and its like at any moment: exit status 130, one true sentence, and nothing half-done."""

import os
import signal
import subprocess
import sys

import pytest

from sensitivity import interrupts
from sensitivity.command_line.boundary import ended
from tests.strategies import GOOD, MODELS

NOTHING = "spiritlevel: interrupted; nothing was written, and what stood before still stands"
INTERRUPT = "import os, signal\nos.kill(os.getpid(), signal.SIGINT)\n"


def run_here(folder, *words, **more):
    return subprocess.run(
        [sys.executable, "-m", "sensitivity", *words],
        cwd=folder, capture_output=True, text=True, check=False, timeout=120,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler), **more,
    )  # fmt: skip


def test_interrupt_that_a_library_tells_as_its_own_failure(monkeypatch, capsys):
    # A compiled module that is interrupted as it is loaded: "initialization failed".
    state = type("State", (interrupts._State,), {})()
    state.received = signal.SIGTERM
    monkeypatch.setattr(interrupts, "_state", state)
    assert ended(ImportError("initialization failed")) == 128 + signal.SIGTERM
    assert capsys.readouterr().err.startswith("spiritlevel: ended by SIGTERM; nothing was written")


@pytest.mark.parametrize("library", ["typer", "rich", "pydantic", "numpy", "scipy", "jinja2"])
def test_interrupt_while_a_library_is_imported(tmp_path, library):
    (tmp_path / "path").mkdir()
    (tmp_path / "path" / f"{library}.py").write_text(
        f"{INTERRUPT}raise ImportError('the interrupt was swallowed')\n"
    )
    (tmp_path / "pins.py").write_text(MODELS)
    (tmp_path / "study.toml").write_text(GOOD)
    done = run_here(
        tmp_path, "run", "study.toml", "--model-file", "pins.py",
        env=os.environ | {"PYTHONPATH": str(tmp_path / "path")},
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (130, "")
    assert done.stderr.splitlines() == [NOTHING]
    assert not (tmp_path / "study-results").exists()


def test_interrupt_in_what_a_library_runs_by_itself_has_the_same_status(tmp_path):
    # Compiled libraries run Python code as they are loaded; Python notes an interrupt in it, and
    # would end as killed whatever status is asked for.
    (tmp_path / "pins.py").write_text(
        "import ctypes\nrun = ctypes.pythonapi.PyRun_String\nrun.restype = ctypes.py_object\n"
        "run.argtypes = [ctypes.c_char_p, ctypes.c_int, ctypes.py_object, ctypes.py_object]\n"
        f"run({INTERRUPT.encode()!r}, 257, {{}}, {{}})\n{MODELS}"
    )
    (tmp_path / "study.toml").write_text(GOOD)
    done = run_here(tmp_path, "check", "study.toml", "--model-file", "pins.py")
    assert (done.returncode, done.stdout) == (130, "")
    assert done.stderr.splitlines() == [NOTHING]


def test_interrupt_that_a_library_swallows_is_met_all_the_same(tmp_path):
    # As an import that goes on without what it could not load; here a model plays the library.
    swallows = (
        "    if np.ndim(hole) and not os.environ.get('SEEN'):\n"
        "        os.environ['SEEN'] = '1'\n"
        "        try:\n            os.kill(os.getpid(), signal.SIGINT)\n            time.sleep(5)\n"
        "        except BaseException:\n            pass\n"
    )
    (tmp_path / "pins.py").write_text(
        "import os, signal, time\n"
        + MODELS.replace("    play = hole *", f"{swallows}    play = hole *")
    )
    (tmp_path / "study.toml").write_text(GOOD)
    done = run_here(tmp_path, "run", "study.toml", "--model-file", "pins.py")
    assert (done.returncode, done.stdout) == (130, "")
    assert done.stderr.splitlines() == [NOTHING]
    assert sorted(path.name for path in tmp_path.iterdir() if path.is_dir()) in (
        [], ["__pycache__"],
    )  # fmt: skip


def test_interrupt_where_python_cannot_raise_it_is_told_once(tmp_path):
    (tmp_path / "pins.py").write_text(
        "import os, signal\nclass Gone:\n    def __del__(self):\n"
        "        os.kill(os.getpid(), signal.SIGINT)\n        list(map(len, [[]]))\n"
        f"Gone()\n{MODELS}"
    )
    (tmp_path / "study.toml").write_text(GOOD)
    done = run_here(tmp_path, "check", "study.toml", "--model-file", "pins.py")
    assert done.returncode == 130
    assert done.stderr.splitlines() == [NOTHING]


def test_interrupt_while_a_process_is_begun_comes_after_it(tmp_path):
    # What Python calls at a fork swallows what is raised in it, and prints it as a traceback.
    (tmp_path / "pins.py").write_text(
        "import multiprocessing, os, signal\n"
        "multiprocessing.set_start_method('fork', force=True)\nsent = []\n"
        "def once():\n    if not sent:\n        sent.append(1)\n"
        "        os.kill(os.getpid(), signal.SIGINT)\n        list(map(len, [[]]))\n"
        f"os.register_at_fork(after_in_parent=once)\n{MODELS}"
    )
    (tmp_path / "study.toml").write_text(GOOD)
    done = run_here(tmp_path, "run", "study.toml", "--model-file", "pins.py", "--workers", "2")
    assert (done.returncode, done.stdout) == (130, "")
    assert done.stderr.splitlines() == [NOTHING]


def test_interrupt_once_the_folder_stands_says_so(run_study, monkeypatch, tmp_path):
    def interrupted():
        if interrupts.written():
            raise KeyboardInterrupt

    monkeypatch.setattr(interrupts, "check", interrupted)
    ran = run_study(GOOD)
    assert ran.exit_code == 130
    assert (tmp_path / "study-results" / "result.json").exists()
    assert ran.stderr.splitlines() == [
        "spiritlevel: interrupted; the results had already been written to study-results"
    ]


def test_interrupt_in_a_few_held_steps_comes_after_them(monkeypatch):
    state = type("State", (interrupts._State,), {})()
    state.owner, state.working = os.getpid(), True
    monkeypatch.setattr(interrupts, "_state", state)
    steps = []
    with pytest.raises(KeyboardInterrupt), interrupts.held():  # noqa: PT012  steps inside are the test
        interrupts._received(signal.SIGINT, None)
        steps.append("taken")
    assert steps == ["taken"]


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM"])
def test_interrupt_while_python_shuts_down_comes_too_late(tmp_path, name):
    # An object of a model's file that is still there when Python takes its last steps.
    number = int(getattr(signal, name))
    last = (
        f"\n\nclass Last:\n    def __del__(self, kill=os.kill, me=os.getpid(), number={number}):\n"
    )
    (tmp_path / "pins.py").write_text(
        f"import os\n{MODELS}{last}        kill(me, number)\n\n\nLAST = Last()\n"
    )
    (tmp_path / "study.toml").write_text(GOOD)
    done = run_here(tmp_path, "check", "study.toml", "--model-file", "pins.py")
    assert (done.returncode, done.stderr) == (0, "")
    assert "A pin in a hole" in done.stdout


def test_interrupt_that_was_to_be_ignored_is(tmp_path):
    # As for a job that a shell runs in the background.
    program = f"from sensitivity.interrupts import take_over\ntake_over()\n{INTERRUPT}"
    done = subprocess.run(
        [sys.executable, "-c", program],
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_IGN), check=False,
    )  # fmt: skip
    assert done.returncode == 0
