"""``compare``: several designs under the same limits."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from sensitivity.commands.boundary import guarded
from sensitivity.commands.options import (
    AsJson,
    ModelFile,
    Points,
    Quiet,
    Replicates,
    Seed,
    Workers,
    read_with,
)


@guarded
def compare(
    studies: Annotated[
        list[Path], typer.Argument(metavar="STUDY STUDY...", help="Two designs or more.")
    ],
    seed: Seed = None,
    replicates: Replicates = None,
    points: Points = None,
    workers: Workers = None,
    model_file: ModelFile = None,
    json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """The same limits on several designs, with common random numbers."""
    import secrets
    from dataclasses import replace

    from sensitivity.decisions import comparison
    from sensitivity.document import to_json
    from sensitivity.progress import progress_for
    from sensitivity.screen.comparison import show_comparison

    read = [
        read_with(path, model_file, seed=seed, replicates=replicates, points=points)
        for path in studies
    ]
    sampling = read[0].sampling
    if sampling.seed is None:
        sampling = replace(sampling, seed=secrets.randbelow(1 << 32))
    compared = comparison.compare(
        read, sampling, workers=workers, progress=progress_for(quiet=quiet)
    )
    if json:
        sys.stdout.write(to_json(comparison.comparison_document(compared, sampling)))
    else:
        show_comparison(compared, sampling, quiet=quiet)
