"""Figures of a window: what works and what is kept against the setting, and the map over two."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sensitivity.answers.window.find import Window
from sensitivity.answers.window.find_map import WindowMap
from sensitivity.answers.window.settings import EndBy
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Figure as Drawn
from sensitivity.presentation.figure_style import (
    BAD,
    BAD_TEXT,
    GOOD,
    INK,
    figure_style,
    new_figure,
    to_svg,
)
from sensitivity.presentation.units_said import Manner
from sensitivity.study.study import Input

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]
Ends = tuple[float, float]

# Okabe and Ito's set again, less the blue of the whole.
LIMIT_COLOURS = ("#E69F00", "#009E73", "#CC79A7", INK, "#56B4E9")
PAPER = {"facecolor": "white", "edgecolor": "none", "pad": 1, "alpha": 0.85}
CLEAR = 0.06
"""Share of an axis by which the figures of a map are to be clear of each other."""
LEAST_ROOM = 0.25
"""Share of the axis that a label beside an edge of the window needs; else it stands inside."""
EDGES: dict[EndBy, str] = {
    "physics": "end of what is possible",
    "study": "end of the stated range",
    "call": "end of what was asked for",
    "search": "end of the search",
}
LIMIT_LINES = ("--", ":", "-.", (0, (6, 1, 1, 1, 1, 1)))


def window_figures(found: Window | WindowMap) -> list[Drawn]:
    """Draw the one figure there is."""
    many = found.study.vocabulary.many.capitalize()
    with figure_style():
        if isinstance(found, Window):
            name = wording.in_words(found.item.name)
            priced = "" if found.stated.one_level else "what works with its interval, "
            words = (
                f"{many} against {name}: {priced}what keeps every limit together with its "
                "interval, each limit by itself, the setting as drawn and the window"
            )
            return [Drawn("window", to_svg(window_figure(found)), words)]
        one, other = (wording.in_words(item.name) for item in found.items)
        words = f"{many} that keep every limit, over {one} and {other}, with the drawing"
        return [Drawn("map", to_svg(map_figure(found)), words)]


def window_figure(window: Window) -> Figure:
    """What works and what is kept against the setting, each limit, the window and the nominal."""
    figure = new_figure(6.8, 3.8)
    window_axes(figure.subplots(), window)
    return figure


def window_axes(axes: Axes, window: Window) -> None:
    """Draw what works and what is kept against the setting."""
    manner = window.said.of(window.item.name)
    x = _said(manner, [setting.value for setting in window.settings])
    overall = [setting.overall for setting in window.settings]
    if window.held is not None:
        low, high = (x[place] for place in window.held)
        axes.axvspan(low, high, color=GOOD, alpha=0.12, linewidth=0)
        axes.annotate(
            f"{wording.of_a_hundred(window.target)} work",
            (0.5 * (low + high), 2),
            ha="center",
            va="bottom",
            color=GOOD,
            fontsize=8,
        )
    axes.fill_between(
        x,
        [100 * share.low for share in overall],
        [100 * share.high for share in overall],
        color=GOOD,
        alpha=0.35,
        linewidth=0,
    )
    single = window.stated.one_level is not None
    label = "every limit" if single else "every limit, at a moment"
    axes.plot(x, [100 * s.value for s in overall], color=GOOD, linewidth=3.0, label=label)
    _limit_lines(axes, window, x)
    if not single:
        _priced(axes, window, manner)
    axes.axhline(100 * window.target, color=INK, linewidth=0.8, linestyle=(0, (6, 4)))
    drawn = float(manner.numbers(window.item.nominal))
    if x[0] <= drawn <= x[-1]:
        axes.axvline(drawn, color=BAD, linewidth=1.0)
        right = drawn > 0.5 * (x[0] + x[-1])
        axes.annotate(
            f"drawn {window.said.drawn(window.item)}",
            (drawn, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(-3 if right else 3, 3),
            textcoords="offset points",
            ha="right" if right else "left",
            color=BAD_TEXT,
            fontsize=8,
        )
    at = float(manner.numbers(window.settings[window.chosen].value))
    axes.plot([at], [100 * window.there.works.value], "o", color=GOOD, markersize=7)
    axes.set_xlim(x[0], x[-1])
    axes.set_ylim(0, 102)
    mark_edges(axes, window.ends)
    axes.set_xlabel(axis_label(window.item, manner))
    axes.set_ylabel(f"{window.study.vocabulary.many}, %")
    axes.legend(loc="center left", bbox_to_anchor=(1.0, 0.5), fontsize=8)


def _said(manner: Manner, values: Sequence[float]) -> Floats:
    """Settings (n,) in the unit in which they are said."""
    return np.asarray(manner.numbers(np.array(values)), dtype=np.float64)


def axis_label(item: Input, manner: Manner) -> str:
    """Name an input beside its axis, with the unit in which it is said."""
    return f"{wording.in_words(item.name)}{f', {manner.unit}' if manner.unit else ''}"


def mark_edges(axes: Axes, ends: tuple[EndBy, EndBy], *, upright: bool = True) -> None:
    """Write at either edge of the axis, inside the frame, what it is the end of."""
    for side, by in enumerate(ends):
        inside = 4 if side == 0 else -4
        near = ("left", "right")[side] if upright else ("bottom", "top")[side]
        axes.annotate(
            EDGES[by],
            (side, 0.5) if upright else (0.02, side),
            xycoords="axes fraction",
            xytext=(inside, 0) if upright else (0, inside),
            textcoords="offset points",
            rotation=90 if upright else 0,
            ha=near if upright else "left",
            va="center" if upright else near,
            fontsize=7,
            color=INK,
            bbox=PAPER,
            zorder=5,
        )


def _priced(axes: Axes, window: Window, manner: Manner) -> None:
    """Draw the settings priced in parts that work, with their intervals."""
    found = [(each.value, each.works) for each in window.settings if each.works is not None]
    x = _said(manner, [value for value, _ in found])
    for value, (_, share) in zip(x, found, strict=True):
        axes.plot([value, value], [100 * share.low, 100 * share.high], color=INK, linewidth=1.2)
    axes.plot(
        x,
        [100 * share.value for _, share in found],
        "s-",
        color=INK,
        linewidth=1.0,
        markersize=4,
        label="work",
        zorder=4,
    )


def _limit_lines(axes: Axes, window: Window, x: Floats) -> None:
    """Draw each limit's yield as a thin line over the thick one that it often makes alone."""
    for row, name in enumerate(window.settings[0].shares):
        axes.plot(
            x,
            [100 * setting.shares[name].value for setting in window.settings],
            color=LIMIT_COLOURS[row % len(LIMIT_COLOURS)],
            linewidth=1.3,
            linestyle=LIMIT_LINES[row % len(LIMIT_LINES)],
            label=wording.in_words(name),
            zorder=3,
        )
    edges = window.held or window.flat
    closing = (window.closed_below, window.closed_above)
    ways = ("lower:", "higher:") if window.held is None else ("closed by", "closed by")
    for side, (place, limit, way) in enumerate(zip(edges, closing, ways, strict=True)):
        if limit:
            room = (x[place] - x[0], x[-1] - x[place])[side] / (x[-1] - x[0])
            outward = room >= LEAST_ROOM
            left = (side == 0) == outward
            axes.annotate(
                f"{way}\n{wording.in_words(limit)}",
                (x[place], 10),
                xytext=(-4 if left else 4, 0),
                textcoords="offset points",
                ha="right" if left else "left",
                fontsize=8,
                bbox=PAPER,
                zorder=5,
            )


