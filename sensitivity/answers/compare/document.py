"""Several designs, as plain values."""

from __future__ import annotations

from typing import Any

from sensitivity.answers.compare.find import Comparison
from sensitivity.answers.levels import levels_value
from sensitivity.answers.unsourced_spreads import contest_value
from sensitivity.presentation.json_values import estimate_value, proportion_value
from sensitivity.pricing.swaps import Swap, Swaps


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
                "reasons": _reasons_value(design.reasons),
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


def _reasons_value(reasons: Swaps | None) -> dict[str, Any] | None:
    """Lay out what differs from the first design, and what it makes of it."""
    if reasons is None:
        return None
    return {
        "each": [{"input": swap.name, **_swap_value(swap)} for swap in reasons.each],
        "together": None if reasons.together is None else _swap_value(reasons.together),
        "rest": None if reasons.rest is None else _swap_value(reasons.rest),
        "only_first": list(reasons.only_first),
        "only_other": list(reasons.only_other),
    }


def _swap_value(swap: Swap) -> dict[str, Any]:
    return {
        "gain": estimate_value(swap.overall),
        "limits": {name: estimate_value(value) for name, value in swap.limits.items()},
        "shifts": {name: estimate_value(value) for name, value in swap.shifts.items()},
    }
