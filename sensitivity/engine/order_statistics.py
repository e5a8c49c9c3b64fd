"""Quantiles and shortest ranges of a result, with their intervals between replicates."""

from __future__ import annotations

import numpy as np

from sensitivity.engine.intervals import Estimate, estimate, student
from sensitivity.engine.replicate import QUANTILES, Summary

FEWEST_BEYOND = 5
"""Rows of a replicate beyond a quantile below which it has no interval: it is biased there."""


def quantile_intervals(summaries: list[Summary], row: int, confidence: float) -> list[Estimate]:
    """Find the quantiles (q,) of an output with their intervals between replicates."""
    values = np.array([summary.quantiles[row] for summary in summaries])
    answers = summaries[0].rows - max(int(summary.invalid[row]) for summary in summaries)
    found = []
    for place, share in enumerate(QUANTILES):
        each = estimate(values[:, place], confidence)
        if answers * min(share, 1.0 - share) < FEWEST_BEYOND:
            each = Estimate(each.value, np.nan, np.nan)
        found.append(each)
    return found


def shortest_range(
    summaries: list[Summary], row: int, confidence: float
) -> tuple[Estimate, Estimate]:
    """Find the ends of the shortest range that holds 95 %, with their intervals.

    Which range is shortest is hard to tell, and each replicate's own is biased towards what is
    short by chance. So all ranges are taken that are not longer than the best by more than
    their paired difference is unsure of; the intervals go from end to end of theirs. Where
    the range may start at the very lowest value, that is below the lowest met, and both its
    ends lower, by about as much as lies between one row and the next; likewise at the top.
    """
    own = np.mean([summary.shortest[row] for summary in summaries], axis=0)
    ranges = np.array([summary.ranges[row] for summary in summaries])  # (r, 2, s)
    widths = ranges[:, 1] - ranges[:, 0]
    if not np.isfinite(widths).all():
        nothing = (Estimate(float(end), np.nan, np.nan) for end in own)
        return next(nothing), next(nothing)
    best = int(np.argmin(widths.mean(axis=0)))
    _, longer, _ = student(widths - widths[:, [best]], confidence)
    taken = longer <= 0.0
    _, low, high = student(ranges, confidence)
    lowest, highest = low[:, taken].min(axis=1), high[:, taken].max(axis=1)
    between = np.diff(ranges, axis=2).mean(axis=0)
    if taken[0]:
        lowest[0] = min(lowest[0], ranges[:, 0, 0].min())
        lowest -= 3.0 * between[:, 0]
    if taken[-1]:
        highest[1] = max(highest[1], ranges[:, 1, -1].max())
        highest += 3.0 * between[:, -1]
    ends = [
        Estimate(float(end), float(min(least, end)), float(max(most, end)))
        for end, least, most in zip(own, lowest, highest, strict=True)
    ]
    return ends[0], ends[1]
