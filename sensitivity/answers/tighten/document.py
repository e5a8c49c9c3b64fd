"""What closer tolerances buy, as plain values."""

from __future__ import annotations

from typing import Any

from sensitivity.answers.finalists import works_value
from sensitivity.answers.levels import levels_value
from sensitivity.answers.tighten.find import Tightened
from sensitivity.presentation.json_values import estimate_value, proportion_value
from sensitivity.pricing.allocation_found import Found


def tighten_body(tightened: Tightened) -> dict[str, Any]:
    """Lay the answer out as plain values."""
    found, keeps = tightened.found, tightened.study.keeps
    return {
        "yield_as_drawn": proportion_value(tightened.stated),
        "works_as_drawn": levels_value(tightened.levels),
        "halved": [
            {
                "dimension": row.dimension.name,
                "inputs": [item.name for item in row.dimension.inputs],
                "yield": None if row.overall is None else estimate_value(row.overall),
                "gain": None if row.gain is None else estimate_value(row.gain),
                "works": works_value(row.works, keeps),
                "works_gain": None if row.more is None else estimate_value(row.more),
                "effective_sample_size": row.weighted and row.weighted.effective,
                "effective_failures": row.weighted and row.weighted.effective_failures,
                "refused": row.refused,
            }
            for row in tightened.halved
        ],
        "set": None if found is None else _found_body(found, keeps),
        "left_out": {d.name: d.note for d in tightened.dimensions if d.note},
    }


def _found_body(found: Found, keeps: float) -> dict[str, Any]:
    return {
        "target": found.target,
        "reached": found.reached,
        "fresh_seed": found.fresh_seed,
        "minutes": found.minutes,
        "making": dict(found.making),
        "cheapest": found.cheapest,
        "yield_as_drawn": proportion_value(found.as_drawn.share),
        "works_as_drawn": works_value(found.as_drawn.works, keeps),
        "yield": proportion_value(found.overall),
        "works": levels_value(found.there),
        "yield_at_closest": proportion_value(found.closest.share),
        "works_at_closest": works_value(found.closest.works, keeps),
        "limits_at_closest": {
            name: proportion_value(share) for name, share in found.closest_shares.items()
        },
        "in_the_way": "" if found.reached else found.in_the_way,
        "yield_exactly_as_drawn": proportion_value(found.exact.share),
        "works_exactly_as_drawn": works_value(found.exact.works, keeps),
        "steps": [
            {
                "dimension": step.dimension.name,
                "inputs": [item.name for item in step.dimension.inputs],
                "process": step.choice.process,
                "factor": step.choice.factor,
                "minutes": step.choice.minutes,
                "yield": proportion_value(step.overall),
                "works": works_value(step.works, keeps),
                "gain": estimate_value(step.gain),
            }
            for step in found.steps
        ],
    }
