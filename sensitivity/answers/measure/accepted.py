"""Between which readings a part is likelier to work than to fail, by its first reading alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.pricing.value_of_information import (
    Decision,
    cross_fitted_choices,
    regressors,
)
from sensitivity.pricing.value_of_readings import ACCEPT

Floats = NDArray[np.float64]

AGREES = 0.97
"""Share of parts that one range is to accept and reject as the rule does, to stand for it."""


@dataclass(frozen=True, slots=True)
class Accepted:
    """What is read of a part that is accepted: from ``low`` to ``high``; infinite where no end is.

    ``agrees`` is the share of parts for which that is what the rule of the decision says.
    """

    low: float
    high: float
    agrees: float


def accepted_between(decision: Decision, reading: Floats) -> Accepted | None:
    """Find the one range of readings that says nearest the same as the rule of a decision.

    Parameters
    ----------
    decision : Decision
        To accept a part, or not.
    reading : array (r, n)
        Of each part, in its unit.

    Returns
    -------
    Accepted or None
        None where all are accepted or none is, or where no one range says the same.
    """
    chosen = cross_fitted_choices(decision, regressors(reading[..., None])) == ACCEPT
    order = np.argsort(reading, axis=None, kind="stable")
    read, accepted = reading.ravel()[order], chosen.ravel()[order]
    if accepted.all() or not accepted.any():
        return None
    # The stretch that holds the most accepted less rejected: Kadane's, by sums from the start.
    sums = np.concatenate([[0], np.cumsum(np.where(accepted, 1, -1))])
    lowest = np.minimum.accumulate(sums)
    end = int(np.argmax(sums - lowest))
    start = int(np.argmin(sums[: end + 1]))
    inside = np.zeros(read.size, dtype=bool)
    inside[start:end] = True
    agrees = float(np.mean(inside == accepted))
    if agrees < AGREES:
        return None
    low = -np.inf if start == 0 else 0.5 * (read[start - 1] + read[start])
    high = np.inf if end == read.size else 0.5 * (read[end - 1] + read[end])
    return Accepted(float(low), float(high), agrees)
