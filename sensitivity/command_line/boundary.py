"""Where errors end: one message on standard error, and an exit status."""

from __future__ import annotations

import contextlib
import errno
import functools
import os
import sys
from collections.abc import Callable, Iterable
from typing import ParamSpec

import typer

from sensitivity import interrupts

Arguments = ParamSpec("Arguments")

FAILED = 1
TOO_FEW_HANDLES = (errno.EMFILE, errno.ENFILE)


def guarded(command: Callable[Arguments, None]) -> Callable[Arguments, None]:
    """Turn our own errors, an interrupt, and a bug into one message and an exit status."""

    @functools.wraps(command)
    def inner(*args: Arguments.args, **kwargs: Arguments.kwargs) -> None:
        try:
            interrupts.begin()
            try:
                _hush_libraries()
                _refuse_unprintable(kwargs.values())
                command(*args, **kwargs)
                sys.stdout.flush()
                interrupts.check()
            finally:
                interrupts.finish()
        except BaseException as error:
            known = isinstance(error, typer.Exit | typer.Abort | SystemExit)
            if known or ("SPIRITLEVEL_TRACEBACK" in os.environ and _is_a_fault(error)):
                raise
            status = ended(error)
            if status:
                raise typer.Exit(status) from None

    return inner


def _refuse_unprintable(words: Iterable[object]) -> None:
    """Refuse names that are not UTF-8: none could be written into a result, or typed again."""
    from sensitivity.errors import CallError

    for word in words:
        if isinstance(word, list | tuple):
            _refuse_unprintable(word)
            continue
        try:
            str(word).encode("utf-8")
        except UnicodeEncodeError:
            raise CallError(f"{str(word)!a} is not UTF-8; rename it") from None


def _hush_libraries() -> None:
    """Keep what libraries log, such as a folder for a cache of fonts, from the user."""
    if interrupts.are_ours():
        import logging

        logging.getLogger().addHandler(logging.NullHandler())


def _is_a_fault(error: BaseException) -> bool:
    from sensitivity.errors import SpiritlevelError

    return not isinstance(error, SpiritlevelError | KeyboardInterrupt | MemoryError | OSError)


def ended(error: BaseException) -> int:
    """Say what ended a command, in one message, and give the exit status."""
    if isinstance(error, KeyboardInterrupt) or interrupts.came():
        # A library that is interrupted as it is loaded may say that it cannot be.
        say(interrupts.sentence())
        return interrupts.status()
    lost = _output_is_lost()
    if isinstance(error, BrokenPipeError):
        return 0  # whoever read our output has gone; that is no fault
    from sensitivity.errors import SpiritlevelError

    if isinstance(error, SpiritlevelError):
        say(str(error))
        return error.exit_status
    say(_in_words(error, lost))
    return FAILED


def _in_words(error: BaseException, lost: bool) -> str:
    if isinstance(error, MemoryError):
        return "this machine has not enough memory for that; ask for fewer --points"
    if isinstance(error, OSError):
        reason = (error.strerror or str(error)).lower()
        if error.errno in TOO_FEW_HANDLES:
            return f"{reason}: this shell lets a program open too few; ulimit -n raises it"
        if lost or not error.filename:
            stands = interrupts.written()
            there = f"; the results stand in {stands}" if stands else ""
            return f"standard output cannot be written: {reason}{there}"
        return f"{error.filename}: {reason}"
    if isinstance(error, ImportError):
        return f"a library that is needed cannot be loaded: {error}"
    return (
        f"a fault in spiritlevel itself, not in your study: {type(error).__name__}: {error}. "
        "SPIRITLEVEL_TRACEBACK=1 shows where"
    )


def _output_is_lost() -> bool:
    """Tell whether standard output takes no more; if so, nothing is tried again at the exit."""
    try:
        sys.stdout.flush()
    except (OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return True
    return False


def say(message: str) -> None:
    """Print one error on standard error, whatever may fail meanwhile."""
    try:
        from sensitivity.presentation.terminal import say_error

        say_error(message)
    except (ImportError, OSError):
        # Too few file handles to load what prints; a closed standard error shows nothing.
        with contextlib.suppress(OSError):
            os.write(2, ascii(f"spiritlevel: {message}")[1:-1].encode() + b"\n")
