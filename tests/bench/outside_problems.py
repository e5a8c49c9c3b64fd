"""Problems of two collections on the package index, as models of standard normal inputs.

``otbenchmark`` and ``uqtestfuns`` are wanted, in an environment of their own (see
``outside_suites``). Each problem is a function of ``z``, independent and standard normal: the
collection's own transformation takes it to the inputs it states. Where the collection's function is
too slow or is not read by today's parser, the formula that it states stands in
``outside_formulas``.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from outside_formulas import FORMULAS
from scipy.special import ndtr

Floats = NDArray[np.float64]
Function = Callable[[Floats], Floats]

ANY_NUMBER = 6
"""Inputs of a problem that takes any number of them and has none of its own."""


class Problem(NamedTuple):
    """One problem: ``function`` takes ``(n, inputs)`` of standard normals to ``(n,)``.

    ``bounded`` tells which inputs have a finite range. ``chance`` is what the collection lists of
    values below nought; ``first`` and ``total`` its indices, by input; None where it lists none.
    ``own`` is the collection's own function where ``function`` is the formula that it states.
    """

    suite: str
    name: str
    inputs: int
    function: Function
    bounded: tuple[bool, ...]
    chance: float | None = None
    first: tuple[float, ...] | None = None
    total: tuple[float, ...] | None = None
    own: Function | None = None


class Reference(NamedTuple):
    """Values, the half-width within which they are known, and the way they were found."""

    values: Floats
    sure: Floats
    way: str


@lru_cache(maxsize=1)
def reliability_problems() -> tuple[dict[str, Problem], dict[str, str]]:
    """Every problem of failure of both collections by name, and why the others do not load."""
    return _both("ReliabilityBenchmarkProblem", _failure, "reliability")


@lru_cache(maxsize=1)
def sensitivity_problems() -> tuple[dict[str, Problem], dict[str, str]]:
    """Every problem of sensitivity of both collections by name, and why the others do not load."""
    return _both("SensitivityBenchmarkProblem", _indices, "sensitivity")


def problem_of(name: str) -> Problem:
    """Find a problem by its name."""
    return {**reliability_problems()[0], **sensitivity_problems()[0]}[name]


def _both(
    kind: str, made: Callable[[str, object], Problem], tag: str
) -> tuple[dict[str, Problem], dict[str, str]]:
    """Problems of one class of ``otbenchmark`` and one tag of ``uqtestfuns``, and those lost."""
    ready: dict[str, Problem] = {}
    lost: dict[str, str] = {}
    for name, problem in _classes(kind).items():
        try:
            ready[name] = _with_formula(made(name, problem()))
        except Exception as why:
            lost[name] = f"{type(why).__name__}: {why}"
    ready |= {name: _with_formula(problem) for name, problem in _functions(tag).items()}
    return ready, lost


def _with_formula(problem: Problem) -> Problem:
    formula = FORMULAS.get(problem.name)
    return problem if formula is None else problem._replace(function=formula, own=problem.function)


def _failure(name: str, listed: object) -> Problem:
    event = listed.getEvent()  # type: ignore[attr-defined]
    inputs = event.getAntecedent().getDistribution()
    back = inputs.getInverseIsoProbabilisticTransformation()
    operator, threshold = event.getOperator(), event.getThreshold()
    less = operator.compare(threshold - 1.0, threshold)
    function = event.getFunction()

    def margin(z: Floats) -> Floats:
        found = _answers(function, back, z)
        return found - threshold if less else threshold - found

    chance = float(listed.getProbability())  # type: ignore[attr-defined]
    return Problem("otbenchmark", name, inputs.getDimension(), margin, _finite(inputs), chance)


def _indices(name: str, listed: object) -> Problem:
    inputs = listed.getInputDistribution()  # type: ignore[attr-defined]
    back, function = inputs.getInverseIsoProbabilisticTransformation(), listed.getFunction()  # type: ignore[attr-defined]
    return Problem(
        "otbenchmark",
        name,
        inputs.getDimension(),
        lambda z: _answers(function, back, z),
        _finite(inputs),
        first=tuple(listed.getFirstOrderIndices()),  # type: ignore[attr-defined]
        total=tuple(listed.getTotalOrderIndices()),  # type: ignore[attr-defined]
    )


def _answers(function: object, back: object, z: Floats) -> Floats:
    """Answers at rows of normals; NaN at a row for which the collection raises an error."""
    try:
        return np.array(function(back(z)))[:, 0]  # type: ignore[operator]
    except RuntimeError:
        if len(z) == 1:
            return np.array([np.nan])
    half = len(z) // 2
    return np.concatenate([_answers(function, back, part) for part in (z[:half], z[half:])])


def _finite(inputs: object) -> tuple[bool, ...]:
    ends = inputs.getRange()  # type: ignore[attr-defined]
    pairs = zip(ends.getFiniteLowerBound(), ends.getFiniteUpperBound(), strict=True)
    return tuple(bool(low and high) for low, high in pairs)


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
        marginals = made.prob_input.marginals
        bounded = tuple(
            any(word in each.distribution for word in ("uniform", "triangular", "beta"))
            for each in marginals
        )
        ready[name] = Problem("uqtestfuns", name, len(bounded), _of_normals(made), bounded)
    return ready


def _of_normals(made: object) -> Function:
    def function(z: Floats) -> Floats:
        # A share of exactly 1 has no quantile in a range without an end.
        shares = np.minimum(ndtr(z), 1.0 - 2.0**-53)
        columns = [
            marginal.icdf(shares[:, i])
            for i, marginal in enumerate(made.prob_input.marginals)  # type: ignore[attr-defined]
        ]
        return np.asarray(made(np.stack(columns, axis=1)), dtype=np.float64).reshape(len(z))  # type: ignore[operator]

    return function
