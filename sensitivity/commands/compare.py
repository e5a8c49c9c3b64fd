"""``compare``: several designs under the same limits."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from sensitivity.commands.boundary import guarded
from sensitivity.commands.options import (
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
    from sensitivity.decisions.comparison import Compared


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

    from sensitivity.decisions import comparison
    from sensitivity.document import to_json
    from sensitivity.folder import check_folder
    from sensitivity.progress import progress_for
    from sensitivity.screen.comparison import show_comparison

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
        from sensitivity.figures.comparison import comparison_figures
        from sensitivity.results_folder import write_answer
        from sensitivity.writeup.answer import command_in_words
        from sensitivity.writeup.comparison import comparison_report

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
