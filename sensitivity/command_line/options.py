"""Options that several commands share, and the reading of a study with them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from sensitivity.study.study import Study, Units

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
Scheduler = Annotated[
    str | None,
    typer.Option(metavar="ADDRESS", help="A Dask scheduler whose workers compute instead."),
]
Quiet = Annotated[bool, typer.Option("--quiet", help="Print the verdict alone.")]
OutFolder = Annotated[
    Path | None, typer.Option(metavar="DIR", help="Write the report, JSON, tables, figures there.")
]
UnitsSaid = Annotated[str, typer.Option("--units", metavar="UNITS", help="mm or inch.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print the result as JSON and nothing else.")]


def read_with(path: Path, model_files: list[str] | None) -> Study:
    """Read a study, with models of the caller's own."""
    from sensitivity.study.file import read_study

    return read_study(path, tuple(model_files or ()))


def units_asked(text: str) -> Units:
    """Read in which units a call wants lengths said.

    Raises
    ------
    CallError
        Where they are neither mm nor inches.
    """
    from sensitivity.errors import CallError

    if text not in ("mm", "inch"):
        raise CallError(f'--units: found "{text}"; write mm or inch')
    return "inch" if text == "inch" else "mm"


def share_asked(text: str, option: str) -> float:
    """Read a share that is asked for: ``0.95``, or ``95`` of 100.

    Raises
    ------
    CallError
        Where it is neither, or 1, which may be all of them or one in a hundred.
    """
    from math import isfinite

    from sensitivity.errors import CallError

    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if value == 1.0:
        raise CallError(
            f"{option}: found {text}, which may be all or one of 100; write 0.01, or 0.999 for "
            "nearly all"
        )
    if not isfinite(value) or not 0.0 <= value <= 100.0:
        raise CallError(f"{option}: found {text}; write 0.95, or 95, for 95 of 100")
    return value if value < 1.0 else value / 100.0
