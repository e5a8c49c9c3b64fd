"""From an answer to what the call asked for: a folder, JSON, the verdict alone, or the screen."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sensitivity.answers.answer import Answer
    from sensitivity.engine.options import RunOptions


def options_of(
    *,
    seed: int | None,
    replicates: int | None,
    points: int | None,
    workers: int | None,
    quiet: bool,
    scheduler: str | None = None,
) -> RunOptions:
    """Gather what a call says of its sampling, with a line of progress if anyone is watching."""
    from functools import partial

    from sensitivity.engine.cluster import executor_at
    from sensitivity.engine.options import RunOptions
    from sensitivity.engine.progress import progress_for, told_for

    return RunOptions(
        seed=seed,
        replicates=replicates,
        points=points,
        workers=workers,
        executor=None if scheduler is None else executor_at(scheduler),
        progress=partial(progress_for, quiet=quiet),
        meanwhile=_load_writers,
        draws=True,
        told=told_for(quiet=quiet),
    )


def _load_writers() -> None:
    """Load what draws figures and writes pages, while others compute."""
    from sensitivity.presentation.figure_style import load_drawing
    from sensitivity.presentation.page import load_writers

    load_drawing()
    load_writers()


def check_out(out: Path | None) -> None:
    """Refuse, before any sampling, a folder that cannot be written."""
    from sensitivity.presentation.folder import check_folder

    if out is not None:
        check_folder(out)


def deliver(
    answer: Answer[Any],
    *,
    out: Path | None,
    json: bool,
    quiet: bool,
    written: Callable[[], None] | None = None,
) -> None:
    """Write an answer's folder if one is wanted, and print it as the call asks.

    What is of some other engine is named before anything else. ``written`` is called between the
    two, once the folder stands.
    """
    from sensitivity.answers.borrowed import borrowed_in_words
    from sensitivity.presentation.blocks import Words
    from sensitivity.presentation.json_values import to_json
    from sensitivity.presentation.terminal import console, show, write_document

    named = dict.fromkeys(borrowed_in_words(study) for study in answer.studies)
    borrowed = [words for words in named if words]
    if out is not None:
        answer.save(out)
    if written is not None:
        written()
    if json:
        write_document(to_json(answer.to_dict()))
    elif quiet:
        console().print(answer.verdict)
    else:
        closing = [answer.studies[0].system.vocabulary.cautions]
        if out is not None:
            closing += ["", f"Written to {out}/: report.html, result.json, tables, figures"]
        show(answer.title, [*map(Words, borrowed), *answer.screen()], *closing)
