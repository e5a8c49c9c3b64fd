"""Which figures of a run would say nothing, and the sentence that stands for each."""

from __future__ import annotations

import numpy as np

from sensitivity.answers.run.find import Ran
from sensitivity.engine.result import Result


def left_out(ran: Ran) -> dict[str, str]:
    """Name the figures of a run that would be flat or empty, each with what to say instead."""
    result, ranking, silent = ran.result, ran.ranking, {}
    shown = result.limited or result.outputs[:6]
    if all(np.ptp(_finite(result, output.name)) == 0.0 for output in shown):
        silent["results"] = "No figure of the results: none of them varies."
    if ranking.rows and all(row.measure.low <= 0.0 for row in ranking.rows):
        silent["what_matters"] = (
            "No figure of the ranking: no input's measure is clear of zero, so the bars would "
            "show noise."
        )
    if result.distances and all(distance.low <= 0.0 for distance in result.distances.values()):
        silent["rare_failures"] = (
            "No figure of the rare failures: no input lies elsewhere among them than among all, "
            "as far as so few can tell."
        )
    return silent


def _finite(result: Result, name: str) -> np.ndarray:
    values = result.sample[name]
    values = values[np.isfinite(values)]
    return values if values.size else np.zeros(1)
