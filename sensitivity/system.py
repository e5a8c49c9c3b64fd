"""Several models wired by name into one system, evaluated over arrays.

A result feeds the inputs of the same name; inputs of the same name are shared. Only what a
changed input reaches is computed again, which is what makes column-swapped samples cheap.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sensitivity.catalogue import Model, Quantity
from sensitivity.errors import ModelError, QuantityError, WiringError
from sensitivity.quantity import Conversion, conversion

Floats = NDArray[np.float64]
Values = Mapping[str, Floats | float]


@dataclass(frozen=True)
class System:
    """Models in the order of evaluation, with the inputs a study may state and all results.

    ``conversions`` holds, by model and argument, the change of unit where a value is kept in
    another unit than the argument's own.
    """

    models: tuple[Model, ...]
    inputs: tuple[Quantity, ...]
    results: tuple[Quantity, ...]
    conversions: Mapping[tuple[str, str], Conversion]

    def evaluate(
        self, inputs: Values, known: Values | None = None, changed: frozenset[str] = frozenset()
    ) -> dict[str, Floats | float]:
        """Evaluate all results.

        Parameters
        ----------
        inputs : mapping of name to array (n,) or float
            Every input of the system, in its unit, as ``inside_range`` leaves it.
        known : mapping of name to array (n,) or float, optional
            Results at inputs that differ only in ``changed``.
        changed : frozenset of str
            Names of the inputs that differ; results that they do not reach are taken from
            ``known``.

        Returns
        -------
        dict of name to array (n,) or float
            NaN where a model has no answer; an infinite result counts as none.
        """
        values: dict[str, Floats | float] = dict(known or {})
        reached = set(changed)
        for model in self.models:
            names = [argument.name for argument in model.arguments]
            if known is not None and reached.isdisjoint(names):
                continue
            arguments: dict[str, Floats | float] = {}
            for name in names:
                value = values[name] if name in values else inputs[name]
                change = self.conversions.get((model.name, name))
                arguments[name] = value if change is None else value * change.factor + change.offset
            answers = _call(model, arguments)
            values.update(answers)
            reached.update(answers)
        return values


def inside_range(value: Floats | float, quantity: Quantity) -> tuple[Floats | float, int]:
    """Replace what is physically impossible by NaN, and count it.

    A value outside the range stated by the model has no answer: whatever a formula would make
    of a negative bore, a burner with one cannot be built, and it fails.
    """
    bounds = quantity.range
    if not bounds.stated or (bounds.holds(float(np.min(value))) and bounds.holds(np.max(value))):
        return value, 0
    low = np.less_equal if bounds.open_low else np.less
    high = np.greater_equal if bounds.open_high else np.greater
    outside = low(value, bounds.low) | high(value, bounds.high)
    return np.where(outside, np.nan, value), int(np.count_nonzero(outside))


def _call(model: Model, arguments: dict[str, Floats | float]) -> dict[str, Floats | float]:
    try:
        with np.errstate(all="ignore"):
            answer = model.function(**arguments)
    except Exception as error:
        raise ModelError(
            f'model "{model.name}" ({model.origin}) raised {type(error).__name__}: {error}. '
            "A model returns NaN for a point where it has no answer"
        ) from error
    shape = np.broadcast_shapes(*(np.shape(value) for value in arguments.values()))
    results = {}
    for quantity in model.results:
        if not hasattr(answer, quantity.name):
            raise ModelError(
                f'model "{model.name}" ({model.origin}) returned {type(answer).__name__} '
                f'without the result "{quantity.name}" that its signature promises'
            )
        results[quantity.name] = _checked(getattr(answer, quantity.name), shape, model, quantity)
    return results


def _checked(
    value: Any, shape: tuple[int, ...], model: Model, quantity: Quantity
) -> Floats | float:
    where = f'model "{model.name}" ({model.origin}), result "{quantity.name}"'
    try:
        array = np.asarray(value, dtype=np.float64)
    except (TypeError, ValueError):
        raise ModelError(f"{where}: found {type(value).__name__}, not numbers") from None
    if array.shape not in ((), shape):
        raise ModelError(f"{where}: shape {array.shape}, where the inputs have {shape}")
    if not np.isfinite(array.sum()) and np.isinf(array).any():
        array = np.where(np.isinf(array), np.nan, array)
    return array if array.shape else float(array)


def wire(models: tuple[Model, ...]) -> System:
    """Join models by name, or raise WiringError: no model, a name twice, a cycle, a unit."""
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
    conversions: dict[tuple[str, str], Conversion] = {}
    for model in order:
        for argument in model.arguments:
            if argument.name not in kept:
                kept[argument.name] = inputs[argument.name] = argument
            known = kept[argument.name]
            if known.unit != argument.unit:
                try:
                    conversions[model.name, argument.name] = conversion(known.unit, argument.unit)
                except QuantityError as error:
                    raise WiringError(
                        f'"{argument.name}" of model "{model.name}" cannot be wired: {error}'
                    ) from None
    return System(order, tuple(inputs.values()), results, conversions)


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
