"""What closer tolerances buy, as plain values."""

from __future__ import annotations

from typing import Any

from sensitivity.answers.tighten.find import Tightened
from sensitivity.presentation.json_values import estimate_value, proportion_value
from sensitivity.pricing.allocation import Found


def tighten_body(tightened: Tightened) -> dict[str, Any]:
    """Lay the answer out as plain values."""
    found = tightened.found
    return {
        "yield_as_drawn": proportion_value(tightened.stated),
        "halved": [
            {
                "dimension": row.dimension.name,
                "inputs": [item.name for item in row.dimension.inputs],
                "yield": None if row.overall is None else estimate_value(row.overall),
                "gain": None if row.gain is None else estimate_value(row.gain),
                "effective_sample_size": row.weighted and row.weighted.effective,
                "effective_failures": row.weighted and row.weighted.effective_failures,
                "refused": row.refused,
            }
            for row in tightened.halved
        ],
        "set": None if found is None else _found_body(found),
        "left_out": {d.name: d.note for d in tightened.dimensions if d.note},
    }


def _found_body(found: Found) -> dict[str, Any]:
    return {
        "target": found.target,
        "reached": found.reached,
        "fresh_seed": found.fresh_seed,
        "minutes": found.minutes,
        "yield_as_drawn": proportion_value(found.as_drawn),
        "yield": proportion_value(found.overall),
        "yield_at_closest": proportion_value(found.closest),
        "limits_at_closest": {
            name: proportion_value(share) for name, share in found.closest_shares.items()
        },
        "in_the_way": "" if found.reached else found.in_the_way,
        "yield_exactly_as_drawn": proportion_value(found.exact),
        "steps": [
            {
                "dimension": step.dimension.name,
                "inputs": [item.name for item in step.dimension.inputs],
                "process": step.choice.process,
                "factor": step.choice.factor,
                "minutes": step.choice.minutes,
                "yield": proportion_value(step.overall),
                "gain": estimate_value(step.gain),
            }
            for step in found.steps
        ],
    }
