"""``new``: a starter study."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from sensitivity.commands.boundary import guarded
from sensitivity.commands.options import ModelFile


@guarded
def new(
    names: Annotated[list[str], typer.Argument(metavar="MODEL...", help="Models to join.")],
    model_file: ModelFile = None,
) -> None:
    """A starter study on standard output, every input with its default and unit."""
    from sensitivity.catalogue import find_models
    from sensitivity.starter import starter_study
    from sensitivity.system import wire

    sys.stdout.write(starter_study(wire(find_models(tuple(names), tuple(model_file or ())))))
