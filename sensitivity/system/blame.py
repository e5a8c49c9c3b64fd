"""What a user's own code raised, in words, with the line in it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from traceback import walk_tb
from typing import Any

from sensitivity.errors import shortened


def raised(error: BaseException, called: Callable[..., Any] | str) -> str:
    """Say what was raised, and at which line of the file it was called in.

    Parameters
    ----------
    error : BaseException
        As caught; also ``SystemExit`` and whatever else is no ``Exception``.
    called : callable or str
        What was called, or the file that was run.

    Returns
    -------
    str
        Such as ``ValueError: no such bore (line 12 of mine.py)``. The line is the innermost one in
        the file itself: what a library does with it says less.
    """
    file = called if isinstance(called, str) else _file_of(called)
    lines = [(frame.f_code.co_filename, line) for frame, line in walk_tb(error.__traceback__)]
    own = [line for name, line in lines if name == file]
    where = f" (line {own[-1]} of {Path(file).name})" if own else ""
    return f"{type(error).__name__}: {_text(error)}{where}"


def _file_of(function: Callable[..., Any]) -> str:
    code = getattr(function, "__code__", None)
    return "" if code is None else str(code.co_filename)


def _text(error: BaseException) -> str:
    try:
        return shortened(str(error))
    except Exception:
        return "(its text cannot be read)"
