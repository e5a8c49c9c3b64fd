"""``result.json``: everything a run found, and what is needed to repeat it."""

from __future__ import annotations

from typing import Any

from sensitivity.answers.levels import levels_value
from sensitivity.answers.run.find import Ran
from sensitivity.answers.run.totals import part_totals_value
from sensitivity.answers.unsourced_spreads import robustness_value
from sensitivity.engine.rare import RareFailures
from sensitivity.engine.result import PASS_FAIL, Output
from sensitivity.presentation.json_values import estimate_value, proportion_value
from sensitivity.pricing.one_move import NominalToMove
from sensitivity.pricing.reading_worth import ReadingWorth
from sensitivity.pricing.worth import RULE
from sensitivity.study.study import Input, Limit


def run_body(ran: Ran) -> dict[str, Any]:
    """Lay a result out as plain values."""
    result, ranking = ran.result, ran.ranking
    return {
        "evaluations": result.evaluations,
        "invalid": result.invalid,
        "outside_physical_range": dict(result.outside),
        "models": [model.name for model in result.study.system.models],
        "inputs": {item.name: _input(item) for item in result.study.inputs},
        "correlations": [
            {"inputs": list(item.inputs), "rank": item.rank, "because": item.because}
            for item in result.study.correlations
        ],
        "outputs": {output.name: _output(output) for output in result.outputs},
        "yield": proportion_value(result.overall),
        "works": levels_value(ran.levels),
        "robustness": robustness_value(ran.robustness),
        "part_totals": part_totals_value(ran.part_totals),
        "rare_failures": None if ran.rare is None else _rare(ran.rare),
        "shapley_effects": {}
        if ran.shapley is None
        else {
            name: {item: estimate_value(effect) for item, effect in effects.items()}
            for name, effects in ran.shapley.effects.items()
        },
        "sensitivity": {
            name: {
                group: {
                    "first": estimate_value(row.first),
                    "total": estimate_value(row.total),
                    "settled": row.settled,
                }
                for group, row in table.items()
            }
            for name, table in result.sensitivity.items()
        },
        "second_order": {
            name: [{"inputs": list(pair), **estimate_value(value)} for pair, value in table.items()]
            for name, table in result.pairs.items()
        },
        "no_indices": dict(result.no_indices),
        "failure_distances": {
            name: estimate_value(value) for name, value in result.distances.items()
        },
        "advice": {
            "measured_by": ranking.measured_by,
            "rule": RULE,
            "note": ranking.note,
            "rows": [
                {
                    "name": row.name,
                    "kind": row.kind,
                    "advice": row.advice,
                    **estimate_value(row.measure),
                    "halved": None if row.halved is None else estimate_value(row.halved),
                    "read": None if row.read is None else estimate_value(row.read),
                }
                for row in ranking.rows
                if row.kind == "build"
            ],
            "readings": [_reading(row) for row in ran.readings],
            "nominal": _nominal(ran.nominal),
        },
        "pass_fail": PASS_FAIL,
    }


def _reading(row: ReadingWorth) -> dict[str, Any]:
    return {
        "name": row.name,
        "instrument": row.instrument or None,
        "minutes": row.minutes if row.instrument else None,
        "settled": row.settled,
        "gain": estimate_value(row.gain),
        "known_exactly": estimate_value(row.known_exactly),
    }


def _nominal(found: NominalToMove) -> dict[str, Any] | None:
    if found.move is not None:
        item, gain = found.move.nominal.item, estimate_value(found.move.gain)
        return {"name": item.name, "unit": item.unit, "to": found.move.to, "gain": gain}
    if found.asked is not None:
        item, gain = found.asked.nominal.item, estimate_value(found.asked.gained)
        to = found.asked.nominal.up if found.asked.gain.value >= 0.0 else found.asked.nominal.down
        return {"name": item.name, "unit": item.unit, "to": to, "gain": gain}
    return None


def _rare(rare: RareFailures) -> dict[str, Any]:
    return {
        **estimate_value(rare.chance),
        "method": rare.method,
        "within_factor": rare.within_factor,
        "at_most": rare.at_most,
        "by_limit": {name: estimate_value(chance) for name, chance in rare.by_limit.items()},
        "with_wider_spreads": estimate_value(rare.with_wider_spreads),
        "rests_on_tails": rare.rests_on_tails,
        "evaluations": rare.evaluations,
    }


def _limit(limit: Limit | None) -> dict[str, Any] | None:
    if limit is None:
        return None
    return {
        "at_least": limit.at_least,
        "at_most": limit.at_most,
        "because": limit.because,
        "hurts": limit.hurts,
        "ceiling": limit.ceiling if limit.hurts else None,
    }


def _input(item: Input) -> dict[str, Any]:
    spread = item.spread
    found: dict[str, Any] = {
        "unit": item.unit,
        "nominal": item.nominal,
        "mean": item.mean,
        "standard_deviation": item.standard_deviation,
        "kind": item.kind if spread is not None else None,
        "basis": item.basis,
        "taken_from": "the study" if item.given and not item.borrowed else "its model",
        "spread": item.stated,
        "shape": spread.shape if spread is not None else None,
        "box": [spread.low, spread.high] if spread is not None else None,
        "group": item.group,
        "adjust": list(item.adjust) if item.adjust else None,
    }
    if spread is not None and spread.values:
        found["samples"] = list(spread.values)
    return found


def _output(output: Output) -> dict[str, Any]:
    return {
        "unit": output.unit,
        "nominal": output.nominal,
        "mean": estimate_value(output.mean),
        "standard_deviation": estimate_value(output.standard_deviation),
        "quantiles": {f"{share:g}": value for share, value in output.quantiles.items()},
        "quantile_intervals": {
            f"{share:g}": [each.low, each.high] for share, each in output.quantile_intervals.items()
        },
        "shortest_interval": {
            "coverage": 0.95,
            "interval": list(output.shortest),
            "ends": [estimate_value(end) for end in output.shortest_interval],
        },
        "limit": _limit(output.limit),
        "yield": proportion_value(output.proportion),
        "worst_case": list(output.worst_case),
        "root_sum_square": list(output.root_sum_square),
        "invalid": output.invalid,
    }
