"""``run``: the main job."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sensitivity.command_line.boundary import guarded, say
from sensitivity.command_line.deliver import check_out, deliver, options_of
from sensitivity.command_line.options import (
    AsJson,
    ModelFile,
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

YIELD_TOO_LOW = 3


@guarded
def run(
    study: StudyPath,
    out: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Results folder, by default STEM-results.")
    ] = None,
    seed: Seed = None,
    replicates: Replicates = None,
    points: Points = None,
    workers: Workers = None,
    scheduler: Scheduler = None,
    model_file: ModelFile = None,
    keep_samples: Annotated[
        bool, typer.Option("--keep-samples", help="Write every sampled part to samples.csv.gz.")
    ] = False,
    pairs: Annotated[
        bool, typer.Option("--pairs", help="Second-order indices too: which pairs act together.")
    ] = False,
    totals: Annotated[
        bool,
        typer.Option("--totals", help="What decides whether a part works: its total indices too."),
    ] = False,
    require_yield: Annotated[
        str | None,
        typer.Option(
            metavar="P", help="Exit with 3 if the yield may be below P: 0.95, or 95 of 100."
        ),
    ] = None,
    json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """The main job: how likely it works, what decides it, what to measure."""
    from sensitivity.answers.run import run as answer
    from sensitivity.errors import CallError

    options = options_of(
        seed=seed,
        replicates=replicates,
        points=points,
        workers=workers,
        scheduler=scheduler,
        quiet=quiet,
    )
    read = read_with(study, model_file)
    required = None if require_yield is None else share_asked(require_yield, "--require-yield")
    if required is not None and not read.limits:
        raise CallError("--require-yield wants a study with [limits]")
    target = out if out is not None else Path(f"{study.stem}-results")
    check_out(target)
    found = answer(read, pairs=pairs, totals=totals, keep_samples=keep_samples, options=options)
    deliver(found, out=target, json=json, quiet=quiet)
    lowest = found.overall.low if found.overall is not None else 1.0
    if required is not None and lowest < required:
        say(f"the yield may be as low as {lowest:.4g}, below {required:g}")
        raise typer.Exit(YIELD_TOO_LOW)
