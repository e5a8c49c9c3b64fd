"""``tighten``: what closer tolerances buy, and the cheapest set of them for a wanted yield."""

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
def tighten(
    study: StudyPath,
    target: Annotated[
        str | None,
        typer.Option(
            metavar="P", help="Share that is to work, 0.95 or 95 of 100: find a set for it."
        ),
    ] = None,
    by_weights: Annotated[
        bool,
        typer.Option(
            "--by-weights",
            help="Halve by weighting one sample, where the model is slow: gains at moments alone.",
        ),
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
    """What halving each spread gains, and the loosest tolerances with which enough work."""
    from sensitivity.answers.tighten import tighten as answer

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
        target=None if target is None else share_asked(target, "--target"),
        by_weights=by_weights,
        options=options,
    )
    deliver(found, out=out, json=json, quiet=quiet)
