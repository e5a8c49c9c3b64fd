"""How one input varies before anything is seen of it: as stated, or by a table of one's own.

A table is for what no stated shape says, such as a dimension that is as stated or, by a slip, far
from it. Values are had from normal scores, and scores from values.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.normal_space import value_at
from sensitivity.spreads.spread import Spread, quantile, share_below

Floats = NDArray[np.float64]

FURTHEST = 8.0
"""Normal scores beyond this, one in 10^15, are not told apart."""
GRID = 4097


@dataclass(frozen=True, eq=False)
class Tabulated:
    """A distribution as a table: values (k,) ascending at normal scores (k,) ascending."""

    scores: Floats
    values: Floats


Marginal = Spread | Tabulated


def value_of(marginal: Marginal, scores: Floats) -> Floats:
    """Value of an input at normal scores (n,), in its unit."""
    if isinstance(marginal, Tabulated):
        return np.interp(scores, marginal.scores, marginal.values)
    return value_at(marginal, scores)


def score_of(marginal: Marginal, values: Floats) -> Floats:
    """Normal score (n,) of values (n,), no further out than ``FURTHEST``."""
    from sensitivity.spreads.special_functions import ndtri

    if isinstance(marginal, Tabulated):
        return np.interp(values, marginal.values, marginal.scores)
    if marginal.shape == "normal":
        found = (values - marginal.centre) / marginal.scale
    elif marginal.shape == "lognormal":
        with np.errstate(all="ignore"):
            found = np.log(np.maximum(values, 0.0) / marginal.centre) / marginal.scale
    else:
        found = ndtri(share_below(marginal, values))
    return np.asarray(np.clip(found, -FURTHEST, FURTHEST))


def mixture(stated: Spread, other: Spread, chance: float) -> Tabulated:
    """Vary as stated or, with a chance, as another spread has it.

    Parameters
    ----------
    stated, other : Spread
        Of the same input, in its unit.
    chance : float
        Of the other, between 0 and 1.
    """
    from sensitivity.spreads.special_functions import ndtr, ndtri

    shares = ndtr(np.linspace(-FURTHEST, FURTHEST, GRID))
    values = np.unique(np.concatenate([quantile(each, shares) for each in (stated, other)]))
    below = (1.0 - chance) * share_below(stated, values) + chance * share_below(other, values)
    scores = np.clip(ndtri(below), -FURTHEST, FURTHEST)
    kept = np.concatenate([[True], np.diff(scores) > 0.0])
    return Tabulated(scores[kept], values[kept])
