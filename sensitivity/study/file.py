"""Reading a study file: every fault at once, each with its line, what was found and what is right.

A study is data: opening someone else's runs no code. Models of one's own are named on the
command line.
"""

from __future__ import annotations

import re
import reprlib
import tomllib
from collections.abc import Collection, Iterable, Mapping
from pathlib import Path
from typing import Any

from sensitivity.errors import (
    Fault,
    MachineError,
    QuantityError,
    StudyError,
    WiringError,
    nearest,
    shortened,
)
from sensitivity.quantities.quantity import read_quantity
from sensitivity.spreads.copula import CorrelationError, copula_factor
from sensitivity.study.faults import Faults
from sensitivity.study.form import (
    TOP_KEYS,
    CorrelationTable,
    InputTable,
    LimitTable,
    SamplingTable,
    read_table,
)
from sensitivity.study.inputs import resolve_inputs
from sensitivity.study.study import Correlation, Input, Limit, Sampling, Study
from sensitivity.study.toml_lines import Path as KeyPath
from sensitivity.system.catalogue import Model, find_models
from sensitivity.system.system import Step, System, wire

LARGEST_STUDY = 1 << 20  # bytes; a study is a page or two


def read_study(path: Path, model_files: Iterable[str] = ()) -> Study:
    """Read, check and join a study to its models.

    Raises
    ------
    StudyError
        With all the faults of the study.
    ModelFileError
        Where a model file cannot be loaded.
    """
    text = _text(path)
    try:
        content = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        # Not only what tomllib calls a fault: numbers and nests past what Python reads, too.
        raise StudyError(str(path), [_not_toml(text, shortened(str(error)))]) from None
    faults = Faults(text)
    for key in content:
        if key not in TOP_KEYS:
            faults.add((key,), f"unknown key; {nearest(key, TOP_KEYS)}")
    title = content.get("title", path.stem)
    if not isinstance(title, str):
        faults.add(("title",), f'found {reprlib.repr(title)}; should be text in quotes, like "..."')
    inputs = _tables(content, "inputs", InputTable, faults)
    steps, scheduled = _schedule(content, faults)
    limits = _tables(content, "limits", LimitTable, faults)
    correlations = _correlations(content, faults)
    sampling = _sampling(content, faults)
    system = _system(content, tuple(model_files), steps, faults)
    if system is None:
        raise StudyError(str(path), faults.found)
    tables = {name: (("inputs", name), table) for name, table in inputs.items()} | scheduled
    read_inputs = resolve_inputs(tables, system, path.parent, faults)
    read_limits = _limits(limits, system, faults)
    sound = {item.name for item in read_inputs}
    faulty = {name for name in tables if name not in sound}
    _check_correlations(correlations, read_inputs, faulty, faults)
    if faults.found or sampling is None:
        raise StudyError(str(path), faults.found)
    return Study(
        str(title), path.stem, text, system, read_inputs, read_limits, correlations, sampling
    )


def _not_toml(text: str, problem: str) -> Fault:
    """Say where TOML cannot be read on, with the line itself and the usual cause."""
    lines = text.split("\n")
    found = re.search(r"at line (\d+)", problem)
    number = int(found[1]) if found else 0
    if not 1 <= number <= len(lines):
        return Fault("", f"not TOML: {problem}")
    line = lines[number - 1].strip()
    hint = 'a value with a unit stands in straight quotes, like nominal = "0.48 in"'
    return Fault(
        shortened(line), f"not TOML: {problem}; {hint}. The rest is checked once this reads", number
    )


def _text(path: Path) -> str:
    def refuse(problem: str) -> StudyError:
        return StudyError(str(path), [Fault("", problem)])

    try:
        if path.is_dir():
            raise refuse("is a folder; name the study file in it")
        if path.exists() and not path.is_file():
            raise refuse("is not a file that can be read to its end")
        if path.stat().st_size > LARGEST_STUDY:
            raise refuse("is larger than 1 MiB; a study is a page or two of TOML")
        data = path.read_bytes()
    except FileNotFoundError:
        raise refuse("no such file") from None
    except OSError as error:
        raise MachineError(f"{path} cannot be read: {(error.strerror or '').lower()}") from None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise refuse("is not text; a study is TOML in UTF-8") from None
    if not text.strip():
        raise refuse('is empty; "spiritlevel new MODEL" prints a starter study')
    return text


def _tables(content: Mapping[str, Any], key: str, form: Any, faults: Faults) -> dict[str, Any]:
    """Read the tables ``[key.NAME]``; those with faults are reported and left out."""
    tables = content.get(key, {})
    if not isinstance(tables, dict):
        faults.add((key,), f"found {reprlib.repr(tables)}; should be tables, like [{key}.name]")
        return {}
    read = {}
    for name, table in tables.items():
        value, problems = read_table(form, table, (key, name))
        for path, problem in problems:
            faults.add(path, problem)
        if value is not None:
            read[name] = value
    return read


def _correlations(content: Mapping[str, Any], faults: Faults) -> tuple[Correlation, ...]:
    rows = content.get("correlations", [])
    if not isinstance(rows, list):
        faults.add(("correlations",), "should be written as [[correlations]]")
        return ()
    read = []
    for index, row in enumerate(rows):
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
    return None if table is None else Sampling(**table.model_dump())


