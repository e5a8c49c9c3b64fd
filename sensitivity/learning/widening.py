"""A dimension whose reading contradicts what is stated of it: the statement is widened, and told.

A part was measured, and lies where its stated spread hardly lets it. The spread is then wrong of
this part, whatever it is of others: it is widened about its nominal, in its own shape, until one
part in three would read so far out; where its shape never comes there, in the normal shape. The
reading is not believed outright, since it may err, and the statement is not left out, since it
still says where most parts lie.
"""

from __future__ import annotations

import numpy as np

from sensitivity.learning.conflict import SURPRISING
from sensitivity.spreads.altered import narrowed
from sensitivity.spreads.spread import (
    Spread,
    normal,
    quantile,
    share_below,
    standard_deviation,
)

AS_OFTEN = 1.0 / 3.0
"""Share of parts that read so far out or further, once the spread is widened."""
FACTOR = 1.2
MOST = 40
PARTS = 512


def widened(stated: Spread, about: float, value: float, error: Spread) -> tuple[Spread, float]:
    """Widen what is stated of an input until its reading is nothing out of the way.

    Parameters
    ----------
    stated : Spread
        Of the input.
    about : float
        Its nominal, which stays where it is; in its unit.
    value : float
        What was read.
    error : Spread
        Reading less truth.

    Returns
    -------
    Spread
        As stated where the reading contradicts nothing.
    float
        By which factor it was widened; 1 where it was not.
    """
    if rarity_of(stated, value, error) >= SURPRISING:
        return stated, 1.0
    factor = 1.0
    for _ in range(MOST):
        factor *= FACTOR
        wider = narrowed(stated, factor, about)
        if rarity_of(wider, value, error) >= AS_OFTEN:
            return wider, factor
    # A spread that lies on one side of its nominal never comes to a reading on the other.
    far = abs(value - about)
    return normal(about, far), far / standard_deviation(stated)


def rarity_of(stated: Spread, value: float, error: Spread) -> float:
    """Two-sided chance that a part as stated reads so far from the middle, or further."""
    truths = quantile(stated, (np.arange(PARTS) + 0.5) / PARTS)
    below = float(share_below(error, value - truths).mean())
    return 2.0 * min(below, 1.0 - below)
