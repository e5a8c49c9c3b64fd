"""``models``: what can be computed."""

from __future__ import annotations

from typing import Annotated

import typer

from sensitivity.command_line.boundary import guarded
from sensitivity.command_line.options import ModelFile, UnitsSaid, units_asked


@guarded
def models(
    name: Annotated[str | None, typer.Argument(metavar="NAME", help="One model.")] = None,
    units: UnitsSaid = "mm",
    model_file: ModelFile = None,
) -> None:
    """Models at hand; with a name, that model's inputs and results."""
    from sensitivity.command_line.catalogue_screen import show_model, show_models
    from sensitivity.system.catalogue import available_models, find_models

    said, files = units_asked(units), tuple(model_file or ())
    if name is None:
        show_models(available_models(files))
    else:
        show_model(find_models((name,), files)[0], available_models(files), said)
