"""``window``: where to set one input or two, and how much room there is."""

from __future__ import annotations

from dataclasses import replace
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
def window(
    study: StudyPath,
    inputs: Annotated[
        list[str], typer.Argument(metavar="INPUT [INPUT2]", help="What can be set; two for a map.")
    ],
    lowest: Annotated[
        list[str] | None,
        typer.Option("--from", metavar="Q", help='Lowest setting, like "9 mm"; one an input.'),
    ] = None,
    highest: Annotated[
        list[str] | None,
        typer.Option("--to", metavar="Q", help="Highest setting; one an input."),
    ] = None,
    step: Annotated[
        list[str] | None,
        typer.Option(
            metavar="Q",
            help="Only what can be set: multiples of this from the nominal; one an input.",
        ),
    ] = None,
    target: Annotated[
        str, typer.Option(metavar="P", help="Share that is to work: 0.95, or 95 of 100.")
    ] = "0.95",
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
    """What works against one input's nominal, and the widest window in which enough of it does."""
    from sensitivity.answers.window import window as answer

    options = options_of(
        seed=seed,
        replicates=replicates,
        points=points,
        workers=workers,
        scheduler=scheduler,
        quiet=quiet,
    )
    if out is None:
        options = replace(options, meanwhile=None)  # no figures are wanted
    read = read_with(study, model_file)
    check_out(out)
    found = answer(
        read,
        *inputs,
        lowest=lowest or (),
        highest=highest or (),
        step=step or (),
        target=share_asked(target, "--target"),
        options=options,
    )
    deliver(found, out=out, json=json, quiet=quiet)
