"""The command line: which commands there are. Each stands in a file of its own."""

from __future__ import annotations

from typing import Annotated

import typer

from sensitivity.command_line import (
    built,
    check,
    compare,
    learn,
    measure,
    models,
    new,
    open,
    processes,
    redraw,
    run,
    tighten,
    window,
)

app = typer.Typer(
    name="spiritlevel",
    help="Tolerances and sensitivities: how likely a design works as drawn and built, and what to "
    "measure.",
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"]},
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
for command in (
    run.run,
    check.check,
    models.models,
    new.new,
    processes.processes,
    compare.compare,
    measure.measure,
    built.built,
    learn.learn,
    window.window,
    tighten.tighten,
    redraw.redraw,
    open.open,
):
    app.command()(command)


def _version(wanted: bool) -> None:
    if wanted:
        from sensitivity import __version__

        typer.echo(f"spiritlevel {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say the version.")
    ] = False,
) -> None:
    pass
