"""Marks of a labelled view as SVG: dimension lines, leaders, numbers in circles, plain words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import escape
from numpy.typing import NDArray

from sensitivity.presentation.elevation import HEAD, HEAD_HALF, TAIL, arrows_svg
from sensitivity.presentation.figure_style import INK, NEUTRAL
from sensitivity.presentation.labels import Placed

Floats = NDArray[np.float64]
Box = tuple[float, float, float, float]
"""Left, top, right, bottom in px."""

FONT, SMALL, BALLOON, LINE = 11.0, 9.5, 7.5, 17.0
"""Size of text; of plain words; radius of a number's circle; height of a label."""

_WIDTH = 0.66
_WIDTHS = {" ": 0.33, "/": 0.36, ".": 0.33, ",": 0.33, "i": 0.3, "l": 0.3, "t": 0.42, "m": 1.0}
"""Widths of characters over the size of the text, as in a wide font (DejaVu Sans), or wider."""

BLANK = 30.0
"""Length of the line to write a dimension on."""


@dataclass(frozen=True, slots=True)
class Named:
    """One quantity to label: its sketch number, its value as text, and what it is in words.

    A ``value`` of nothing leaves a line to write on.
    """

    name: str
    number: int
    value: str
    words: str

    @property
    def width(self) -> float:
        """Of its label, px."""
        text = FONT * sum(_WIDTHS.get(character, _WIDTH) for character in self.value)
        return 2.0 * BALLOON + 6.0 + (text if self.value else BLANK)


@dataclass(frozen=True, slots=True)
class Beyond:
    """A dimension beyond the drawing: its ends along the line, where it lies, and its label."""

    ends: tuple[float, float]
    feet: tuple[float, float]
    at: float
    upright: bool
    label: Box
    named: Named


def _group(named: Named, content: str, prefix: str) -> str:
    title = escape(f"{named.number} {named.words}")
    return (
        f'<g class="dimension" id="{escape(prefix + named.name)}" '
        f'data-input="{escape(named.name)}" data-number="{named.number}">'
        f"<title>{title}</title>{content}</g>"
    )


def beyond_svg(each: Beyond, prefix: str) -> str:
    """A dimension beyond the drawing: extension lines, its line with arrows, its label."""
    low, high = each.ends
    past = 3.0
    lines = []
    for place, foot in zip(each.ends, each.feet, strict=True):
        way = 1.0 if each.at >= foot else -1.0
        start, end = foot + 2.0 * way, each.at + past * way
        lines.append(_path(each, [(place, start), (place, end)], 0.5))
    room = high - low
    if room >= 2.0 * HEAD + 4.0:
        lines.append(_path(each, [(low, each.at), (high, each.at)], 0.8))
        heads = ((low, 1.0), (high, -1.0))
    else:
        lines.append(_path(each, [(low - TAIL, each.at), (high + TAIL, each.at)], 0.8))
        heads = ((low, -1.0), (high, 1.0))
    for place, way in heads:
        corners = [
            (place, each.at),
            (place + way * HEAD, each.at - HEAD_HALF),
            (place + way * HEAD, each.at + HEAD_HALF),
        ]
        lines.append(f'<path d="{_d(each, corners)}Z" fill="{INK}"/>')
    return _group(each.named, "".join(lines) + _quantity_svg(each.named, each.label), prefix)


def _d(each: Beyond, points: Sequence[tuple[float, float]]) -> str:
    turned = [(y, x) if each.upright else (x, y) for x, y in points]
    return "M" + " ".join(f"{x:.1f} {y:.1f}" for x, y in turned)


def _path(each: Beyond, points: Sequence[tuple[float, float]], width: float) -> str:
    return f'<path d="{_d(each, points)}" stroke="{INK}" stroke-width="{width:g}" fill="none"/>'


def _quantity_svg(named: Named, box: Box) -> str:
    """A number in its circle, and the value behind it or a line to write it on."""
    left, top, right, bottom = box
    x, y = left + BALLOON, 0.5 * (top + bottom)
    text = left + 2.0 * BALLOON + 3.0
    value = (
        f'<text x="{text:.1f}" y="{y + 0.36 * FONT:.1f}" font-size="{FONT:g}">'
        f"{escape(named.value)}</text>"
        if named.value
        else f'<path d="M{text:.1f} {y + 5:.1f}h{BLANK - 2:g}" stroke="{NEUTRAL}" '
        'stroke-width="0.8" fill="none"/>'
    )
    return (
        f'<rect x="{left - 1:.1f}" y="{y - 8:.1f}" width="{right - left + 2:.1f}" height="16" '
        f'fill="#ffffff" fill-opacity="0.85"/><circle cx="{x:.1f}" cy="{y:.1f}" r="{BALLOON:g}" '
        f'fill="#ffffff" stroke="{INK}" stroke-width="0.9"/><text x="{x:.1f}" y="{y + 3.3:.1f}" '
        f'font-size="9.5" text-anchor="middle">{named.number}</text>{value}'
    )


def placed_svg(there: Sequence[Named], ends: Floats | None, place: Placed, prefix: str) -> str:
    """A dimension in the drawing, or a leader; each of its quantities a line of the label."""
    (x, y), end = place.leader
    right = place.left + max(named.width for named in there)  # its box may be wider than it is
    start = (min(x, right), y)
    line = (
        f'<path d="M{start[0]:.1f} {start[1]:.1f} {end[0]:.1f} {end[1]:.1f}" stroke="{INK}" '
        f'stroke-width="0.6" fill="none"/>'
    )
    if ends is None:
        line += f'<circle cx="{end[0]:.1f}" cy="{end[1]:.1f}" r="1.8" fill="{INK}"/>'
    else:
        line += arrows_svg(ends)
    tall = (place.bottom - place.top) / len(there)
    found = []
    for row, named in enumerate(there):
        top = place.top + row * tall
        box = (place.left, top, place.left + named.width, top + tall)
        found.append(_group(named, (line if row == 0 else "") + _quantity_svg(named, box), prefix))
    return "".join(found)


def words_svg(place: Placed) -> str:
    """Plain words, with a leader where they stand away from what they name."""
    label = place.label
    leader = ""
    (x1, y1), (x2, y2) = place.leader
    if np.hypot(x2 - x1, y2 - y1) > 12.0:
        leader = (
            f'<path d="M{x1:.1f} {y1:.1f} {x2:.1f} {y2:.1f}" stroke="{NEUTRAL}" '
            'stroke-width="0.6" fill="none"/>'
        )
    x, y = 0.5 * (place.left + place.right), place.top + label.font_size
    return (
        f'{leader}<text x="{x:.1f}" y="{y:.1f}" font-size="{label.font_size:g}" '
        f'text-anchor="middle" fill="#555b63" font-style="italic">{escape(label.lines[0])}</text>'
    )
