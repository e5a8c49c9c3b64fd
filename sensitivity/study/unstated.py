"""Inputs that a study does not state: what is taken for them, and that it is nobody's drawing.

A condition or a doubt is the models' to know: a study that says ``unstated = "as declared"`` takes
what its models declare, kind and spread, and says so; otherwise it holds them at their defaults,
as studies always did. A dimension is the builder's. One that is not stated, or is stated without
its nominal, takes the model's default, which is the size of some other engine: it is *borrowed*,
and every answer names it first. It is not refused, because a study in Python, or of a model of
one's own, may well mean the defaults that its author wrote. A default of nought (an error, a slack,
a thing that is not there) is nobody's size, and is not borrowed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, Literal

from sensitivity.errors import nearest
from sensitivity.study.faults import Faults
from sensitivity.study.form import InputTable, echo
from sensitivity.study.study import Input
from sensitivity.system.catalogue import Quantity
from sensitivity.system.setting_out import decided

Unstated = Literal["held", "as declared"]
WAYS: tuple[Unstated, ...] = ("held", "as declared")

DECLARED = "as its model declares it: judgement, no source unless the model names one"
"""The basis of a spread that is taken from a model."""


def read_unstated(content: Mapping[str, Any], faults: Faults) -> Unstated:
    """Read how conditions and doubts are taken that a study does not state."""
    stated = content.get("unstated", WAYS[0])
    for way in WAYS:
        if stated == way:
            return way
    problem = f'should be "{WAYS[0]}" or "{WAYS[1]}"; {nearest(str(stated), WAYS)}'
    faults.add(("unstated",), f"found {echo(stated)}; {problem}")
    return WAYS[0]


def table_as_declared(quantity: Quantity) -> InputTable | None:
    """The table that a model declares of a condition or a doubt; None where it declares none."""
    if decided(quantity) or not quantity.spread:
        return None
    return InputTable.model_validate(
        {**dict(quantity.spread), "kind": quantity.kind, "basis": DECLARED}
    )


def held_at_default(quantity: Quantity) -> Input:
    """An input that is not stated, at its model's default."""
    assert quantity.default is not None
    return Input(
        name=quantity.name,
        unit=quantity.unit,
        meaning=quantity.meaning,
        nominal=quantity.default,
        kind=quantity.kind or "build",
        read_as=quantity.read_as,
        given=False,
    )


def with_borrowed(
    inputs: Iterable[Input], drawn: frozenset[str], needs: Mapping[str, str]
) -> tuple[Input, ...]:
    """Mark the dimensions that are a model's own and no builder's.

    Parameters
    ----------
    inputs : iterable of Input
        As resolved.
    drawn : frozenset of str
        Names of those whose nominal the study states.
    needs : mapping of name to name
        What means nothing while another is nought.
    """
    inputs = tuple(inputs)
    absent = {item.name for item in inputs if item.nominal == 0.0 and item.spread is None}

    def borrowed(item: Input) -> bool:
        undrawn = item.kind == "build" and item.name not in drawn and item.nominal != 0.0
        return undrawn and needs.get(item.name) not in absent

    return tuple(replace(item, borrowed=True) if borrowed(item) else item for item in inputs)
