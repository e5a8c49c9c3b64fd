"""Why a result has no indices, in words."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.indices import ROUNDING
from sensitivity.engine.intervals import Proportion
from sensitivity.engine.plan import Plan
from sensitivity.engine.replicate import FEWEST_VALID, Summary
from sensitivity.system.vocabulary import Vocabulary

Flags = NDArray[np.bool_]

PASS_FAIL = "meets_all_limits"
"""Name of the pass/fail result among the outputs."""

RARE = 0.01
"""Share of failures (or of passes) below which pass/fail indices mean nothing."""


def refusals(
    plan: Plan, summaries: list[Summary], overall: Proportion | None, heavy: Flags
) -> dict[str, str]:
    """Say, for each output that has no indices, why."""
    reasons: dict[str, str] = {}
    for row, name in enumerate(plan.outputs):
        reason = plan.refused or _refusal(row, summaries, bool(heavy[row]))
        if reason:
            reasons[name] = reason
    if overall is not None:
        reason = plan.refused or _pass_fail_refusal(overall, summaries, plan.system.vocabulary)
        if reason:
            reasons[PASS_FAIL] = reason
    return reasons


def _refusal(row: int, summaries: list[Summary], heavy: bool) -> str:
    """Say why an output has no indices; empty if it has."""
    rows = summaries[0].rows
    invalid = float(np.mean([summary.invalid[row] / rows for summary in summaries]))
    if 1.0 - invalid < FEWEST_VALID:
        return (
            f"No indices: the model has no answer at {100 * invalid:.2g} % of the points, and "
            "shares of a variance with holes in it would mislead."
        )
    deviation = max(float(summary.deviation[row]) for summary in summaries)
    size = max(abs(float(summary.mean[row])) for summary in summaries)
    if deviation == 0.0:
        return "It does not vary in this study, so nothing can be blamed for it."
    if deviation <= ROUNDING * size:
        return (
            f"No indices: it varies by {deviation:.2g} about {size:.2g}, which is so little of its "
            "size that what moves it drowns in rounding; let the model return what it differs by."
        )
    if heavy:
        return (
            "No indices, mean or standard deviation: a few extreme points make up most of its "
            "variance. Either it has none (a spread reaches zero where the model divides by "
            "it: look at the small bores and clearances) or this many points cannot find it."
        )
    if any(np.isnan(summary.first[row]).any() for summary in summaries):
        if invalid > 0.0:
            return (
                f"No indices: the model has no answer at {100 * invalid:.2g} % of the points, and "
                f"so at more than {100 * (1.0 - FEWEST_VALID):.2g} % of those that are compared "
                "two or three at a time; shares of a variance with holes in it would mislead."
            )
        return "No indices: it does not vary in some replicates; ask for more points."
    return ""


def _pass_fail_refusal(overall: Proportion, summaries: list[Summary], words: Vocabulary) -> str:
    if overall.failures == 0:
        return (
            f"No failure among {overall.rows} {words.many}, so nothing can be ranked by what "
            "breaks one."
        )
    if overall.passes == 0:
        return (
            f"Not one of {overall.rows} {words.many} keeps within the limits: a nominal is off, "
            "and no tolerance will mend it."
        )
    if overall.value > 1.0 - RARE:
        return (
            f"Only {overall.failures} of {overall.rows:,} evaluations fail. With so few the "
            "pass/fail indices mean nothing (first-order goes to 0 and total to 1 for every "
            "input); ranked instead by how far each input among the failures lies from its spread "
            "among all."
        )
    if overall.value < RARE:
        return (
            f"Hardly one {words.one} keeps within the limits: a nominal is off. The pass/fail "
            "indices mean nothing there; move a nominal before tightening anything."
        )
    if any(np.isnan(summary.first[-1]).any() for summary in summaries):
        return "No pass/fail indices: some replicates have no failure; ask for more points."
    return ""
