"""Several models wired by name into one system, evaluated over arrays.

A result feeds the inputs of the same name; inputs of the same name are shared. Only what a
changed input reaches is computed again, which is what makes column-swapped samples cheap.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterable, Mapping
from contextlib import redirect_stdout
from dataclasses import dataclass, replace
from functools import cached_property
from graphlib import CycleError, TopologicalSorter

import numpy as np
from numpy.typing import NDArray

from sensitivity.errors import ModelError, QuantityError, WiringError
from sensitivity.quantities.units import Conversion, conversion
from sensitivity.system.blame import raised
from sensitivity.system.catalogue import Model, Quantity
from sensitivity.system.returned import check_same, checked_result
from sensitivity.system.shared import shared_input
from sensitivity.system.vocabulary import NEUTRAL, Vocabulary, vocabulary_of

Floats = NDArray[np.float64]
Values = Mapping[str, Floats | float]

_MISSING = object()


class Answers(dict[str, "Floats | float"]):
    """Results by name, shape (n,) or a number each.

    Attributes
    ----------
    whole : bool
        Whether each is known to be a number at all points; where not, some may be NaN.
    """

    whole = False


@dataclass(frozen=True, slots=True)
class ScheduleStep:
    """One step of a schedule: its name, and which per-step arguments it states of its own."""

    name: str
    states: frozenset[str]

    def input_name(self, argument: str) -> str:
        """Name of the system's input that this step takes an argument from."""
        return f"{argument}.{self.name}" if argument in self.states else argument


@dataclass(frozen=True, slots=True)
class Wire:
    """Where one argument of a model comes from: one source, or one a step of the schedule.

    ``conversions`` are the sources' changes of unit, None where there is none.
    """

    argument: str
    sources: tuple[str, ...]
    conversions: tuple[Conversion | None, ...]
    per_step: bool


@dataclass(frozen=True)
class System:
    """Models in the order of evaluation, with the inputs a study may state and all results.

    ``flattened`` names models that take points along one axis only; where the inputs have more
    axes, theirs are laid in a row, and their results are shaped back.
    """

    models: tuple[Model, ...]
    inputs: tuple[Quantity, ...]
    results: tuple[Quantity, ...]
    wires: Mapping[str, tuple[Wire, ...]]
    flattened: frozenset[str] = frozenset()
    vocabulary: Vocabulary = NEUTRAL

    @cached_property
    def sources(self) -> Mapping[str, frozenset[str]]:
        """What each model's arguments come from: inputs and results by name."""
        return {
            name: frozenset(source for wire in wires for source in wire.sources)
            for name, wires in self.wires.items()
        }

    @cached_property
    def origins(self) -> Mapping[str, frozenset[str]]:
        """What each result follows from, by its name: inputs, through whatever models."""
        found: dict[str, frozenset[str]] = {}
        for model in self.models:
            own = (found.get(name, frozenset((name,))) for name in self.sources[model.name])
            inputs = frozenset[str]().union(*own)
            found |= dict.fromkeys((quantity.name for quantity in model.results), inputs)
        return found

    def leading_to(self, result: str) -> System:
        """Give the part of the system that a result follows from: fewer models, as many inputs."""
        wanted, kept = {result}, []
        for model in reversed(self.models):
            if any(quantity.name in wanted for quantity in model.results):
                wanted |= self.sources[model.name]
                kept.append(model)
        return replace(self, models=tuple(reversed(kept)))

    def evaluate(
        self, inputs: Values, known: Values | None = None, changed: frozenset[str] = frozenset()
    ) -> Answers:
        """Evaluate all results.

        Parameters
        ----------
        inputs : mapping of name to array (n,) or float
            Every input of the system, in its unit, as ``inside_range`` leaves it. Arrays of more
            axes are taken if all have as many and broadcast, such as (a, 1) and (1, c).
        known : mapping of name to array (n,) or float, optional
            Results at inputs that differ only in ``changed``.
        changed : frozenset of str
            Names of the inputs that differ; results that they do not reach are taken from
            ``known``.

        Returns
        -------
        Answers
            A dict of name to array (n,) or float. NaN where a model has no answer; an infinite
            result counts as none. With more axes, a result of what varies along one of them has
            length 1 along the others.
        """
        results = Answers(known or {})
        whole = known is None or getattr(known, "whole", False)
        reached = set(changed)
        for model in self.models:
            if known is not None and reached.isdisjoint(self.sources[model.name]):
                continue
            answers = self._answers(model, {**inputs, **results})
            whole = whole and answers.whole
            results.update(answers)
            reached.update(answers)
        results.whole = whole
        return results

    def reached(self, changed: frozenset[str]) -> tuple[str, ...]:
        """Name the models that inputs of these names reach, in the order of evaluation."""
        names, found = set(changed), []
        for model in self.models:
            if not names.isdisjoint(self.sources[model.name]):
                names.update(quantity.name for quantity in model.results)
                found.append(model.name)
        return tuple(found)

    def check_repeats(self, inputs: Values) -> None:
        """Call each model twice; raise ModelError where one answers differently to the same call.

        Parameters
        ----------
        inputs : mapping of name to array (n,) or float
            As of ``evaluate``; a few rows will do.
        """
        results: dict[str, Floats | float] = {}
        for model in self.models:
            values = {**inputs, **results}
            answers = self._answers(model, values)
            check_same(model, answers, self._answers(model, values))
            results.update(answers)

    def _answers(self, model: Model, values: Values) -> Answers:
        shape = _shape_of(values, self.sources[model.name])
        arguments = self.arguments(model, values, shape)
        if model.name not in self.flattened or len(shape) < 2:
            return _call(model, arguments, shape)
        size = math.prod(shape)
        answers = _call(model, _laid_in_a_row(arguments, shape, size), (size,))
        for name, value in answers.items():
            if isinstance(value, np.ndarray):
                answers[name] = value.reshape(shape)
        return answers

    def arguments(
        self, model: Model, values: Values, shape: tuple[int, ...] | None = None
    ) -> dict[str, Floats | float]:
        """Bring values (n,) of inputs and results to a model: its arguments, in its units.

        ``shape`` is that of its sources broadcast together, where it is known already.
        """
        if shape is None:
            shape = _shape_of(values, self.sources[model.name])
        return {wire.argument: _arrive(wire, values, shape) for wire in self.wires[model.name]}