def _schedule(
    content: Mapping[str, Any], faults: Faults
) -> tuple[tuple[Step, ...], dict[str, tuple[KeyPath, InputTable]]]:
    """Read ``[[schedule]]``: its steps, and the inputs they state, by the system's names.

    A value is a quantity, held, or a table like those of ``[inputs]``. What a step does not
    state is as in ``[inputs]``.
    """
    rows = content.get("schedule", [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        faults.add(("schedule",), "should be written as [[schedule]], one for each step")
        return (), {}
    steps: list[Step] = []
    tables: dict[str, tuple[KeyPath, InputTable]] = {}
    for index, row in enumerate(rows):
        name = row.get("step")
        if not isinstance(name, str) or not name.strip():
            faults.add(("schedule", index), 'wants its name, like step = "up the bank"')
            continue
        step = Step(name.strip().replace(" ", "_"), frozenset(row) - {"step"})
        if any(step.name == other.name for other in steps):
            faults.add(("schedule", index, "step"), f'"{name}" is named twice')
            continue
        steps.append(step)
        for key in step.states:
            path: KeyPath = ("schedule", index, key)
            value = row[key] if isinstance(row[key], dict) else {"nominal": row[key]}
            table, problems = read_table(InputTable, {"kind": "running", **value}, path)
            for place, problem in problems:
                faults.add(place, problem)
            if table is not None:
                tables[step.input_name(key)] = (path, table)
    return tuple(steps), tables


def _system(
    content: Mapping[str, Any],
    model_files: tuple[str, ...],
    steps: tuple[Step, ...],
    faults: Faults,
) -> System | None:
    names = content.get("models")
    if not isinstance(names, list) or not names or not all(isinstance(n, str) for n in names):
        problem = 'should list the models, like models = ["fuel_level"]'
        faults.add(("models",), f"is missing; {problem}" if names is None else problem)
        return None
    repeated = sorted({name for name in names if names.count(name) > 1})
    if repeated:
        faults.add(("models",), f"named twice: {', '.join(repeated)}")
        return None
    try:
        models = find_models(tuple(names), model_files)
        _check_steps(models, steps, faults)
        return wire(models, steps)
    except WiringError as error:
        faults.add(("models",), str(error))
        return None


def _check_steps(models: tuple[Model, ...], steps: tuple[Step, ...], faults: Faults) -> None:
    known = {item.name for model in models for item in model.arguments if item.per_step}
    if steps and not known:
        faults.add(("schedule",), "none of these models runs through a schedule; leave it out")
        return
    for index, step in enumerate(steps):
        for key in sorted(step.states - known):
            faults.add(
                ("schedule", index, key),
                f"no model takes this for each step; {nearest(key, known | {'step'})}",
            )


def _limits(tables: Mapping[str, LimitTable], system: System, faults: Faults) -> tuple[Limit, ...]:
    known = {quantity.name: quantity for quantity in system.results}
    read = []
    for name, table in tables.items():
        if name not in known:
            faults.add(("limits", name), f"no model computes this; {nearest(name, known)}")
            continue
        unit, ends, whole = known[name].unit, {}, True
        for key in ("at_least", "at_most"):
            text = getattr(table, key)
            try:
                ends[key] = None if text is None else read_quantity(text, unit)
            except QuantityError as error:
                faults.add(("limits", name, key), str(error))
                whole = False
        if not whole:
            continue
        low, high = ends["at_least"], ends["at_most"]
        if low is None and high is None:
            if not faults.under(("limits", name)):
                faults.add(("limits", name), "wants at_least or at_most, or both")
        elif low is not None and high is not None and low >= high:
            faults.add(
                ("limits", name, "at_most"),
                f"reversed: at_least {low:g} and at_most {high:g} {unit}",
            )
        else:
            read.append(Limit(name, unit, low, high, table.because))
    return tuple(read)


def _check_correlations(
    correlations: tuple[Correlation, ...],
    inputs: tuple[Input, ...],
    faulty: Collection[str],
    faults: Faults,
) -> None:
    """Check that correlated inputs vary, and that the ranks do not contradict each other.

    What is said of a faulty input is said where it stands, and not again here.
    """
    varying = [item.name for item in inputs if item.spread is not None]
    seen = set()
    sound = True
    for index, correlation in enumerate(correlations):
        path = ("correlations", index, "inputs")
        first, second = correlation.inputs
        for name in correlation.inputs:
            if name not in varying:
                sound = False
                if name not in faulty:
                    problem = f'"{name}" does not vary in this study; {nearest(name, varying)}'
                    faults.add(path, problem)
        if first == second:
            faults.add(path, f'"{first}" with itself; name two inputs')
            sound = False
        if frozenset(correlation.inputs) in seen:
            faults.add(path, f"{first} and {second} are already correlated above")
            sound = False
        seen.add(frozenset(correlation.inputs))
    if sound:
        try:
            copula_factor(correlations)
        except CorrelationError as error:
            faults.add(("correlations", 0, "rank"), str(error))
