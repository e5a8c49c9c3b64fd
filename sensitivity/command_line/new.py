"""``new``: a starter study, and the labelled drawing that its sketch numbers are on."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sensitivity.command_line.boundary import guarded
from sensitivity.command_line.options import ModelFile, UnitsSaid, units_asked

if TYPE_CHECKING:
    from sensitivity.system.system import System


@guarded
def new(
    names: Annotated[list[str], typer.Argument(metavar="MODEL...", help="Models to join.")],
    out: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write the study there, its drawing beside it."),
    ] = None,
    units: UnitsSaid = "mm",
    model_file: ModelFile = None,
) -> None:
    """A starter study: what you must decide is left empty, with its number on the drawing."""
    from sensitivity.presentation.terminal import write_document
    from sensitivity.study.starter import starter_study
    from sensitivity.system.catalogue import find_models
    from sensitivity.system.system import wire

    said = units_asked(units)
    system = wire(find_models(tuple(names), tuple(model_file or ())))
    if out is None:
        write_document(starter_study(system, said))
        return
    drawing = _sheet(system, out)
    place = out.with_suffix(".svg")
    files = {out: starter_study(system, said, place.name if drawing else "")}
    _write_new({**files, place: drawing} if drawing else files)
    _tell(out, place if drawing else None)


def _sheet(system: System, out: Path) -> str:
    """The labelled drawing; empty where the models bring none."""
    from sensitivity.presentation.labelled import blank_views, labelled_sheet

    views = blank_views(system)
    return labelled_sheet(views, f"{out.stem}: every dimension and its number") if views else ""


def _write_new(files: dict[Path, str]) -> None:
    """Write files where none stand; nothing at all where one does."""
    from sensitivity.errors import CallError

    for path in files:
        if path.suffix not in (".toml", ".svg"):
            raise CallError(f'--out: found "{path}"; name a study, like mine.toml')
        if path.exists():
            raise CallError(f"{path} exists and is left alone; give --out another name")
    for path, text in files.items():
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)


def _tell(out: Path, drawing: Path | None) -> None:
    from sensitivity.presentation.terminal import console

    lines = [f"Written: {out}" + (f", and its drawing {drawing}" if drawing else "")]
    if drawing:
        lines.append(
            "Look at the drawing (any browser opens it); its numbers are those of the file."
        )
    lines.append('Give each nominal = "" its size, then')
    lines.append(f"  spiritlevel check {out}")
    console().print("\n".join(lines))
