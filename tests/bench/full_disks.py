"""Disks that fill, and writes that are refused: what stood before stands, and one sentence says so.

    python tests/bench/full_disks.py

* a small disk (tmpfs) filled so that every page of every file of a results folder is once the one
  that does not fit; needs root, and is left out without;
* a limit on a file's size (RLIMIT_FSIZE) below each file of the folder in turn;
* each call to the system that opens, makes, moves or removes something, refused in turn with each
  of four errors;
* whole calls of every command that writes: on a small disk, with standard output on /dev/full, with
  nowhere for temporary files and no home.

Counts are printed; the exit status is 1 where anything was lost, mixed, left or said wrongly.
"""

from __future__ import annotations

import errno
import json
import os
import resource
import signal
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.bench.from_outside import CALL, Files, a_home, begun, ended, files_in, put, reference

EARLIER: Files = {"result.json": b'{"schema": 1, "spiritlevel": "0.0.9"}', "report.html": b"old"}
PAGE = 4096
ERRORS = (errno.ENOSPC, errno.EIO, errno.EDQUOT, errno.EROFS)
EVENTS = ("open", "os.mkdir", "os.rename", "os.remove", "os.rmdir", "os.chmod")


@contextmanager
def small_disk(size: int, inodes: int = 0) -> Iterator[Path]:
    """Mount a disk of so many bytes; raises OSError where that is not allowed."""
    with tempfile.TemporaryDirectory() as name:
        limits = f"size={size}" + (f",nr_inodes={inodes}" if inodes else "")
        made = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", limits, "tmpfs", name], capture_output=True, check=False
        )
        if made.returncode:
            raise OSError(made.stderr.decode().strip())
        try:
            yield Path(name)
        finally:
            subprocess.run(["umount", "-l", name], check=True)


