"""Problems of two collections on the package index, as models of standard normal inputs.

``otbenchmark`` and ``uqtestfuns`` are wanted, in an environment of their own (see
``outside_suites``). Each problem is a function of ``z``, independent and standard normal: the
collection's own transformation takes it to the inputs it states.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

Floats = NDArray[np.float64]


ANY_NUMBER = 6
"""Inputs of a problem that takes any number of them and has none of its own."""


class Problem(NamedTuple):
    """One problem: ``function`` takes ``(n, inputs)`` of standard normals to ``(n,)``.

    ``chance`` is what the collection lists of values below nought; ``first`` and ``total`` its
    indices, by input; None where it lists none.
    """

    suite: str
    name: str
    inputs: int
    function: Callable[[Floats], Floats]
    chance: float | None = None
    first: tuple[float, ...] | None = None
    total: tuple[float, ...] | None = None


@lru_cache(maxsize=1)
def reliability_problems() -> tuple[dict[str, Problem], dict[str, str]]:
    """Every problem of failure of both collections by name, and why the others do not load."""
    ready, lost = _listed_failures()
    return {**ready, **_functions("reliability")}, lost


@lru_cache(maxsize=1)
def sensitivity_problems() -> tuple[dict[str, Problem], dict[str, str]]:
    """Every problem of sensitivity of both collections by name, and why the others do not load."""
    ready, lost = _listed_indices()
    return {**ready, **_functions("sensitivity")}, lost


def problem_of(name: str) -> Problem:
    """Find a problem by its name."""
    return {**reliability_problems()[0], **sensitivity_problems()[0]}[name]


def _listed_failures() -> tuple[dict[str, Problem], dict[str, str]]:
    """Problems of ``otbenchmark`` with a chance of failure."""
    classes, ready, lost = _classes("ReliabilityBenchmarkProblem"), {}, {}
    for name, kind in classes.items():
        try:
            listed = kind()
            ready[name] = _failure(name, listed)
        except Exception as problem:
            lost[name] = f"{type(problem).__name__}: {problem}"
    return ready, lost


def _failure(name: str, listed: object) -> Problem:
    event = listed.getEvent()  # type: ignore[attr-defined]
    vector = event.getAntecedent()
    back = vector.getDistribution().getInverseIsoProbabilisticTransformation()
    operator, threshold = event.getOperator(), event.getThreshold()
    less = operator.compare(threshold - 1.0, threshold)
    function = event.getFunction()

    def margin(z: Floats) -> Floats:
        found = np.asarray(function(back(z)))[:, 0]
        return found - threshold if less else threshold - found

    chance = float(listed.getProbability())  # type: ignore[attr-defined]
    return Problem("otbenchmark", name, vector.getDimension(), margin, chance)


def _listed_indices() -> tuple[dict[str, Problem], dict[str, str]]:
    """Problems of ``otbenchmark`` with indices."""
    ready, lost = {}, {}
    for name, kind in _classes("SensitivityBenchmarkProblem").items():
        try:
            listed = kind()
            ready[name] = _indices(name, listed)
        except Exception as problem:
            lost[name] = f"{type(problem).__name__}: {problem}"
    return ready, lost


def _indices(name: str, listed: object) -> Problem:
    inputs = listed.getInputDistribution()  # type: ignore[attr-defined]
    back, function = inputs.getInverseIsoProbabilisticTransformation(), listed.getFunction()  # type: ignore[attr-defined]
    return Problem(
        "otbenchmark",
        name,
        inputs.getDimension(),
        lambda z: np.asarray(function(back(z)))[:, 0],
        first=tuple(listed.getFirstOrderIndices()),  # type: ignore[attr-defined]
        total=tuple(listed.getTotalOrderIndices()),  # type: ignore[attr-defined]
    )


def _classes(kind: str) -> dict[str, type]:
    import openturns

    if not hasattr(openturns, "ComposedDistribution"):
        # Its old name, which the collection still asks for.
        openturns.ComposedDistribution = openturns.JointDistribution
    import otbenchmark

    base = getattr(otbenchmark, kind)
    found = {name: getattr(otbenchmark, name) for name in sorted(dir(otbenchmark))}
    return {
        name: item
        for name, item in found.items()
        if isinstance(item, type) and issubclass(item, base) and item is not base
    }


def _functions(tag: str) -> dict[str, Problem]:
    """Functions of ``uqtestfuns`` that bear a tag; it lists no chances and no indices."""
    import uqtestfuns

    ready = {}
    for listed in uqtestfuns.list_functions(tag=tag, tabulate=False):
        name = listed["Constructor"] if isinstance(listed, dict) else listed
        kind = getattr(uqtestfuns, name)
        try:
            made = kind()
        except ValueError:  # of any number of inputs
            made = kind(input_dimension=ANY_NUMBER)
        ready[name] = Problem("uqtestfuns", name, made.input_dimension, _of_normals(made))
    return ready


def _of_normals(made: object) -> Callable[[Floats], Floats]:
    def function(z: Floats) -> Floats:
        # A share of exactly 1 has no quantile in a range without an end.
        shares = np.minimum(ndtr(z), 1.0 - 2.0**-53)
        columns = [
            marginal.icdf(shares[:, i])
            for i, marginal in enumerate(made.prob_input.marginals)  # type: ignore[attr-defined]
        ]
        return np.asarray(made(np.stack(columns, axis=1)), dtype=np.float64).reshape(len(z))  # type: ignore[operator]

    return function
