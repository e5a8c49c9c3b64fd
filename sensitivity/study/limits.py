"""Resolving the stated limits and correlations of a study against its models and inputs."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from sensitivity.errors import QuantityError, nearest
from sensitivity.quantities.quantity import read_quantity
from sensitivity.spreads.copula import Correlation, CorrelationError, copula_factor
from sensitivity.study.faults import Faults
from sensitivity.study.form import LimitTable
from sensitivity.study.study import CEILING, Input, Limit
from sensitivity.system.system import System


def resolve_limits(
    tables: Mapping[str, LimitTable], system: System, faults: Faults
) -> tuple[Limit, ...]:
    """Read the limits in the units of the results; one with a fault is reported and left out.

    Parameters
    ----------
    tables : mapping of name to LimitTable
        As stated.
    system : System
        What computes the results.
    faults : Faults
        Takes what is wrong.
    """
    known = {quantity.name: quantity for quantity in system.results}
    read = []
    for name, table in tables.items():
        if name not in known:
            faults.add(("limits", name), f"no model computes this; {nearest(name, known)}")
        elif (limit := _limit(name, table, known[name].unit, faults)) is not None:
            read.append(limit)
    return tuple(read)


def _limit(name: str, table: LimitTable, unit: str, faults: Faults) -> Limit | None:
    before = len(faults.found)
    low = _end(name, "at_least", table.at_least, unit, faults)
    high = _end(name, "at_most", table.at_most, unit, faults)
    if len(faults.found) > before:
        return None
    if low is None and high is None:
        if not faults.under(("limits", name)):
            faults.add(("limits", name), "wants at_least or at_most, or both")
        return None
    if low is not None and high is not None and low >= high:
        faults.add(
            ("limits", name, "at_most"), f"reversed: at_least {low:g} and at_most {high:g} {unit}"
        )
        return None
    if table.ceiling is not None and not table.hurts:
        faults.add(("limits", name, "ceiling"), "goes with a limit that hurts: hurts = true")
        return None
    ceiling = CEILING if table.ceiling is None else table.ceiling
    ends = (table.at_least, table.at_most)
    written = tuple(end for end in ends if isinstance(end, str))
    return Limit(name, unit, low, high, table.because, table.hurts, ceiling, written)


def _end(
    name: str, key: str, stated: str | float | None, unit: str, faults: Faults
) -> float | None:
    try:
        return None if stated is None else read_quantity(stated, unit)
    except QuantityError as error:
        faults.add(("limits", name, key), str(error))
        return None


def check_correlations(
    correlations: tuple[Correlation, ...],
    inputs: tuple[Input, ...],
    faulty: Collection[str],
    faults: Faults,
) -> None:
    """Check that correlated inputs vary, and that the ranks do not contradict each other.

    What is said of a faulty input is said where it stands, and not again here.

    Parameters
    ----------
    correlations : tuple of Correlation
        As stated.
    inputs : tuple of Input
        Those that could be read.
    faulty : collection of str
        Names of those that could not.
    faults : Faults
        Takes what is wrong.
    """
    varying = {item.name for item in inputs if item.spread is not None}
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
