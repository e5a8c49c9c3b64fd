"""Options that several commands share, and the reading of a study with them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from sensitivity.study.study import Study

StudyPath = Annotated[Path, typer.Argument(metavar="STUDY", help="The study, a TOML file.")]
ModelFile = Annotated[
    list[str] | None,
    typer.Option("--model-file", metavar="PY", help="A file with models of your own; repeatable."),
]
Seed = Annotated[int | None, typer.Option(metavar="N", min=0, help="Seed of the sampling.")]
Replicates = Annotated[
    int | None, typer.Option(metavar="N", min=8, help="Independent replicates, 8 or more.")
]
Points = Annotated[
    int | None, typer.Option(metavar="N", help="Points a replicate, a power of two.")
]
Workers = Annotated[
    int | None,
    typer.Option(metavar="N", min=1, help="Processes; by default one a core if worth it."),
]
Quiet = Annotated[bool, typer.Option("--quiet", help="Print the verdict alone.")]
OutFolder = Annotated[
    Path | None, typer.Option(metavar="DIR", help="Write the report, JSON, tables, figures there.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print the result as JSON and nothing else.")]


def read_with(
    path: Path,
    model_files: list[str] | None,
    *,
    seed: int | None = None,
    replicates: int | None = None,
    points: int | None = None,
) -> Study:
    """Read a study, with the sampling that the call asks for instead of its own."""
    from dataclasses import replace

    from sensitivity.errors import CallError
    from sensitivity.study.file import read_study
    from sensitivity.study.form import POINTS

    study = read_study(path, tuple(model_files or ()))
    if points is not None and not (64 <= points <= 1 << 20 and points & (points - 1) == 0):
        raise CallError(f"--points: found {points}; should be {POINTS}, like 4096")
    asked = {"seed": seed, "replicates": replicates, "points": points}
    given = {key: value for key, value in asked.items() if value is not None}
    return replace(study, sampling=replace(study.sampling, **given))
