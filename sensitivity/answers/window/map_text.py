"""The map of two settings as plain text: so close that it is read on a terminal of 80 columns."""

from __future__ import annotations

from collections.abc import Sequence

from sensitivity.answers.window.find_map import WindowMap
from sensitivity.answers.window.settings import EndBy
from sensitivity.answers.window.tables import in_figures, map_row, map_title
from sensitivity.presentation import wording

WIDTH = 78
"""Letters of a line."""

ENDS: dict[EndBy, str] = {
    "physics": "beyond it is physically impossible",
    "study": "the end of the range that the study states",
    "call": "as far as was asked for",
    "search": "as far as was searched",
}


def map_lines(found: WindowMap) -> str:
    """Write the map with its title: the input of fewer settings across.

    Where its settings are too many for the width, as many are left out, evenly, as it takes; those
    that the answer names stay.
    """
    turned = len(found.second) > len(found.first)
    table = [map_row(found, i) for i in range(len(found.first))]
    down, across = in_figures(found, 0), in_figures(found, 1)
    place = found.chosen or found.best
    if turned:
        table = [list(row) for row in zip(*table, strict=True)]
        down, across, place = across, down, (place[1], place[0])
    left = max(map(len, down))
    wide = 1 + max(len(text) for text in (*across, *(cell for row in table for cell in row)))
    columns = _that_fit(len(across), (WIDTH - left - 1) // wide, place[1])

    def line(head: str, cells: Sequence[str]) -> str:
        return f"{head:>{left}} " + "".join(f"{_aligned(cells[c]):>{wide}}" for c in columns)

    left_out = len(across) - len(columns)
    unit = found.said.of(found.items[0 if turned else 1].name).unit
    title = f"{map_title(found, turned=turned)} across{f', {unit}' if unit else ''}"
    if left_out:
        title += f" ({left_out} settings between are in tables/window.csv)"
    rule = "─" * (left + 1 + wide * len(columns))
    rows = (line(head, row) for head, row in zip(down, table, strict=True))
    return "\n".join([*_folded(title), line("", across), rule, *rows])


def _aligned(cell: str) -> str:
    """Keep the figures of a column under each other, marked or not."""
    return cell if cell.endswith(("*", "!")) else f"{cell} "


def _that_fit(count: int, most: int, kept: int) -> range:
    """Pick evenly of so many columns no more than fit, one of them among these."""
    stride = -(-count // max(most, 1))
    return range(kept % stride, count, stride)


def _folded(title: str) -> list[str]:
    import textwrap

    return textwrap.wrap(title, WIDTH)


def edges_in_words(found: WindowMap) -> list[str]:
    """Say of each input what the edges of the map are."""
    told = []
    for which, (item, ends) in enumerate(zip(found.items, found.ends, strict=True)):
        figures = in_figures(found, which)
        unit = found.said.of(item.name).unit
        low, high = (wording.with_unit(figures[place], unit) for place in (0, -1))
        name = wording.in_words(item.name)
        if ends[0] == ends[1]:
            told.append(f"Edges of {name}: {low} and {high}, {ENDS[ends[0]]}.")
        else:
            told.append(f"Edges of {name}: {low}, {ENDS[ends[0]]}; {high}, {ENDS[ends[1]]}.")
    return told
