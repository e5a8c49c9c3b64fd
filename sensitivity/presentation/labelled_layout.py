"""One labelled view in px: dimensions with extension lines, arrows and numbers in circles.

Dimensions beyond the drawing are packed in rows above and below it and in columns beside it;
what stands in the drawing, and leaders, take a free place near what they name.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from markupsafe import escape
from numpy.typing import NDArray

from sensitivity.presentation.elevation import (
    HEAD,
    HEAD_HALF,
    SKETCHED,
    TAIL,
    View,
    arrows_svg,
    kind_of,
    points_of,
    shapes_svg,
)
from sensitivity.presentation.figure_style import INK, NEUTRAL
from sensitivity.presentation.labels import Label, place_labels

Floats = NDArray[np.float64]
Box = tuple[float, float, float, float]
"""Left, top, right, bottom in px."""

WIDTH = 360.0
"""Of one view, px: the width of a phone, so that its text is read there and grows elsewhere."""

FONT, SMALL, BALLOON, LINE, CHARACTER = 11.0, 9.5, 7.5, 17.0, 0.66
"""Size of text; of plain words; radius of a number's circle; height of a label; width over size."""

BLANK = 30.0
"""Length of the line to write a dimension on."""

ROW, CLEAR, BAND, TALLEST, PAD = 19.0, 5.0, 17.0, 190.0, 6.0
"""Of rows of dimensions, gaps, a row of leaders' labels, the highest drawing, and the edge; px."""


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
        return 2.0 * BALLOON + 4.0 + (CHARACTER * FONT * len(self.value) if self.value else BLANK)


@dataclass(frozen=True, slots=True)
class Beyond:
    """A dimension beyond the drawing: its ends along the line, where it lies, and its label."""

    ends: tuple[float, float]
    feet: tuple[float, float]
    at: float
    upright: bool
    label: Box
    named: Named


def view_svg(
    shapes: Sequence[Any], named: Mapping[str, Named], prefix: str, *, clip: str
) -> tuple[str, float]:
    """Draw one view; return its SVG elements and its height in px.

    Parameters
    ----------
    shapes : sequence of shapes
        As a labelled view gives them; a ``Detail`` among them is the window to show.
    named : mapping of name to Named
        The quantities to label; others are left out.
    prefix : str
        Of the dimensions' ids, for pages with several drawings.
    clip : str
        Before the id of this view's window.
    """
    low, high = _window(shapes)
    sides = _sides(shapes, named, (low, high))
    leaders = [_known(shape, named) for shape in shapes if kind_of(shape) == "Leader"]
    inside = [s for s in shapes if kind_of(s) == "Dimension" and not s.side and s.name in named]
    stacked = sum(len(names) for names in leaders) + len(inside)
    left, right = (PAD + 10.0 + sum(w for w, _ in sides[side]) for side in ("left", "right"))
    width, height = high[0] - low[0], high[1] - low[1]
    scale = min((WIDTH - left - right - 24.0) / width, TALLEST / height)
    band = BAND * (1.0 + np.ceil(stacked / 5.0))
    rows_above, rows_below = (_rows(sides[side], scale, low[0]) for side in ("above", "below"))
    top = PAD + band + ROW * rows_above
    drawn = (WIDTH - left - right - scale * width) / 2.0
    frame = (left + drawn, top, left + drawn + scale * width, top + scale * height)
    bottom = frame[3] + ROW * rows_below + band + PAD
    view = View(low, high, frame, scale)
    beyond = _beyond(shapes, named, view, sides)
    return _drawn(shapes, named, view, beyond, (0.0, 0.0, WIDTH, bottom), (prefix, clip)), bottom


def _known(shape: Any, named: Mapping[str, Named]) -> list[Named]:
    return [named[name] for name in shape.names if name in named]


def _window(shapes: Sequence[Any]) -> tuple[tuple[float, float], tuple[float, float]]:
    """What of the plane is shown, in mm."""
    for shape in shapes:
        if kind_of(shape) == "Detail":
            return tuple(shape.low), tuple(shape.high)
    points = np.concatenate([points_of(s) for s in shapes if kind_of(s) in SKETCHED])
    points = points[np.isfinite(points).all(axis=1)]
    low, high = points.min(axis=0), points.max(axis=0)
    high = np.maximum(high, low + 1e-6)
    return (float(low[0]), float(low[1])), (float(high[0]), float(high[1]))


