"""What to measure, as plain values."""

from __future__ import annotations

from typing import Any

from sensitivity.answers.finalists import works_value
from sensitivity.answers.levels import levels_value
from sensitivity.answers.measure.find import Measuring
from sensitivity.answers.measure.order import MeasureStep
from sensitivity.answers.measure.words import RULE
from sensitivity.presentation.json_values import estimate_value, proportion_value
from sensitivity.pricing.reading_bench import Candidate, PricedReading
from sensitivity.study.study import Input


def measure_body(found: Measuring) -> dict[str, Any]:
    """Lay the order of measuring out as plain values, in the models' units."""
    settings, well, keeps = found.settings, found.set_well, found.levels.keeps
    band = found.band
    return {
        "target": found.target,
        "rule": RULE,
        "yield_as_drawn": proportion_value(found.levels.share),
        "works_as_drawn": levels_value(found.levels),
        "adjustable": {
            item.name: _adjustable(item) for item in (settings.inputs if settings else ())
        },
        "set_well": None
        if well is None
        else {
            "at": dict(well.at),
            "works": works_value(well.overall, keeps),
            "gain": estimate_value(well.gain),
        },
        "ceiling": works_value(found.ceiling, keeps),
        "steps": [_step(step, keeps) for step in found.steps],
        "works_at_last": {
            **(works_value(found.final, keeps) or {}),
            "band": None if band is None else [band.low.value, band.high.value],
        },
        "settings_left_out_by": [limit.result for limit in found.barred],
        "minutes": found.minutes,
        "all_others_exactly": None if found.rest is None else estimate_value(found.rest),
        "said_by_results": [
            {
                "result": said.result,
                "dimensions": list(said.parts),
                "these_exactly": estimate_value(said.more),
            }
            for said in found.said
        ],
        "alone": [_candidate(row) for row in found.candidates],
    }


def _adjustable(item: Input) -> dict[str, Any]:
    return {"unit": item.unit, "nominal": item.nominal, "range": list(item.adjust or ())}


def _step(step: MeasureStep, keeps: float) -> dict[str, Any]:
    accepted = step.rejection.accepted
    return {
        "name": step.name,
        **_reading(step.reading),
        "works": works_value(step.overall, keeps),
        "left_unlit": proportion_value(step.rejection.share),
        "works_of_those_lit": works_value(accepted if accepted.rows else None, keeps),
    }


def _reading(reading: PricedReading) -> dict[str, Any]:
    return {
        "instrument": reading.instrument,
        "minutes": reading.minutes,
        "gain": estimate_value(reading.gain),
        "gain_per_minute": reading.per_minute,
    }


def _candidate(row: Candidate) -> dict[str, Any]:
    return {
        "name": row.name,
        "gain_known_exactly": estimate_value(row.perfect),
        "advised": None if row.advised is None else row.advised.instrument,
        "instruments": [_reading(reading) for reading in row.readings],
    }
