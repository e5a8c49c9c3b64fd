"""Where labels go: near what they name, clear of the lines and of each other.

Plane geometry in the figure's own pixels, y downward. Each label in turn takes the cheapest of
many places around its anchor; a place costs what it covers and how far away it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

CHARACTER, LINE_HEIGHT, CLEAR = 0.58, 1.25, 3.0
"""Mean width of a character and height of a line, in font sizes; pixels kept clear about a label.

Wide enough for the sans-serif fonts of common systems.
"""

DIRECTIONS = np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False)
DISTANCES = np.array([7.0, 12.0, 18.0, 26.0, 36.0, 48.0, 62.0, 80.0, 100.0])
SPACING = 2.5
"""Pixels between the points that stand for a line."""

AT_ONCE = 24
"""Places whose points are counted in one go."""

_OUTSIDE, _ON_A_LABEL, _ON_A_LINE, _LEADER = 1e6, 1e4, 40.0, 400.0
_CROSSES_A_LEADER, _CROSSES_A_DIMENSION, _ASIDE = 300.0, 60.0, 0.15
"""Of a leader that crosses another, or a dimension; and of each pixel off the upright, which
decides between places that are else as good.
"""


@dataclass(frozen=True, slots=True)
class Label:
    """Lines of text to be placed near an anchor."""

    anchor: tuple[float, float]
    lines: tuple[str, ...]
    font_size: float = 11.0

    @property
    def size(self) -> tuple[float, float]:
        """Width and height, as the text will be at most."""
        width = max(len(line) for line in self.lines) * CHARACTER * self.font_size
        return width, len(self.lines) * LINE_HEIGHT * self.font_size


@dataclass(frozen=True, slots=True)
class Placed:
    """A label and the box it has, and where its leader goes from and to."""

    label: Label
    left: float
    top: float
    right: float
    bottom: float

    @property
    def leader(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """From the nearest point of the box to the anchor."""
        x, y = self.label.anchor
        return (min(max(x, self.left), self.right), min(max(y, self.top), self.bottom)), (x, y)


def along(paths: Sequence[Floats]) -> Floats:
    """Points (n, 2) close together along all of the paths (m, 2)."""
    ends = [(path[:-1], path[1:]) for path in paths if len(path) > 1]
    if not ends:
        return np.empty((0, 2))
    start, end = (np.concatenate(each) for each in zip(*ends, strict=True))
    way = end - start
    counts = np.maximum(2, (np.hypot(*way.T) / SPACING).astype(np.intp) + 1)
    behind = np.cumsum(counts)
    line = np.repeat(np.arange(len(way)), counts)
    share = (np.arange(behind[-1]) - (behind - counts)[line]) * (1.0 / (counts - 1))[line]
    share[behind - 1] = 1.0
    found: Floats = start[line] + share[:, None] * way[line]
    return found


def place_labels(
    labels: Sequence[Label],
    paths: Sequence[Floats],
    frame: tuple[float, float, float, float],
    *,
    dimensions: Sequence[Floats] = (),
) -> list[Placed]:
    """Place labels inside a frame (left, top, right, bottom), clear of paths (m, 2).

    Their leaders do not cross, nor do they cross ``dimensions`` (2, 2), if that can be helped.
    """
    points = along(paths)
    placed: list[Placed] = []
    lines = np.array([*dimensions], dtype=float).reshape(-1, 2, 2)
    for label in labels:
        boxes = _boxes(label)
        best = _cheapest(boxes, label, points, placed, frame, lines)
        left, top, right, bottom = (float(end) for end in boxes[best])
        placed.append(Placed(label, left, top, right, bottom))
        points = np.concatenate([points, along([np.array(placed[-1].leader)])])
    return placed


def _boxes(label: Label) -> Floats:
    """Places (c, 4) to try: left, top, right, bottom."""
    width, height = label.size
    distance, angle = (part.ravel() for part in np.meshgrid(DISTANCES, DIRECTIONS))
    x = label.anchor[0] + np.cos(angle) * (distance + 0.5 * width)
    y = label.anchor[1] + np.sin(angle) * (distance + 0.5 * height)
    half_x, half_y = 0.5 * width, 0.5 * height
    return np.stack([x - half_x, y - half_y, x + half_x, y + half_y], axis=1)


def _cheapest(
    boxes: Floats,
    label: Label,
    points: Floats,
    placed: Sequence[Placed],
    frame: tuple[float, float, float, float],
    lines: Floats,
) -> int:
    """Find the cheapest of the boxes (c, 4).

    To count the points that a box covers takes longer than all else, and a box can cost no less
    for them: so that is done in the order of what else it costs, until no other can be cheaper.
    """
    left, top, right, bottom = boxes.T
    outside = (left < frame[0]) | (top < frame[1]) | (right > frame[2]) | (bottom > frame[3])
    near = _nearest(boxes, label)
    length = np.hypot(near[:, 0] - label.anchor[0], near[:, 1] - label.anchor[1])
    others = _beside(boxes, label, near, placed, lines)

    def cost(chosen: Places, covered: Floats | float) -> Floats:
        total = _OUTSIDE * outside[chosen] + _ON_A_LINE * covered + length[chosen]
        for each in others:
            total = total + each[chosen]
        return np.asarray(total)

    least = cost(np.arange(len(boxes)), 0.0)
    order, among = np.argsort(least, kind="stable"), _among(points, boxes)
    whole = np.full(len(boxes), np.inf)
    for start in range(0, len(order), AT_ONCE):
        chosen = order[start : start + AT_ONCE]
        if least[chosen[0]] > whole.min():
            break
        whole[chosen] = cost(chosen, _covered(boxes[chosen], among))
    return int(np.argmin(whole))


def _covered(boxes: Floats, points: Floats) -> Floats:
    """How many of the points (m, 2) each of the boxes (c, 4) covers, or all but."""
    left, top, right, bottom = boxes.T[:, :, None]
    x, y = points.T[:, None]
    covers = x > left - CLEAR
    covers &= x < right + CLEAR
    covers &= y > top - CLEAR
    covers &= y < bottom + CLEAR
    return np.asarray(np.count_nonzero(covers, axis=1), dtype=np.float64)


def _beside(
    boxes: Floats, label: Label, near: Floats, placed: Sequence[Placed], lines: Floats
) -> list[Floats]:
    """What boxes (c, 4) cost for other labels, their leaders and dimensions: each its part (c,)."""
    left, top, right, bottom = boxes.T
    steps = np.linspace(0.0, 1.0, 12)[None, :, None]
    leaders = near[:, None, :] + steps * (np.array(label.anchor) - near)[:, None, :]
    parts = []
    for other in placed:
        meets = (left < other.right + CLEAR) & (right > other.left - CLEAR)
        meets &= (top < other.bottom + CLEAR) & (bottom > other.top - CLEAR)
        crossed = (leaders[..., 0] > other.left) & (leaders[..., 0] < other.right)
        crossed &= (leaders[..., 1] > other.top) & (leaders[..., 1] < other.bottom)
        parts.append(_ON_A_LABEL * meets + _LEADER * crossed.any(axis=1))
    theirs = np.array([each.leader for each in placed]).reshape(-1, 2, 2)
    parts.append(_CROSSES_A_LEADER * _crossed(near, label.anchor, theirs))
    parts.append(_CROSSES_A_DIMENSION * _crossed(near, label.anchor, lines))
    parts.append(_ASIDE * np.abs(0.5 * (boxes[:, 0] + boxes[:, 2]) - label.anchor[0]))
    return parts


def _crossed(near: Floats, anchor: tuple[float, float], lines: Floats) -> Floats:
    """How many of the lines (k, 2, 2) a leader from each of the points (c, 2) to the anchor meets.

    One that ends on a line, or begins there, crosses it not.
    """
    to = np.array(anchor)
    start, end = lines[None, :, 0], lines[None, :, 1]
    of_line = _side(start, end, near[:, None]) * _side(start, end, to)
    of_leader = _side(near[:, None], to, start) * _side(near[:, None], to, end)
    return np.asarray(((of_line < -1e-9) & (of_leader < -1e-9)).sum(axis=1), dtype=float)


def _side(start: Floats, end: Floats, point: Floats) -> Floats:
    """On which side of a line a point lies: above nought, below it, or nought on the line."""
    way, to = end - start, point - start
    return np.asarray(way[..., 0] * to[..., 1] - way[..., 1] * to[..., 0])


def _among(points: Floats, boxes: Floats) -> Floats:
    """Points (m, 2) that lie among the boxes (c, 4): no other can be covered by one."""
    x, y = points.T
    left, top = boxes[:, 0].min() - CLEAR, boxes[:, 1].min() - CLEAR
    right, bottom = boxes[:, 2].max() + CLEAR, boxes[:, 3].max() + CLEAR
    among: Floats = points[(x > left) & (x < right) & (y > top) & (y < bottom)]
    return among


def _nearest(boxes: Floats, label: Label) -> Floats:
    """Points (c, 2) of boxes (c, 4) that are nearest to the anchor."""
    left, top, right, bottom = boxes.T
    x, y = label.anchor
    return np.stack([np.clip(x, left, right), np.clip(y, top, bottom)], axis=1)
