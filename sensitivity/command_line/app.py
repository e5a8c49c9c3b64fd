"""The command line: which commands there are. Each stands in a file of its own."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module
from typing import Annotated

import typer

COMMANDS = (
    "run",
    "check",
    "models",
    "new",
    "processes",
    "compare",
    "measure",
    "built",
    "learn",
    "window",
    "tighten",
    "redraw",
    "open",
)
"""In the order in which they are listed; each is a function in a file of its name."""


def program(words: Sequence[str] = ()) -> typer.Typer:
    """Put the command line together.

    Parameters
    ----------
    words : sequence of str
        What is called. Where a command's name stands first, the others are left out: to work out
        what options each of them takes would take longer than to read a study.
    """
    first = tuple(words[:1])
    app = typer.Typer(
        name="spiritlevel",
        help="Tolerances and sensitivities: how likely a design works as drawn and built, and what "
        "to measure.",
        no_args_is_help=True,
        context_settings={"help_option_names": ["-h", "--help"]},
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
    )
    app.callback()(_options)
    for name in first if first and first[0] in COMMANDS else COMMANDS:
        module = import_module(f"sensitivity.command_line.{name}")
        app.command()(getattr(module, name))
    return app


def __getattr__(name: str) -> typer.Typer:
    """Give ``app``, which has all commands, to whoever asks for it."""
    if name != "app":
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    globals()[name] = found = program()
    return found


def _version(wanted: bool) -> None:
    if wanted:
        from sensitivity import __version__

        typer.echo(f"spiritlevel {__version__}")
        raise typer.Exit


def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say the version.")
    ] = False,
) -> None:
    pass
