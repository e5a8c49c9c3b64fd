"""Streams and surroundings as bad as they come: a message and the promised status."""

import json
import os
import resource
import subprocess
import sys

import pytest

from tests.strategies import GOOD, MODELS


@pytest.fixture
def at_bench(tmp_path):
    """Run the command in a process of its own, beside a study and its models."""
    (tmp_path / "study.toml").write_text(GOOD)
    (tmp_path / "pins.py").write_text(MODELS)
    plain = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "PYTHONWARNINGS")}

    def run(command, *words, environment=(), **more):
        streams = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE} | more
        return subprocess.run(
            [sys.executable, "-m", "sensitivity", command, "study.toml", "--model-file", "pins.py",
             *words],
            cwd=tmp_path, env=plain | dict(environment), check=False, timeout=120, **streams,
        )  # fmt: skip

    return run


def test_closed_standard_output_is_told_before_anything_is_done(at_bench, tmp_path):
    done = at_bench("run", stdout=None, preexec_fn=lambda: os.close(1))
    assert done.returncode == 1
    assert b"standard output is closed" in done.stderr
    assert not (tmp_path / "study-results").exists()


def test_closed_standard_error_takes_nothing_from_the_answer(at_bench):
    done = at_bench("check", stderr=None, preexec_fn=lambda: os.close(2))
    assert done.returncode == 0
    assert b"A pin in a hole" in done.stdout


@pytest.mark.parametrize("words", [[], ["--json"], ["--quiet"]], ids=str)
def test_full_standard_output_says_where_the_results_are(at_bench, tmp_path, words):
    with open("/dev/full", "w") as full:
        done = at_bench("run", *words, stdout=full)
    assert done.returncode == 1
    assert done.stderr.decode().splitlines() == [
        "spiritlevel: standard output cannot be written: no space left on device; the results "
        "stand in study-results"
    ]
    assert (tmp_path / "study-results" / "result.json").exists()


def test_help_into_a_full_disk(tmp_path):
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "sensitivity", "--help"],
            stdout=full, stderr=subprocess.PIPE, text=True, check=False,
        )  # fmt: skip
    assert done.returncode == 1
    assert done.stderr.splitlines() == [
        "spiritlevel: standard output cannot be written: no space left on device"
    ]


ASCII = {"LC_ALL": "C", "PYTHONCOERCECLOCALE": "0", "PYTHONUTF8": "0"}


def test_json_is_utf_8_whatever_the_locale(at_bench, tmp_path):
    done = at_bench("run", "--json", environment=ASCII)
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout == (tmp_path / "study-results" / "result.json").read_bytes()
    assert json.loads(done.stdout)["seed"] == 1
    assert "±" in done.stdout.decode("utf-8")


def test_screen_and_message_in_a_locale_of_ascii(at_bench):
    done = at_bench("check", environment=ASCII)
    assert done.returncode == 0
    assert b"A pin in a hole" in done.stdout
    done = at_bench("run", "--points", "7", "--out", "größe", environment=ASCII)
    assert done.returncode == 2
    assert b"Traceback" not in done.stderr


@pytest.mark.parametrize(
    "environment",
    [
        {"MPLBACKEND": "bogus", "MPLCONFIGDIR": "/proc/nowhere", "TERM": "bogus"},
        {"HOME": "/nowhere", "PYTHONHASHSEED": "1"},
    ],
    ids=str,
)  # fmt: skip
def test_surroundings_that_do_not_matter(at_bench, tmp_path, environment):
    done = at_bench("run", environment=environment)
    assert (done.returncode, done.stderr) == (0, b"")
    assert (tmp_path / "study-results" / "figures" / "results.svg").exists()


@pytest.mark.parametrize("columns", ["0", "1", "-3", "many", "", "99999999999"])
def test_any_number_of_columns(run_study, monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", columns)
    done = run_study(command="check")
    assert (done.exit_code, done.stderr) == (0, "")
    assert "A pin in a hole" in done.stdout


@pytest.mark.parametrize("handles", [5, 8, 12, 14])
def test_few_file_handles(at_bench, tmp_path, handles):
    done = at_bench(
        "run", "--workers", "2",
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_NOFILE, (handles, handles)),
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (1, b"")
    assert b"oo many open files" in done.stderr
    assert b"Traceback" not in done.stderr
    assert not (tmp_path / "study-results").exists()


def test_warning_of_a_library_does_not_reach_the_user(at_bench, tmp_path):
    (tmp_path / "pins.py").write_text(
        MODELS.replace(
            "import numpy as np",
            "import logging\nimport warnings\nimport numpy as np\n"
            "warnings.warn('a library says')\nlogging.getLogger('lib').warning('a library logs')",
            1,
        )
    )
    done = at_bench("run", "--workers", "2", "--quiet")
    assert (done.returncode, done.stderr) == (0, b"")


def test_warnings_are_there_for_the_asking(at_bench, tmp_path):
    (tmp_path / "pins.py").write_text("import warnings\nwarnings.warn('a library says')\n" + MODELS)
    done = at_bench("check", environment={"PYTHONWARNINGS": "always"})
    assert b"a library says" in done.stderr
