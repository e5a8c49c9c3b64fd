"""``measure``: in which order to measure, with what, and what it buys."""

from __future__ import annotations

import sys
from typing import Annotated

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
    StudyPath,
    Workers,
    read_with,
)


@guarded
def measure(
    study: StudyPath,
    target: Annotated[
        float | None,
        typer.Option(metavar="P", min=0.0, max=1.0, help="Stop at this yield, 0..1."),
    ] = None,
    at_hand: Annotated[
        list[str] | None,
        typer.Option(
            "--with", metavar="INSTRUMENT", help="An instrument at hand, by name; repeatable."
        ),
    ] = None,
    out: OutFolder = None,
    seed: Seed = None,
    replicates: Replicates = None,
    points: Points = None,
    workers: Workers = None,
    model_file: ModelFile = None,
    json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Which dimensions to measure, in order, with which instrument, and the yield after each."""
    from sensitivity.answers.measure.find import measure as find_order
    from sensitivity.answers.measure.words import measuring_document, measuring_rows
    from sensitivity.engine.progress import progress_for
    from sensitivity.presentation.folder import check_folder
    from sensitivity.presentation.json_values import to_json
    from sensitivity.pricing.variants import quick_study

    read = read_with(study, model_file, seed=seed, replicates=replicates, points=points)
    if out is not None:
        check_folder(out)
    found = find_order(
        quick_study(read, asked_points=points),
        target=target,
        at_hand=tuple(at_hand or ()),
        workers=workers,
        progress=progress_for(quiet=quiet),
    )
    document = to_json(measuring_document(found))
    if out is not None:
        from sensitivity.answers.measure.figures import measuring_figures
        from sensitivity.answers.measure.report import measuring_report
        from sensitivity.answers.report import command_in_words, sampling_options
        from sensitivity.presentation.results_folder import write_answer

        figures = measuring_figures(found)
        options = {"--target": target, "--with": at_hand} | sampling_options(found.plan)
        again = command_in_words("measure", [read], (), options)
        report = measuring_report(found, figures, again)
        write_answer(out, document, measuring_rows(found), figures, {read.name: read.text}, report)
    if json:
        sys.stdout.write(document)
    else:
        from sensitivity.answers.measure.screen import show_measuring

        show_measuring(found, out, quiet=quiet)
