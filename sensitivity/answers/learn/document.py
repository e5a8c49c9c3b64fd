"""What trials say, as plain values."""

from __future__ import annotations

from typing import Any

from sensitivity.answers.finalists import works_value
from sensitivity.answers.learn.find import Dimension, Learnt
from sensitivity.learning.suspects import Suspect
from sensitivity.presentation.json_values import estimate_value


def learn_body(found: Learnt) -> dict[str, Any]:
    """Lay out what trials say as plain values, in the models' units."""
    keeps, known, best = found.study.keeps, found.known, found.best
    return {
        "trials": [
            {
                "identifier": one.trial.identifier,
                "title": one.trial.title,
                "held": dict(one.trial.held),
                "seen": list(one.seen),
            }
            for one in found.told
        ],
        "method": known.method,
        "rows": int(known.weights.size),
        "effective_rows": known.ess,
        "log_evidence": known.log_evidence,
        "expected": [
            {"trial": e.trial.identifier, "of": e.seen.result, "probability": e.probability}
            for e in known.conflict.expected
        ],
        "expected_together": known.conflict.together,
        "blunder": found.study.blunder,
        "works_before": works_value(found.before, keeps),
        "works": works_value(found.now, keeps),
        "best_setting": None
        if best is None
        else {
            "at": dict(best.at),
            "better": found.set_well is not None,
            "works": works_value(best.overall, keeps),
            "gain": estimate_value(best.gain),
        },
        "fault": None
        if found.fault is None
        else {
            "broken": list(found.fault.seen),
            "expected": found.fault.expected,
            "suspects": [_suspect(one) for one in found.fault.suspects],
            "together": [list(group) for group in found.fault.together],
            "remedies": [
                {
                    "made_anew": list(one.names),
                    "works": works_value(one.works, keeps),
                    "gain": estimate_value(one.gain),
                }
                for one in found.fault.remedies
            ],
        },
        "readings": [
            {
                "name": one.name,
                "instrument": one.instrument.name,
                "minutes": one.instrument.minutes,
                "settles": estimate_value(one.settles),
                "expect": list(one.where),
            }
            for one in found.readings
        ],
        "dimensions": {one.item.name: _dimension(one) for one in found.dimensions},
        "doubts": {one.item.name: _dimension(one) for one in found.doubts},
        "next_trials": [
            {
                "name": one.trial.name,
                "safe": one.trial.safe,
                "minutes": one.trial.minutes,
                "of_part": estimate_value(one.of_part),
                "of_physics": estimate_value(one.of_physics),
                "doubts": {name: estimate_value(share) for name, share in one.doubts},
            }
            for one in found.trials
        ],
    }


def _suspect(one: Suspect) -> dict[str, Any]:
    return {
        "name": one.item.name,
        "kind": one.item.kind,
        "unit": one.item.unit,
        "named": one.named,
        "information": estimate_value(one.information),
        "mean": list(one.mean),
        "standard_deviation": list(one.deviation),
        "outside": list(one.out),
        "slipped": list(one.slip),
        "if_one_slipped": one.if_one,
    }


def _dimension(one: Dimension) -> dict[str, Any]:
    return {
        "unit": one.item.unit,
        "nominal": one.item.nominal,
        "before": list(one.before),
        "now": list(one.after),
        "median": list(one.middle),
        "outside": one.out,
    }
