"""The results folder: written whole or not at all, and nobody else's file is ever removed.

New results are written to a folder of one well-known name beside the wanted one::

    results.unfinished/journal.txt   says what this is
    results.unfinished/new/          what is being written, its list first
    results.unfinished/earlier/      what stood before, while the two change places

Two moves put them in place: ``results`` to ``earlier``, ``new`` to ``results``. An interrupt, a
full disk or an error puts back what stood before. After a kill, at whatever moment, the next run to
the same place finishes the change where the new results are whole, and else restores the earlier.
"""

from __future__ import annotations

import errno
import os
import stat
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from itertools import islice
from pathlib import Path

from sensitivity import __version__, interrupts
from sensitivity.errors import FolderError, MachineError
from sensitivity.presentation.manifest import (
    MANIFEST,
    PART,
    digest,
    is_whole,
    manifest_text,
    remove_ours,
    strangers,
)

JOURNAL = """\
spiritlevel is writing results for the folder beside this one, or was killed while it did. The next
run to the same place finishes or takes back the change, and removes this folder. "earlier", if it
is here, holds the results that stood before.
"""

LONGEST_WAIT = 60.0
"""Seconds to wait for another run that is writing in the same place."""


def check_folder(target: Path) -> None:
    """Refuse, before any sampling, a results folder that cannot be written or is not all ours.

    What a killed run left half changed is mended first.

    Parameters
    ----------
    target : Path
        The wanted folder; a link is followed. It need not exist, its parent must.

    Raises
    ------
    FolderError
        Where it is no folder, a link to nowhere, the current folder, or holds a file that
        spiritlevel did not write there, which is named.
    MachineError
        Where the system does not let it be written.
    """
    with _machine_faults(target):
        place = _followed(target)
        if not place.parent.is_dir():
            raise FolderError(f"{target.parent} is not a folder; name another with --out")
        if os.path.lexists(place) and not place.is_dir():
            raise FolderError(f"{target} is a file; name another folder with --out")
        here = Path.cwd()
        if place == here or place in here.parents:
            raise FolderError(
                "results want a folder of their own, not the one you stand in; see --out"
            )
        with _alone_in(place.parent):
            _mend(place, finish=True)
            _refuse_strangers(target, place)
            _refuse_locked(place)
            beside = _beside(place)
            beside.mkdir()
            beside.rmdir()


def write_folder(target: Path, files: Mapping[str, str | bytes]) -> None:
    """Write files to a results folder, in place of those that an earlier run wrote there.

    Parameters
    ----------
    target : Path
        The folder; a link is followed.
    files : mapping of str to str or bytes
        Content by name inside the folder, ``/`` between a name's parts; text becomes UTF-8.

    Raises
    ------
    FolderError
        Where by now the folder holds a file that spiritlevel did not write there.
    MachineError
        Where the system does not let it be written; what stood before still stands.
    """
    contents = {
        name: text.encode("utf-8") if isinstance(text, str) else text
        for name, text in files.items()
    }
    with _machine_faults(target):
        place = _followed(target)
        with _alone_in(place.parent):
            _mend(place, finish=True)
            _refuse_strangers(target, place)
            try:
                _fill(place, contents)
                with interrupts.held():
                    _put_in_place(place)
                    interrupts.put_in_place(target)
                    _tidy(place)
            except BaseException:
                # An interrupt between the two moves, too: what stood before goes back.
                _mend(place, finish=False)
                raise


def _beside(place: Path) -> Path:
    return place.with_name(f"{place.name}.unfinished")


def _followed(target: Path) -> Path:
    """Follow links to where the folder really is."""
    try:
        target.stat()
    except FileNotFoundError:
        if target.is_symlink():
            raise FolderError(
                f"{target} is a link to {os.readlink(target)}, which is not there; "
                "name another folder with --out"
            ) from None
    except NotADirectoryError:
        raise FolderError(f"{target.parent} is not a folder; name another with --out") from None
    except OSError as error:
        if error.errno != errno.ELOOP:
            raise
        raise FolderError(
            f"{target} is a link that leads round to itself; name another folder with --out"
        ) from None
    return Path(os.path.realpath(target))


def _refuse_strangers(target: Path, place: Path) -> None:
    if not place.is_dir():
        return
    found = list(islice(strangers(place), 4))
    if found:
        named = ", ".join(found[:3]) + (" and more" if len(found) > 3 else "")
        raise FolderError(
            f"{target} holds something other than results as spiritlevel wrote them ({named}) and "
            "is left alone; move that elsewhere, or name another folder with --out"
        )


