"""``tighten``: what closer tolerances buy, and the cheapest set of them for a wanted yield."""

from __future__ import annotations

import sys
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
    StudyPath,
    Workers,
    read_with,
)

if TYPE_CHECKING:
    from sensitivity.answers.tighten.find import Tightened


@guarded
def tighten(
    study: StudyPath,
    target: Annotated[
        float | None,
        typer.Option(metavar="P", min=0.0, max=1.0, help="Wanted yield, 0..1: find a set for it."),
    ] = None,
    by_weights: Annotated[
        bool,
        typer.Option(
            "--by-weights", help="Halve by weighting one sample, where the model is slow."
        ),
    ] = False,
    out: OutFolder = None,
    seed: Seed = None,
    replicates: Replicates = None,
    points: Points = None,
    workers: Workers = None,
    model_file: ModelFile = None,
    json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """The yield gained by halving each spread, and the loosest tolerances that reach a target."""
    from functools import partial

    from sensitivity.answers.tighten import find as decision
    from sensitivity.engine.progress import progress_for
    from sensitivity.presentation.folder import check_folder
    from sensitivity.presentation.json_values import to_json
    from sensitivity.pricing.variants import quick_study

    read = read_with(study, model_file, seed=seed, replicates=replicates, points=points)
    read = quick_study(read, asked_points=points)
    if out is not None:
        check_folder(out)
    tightened = decision.tighten(
        read,
        target=target,
        by_weights=by_weights,
        workers=workers,
        watch=partial(progress_for, quiet=quiet),
    )
    document = to_json(decision.tighten_document(tightened))
    if out is not None:
        from sensitivity.answers.report import command_in_words, sampling_options
        from sensitivity.answers.tighten.figures import tighten_figures
        from sensitivity.answers.tighten.report import tighten_report
        from sensitivity.presentation.results_folder import write_answer

        figures = tighten_figures(tightened)
        options = {"--target": target, "--by-weights": by_weights}
        again = command_in_words("tighten", [read], (), options | sampling_options(tightened.plan))
        report = tighten_report(tightened, figures, again)
        tables = {"halved": halved_rows(tightened), "set": set_rows(tightened)}
        shown = {name: rows for name, rows in tables.items() if rows}
        write_answer(out, document, shown, figures, {read.name: read.text}, report)
    if json:
        sys.stdout.write(document)
    else:
        from sensitivity.answers.tighten.screen import show_tightened

        show_tightened(tightened, out, quiet=quiet)


def halved_rows(tightened: Tightened) -> list[dict[str, Any]]:
    """Lay out what halving each spread gains as rows of a table."""
    rows = []
    for row in tightened.halved:
        gain, weighted = row.gain, row.weighted
        rows.append(
            {
                "dimension": row.dimension.name,
                "inputs": " ".join(item.name for item in row.dimension.inputs),
                "gain": None if gain is None else gain.value,
                "gain_low": None if gain is None else gain.low,
                "gain_high": None if gain is None else gain.high,
                "effective_sample_size": None if weighted is None else weighted.effective,
                "effective_failures": None if weighted is None else weighted.effective_failures,
            }
        )
    return rows


def set_rows(tightened: Tightened) -> list[dict[str, Any]]:
    """Lay out the set, step by step, as rows of a table."""
    if tightened.found is None:
        return []
    return [
        {
            "dimension": step.dimension.name,
            "inputs": " ".join(item.name for item in step.dimension.inputs),
            "process": step.choice.process,
            "factor": step.choice.factor,
            "minutes": step.choice.minutes,
            "yield": step.overall.value,
            "yield_low": step.overall.low,
            "yield_high": step.overall.high,
        }
        for step in tightened.found.steps
    ]
