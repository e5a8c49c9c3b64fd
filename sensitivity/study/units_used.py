"""In which units a study is written, told from its quantities."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Mapping
from typing import Any

from sensitivity.errors import QuantityError
from sensitivity.quantities.quantity import split_number
from sensitivity.quantities.tube import by_name
from sensitivity.study.study import Input, Units

THOU = frozenset({"thou", "mil", "mils"})
INCHES = frozenset({"in", "inch", "inches", '"', "″"}) | THOU
MICRONS = frozenset({"um", "µm", "μm", "micron"})
METRIC = frozenset({"mm", "cm", "m"}) | MICRONS
FINEST_ON_A_RULE = 64
"""Finest part of an inch on a rule, in which who draws in fractions draws."""
FEWEST_ON_A_RULE = 6
"""Such parts in a range below which it is searched at decimal inches all the same."""
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
    """Tell in which units a study, as plain tables, is written: those of most of its lengths.

    Inches where it states as many lengths in inches or thousandths as in millimetres or more; one
    bought tube of 5/32 in makes no inch drawing.

    Parameters
    ----------
    content : mapping
        As TOML gives it.
    """
    spelled = list(_spelled(content))
    inches = sum(unit in INCHES for unit in spelled)
    return "inch" if inches and inches >= sum(unit in METRIC for unit in spelled) else "mm"


def written_in_inches(item: Input) -> bool:
    """Tell whether the nominal of a length, in mm to the models, is written in inches or thou."""
    if item.unit != "mm" or not item.written:
        return False
    try:
        return split_number(item.written[0])[1] in INCHES
    except QuantityError:
        return False


def drawn_in_fractions(item: Input) -> bool:
    """Tell whether the nominal of a length is a fraction of an inch: ``13/32 in``, no tube."""
    if not written_in_inches(item) or by_name(item.written[0]) is not None:
        return False
    plain = unicodedata.normalize("NFKC", item.written[0]).replace("⁄", "/")
    return split_number(item.written[0])[1] not in THOU and "/" in plain


def step_of_a_rule(low: float, high: float, most: int) -> int | None:
    """Which part of an inch to step by between two lengths in mm: 64 for a 64th.

    The finest on a rule that leaves ``most`` steps or fewer; None where 64ths are too coarse.
    """
    inches = round((high - low) / 25.4, 9)
    if inches * FINEST_ON_A_RULE < FEWEST_ON_A_RULE:
        return None
    parts = (FINEST_ON_A_RULE >> power for power in range(FINEST_ON_A_RULE.bit_length()))
    return next((below for below in parts if inches * below <= most), 1)


def _spelled(value: Any, stated: bool = False) -> Iterator[str]:
    """Give the unit of each quantity that is stated."""
    if isinstance(value, Mapping):
        for key, item in value.items():
            yield from _spelled(item, stated or key in _QUANTITIES)
    elif isinstance(value, list | tuple):
        for item in value:
            yield from _spelled(item, stated)
    elif stated and isinstance(value, str):
        try:
            yield split_number(value)[1]
        except QuantityError:
            return
