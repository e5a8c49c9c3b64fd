"""What a model returned, checked: numbers and nothing else, and the same for the same call."""

from __future__ import annotations

import math
import sys
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sensitivity.errors import ModelError
from sensitivity.system.catalogue import Model, Quantity

Floats = NDArray[np.float64]

NUMBERS = "biuf"
"""Kinds of numpy's types that are numbers: of dates, texts and objects a float can be made, and
means nothing."""

ROUNDING = 1e-9


def checked_result(
    value: Any, shape: tuple[int, ...], model: Model, quantity: Quantity
) -> tuple[Floats | float, bool]:
    """Take one result of a model as float64, or refuse it.

    Parameters
    ----------
    value : array_like
        As returned, while numpy keeps quiet of overflow. Where it is masked there is no answer.
    shape : tuple of int
        Shape of the inputs broadcast together.
    model, quantity : Model, Quantity
        Whose result it is, and which.

    Returns
    -------
    array of that shape, or float
        Where the shape has several axes, one of length 1 along some of them will do. NaN where
        there is no answer; an infinite one counts as none.
    bool
        Whether it is known to be a number at all points; where not, it may be.

    Raises
    ------
    ModelError
        Where it is no number, is complex, carries a unit of its own, or has another shape.
    """
    if type(value) is np.ndarray and value.dtype == np.float64 and value.shape == shape:
        return _without_infinite(value)  # the usual case
    where = f'model "{model.name}" ({model.place}), result "{quantity.name}"'
    if hasattr(value, "magnitude") and hasattr(value, "units"):
        raise ModelError(
            f"{where}: found a quantity with a unit of its own; return its number in "
            f'"{quantity.unit}"'
        )
    try:
        array = value if _is_masked(value) else np.asarray(value)
        kind = array.dtype.kind
    except Exception:
        kind = "O"  # ragged lists, and objects that will not be arrays
    if kind not in NUMBERS:
        found = getattr(getattr(value, "dtype", None), "name", type(value).__name__)
        raise ModelError(f"{where}: found {found}, not numbers")
    if _is_masked(array):
        array = np.ma.filled(array.astype(np.float64), np.nan)
    array = array.astype(np.float64, copy=False)
    if array.shape not in ((), shape) and not _varies_along_some(array.shape, shape):
        raise ModelError(f"{where}: shape {array.shape}, where the inputs have {shape}")
    array, whole = _without_infinite(array)
    return (array if array.shape else float(array)), whole


def _is_masked(value: Any) -> bool:
    """Tell a masked array; without loading what makes such arrays, where nobody has."""
    return "numpy.ma" in sys.modules and isinstance(value, np.ma.MaskedArray)


def _without_infinite(array: Floats) -> tuple[Floats, bool]:
    """Give NaN for what is infinite; a sum that is a number tells at one pass that nothing is.

    Whoever calls has numpy keep quiet: the sum may overflow.
    """
    if math.isfinite(np.add.reduce(array, axis=None)):
        return array, True
    infinite = np.isinf(array)
    return (np.where(infinite, np.nan, array) if infinite.any() else array), False


def _varies_along_some(found: tuple[int, ...], shape: tuple[int, ...]) -> bool:
    """Tell whether a result is constant along some of several axes, and whole along the others."""
    return len(found) == len(shape) > 1 and all(
        length in (1, whole) for length, whole in zip(found, shape, strict=True)
    )


def check_same(
    model: Model, first: Mapping[str, Floats | float], again: Mapping[str, Floats | float]
) -> None:
    """Raise ModelError where a model has answered differently to the same call.

    Differences of ``ROUNDING`` of the largest value are let pass: a library may add in another
    order.
    """
    for name, value in first.items():
        one, other = np.broadcast_arrays(value, again[name])
        size = np.nanmax(np.abs(one), initial=0.0)
        same = np.isclose(one, other, rtol=ROUNDING, atol=ROUNDING * size, equal_nan=True)
        if not same.all():
            place = tuple(np.argwhere(~same)[0])
            raise ModelError(
                f'model "{model.name}" ({model.place}) answers differently to the same call: '
                f'"{name}" was {one[place]:.6g}, then {other[place]:.6g}. A model follows from its '
                "arguments alone; what varies is an input with a spread"
            )
