"""How the fuzz judges a case: what the program does with it, and what that takes."""

from __future__ import annotations

import io
import json
import math
import os
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import chdir, contextmanager, redirect_stderr, redirect_stdout, suppress
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.bench.fuzz_cases import READ, SMALL, Case
from tests.strategies import MODELS

RUNS_AWAY, BLOCKED = 10.0, 600.0
"""Seconds of the processor after which an answer has run away, and by the clock after which it
waits for something that does not come."""

LONGEST_REFUSAL, LARGEST_REFUSAL = 2.0, 300
"""Seconds of the processor and MiB within which a study is refused: of the 500 that are promised
the program takes 200 before it reads anything."""

SLOW = {"feed_cycle", "blower_jet", "firebox_heat"}
"""Models of the demo studies whose worst case takes seconds as they are: such are read alone."""


class RanAway(BaseException):
    """A case that did not end."""


class Met(NamedTuple):
    """How a case was met: what is wrong (empty where nothing is), how it ended, what it took."""

    why: str
    how: str
    seconds: float
    mebibytes: float


# --- judging ------------------------------------------------------------------------------------


def judge(case: Case) -> str:
    """Read a case, and do with a study what is asked: ``refused`` or ``answered``.

    Raises
    ------
    Exception
        Whatever is wrong with the program: an error that is not our own, a number that is none.
    """
    found = _judge_study(case) if case.unit is None else _judge_quantity(case.text, case.unit)
    if case.expected and found != case.expected:
        raise AssertionError(f"{found}, and should be {case.expected}")
    return found


def _judge_quantity(text: str, unit: str) -> str:
    from sensitivity.errors import QuantityError
    from sensitivity.quantities.quantity import read_quantity

    try:
        value = read_quantity(text, unit)
    except QuantityError as error:
        return _refused(error)
    assert isinstance(value, float), f"{value!r} is no float"
    assert math.isfinite(value), f"{value} is no quantity"
    return "answered"


def _refused(error: Exception) -> str:
    if not str(error):
        raise AssertionError("a refusal without words")
    return "refused"


def _judge_study(case: Case) -> str:
    from sensitivity.errors import SpiritlevelError
    from sensitivity.study.file import read_study

    with _empty_folder() as folder, chdir(folder):
        files = {"study.toml": case.text, "pins.py": MODELS, **dict(case.files)}
        for file, text in files.items():
            Path(file).write_bytes(text.encode("utf-8", "surrogatepass"))
        if case.words and case.words != READ:
            return _judge_call(case.words, set(files))
        mine = ["pins.py"] if "pin_fit" in case.text or "bolt" in case.text else []
        try:
            study = read_study(Path("study.toml"), mine)
        except SpiritlevelError as error:
            return _refused(error)
        if case.words == READ or SLOW & {model.name for model in study.system.models}:
            return "answered"
        of_mine = [word for file in mine for word in ("--model-file", file)]
        return _judge_call(("check", "study.toml", *of_mine), set(files))


@contextmanager
def _empty_folder() -> Iterator[Path]:
    """Lend the one folder of all cases: to make and remove one takes as long as to read a study.

    A model file lies at the same place each time, so that it is imported but once, too.
    """
    folder = _folder()
    try:
        yield Path(folder.name)
    finally:
        for path in Path(folder.name).iterdir():
            if path.is_dir() and not path.is_symlink():
                shutil.rmtree(path)
            else:
                path.unlink()


@cache
def _folder() -> tempfile.TemporaryDirectory[str]:
    return tempfile.TemporaryDirectory(prefix="spiritlevel-fuzz-")


@cache
def _command() -> Any:
    """Build the command with the options of all its own: once, as a process does."""
    from typer.main import get_command

    from sensitivity.command_line.app import app

    return get_command(app)


class Done(NamedTuple):
    """How a call ended, and what it said."""

    exit_code: int
    stdout: str
    stderr: str


def _called(words: tuple[str, ...]) -> Done:
    """Call the command in this process; what is no exit is raised."""
    # Texts of bytes, as a terminal's are: what is no UTF-8 cannot be written to standard output.
    out = io.TextIOWrapper(io.BytesIO(), encoding="utf-8", write_through=True)
    err = io.TextIOWrapper(
        io.BytesIO(), encoding="utf-8", errors="backslashreplace", write_through=True
    )
    code: object = 0
    with redirect_stdout(out), redirect_stderr(err):
        try:
            _command().main(args=list(words), prog_name="spiritlevel")
        except SystemExit as ended:
            code = ended.code or 0
    said = [stream.buffer.getvalue().decode("utf-8") for stream in (out, err)]
    return Done(code if isinstance(code, int) else 1, *said)


