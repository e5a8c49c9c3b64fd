"""From plain tables to a study: the same checks for a file and for what Python builds."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sensitivity.errors import StudyError, nearest
from sensitivity.quantities.quantity import suggesting
from sensitivity.spreads.copula import Correlation
from sensitivity.spreads.samples import SampleFiles
from sensitivity.study.caps import (
    LONGEST_TITLE,
    MOST_CORRELATIONS,
    MOST_INPUTS,
    MOST_LIMITS,
    MOST_MODELS,
    MOST_READINGS,
)
from sensitivity.study.doubts import doubts_of_study
from sensitivity.study.faults import Faults
from sensitivity.study.form import (
    TOP_KEYS,
    AnyTable,
    CorrelationTable,
    InputTable,
    LimitTable,
    ReadingTable,
    SamplingTable,
    echo,
    read_table,
)
from sensitivity.study.inputs import read_blunder, resolve_inputs
from sensitivity.study.joining import find_each, in_part, join
from sensitivity.study.limits import check_correlations, resolve_limits
from sensitivity.study.readings import resolve_readings
from sensitivity.study.schedule import check_steps, read_schedule
from sensitivity.study.study import (
    BLUNDER,
    HIGHEST_KEEPS,
    KEEPS,
    LOWEST_KEEPS,
    Sampling,
    Study,
    Units,
)
from sensitivity.study.units_used import units_used
from sensitivity.study.unstated import read_unstated
from sensitivity.system.catalogue import Model

NO_MODELS: Mapping[str, Model] = {}


def study_from_tables(
    content: Mapping[str, Any],
    *,
    where: str,
    name: str,
    folder: Path,
    faults: Faults,
    text: str = "",
    own: Mapping[str, Model] = NO_MODELS,
    model_files: tuple[str, ...] = (),
) -> Study:
    """Check the plain tables of a study and join them to its models.

    Parameters
    ----------
    content : mapping
        As TOML gives it.
    where, name : str
        What a message names; and the study's own name.
    folder : Path
        The folder that its files of measured values lie in.
    faults : Faults
        Takes what is wrong, with the lines of the keys where there are any.
    text : str
        The file, only to be kept.
    own : mapping of name to Model, optional
        Models that go before those installed and those in files.
    model_files : tuple of str, optional
        Files with models of one's own.

    Raises
    ------
    StudyError
        With all the faults of the study.
    ModelFileError
        Where a model file cannot be loaded.
    """
    units = _units(content, faults)
    with suggesting(inches=units == "inch"):
        return _joined(
            content,
            where=where,
            name=name,
            folder=folder,
            faults=faults,
            text=text,
            own=own,
            model_files=model_files,
            units=units,
        )


def _joined(
    content: Mapping[str, Any],
    *,
    where: str,
    name: str,
    folder: Path,
    faults: Faults,
    text: str,
    own: Mapping[str, Model],
    model_files: tuple[str, ...],
    units: Units,
) -> Study:
    """Do what `study_from_tables` says, its units known."""
    for key in content:
        if key not in TOP_KEYS:
            faults.add((key,), f"unknown key; {nearest(key, TOP_KEYS)}")
    title = content.get("title", name)
    if not isinstance(title, str):
        faults.add(("title",), f'found {echo(title)}; should be text in quotes, like "..."')
    elif len(title) > LONGEST_TITLE:
        faults.add(("title",), f"found {echo(title)}; should be at most {LONGEST_TITLE} characters")
    inputs = _tables(content, "inputs", InputTable, MOST_INPUTS, faults)
    steps, scheduled = read_schedule(content, faults)
    limits = _tables(content, "limits", LimitTable, MOST_LIMITS, faults)
    readings = _tables(content, "readings", ReadingTable, MOST_READINGS, faults)
    correlations = _correlations(content, faults)
    sampling = _sampling(content, faults)
    keeps = _keeps(content, faults)
    tables = {name: (("inputs", name), table) for name, table in inputs.items()} | scheduled
    if len(tables) > MOST_INPUTS >= len(inputs):
        problem = f"{len(tables)} inputs with those of its steps; at most {MOST_INPUTS} can be run"
        faults.add(("schedule",), problem)
    models = _models(content, own, model_files, faults)
    whole = not faults.under(("models",), itself=True)
    if models:
        check_steps(models, steps, faults)
    system = join(models, steps, faults)
    if system is None or not whole:
        whole = False
        system = in_part(models, {name: table for name, (_, table) in tables.items()}, limits)
    read_inputs = resolve_inputs(
        tables,
        system,
        SampleFiles(folder),
        faults,
        whole=whole,
        units=units,
        unstated=read_unstated(content, faults),
    )
    read_limits = resolve_limits(limits, system, faults)
    read_readings = resolve_readings(readings, system, read_inputs, faults, whole=whole)
    sound = {item.name for item in read_inputs}
    faulty = {name for name in tables if name not in sound}
    check_correlations(correlations, read_inputs, faulty, faults)
    blunder = _blunder(content, faults)
    doubts, read_inputs, correlations = doubts_of_study(
        content, folder, read_inputs, correlations, faults
    )
    if faults.found or sampling is None:
        raise StudyError(where, faults.found)
    return Study(
        title=str(title),
        name=name,
        text=text,
        system=system,
        inputs=read_inputs,
        limits=read_limits,
        correlations=correlations,
        sampling=sampling,
        models=tuple(model.name for model in models),
        units=units,
        keeps=keeps,
        readings=read_readings,
        blunder=blunder,
        doubts=doubts,
    )


def _tables(
    content: Mapping[str, Any], key: str, form: type[AnyTable], most: int, faults: Faults
) -> dict[str, AnyTable]:
    """Read the tables ``[key.NAME]``; those with faults are reported and left out."""
    tables = content.get(key, {})
    if not isinstance(tables, Mapping):
        faults.add((key,), f"found {echo(tables)}; should be tables, like [{key}.name]")
        return {}
    if len(tables) > most:
        faults.add((key, list(tables)[most]), f"{len(tables)} {key}; at most {most} can be run")
    read = {}
    for name in list(tables)[:most]:
        value, problems = read_table(form, tables[name], (key, name))
        for path, problem in problems:
            faults.add(path, problem)
        if value is not None:
            read[name] = value
    return read


def _correlations(content: Mapping[str, Any], faults: Faults) -> tuple[Correlation, ...]:
    rows = content.get("correlations", [])
    if not isinstance(rows, list | tuple):
        faults.add(("correlations",), "should be written as [[correlations]]")
        return ()
    if len(rows) > MOST_CORRELATIONS:
        problem = f"{len(rows)} correlations; at most {MOST_CORRELATIONS} can be run"
        faults.add(("correlations", MOST_CORRELATIONS), problem)
    read = []
    for index, row in enumerate(rows[:MOST_CORRELATIONS]):
        value, problems = read_table(CorrelationTable, row, ("correlations", index))
        for path, problem in problems:
            faults.add(path, problem)
        if value is not None and not problems:
            read.append(Correlation(value.inputs, value.rank, value.because))
    return tuple(read)


def _sampling(content: Mapping[str, Any], faults: Faults) -> Sampling | None:
    table, problems = read_table(SamplingTable, content.get("sampling", {}), ("sampling",))
    for path, problem in problems:
        faults.add(path, problem)
    if table is None:
        return None
    return Sampling(
        seed=table.seed,
        replicates=table.replicates,
        points=table.points,
        confidence=table.confidence,
        target_half_width=table.target_half_width,
        max_replicates=table.max_replicates,
    )


def _keeps(content: Mapping[str, Any], faults: Faults) -> float:
    """Read the share of the moments at which what works keeps every limit."""
    keeps = content.get("keeps", KEEPS)
    if isinstance(keeps, float) and LOWEST_KEEPS <= keeps <= HIGHEST_KEEPS:
        return keeps
    faults.add(
        ("keeps",),
        f"found {echo(keeps)}; should be a share of the moments from {LOWEST_KEEPS:g} to "
        f"{HIGHEST_KEEPS:g}, like {KEEPS:g}",
    )
    return KEEPS


def _blunder(content: Mapping[str, Any], faults: Faults) -> float:
    """Read the chance that any dimension was made wrong, by a slip."""
    stated = content.get("blunder", BLUNDER)
    if isinstance(stated, bool) or not isinstance(stated, str | int | float):
        faults.add(("blunder",), f'found {echo(stated)}; should be a chance, like "1 in 50"')
        return BLUNDER
    chance = read_blunder(stated, ("blunder",), faults)
    return BLUNDER if chance is None else chance


def _units(content: Mapping[str, Any], faults: Faults) -> Units:
    """Read in which units quantities are said back: as stated, or as most lengths are written."""
    stated = content.get("units")
    if stated is None:
        return units_used(content)
    if stated in ("mm", "inch"):
        return "inch" if stated == "inch" else "mm"
    faults.add(("units",), f'found {echo(stated)}; should be "mm" or "inch"')
    return "mm"


def _models(
    content: Mapping[str, Any],
    own: Mapping[str, Model],
    model_files: tuple[str, ...],
    faults: Faults,
) -> tuple[Model, ...]:
    names = content.get("models")
    if not isinstance(names, list) or not names or not all(isinstance(n, str) for n in names):
        problem = 'should list the models, like models = ["fuel_level"]'
        faults.add(("models",), f"is missing; {problem}" if names is None else problem)
        return ()
    if len(names) > MOST_MODELS:
        faults.add(("models",), f"{len(names)} models; at most {MOST_MODELS} can be joined")
        return ()
    repeated = sorted({name for name in names if names.count(name) > 1})
    if repeated:
        faults.add(("models",), f"named twice: {', '.join(repeated)}")
    return find_each(dict.fromkeys(names), own, model_files, faults)
