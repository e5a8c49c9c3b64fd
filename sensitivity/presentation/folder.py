"""The results folder: written whole or not at all, replacing only a results folder.

Everything goes to a folder of its own beside the wanted one, which is then renamed into place;
so an interrupt, a full disk or an error leaves what stood before.
"""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sensitivity.errors import FolderError, MachineError


def check_folder(target: Path) -> None:
    """Refuse, before any sampling, a folder that is not ours to replace or cannot be written."""
    if target.exists() and not target.is_dir():
        raise FolderError(f"{target} is a file; name another folder with --out")
    if not target.resolve().parent.is_dir():
        raise FolderError(f"{target.parent} is not a folder; name another with --out")
    if target.resolve() == Path.cwd():
        raise FolderError("results want a folder of their own, not the one you stand in; see --out")
    if target.is_dir() and any(target.iterdir()) and not _is_results(target):
        raise FolderError(
            f"{target} holds something other than results and is left alone; "
            "name another folder with --out"
        )
    with _machine_faults(target):
        Path(tempfile.mkdtemp(dir=target.resolve().parent, prefix=".spiritlevel-")).rmdir()


def _is_results(folder: Path) -> bool:
    try:
        document = json.loads((folder / "result.json").read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return False
    return isinstance(document, dict) and "schema" in document and "spiritlevel" in document


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
def new_results(target: Path) -> Iterator[Path]:
    """Give a folder to write in; put it in place of ``target`` if all went well."""
    with _machine_faults(target):
        work = Path(tempfile.mkdtemp(dir=target.resolve().parent, prefix=".spiritlevel-"))
        try:
            yield work
            work.chmod(0o755)
            _put_in_place(work, target)
        finally:
            shutil.rmtree(work, ignore_errors=True)


def _put_in_place(work: Path, target: Path) -> None:
    if not target.exists():
        work.rename(target)
        return
    earlier = Path(tempfile.mkdtemp(dir=target.resolve().parent, prefix=".spiritlevel-"))
    try:
        target.rename(earlier / "earlier")
        work.rename(target)
    except BaseException:
        # An interrupt between the two moves, too: what stood before goes back.
        if (earlier / "earlier").exists() and not target.exists():
            (earlier / "earlier").rename(target)
        raise
    finally:
        if target.exists():
            shutil.rmtree(earlier, ignore_errors=True)
