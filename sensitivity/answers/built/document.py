"""How it stands with what was measured, as plain values."""

from __future__ import annotations

from typing import Any

from sensitivity.answers.built.find import Built, Part
from sensitivity.answers.built.words import RULE, advice
from sensitivity.answers.finalists import works_value
from sensitivity.answers.levels import levels_value
from sensitivity.presentation.json_values import estimate_value, proportion_value


def built_body(found: Built) -> dict[str, Any]:
    """Lay out how it stands as plain values, in the models' units."""
    best, there = found.best, found.there
    keeps = found.now.keeps
    return {
        "rule": RULE,
        "measured": {part.measured.item.name: _part(part) for part in found.parts},
        "yield_as_drawn": proportion_value(found.drawn.share),
        "works_as_drawn": levels_value(found.drawn),
        "yield": proportion_value(found.now.share),
        "works": levels_value(found.now),
        "change": estimate_value(found.change),
        "best_setting": None
        if best is None or there is None
        else {
            "at": dict(best.at),
            "better": found.set_well is not None,
            "yield": proportion_value(there.share),
            "works": levels_value(there),
            "gain": estimate_value(best.gain),
            "level_with_best": None if best.level is None else list(best.level),
        },
        "settings": [
            {"at": found.settings.at(place), "works": works_value(share, keeps)}
            for place, share in enumerate(found.at_settings)
        ]
        if found.settings is not None
        else [],
        "settings_left_out_by": [limit.result for limit in found.barred],
        "told": [
            {
                "name": one.item.name,
                "unit": one.item.unit,
                "before": {"mean": one.before[0], "standard_deviation": one.before[1]},
                "after": {"mean": one.after[0], "standard_deviation": one.after[1]},
            }
            for one in found.told
        ],
        "widened": {one.measured.item.name: one.factor for one in found.widened},
        "believed": found.known.conflict.there,
        "posterior": {
            "method": found.known.method,
            "effective_rows": found.known.ess,
            "log_evidence": found.known.log_evidence,
        },
        "matters_now": {
            "measured_by": "gain if known exactly",
            "rows": [
                {
                    "name": one.item.name,
                    "instrument": one.instrument or None,
                    "advice": advice(one),
                    **estimate_value(one.gain),
                }
                for one in found.matters
            ],
        },
    }


def _part(part: Part) -> dict[str, Any]:
    one, found = part.measured, part.conformity
    return {
        "unit": one.item.unit,
        "nominal": one.drawn,
        "measured": one.value,
        "instrument": one.entry.name,
        "standard_uncertainty": found.uncertainty,
        "expected": None if part.expected is None else list(part.expected),
        "tolerance": None if found.tolerance is None else list(found.tolerance),
        "guard_band": found.guard_band,
        "conformance_probability": found.probability,
        "verdict": found.verdict,
        "instrument_that_would_tell": part.deciding_instrument or None,
        "coarser_than_drawing": part.coarse,
    }
