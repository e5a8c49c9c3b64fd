"""``new``: a starter study."""

from __future__ import annotations

from typing import Annotated

import typer

from sensitivity.command_line.boundary import guarded
from sensitivity.command_line.options import ModelFile


@guarded
def new(
    names: Annotated[list[str], typer.Argument(metavar="MODEL...", help="Models to join.")],
    model_file: ModelFile = None,
) -> None:
    """A starter study on standard output, every input with its default and unit."""
    from sensitivity.presentation.terminal import write_document
    from sensitivity.study.starter import starter_study
    from sensitivity.system.catalogue import find_models
    from sensitivity.system.system import wire

    write_document(starter_study(wire(find_models(tuple(names), tuple(model_file or ())))))
