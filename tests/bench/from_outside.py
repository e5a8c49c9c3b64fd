"""The command as a process of its own, looked at from outside: for signals and for full disks."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.strategies import GOOD, MODELS

ROOT = Path(__file__).resolve().parents[2]
MARK = "SPIRITLEVEL_BENCH"
CALL = ("--model-file", "pins.py", "--points", "64", "--replicates", "12")
SIGTERM_BIT = 1 << (signal.SIGTERM - 1)

Files = dict[str, bytes]


class Ended(NamedTuple):
    """How a process ended: status, standard output, standard error."""

    status: int
    out: str
    err: str


@contextmanager
def a_home(earlier: Files | None = None) -> Iterator[Path]:
    """Make a folder with a study and a model file, and an earlier results folder if one is wanted.

    Beside it stands an empty folder for temporary files.
    """
    with tempfile.TemporaryDirectory() as name:
        home = Path(name) / "home"
        home.mkdir()
        (home.parent / "temporary").mkdir()
        (home / "study.toml").write_text(GOOD, encoding="utf-8")
        (home / "pins.py").write_text(MODELS, encoding="utf-8")
        put(home / "results", earlier or {})
        yield home


def put(folder: Path, files: Files) -> None:
    """Write files to a folder; no folder where there are none."""
    for name, content in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)


def files_in(folder: Path) -> Files:
    """Give every file of a folder; nothing where there is no such folder."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def begun(home: Path, words: tuple[str, ...], mark: str, **more: object) -> subprocess.Popen[str]:
    """Begin the command in a group of its own, with a mark that its children inherit."""
    environment = {
        **os.environ,
        MARK: mark,
        "PYTHONPATH": os.pathsep.join([str(ROOT), *_path()]),
        "PYTHONDONTWRITEBYTECODE": "1",
        "TMPDIR": str(home.parent / "temporary"),
    }
    return subprocess.Popen(
        [sys.executable, "-m", "sensitivity", *words],
        cwd=home, env=environment, text=True, start_new_session=True,
        preexec_fn=_as_from_a_terminal,
        **{"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **more},
    )  # fmt: skip


def _path() -> list[str]:
    return [each for each in [os.environ.get("PYTHONPATH", "")] if each]


def _as_from_a_terminal() -> None:
    signal.signal(signal.SIGINT, signal.default_int_handler)


def ended(process: subprocess.Popen[str], seconds: float = 300.0) -> Ended:
    """Wait for the end; a process that does not come to one is killed, with status 999."""
    try:
        out, err = process.communicate(timeout=seconds)
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, signal.SIGKILL)
        out, err = process.communicate()
        return Ended(999, out, err)
    return Ended(process.returncode, out, err)


def has_begun(process: subprocess.Popen[str]) -> bool:
    """Tell whether the program's first lines have run: it handles SIGTERM, as Python does not."""
    try:
        status = Path(f"/proc/{process.pid}/status").read_text()
    except OSError:
        return False
    caught = next((line for line in status.splitlines() if line.startswith("SigCgt")), "x 0")
    return bool(int(caught.split()[1], 16) & SIGTERM_BIT)


def marked(mark: str) -> list[int]:
    """Processes that run and carry a mark; those that ended and wait to be asked after do not."""
    found = []
    for folder in Path("/proc").iterdir():
        if not folder.name.isdigit():
            continue
        try:
            carries = f"{MARK}={mark}\0".encode() in (folder / "environ").read_bytes() + b"\0"
            state = (folder / "stat").read_text().rpartition(")")[2].split()[0]
        except OSError:
            continue
        if carries and state not in "ZX":
            found.append(int(folder.name))
    return found


def none_left(mark: str, seconds: float = 5.0) -> bool:
    """Tell whether all processes of a mark end within some time; those that do not are killed."""
    ends = time.monotonic() + seconds
    while left := marked(mark):
        if time.monotonic() > ends:
            for number in left:
                os.kill(number, signal.SIGKILL)
            return False
        time.sleep(0.05)
    return True


def reference(words: tuple[str, ...]) -> Files:
    """What an undisturbed call writes to ``results``."""
    with a_home() as home:
        done = ended(begun(home, words, "reference"))
        if done.status:
            raise RuntimeError(f"the undisturbed call failed: {done.err}")
        found = files_in(home / "results")
        shutil.rmtree(home / "results")
        return found
