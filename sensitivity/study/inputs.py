"""Resolving the stated inputs of a study against its models: nominals, spreads and ranges."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from sensitivity.errors import QuantityError, nearest
from sensitivity.quantities.quantity import read_quantity
from sensitivity.quantities.tube import is_a_tube
from sensitivity.spreads.samples import SampleFiles
from sensitivity.spreads.stated import stated_spread, unit_faults
from sensitivity.spreads.statement import SPREAD_KEYS, Origin, StatementError, way_of
from sensitivity.study.asked import asked_for
from sensitivity.study.faults import Faults
from sensitivity.study.form import InputTable
from sensitivity.study.redraws import read_redraw, sizes_written
from sensitivity.study.sources import has_source
from sensitivity.study.study import Input, Units
from sensitivity.study.toml_lines import Path as KeyPath
from sensitivity.study.tubes import with_tubes
from sensitivity.study.unstated import (
    Unstated,
    held_at_default,
    table_as_declared,
    with_borrowed,
)
from sensitivity.system.catalogue import Quantity
from sensitivity.system.setting_out import setting_out_of, sketch_numbers
from sensitivity.system.system import System

YES_OR_NO = {"yes": 1.0, "no": 0.0, "1": 1.0, "0": 0.0}
"""How what is one or the other may be stated in words, as it is said."""

MOST_BLUNDERS = 0.5
"""Largest chance that a dimension was made wrong: beyond it the statement is no statement."""


def resolve_inputs(
    tables: Mapping[str, tuple[KeyPath, InputTable]],
    system: System,
    files: SampleFiles,
    faults: Faults,
    *,
    whole: bool = True,
    units: Units = "mm",
    unstated: Unstated = "held",
) -> tuple[Input, ...]:
    """Resolve the stated inputs in the study's order, then those held at their default.

    Parameters
    ----------
    tables : mapping of name to (path, InputTable)
        As stated, and where.
    system : System
        The models, joined.
    files : SampleFiles
        The files of measured values beside the study.
    faults : Faults
        Takes what is wrong; an input with a fault is left out.
    whole : bool
        Whether every model is known. Where one is not, an input may be missing because that model
        computes it.
    units : "mm" or "inch"
        Of the study, for examples.
    unstated : "held" or "as declared"
        How conditions and doubts are taken that are not stated.
    """
    known = {quantity.name: quantity for quantity in system.inputs}
    computed = {quantity.name: model.name for model in system.models for quantity in model.results}
    tables = with_tubes(tables, known, faults)
    read = []
    numbers = sketch_numbers(system)
    for name, (path, table) in tables.items():
        if name in computed:
            faults.add(path, f'is computed by the model "{computed[name]}"; not stated')
        elif name not in known:
            if path[0] == "inputs" and whole:
                faults.add(path, f"no model takes this input; {nearest(name, known)}")
        elif table.blank:
            asked = asked_for(known[name], numbers.get(name, 0), units)
            faults.ask((*path, "nominal"), asked)
            _judge_units(known[name], table, path, faults)
        elif (item := _input(known[name], table, path, files, faults)) is not None:
            read.append(item)
    _check_groups(read, tables, faults)
    for quantity in system.inputs:
        if quantity.name in tables:
            continue
        if quantity.default is None and not whole:
            continue
        if quantity.default is None:
            wanted = f"{quantity.meaning}, in {quantity.unit or 'a pure number'}"
            faults.add(
                ("inputs", quantity.name), f"is missing and the model has no default ({wanted})"
            )
            continue
        declared = table_as_declared(quantity) if unstated == "as declared" else None
        path = ("inputs", quantity.name)
        taken = _input(quantity, declared, path, files, faults) if declared else None
        read.append(replace(taken, given=False) if taken else held_at_default(quantity))
    drawn = frozenset(name for name, (_, table) in tables.items() if table.nominal is not None)
    return with_borrowed(read, drawn, setting_out_of(system.models).needs)


def _check_groups(
    read: list[Input], tables: Mapping[str, tuple[KeyPath, InputTable]], faults: Faults
) -> None:
    """See that no group bears the name of an input that does not belong to it."""
    group_of = {item.name: item.group for item in read}
    for item in read:
        if item.group in group_of and group_of[item.group] != item.group:
            path, _ = tables[item.name]
            faults.add((*path, "group"), f'"{item.group}" is an input; give the group another name')


def _input(
    quantity: Quantity, table: InputTable, path: KeyPath, files: SampleFiles, faults: Faults
) -> Input | None:
    before = len(faults.found)
    nominal = _nominal(quantity, table, path, faults)
    statement = table.spread_statement()
    spread, stated = None, ""
    faulty = faults.under(path)
    if nominal is None or (
        faulty and any(faults.under((*path, key), itself=True) for key in SPREAD_KEYS)
    ):
        _judge_units(quantity, table, path, faults)
    else:
        try:
            spread, stated = stated_spread(statement, nominal, quantity.unit, files)
        except StatementError as fault:
            faults.add((*path, fault.key), fault.problem)
    adjust = None
    if table.adjust is not None:
        try:
            low, high = (read_quantity(end, quantity.unit) for end in table.adjust)
            adjust = (low, high)
            if not low < high:
                raise QuantityError(f"found {list(table.adjust)}; the first should be the lower")
        except QuantityError as error:
            faults.add((*path, "adjust"), str(error))
    redraw = read_redraw(quantity, table, path, faults)
    blunder = None
    if table.blunder is not None:
        blunder = read_blunder(table.blunder, (*path, "blunder"), faults)
    if nominal is None or len(faults.found) > before or faults.under(path):
        return None
    origin: Origin = way_of(statement) or "held"
    return Input(
        name=quantity.name,
        unit=quantity.unit,
        meaning=quantity.meaning,
        nominal=nominal,
        spread=spread,
        kind=table.kind or quantity.kind or "build",
        basis=table.basis,
        group=table.group,
        adjust=adjust,
        redraw=redraw,
        blunder=blunder,
        stated=stated,
        process=table.process or "",
        drawn=table.tube or (table.nominal if isinstance(table.nominal, str) else ""),
        origin=origin,
        read_as=quantity.read_as,
        sourced=has_source(origin, table.basis, table.process or "", table.instrument or ""),
        written=_texts(
            table.tube or table.nominal,
            table.measured,
            *(table.between or ()),
            *(table.adjust or ()),
            *(table.redraw or ()),
            *sizes_written(table),
        ),
        steps=_texts(table.plus_minus, table.standard_deviation, table.redraw_step),
    )


def _texts(*stated: str | float | None) -> tuple[str, ...]:
    """Keep the quantities that are stated as text."""
    return tuple(each for each in stated if isinstance(each, str))


def _judge_units(quantity: Quantity, table: InputTable, path: KeyPath, faults: Faults) -> None:
    """What goes with a faulty or a missing nominal cannot be judged, but its unit can."""
    for key, problem in unit_faults(table.spread_statement(), quantity.unit):
        faults.add((*path, key), problem)


def read_blunder(stated: str | float, path: KeyPath, faults: Faults) -> float | None:
    """Read the chance that a dimension was made wrong; None, and a fault, where it is none."""
    try:
        chance = read_quantity(stated, "")
        if not 0.0 <= chance <= MOST_BLUNDERS:
            raise QuantityError(f"found {stated}; should be from 0 to {MOST_BLUNDERS:g}")
    except QuantityError as error:
        faults.add(path, f'{error}, a chance like "1 in 50"')
        return None
    return chance


def read_nominal(quantity: Quantity, stated: str | float) -> float:
    """Read a nominal in its unit; raise QuantityError where it is none.

    What is yes or no may be stated so, or as 1 or 0.
    """
    if quantity.yes_or_no and isinstance(stated, str):
        if stated not in YES_OR_NO:
            raise QuantityError(f'"{stated[:40]}" should be "yes" or "no"')
        return YES_OR_NO[stated]
    return read_quantity(stated, quantity.unit)


def _nominal(quantity: Quantity, table: InputTable, path: KeyPath, faults: Faults) -> float | None:
    """Read the nominal, or take the model's default; None where there is none to go by."""
    nominal = quantity.default
    try:
        if table.nominal is not None:
            nominal = read_nominal(quantity, table.nominal)
    except QuantityError as error:
        tube = isinstance(table.nominal, str) and is_a_tube(table.nominal)
        said = f'"{table.nominal}" is a tube; write tube = "{table.nominal}" in its place'
        faults.add((*path, "nominal"), said if tube else str(error))
        return None
    if nominal is None:
        faults.add(path, f'is missing its nominal, like nominal = "1 {quantity.unit}"')
    elif not quantity.range.holds(nominal):
        faults.add(
            (*path, "nominal"),
            f"found {nominal:g} {quantity.unit}; physically it is {quantity.range.stated}",
        )
        return None
    return nominal
