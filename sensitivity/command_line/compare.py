"""``compare``: several designs under the same limits."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from sensitivity.command_line.boundary import guarded
from sensitivity.command_line.options import (
    AsJson,
    ModelFile,
    OutFolder,
    Points,
    Quiet,
    Replicates,
    Seed,
    Workers,
    read_with,
)

if TYPE_CHECKING:
    from sensitivity.answers.compare.find import Compared


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
    model_file: ModelFile = None,
    json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """The same limits on several designs, with common random numbers."""
    import secrets
    from dataclasses import replace

    from sensitivity.answers.compare import find as comparison
    from sensitivity.answers.compare.screen import show_comparison
    from sensitivity.engine.progress import progress_for
    from sensitivity.presentation.folder import check_folder
    from sensitivity.presentation.json_values import to_json

    read = [
        read_with(path, model_file, seed=seed, replicates=replicates, points=points)
        for path in studies
    ]
    sampling = read[0].sampling
    if sampling.seed is None:
        sampling = replace(sampling, seed=secrets.randbelow(1 << 32))
    if out is not None:
        check_folder(out)
    compared = comparison.compare(
        read, sampling, workers=workers, progress=progress_for(quiet=quiet)
    )
    document = to_json(comparison.comparison_document(compared, sampling))
    if out is not None:
        from sensitivity.answers.compare.figures import comparison_figures
        from sensitivity.answers.compare.report import comparison_report
        from sensitivity.answers.report import command_in_words
        from sensitivity.presentation.results_folder import write_answer

        figures = comparison_figures(compared)
        asked = {"--seed": sampling.seed, "--replicates": sampling.replicates}
        again = command_in_words("compare", read, (), {**asked, "--points": sampling.points})
        report = comparison_report(compared, sampling, figures, again)
        texts = {design.study.name: design.study.text for design in compared}
        write_answer(out, document, comparison_rows(compared), figures, texts, report)
    if json:
        sys.stdout.write(document)
    else:
        show_comparison(compared, sampling, quiet=quiet)


def comparison_rows(compared: Sequence[Compared]) -> dict[str, list[dict[str, Any]]]:
    """Lay the yields out as rows of a table, one a design and limit."""
    rows: list[dict[str, Any]] = []
    for design in compared:
        for name, share in (*design.shares.items(), ("all limits together", design.overall)):
            change = design.differences.get(name, design.overall_difference)
            row = {"design": design.study.name, "limit": name, "yield": share.value}
            row |= {"yield_low": share.low, "yield_high": share.high}
            if change is not None:
                row |= {"difference": change.value, "low": change.low, "high": change.high}
            rows.append(row)
    return {"comparison": rows}