def _judge_call(words: tuple[str, ...], there: set[str]) -> str:
    """Call the command: its exit status, what it says, and what it leaves are as they should be."""
    with _faults_raised():
        done = _called(words)
    assert done.exit_code in (0, 2, 3), f"exit status {done.exit_code}: {done.stderr}"
    assert "Traceback" not in done.stdout + done.stderr, "a traceback"
    left = {path.name for path in Path().iterdir()} - there - {"__pycache__"}
    if done.exit_code == 2:
        assert done.stderr.strip(), "a refusal without words"
        assert not done.stdout.strip(), f"an answer beside a refusal: {done.stdout[:60]!a}"
        assert not left, f"refused, and left {sorted(left)}"
        return "refused"
    _judge_left(left)
    if "--json" in words:
        json.loads(done.stdout, parse_constant=_no_number)
    return "answered"


def _judge_left(left: set[str]) -> None:
    """See that what a call wrote is what it may write, and whole."""
    from sensitivity.presentation.manifest import is_whole

    for name in left:
        path = Path(name)
        if path.is_dir():
            assert is_whole(path), f"{name} is not whole"
            result = (path / "result.json").read_text(encoding="utf-8")
            json.loads(result, parse_constant=_no_number)
        else:
            assert path.suffix in (".json", ".toml", ".svg"), f"left {name}"


def _no_number(text: str) -> None:
    raise AssertionError(f"{text} in a document")


@contextmanager
def _faults_raised() -> Iterator[None]:
    """Have faults of the program's raised as they are, not put in words."""
    before = os.environ.get("SPIRITLEVEL_TRACEBACK")
    os.environ["SPIRITLEVEL_TRACEBACK"] = "1"
    try:
        yield
    finally:
        del os.environ["SPIRITLEVEL_TRACEBACK"]
        if before is not None:
            os.environ["SPIRITLEVEL_TRACEBACK"] = before


@contextmanager
def within(seconds: float) -> Iterator[None]:
    """End what takes longer."""

    def end(number: int, _: object) -> None:
        length = seconds if number == signal.SIGPROF else BLOCKED
        of = "of the processor" if number == signal.SIGPROF else "by the clock"
        raise RanAway(f"not done after {length:g} s {of}")

    timers = ((signal.ITIMER_PROF, seconds), (signal.ITIMER_REAL, BLOCKED))
    before = [signal.signal(number, end) for number in (signal.SIGPROF, signal.SIGALRM)]
    try:
        for timer, length in timers:
            signal.setitimer(timer, length)
        yield
    finally:
        for timer, _ in timers:
            signal.setitimer(timer, 0)
        for number, handler in zip((signal.SIGPROF, signal.SIGALRM), before, strict=True):
            signal.signal(number, handler)


def met(case: Case, seconds: float = RUNS_AWAY) -> Met:
    """Judge a case, and measure what it took."""
    if case.unit is None:
        _warm()
    before = _memory("VmRSS") if _peak_forgotten() else 0.0
    start = time.process_time()
    why = how = ""
    try:
        with within(seconds):
            how = judge(case)
    except (Exception, RanAway, SystemExit) as error:
        why = f"{type(error).__name__}: {error}".split("\n")[0][:200]
    took = time.process_time() - start
    more = _memory("VmHWM") - before if before else 0.0
    if took > seconds:  # whoever took the end for an error of a model's
        why = f"{RanAway.__name__}: not done after {seconds:g} s"
    elif how == "refused" and took > LONGEST_REFUSAL:
        why = f"Slow: refused after {took:.2f} s"
    elif how == "refused" and more > LARGEST_REFUSAL:
        why = f"Large: refused with {more:.0f} MiB"
    return Met(why, how, took, more)


def fault(case: Case, seconds: float = RUNS_AWAY) -> str:
    """Say what is wrong with how a case is met; empty where nothing is."""
    return met(case, seconds).why


@cache
def _warm() -> None:
    """Import what the first call would, so that no case is charged for it."""

    with suppress(Exception):
        judge(Case(SMALL[0]))


def _peak_forgotten() -> bool:
    """Have the system forget the most memory that this process had; False where it cannot."""
    try:
        Path("/proc/self/clear_refs").write_text("5")
    except OSError:
        return False
    return True


def _memory(name: str) -> float:
    """MiB that this process has (VmRSS), or had at most (VmHWM)."""
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith(name):
            return int(line.split()[1]) / 1024
    return 0.0