def _refuse_locked(place: Path) -> None:
    """Refuse what cannot be moved aside: a folder that is read only, or a disk of its own."""
    if place.is_dir() and not os.access(place, os.R_OK | os.W_OK | os.X_OK):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
    if place.is_mount():
        raise FolderError(
            f"{place} is where a disk is mounted, so it cannot be replaced whole; name a folder "
            "in it with --out"
        )


@contextmanager
def _machine_faults(target: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise MachineError(
            f"{target} cannot be written: {(error.strerror or str(error)).lower()}; "
            "nothing was left behind"
        ) from error


@contextmanager
def _alone_in(folder: Path) -> Iterator[None]:
    """Let one run at a time write in a folder; the system ends the claim with the process."""
    try:
        import fcntl
    except ImportError:  # a system without such claims
        yield
        return
    try:
        handle = os.open(folder, os.O_RDONLY)
    except PermissionError:  # one may write in it but not look
        yield
        return
    try:
        ends = time.monotonic() + LONGEST_WAIT
        while True:
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
                break
            except BlockingIOError:
                if time.monotonic() > ends:
                    raise MachineError(
                        f"{folder} is being written by another run that does not end"
                    ) from None
                time.sleep(0.02)
            except OSError:  # a disk that knows no claims
                break
        yield
    finally:
        os.close(handle)


def _fill(place: Path, contents: Mapping[str, bytes]) -> None:
    """Write the new results beside the place, their list first, so that a kill leaves it known."""
    beside = _beside(place)
    new = beside / "new"
    beside.mkdir()
    (beside / "journal.txt").write_bytes(JOURNAL.encode())
    new.mkdir()
    _write_list(new, dict.fromkeys(contents))
    for name, content in contents.items():
        (new / name).parent.mkdir(parents=True, exist_ok=True)
        (new / name).write_bytes(content)
    _write_list(new, {name: digest(content) for name, content in contents.items()})
    if place.is_dir():
        # A folder that its owner has closed to others stays so.
        earlier, ours = (stat.S_IMODE(folder.stat().st_mode) for folder in (place, new))
        new.chmod(ours & (earlier | 0o7700))


def _write_list(folder: Path, files: Mapping[str, str | None]) -> None:
    (folder / PART).write_bytes(manifest_text(__version__, files).encode())
    (folder / PART).replace(folder / MANIFEST)


def _put_in_place(place: Path) -> None:
    beside = _beside(place)
    if place.is_dir():
        place.rename(beside / "earlier")
    (beside / "new").rename(place)


def _tidy(place: Path) -> None:
    """Take away what stood before, once the new results stand: no fault of theirs if it stays.

    The next run to the same place takes it away.
    """
    for _ in range(2):
        try:
            _mend(place, finish=True)
            return
        except OSError:
            continue


def _mend(place: Path, *, finish: bool) -> None:
    """Bring a half-made change to an end, whatever stopped it; nothing to do where there is none.

    ``finish`` puts new results in place where they are whole and the place is empty; else what
    stood before goes back.
    """
    beside = _beside(place)
    if not os.path.lexists(beside):
        return
    _refuse_unknown(beside)
    new, earlier = beside / "new", beside / "earlier"
    if not os.path.lexists(place):
        if finish and is_whole(new):
            new.rename(place)
        elif earlier.is_dir():
            earlier.rename(place)
    elif earlier.is_dir() and new.is_dir():
        raise FolderError(
            f"{earlier} holds the results that stood in {place} before a run that was killed; "
            "there is something else in their place now. Move one of them elsewhere"
        )
    for folder, unfinished in ((new, True), (earlier, False)):
        if folder.is_dir() and not remove_ours(folder, unfinished=unfinished):
            raise FolderError(
                f"{folder} holds {next(strangers(folder, unfinished=unfinished))}, which "
                "spiritlevel did not write; move it elsewhere"
            )
    (beside / "journal.txt").unlink(missing_ok=True)
    beside.rmdir()


def _refuse_unknown(beside: Path) -> None:
    """Refuse what has the well-known name but is not what a run leaves there."""
    found = {path.name for path in beside.iterdir()} if beside.is_dir() else {""}
    journal = beside / "journal.txt"
    said = JOURNAL.encode()
    written = journal.read_bytes() if journal.is_file() else None
    if found & {"new", "earlier"}:
        known = written == said
    else:  # killed at its very beginning
        known = not found or (written is not None and said.startswith(written))
    if beside.is_symlink() or found - {"journal.txt", "new", "earlier"} or not known:
        raise FolderError(
            f"{beside} is in the way: spiritlevel writes there before it puts results in place, "
            "and did not write this; move it elsewhere"
        )
