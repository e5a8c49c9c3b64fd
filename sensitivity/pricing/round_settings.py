"""Round values at which to try what can be set at assembly, in the builder's own units."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.sobol import sobol_points
from sensitivity.study.study import Input
from sensitivity.study.units_used import (
    FINEST_ON_A_RULE,
    drawn_in_fractions,
    step_of_a_rule,
    written_in_inches,
)

Floats = NDArray[np.float64]

INCH = 25.4
MOST_ON_AN_AXIS = {1: 33, 2: 9, 3: 5}
"""Settings of each adjustable input by how many there are; more than three share a sequence."""

SEQUENCE = 64


def settings_to_try(items: Sequence[Input], ends: Floats) -> Floats:
    """Lay out settings (s, k) of adjustable inputs (k) between their ends (k, 2), in their units.

    A grid of round values, or the points of a Sobol' sequence where they are too many for that.
    What is drawn in fractions of an inch is set on the lines of a rule, a 64th at the finest.
    """
    count = len(items)
    if count not in MOST_ON_AN_AXIS:
        points = ends[:, 0] + sobol_points(count, SEQUENCE) * (ends[:, 1] - ends[:, 0])
        for axis, item in enumerate(items):
            if _on_a_rule(item):
                lines = np.round(points[:, axis] / INCH * FINEST_ON_A_RULE)
                points[:, axis] = np.clip(lines / FINEST_ON_A_RULE * INCH, *ends[axis])
        return np.asarray(points)
    most = MOST_ON_AN_AXIS[count]
    axes = [
        _round_for(item, float(low), float(high), most)
        for item, (low, high) in zip(items, ends, strict=True)
    ]
    return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, count)


def _round_for(item: Input, low: float, high: float, most: int) -> Floats:
    """Round values of an input in its unit, or in inches where the builder writes it in them.

    Where the study states sizes or a step for its drawing, it is set at these and no others.
    """
    stated = item.redraw
    if stated is not None:
        sizes = [size for size in stated.sizes if low <= size <= high]
        if len(sizes) > 1:
            return np.array(sorted({*sizes, *(item.nominal,) * (low <= item.nominal <= high)}))
        if stated.step is not None:
            every = np.ceil((high - low) / stated.step / (most - 1) - 1e-9)
            return _values_by(float(every) * stated.step, low, high, item.nominal)
    if not written_in_inches(item):
        return round_values(low, high, item.nominal, most)
    inches = low / INCH, high / INCH, item.nominal / INCH
    if _on_a_rule(item):
        below = step_of_a_rule(low, high, most - 1) or FINEST_ON_A_RULE
        whole = _values_by(1.0 / below, *inches) * INCH
    else:
        whole = round_values(*inches, most) * INCH
    exact = np.array([low, high, item.nominal])
    nearest = np.abs(whole[:, None] - exact).argmin(axis=1)
    return np.where(np.isclose(whole, exact[nearest], rtol=1e-12), exact[nearest], whole)


def _on_a_rule(item: Input) -> bool:
    """Tell whether an input is drawn in fractions, and can be set at enough lines of a rule."""
    assert item.adjust is not None
    return drawn_in_fractions(item) and step_of_a_rule(*item.adjust, FINEST_ON_A_RULE) is not None


def round_values(low: float, high: float, nominal: float, most: int) -> Floats:
    """Round values from one end to the other, the ends themselves, the nominal; ascending."""
    return _values_by(round_step_at_least((high - low) / (most - 1)), low, high, nominal)


def _values_by(step: float, low: float, high: float, nominal: float) -> Floats:
    """Whole steps from one end to the other, the ends themselves, the nominal; ascending."""
    first, last = np.ceil(low / step), np.floor(high / step)
    # Written and read again, so that 126 steps of 0.1 are 12.6 and no hair more.
    inner = [float(f"{step * place:.12g}") + 0.0 for place in np.arange(first, last + 1.0)]
    values = [low]
    for value in sorted([*inner, nominal]):
        if value - values[-1] > 1e-6 * step and high - value > 1e-6 * step:
            values.append(value)
    return np.array([*values, high])


def round_step_at_least(least: float) -> float:
    """Smallest of 1, 2, 2.5 and 5 times a power of ten that is no less than ``least``."""
    power = float(10.0 ** np.floor(np.log10(least)))
    factors = (1.0, 2.0, 2.5, 5.0, 10.0)
    return power * next(factor for factor in factors if factor * power >= least * (1.0 - 1e-9))
