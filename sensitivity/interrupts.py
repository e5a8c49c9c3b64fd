"""Interrupts: at any moment from the first line on, one true sentence and one exit status.

Where ``take_over`` was not called, as in a notebook, nothing here does anything: Python raises
KeyboardInterrupt as always. It imports nothing that takes time, as it comes before all else.
"""

from __future__ import annotations

# What signal itself rests on: there at once, without its enumerations.
import _signal as signal  # type: ignore[import-not-found]
import os
import sys
import time

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import NoReturn

SIGNALS = tuple(name for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))

CLEANING = 2.0
"""Seconds after the first interrupt in which another does not break into the cleaning up."""


class _State:
    """What has happened so far in this process."""

    owner = 0  # the process that took the signals over
    working = False  # a command is under way, which cleans up when it is interrupted
    over = False  # the exit status stands; what comes now comes too late
    held = 0
    received = 0
    since = 0.0
    written = ""


_state = _State()


def take_over() -> None:
    """Handle interrupts in this process; one that was set to be ignored stays so."""
    _state.owner = os.getpid()
    for name in SIGNALS:
        number = getattr(signal, name)
        if signal.getsignal(number) != signal.SIG_IGN:
            signal.signal(number, _received)
    sys.unraisablehook = _swallowed


def _swallowed(what: sys.UnraisableHookArgs) -> None:
    """Print what Python could not raise; an interrupt is not lost (``check``), and told once."""
    if not (isinstance(what.exc_value, KeyboardInterrupt) and _state.received):
        sys.__unraisablehook__(what)


def are_ours() -> bool:
    """Tell whether this process took its signals over: it is the program, not a notebook."""
    return _state.owner == os.getpid()


def _received(number: int, frame: object) -> None:
    if os.getpid() != _state.owner:
        os._exit(128 + number)  # a worker that has not yet settled its own signals
    if _state.over:
        return
    first = not _state.received
    if first:
        _state.received, _state.since = number, time.monotonic()
    if _state.held:
        return
    if not _state.working:
        end_at_once()
    if first or time.monotonic() - _state.since > CLEANING:
        raise KeyboardInterrupt


def end_at_once() -> NoReturn:
    """End where there is nothing to clean up: before a command begins, or after it has."""
    os.write(2, f"spiritlevel: {sentence()}\n".encode(errors="replace"))
    os._exit(status())


class held:  # noqa: N801 - read as a word of a sentence
    """Put an interrupt off for a few short steps that must all be taken or none."""

    def __enter__(self) -> None:
        _state.held += 1

    def __exit__(self, kind: object, error: object, trace: object) -> None:
        _state.held -= 1
        if error is None:
            check()


def check() -> None:
    """Raise KeyboardInterrupt if one came that was put off, or that a library swallowed."""
    if _state.received and _state.working and not _state.held:
        raise KeyboardInterrupt


def came() -> bool:
    """Tell whether an interrupt came to this process: what fails then fails because of it."""
    return bool(_state.received)


def begin() -> None:
    """Say that a command begins: from here on an interrupt is raised and cleaned up after."""
    _state.written = ""
    _state.working = True


def finish() -> None:
    """Say that the exit status stands."""
    _state.over = _state.working
    _state.working = False


def leave() -> None:
    """Ignore what comes while Python itself shuts down: all is done, and it comes too late.

    Python gives back the handling of each signal on its way out, and one that comes then would end
    what is already done as killed.
    """
    _state.over = True
    for name in SIGNALS:
        signal.signal(getattr(signal, name), signal.SIG_IGN)


def end_with(status: int) -> None:
    """End with an exit status after an interrupt; does nothing where none came.

    An interrupt that passes through a library's own running of Python code, as at an import, leaves
    a note with Python to end as killed by SIGINT, whatever status is asked for.
    """
    if not _state.received:
        return
    import atexit
    import sys

    atexit._run_exitfuncs()
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except (OSError, ValueError):
            continue  # whoever read it has gone
    os._exit(status)


def put_in_place(folder: object) -> None:
    """Say that a results folder now stands; call it where interrupts are ``held``."""
    _state.written = str(folder)


def written() -> str:
    """Name the results folder that this command has put in place; empty if none."""
    return _state.written


def sentence() -> str:
    """Say what an interrupt left."""
    names = {getattr(signal, name): name for name in SIGNALS}
    name = names.get(_state.received, "SIGINT")
    how = "interrupted" if name == "SIGINT" else f"ended by {name}"
    if _state.written:
        return f"{how}; the results had already been written to {_state.written}"
    return f"{how}; nothing was written, and what stood before still stands"


def status() -> int:
    """Exit status of an interrupt: 130 for Ctrl-C, and 128 and the signal's number for others."""
    return 128 + int(_state.received or signal.SIGINT)
