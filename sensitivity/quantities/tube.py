"""A tube as the trade states it, outside diameter and wall: ``1/8 in x 22 SWG``."""

from __future__ import annotations

import re
from dataclasses import dataclass

from sensitivity.errors import QuantityError
from sensitivity.quantities.quantity import read_quantity
from sensitivity.quantities.trade_sizes import trade_size

_BETWEEN = re.compile(r"\s*[x×X]\s*")
_OUTSIDE = re.compile(r"\s*\b(?:o\.?d\.?|outside)$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Tube:
    """A tube: outside diameter and wall in mm, and the wall as it is written."""

    outside: float
    wall: float
    wall_written: str

    @property
    def bore(self) -> float:
        """Inside diameter, mm."""
        return round(self.outside - 2.0 * self.wall, 9)


def read_tube(text: str) -> Tube:
    """Read a tube: its outside diameter, ``x``, and its wall.

    Parameters
    ----------
    text : str
        Such as ``"1/8 in x 22 SWG"`` or ``"4 mm x 0.5 mm"``.

    Raises
    ------
    QuantityError
        With what was found and what would be right.
    """
    parts = _BETWEEN.split(text.strip())
    if len(parts) != 2 or not all(parts):
        raise QuantityError(
            f'found "{text[:60]}"; write outside diameter x wall, like "1/8 in x 22 SWG"'
        )
    outside = read_quantity(_OUTSIDE.sub("", parts[0]), "mm")
    wall = read_quantity(parts[1], "mm")
    if not outside > 0.0 or not wall > 0.0:
        raise QuantityError(f'found "{text}"; both are above zero')
    if 2.0 * wall >= outside:
        raise QuantityError(
            f'found "{text}", which leaves no bore; the outside diameter comes first, then the wall'
        )
    return Tube(outside, wall, parts[1])


def is_a_tube(text: str) -> bool:
    """Tell whether a text would be read as a tube."""
    try:
        read_tube(text)
    except QuantityError:
        return False
    return True


def by_name(text: str) -> tuple[str, float] | None:
    """Give the name and the mm of what is bought by a name: a size, or a tube, which has a bore.

    Parameters
    ----------
    text : str
        As written; None for a plain quantity, and for what cannot be read.
    """
    try:
        if (size := trade_size(text)) is not None:
            return size.name, size.millimetres
        return text.strip(), read_tube(text).bore
    except QuantityError:
        return None
