"""What a model brings to be drawn may fail: it is told and left out, and the answer stands."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, redirect_stdout
from typing import Any

from sensitivity.errors import SpiritlevelError
from sensitivity.system.blame import raised


@contextmanager
def left_out_if_it_fails(what: str, draw: Callable[..., Any] | None) -> Iterator[None]:
    """Tell on standard error what is raised inside, with its line, and go on without it.

    Parameters
    ----------
    what : str
        Such as ``figure of model "pipe"``.
    draw : callable, optional
        The model's own function, for the line in its file.
    """
    try:
        # What it prints is not the result, which may go to standard output as JSON.
        with redirect_stdout(sys.stderr):
            yield
    except KeyboardInterrupt:
        raise
    except SpiritlevelError as error:
        _say(f"{error}; it is left out")
    except BaseException as error:  # it may leave by SystemExit, or by what it invents
        _say(f"the {what} raised {raised(error, draw or '')}; it is left out")


def _say(message: str) -> None:
    from sensitivity.presentation.terminal import say_error  # takes long to load, seldom needed

    say_error(message)
