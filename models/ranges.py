"""Where formulas hold: values outside are answered by NaN, and no fit is extrapolated."""

import math
from collections.abc import Callable

import numpy as np

from models.arrays import Array, Mask

Limits = tuple[float, float]
"""Lowest and highest value that is computed, both included."""

POSITIVE: Limits = (1e-6, 1e6)
"""What is computed of a quantity that must be above 0, in its shop unit: less is none."""

NOT_NEGATIVE: Limits = (0.0, 1e6)
"""What is computed of a quantity that may be 0, in its shop unit."""

ANY_POSITIVE: Limits = (math.ulp(0.0), math.inf)
"""Everything above 0, where nothing overflows."""

ANY_NOT_NEGATIVE: Limits = (0.0, math.inf)
"""Everything from 0 on, where nothing overflows."""

SHARE: Limits = (0.0, 1.0)

FUEL_TEMPERATURE: Limits = (0.0, 60.0)
"""Temperatures for which every fit of `models.fuel` is stated, degC."""

FUEL_WATER: Limits = (0.0, 0.15)
"""Mass fractions of water in the fuel for which every fit of `models.fuel` is stated."""

FUEL_METHANOL: Limits = (0.0, 0.10)
"""Mass fractions of methanol in the alcohol for which the mixing rules are stated."""

AIR_TEMPERATURE: Limits = (-20.0, 60.0)
"""Temperatures of the surroundings for which the fits of air hold, degC."""

LEAN: Limits = (-45.0, 45.0)
"""Cants, tilts, rolls and turns of the burner, deg: far past where an engine falls over, short of
where the tangent runs away."""


SCARF: Limits = (0.0, 60.0)
"""Scarf angles of the breather's mouth, measured from a square cut, deg."""


def within(value: Array, limits: Limits) -> Array:
    """Give `value` where it lies inside both `limits`, NaN elsewhere.

    Masking what goes in, not what comes out, keeps an absurd sample from overflowing on its
    way to being thrown away.
    """
    low, high = limits
    if isinstance(value, int | float):
        return value if low <= value <= high else float("nan")
    if (
        value.size
        and np.minimum.reduce(value, axis=None) >= low
        # Nothing is above infinity, and a NaN has been met by now: it compares false.
        and (high == math.inf or np.maximum.reduce(value, axis=None) <= high)
    ):
        return value  # the usual case, at one pass or two
    inside: Array = np.where((value >= low) & (value <= high), value, np.nan)
    return inside


def masked_where(possible: Mask) -> Callable[[Array], Array]:
    """Give what masks a result: as it is where a point is possible, NaN elsewhere.

    A result is handed on as it is, and so no larger than it came, where every point is possible,
    as is usual; that is asked once for all results of a model.
    """
    if np.all(possible):
        return lambda result: result
    spoil = np.where(possible, 0.0, np.nan)[()]
    return lambda result: result + spoil


def masked_whole(sound: Mask) -> Callable[[Array], Array]:
    """Give what masks a result and gives it the shape of the mask, which all arguments make.

    A result of that shape is handed on as it is where every point is sound: a third of a model's
    time would go into copies.
    """
    shape, all_sound = np.shape(sound), bool(np.all(sound))

    def masked(result: Array) -> Array:
        if all_sound and shape and np.shape(result) == shape:
            return result
        kept: Array = np.where(sound, result, np.nan)[()]
        return kept

    return masked