Sides = Mapping[str, list[tuple[float, Any]]]
"""By side, the dimensions beyond it, each with the width of its column in px."""


def _sides(shapes: Sequence[Any], named: Mapping[str, Named], window: Any) -> Sides:
    """Sort dimensions by side, the shortest next to the drawing."""
    found: dict[str, list[tuple[float, Any]]] = {"left": [], "right": [], "above": [], "below": []}
    for shape in shapes:
        if kind_of(shape) != "Dimension" or not shape.side or shape.name not in named:
            continue
        if not np.isfinite([*shape.start, *shape.end]).all():
            continue
        found[shape.side].append((named[shape.name].width + 12.0, shape))
    for side, shapes_there in found.items():
        axis = 1 if side in ("left", "right") else 0
        shapes_there.sort(key=lambda pair: abs(pair[1].end[axis] - pair[1].start[axis]))
    return found


def _rows(there: list[tuple[float, Any]], scale: float, origin: float) -> int:
    return 1 + max(_packed(there, scale, origin), default=-1)


def _packed(there: list[tuple[float, Any]], scale: float, origin: float) -> list[int]:
    """Row of each dimension above or below: the first in which it and its label are free."""
    taken: list[list[tuple[float, float]]] = []
    rows = []
    for width, shape in there:
        ends = sorted(scale * (x - origin) for x in (shape.start[0], shape.end[0]))
        low, high = _span(ends, width)
        free = (
            row
            for row, spans in enumerate(taken)
            if all(high < start or low > end for start, end in spans)
        )
        row = next(free, len(taken))
        taken += [[]] if row == len(taken) else []
        taken[row].append((low, high))
        rows.append(row)
    return rows


def _span(ends: Sequence[float], width: float) -> tuple[float, float]:
    """From where to where a dimension line and its label reach, px."""
    low, high = ends
    if high - low >= width + 2.0 * HEAD:
        return low, high
    return low - TAIL, high + TAIL + width


def _beyond(
    shapes: Sequence[Any], named: Mapping[str, Named], view: View, sides: Sides
) -> list[Beyond]:
    found = []
    left, top, right, bottom = view.frame
    for side, there in sides.items():
        if side in ("left", "right"):
            way = -1.0 if side == "left" else 1.0
            at = (left if side == "left" else right) + way * 10.0
            for width, shape in there:
                feet = view.place([shape.start, shape.end])
                found.append(_upright(feet, at, way, named[shape.name]))
                at += way * width
            continue
        rows = _packed(there, view.scale, view.low[0])
        for (width, shape), row in zip(there, rows, strict=True):
            feet = view.place([shape.start, shape.end])
            away = CLEAR + 9.0 + ROW * row
            at = top - away if side == "above" else bottom + away
            found.append(_level(feet, at, width, named[shape.name]))
    return found


def _upright(feet: Floats, at: float, way: float, named: Named) -> Beyond:
    """A dimension line that stands beside the drawing, its label beyond it."""
    ends = sorted(feet[:, 1].tolist())
    order = np.argsort(feet[:, 1])
    middle = 0.5 * (ends[0] + ends[1])
    near = at + way * 4.0
    x = near if way > 0.0 else near - named.width
    box = (x, middle - 0.5 * LINE, x + named.width, middle + 0.5 * LINE)
    return Beyond(
        (ends[0], ends[1]),
        (float(feet[order[0], 0]), float(feet[order[1], 0])),
        at,
        True,
        box,
        named,
    )


def _level(feet: Floats, at: float, width: float, named: Named) -> Beyond:
    """A dimension line above or below the drawing, its label on it or at its right."""
    ends = sorted(feet[:, 0].tolist())
    order = np.argsort(feet[:, 0])
    fits = ends[1] - ends[0] >= width + 2.0 * HEAD
    x = 0.5 * (ends[0] + ends[1] - named.width) if fits else ends[1] + TAIL + 2.0
    if x + named.width > WIDTH - 2.0:
        x = ends[0] - TAIL - 2.0 - named.width
    box = (x, at - 0.5 * LINE, x + named.width, at + 0.5 * LINE)
    return Beyond(
        (ends[0], ends[1]),
        (float(feet[order[0], 1]), float(feet[order[1], 1])),
        at,
        False,
        box,
        named,
    )


