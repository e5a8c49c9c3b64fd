"""The workshop's entries in words: how far each strays, in the units that are said."""

from __future__ import annotations

import re

from sensitivity.presentation.units_said import Said
from sensitivity.spreads.shape_words import shape_in_words
from sensitivity.spreads.workshop import WorkshopEntry, deviation_in_words


def strays(entry: WorkshopEntry, said: Said) -> str:
    """Write how far an entry strays, a length in thou where inches are said."""
    manner = said.difference_of_unit(entry.unit)
    if entry.relative or manner.factor == 1.0:
        return deviation_in_words(entry)
    low, high = manner.rough(entry.low), manner.rough(entry.high)
    ends = f"± {high}" if entry.low == -entry.high else f"{low.rpartition(' ')[0] or 0} to {high}"
    return f"{ends}, {shape_in_words(entry.shape)}"


_SIZES = re.compile(r"(\d+(?:\.\d+)?)(?: to (\d+(?:\.\d+)?))? mm\b")


def sizes_too(text: str, said: Said) -> str:
    """Put behind the millimetres of a text what they are in inches, where inches are said."""
    manner = said.of_unit("mm")
    if manner.factor == 1.0:
        return text

    def both(found: re.Match[str]) -> str:
        ends = [manner.rough(float(end)) for end in found.groups() if end]
        ends[:-1] = [end.rpartition(" ")[0] for end in ends[:-1]]
        return f"{found[0]} ({' to '.join(ends)})"

    return _SIZES.sub(both, text)
