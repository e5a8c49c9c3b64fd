"""The tables of a run as pandas frames: what is written to ``tables/*.csv``."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sensitivity.engine.result import Result
from sensitivity.pricing.ranking import rank

if TYPE_CHECKING:
    import pandas as pd


def result_tables(result: Result) -> dict[str, pd.DataFrame]:
    """Build every table of a result, by file name without ending."""
    import pandas as pd

    frames = {
        "inputs": _inputs(result),
        "outputs": _outputs(result),
        "sensitivity": _sensitivity(result),
        "advice": _advice(result),
    }
    if result.pairs:
        frames["second_order"] = _pairs(result)
    return {name: pd.DataFrame(rows) for name, rows in frames.items() if rows}


def _inputs(result: Result) -> list[dict[str, object]]:
    return [
        {
            "input": item.name,
            "unit": item.unit,
            "nominal": item.nominal,
            "mean": item.mean,
            "standard_deviation": item.standard_deviation,
            "spread": item.stated,
            "kind": item.kind if item.spread is not None else "",
            "group": item.group,
            "basis": item.basis,
        }
        for item in result.study.inputs
    ]


def _outputs(result: Result) -> list[dict[str, object]]:
    rows: list[dict[str, object]] = []
    for output in result.outputs:
        row: dict[str, object] = {
            "output": output.name,
            "unit": output.unit,
            "nominal": output.nominal,
            "mean": output.mean.value,
            "standard_deviation": output.standard_deviation.value,
        }
        row |= {f"quantile_{share:g}": value for share, value in output.quantiles.items()}
        row |= {
            "worst_case_low": output.worst_case[0],
            "worst_case_high": output.worst_case[1],
            "root_sum_square_low": output.root_sum_square[0],
            "root_sum_square_high": output.root_sum_square[1],
            "at_least": output.limit.at_least if output.limit else None,
            "at_most": output.limit.at_most if output.limit else None,
            "yield": output.proportion.value if output.proportion else None,
            "yield_low": output.proportion.low if output.proportion else None,
            "yield_high": output.proportion.high if output.proportion else None,
            "yield_interval_by": output.proportion.method if output.proportion else "",
        }
        rows.append(row)
    return rows


def _sensitivity(result: Result) -> list[dict[str, object]]:
    return [
        {
            "output": name,
            "input_or_group": group,
            "first": row.first.value,
            "first_low": row.first.low,
            "first_high": row.first.high,
            "total": row.total.value,
            "total_low": row.total.low,
            "total_high": row.total.high,
        }
        for name, table in result.sensitivity.items()
        for group, row in table.items()
    ]


def _pairs(result: Result) -> list[dict[str, object]]:
    return [
        {
            "output": name,
            "one": pair[0],
            "other": pair[1],
            "second_order": value.value,
            "low": value.low,
            "high": value.high,
        }
        for name, table in result.pairs.items()
        for pair, value in table.items()
    ]


def _advice(result: Result) -> list[dict[str, object]]:
    ranking = rank(result)
    return [
        {
            "input_or_group": row.name,
            "kind": row.kind,
            "drawn": row.drawn,
            "spread": row.spread,
            "measured_by": ranking.measured_by,
            "value": row.measure.value,
            "low": row.measure.low,
            "high": row.measure.high,
            "advice": row.advice if row.kind == "build" else "",
        }
        for row in ranking.rows
    ]
