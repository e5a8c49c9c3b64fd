"""Building a study in Python: the same study, the same checks, as the file that says the same."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from sensitivity.errors import ModelFileError
from sensitivity.spreads.statement import Stated
from sensitivity.study.assembly import study_from_tables
from sensitivity.study.faults import Faults
from sensitivity.study.statements import (
    CorrelationStatement,
    InputStatement,
    LimitStatement,
    ReadingStatement,
)
from sensitivity.study.study import Study
from sensitivity.system.catalogue import Model, function_model

ModelOrName = str | Callable[..., Any]
InputOrNominal = InputStatement | Stated


def make_study(
    *,
    models: Sequence[ModelOrName],
    inputs: Mapping[str, InputOrNominal] | None = None,
    limits: Iterable[LimitStatement] = (),
    readings: Iterable[ReadingStatement] = (),
    correlations: Iterable[CorrelationStatement] = (),
    schedule: Iterable[Mapping[str, InputOrNominal]] = (),
    sampling: Mapping[str, float] | None = None,
    keeps: float | None = None,
    blunder: Stated | None = None,
    units: str | None = None,
    unstated: str | None = None,
    doubts: str | None = None,
    title: str | None = None,
    name: str = "study",
    folder: str | Path = ".",
    model_files: Iterable[str] = (),
) -> Study:
    """Build a study from functions and statements.

    Parameters
    ----------
    models : sequence of str or callable
        Names of models at hand, or annotated functions of one's own, in the order of the story.
    inputs : mapping of name to InputStatement, optional
        What ``normal``, ``between`` and their sisters return; a quantity alone is held.
    limits, readings, correlations : iterable of statements, optional
        What ``limit``, ``reading`` and ``correlation`` return.
    schedule : iterable of mappings, optional
        One a step: ``{"step": "up the bank", "duration": "3 min", "grade": normal(...)}``.
    sampling : mapping, optional
        ``seed``, ``replicates``, ``points``, ``confidence``, ``target_half_width``,
        ``max_replicates``.
    keeps : float, optional
        Share of the moments, 0.5 to 0.9999, at which what works keeps every limit; 0.99 unless
        given.
    blunder : str or number, optional
        Chance that a dimension was made wrong, by a slip; 1 in 50 unless given.
    units : "mm" or "inch", optional
        In which quantities are said back; as most of the lengths are written unless given.
    unstated : "held" or "as declared", optional
        How conditions and doubts are taken that are not stated: at their defaults unless given, or
        with the spread that their models declare.
    doubts : str, optional
        A file in the folder, of what earlier trials taught of the inputs of kind model.
    title, name : str, optional
        In words; and what a results folder is named after.
    folder : str or Path, optional
        Where files of measured values lie; the current folder unless given.
    model_files : iterable of str, optional
        Files with models of one's own, for those given by name.

    Returns
    -------
    Study
        With no text: its fields are all there is of it.

    Raises
    ------
    StudyError
        With all the faults of the study.
    ModelFileError
        Where a function cannot be read as a model.
    """
    faults = Faults()
    own, names = _models(models)
    content: dict[str, Any] = {
        "title": name if title is None else title,
        "models": names,
        "inputs": {key: _table(stated) for key, stated in (inputs or {}).items()},
        "limits": _limits(limits, faults),
        "readings": _readings(readings, faults),
        "correlations": [dict(statement.keys) for statement in correlations],
        "schedule": [_step(step) for step in schedule],
        "sampling": dict(sampling or {}),
    }
    if keeps is not None:
        content["keeps"] = keeps
    for key, stated in (
        ("blunder", blunder),
        ("units", units),
        ("unstated", unstated),
        ("doubts", doubts),
    ):
        if stated is not None:
            content[key] = stated
    return study_from_tables(
        content,
        where=name,
        name=name,
        folder=Path(folder),
        faults=faults,
        own=own,
        model_files=tuple(model_files),
    )


def _models(models: Sequence[ModelOrName]) -> tuple[dict[str, Model], list[str]]:
    """Read the functions, and name all models in their order."""
    own: dict[str, Model] = {}
    names = []
    for one in models:
        if isinstance(one, str):
            names.append(one)
            continue
        model = function_model(one)
        if model.name in own and own[model.name].function is not one:
            raise ModelFileError(f'two functions are called "{model.name}"; rename one of them')
        own[model.name] = model
        names.append(model.name)
    return own, names


def _table(stated: InputOrNominal) -> dict[str, Any]:
    """Turn what is stated of one input into its table; a quantity alone is its nominal."""
    if isinstance(stated, InputStatement):
        return dict(stated.keys)
    return {"nominal": stated}


def _step(step: Mapping[str, InputOrNominal]) -> dict[str, Any]:
    """Turn a step into its table; its name stays as it is."""
    return {key: value if key == "step" else _table(value) for key, value in step.items()}


def _limits(limits: Iterable[LimitStatement], faults: Faults) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for statement in limits:
        if statement.result in found:
            faults.add(
                ("limits", statement.result), "is stated twice; state both ends in one limit"
            )
        found[statement.result] = dict(statement.keys)
    return found


def _readings(readings: Iterable[ReadingStatement], faults: Faults) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for statement in readings:
        if statement.result in found:
            faults.add(("readings", statement.result), "is stated twice")
        found[statement.result] = dict(statement.keys)
    return found
