"""Spreads made of another: one that may have slipped, and one that trials have taught more of.

``slipped``: with a stated chance (``flat``) the dimension was made wrong and lies anywhere between
``low`` and ``high``, equally likely; otherwise it is as ``base`` says. So that a slip of a joint or
a part made to the wrong line can be an answer at all, and yet stays rare until something is seen.

``learnt``: the base's standard normal score z, which is N(0, 1) as stated, is N(``centre``,
``scale``) after trials, or has the quantiles that ``values`` tabulates, where it is not normal. The
value is the base's at that score, so it never leaves the base.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sensitivity.spreads import spread as shapes

if TYPE_CHECKING:
    from sensitivity.spreads.spread import Spread

Floats = NDArray[np.float64]

SLIP_REACHES = 5.0
"""Stated half-widths from the middle of a spread to each end of where a slip may leave it."""
TABLE = np.linspace(-2.4, 2.4, 33)
"""Standard normal scores at which the quantiles of what was learnt are tabulated: 8 of 1000 lie
beyond each end, where it goes on as a normal's would."""
FURTHEST = 8.0
"""Standard normal scores that are tabulated: beyond them nothing is left in double precision."""


def slipped(
    base: Spread,
    chance: float,
    *,
    lowest: float = -np.inf,
    highest: float = np.inf,
) -> Spread:
    """Build the spread of a dimension that may have been made wrong.

    Parameters
    ----------
    base : Spread
        As stated, of any shape but these two.
    chance : float
        Of a slip, 0..1; the base itself where it is 0.
    lowest, highest : float
        What is physically possible, in the input's unit: a slip leaves it no further out.

    Returns
    -------
    Spread
        Its tolerance box is the reach of a slip: five half-widths of the base each way.
    """
    if chance <= 0.0:
        return base
    middle, half = 0.5 * (base.low + base.high), 0.5 * (base.high - base.low)
    low = min(base.low, max(lowest, middle - SLIP_REACHES * half))
    high = max(base.high, min(highest, middle + SLIP_REACHES * half))
    return shapes.Spread("slipped", low, high, base.centre, flat=chance, base=base)


def learnt(
    base: Spread, score_mean: float, score_deviation: float, table: tuple[float, ...] = ()
) -> Spread:
    """Build the spread of what trials have taught more of.

    Parameters
    ----------
    base : Spread
        As stated, of any shape but these two.
    score_mean, score_deviation : float
        Of its standard normal score after the trials; 0 and 1 are the base itself.
    table : tuple of float, optional
        Quantiles of that score at the normal scores of ``TABLE``, ascending, where it is no normal.

    Returns
    -------
    Spread
        Its tolerance box is three deviations of the score each way, inside the base's own.
    """
    from sensitivity.spreads.special_functions import ndtr

    scores = _learnt_scores(score_mean, score_deviation, table, np.array([-3.0, 3.0]))
    low, high = (
        float(end) for end in shapes.quantile(base, np.clip(ndtr(scores), 1e-16, 1 - 1e-16))
    )
    low, high = max(low, base.low), min(high, base.high)
    return shapes.Spread("learnt", low, high, score_mean, score_deviation, values=table, base=base)


def without_slip(spread: Spread) -> Spread:
    """Give the spread as the study states it, without the chance of a slip."""
    return spread.base if spread.shape == "slipped" and spread.base is not None else spread


def quantile(spread: Spread, u: Floats) -> Floats:
    """Turn probabilities of a derived shape into values; as ``spread.quantile``."""
    from sensitivity.spreads.special_functions import ndtri

    return at_score(spread, ndtri(u))


def at_score(spread: Spread, z: Floats) -> Floats:
    """Value of a derived shape at standard normal scores (n,), in the input's unit."""
    from sensitivity.spreads.special_functions import ndtr

    if spread.shape == "learnt":
        score = scores_of_base(spread, z)
        return shapes.quantile(_base(spread), np.clip(ndtr(score), 2.0**-1000, 1.0 - 2.0**-53))
    scores, values = _slipped_table(spread)
    return np.interp(z, scores, values)


def density(spread: Spread, x: Floats) -> Floats:
    """Probability density of a derived shape at values (n,); as ``spread.density``."""
    base = _base(spread)
    of_base = shapes.density(base, x)
    if spread.shape == "slipped":
        inside = (x >= spread.low) & (x <= spread.high)
        wide = np.where(inside, 1.0 / (spread.high - spread.low), 0.0)
        return np.asarray((1.0 - spread.flat) * of_base + spread.flat * wide)
    z = _score(base, x)
    w, slope = _own_score(spread, z)
    # In the logarithm: far out both normal densities are nothing, their ratio is not.
    return np.asarray(of_base * np.exp(0.5 * (z * z - w * w)) / slope)