def map_figure(found: WindowMap) -> Figure:
    """Yield over two nominals as a heat map, with the contour of the target."""
    figure = new_figure(6.4, 4.6)
    axes = figure.subplots()
    one, other = found.items
    manners = [found.said.of(item.name) for item in found.items]
    x, y = (
        _said(manner, v) for manner, v in zip(manners, (found.first, found.second), strict=True)
    )
    share = np.array([[100 * each.value for each in row] for row in found.overall])
    mesh = axes.pcolormesh(x, y, share.T, cmap="cividis", shading="nearest", vmin=0, vmax=100)
    single = found.stated.one_level is not None
    at = "" if single else " at a moment"
    figure.colorbar(mesh, ax=axes, label=f"keep every limit{at}, %")
    wanted = 100 * found.target
    if single and share.min() < wanted < share.max():
        lines = axes.contour(x, y, share.T, levels=[wanted], colors=INK, linewidths=1.4)
        axes.clabel(lines, fmt=f"{wanted:g} %%", fontsize=8)
    frame = (_edges_of_cells(x), _edges_of_cells(y))
    told = _drawn_and_set(axes, found, manners, frame)
    if not single:
        _priced_pairs(axes, found, (x, y), frame, told)
        many = found.study.vocabulary.many
        axes.set_title(f"framed: {many} of 100 that work, where that was priced", fontsize=9)
    axes.set_xlim(*frame[0])
    axes.set_ylim(*frame[1])
    mark_edges(axes, found.ends[0])
    mark_edges(axes, found.ends[1], upright=False)
    axes.set_xlabel(axis_label(one, manners[0]))
    axes.set_ylabel(axis_label(other, manners[1]))
    return figure


