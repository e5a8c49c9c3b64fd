"""``built``: a study plus what was measured so far."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sensitivity.command_line.boundary import guarded
from sensitivity.command_line.deliver import check_out, deliver, options_of
from sensitivity.command_line.options import (
    AsJson,
    ModelFile,
    OutFolder,
    Points,
    Quiet,
    Replicates,
    Scheduler,
    Seed,
    StudyPath,
    Workers,
    read_with,
)


@guarded
def built(
    study: StudyPath,
    measured: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME=Q", help='What was read, like rise="12.1 mm"; repeatable.'),
    ] = None,
    instruments: Annotated[
        list[str] | None,
        typer.Option(
            "--with", metavar="NAME=INSTRUMENT", help="With what: rise=digital_caliper; repeatable."
        ),
    ] = None,
    readings: Annotated[
        Path | None,
        typer.Option(metavar="CSV", help="Readings in columns input, measured, instrument."),
    ] = None,
    believe: Annotated[
        bool, typer.Option("--believe", help="Go on though readings contradict what is stated.")
    ] = False,
    out: OutFolder = None,
    seed: Seed = None,
    replicates: Replicates = None,
    points: Points = None,
    workers: Workers = None,
    scheduler: Scheduler = None,
    model_file: ModelFile = None,
    json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """With what was measured so far: the yield now, what matters now, where to set it."""
    from sensitivity.answers.built import built as answer

    options = options_of(
        seed=seed,
        replicates=replicates,
        points=points,
        workers=workers,
        scheduler=scheduler,
        quiet=quiet,
    )
    read = read_with(study, model_file)
    check_out(out)
    found = answer(
        read,
        measured=measured or (),
        instruments=instruments or (),
        readings=readings,
        believe=believe,
        options=options,
    )
    deliver(found, out=out, json=json, quiet=quiet)
