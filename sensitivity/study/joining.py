"""Joining a study to its models; and, where a model is not known, to as much as is.

A study whose model has a slip in its name is refused, but its other faults are told all the same:
the models that are known say what they take, and the study's own units stand in for the rest.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sensitivity.errors import QuantityError, WiringError
from sensitivity.quantities.quantity import split_number
from sensitivity.quantities.units import conversion, pint_expression
from sensitivity.study.faults import Faults
from sensitivity.study.form import InputTable, LimitTable
from sensitivity.system.catalogue import Model, Quantity, find_models
from sensitivity.system.system import ScheduleStep, System, wire


def find_each(
    names: Iterable[str],
    own: Mapping[str, Model],
    model_files: tuple[str, ...],
    faults: Faults,
) -> tuple[Model, ...]:
    """Find the named models, the given ones first; those that are not there are one fault.

    Parameters
    ----------
    names : iterable of str
        In the study's order.
    own : mapping of name to Model
        Models that go before all others.
    model_files : tuple of str
        Files with models of one's own.
    faults : Faults
        Takes the names that are not there.

    Returns
    -------
    tuple of Model
        Those that are there, in the study's order.
    """
    names = tuple(names)
    wanted = tuple(name for name in names if name not in own)
    try:
        found = {model.name: model for model in find_models(wanted, model_files)}
    except WiringError as error:
        faults.add(("models",), str(error))
        found = {}
        for name in wanted:
            try:
                found[name] = find_models((name,), model_files)[0]
            except WiringError:
                continue
    known = {**found, **own}
    return tuple(known[name] for name in names if name in known)


def join(
    models: tuple[Model, ...], steps: tuple[ScheduleStep, ...], faults: Faults
) -> System | None:
    """Wire the models; None, and a fault, where they cannot be.

    Parameters
    ----------
    models : tuple of Model
        In the study's order.
    steps : tuple of ScheduleStep
        In theirs.
    faults : Faults
        Takes why they cannot be.
    """
    if not models:
        return None
    try:
        return wire(models, steps)
    except WiringError as error:
        faults.add(("models",), str(error))
        return None


def in_part(
    models: tuple[Model, ...],
    inputs: Mapping[str, InputTable],
    limits: Mapping[str, LimitTable],
) -> System:
    """Say what is known of a system that cannot be joined, to check a study against; not to run.

    What no known model takes or computes is taken to be of the unknown one, in the unit that the
    study states; an input without a nominal, whose unit it cannot be told from, is left out.

    Parameters
    ----------
    models : tuple of Model
        Those that are known.
    inputs, limits : mapping of name to table
        As the study states them.
    """
    results = {item.name: item for model in models for item in model.results}
    known = {item.name: item for model in models for item in model.arguments}
    for name, table in inputs.items():
        base = name.partition(".")[0]
        if name not in known and base in known:
            known[name] = known[base]
        elif name not in known and name not in results and table.nominal is not None:
            known[name] = Quantity(name, _unit_of(table.nominal), "")
    for name, limit in limits.items():
        if name not in results:
            stated = limit.at_most if limit.at_least is None else limit.at_least
            results[name] = Quantity(name, _unit_of(stated), "")
    taken = tuple(item for name, item in known.items() if name not in results)
    return System(models, taken, tuple(results.values()), {})


def _unit_of(stated: str | float | None) -> str:
    """Take the unit of a quantity for that of its input; millimetres and degrees for their kinds.

    Where it cannot be read the reading of it will say so, in whatever unit.
    """
    if not isinstance(stated, str):
        return ""
    try:
        unit = split_number(stated)[1]
        expression = pint_expression(unit)
    except QuantityError:
        return "mm"
    if expression == "percent":
        return ""
    for usual in ("mm", "deg", "degC"):
        try:
            conversion(unit, usual)
        except QuantityError:
            continue
        return usual
    return unit
