"""What comes of setting nothing to suit, and of remaking what is likelier to fail than to work."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import (
    FEWEST_EVENTS,
    Proportion,
    clopper_pearson,
    proportion,
    student,
)
from sensitivity.pricing.value_of_information import Decision
from sensitivity.pricing.value_of_readings import ACCEPT, Knowledge, choices_with

Counts = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Rejection:
    """What rejecting comes to: the share rejected, and the share of those accepted that works.

    Adjustable inputs are at the one best setting for all.
    """

    share: Proportion
    accepted: Proportion


def rejection_of(acceptance: Decision, known: Knowledge, confidence: float) -> Rejection:
    """Find what comes of rejecting by what is known of each assembly."""
    accepted = choices_with(acceptance, known) == ACCEPT
    works = np.where(accepted, 0.5 * (1.0 + acceptance.payoffs[..., ACCEPT]), 0.0)
    rows = np.count_nonzero(accepted, axis=1)
    share = proportion(accepted.shape[1] - rows, accepted.shape[1], confidence)
    return Rejection(share, _share_of(works.sum(axis=1), rows, confidence))


def _share_of(passes: Floats, rows: Counts, confidence: float) -> Proportion:
    """Share of passes among rows that differ in number between replicates (r,).

    The ratio of the sums, with Student's t on the residuals ``passes - value rows`` over the mean
    number of rows (the ratio estimator of survey sampling, Cochran 1977, 6.3, from memory);
    exact binomial bounds where ``share_proportion`` takes them, of the whole numbers on both sides.
    """
    total, pooled = round(float(passes.sum()), 6), int(rows.sum())
    if pooled == 0:
        return Proportion(float("nan"), 0.0, 1.0, "clopper-pearson", 0, 0)
    total = min(max(total, 0.0), float(pooled))
    value = total / pooled
    if min(total, pooled - total) < FEWEST_EVENTS or int(rows.min()) == 0:
        low, _ = clopper_pearson(int(np.floor(total)), pooled, confidence)
        _, high = clopper_pearson(int(np.ceil(total)), pooled, confidence)
        return Proportion(value, low, high, "clopper-pearson", round(total), pooled)
    _, low_end, high_end = student(value + (passes - value * rows) / rows.mean(), confidence)
    return Proportion(
        value, max(0.0, float(low_end)), min(1.0, float(high_end)), "student", round(total), pooled
    )