def _shape_of(values: Values, names: Iterable[str]) -> tuple[int, ...]:
    """Shape of some values broadcast together; quick where all arrays have the same."""
    shapes = {value.shape for name in names if isinstance(value := values[name], np.ndarray)}
    return shapes.pop() if len(shapes) == 1 else np.broadcast_shapes(*shapes)


def _laid_in_a_row(
    arguments: Mapping[str, Floats | float], shape: tuple[int, ...], size: int
) -> dict[str, Floats | float]:
    """Lay arguments of several axes along one (n,); a step's leading axis stays."""
    found: dict[str, Floats | float] = {}
    for name, value in arguments.items():
        if isinstance(value, np.ndarray):
            steps = value.shape[: value.ndim - len(shape)]
            value = np.broadcast_to(value, (*steps, *shape)).reshape(*steps, size)
        found[name] = value
    return found


def _arrive(wire: Wire, values: Values, shape: tuple[int, ...]) -> Floats | float:
    """Bring one argument to its model: in its unit and, if per step, with a leading axis."""
    if not wire.per_step and wire.conversions[0] is None:
        return values[wire.sources[0]]
    found = [
        values[source] if change is None else values[source] * change.factor + change.offset
        for source, change in zip(wire.sources, wire.conversions, strict=True)
    ]
    if not wire.per_step:
        return found[0]
    numbers = [value for value in found if isinstance(value, float)]
    if len(numbers) == len(found):
        return np.array(numbers).reshape(-1, *(1 for _ in shape))
    # As small as broadcasts: steps that vary along one axis stay of length 1 along the others.
    varied = np.broadcast_shapes(*(np.shape(value) for value in found))
    varied = (1,) * (len(shape) - len(varied)) + varied
    return np.stack([np.broadcast_to(value, varied) for value in found])


def inside_range(value: Floats | float, quantity: Quantity) -> tuple[Floats | float, int]:
    """Replace what is physically impossible by NaN, and count it.

    A value outside the range stated by the model has no answer: whatever a formula would make
    of a negative bore, a part with one cannot be built, and it fails.
    """
    bounds = quantity.range
    if not bounds.stated or (bounds.holds(float(np.min(value))) and bounds.holds(np.max(value))):
        return value, 0
    low = np.less_equal if bounds.open_low else np.less
    high = np.greater_equal if bounds.open_high else np.greater
    outside = low(value, bounds.low) | high(value, bounds.high)
    if not isinstance(value, np.ndarray):
        return (float("nan"), 1) if outside else (value, 0)
    return np.where(outside, np.nan, value), int(np.count_nonzero(outside))


