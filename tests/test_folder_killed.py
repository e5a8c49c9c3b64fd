"""A kill at any step of writing results: the next run finishes or restores, and leaves no trace.

A child process is killed by the system (SIGKILL) just before the nth change that it makes to the
disk, for every n; Python's audit events tell of each change.
"""

import json
import subprocess
import sys

import pytest

SCRIPT = """
import json, os, shutil, signal, sys
from pathlib import Path
from sensitivity.presentation.folder import check_folder, write_folder
from sensitivity.presentation.manifest import is_whole

home, scene = Path(sys.argv[1]), sys.argv[2]
target = home / "results"
OLD = {"result.json": "old", "tables/old.csv": "1"}
NEW = {"result.json": "new", "tables/new.csv": "2"}
step, fatal = 0, None


def watch(event, words):
    global step
    if fatal is None or str(home) not in str(words[0] if words else ""):
        return
    changes = event in ("os.mkdir", "os.rename", "os.remove", "os.rmdir")
    if changes or (event == "open" and "w" in str(words[1])):
        step += 1
        if fatal(step, event, words):
            os.kill(os.getpid(), signal.SIGKILL)


sys.addaudithook(watch)


def killed(job, when):
    global step, fatal
    child = os.fork()
    if child == 0:
        step, fatal = 0, when
        job()
        os._exit(0)
    return os.WIFSIGNALED(os.waitpid(child, 0)[1])


def stands():
    return {path.relative_to(target).as_posix(): path.read_text()
            for path in target.rglob("*") if path.is_file() and path.name != "manifest.json"}


def second_move(step, event, words):
    return event == "os.rename" and str(words[1]) == str(target)


seen = []
while not seen or seen[-1][0]:
    number = len(seen) + 1
    shutil.rmtree(target, ignore_errors=True)
    if scene != "first":
        write_folder(target, OLD)
    if scene == "mending":
        assert killed(lambda: write_folder(target, NEW), second_move)
        assert not target.exists()
        job = lambda: check_folder(target)
    else:
        job = lambda: write_folder(target, NEW)
    died = killed(job, lambda step, event, words: step == number)
    assert {path.name for path in home.iterdir()} <= {"results", "results.unfinished"}
    check_folder(target)
    left = [path.name for path in home.iterdir()]
    assert left == ["results"] or (scene == "first" and left == []), left
    if left:
        assert is_whole(target)
        assert stands() == NEW or (scene != "first" and stands() == OLD), stands()
    seen.append((died, stands() == NEW))
    write_folder(target, NEW)
    assert stands() == NEW and [path.name for path in home.iterdir()] == ["results"]
print(json.dumps(seen))
"""


@pytest.mark.parametrize("scene", ["first", "replacing", "mending"])
def test_kill_at_every_step(tmp_path, scene):
    ran = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(tmp_path), scene],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr
    seen = json.loads(ran.stdout)
    # The last of the children came to its end; the earlier were killed, some on either side of it.
    assert len(seen) > 5
    assert [died for died, _ in seen] == [True] * (len(seen) - 1) + [False]
    assert {new for _, new in seen} == ({True} if scene == "mending" else {True, False})
