"""``measure``: what to measure, in which order and with what, and what it buys."""

from __future__ import annotations

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
    share_asked,
)


@guarded
def measure(
    study: StudyPath,
    target: Annotated[
        str | None,
        typer.Option(metavar="P", help="Stop where this share works: 0.95, or 95 of 100."),
    ] = None,
    at_hand: Annotated[
        list[str] | None,
        typer.Option(
            "--with", metavar="INSTRUMENT", help="An instrument at hand, by name; repeatable."
        ),
    ] = None,
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
    """What to measure, in order, with which instrument, and how many then work."""
    from sensitivity.answers.measure import measure as answer

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
        target=None if target is None else share_asked(target, "--target"),
        at_hand=at_hand or (),
        options=options,
    )
    deliver(found, out=out, json=json, quiet=quiet)
