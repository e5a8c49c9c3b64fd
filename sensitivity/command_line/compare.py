"""``compare``: several designs under the same limits."""

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
    Workers,
    read_with,
)


@guarded
def compare(
    studies: Annotated[
        list[Path], typer.Argument(metavar="STUDY STUDY...", help="Two designs or more.")
    ],
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
    """The same limits on several designs, with common random numbers."""
    from sensitivity.answers.compare import compare as answer

    options = options_of(
        seed=seed,
        replicates=replicates,
        points=points,
        workers=workers,
        scheduler=scheduler,
        quiet=quiet,
    )
    read = [read_with(path, model_file) for path in studies]
    check_out(out)
    found = answer(*read, paths=studies, options=options)
    deliver(found, out=out, json=json, quiet=quiet)