def _call(model: Model, arguments: dict[str, Floats | float], shape: tuple[int, ...]) -> Answers:
    try:
        # What a model prints is not the result, which may go to standard output as JSON.
        with np.errstate(all="ignore"), redirect_stdout(sys.stderr):
            answer = model.function(**{name: _kept(value) for name, value in arguments.items()})
            found = {
                quantity.name: getattr(answer, quantity.name, _MISSING)
                for quantity in model.results
            }
    except KeyboardInterrupt:
        raise
    except BaseException as error:  # a model may leave by SystemExit, or by what it invents
        raise ModelError(
            f'model "{model.name}" ({model.place}) raised {raised(error, model.function)}. '
            "A model returns NaN for a point where it has no answer"
        ) from error
    for name, value in found.items():
        if value is _MISSING:
            raise ModelError(
                f'model "{model.name}" ({model.place}) returned {type(answer).__name__} '
                f'without the result "{name}" that its signature promises'
            )
    answers = Answers()
    answers.whole = True
    with np.errstate(all="ignore"):
        for quantity in model.results:
            value, whole = checked_result(found[quantity.name], shape, model, quantity)
            answers[quantity.name] = value
            answers.whole = answers.whole and whole
    return answers


def _kept(value: Floats | float) -> Floats | float:
    """Hand an array over for reading only: a model may not change the engine's samples."""
    if isinstance(value, np.ndarray) and value.flags.writeable:
        value = value.view()
        value.flags.writeable = False
    return value


def wire(models: tuple[Model, ...], steps: tuple[ScheduleStep, ...] = ()) -> System:
    """Join models by name, or raise WiringError: no model, a name twice, a cycle, a unit, a kind.

    A per-step argument takes each step's own value where the step states one, and the plain
    input of its name for all other steps.
    """
    if not models:
        raise WiringError("a study names at least one model")
    producers: dict[str, Model] = {}
    for model in models:
        for quantity in model.results:
            if quantity.name in producers:
                raise WiringError(
                    f'"{quantity.name}" is computed twice: by "{producers[quantity.name].name}" '
                    f'and by "{model.name}"; leave one of them out'
                )
            producers[quantity.name] = model
    order = _in_order(models, producers)
    kept: dict[str, Quantity] = {
        quantity.name: quantity for model in order for quantity in model.results
    }
    results = tuple(kept.values())
    inputs: dict[str, Quantity] = {}
    wires: dict[str, tuple[Wire, ...]] = {}
    for model in order:
        bound = []
        for argument in model.arguments:
            scheduled = steps if argument.per_step else ()
            sources = tuple(step.input_name(argument.name) for step in scheduled)
            sources = sources or (argument.name,)
            for source in dict.fromkeys(sources):
                if source not in kept:
                    own = argument if source == argument.name else replace(argument, name=source)
                    kept[source] = inputs[source] = own
                elif source in inputs:
                    kept[source] = inputs[source] = shared_input(inputs[source], argument, model)
            changes = tuple(_change(kept[source], argument, model) for source in sources)
            bound.append(Wire(argument.name, sources, changes, argument.per_step))
        wires[model.name] = tuple(bound)
    return System(order, tuple(inputs.values()), results, wires, vocabulary=vocabulary_of(models))


def _change(source: Quantity, argument: Quantity, model: Model) -> Conversion | None:
    """Find the change of unit between what is kept and what the argument is in."""
    if source.unit == argument.unit:
        return None
    try:
        return conversion(source.unit, argument.unit)
    except QuantityError as error:
        raise WiringError(
            f'"{argument.name}" of model "{model.name}" cannot be wired: {error}'
        ) from None


def _in_order(models: tuple[Model, ...], producers: Mapping[str, Model]) -> tuple[Model, ...]:
    by_name = {model.name: model for model in models}
    sorter = TopologicalSorter(
        {
            model.name: {
                producers[argument.name].name
                for argument in model.arguments
                if argument.name in producers
            }
            for model in models
        }
    )
    try:
        return tuple(by_name[name] for name in sorter.static_order())
    except CycleError as error:
        chain = " -> ".join(f'"{name}"' for name in error.args[1])
        raise WiringError(f"these models feed each other in a circle: {chain}") from None
