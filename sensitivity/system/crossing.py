"""Which models take crossed arrays: inputs (a, 1) and (1, c) at once, results of any such shape.

A model that only does arithmetic does, and then computes what depends on one axis once for all of
the other. One that counts its points, or fills an array by a mask, may not; it is asked here, and
where it does not its points are laid along one axis.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sensitivity.errors import ModelError
from sensitivity.system.returned import ROUNDING
from sensitivity.system.system import Answers, System, Values

Floats = NDArray[np.float64]


def with_crossing(system: System, inputs: Values) -> System:
    """Find which models take crossed arrays, and have the others' points laid along one axis.

    Parameters
    ----------
    system : System
        As the models were joined.
    inputs : mapping of name to array (a, 1), (1, c) or (a, c), or float
        Every input of the system at a few points.

    Returns
    -------
    System
        That gives the same results for crossed arrays as for points one by one.

    Raises
    ------
    ModelError
        Where a model has no answer for points along one axis either.
    """
    flat = replace(system, flattened=frozenset(model.name for model in system.models))
    flattened = set()
    values: dict[str, Floats | float] = dict(inputs)
    for model in system.models:
        wanted = replace(flat, models=(model,)).evaluate(values)
        try:
            found = replace(system, models=(model,), flattened=frozenset()).evaluate(values)
        except ModelError:
            found = Answers()
        if not found or not all(_same(found[name], wanted[name]) for name in wanted):
            flattened.add(model.name)
            found = wanted
        values.update(found)
    return replace(system, flattened=frozenset(flattened))


def _same(found: Floats | float, wanted: Floats | float) -> bool:
    size = float(np.nanmax(np.abs(wanted), initial=0.0))
    return bool(
        np.isclose(found, wanted, rtol=ROUNDING, atol=ROUNDING * size, equal_nan=True).all()
    )
