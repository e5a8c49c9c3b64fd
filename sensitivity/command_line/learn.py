"""``learn``: a study plus what was seen in trials."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

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
def learn(
    study: StudyPath,
    trials: Annotated[
        Path | None, typer.Option(metavar="TOML", help="Trials and what was seen in each.")
    ] = None,
    seen: Annotated[
        list[str] | None,
        typer.Option(
            metavar="WHAT",
            help='Seen in one trial: "it floods", flood_margin=kept or rise="8.2 mm"; repeatable.',
        ),
    ] = None,
    at: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME=Q", help='Held in that trial: grade="0.5 %"; repeatable.'),
    ] = None,
    instruments: Annotated[
        list[str] | None,
        typer.Option(
            "--with", metavar="NAME=INSTRUMENT", help="With what a value was read; repeatable."
        ),
    ] = None,
    save_doubts: Annotated[
        Path | None,
        typer.Option(
            metavar="JSON",
            help='Keep what was learnt of the physics, for doubts = "..." in a study.',
        ),
    ] = None,
    believe: Annotated[
        bool, typer.Option("--believe", help="Go on in spite of a conflict with what is stated.")
    ] = False,
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
    """What trials say of this part: how it stands, where to look first, which trial next."""
    from sensitivity.answers.learn import learn as answer
    from sensitivity.answers.learn.answer import check_doubts_file

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
    if save_doubts is not None:
        check_doubts_file(save_doubts)
    found = answer(
        read,
        trials,
        seen=seen or (),
        at=at or (),
        instruments=instruments or (),
        believe=believe,
        options=options,
    )
    if save_doubts is None:
        deliver(found, out=out, json=json, quiet=quiet)
        return
    with found.doubts_beside(save_doubts) as put_in_place:
        deliver(found, out=out, json=json, quiet=quiet, written=put_in_place)
