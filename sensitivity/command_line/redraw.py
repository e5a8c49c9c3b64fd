"""``redraw``: which nominals to draw elsewhere, by how much, and what then works."""

from __future__ import annotations

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
def redraw(
    study: StudyPath,
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
    """Which nominals to draw elsewhere, within the ranges that the study states."""
    from sensitivity.answers.redraw import redraw as answer

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
    deliver(answer(read, options=options), out=out, json=json, quiet=quiet)
