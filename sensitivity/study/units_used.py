"""In which units a study is written, told from its quantities."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sensitivity.errors import QuantityError
from sensitivity.quantities.quantity import split_number
from sensitivity.study.study import Units

INCHES = frozenset({"in", "inch", "inches", "thou", "mil", "mils", '"', "″"})
_QUANTITIES = frozenset(
    {
        "nominal",
        "plus_minus",
        "between",
        "standard_deviation",
        "measured",
        "at",
        "adjust",
        "redraw",
        "redraw_step",
        "redraw_sizes",
        "at_least",
        "at_most",
        "leg",
    }
)
"""Keys whose values are quantities."""


def units_used(content: Mapping[str, Any]) -> Units:
    """Tell whether a study, as plain tables, states any quantity in inches or thousandths.

    Parameters
    ----------
    content : mapping
        As TOML gives it.
    """
    return "inch" if _in_inches(content) else "mm"


def _in_inches(value: Any, stated: bool = False) -> bool:
    if isinstance(value, Mapping):
        return any(_in_inches(item, stated or key in _QUANTITIES) for key, item in value.items())
    if isinstance(value, list | tuple):
        return any(_in_inches(item, stated) for item in value)
    if not (stated and isinstance(value, str)):
        return False
    try:
        return split_number(value)[1] in INCHES
    except QuantityError:
        return False
