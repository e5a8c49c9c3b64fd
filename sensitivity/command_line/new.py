"""``new``: a starter study, and the labelled drawing that its sketch numbers are on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sensitivity.command_line.boundary import guarded
from sensitivity.command_line.options import ModelFile, UnitsSaid, units_asked

if TYPE_CHECKING:
    from sensitivity.study.study import Units
    from sensitivity.system.system import System


@guarded
def new(
    names: Annotated[list[str], typer.Argument(metavar="MODEL...", help="Models to join.")],
    out: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write the study there, its drawing beside it."),
    ] = None,
    units: UnitsSaid = "mm",
    given: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME=SIZE", help="What is known already: wick_count=4; repeatable."),
    ] = None,
    model_file: ModelFile = None,
) -> None:
    """A starter study: what you must decide is left empty, with its number on the drawing."""
    from sensitivity.presentation.terminal import write_document
    from sensitivity.study.starter import starter_study
    from sensitivity.system.catalogue import find_models
    from sensitivity.system.system import wire
    from sensitivity.system.together import computed_elsewhere

    said = units_asked(units)
    system = wire(find_models(tuple(names), tuple(model_file or ())))
    known = _known(system, given or (), said)
    if out is None:
        write_document(starter_study(system, said, given=known))
        return
    _name_a_study(out)
    drawing = _sheet(system, out, known)
    place = out.with_suffix(".svg")
    files = {out: starter_study(system, said, place.name if drawing else "", known)}
    _write_new({**files, place: drawing} if drawing else files)
    _tell(out, place if drawing else None, computed_elsewhere(system.inputs))


def _known(system: System, given: Sequence[str], units: Units) -> dict[str, str]:
    """Read NAME=SIZE, and hold each to its unit and range."""
    from sensitivity.errors import CallError, QuantityError, nearest
    from sensitivity.quantities.quantity import suggesting
    from sensitivity.study.inputs import read_nominal
    from sensitivity.system.setting_out import decided, setting_out_of

    sized = setting_out_of(system.models).sized
    asked = {q.name: q for q in system.inputs if decided(q) or q.name in sized}
    found: dict[str, str] = {}
    for each in given:
        name, equals, text = (part.strip() for part in each.partition("="))
        if not equals or not text:
            raise CallError(f'--given: found "{each}"; write NAME=SIZE, like wick_count=4')
        if name not in asked:
            raise CallError(f'--given: "{name}" is not asked for; {nearest(name, asked)}')
        try:
            with suggesting(inches=units == "inch"):
                value = read_nominal(asked[name], text)
        except QuantityError as error:
            raise CallError(f"--given {name}: {error}") from None
        if not asked[name].range.holds(value):
            raise CallError(
                f"--given {name}: found {text}; physically it is {asked[name].range.stated}"
            )
        found[name] = text
    return found


def _sheet(system: System, out: Path, known: Mapping[str, str]) -> str:
    """The labelled drawing; empty where the models bring none."""
    from sensitivity.presentation.labelled import blank_views, labelled_sheet
    from sensitivity.study.inputs import read_nominal
    from sensitivity.study.starter import not_counted
    from sensitivity.system.setting_out import setting_out_of

    asked = {quantity.name: quantity for quantity in system.inputs}
    sizes = {name: read_nominal(asked[name], text) for name, text in known.items()}
    counted = setting_out_of(system.models).counted
    fewer = any(by in known for by, _ in counted.values())
    without = not_counted(system, known) if fewer else ()
    views = blank_views(system, known, sizes=sizes, without=without)
    return labelled_sheet(views, f"{out.stem}: every dimension and its number") if views else ""


def _name_a_study(out: Path) -> None:
    """Refuse a name that is no study's, before a drawing is to be named after it."""
    from sensitivity.errors import CallError

    if out.suffix != ".toml":
        raise CallError(f'--out: found "{out}"; name a study, like mine.toml')


def _write_new(files: dict[Path, str]) -> None:
    """Write files where none stand; nothing at all where one does, or where not all can be."""
    from sensitivity import interrupts
    from sensitivity.errors import CallError

    for path in files:
        if path.exists():
            raise CallError(f"{path} exists and is left alone; give --out another name")
    made: list[Path] = []
    try:
        with interrupts.held():
            for path, text in files.items():
                with path.open("x", encoding="utf-8", newline="\n") as file:
                    made.append(path)
                    file.write(text)
            interrupts.put_in_place(made[0])
    except OSError:
        for path in made:
            path.unlink(missing_ok=True)
        raise


def _tell(out: Path, drawing: Path | None, elsewhere: Mapping[str, tuple[str, ...]]) -> None:
    from sensitivity.presentation import wording
    from sensitivity.presentation.terminal import console

    lines = [f"Written: {out}" + (f", and its drawing {drawing}" if drawing else "")]
    if drawing:
        lines.append(
            "Look at the drawing (any browser opens it); its numbers are those of the file."
        )
    if elsewhere:
        models = list(dict.fromkeys(name for names in elsewhere.values() for name in names))
        lines.append(
            f"{wording.listed(list(map(wording.in_words, elsewhere)))}: neither asked for nor "
            "computed in this study, but as the model has it."
        )
        lines.append(f"What computes it, among the models: {', '.join(models)}.")
    lines.append('Give each nominal = "" its size, then')
    lines.append(f"  spiritlevel check {out}")
    console().print("\n".join(lines))
