"""Sobol' indices of one replicate.

The estimators are SALib's, whose second-order one is called. Those of first order and total are
written out: SALib finds the variance anew for each input, which took a tenth of a run; the tests
hold them to SALib's. Its intervals resample rows, which is not valid for a low-discrepancy sequence
(3 to 57 times too wide, measured), and are not used; intervals come from between the replicates.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Scale:
    """Mean and standard deviation of a result over both samples, and its variance so scaled.

    The variance is 1 but for rounding, which grows where the deviation is small beside the mean.
    ``power`` is that of two by which steps are divided so that their squares are numbers; mostly 0.
    """

    mean: float
    deviation: float
    variance: float
    power: int = 0


def load_estimators(*, pairs: bool) -> None:
    """Import what sampling needs before there is work under way.

    What it imports may swallow an interrupt that comes meanwhile.
    """
    import sensitivity.spreads.special_functions  # noqa: F401  for its being imported

    if pairs:
        from SALib.analyze import sobol  # noqa: F401


ROUNDING = 1e-12
"""Deviation, as a share of the mean, that is no more than rounding may make of nothing."""


def exponent(values: Floats) -> int:
    """Power of two by which to divide values (n,) so that their squares are numbers; mostly 0."""
    top = float(np.max(np.abs(values), initial=0.0))
    return 0 if top == 0.0 or 1e-100 < top < 1e100 else int(np.frexp(top)[1])


def scale(a: Floats, b: Floats) -> Scale | None:
    """Mean and standard deviation over both samples (n,) of a result; None if it does not vary.

    Rows without an answer are left out.
    """
    both = np.concatenate([a, b])
    if not np.isfinite(both.sum()):
        both = both[np.isfinite(both)]
        if both.size == 0:
            return None
    power = exponent(both)
    if power:
        both = np.ldexp(both, -power)
    mean, deviation = float(both.mean()), float(both.std())
    if deviation <= ROUNDING * abs(mean):
        return None
    return Scale(
        float(np.ldexp(mean, power)),
        float(np.ldexp(deviation, power)),
        float(np.var((both - mean) / deviation)),
        power,
    )


class StepSums(NamedTuple):
    """Sums (g,) over rows of how a result steps where a group's columns are swapped.

    In units of two to the ``Scale``'s power. ``whole`` are the rows that have an answer in all
    three samples; ``finite`` tells that all do.
    """

    square: Floats
    cross: Floats
    whole: Counts | int
    finite: bool


def step_sums(scaling: Scale, a: Floats, b: Floats, swapped: Floats | float) -> StepSums:
    """Sum what the indices of some groups want of rows (n,), one result.

    Parameters
    ----------
    scaling : Scale
        Whose mean is taken off: centring keeps small first-order indices from drowning in the mean
        squared (Owen 2013).
    a, b : array (n,)
        Results of the samples A and B.
    swapped : array (g, n) or what broadcasts to it
        Results of A with each group's columns from B.
    """
    step, centred = np.subtract(swapped, a[None]), b - scaling.mean
    if scaling.power:
        step, centred = np.ldexp(step, -scaling.power), np.ldexp(centred, -scaling.power)
    square, cross = np.vecdot(step, step), np.vecdot(step, centred)
    if math.isfinite(np.add.reduce(square + cross)):
        return StepSums(square, cross, a.size, True)
    whole = np.isfinite(swapped) & (np.isfinite(a) & np.isfinite(b))[None]
    step, centred = np.where(whole, step, 0.0), np.where(np.isfinite(b), centred, 0.0)
    return StepSums(
        np.vecdot(step, step),
        np.vecdot(step, centred),
        np.count_nonzero(whole, axis=1),
        False,
    )


def first_and_total(
    scaling: Scale, square: Floats, cross: Floats, whole: Counts | int
) -> tuple[Floats, Floats]:
    """First-order and total index of each group (g,), for one result.

    Parameters
    ----------
    scaling : Scale
        Of the result.
    square, cross : array (g,)
        Sums over all rows, as of ``step_sums``.
    whole : array (g,) or int
        Rows that were summed.

    Returns
    -------
    first, total : array (g,)
        First-order: Saltelli and others 2010, table 2 (b), doi 10.1016/j.cpc.2009.09.018.
        Total: Jansen 1999, ibid. table 2 (f). Neither is clipped: a small negative estimate
        is what an index of nothing looks like. Exactly 0 where the input does not reach the
        result, as both formulas give.
    """
    unit = math.ldexp(scaling.deviation, -scaling.power)
    with np.errstate(all="ignore"):  # where no row is whole
        first, total = (each / unit / unit / whole / scaling.variance for each in (cross, square))
    still = square == 0.0
    return np.where(still, 0.0, first), np.where(still, 0.0, 0.5 * total)


def second_order(
    scaling: Scale, a: Floats, b: Floats, ab_j: Floats, ab_k: Floats, ba_j: Floats
) -> float:
    """Second-order index of a pair of groups, for one result; arrays (n,).

    ``ba_j`` is B with the columns of j from A (Saltelli 2002, theorem 2,
    doi 10.1016/S0010-4655(02)00280-1).
    """
    from SALib.analyze import sobol

    columns = _scaled(scaling, a, ab_j, ab_k, ba_j, b)
    return float(sobol.second_order(*(values[:, None] for values in columns))[0])


def _scaled(scaling: Scale, *columns: Floats) -> tuple[Floats, ...]:
    """Centre and scale results (n,)."""
    return tuple((values - scaling.mean) / scaling.deviation for values in columns)