def in_a_child(work: Callable[[], str]) -> str:
    """Do something in a process of its own, whose limits and refusals end with it."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reader)
        try:
            said = work()
        except BaseException as error:
            said = f"{type(error).__name__}: {error}"
        os.write(writer, said.encode()[:60_000])
        os._exit(0)
    os.close(writer)
    with os.fdopen(reader, "rb") as stream:
        said = stream.read().decode()
    os.waitpid(child, 0)
    return said


def written(home: Path, new: Files) -> str:
    """Write a folder: ``written``, ``refused``, or what else was raised."""
    from sensitivity.errors import MachineError
    from sensitivity.presentation.folder import write_folder

    try:
        write_folder(home / "results", new)
    except MachineError:
        return "refused"
    return "written"


def judged(home: Path, new: Files, said: str) -> str:
    """Say what is wrong with a folder after a write that was refused or not; empty: nothing."""
    found = files_in(home / "results")
    found.pop("manifest.json", None)
    left = {path.name for path in home.iterdir()} - {"results", "full"}
    if said not in ("written", "refused"):
        return said
    if left:
        return f"{said}, and left {sorted(left)}"
    expected = new if said == "written" else EARLIER
    return "" if found == expected else f"{said}, and there is {sorted(found)}"


# --- each file, page and call in turn -----------------------------------------------------------


def pages(new: Files) -> Iterator[str]:
    """Fill a small disk so far that one page less is free each time."""
    wanted = sum(len(content) // PAGE + 3 for content in new.values()) + 40
    with small_disk(2 * wanted * PAGE) as home:
        for free in range(wanted):
            put(home / "results", EARLIER)
            _fill(home, free)
            said = in_a_child(lambda: written(home, new))
            (home / "full").unlink()
            yield judged(home, new, said)
            _emptied(home)
            if said == "written":
                return
    yield "it never fitted"


def names(new: Files) -> Iterator[str]:
    """Let a disk have room for one name more each time."""
    for inodes in range(8, 200):
        with small_disk(64 << 20, inodes) as home:
            try:
                put(home / "results", EARLIER)
            except OSError:
                continue
            said = in_a_child(lambda home=home: written(home, new))
            yield judged(home, new, said)
            if said == "written":
                return


def _fill(home: Path, pages_free: int) -> None:
    """Leave so many pages free."""
    with open(home / "full", "wb", buffering=0) as file:
        with suppress(OSError):
            while True:
                file.write(bytes(PAGE))
        file.truncate(max(file.seek(0, os.SEEK_END) - pages_free * PAGE, 0))


def _emptied(home: Path) -> None:
    for path in sorted(home.rglob("*"), reverse=True):
        path.rmdir() if path.is_dir() else path.unlink()


def sizes(new: Files) -> Iterator[str]:
    """Let no file be larger than one less than each file is, in turn."""
    for limit in sorted({max(len(content) - 1, 0) for content in new.values()} | {0, 1}):
        with tempfile.TemporaryDirectory() as name:
            home = Path(name)
            put(home / "results", EARLIER)

            def work(home: Path = home, limit: int = limit) -> str:
                signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
                resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
                return written(home, new)

            yield judged(home, new, in_a_child(work))


def calls(new: Files) -> Iterator[str]:
    """Refuse each call to the system that changes the folder, with each error."""
    for number in ERRORS:
        for place in range(1, 500):
            with tempfile.TemporaryDirectory() as name:
                home = Path(name)
                put(home / "results", EARLIER)

                def work(home: Path = home, place: int = place, number: int = number) -> str:
                    refused = _refuse_one(home, place, number)
                    said = written(home, new)
                    return said if refused else f"{said} without"

                said = in_a_child(work)
                if said.endswith(" without"):
                    break
                # What is refused when all is written, in taking away the earlier, is told, too.
                why = judged(home, new, said)
                yield f"call {place}, {errno.errorcode[number]}: {why}" if why else ""


def _refuse_one(home: Path, place: int, number: int) -> list[int]:
    """Have one of the calls that change something refused; give a list of those that were."""
    seen, refused = [], []

    def hook(event: str, words: tuple[object, ...]) -> None:
        if event not in EVENTS or not words or not str(words[0]).startswith(str(home)):
            return
        if event == "open" and not _writes(words):
            return
        seen.append(event)
        if len(seen) == place:
            refused.append(place)
            raise OSError(number, os.strerror(number), str(words[0]))

    sys.addaudithook(hook)
    return refused


def _writes(words: tuple[object, ...]) -> bool:
    flags = words[2]
    return isinstance(flags, int) and bool(flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT))


# --- whole calls --------------------------------------------------------------------------------

COMMANDS = {
    "check": ("check", "study.toml", "--model-file", "pins.py"),
    "run": ("run", "study.toml", *CALL, "--seed", "2", "--keep-samples"),
    "learn": ("learn", "study.toml", *CALL, "--seen", "play=kept", "--save-doubts", "kept.json"),
    "window": ("window", "study.toml", "hole", *CALL),
    "new": ("new", "fuel_level", "wicks", "--out", "mine.toml"),
}
PRINTED = {
    **{name: words for name, words in COMMANDS.items() if name not in ("learn", "new")},
    "models": ("models",),
    "processes": ("processes",),
    "starter": ("new", "fuel_level"),
    "version": ("--version",),
    "help": ("--help",),
}
FREE = (0, 1, 2, 5, 10, 20, 40, 80, 120, 1000)


def whole_calls() -> Iterator[str]:
    """Call each command that writes on a disk with some pages free."""
    for name, words in COMMANDS.items():
        out = () if name == "new" else ("--out", "results")
        for free in FREE:
            with a_home() as model, small_disk(8 << 20) as home:
                put(home, files_in(model))
                put(home / "results", EARLIER)
                before = files_in(home)
                _fill(home, free)
                done = ended(begun(home, (*words, *out), "disk"))
                (home / "full").unlink()
                why = _whole(before, files_in(home), done.status, done.err)
                yield f"{name}, {free} pages free: {why}" if why else ""


def _whole(before: Files, after: Files, status: int, err: str) -> str:
    if "Traceback" in err or "fault in spiritlevel" in err:
        return f"a fault: {err[-300:]!a}"
    after = {name: content for name, content in after.items() if "__pycache__" not in name}
    if status == 0:
        return "" if after != before else "it says that it was written"
    if status != 1 or len(err.strip().splitlines()) != 1:
        return f"status {status}: {err!a}"
    changed = sorted(name for name in {*before, *after} if before.get(name) != after.get(name))
    return f"refused, and changed {changed}" if changed else ""


def printed_nowhere() -> Iterator[str]:
    """Print to a device that is full, and to nobody at all."""
    for name, words in PRINTED.items():
        for stream in ("stdout", "stderr"):
            with a_home() as home, open("/dev/full", "w", encoding="utf-8") as full:
                done = ended(begun(home, words, "full", **{stream: full}))
                told = "cannot be written" in (done.err or "")
                right = done.status == 1 and told if stream == "stdout" else done.status == 0
                fault = "Traceback" in (done.err or "") + (done.out or "")
                yield "" if right and not fault else f"{name}, {stream}: {done}"


def no_room_elsewhere() -> Iterator[str]:
    """Answer all the same without room for temporary files and for what libraries keep."""
    for words in ((*COMMANDS["run"], "--out", "results", "--workers", "2"), COMMANDS["check"]):
        with a_home() as home, small_disk(PAGE) as full:
            _fill(full, 0)
            before = os.environ.copy()
            os.environ |= {"HOME": str(full), "XDG_CACHE_HOME": str(full), "MPLCONFIGDIR": ""}
            (home.parent / "temporary").rmdir()
            (home.parent / "temporary").symlink_to(full)
            try:
                done = ended(begun(home, words, "room"))
            finally:
                os.environ.clear()
                os.environ.update(before)
            why = done.err.strip() if done.status else ""
            yield f"{words[0]}: {why}" if why else ""


WAYS: dict[str, Callable[..., Iterator[str]]] = {
    "a page of the disk": pages,
    "a name on the disk": names,
    "a file's size": sizes,
    "a call to the system": calls,
    "whole commands on a full disk": whole_calls,
    "standard streams on a full device": printed_nowhere,
    "no room for temporary files": no_room_elsewhere,
}


def main() -> int:
    """Fill disks and count; 1 where anything was wrong."""
    new = reference((*COMMANDS["run"], "--out", "results"))
    new.pop("manifest.json")
    json.loads(new["result.json"])
    tried: Counter[str] = Counter()
    wrong: Counter[str] = Counter()
    print(f"writes refused, of a folder of {len(new)} files; tried and wrong:")
    for name, way in WAYS.items():
        whole = way in (whole_calls, printed_nowhere, no_room_elsewhere)
        try:
            for why in way() if whole else way(new):
                tried[name] += 1
                if why:
                    wrong[name] += 1
                    print(f"WRONG {name}: {why}", flush=True)
        except OSError as error:
            print(f"  left out: {name}: {error}")
        print(f"  {name:34}{tried[name]:6,}{wrong[name]:6,}", flush=True)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
