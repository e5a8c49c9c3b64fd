"""Values as JSON has them: estimates with their intervals, NaN as null.

The format of ``result.json`` has a number, ``SCHEMA``, which changes with it.
"""

from __future__ import annotations

import json
from math import isfinite
from typing import Any

from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.presentation.texts import shown_in_json

SCHEMA = 2


LINES = 3
"""Levels of a document whose members stand on lines of their own."""


def to_json(document: dict[str, Any], *, lines: int = LINES) -> str:
    """Write a document as JSON text, NaN as null, and spell out what cannot be seen in a text.

    Members of its first few levels stand on ``lines`` of their own and what lies deeper on one:
    a text that is broken at every member takes several times as long to write.
    """
    return shown_in_json(_laid_out(_finite(document), lines, "")) + "\n"


def _laid_out(value: Any, lines: int, margin: str) -> str:
    if lines == 0 or not value or not isinstance(value, dict):
        return json.dumps(value, ensure_ascii=False, allow_nan=False)
    members = (
        f"\n{margin} {json.dumps(str(key), ensure_ascii=False)}: "
        f"{_laid_out(item, lines - 1, margin + ' ')}"
        for key, item in value.items()
    )
    return "{" + ",".join(members) + f"\n{margin}}}"


def _finite(value: Any) -> Any:
    if isinstance(value, float):
        return value if isfinite(value) else None
    if isinstance(value, dict):
        return {key: _finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(item) for item in value]
    return value


def estimate_value(value: Estimate) -> dict[str, Any]:
    """Lay out an estimate with its interval."""
    return {"estimate": value.value, "interval": [value.low, value.high]}


def proportion_value(value: Proportion | None) -> dict[str, Any] | None:
    """Lay out a probability with its interval, how that was got, and the counts."""
    if value is None:
        return None
    return {
        "estimate": value.value,
        "interval": [value.low, value.high],
        "method": value.method,
        "passes": value.passes,
        "rows": value.rows,
    }