# --- drawing ------------------------------------------------------------------------------------


def _drawn(
    shapes: Sequence[Any],
    named: Mapping[str, Named],
    view: View,
    beyond: Sequence[Beyond],
    whole: Box,
    ids: tuple[str, str],
) -> str:
    left, top, right, bottom = view.frame
    prefix, clip = ids[0], f"{ids[1]}window"
    parts = [
        f'<clipPath id="{clip}"><rect x="{left - 1:.1f}" y="{top - 1:.1f}" '
        f'width="{right - left + 2:.1f}" height="{bottom - top + 2:.1f}"/></clipPath>',
        f'<g clip-path="url(#{clip})">{shapes_svg(shapes, view)}</g>',
    ]
    paths = [view.place(points_of(s)) for s in shapes if kind_of(s) in SKETCHED and view.meets(s)]
    for each in beyond:
        parts.append(_beyond_svg(each, prefix))
        paths += _beyond_paths(each)
    labels: list[tuple[Label, list[Named], Floats | None]] = []
    for shape in shapes:
        if kind_of(shape) == "Dimension" and not shape.side and shape.name in named:
            ends = view.place([shape.start, shape.end])
            paths.append(ends)
            labels.append(
                (_label(ends.mean(axis=0), [named[shape.name]]), [named[shape.name]], ends)
            )
    for shape in shapes:
        if kind_of(shape) == "Leader" and (there := _known(shape, named)):
            labels.append((_label(view.place(shape.at)[0], there), there, None))
    words = [s for s in shapes if kind_of(s) == "Text" and view.holds(s.at)]
    plain = [Label(_pair(view.place(s.at)[0]), (s.words,), SMALL) for s in words]
    kept = [label for label in labels if np.isfinite(label[0].anchor).all()]
    # Those that crowd are placed first; the words of the drawing take what is left.
    taken = [_full(each.label) for each in beyond]
    placed = place_labels([*(label for label, _, _ in kept), *plain], [*paths, *taken], whole)
    for (_, there, ends), place in zip(kept, placed, strict=False):
        parts.append(_placed_svg(there, ends, place, prefix))
    parts += [_words_svg(place) for place in placed[len(kept) :]]
    return "".join(parts)


def _pair(point: Floats) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _label(at: Floats, there: Sequence[Named]) -> Label:
    """A label as wide and high as its quantities are."""
    characters = int(np.ceil(max(each.width for each in there) / (0.58 * FONT)))
    lines = tuple("x" * characters for _ in there)
    return Label(_pair(at), lines, FONT * LINE / (1.25 * FONT))


def _full(box: Box) -> Floats:
    """Lines that fill a box, so that nothing is placed on it."""
    left, top, right, bottom = box
    rows = np.linspace(top, bottom, 4)
    return np.array([[x, y] for y in rows for x in (left, right)])


def _beyond_paths(each: Beyond) -> list[Floats]:
    (low, high), (first, last), at = each.ends, each.feet, each.at
    pairs = [[(low, at), (high, at)], [(low, first), (low, at)], [(high, last), (high, at)]]
    return [np.array([(y, x) if each.upright else (x, y) for x, y in pair]) for pair in pairs]


def _group(named: Named, content: str, prefix: str) -> str:
    title = escape(f"{named.number} {named.words}")
    return (
        f'<g class="dimension" id="{escape(prefix + named.name)}" '
        f'data-input="{escape(named.name)}" data-number="{named.number}">'
        f"<title>{title}</title>{content}</g>"
    )


def _beyond_svg(each: Beyond, prefix: str) -> str:
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


def _placed_svg(there: Sequence[Named], ends: Floats | None, place: Any, prefix: str) -> str:
    """A dimension in the drawing, or a leader; each of its quantities a line of the label."""
    start, end = place.leader
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


def _words_svg(place: Any) -> str:
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
