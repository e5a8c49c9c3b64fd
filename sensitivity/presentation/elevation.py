"""One elevation to scale, as SVG text: shapes by their roles, spread as shading, labels clear.

Shapes are whatever has the fields of its kind, and its class's name tells the kind: ``Line`` and
``Area`` (points, role), ``Circle`` (centre, radius, role), ``Text`` (at, words, name) and
``Dimension`` (start, end, name). Their points are in mm, heights upward.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from markupsafe import escape
from numpy.typing import NDArray

from sensitivity.presentation.figure_style import BAD, GOOD, INK, NEUTRAL
from sensitivity.presentation.labels import Label, Placed, place_labels

Floats = NDArray[np.float64]
Says = Callable[[str], tuple[str, ...]]
"""Writes the quantity of a name in words, and its value; nothing for a name that is none."""


class Style(NamedTuple):
    """How a role looks; ``shade`` is the opacity of one part among many, 0 for none."""

    stroke: str = INK
    width: float = 1.3
    fill: str = "none"
    dash: str = ""
    opacity: float = 1.0
    shade: float = 0.10
    arrow: bool = False


PLAIN = Style()
STYLES = {
    "part": Style(fill="#e6e9ed", shade=0.06),
    "sketch": Style(stroke=NEUTRAL, width=1.0, dash="3 2", shade=0.0),
    "pipe": Style(stroke="#7a4a26", width=1.0, fill="#e7c3a4", shade=0.035),
    "liquid": Style(stroke="none", fill="#8fc7ea", opacity=0.75, shade=0.0),
    "level band": Style(stroke="none", fill="#8fc7ea", opacity=0.35, shade=0.0),
    "level high": Style(stroke=GOOD, width=1.6, shade=0.12),
    "level low": Style(stroke="#00724f", width=1.6, dash="6 3", shade=0.12),
    "high limit": Style(stroke=BAD, width=1.8, shade=0.12),
    "low limit": Style(stroke="#946c00", width=1.8, shade=0.12),
    "obstacle": Style(fill="#b4b9c1", shade=0.03),
    "hot gas": Style(stroke="#b8720a", width=1.6, shade=0.0, arrow=True),
    "hot plate": Style(stroke=BAD, fill=BAD, width=0.8, shade=0.05),
    "air": Style(stroke=GOOD, width=1.6, shade=0.0, arrow=True),
    "trapped air": Style(fill="#ffffff", opacity=0.85, shade=0.05),
}

SKETCHED = ("Line", "Area", "Circle")
FIELDS = {
    "Line": ("points", "role"),
    "Area": ("points", "role"),
    "Circle": ("centre", "radius", "role"),
    "Text": ("at", "words", "name"),
    "Dimension": ("start", "end", "name"),
    "Leader": ("at", "names"),
    "Again": ("name", "share", "words"),
    "Detail": ("low", "high", "words"),
}
"""The kinds of shape, wishes among them, and the fields of each."""

_IN_MM = {"points": 2, "centre": 2, "radius": 1, "at": 2, "start": 2, "end": 2, "low": 2, "high": 2}
_ARROW = 7.0

HEAD, HEAD_HALF, TAIL = 6.0, 2.2, 9.0
"""Length and half width of an arrowhead; what is drawn of an arrow that comes from outside; px."""


@dataclass(frozen=True)
class View:
    """What one elevation shows: a window (low, high) in mm, drawn at a place and a scale in px.

    ``frame`` is left, top, right, bottom; the window's middle stands in the frame's.
    """

    low: tuple[float, float]
    high: tuple[float, float]
    frame: tuple[float, float, float, float]
    scale: float

    def place(self, points: Any) -> Floats:
        """Turn points (m, 2) in mm into px."""
        array = np.asarray(points, dtype=np.float64).reshape(-1, 2)
        left, top, right, bottom = self.frame
        middle = 0.5 * (np.asarray(self.low) + np.asarray(self.high))
        return np.asarray(
            [0.5 * (left + right), 0.5 * (top + bottom)]
            + (array - middle) * [self.scale, -self.scale]
        )

    def meets(self, shape: Any) -> bool:
        """Tell whether some of a shape can be seen in the window."""
        return self.shows(points_of(shape))

    def shows(self, points: Floats) -> bool:
        """Tell whether some of what lies about points (m, 2) in mm can be seen in the window."""
        (right, top), (left, bottom) = points.max(axis=0).tolist(), points.min(axis=0).tolist()
        return bool(
            right >= self.low[0]
            and top >= self.low[1]
            and left <= self.high[0]
            and bottom <= self.high[1]
        )

    def holds(self, point: tuple[float, float]) -> bool:
        """Tell whether a point in mm lies in the window."""
        return all(
            low <= end <= high for low, end, high in zip(self.low, point, self.high, strict=True)
        )


def kind_of(shape: Any) -> str:
    """Kind of a shape, by the name of its class."""
    return type(shape).__name__


def fault_of(shape: Any) -> str:
    """Say what is wrong with a shape; empty where nothing is."""
    kind = kind_of(shape)
    if kind not in FIELDS:
        return f"a {kind}; the shapes are {', '.join(FIELDS)}"
    a = f"{'an' if kind[0] == 'A' else 'a'} {kind}"
    missing = [field for field in FIELDS[kind] if not hasattr(shape, field)]
    if missing:
        return f"{a} without {' and '.join(missing)}"
    try:
        for field in FIELDS[kind]:
            if field in _IN_MM:
                np.asarray(getattr(shape, field), dtype=np.float64).reshape(-1, _IN_MM[field])
    except (TypeError, ValueError):
        return f"{a} whose {field} is not in numbers of mm"
    return ""


def points_of(shape: Any) -> Floats:
    """Points (m, 2) in mm that a shape is made of; those about a circle for a circle."""
    if kind_of(shape) == "Circle":
        turns = np.linspace(0.0, 2.0 * np.pi, 25)
        ring = np.stack([np.cos(turns), np.sin(turns)], axis=1)
        return np.asarray(shape.centre) + float(shape.radius) * ring
    points = np.asarray(shape.points, dtype=np.float64).reshape(-1, 2)
    return np.concatenate([points, points[:1]]) if kind_of(shape) == "Area" else points


def style_of(shape: Any) -> Style:
    """How a shape looks, by its role; a line is never filled."""
    style = STYLES.get(shape.role, PLAIN)
    return style._replace(fill="none") if kind_of(shape) == "Line" else style


def elevation_svg(
    shapes: Sequence[Any],
    built: Sequence[Sequence[Any]],
    view: View,
    says: Says,
    labelled: Callable[[Any], bool] = lambda shape: True,
) -> str:
    """Write one elevation: shading first, then the design, then the labels that are wanted."""
    solid = [shape for shape in shapes if kind_of(shape) in SKETCHED and view.meets(shape)]
    parts = [_shading(shapes, built, view)]
    parts += [_shape_svg(shape, view) for shape in solid]
    paths = [view.place(points_of(shape)) for shape in solid]
    labels = []
    for shape in shapes:
        if kind_of(shape) == "Dimension" and view.holds(_middle(shape)) and labelled(shape):
            ends = view.place([shape.start, shape.end])
            parts.append(arrows_svg(ends))
            paths.append(ends)
            labels.append(Label(_pair(ends.mean(axis=0)), says(shape.name) or (shape.name,)))
    for shape in shapes:
        if kind_of(shape) == "Text" and view.holds(shape.at) and labelled(shape):
            lines = (shape.words, " ".join(says(shape.name)) if shape.name else "")
            labels.append(
                Label(_pair(view.place(shape.at)[0]), tuple(line for line in lines if line))
            )
    finite = [label for label in labels if np.isfinite(label.anchor).all()]
    parts += [_label_svg(placed) for placed in place_labels(finite, paths, view.frame)]
    return "".join(parts)


def shapes_svg(shapes: Sequence[Any], view: View) -> str:
    """Draw a design alone: no shading, no labels."""
    return "".join(
        _shape_svg(shape, view)
        for shape in shapes
        if kind_of(shape) in SKETCHED and view.meets(shape)
    )


def _middle(shape: Any) -> tuple[float, float]:
    return 0.5 * (shape.start[0] + shape.end[0]), 0.5 * (shape.start[1] + shape.end[1])


def _pair(point: Floats) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _shading(shapes: Sequence[Any], built: Sequence[Sequence[Any]], view: View) -> str:
    """Draw what differs between those as built once for each, so faintly that they shade."""
    alike = [other for other in built if [*map(kind_of, other)] == [*map(kind_of, shapes)]]
    parts = []
    for place, shape in enumerate(shapes):
        if kind_of(shape) not in SKETCHED or style_of(shape).shade == 0.0:
            continue
        others = [other[place] for other in alike]
        if all(other == shape for other in others):
            continue
        style = style_of(shape)
        paths = "".join(
            f"<{outline}/>" for outline in (_outline(o, view) for o in others) if outline
        )
        fill = style.fill
        stroke = "none" if fill != "none" else style.stroke
        parts.append(
            f'<g fill="{fill}" stroke="{stroke}" stroke-width="{style.width:g}" '
            f'opacity="1" fill-opacity="{style.shade:g}" stroke-opacity="{style.shade:g}">'
            f"{paths}</g>"
        )
    return "".join(parts)


def _outline(shape: Any, view: View) -> str:
    """Write the element that a shape is; empty where it is out of view or has no place."""
    points = points_of(shape)
    if not view.shows(points):  # nor is it where a point is no number
        return ""
    if kind_of(shape) == "Circle":
        ((x, y),) = view.place(shape.centre)
        radius = _number(shape.radius * view.scale)
        return f'circle cx="{_number(x)}" cy="{_number(y)}" r="{radius}"'
    closed = kind_of(shape) == "Area"
    placed = view.place(points[:-1] if closed else points)
    return f'path d="M{_numbers(placed)}{"Z" if closed else ""}"'


def _number(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _numbers(points: Floats) -> str:
    """Write points (m, 2) as ``_number`` does, all in one go."""
    return ("%.1f " * points.size % tuple(points.ravel().tolist())).replace(".0 ", " ")[:-1]


def _shape_svg(shape: Any, view: View) -> str:
    outline, style = _outline(shape, view), style_of(shape)
    if not outline:
        return ""
    dash = f' stroke-dasharray="{style.dash}"' if style.dash else ""
    opacity = f' opacity="{style.opacity:g}"' if style.opacity < 1.0 else ""
    text = (
        f'<{outline} fill="{style.fill}" stroke="{style.stroke}" '
        f'stroke-width="{style.width:g}"{dash}{opacity}/>'
    )
    return text + (_arrow_svg(view.place(points_of(shape)), style.stroke) if style.arrow else "")


def _arrow_svg(points: Floats, colour: str) -> str:
    way = points[-1] - points[-2]
    way = way / max(float(np.hypot(*way)), 1e-9)
    across = np.array([-way[1], way[0]])
    corners = (points[-1], *(points[-1] - _ARROW * way + side * across for side in (-3.0, 3.0)))
    text = " ".join(f"{_number(x)} {_number(y)}" for x, y in corners)
    return f'<path d="M{text}Z" fill="{colour}"/>'


def arrows_svg(ends: Floats) -> str:
    """A line between two points with an arrowhead at each, from outside where it is short."""
    if not np.isfinite(ends).all():
        return ""
    way = ends[1] - ends[0]
    length = float(np.hypot(*way))
    way = way / length if length > 1e-9 else np.array([1.0, 0.0])
    across = np.array([-way[1], way[0]])
    inner = length >= 2.0 * HEAD + 4.0
    tail = np.zeros(2) if inner else TAIL * way
    (x1, y1), (x2, y2) = ends[0] - tail, ends[1] + tail
    parts = [
        f'<path d="M{x1:.1f} {y1:.1f} {x2:.1f} {y2:.1f}" stroke="{INK}" stroke-width="0.9" '
        'fill="none"/>'
    ]
    for point, sign in ((ends[0], 1.0), (ends[1], -1.0)):
        back = (sign if inner else -sign) * HEAD * way
        corners = (point, *(point + back + side * HEAD_HALF * across for side in (-1.0, 1.0)))
        text = " ".join(f"{x:.1f} {y:.1f}" for x, y in corners)
        parts.append(f'<path d="M{text}Z" fill="{INK}"/>')
    return "".join(parts)


def _label_svg(placed: Placed) -> str:
    label, (start, end) = placed.label, placed.leader
    size = label.font_size
    leader = ""
    if np.hypot(end[0] - start[0], end[1] - start[1]) > 9.0:
        leader = (
            f'<path d="M{_number(start[0])} {_number(start[1])} '
            f'{_number(end[0])} {_number(end[1])}" stroke="{INK}" stroke-width="0.6" fill="none"/>'
            f'<circle cx="{_number(end[0])}" cy="{_number(end[1])}" r="1.5" fill="{INK}"/>'
        )
    # Text grows towards its leader, so that a font narrower than allowed for leaves no gap.
    anchor, x = "middle", 0.5 * (placed.left + placed.right)
    if label.anchor[0] <= placed.left:
        anchor, x = "start", placed.left
    elif label.anchor[0] >= placed.right:
        anchor, x = "end", placed.right
    lines = "".join(
        f'<tspan x="{_number(x)}" y="{_number(placed.top + size * (0.95 + 1.25 * row))}">'
        f"{escape(line)}</tspan>"
        for row, line in enumerate(label.lines)
    )
    return (
        f'{leader}<text font-size="{size:g}" text-anchor="{anchor}" stroke="#ffffff" '
        f'stroke-width="3" stroke-opacity="0.8" stroke-linejoin="round" paint-order="stroke">'
        f"{lines}</text>"
    )
