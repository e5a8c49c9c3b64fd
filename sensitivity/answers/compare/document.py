"""Several designs, as plain values."""

from __future__ import annotations

from typing import Any

from sensitivity.answers.compare.find import Comparison
from sensitivity.answers.levels import levels_value
from sensitivity.answers.on_nobody import contest_value
from sensitivity.presentation.json_values import estimate_value, proportion_value


def comparison_body(found: Comparison) -> dict[str, Any]:
    """Lay a comparison out as plain values."""
    return {
        "designs": [
            {
                "name": design.study.name,
                "title": design.study.title,
                "works": levels_value(design.levels),
                "yield": proportion_value(design.overall),
                "limits": {name: proportion_value(share) for name, share in design.shares.items()},
                "means": {name: estimate_value(value) for name, value in design.means.items()},
                "causes": {
                    result: {name: estimate_value(value) for name, value in table.items()}
                    for result, table in design.causes.items()
                },
                "robustness": contest_value(design.contest),
                "difference_to_first": None
                if design.overall_difference is None or design.gain is None
                else {
                    "works": estimate_value(design.gain),
                    "yield": estimate_value(design.overall_difference),
                    "limits": {n: estimate_value(value) for n, value in design.differences.items()},
                },
            }
            for design in found.designs
        ],
    }
