"""Reading ``[[schedule]]``: the steps, and the inputs they state, by the system's names."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sensitivity.errors import nearest
from sensitivity.study.caps import LONGEST_NAME, MOST_STEPS
from sensitivity.study.faults import Faults
from sensitivity.study.form import InputTable, echo, read_table
from sensitivity.study.toml_lines import Path
from sensitivity.system.catalogue import Model
from sensitivity.system.system import ScheduleStep


def read_schedule(
    content: Mapping[str, Any], faults: Faults
) -> tuple[tuple[ScheduleStep, ...], dict[str, tuple[Path, InputTable]]]:
    """Read the steps, and the tables of the inputs that they state.

    A value is a quantity, held, or a table like those of ``[inputs]``. What a step does not
    state is as in ``[inputs]``. A step without a good name is a fault, and its values are read all
    the same.

    Parameters
    ----------
    content : mapping
        The whole study.
    faults : Faults
        Takes what is wrong.

    Returns
    -------
    tuple of ScheduleStep, dict of name to (path, InputTable)
        The steps; and what they state, under the name of the system's input.
    """
    rows = content.get("schedule", [])
    if not isinstance(rows, list | tuple) or not all(isinstance(row, Mapping) for row in rows):
        faults.add(("schedule",), "should be written as [[schedule]], one for each step")
        return (), {}
    if len(rows) > MOST_STEPS:
        faults.add(("schedule", MOST_STEPS), f"{len(rows)} steps; at most {MOST_STEPS} can be run")
    steps: dict[str, ScheduleStep] = {}
    tables: dict[str, tuple[Path, InputTable]] = {}
    for index, row in enumerate(rows[:MOST_STEPS]):
        step = ScheduleStep(_name(row, index, steps, faults), frozenset(row) - {"step"})
        steps[step.name] = step
        for key in row:
            if key == "step":
                continue
            path: Path = ("schedule", index, key)
            value = row[key] if isinstance(row[key], Mapping) else {"nominal": row[key]}
            table, problems = read_table(InputTable, {"kind": "running", **value}, path)
            for place, problem in problems:
                faults.add(place, problem)
            if table is not None:
                tables[step.input_name(key)] = (path, table)
    return tuple(steps.values()), tables


def _name(
    row: Mapping[str, Any], index: int, steps: Mapping[str, ScheduleStep], faults: Faults
) -> str:
    """Name of a step; where it has none that will do, one that is only used to read on."""
    stated = row.get("step")
    if not isinstance(stated, str) or not stated.strip():
        faults.add(("schedule", index, "step"), 'wants its name, like step = "up the bank"')
        return f"step {index}"
    if len(stated) > LONGEST_NAME:
        problem = f"found {echo(stated)}; should be at most {LONGEST_NAME} characters"
        faults.add(("schedule", index, "step"), problem)
        return f"step {index}"
    name = stated.strip().replace(" ", "_")
    if name in steps:
        faults.add(("schedule", index, "step"), f'"{stated}" is named twice')
        return f"step {index}"
    return name


def check_steps(models: tuple[Model, ...], steps: tuple[ScheduleStep, ...], faults: Faults) -> None:
    """See that the steps state what a model takes for each step."""
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
