"""One input of several models: what each says of it, joined."""

from __future__ import annotations

from dataclasses import replace
from typing import TypeVar

from sensitivity.errors import WiringError
from sensitivity.system.catalogue import Model, Quantity
from sensitivity.system.remarks import PhysicalRange

Said = TypeVar("Said", bound=str)


def shared_input(known: Quantity, argument: Quantity, model: Model) -> Quantity:
    """Join what a further model says of an input with what is known of it.

    Parameters
    ----------
    known : Quantity
        The input, as the models before this one leave it.
    argument : Quantity
        The argument of this model that takes it.
    model : Model
        For the message.

    Returns
    -------
    Quantity
        Within the ranges of both. Kind and reading are of whichever states them; the spread, which
        only a new study takes up, is the first that is stated.

    Raises
    ------
    WiringError
        Where two models call it by different kinds, or have it read differently: advice and
        instruments go by these.
    """
    return replace(
        known,
        range=_narrowed(known, argument),
        kind=_agreed("kind", known.kind, argument.kind, argument, model),
        read_as=_agreed("reading", known.read_as, argument.read_as, argument, model),
        spread=known.spread or argument.spread,
    )


def _agreed(
    what: str, known: Said | None, further: Said | None, argument: Quantity, model: Model
) -> Said | None:
    if known is not None and further is not None and known != further:
        raise WiringError(
            f'"{argument.name}" is one input of several models, and they part over its {what}: '
            f'"{known}" before, "{further}" in "{model.name}" ({model.place}); '
            "let them say the same, or give it another name in one"
        )
    return known if known is not None else further


def _narrowed(known: Quantity, argument: Quantity) -> PhysicalRange:
    """Keep a shared input within the ranges of all the models that take it."""
    if not argument.range.stated or argument.range == known.range or known.unit != argument.unit:
        return known.range
    if not known.range.stated:
        return argument.range
    one, other = known.range, argument.range
    low = max(one, other, key=lambda bounds: (bounds.low, bounds.open_low))
    high = min(one, other, key=lambda bounds: (bounds.high, not bounds.open_high))
    return PhysicalRange(
        f"{one.stated} and {other.stated}", low.low, high.high, low.open_low, high.open_high
    )
