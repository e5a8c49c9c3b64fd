"""One labelled view in px: dimensions with extension lines, arrows and numbers in circles.

Dimensions beyond the drawing are packed in rows above and below it and in columns beside it;
what stands in the drawing, and leaders, take a free place near what they name.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sensitivity.presentation.elevation import (
    HEAD,
    SKETCHED,
    TAIL,
    View,
    kind_of,
    points_of,
    shapes_svg,
)
from sensitivity.presentation.labelled_marks import (
    LINE,
    SMALL,
    Beyond,
    Box,
    Named,
    beyond_svg,
    placed_svg,
    words_svg,
)
from sensitivity.presentation.labels import CHARACTER, LINE_HEIGHT, Label, place_labels

Floats = NDArray[np.float64]

WIDTH = 360.0
"""Of one view, px: the width of a phone, so that its text is read there and grows elsewhere."""

ROW, CLEAR, BAND, TALLEST, PAD, GAP = 19.0, 5.0, 17.0, 190.0, 6.0, 12.0
"""Of rows of dimensions, gaps, a row of leaders' labels, the highest drawing, the edge, and what is
kept free beside a dimension's label; px."""


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
    sides = _sides(shapes, named)
    leaders = [_known(shape, named) for shape in shapes if kind_of(shape) == "Leader"]
    inside = [s for s in shapes if kind_of(s) == "Dimension" and not s.side and s.name in named]
    stacked = sum(len(names) for names in leaders) + len(inside)
    left, right = (PAD + 10.0 + sum(w for w, _ in sides[side]) for side in ("left", "right"))
    width, height = high[0] - low[0], high[1] - low[1]
    scale = min((WIDTH - left - right - 24.0) / width, TALLEST / height)
    start = left + (WIDTH - left - right - scale * width) / 2.0
    across = {side: _packed(sides[side], scale, start - scale * low[0]) for side in _STACKED}
    rows_above, rows_below = (1 + max((c.row for c in across[s]), default=-1) for s in _STACKED)
    band = BAND * (1.0 + np.ceil(stacked / 5.0))
    top = PAD + band + ROW * rows_above
    frame = (start, top, start + scale * width, top + scale * height)
    bottom = frame[3] + ROW * rows_below + band + PAD
    view = View(low, high, frame, scale)
    beyond = _beyond(named, view, sides, across)
    elements, (top, bottom) = _drawn(
        shapes, named, view, beyond, (0.0, 0.0, WIDTH, bottom), (prefix, clip)
    )
    return f'<g transform="translate(0 {PAD - top:.1f})">{elements}</g>', bottom - top + 2.0 * PAD


_STACKED = ("above", "below")


class _Across(NamedTuple):
    """Of a dimension above or below: its row from the drawing, and where its label starts, px."""

    row: int
    label: float


def _known(shape: Any, named: Mapping[str, Named]) -> list[Named]:
    there = [named[name] for name in shape.names if name in named]
    return sorted(there, key=lambda each: each.number)


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


def _sides(shapes: Sequence[Any], named: Mapping[str, Named]) -> Sides:
    """Sort dimensions by side, the shortest next to the drawing."""
    found: dict[str, list[tuple[float, Any]]] = {"left": [], "right": [], "above": [], "below": []}
    for shape in shapes:
        if kind_of(shape) != "Dimension" or not shape.side or shape.name not in named:
            continue
        if not np.isfinite([*shape.start, *shape.end]).all():
            continue
        found[shape.side].append((named[shape.name].width + GAP, shape))
    for side, shapes_there in found.items():
        axis = 1 if side in ("left", "right") else 0
        shapes_there.sort(key=lambda pair: abs(pair[1].end[axis] - pair[1].start[axis]))
    return found


def _packed(there: list[tuple[float, Any]], scale: float, origin: float) -> list[_Across]:
    """Row of each dimension above or below: the first in which it and its label are free.

    The label stands on its line where that is long enough, else beside the end that lies farther
    out, where no other dimension is likely to be taken for its own, or where there is the edge at
    the other.
    """
    taken: list[list[tuple[float, float]]] = []
    found = []
    for width, shape in there:
        low, high = sorted(origin + scale * x for x in (shape.start[0], shape.end[0]))
        at_left = low - TAIL + 10.0 - width
        right_is_free = high + TAIL + width <= WIDTH - 2.0
        rightward = low + high >= WIDTH or at_left < 2.0
        if high - low >= width - GAP + 2.0 * HEAD + 2.0:
            label, span = 0.5 * (low + high - width + GAP), (low, high)
        elif right_is_free and rightward:
            label, span = high + TAIL + 2.0, (low - TAIL, high + TAIL + width)
        else:
            label, span = at_left, (at_left - 4.0, high + TAIL)
        free = (
            row
            for row, spans in enumerate(taken)
            if all(span[1] < start or span[0] > end for start, end in spans)
        )
        row = next(free, len(taken))
        taken += [[]] if row == len(taken) else []
        taken[row].append(span)
        found.append(_Across(row, label))
    return found