def share_below(spread: Spread, x: Floats) -> Floats:
    """Probability that a derived shape is at most ``x`` (n,); as ``spread.share_below``."""
    from sensitivity.spreads.special_functions import ndtr

    base = _base(spread)
    if spread.shape == "slipped":
        wide = np.clip((x - spread.low) / (spread.high - spread.low), 0.0, 1.0)
        return np.asarray((1.0 - spread.flat) * shapes.share_below(base, x) + spread.flat * wide)
    below = shapes.share_below(base, x)
    found = ndtr(_own_score(spread, _score(base, x))[0])
    return np.where(below <= 0.0, 0.0, np.where(below >= 1.0, 1.0, found))


def support(spread: Spread) -> tuple[float, float]:
    """Ends between which a derived shape can fall; as ``spread.support``."""
    low, high = shapes.support(_base(spread))
    if spread.shape == "learnt":
        return low, high
    return min(low, spread.low), max(high, spread.high)


@lru_cache(maxsize=512)
def moments(spread: Spread) -> tuple[float, float]:
    """Mean and standard deviation of a derived shape, in the input's unit."""
    base = _base(spread)
    if spread.shape == "slipped":
        means = np.array([shapes.mean(base), 0.5 * (spread.low + spread.high)])
        variances = np.array(
            [shapes.standard_deviation(base) ** 2, (spread.high - spread.low) ** 2 / 12.0]
        )
        parts = np.array([1.0 - spread.flat, spread.flat])
        mean = float(parts @ means)
        return mean, float(np.sqrt(parts @ (variances + (means - mean) ** 2)))
    # Midpoints of equal steps of the score: the normal's weight makes that all but exact.
    scores = np.linspace(-FURTHEST, FURTHEST, 4001)
    weights = np.exp(-0.5 * scores**2)
    weights /= weights.sum()
    from sensitivity.spreads.special_functions import ndtr

    values = quantile(spread, ndtr(scores))
    mean = float(weights @ values)
    return mean, float(np.sqrt(weights @ (values - mean) ** 2))


def scores_of_base(spread: Spread, z: Floats) -> Floats:
    """Standard normal scores of the base at those (n,) of a learnt spread."""
    return _learnt_scores(spread.centre, spread.scale, spread.values, z)


def _learnt_scores(mean: float, deviation: float, table: tuple[float, ...], z: Floats) -> Floats:
    if not table:
        return np.asarray(mean + deviation * z)
    beyond = deviation * (np.minimum(z - TABLE[0], 0.0) + np.maximum(z - TABLE[-1], 0.0))
    return np.asarray(np.interp(z, TABLE, np.asarray(table)) + beyond)


def _own_score(spread: Spread, z: Floats) -> tuple[Floats, Floats]:
    """Scores (n,) of a learnt spread at those of its base, and how fast the latter grow there."""
    slope = np.full(np.shape(z), spread.scale)
    if not spread.values:
        return (z - spread.centre) / spread.scale, slope
    table = np.asarray(spread.values)
    beyond = (np.minimum(z - table[0], 0.0) + np.maximum(z - table[-1], 0.0)) / spread.scale
    steps = np.diff(table) / np.diff(TABLE)
    inside = (z >= table[0]) & (z < table[-1])
    place = np.clip(np.searchsorted(table, z, side="right") - 1, 0, steps.size - 1)
    return np.interp(z, table, TABLE) + beyond, np.where(inside, steps[place], slope)


def _base(spread: Spread) -> Spread:
    assert spread.base is not None
    return spread.base


def _score(base: Spread, x: Floats) -> Floats:
    from sensitivity.spreads.special_functions import ndtri

    if base.shape == "normal":
        return np.asarray((x - base.centre) / base.scale)
    return np.asarray(ndtri(np.clip(shapes.share_below(base, x), 1e-300, 1.0 - 2.0**-53)))


@lru_cache(maxsize=512)
def _slipped_table(spread: Spread) -> tuple[Floats, Floats]:
    """Tabulate values of a slipped spread by their standard normal score, both ascending."""
    from sensitivity.spreads.special_functions import ndtr, ndtri

    scores = np.linspace(-FURTHEST, FURTHEST, 3201)
    own = shapes.quantile(_base(spread), np.clip(ndtr(scores), 2.0**-1000, 1.0 - 2.0**-53))
    width = spread.high - spread.low
    wide = spread.low + width * np.linspace(0.0, 1.0, 1601)
    # Closer towards the ends, where the score runs away.
    near = width * np.geomspace(1e-13, 1e-3, 201)
    values = np.unique(np.concatenate([own, wide, spread.low + near, spread.high - near]))
    probabilities = share_below(spread, values)
    keep = (probabilities > 0.0) & (probabilities < 1.0)
    keep &= np.concatenate([[True], np.diff(probabilities) > 0.0])
    found, values = ndtri(probabilities[keep]), values[keep]
    # The ends themselves, at the scores where nothing is left beyond them.
    low, high = support(spread)
    if np.isfinite(low):
        found, values = np.append(-2 * FURTHEST, found), np.append(low, values)
    if np.isfinite(high):
        found, values = np.append(found, 2 * FURTHEST), np.append(values, high)
    return found, values
