"""The results folder: whole or not at all, nobody else's, and nothing left lying about."""

import errno
import hashlib
import json
import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest

from sensitivity.errors import FolderError, MachineError
from sensitivity.presentation.folder import JOURNAL, check_folder, write_folder
from sensitivity.presentation.manifest import manifest_text
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


def names_in(folder):
    return sorted(everything_in(folder))


NEW = {"result.json": OURS, "report.html": "new", "tables/inputs.csv": "a,b\n"}
WRITTEN = ["manifest.json", "report.html", "result.json", "tables", "tables/inputs.csv"]


def test_new_folder_is_put_in_place_with_a_list_of_its_files(tmp_path):
    target = tmp_path / "results"
    write_folder(target, {**NEW, "samples.csv.gz": b"\x00\xff"})
    assert names_in(tmp_path) == ["results"] + [
        f"results/{name}" for name in sorted([*WRITTEN, "samples.csv.gz"])
    ]
    listed = json.loads((target / "manifest.json").read_text())["files"]
    # The digest of the two bytes is the system's own, not ours.
    assert listed["samples.csv.gz"] == hashlib.sha256(b"\x00\xff").hexdigest()
    assert set(listed) == {*NEW, "samples.csv.gz"}


def test_earlier_results_are_replaced_whole(earlier, tmp_path):
    check_folder(earlier)
    write_folder(earlier, {"report.html": "new"})
    write_folder(earlier, {"result.json": OURS})
    assert names_in(tmp_path) == [
        "beside.txt", "results", "results/manifest.json", "results/result.json",
    ]  # fmt: skip


def test_empty_folder_may_be_filled(tmp_path):
    target = tmp_path / "results"
    target.mkdir()
    check_folder(target)
    write_folder(target, {"a": "a"})
    assert names_in(target) == ["a", "manifest.json"]


@pytest.mark.parametrize("mask", [0o022, 0o027, 0o077])
def test_umask_is_respected(tmp_path, mask):
    before = os.umask(mask)
    try:
        for _ in range(2):  # new, and in place of an earlier one
            write_folder(tmp_path / "results", NEW)
    finally:
        os.umask(before)
    for path in [tmp_path / "results", *(tmp_path / "results").rglob("*")]:
        wanted = (0o777 if path.is_dir() else 0o666) & ~mask
        assert path.stat().st_mode & 0o777 == wanted, path


def test_folder_that_its_owner_has_closed_stays_closed(tmp_path):
    write_folder(tmp_path / "results", NEW)
    (tmp_path / "results").chmod(0o700)
    write_folder(tmp_path / "results", NEW)
    assert (tmp_path / "results").stat().st_mode & 0o777 == 0o700


THROWN = pytest.mark.parametrize(
    ("thrown", "expected"),
    [
        (RuntimeError("a fault"), RuntimeError),
        (KeyboardInterrupt(), KeyboardInterrupt),
        (OSError(errno.ENOSPC, "No space left on device"), MachineError),
        (PermissionError(errno.EACCES, "Permission denied"), MachineError),
    ],
    ids=["fault", "interrupt", "disk full", "permission"],
)


