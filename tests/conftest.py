"""Fixtures: the command run in process, a small model file, studies in a folder of their own."""

import json
import os
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from hypothesis import HealthCheck, settings
from typer.testing import CliRunner

from tests.strategies import GOOD, MODELS

# The same examples each time, and nothing timed.
settings.register_profile(
    "house",
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
settings.load_profile("house")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """Give the tests of a file to one worker: what they share is then made once, not by each."""
    from xdist.scheduler import LoadFileScheduling

    return LoadFileScheduling(config, log)


MEANT_FOR_PEOPLE = ("NO_COLOR", "FORCE_COLOR", "TTY_COMPATIBLE", "COLUMNS", "SPIRITLEVEL_TRACEBACK")


class Ran(NamedTuple):
    """What a command left: exit status, standard output, standard error."""

    exit_code: int
    stdout: str
    stderr: str


def invoke(*words: object) -> Ran:
    """Run the command in this process, where it stands; an exception that gets out is raised."""
    from sensitivity.command_line.app import app

    done = CliRunner().invoke(app, [str(word) for word in words], catch_exceptions=False)
    return Ran(done.exit_code, done.stdout, done.stderr)


@pytest.fixture(scope="session")
def model_file(tmp_path_factory) -> Path:
    """A file with the models of ``strategies.MODELS``."""
    path = tmp_path_factory.mktemp("models") / "pins.py"
    path.write_text(MODELS, encoding="utf-8")
    return path


@pytest.fixture
def at_home(tmp_path, monkeypatch) -> Path:
    """An empty folder to stand in, and an environment that asks for nothing."""
    for name in MEANT_FOR_PEOPLE:
        monkeypatch.delenv(name, raising=False)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def run_command(at_home):
    """Run ``spiritlevel`` in process, standing in ``tmp_path``."""
    return invoke


@pytest.fixture
def write_study(tmp_path):
    """Write a study's text to ``tmp_path`` and return its path."""

    def write(text: str = GOOD, name: str = "study.toml") -> Path:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return write


@pytest.fixture
def read(write_study, model_file):
    """Write a study and read it back, joined to the small models."""
    from sensitivity.study.file import read_study

    def read_text(text: str = GOOD) -> Any:
        return read_study(write_study(text), [str(model_file)])

    return read_text


@pytest.fixture
def run_study(run_command, write_study, model_file):
    """Write a study and run it, or another command on it, with further words."""

    def run(text: str = GOOD, *words: object, command: str = "run") -> Ran:
        return run_command(command, write_study(text), "--model-file", model_file, *words)

    return run


@pytest.fixture
def no_figures(monkeypatch):
    """Leave the figures out of a run where nobody looks at them: they take most of its time."""
    for name in ("results_drawn", "run_figures"):
        monkeypatch.setattr(f"sensitivity.answers.run.figures.{name}", lambda result: {})


class Finished(NamedTuple):
    """A run of the good study that several tests look at."""

    ran: Ran
    folder: Path
    document: dict[str, Any]


@pytest.fixture(scope="session")
def finished(tmp_path_factory, model_file) -> Finished:
    """Run the good study once, with pairs and samples."""
    folder = tmp_path_factory.mktemp("finished")
    (folder / "study.toml").write_text(GOOD, encoding="utf-8")
    target = folder / "results"
    environment = dict(os.environ)
    for name in MEANT_FOR_PEOPLE:
        os.environ.pop(name, None)
    try:
        ran = invoke(
            "run", folder / "study.toml", "--model-file", model_file, "--out", target,
            "--pairs", "--keep-samples", "--workers", 1,
        )  # fmt: skip
    finally:
        os.environ.update(environment)
    assert ran.exit_code == 0, ran.stderr
    return Finished(ran, target, json.loads((target / "result.json").read_text(encoding="utf-8")))
