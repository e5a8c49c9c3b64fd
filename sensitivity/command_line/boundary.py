"""Where errors end: one message on standard error, and an exit status."""

from __future__ import annotations

import functools
import os
import sys
from collections.abc import Callable
from typing import ParamSpec

import typer

Arguments = ParamSpec("Arguments")

INTERRUPTED = 130


def guarded(command: Callable[Arguments, None]) -> Callable[Arguments, None]:
    """Turn our own errors, an interrupt, and a bug into one message and an exit status."""

    @functools.wraps(command)
    def inner(*args: Arguments.args, **kwargs: Arguments.kwargs) -> None:
        from sensitivity.errors import SpiritlevelError

        try:
            command(*args, **kwargs)
            sys.stdout.flush()
        except SpiritlevelError as error:
            say(str(error))
            raise typer.Exit(error.exit_status) from None
        except KeyboardInterrupt:
            say("interrupted; nothing was written, and what stood before still stands")
            raise typer.Exit(INTERRUPTED) from None
        except BrokenPipeError:
            # Whoever read our output has gone; that is no fault.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        except MemoryError:
            say("this machine has not enough memory for that; ask for fewer --points")
            raise typer.Exit(1) from None
        except OSError as error:
            say(f"{error.filename or 'output'}: {(error.strerror or str(error)).lower()}")
            raise typer.Exit(1) from None
        except Exception as error:
            if isinstance(error, typer.Exit | typer.Abort) or "SPIRITLEVEL_TRACEBACK" in os.environ:
                raise
            say(
                f"a fault in spiritlevel itself, not in your study: {type(error).__name__}: "
                f"{error}. SPIRITLEVEL_TRACEBACK=1 shows where"
            )
            raise typer.Exit(1) from None

    return inner


def say(message: str) -> None:
    """Print one error on standard error."""
    from sensitivity.presentation.terminal import say_error

    say_error(message)
