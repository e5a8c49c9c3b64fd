"""``result.json``: everything a run found, and what is needed to repeat it."""

from __future__ import annotations

from typing import Any

from sensitivity.answers.run.find import Ran
from sensitivity.engine.result import PASS_FAIL, Output
from sensitivity.presentation.json_values import estimate_value, proportion_value
from sensitivity.pricing.ranking import RULE
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
        "sensitivity": {
            name: {
                group: {"first": estimate_value(row.first), "total": estimate_value(row.total)}
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
                }
                for row in ranking.rows
                if row.kind == "build"
            ],
        },
        "pass_fail": PASS_FAIL,
    }


def _limit(limit: Limit | None) -> dict[str, Any] | None:
    if limit is None:
        return None
    return {"at_least": limit.at_least, "at_most": limit.at_most, "because": limit.because}


def _input(item: Input) -> dict[str, Any]:
    spread = item.spread
    found: dict[str, Any] = {
        "unit": item.unit,
        "nominal": item.nominal,
        "mean": item.mean,
        "standard_deviation": item.standard_deviation,
        "kind": item.kind if spread is not None else None,
        "basis": item.basis,
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
        "shortest_interval": {"coverage": 0.95, "interval": list(output.shortest)},
        "limit": _limit(output.limit),
        "yield": proportion_value(output.proportion),
        "worst_case": list(output.worst_case),
        "root_sum_square": list(output.root_sum_square),
        "invalid": output.invalid,
    }