@THROWN
@pytest.mark.parametrize("place", range(1, 6))
def test_what_goes_wrong_while_writing_leaves_what_stood_before(
    earlier, tmp_path, monkeypatch, thrown, expected, place
):
    before = everything_in(tmp_path)
    plain, calls = Path.write_bytes, []

    def failing(self, content):
        calls.append(self)
        if len(calls) == place:
            plain(self, content[: len(content) // 2])
            raise thrown
        return plain(self, content)

    monkeypatch.setattr(Path, "write_bytes", failing)
    with pytest.raises(expected):
        write_folder(earlier, NEW)
    assert len(calls) == place
    assert everything_in(tmp_path) == before


@THROWN
@pytest.mark.parametrize("move", [1, 2])
def test_what_goes_wrong_at_a_move_leaves_what_stood_before(
    earlier, tmp_path, monkeypatch, thrown, expected, move
):
    # Before the second the earlier folder has been moved aside and the new one is not in its place.
    before = everything_in(tmp_path)
    rename, calls = Path.rename, []

    def failing(self, to):
        calls.append(self)
        if len(calls) == move:
            raise thrown
        return rename(self, to)

    monkeypatch.setattr(Path, "rename", failing)
    with pytest.raises(expected):
        write_folder(earlier, NEW)
    assert len(calls) >= move
    assert everything_in(tmp_path) == before


@pytest.mark.parametrize("times", [1, 100])
def test_earlier_results_that_cannot_be_removed_are_no_fault_of_the_new(
    earlier, tmp_path, monkeypatch, times
):
    unlink, calls = Path.unlink, []

    def failing(self, missing_ok=False):
        if "earlier" in self.parts and len(calls) < times:
            calls.append(self)
            raise OSError(errno.EIO, "Input/output error")
        return unlink(self, missing_ok)

    monkeypatch.setattr(Path, "unlink", failing)
    write_folder(earlier, NEW)
    assert names_in(earlier) == WRITTEN
    assert calls
    monkeypatch.setattr(Path, "unlink", unlink)
    check_folder(earlier)  # as the next run does
    assert sorted(path.name for path in tmp_path.iterdir()) == ["beside.txt", "results"]
    assert names_in(earlier) == WRITTEN


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
    with pytest.raises(FolderError, match=r"something other than results.*--out") as refused:
        check_folder(target)
    assert next(iter(files)) in str(refused.value)
    assert everything_in(tmp_path) == before


@pytest.fixture(params=["0.1.0", "with a list"])
def ours(request, tmp_path):
    """A results folder as the first version left it, or with its list."""
    target = tmp_path / "results"
    study = "title = 'as it was run'\n"
    document = json.dumps({"schema": 1, "spiritlevel": "0.1.0", "models": ["b"], "study": study})
    files = {
        "result.json": document, "report.html": "report", "study.toml": study,
        "tables/inputs.csv": "a\n", "figures/drawing_b.svg": "<svg/>", "figures/b.svg": "<svg/>",
    }  # fmt: skip
    write_folder(target, files)
    if request.param == "0.1.0":
        (target / "manifest.json").unlink()
    return target


SOMEBODY_S = [
    "notes.txt", "pipe.toml", "thesis.docx", "tables/mine.csv", "figures/photo.svg",
    "figures/deep/photo.svg", "empty/", "report.html", "study.toml", "manifest.json.part",
    "tables/link.csv", "report-link", "fifo",
]  # fmt: skip


@pytest.mark.parametrize("name", SOMEBODY_S)
def test_no_file_of_somebody_s_is_removed(ours, tmp_path, name):
    path = ours / name
    if name == "report.html" and not (ours / "manifest.json").exists():
        path = ours / "report.htm"
    path.parent.mkdir(exist_ok=True)
    (tmp_path / "elsewhere.csv").write_text("mine")
    if name.endswith("/"):
        path.mkdir()
    elif "link" in name:
        path.symlink_to(tmp_path / "elsewhere.csv")
    elif name == "fifo":
        os.mkfifo(path)
    else:
        path.write_text("mine")
    before = everything_in(tmp_path)
    for refusing in (check_folder, lambda folder: write_folder(folder, NEW)):
        with pytest.raises(FolderError, match="left alone") as refused:
            refusing(ours)
        assert path.relative_to(ours).as_posix().split("/")[-1] in str(refused.value)
    assert everything_in(tmp_path) == before


def test_folder_in_it_that_is_a_link_is_somebody_s(ours, tmp_path):
    (ours / "tables").rename(tmp_path / "moved")
    (ours / "tables").symlink_to(tmp_path / "moved")
    before = everything_in(tmp_path)
    with pytest.raises(FolderError, match="tables"):
        check_folder(ours)
    assert everything_in(tmp_path) == before


def test_what_spiritlevel_wrote_is_replaced(ours):
    check_folder(ours)
    write_folder(ours, NEW)
    assert names_in(ours) == WRITTEN


def test_studies_of_a_first_comparison_are_known_by_its_designs(tmp_path):
    target = tmp_path / "results"
    target.mkdir()
    designs = [{"name": "short"}, {"name": "../tall"}]
    (target / "result.json").write_text(
        json.dumps({"schema": 1, "spiritlevel": "0.1.0", "designs": designs})
    )
    (target / "short.toml").write_text("")
    check_folder(target)
    (target / "tall.toml").write_text("mine")
    with pytest.raises(FolderError, match=r"tall\.toml"):
        check_folder(target)


@pytest.mark.parametrize("name", ["../beside.txt", "/etc/hostname", "tables/../../beside.txt", "."])
def test_forged_list_reaches_nothing_outside(tmp_path, name):
    target = tmp_path / "results"
    write_folder(target, NEW)
    (tmp_path / "beside.txt").write_text("mine")
    (target / "manifest.json").write_text(
        json.dumps({"manifest": 1, "files": {name: None, "report.html": None}})
    )
    with pytest.raises(FolderError, match="left alone"):
        check_folder(target)
    assert (tmp_path / "beside.txt").read_text() == "mine"


def test_many_strangers_are_named_in_short(tmp_path):
    for number in range(9):
        (tmp_path / "results").mkdir(exist_ok=True)
        (tmp_path / "results" / f"{number}.txt").write_text("mine")
    with pytest.raises(FolderError, match=r"\(0.txt, 1.txt, 2.txt and more\)"):
        check_folder(tmp_path / "results")


# --- what stands beside it ----------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    ["file", "folder/notes.txt", "folder/journal.txt", "folder/new/a.txt", "folder/earlier/a.txt"],
)
def test_what_has_the_name_of_unfinished_work_but_is_not_is_left_alone(tmp_path, name):
    path = tmp_path / name.replace("folder", "results.unfinished").replace(
        "file", "results.unfinished"
    )
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("mine")
    before = everything_in(tmp_path)
    with pytest.raises(FolderError, match=r"results\.unfinished is in the way"):
        check_folder(tmp_path / "results")
    assert everything_in(tmp_path) == before


def test_file_put_into_unfinished_work_is_left_alone(tmp_path):
    beside = tmp_path / "results.unfinished"
    (beside / "new").mkdir(parents=True)
    (beside / "journal.txt").write_text(JOURNAL)
    (beside / "new" / "notes.txt").write_text("mine")
    with pytest.raises(FolderError, match=r"notes\.txt.*did not write"):
        check_folder(tmp_path / "results")
    assert (beside / "new" / "notes.txt").read_text() == "mine"


def test_half_written_file_of_a_killed_run_is_removed(tmp_path):
    beside = tmp_path / "results.unfinished"
    (beside / "new" / "tables").mkdir(parents=True)
    (beside / "journal.txt").write_text(JOURNAL)
    (beside / "new" / "manifest.json").write_text(
        manifest_text("0.1.0", {"report.html": None, "tables/a.csv": None})
    )
    (beside / "new" / "report.html").write_text("<html><bo")
    check_folder(tmp_path / "results")
    assert everything_in(tmp_path) == {}


def test_earlier_results_and_others_in_their_place_are_both_left(tmp_path):
    # Killed between the two moves, and then somebody made another folder of that name.
    beside = tmp_path / "results.unfinished"
    beside.mkdir()
    write_folder(beside / "new", NEW)
    write_folder(beside / "earlier", NEW)
    (beside / "journal.txt").write_text(JOURNAL)
    (tmp_path / "results").mkdir()
    before = everything_in(tmp_path)
    with pytest.raises(FolderError, match="before a run that was killed"):
        check_folder(tmp_path / "results")
    assert everything_in(tmp_path) == before


def test_one_waits_for_the_other_that_writes_in_the_same_place(tmp_path, monkeypatch):
    fcntl = pytest.importorskip("fcntl")
    monkeypatch.setattr("sensitivity.presentation.folder.LONGEST_WAIT", 0.05)
    other = os.open(tmp_path, os.O_RDONLY)
    fcntl.flock(other, fcntl.LOCK_EX)
    with pytest.raises(MachineError, match="another run"):
        write_folder(tmp_path / "results", NEW)
    os.close(other)
    write_folder(tmp_path / "results", NEW)
    assert names_in(tmp_path / "results") == WRITTEN


# --- links and odd places -----------------------------------------------------------------------


def test_link_is_followed(tmp_path):
    (tmp_path / "disk").mkdir()
    (tmp_path / "latest").symlink_to("disk/results")
    (tmp_path / "disk" / "results").mkdir()
    for _ in range(2):
        check_folder(tmp_path / "latest")
        write_folder(tmp_path / "latest", NEW)
    assert (tmp_path / "latest").is_symlink()
    assert names_in(tmp_path / "disk" / "results") == WRITTEN
    assert sorted(path.name for path in tmp_path.iterdir()) == ["disk", "latest"]


@pytest.mark.parametrize(
    ("leads_to", "says"),
    [("nowhere", "link to nowhere, which is not there"), ("loop", "round to itself")],
)
def test_link_to_nowhere_and_round_in_a_circle(tmp_path, leads_to, says):
    (tmp_path / "loop").symlink_to(leads_to)
    with pytest.raises(FolderError, match=says):
        check_folder(tmp_path / "loop")
    with pytest.raises(FolderError):
        check_folder(tmp_path / "loop" / "results")
    assert [path.name for path in tmp_path.iterdir()] == ["loop"]


@pytest.mark.parametrize("there", [".", "..", "deep/.."])
def test_folder_that_one_stands_in_is_refused(tmp_path, monkeypatch, there):
    write_folder(tmp_path / "results", {"tables/a.csv": "a", "deep/a": "a"})
    monkeypatch.chdir(tmp_path / "results" / ("tables" if there == ".." else "."))
    with pytest.raises(FolderError, match="the one you stand in"):
        check_folder(Path(there))


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
    monkeypatch.setattr("sensitivity.answers.run.find.run_replicates", None)  # must not be reached
    ran = run_study()
    assert ran.exit_code == 2
    assert "study-results" in ran.stderr
    assert "--out" in ran.stderr
    assert (tmp_path / "study-results" / "notes.txt").read_text() == "mine"


@pytest.mark.usefixtures("no_figures")
def test_run_replaces_its_own_earlier_results(run_study, tmp_path):
    assert run_study(GOOD, "--seed", 1).exit_code == 0
    assert run_study(GOOD, "--seed", 2).exit_code == 0
    assert json.loads((tmp_path / "study-results" / "result.json").read_text())["seed"] == 2
    assert sorted(path.name for path in tmp_path.iterdir()) == ["study-results", "study.toml"]


def test_run_where_nothing_may_be_written(run_study, locked_folder, monkeypatch):
    monkeypatch.setattr("sensitivity.answers.run.find.run_replicates", None)
    ran = run_study(GOOD, "--out", locked_folder / "results")
    assert ran.exit_code == 1
    assert str(locked_folder / "results") in ran.stderr
    assert "cannot be written" in ran.stderr


FULL = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


@pytest.mark.parametrize(
    "name", ["report.html", "result.json", "study.toml", ".svg", "inputs.csv", "samples.csv.gz"]
)
def test_disk_full_at_any_file(run_study, tmp_path, earlier, monkeypatch, name):
    if name != ".svg":
        for drawn in ("results_drawn", "run_figures"):
            monkeypatch.setattr(f"sensitivity.answers.run.figures.{drawn}", lambda result: {})
    before = everything_in(earlier)
    plain = Path.write_bytes

    def full(self, content):
        if self.name.endswith(name):
            raise FULL
        return plain(self, content)

    monkeypatch.setattr(Path, "write_bytes", full)
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
