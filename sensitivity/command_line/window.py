"""``window``: where to set one input or two, and how much room there is."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

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
    from sensitivity.answers.window.find import Window, WindowMap
    from sensitivity.answers.window.settings import Asked
    from sensitivity.engine.intervals import Proportion
    from sensitivity.study.study import Study


@guarded
def window(
    study: StudyPath,
    inputs: Annotated[
        list[str], typer.Argument(metavar="INPUT [INPUT2]", help="What can be set; two for a map.")
    ],
    lowest: Annotated[
        list[str] | None,
        typer.Option("--from", metavar="Q", help='Lowest setting, like "9 mm"; one an input.'),
    ] = None,
    highest: Annotated[
        list[str] | None,
        typer.Option("--to", metavar="Q", help="Highest setting; one an input."),
    ] = None,
    step: Annotated[
        list[str] | None,
        typer.Option(
            metavar="Q",
            help="Only what can be set: multiples of this from the nominal; one an input.",
        ),
    ] = None,
    target: Annotated[
        float, typer.Option(metavar="P", min=0.0, max=1.0, help="Wanted yield, 0..1.")
    ] = 0.95,
    out: OutFolder = None,
    seed: Seed = None,
    replicates: Replicates = None,
    points: Points = None,
    workers: Workers = None,
    model_file: ModelFile = None,
    json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Yield against one input's nominal, and the widest window that holds a wanted yield."""
    from functools import partial

    from sensitivity.answers.window.find import find_map, find_window
    from sensitivity.answers.window.words import window_document
    from sensitivity.engine.progress import progress_for
    from sensitivity.errors import CallError
    from sensitivity.presentation.folder import check_folder
    from sensitivity.presentation.json_values import to_json
    from sensitivity.pricing.variants import quick_study

    if len(inputs) > 2:
        raise CallError(f"window takes one input or two; found {len(inputs)}: {', '.join(inputs)}")
    read = read_with(study, model_file, seed=seed, replicates=replicates, points=points)
    read = quick_study(read, asked_points=points)
    if out is not None:
        check_folder(out)
    asked = _asked(read, inputs, lowest, highest, step)
    watch = partial(progress_for, quiet=quiet)
    found: Window | WindowMap
    if len(asked) == 1:
        found = find_window(read, asked[0], target=target, workers=workers, watch=watch)
    else:
        pair = (asked[0], asked[1])
        found = find_map(read, pair, target=target, workers=workers, watch=watch)
    document = to_json(window_document(found))
    if out is not None:
        from sensitivity.answers.report import command_in_words, sampling_options
        from sensitivity.answers.window.figures import window_figures
        from sensitivity.answers.window.report import window_report
        from sensitivity.presentation.results_folder import write_answer

        figures = window_figures(found)
        again = command_in_words(
            "window",
            [read],
            inputs,
            {"--from": lowest, "--to": highest, "--step": step, "--target": target}
            | sampling_options(found.plan),
        )
        write_answer(
            out,
            document,
            {"window": window_rows(found)},
            figures,
            {found.study.name: found.study.text},
            window_report(found, figures, again),
        )
    if json:
        sys.stdout.write(document)
    else:
        from sensitivity.answers.window.screen import show_window

        show_window(found, out, quiet=quiet)


def _asked(
    study: Study,
    names: Sequence[str],
    lowest: Sequence[str] | None,
    highest: Sequence[str] | None,
    step: Sequence[str] | None,
) -> list[Asked]:
    """Read the call's ends and steps in each input's own unit."""
    from sensitivity.answers.window.settings import Asked
    from sensitivity.errors import CallError, QuantityError, nearest
    from sensitivity.quantities.quantity import read_difference, read_quantity

    known = {item.name: item.unit for item in study.inputs}
    options = {"--from": lowest, "--to": highest, "--step": step}
    for option, given in options.items():
        if given and len(given) != len(names):
            raise CallError(
                f"{option} is given {len(given)} times for {len(names)} inputs; give it once for "
                "each, in their order, or not at all"
            )
    asked = []
    for place, name in enumerate(names):
        if name not in known:
            raise CallError(f'{study.name} has no input "{name}"; {nearest(name, known)}')
        values: dict[str, float | None] = {}
        for option, given in options.items():
            reads = read_difference if option == "--step" else read_quantity
            try:
                values[option] = reads(given[place], known[name]) if given else None
            except QuantityError as error:
                raise CallError(f"{option}: {error}") from None
        size = values["--step"]
        if size is not None and not size > 0.0:
            raise CallError(f"--step: found {size:g} {known[name]}; should be above zero")
        asked.append(Asked(name, values["--from"], values["--to"], size))
    return asked


def window_rows(found: Window | WindowMap) -> list[dict[str, object]]:
    """Lay the yields out as rows of a table."""
    from sensitivity.answers.window.find import Window

    if isinstance(found, Window):
        return [
            {
                found.item.name: setting.value,
                **_share("yield", setting.overall),
                **{k: v for name, s in setting.shares.items() for k, v in _share(name, s).items()},
            }
            for setting in found.settings
        ]
    one, other = found.items
    return [
        {one.name: x, other.name: y, **_share("yield", share)}
        for x, row in zip(found.first, found.overall, strict=True)
        for y, share in zip(found.second, row, strict=True)
    ]


def _share(name: str, share: Proportion) -> dict[str, object]:
    return {name: share.value, f"{name}_low": share.low, f"{name}_high": share.high}
