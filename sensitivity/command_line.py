"""The command line: reads the call, asks the engine, and is the one place where errors end.

Everything heavy is imported inside the command that needs it, so that help answers at once.
"""

from __future__ import annotations

import functools
import os
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, ParamSpec

import typer

if TYPE_CHECKING:
    from sensitivity.study import Study

Arguments = ParamSpec("Arguments")

YIELD_TOO_LOW, INTERRUPTED = 3, 130

app = typer.Typer(
    name="spiritlevel",
    help="Tolerances and sensitivities of spirit burners: how likely a burner works as drawn, "
    "and what to measure.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

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
AsJson = Annotated[bool, typer.Option("--json", help="Print the result as JSON and nothing else.")]


def _guarded(command: Callable[Arguments, None]) -> Callable[Arguments, None]:
    """Turn our own errors, an interrupt, and a bug into one message and an exit status."""

    @functools.wraps(command)
    def guarded(*args: Arguments.args, **kwargs: Arguments.kwargs) -> None:
        from sensitivity.errors import SpiritlevelError

        try:
            command(*args, **kwargs)
            sys.stdout.flush()
        except SpiritlevelError as error:
            _say(str(error))
            raise typer.Exit(error.exit_status) from None
        except KeyboardInterrupt:
            _say("interrupted; nothing was written, and what stood before still stands")
            raise typer.Exit(INTERRUPTED) from None
        except BrokenPipeError:
            # Whoever read our output has gone; that is no fault.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        except MemoryError:
            _say("this machine has not enough memory for that; ask for fewer --points")
            raise typer.Exit(1) from None
        except OSError as error:
            _say(f"{error.filename or 'output'}: {(error.strerror or str(error)).lower()}")
            raise typer.Exit(1) from None
        except Exception as error:
            if isinstance(error, typer.Exit | typer.Abort) or "SPIRITLEVEL_TRACEBACK" in os.environ:
                raise
            _say(
                f"a fault in spiritlevel itself, not in your study: {type(error).__name__}: "
                f"{error}. SPIRITLEVEL_TRACEBACK=1 shows where"
            )
            raise typer.Exit(1) from None

    return guarded


def _say(message: str) -> None:
    from sensitivity.screen import say_error

    say_error(message)


def _read(
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
    from sensitivity.study_file import read_study
    from sensitivity.study_form import POINTS

    study = read_study(path, tuple(model_files or ()))
    if points is not None and not (64 <= points <= 1 << 20 and points & (points - 1) == 0):
        raise CallError(f"--points: found {points}; should be {POINTS}, like 8192")
    asked = {"seed": seed, "replicates": replicates, "points": points}
    given = {key: value for key, value in asked.items() if value is not None}
    return replace(study, sampling=replace(study.sampling, **given))


def _version(wanted: bool) -> None:
    if wanted:
        from sensitivity import __version__

        typer.echo(f"spiritlevel {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say the version.")
    ] = False,
) -> None:
    pass


@app.command()
@_guarded
def run(
    study: StudyPath,
    out: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Results folder, by default STEM-results.")
    ] = None,
    seed: Seed = None,
    replicates: Replicates = None,
    points: Points = None,
    workers: Workers = None,
    model_file: ModelFile = None,
    keep_samples: Annotated[
        bool, typer.Option("--keep-samples", help="Write every burner to samples.csv.gz.")
    ] = False,
    pairs: Annotated[
        bool, typer.Option("--pairs", help="Second-order indices too: which pairs act together.")
    ] = False,
    require_yield: Annotated[
        float | None,
        typer.Option(
            metavar="P", min=0.0, max=1.0, help="Exit with 3 if the yield may be below P, 0..1."
        ),
    ] = None,
    json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """The main job: how likely it works, what decides it, what to measure."""
    from sensitivity.errors import CallError
    from sensitivity.folder import check_folder
    from sensitivity.monte_carlo import run_replicates
    from sensitivity.plan import plan_run
    from sensitivity.progress import progress_for
    from sensitivity.result import assemble

    start = time.monotonic()
    read = _read(study, model_file, seed=seed, replicates=replicates, points=points)
    if require_yield is not None and not read.limits:
        raise CallError("--require-yield wants a study with [limits]")
    target = out if out is not None else Path(f"{study.stem}-results")
    check_folder(target)
    plan = plan_run(read, pairs=pairs, keep_samples=keep_samples)
    summaries = run_replicates(plan, workers=workers, progress=progress_for(quiet=quiet))
    result = assemble(read, plan, summaries)
    from sensitivity.results_folder import write_run

    document = write_run(result, target)
    if json:
        sys.stdout.write(document)
    else:
        from sensitivity import screen

        if quiet:
            screen.show_verdict(result)
        else:
            screen.show_run(result, target, time.monotonic() - start)
    lowest = result.overall.low if result.overall is not None else 1.0
    if require_yield is not None and lowest < require_yield:
        _say(f"the yield may be as low as {lowest:.4g}, below {require_yield:g}")
        raise typer.Exit(YIELD_TOO_LOW)


@app.command()
@_guarded
def check(study: StudyPath, model_file: ModelFile = None) -> None:
    """No sampling: nominal results, worst case and root-sum-square against the limits."""
    from sensitivity import screen
    from sensitivity.worst_case import stack_up

    read = _read(study, model_file)
    screen.show_check(read, stack_up(read))


@app.command()
@_guarded
def models(
    name: Annotated[str | None, typer.Argument(metavar="NAME", help="One model.")] = None,
    model_file: ModelFile = None,
) -> None:
    """Models at hand; with a name, that model's inputs and results."""
    from sensitivity import screen
    from sensitivity.catalogue import available_models, find_models

    files = tuple(model_file or ())
    if name is None:
        screen.show_models(available_models(files).values())
    else:
        screen.show_model(find_models((name,), files)[0])


@app.command()
@_guarded
def new(
    names: Annotated[list[str], typer.Argument(metavar="MODEL...", help="Models to join.")],
    model_file: ModelFile = None,
) -> None:
    """A starter study on standard output, every input with its default and unit."""
    from sensitivity.catalogue import find_models
    from sensitivity.starter import starter_study
    from sensitivity.system import wire

    sys.stdout.write(starter_study(wire(find_models(tuple(names), tuple(model_file or ())))))


@app.command()
@_guarded
def processes() -> None:
    """The workshop's processes and instruments, with sources."""
    from sensitivity import screen
    from sensitivity.workshop import workshop_table

    screen.show_processes(workshop_table("process").values(), workshop_table("instrument").values())


@app.command()
@_guarded
def compare(
    studies: Annotated[
        list[Path], typer.Argument(metavar="STUDY STUDY...", help="Two designs or more.")
    ],
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

    from sensitivity import comparison, screen
    from sensitivity.document import comparison_document, to_json
    from sensitivity.progress import progress_for

    read = [
        _read(path, model_file, seed=seed, replicates=replicates, points=points) for path in studies
    ]
    sampling = read[0].sampling
    if sampling.seed is None:
        sampling = replace(sampling, seed=secrets.randbelow(1 << 32))
    compared = comparison.compare(
        read, sampling, workers=workers, progress=progress_for(quiet=quiet)
    )
    if json:
        sys.stdout.write(to_json(comparison_document(compared, sampling)))
    else:
        screen.show_comparison(compared, sampling, quiet=quiet)


def main() -> None:
    """Entry point of the ``spiritlevel`` command."""
    app()
