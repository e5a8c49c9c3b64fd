"""The results folder: whole or not at all, nobody else's, and nothing left lying about."""

import errno
import json
import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest

from sensitivity.errors import FolderError, MachineError
from sensitivity.presentation.folder import check_folder, new_results
from tests.strategies import GOOD

OURS = json.dumps({"schema": 1, "spiritlevel": "0.0.9"})


def everything_in(folder):
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else None
        for path in sorted(folder.rglob("*"))
    }


@pytest.fixture
def earlier(tmp_path):
    """An earlier results folder, and one file beside it."""
    target = tmp_path / "results"
    (target / "tables").mkdir(parents=True)
    (target / "result.json").write_text(OURS)
    (target / "tables" / "inputs.csv").write_text("as it was")
    (tmp_path / "beside.txt").write_text("beside")
    return target


@pytest.fixture
def locked_folder(tmp_path):
    """A folder in which nobody, root included, may make another."""
    if os.geteuid() != 0:
        folder = tmp_path / "locked"
        folder.mkdir()
        folder.chmod(0o555)
        yield folder
        folder.chmod(0o755)
    else:
        folder = Path("/sys/kernel")  # kernel-made: mkdir is refused whoever asks
        with pytest.raises(OSError, match=r"not permitted|Read-only|denied"):
            (folder / "spiritlevel-probe").mkdir()
        yield folder


# --- written whole ------------------------------------------------------------------------------


def test_new_folder_is_put_in_place(tmp_path):
    target = tmp_path / "results"
    with new_results(target) as folder:
        (folder / "result.json").write_text(OURS)
        assert not target.exists()
    assert everything_in(tmp_path) == {"results": None, "results/result.json": OURS.encode()}
    assert target.stat().st_mode & 0o777 == 0o755


def test_earlier_results_are_replaced_whole(earlier, tmp_path):
    check_folder(earlier)
    with new_results(earlier) as folder:
        (folder / "report.html").write_text("new")
        assert (earlier / "tables" / "inputs.csv").read_text() == "as it was"
    assert everything_in(tmp_path) == {
        "beside.txt": b"beside",
        "results": None,
        "results/report.html": b"new",
    }


def test_empty_folder_may_be_filled(tmp_path):
    target = tmp_path / "results"
    target.mkdir()
    check_folder(target)
    with new_results(target) as folder:
        (folder / "a").write_text("a")
    assert everything_in(tmp_path) == {"results": None, "results/a": b"a"}


@pytest.mark.parametrize(
    ("thrown", "expected"),
    [
        (RuntimeError("a fault"), RuntimeError),
        (KeyboardInterrupt(), KeyboardInterrupt),
        (OSError(errno.ENOSPC, "No space left on device"), MachineError),
        (PermissionError(errno.EACCES, "Permission denied"), MachineError),
    ],
    ids=["fault", "interrupt", "disk full", "permission"],
)
def test_what_goes_wrong_while_writing_leaves_what_stood_before(
    earlier, tmp_path, thrown, expected
):
    before = everything_in(tmp_path)

    def write_half():
        with new_results(earlier) as folder:
            (folder / "half").write_text("half")
            raise thrown

    with pytest.raises(expected):
        write_half()
    assert everything_in(tmp_path) == before


@pytest.mark.parametrize(
    "thrown",
    [
        KeyboardInterrupt(),
        OSError(errno.ENOSPC, "No space left on device"),
    ],
    ids=["interrupt", "disk full"],
)
def test_what_goes_wrong_between_the_two_moves_leaves_what_stood_before(
    earlier, tmp_path, monkeypatch, thrown
):
    # The earlier folder has been moved aside and the new one is not yet in its place.
    before = everything_in(tmp_path)
    rename, calls = Path.rename, []

    def interrupted(self, to):
        calls.append(self)
        if len(calls) == 2:
            raise thrown
        return rename(self, to)

    monkeypatch.setattr(Path, "rename", interrupted)

    def write():
        with new_results(earlier) as folder:
            (folder / "new").write_text("new")

    with pytest.raises((MachineError, KeyboardInterrupt)):
        write()
    assert len(calls) >= 2
    assert everything_in(tmp_path) == before


# --- whose folder -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "files",
    [
        {"notes.txt": "mine"},
        {"result.json": "{}"},
        {"result.json": '{"schema": 1}'},
        {"result.json": '[{"schema": 1, "spiritlevel": "0"}]'},
        {"result.json": "not json"},
        {"result.json": "\xff\xfe"},
        {"result.json": "[" * 100_000},
        {".hidden": ""},
    ],
    ids=["notes", "empty json", "another's", "a list", "no json", "binary", "deep", "hidden"],
)
def test_folder_of_someone_else_is_refused_and_left_alone(tmp_path, files):
    target = tmp_path / "results"
    target.mkdir()
    for name, text in files.items():
        (target / name).write_text(text, encoding="latin-1")
    before = everything_in(tmp_path)
    with pytest.raises(FolderError, match=r"something other than results.*--out"):
        check_folder(target)
    assert everything_in(tmp_path) == before


def test_file_in_its_place_is_refused(tmp_path):
    (tmp_path / "results").write_text("a file")
    with pytest.raises(FolderError, match="is a file"):
        check_folder(tmp_path / "results")


