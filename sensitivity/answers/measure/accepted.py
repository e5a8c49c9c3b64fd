"""Between which readings a part is likelier to work than to fail, by its first reading alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.pricing.value_of_information import Decision
from sensitivity.pricing.value_of_readings import ACCEPT

Floats = NDArray[np.float64]

ELSEWHERE = 0.1
"""Of what accepting in the range pays: where another stretch pays as much, one range is not all."""


@dataclass(frozen=True, slots=True)
class Accepted:
    """What is read of a part that is accepted: from ``low`` to ``high``; infinite where no end is.

    It is found from the parts themselves, not by the rule that gains are scored by: that is made
    without the parts it is scored on, and so from fewer.
    """

    low: float
    high: float


def accepted_between(decision: Decision, reading: Floats) -> Accepted | None:
    """Find the one range of readings in which accepting pays most.

    Parameters
    ----------
    decision : Decision
        To accept a part, or not: 1 where it works, -1 where not.
    reading : array (r, n)
        Of each part, in its unit.

    Returns
    -------
    Accepted or None
        None where it pays best to accept all or none, or where one range is not all that pays.
    """
    order = np.argsort(reading, axis=None, kind="stable")
    read, pays = reading.ravel()[order], decision.payoffs[..., ACCEPT].ravel()[order]
    start, end, most = _best_stretch(pays)
    if end - start in (0, read.size):
        return None
    if max(_best_stretch(pays[:start])[2], _best_stretch(pays[end:])[2]) > ELSEWHERE * most:
        return None
    low = -np.inf if start == 0 else 0.5 * (read[start - 1] + read[start])
    high = np.inf if end == read.size else 0.5 * (read[end - 1] + read[end])
    return Accepted(float(low), float(high))


def _best_stretch(pays: Floats) -> tuple[int, int, float]:
    """First place, end and sum of the stretch that pays most: Kadane's, by sums from the start."""
    sums = np.concatenate([[0.0], np.cumsum(pays)])
    gained = sums - np.minimum.accumulate(sums)
    end = int(np.argmax(gained))
    return int(np.argmin(sums[: end + 1])), end, float(gained[end])
