"""Reading a text file whole and safely: a regular file of a size that was agreed on.

A device has no end and a pipe may never speak, so neither is opened for reading. No message from
here says what stands in a file.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path, PurePath
from typing import Literal

from sensitivity.errors import SpiritlevelError

Why = Literal["missing", "folder", "endless", "large", "no text", "outside", "no name"]


class UnreadableError(SpiritlevelError):
    """A file that is not there, is no regular file, is too large, is not text, or is elsewhere."""

    def __init__(self, why: Why, problem: str) -> None:
        self.why = why
        super().__init__(problem)


def read_regular(path: Path, largest: int) -> bytes:
    """Read a regular file to its end.

    Parameters
    ----------
    path : Path
        The file; links are followed.
    largest : int
        Bytes beyond which it is refused, unread.

    Raises
    ------
    UnreadableError
        Where there is no such file, or it is a folder, a device, a pipe or too large.
    OSError
        Where the machine does not let it be read.
    """
    try:
        # Without waiting: opening a pipe that nobody writes to would never return.
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
    except FileNotFoundError:
        raise UnreadableError("missing", "no such file") from None
    except IsADirectoryError:
        raise UnreadableError("folder", "a folder") from None
    except ValueError:  # a name with a zero in it
        raise UnreadableError("no name", "not a name that a file can have") from None
    kind = os.fstat(handle).st_mode
    if not stat.S_ISREG(kind):
        os.close(handle)
        if stat.S_ISDIR(kind):
            raise UnreadableError("folder", "a folder")
        raise UnreadableError("endless", "not a file that can be read to its end")
    with os.fdopen(handle, "rb") as stream:
        # What /proc calls a regular file of no size may still have much to say.
        data = stream.read(largest + 1)
    if len(data) > largest:
        size = f"{largest >> 20} MiB" if largest >= 1 << 20 else f"{largest >> 10} KiB"
        raise UnreadableError("large", f"larger than {size}")
    return data


def as_text(data: bytes) -> str:
    """Decode UTF-8, with or without its mark; raise UnreadableError where it is not that.

    Parameters
    ----------
    data : bytes
        A whole file.

    Raises
    ------
    UnreadableError
        Where it is not text.
    """
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise UnreadableError("no text", "not text in UTF-8") from None


def inside(folder: Path, name: str) -> Path:
    """Find a file by its name within a folder, and refuse whatever leads out of it.

    Parameters
    ----------
    folder : Path
        The folder that may be read, with all below it.
    name : str
        A path from there, such as ``"pipes.csv"`` or ``"readings/pipes.csv"``.

    Returns
    -------
    Path
        The file itself, its links followed.

    Raises
    ------
    UnreadableError
        For an absolute path, for ``..``, and for a link that points out of the folder.
    """
    remedy = "a study reads only the folder it lies in: put a copy there"
    path = PurePath(name)
    if path.is_absolute() or ".." in path.parts:
        raise UnreadableError("outside", f"outside the study's folder; {remedy}")
    try:
        home = folder.resolve()
        found = (home / path).resolve()
    except (OSError, RuntimeError, ValueError):  # a circle of links; a name with a zero in it
        raise UnreadableError("no name", "not a name that a file can have") from None
    if not found.is_relative_to(home):
        raise UnreadableError("outside", f"a link that leads out of the study's folder; {remedy}")
    return found
