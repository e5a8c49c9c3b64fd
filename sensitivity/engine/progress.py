"""Progress on standard error; the engine never asks whether anyone is watching."""

from __future__ import annotations

import shutil
import sys
import textwrap
import time
from collections.abc import Callable
from typing import Protocol, TextIO

WIDEST = 110
"""Columns of a line that is easily read."""


class Progress(Protocol):
    """What the engine tells whoever is watching."""

    def done(self, count: int, total: int) -> None:
        """Say that ``count`` of ``total`` replicates are done."""

    def close(self) -> None:
        """Say that no more will come."""


class NoProgress:
    """Nobody is watching."""

    def done(self, count: int, total: int) -> None:
        """Ignore it."""

    def close(self) -> None:
        """Ignore it."""


class LineProgress:
    """One line on a terminal, written over: replicates done, and the time left.

    Used for one stage after another, it counts each one's time from where the last one ended.
    """

    def __init__(self, stream: TextIO) -> None:
        self._stream, self._start, self._width = stream, time.monotonic(), 0

    def done(self, count: int, total: int) -> None:
        """Write the line anew."""
        spent = time.monotonic() - self._start
        left = spent / count * (total - count)
        self._write(f"replicate {count} of {total}, {_in_words(left)} left")

    def close(self) -> None:
        """Clear the line, so that nothing of it stays among the results."""
        self._write("")
        self._stream.write("\r")
        self._stream.flush()
        self._start = time.monotonic()

    def _write(self, text: str) -> None:
        self._stream.write("\r" + text.ljust(self._width))
        self._stream.flush()
        self._width = len(text)


def _in_words(seconds: float) -> str:
    if seconds < 90:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"


def progress_for(*, quiet: bool) -> Progress:
    """A line on the terminal, if standard error is one and quiet was not asked for."""
    return NoProgress() if quiet or not sys.stderr.isatty() else LineProgress(sys.stderr)


def told_for(*, quiet: bool) -> Callable[[str], None]:
    """Tell what is known early on standard error, if it is a terminal and quiet was not asked."""
    return unheard if quiet or not sys.stderr.isatty() else _tell


def unheard(text: str) -> None:
    """Tell nobody."""


def _tell(text: str) -> None:
    width = min(shutil.get_terminal_size().columns - 1, WIDEST)
    sys.stderr.write(f"{textwrap.fill(text, width)}\n\n")
    sys.stderr.flush()
