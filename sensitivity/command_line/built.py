"""``built``: a study plus what was measured so far."""

from __future__ import annotations

import sys
from pathlib import Path
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
def built(
    study: StudyPath,
    measured: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME=Q", help='What was read, like rise="12.1 mm"; repeatable.'),
    ] = None,
    instruments: Annotated[
        list[str] | None,
        typer.Option(
            "--with", metavar="NAME=INSTRUMENT", help="With what: rise=digital_caliper; repeatable."
        ),
    ] = None,
    readings: Annotated[
        Path | None,
        typer.Option(metavar="CSV", help="Readings in columns input, measured, instrument."),
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
    """With what was measured so far: the yield now, what matters now, where to set it."""
    from functools import partial

    from sensitivity.answers.built.find import built as stand
    from sensitivity.answers.built.readings import heard_in_call, heard_in_file, read_measured
    from sensitivity.answers.built.words import built_document, built_rows
    from sensitivity.engine.progress import progress_for
    from sensitivity.presentation.folder import check_folder
    from sensitivity.presentation.json_values import to_json
    from sensitivity.pricing.variants import quick_study

    read = read_with(study, model_file, seed=seed, replicates=replicates, points=points)
    heard = [heard_in_call(measured or (), instruments or ())]
    if readings is not None:
        heard.append(heard_in_file(readings))
    parts = read_measured(read, *heard)
    if out is not None:
        check_folder(out)
    found = stand(
        quick_study(read, asked_points=points),
        parts,
        workers=workers,
        watch=partial(progress_for, quiet=quiet),
    )
    document = to_json(built_document(found))
    if out is not None:
        from sensitivity.answers.built.figures import built_figures
        from sensitivity.answers.built.report import built_report
        from sensitivity.answers.report import command_in_words, sampling_options
        from sensitivity.presentation.results_folder import write_answer

        figures = built_figures(found)
        again = command_in_words(
            "built",
            [read],
            (),
            {"--measured": measured, "--with": instruments, "--readings": readings}
            | sampling_options(found.plan),
        )
        report = built_report(found, figures, again)
        write_answer(out, document, built_rows(found), figures, {read.name: read.text}, report)
    if json:
        sys.stdout.write(document)
    else:
        from sensitivity.answers.built.screen import show_built

        show_built(found, out, quiet=quiet)