def _drawn_and_set(
    axes: Axes, found: WindowMap, manners: Sequence[Manner], frame: Sequence[Ends]
) -> list[tuple[float, float]]:
    """Mark where it is drawn and where to set it, with the parts that work; give these places."""
    marks = [([item.nominal for item in found.items], found.stated.works, "x", "drawn")]
    if found.chosen is not None:
        set_at = [found.first[found.chosen[0]], found.second[found.chosen[1]]]
        marks.append((set_at, found.there.works, "o", "set here"))
    told = []
    for place, works, marker, words in marks:
        at = [float(manner.numbers(value)) for manner, value in zip(manners, place, strict=True)]
        if not all(low <= value <= high for value, (low, high) in zip(at, frame, strict=True)):
            continue
        axes.plot(*at, marker, color=BAD, markersize=8, markeredgewidth=2.2, zorder=6)
        ahead = [value < 0.5 * (low + high) for value, (low, high) in zip(at, frame, strict=True)]
        axes.annotate(
            f"{words}: {100 * works.value:.0f} work",
            (at[0], at[1]),
            xytext=(9 if ahead[0] else -9, 9 if ahead[1] else -9),
            textcoords="offset points",
            ha="left" if ahead[0] else "right",
            va="bottom" if ahead[1] else "top",
            fontsize=8,
            bbox=PAPER,
            zorder=6,
        )
        told.append((at[0], at[1]))
    return told


def _priced_pairs(
    axes: Axes,
    found: WindowMap,
    settings: tuple[Floats, Floats],
    frame: Sequence[Ends],
    told: Sequence[tuple[float, float]],
) -> None:
    """Write the parts that work of the other pairs priced, the best first, clear of each other."""
    taken = list(told)
    for pair, works in sorted(found.works.items(), key=lambda each: -each[1].value):
        at = (float(settings[0][pair[0]]), float(settings[1][pair[1]]))
        apart = [
            max(
                abs(a - b) / (high - low) for a, b, (low, high) in zip(at, each, frame, strict=True)
            )
            for each in taken
        ]
        if min(apart, default=1.0) < CLEAR:
            continue
        taken.append(at)
        axes.annotate(
            f"{100 * works.value:.0f}",
            at,
            ha="center",
            va="center",
            fontsize=7,
            bbox={"facecolor": "white", "edgecolor": INK, "pad": 1, "linewidth": 0.5},
            zorder=5,
        )


def _edges_of_cells(settings: Floats) -> Ends:
    """Ends of a map's axis: the outer cells whole, half a step beyond the settings tried."""
    return (
        float(settings[0] - 0.5 * (settings[1] - settings[0])),
        float(settings[-1] + 0.5 * (settings[-1] - settings[-2])),
    )