@pytest.mark.parametrize("name", ["gone/results", "file/results"])
def test_parent_that_is_no_folder_is_refused(tmp_path, name):
    (tmp_path / "file").write_text("a file")
    with pytest.raises(FolderError):
        check_folder(tmp_path / name)


def test_check_leaves_no_trace(tmp_path):
    check_folder(tmp_path / "results")
    assert everything_in(tmp_path) == {}


def test_locked_folder_is_the_machines_fault(locked_folder):
    with pytest.raises(MachineError, match="cannot be written") as refused:
        check_folder(locked_folder / "results")
    assert refused.value.exit_status == 1


# --- through the command ------------------------------------------------------------------------


def test_run_refuses_a_foreign_folder_before_it_samples(run_study, tmp_path, monkeypatch):
    (tmp_path / "study-results").mkdir()
    (tmp_path / "study-results" / "notes.txt").write_text("mine")
    monkeypatch.setattr(
        "sensitivity.engine.monte_carlo.run_replicates", None
    )  # must not be reached
    ran = run_study()
    assert ran.exit_code == 2
    assert "study-results" in ran.stderr
    assert "--out" in ran.stderr
    assert (tmp_path / "study-results" / "notes.txt").read_text() == "mine"


@pytest.mark.usefixtures("no_figures")
def test_run_replaces_its_own_earlier_results(run_study, tmp_path):
    assert run_study(GOOD, "--seed", 1).exit_code == 0
    (tmp_path / "study-results" / "tables" / "leftover.csv").write_text("old")
    assert run_study(GOOD, "--seed", 2).exit_code == 0
    assert json.loads((tmp_path / "study-results" / "result.json").read_text())["seed"] == 2
    assert not (tmp_path / "study-results" / "tables" / "leftover.csv").exists()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["study-results", "study.toml"]


def test_run_where_nothing_may_be_written(run_study, locked_folder, monkeypatch):
    monkeypatch.setattr("sensitivity.engine.monte_carlo.run_replicates", None)
    ran = run_study(GOOD, "--out", locked_folder / "results")
    assert ran.exit_code == 1
    assert str(locked_folder / "results") in ran.stderr
    assert "cannot be written" in ran.stderr


FULL = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


@pytest.mark.parametrize(
    "name", ["report.html", "result.json", "study.toml", ".svg", "inputs.csv", "samples.csv.gz"]
)
def test_disk_full_at_any_file(run_study, tmp_path, earlier, monkeypatch, name):
    import pandas as pd

    if name != ".svg":
        monkeypatch.setattr("sensitivity.answers.run.figures.run_figures", lambda result: {})
    before = everything_in(earlier)
    for owner, method in ((Path, "write_text"), (pd.DataFrame, "to_csv")):
        plain = getattr(owner, method)

        def full(self, *words, plain=plain, **more):
            target = str(self if isinstance(self, Path) else words[0])
            if target.endswith(name) and "/.spiritlevel-" in target:
                raise FULL
            return plain(self, *words, **more)

        monkeypatch.setattr(owner, method, full)
    ran = run_study(GOOD, "--out", earlier, "--keep-samples")
    assert ran.exit_code == 1
    assert "no space left on device" in ran.stderr
    assert str(earlier) in ran.stderr
    assert ran.stdout == ""
    assert everything_in(earlier) == before
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "beside.txt",
        "results",
        "study.toml",
    ]


def test_no_room_for_so_large_a_file(tmp_path, model_file, earlier):
    # A limit that the system itself sets: no file may grow past 8 kB, which the report does.
    (tmp_path / "study.toml").write_text(GOOD)
    before = everything_in(earlier)
    process = subprocess.run(
        [sys.executable, "-m", "sensitivity", "run",
         "study.toml", "--model-file", str(model_file), "--out", "results"],
        cwd=tmp_path, capture_output=True, text=True, check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (8192, 8192)),
    )  # fmt: skip
    assert process.returncode == 1
    assert "cannot be written" in process.stderr
    assert "Traceback" not in process.stderr
    assert process.stdout == ""
    assert everything_in(earlier) == before
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "beside.txt",
        "results",
        "study.toml",
    ]


@pytest.mark.usefixtures("no_figures")
def test_current_folder_as_results(run_command, write_study, model_file, at_home, monkeypatch):
    # Either it is filled, or it is refused before any sampling: not an hour later.
    study = write_study(GOOD)
    (at_home / "here").mkdir()
    monkeypatch.chdir(at_home / "here")
    ran = run_command("run", study, "--model-file", model_file, "--out", ".")
    if ran.exit_code == 0:
        assert (at_home / "here" / "result.json").exists()
    else:
        assert ran.exit_code == 2
        assert everything_in(at_home / "here") == {}


@pytest.mark.usefixtures("no_figures")
def test_link_to_an_earlier_folder(run_study, tmp_path, earlier):
    (tmp_path / "latest").symlink_to(earlier)
    assert run_study(GOOD, "--out", tmp_path / "latest").exit_code == 0
    assert "title" in json.loads((tmp_path / "latest" / "result.json").read_text())
    assert not [path.name for path in tmp_path.iterdir() if path.name.startswith(".")]
