"""``open``: the drawing board, a page on this machine where the drawing is the form."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sensitivity.command_line.boundary import guarded
from sensitivity.command_line.options import ModelFile

NEW = "burner.toml"
"""What a study begun on the page is called, where nothing else is said."""


@guarded
def open(
    study: Annotated[
        Path | None,
        typer.Argument(metavar="STUDY", help="The study; without one, a new one is begun."),
    ] = None,
    port: Annotated[
        int, typer.Option(metavar="N", min=0, max=65535, help="Port; by default one that is free.")
    ] = 0,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Print the address and open no browser.")
    ] = False,
    model_file: ModelFile = None,
) -> None:
    """The drawing board: a page on this machine where the labelled drawing is the form."""
    from sensitivity.errors import MachineError

    try:
        import starlette
        import tomlkit
        import uvicorn
    except ImportError as error:
        raise MachineError(
            f'"open" wants {error.name}, which is not installed; in the folder of your copy of '
            "spiritlevel: pip install '.[page]'"
        ) from None
    del starlette, tomlkit, uvicorn
    from sensitivity.drawing_board.guard import Keys
    from sensitivity.drawing_board.journal import unsaved_in
    from sensitivity.drawing_board.serving import bound, serve
    from sensitivity.drawing_board.session import open_session

    begun = study or unsaved_in(Path.cwd()) or Path(NEW)
    session = open_session(begun, tuple(model_file or ()), new=study is None)
    listening = bound(port)
    keys = Keys(listening.getsockname()[1])
    typer.echo(f"The drawing board of {session.path.name} is at\n{keys.address}")
    typer.echo("The address is good once, on this machine alone. Ctrl-C puts the board away.")
    serve(session, listening, keys, browse=not no_browser)
    typer.echo(ended_in_words(session.path.name, unsaved=session.unsaved))


def ended_in_words(name: str, *, unsaved: bool) -> str:
    """Say what stopping left."""
    if unsaved:
        return f"Stopped. What is not saved is kept in {name}.unsaved, for the next time."
    return f"Stopped. {name} is as saved."