def _beyond(
    named: Mapping[str, Named], view: View, sides: Sides, across: Mapping[str, list[_Across]]
) -> list[Beyond]:
    found = []
    left, top, right, bottom = view.frame
    for side, edge, way in (("left", left, -1.0), ("right", right, 1.0)):
        at = edge + way * 10.0
        for width, shape in sides[side]:
            feet = view.place([shape.start, shape.end])
            found.append(_upright(feet, at, way, named[shape.name]))
            at += way * width
    for side, edge, way in (("above", top, -1.0), ("below", bottom, 1.0)):
        for (_, shape), place in zip(sides[side], across[side], strict=True):
            feet = view.place([shape.start, shape.end])
            at = edge + way * (CLEAR + 9.0 + ROW * place.row)
            found.append(_level(feet, at, place.label, named[shape.name]))
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


def _level(feet: Floats, at: float, x: float, named: Named) -> Beyond:
    """A dimension line above or below the drawing, its label from x on."""
    ends = sorted(feet[:, 0].tolist())
    order = np.argsort(feet[:, 0])
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
) -> tuple[str, tuple[float, float]]:
    """The elements, and from where to where they reach down the figure."""
    left, top, right, bottom = view.frame
    prefix, clip = ids[0], f"{ids[1]}window"
    parts = [
        f'<clipPath id="{clip}"><rect x="{left - 1:.1f}" y="{top - 1:.1f}" '
        f'width="{right - left + 2:.1f}" height="{bottom - top + 2:.1f}"/></clipPath>',
        f'<g clip-path="url(#{clip})">{shapes_svg(shapes, view)}</g>',
    ]
    paths = [view.place(points_of(s)) for s in shapes if kind_of(s) in SKETCHED and view.meets(s)]
    for each in beyond:
        parts.append(beyond_svg(each, prefix))
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
    lines = [path for each in beyond for path in (*_beyond_paths(each), _through(each.label))]
    placed = place_labels(
        [*(label for label, _, _ in kept), *plain], [*paths, *taken], whole, dimensions=lines
    )
    for (_, there, between), place in zip(kept, placed, strict=False):
        parts.append(placed_svg(there, between, place, prefix))
    parts += [words_svg(place) for place in placed[len(kept) :]]
    reach = [(place.top, place.bottom) for place in placed]
    reach += [(each.label[1], each.label[3]) for each in beyond]
    reach += [each.ends if each.upright else (each.at - 4.0, each.at + 4.0) for each in beyond]
    reach.append((top, bottom))
    return "".join(parts), (min(low for low, _ in reach), max(high for _, high in reach))


def _pair(point: Floats) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _label(at: Floats, there: Sequence[Named]) -> Label:
    """A label as wide and high as its quantities are."""
    size = LINE / LINE_HEIGHT
    characters = int(np.ceil(max(each.width for each in there) / (CHARACTER * size)))
    return Label(_pair(at), tuple("x" * characters for _ in there), size)


def _full(box: Box) -> Floats:
    """Lines that fill a box, so that nothing is placed on it."""
    left, top, right, bottom = box
    rows = np.linspace(top, bottom, 4)
    return np.array([[x, y] for y in rows for x in (left, right)])


def _through(box: Box) -> Floats:
    """The line through the words of a label."""
    left, top, right, bottom = box
    return np.array([(left, 0.5 * (top + bottom)), (right, 0.5 * (top + bottom))])


def _beyond_paths(each: Beyond) -> list[Floats]:
    (low, high), (first, last), at = each.ends, each.feet, each.at
    pairs = [[(low, at), (high, at)], [(low, first), (low, at)], [(high, last), (high, at)]]
    return [np.array([(y, x) if each.upright else (x, y) for x, y in pair]) for pair in pairs]
