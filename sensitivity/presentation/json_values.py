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


def to_json(document: dict[str, Any], *, indent: int | None = 1) -> str:
    """Write a document as JSON text, NaN as null, and spell out what cannot be seen in a text.

    Without ``indent`` it is one line, which is several times as quick to write.
    """
    text = json.dumps(_finite(document), indent=indent, ensure_ascii=False, allow_nan=False)
    return shown_in_json(text) + "\n"


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
