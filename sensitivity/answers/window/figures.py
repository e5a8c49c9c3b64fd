"""Figures of a window: what works and what is kept against the setting, and the map over two."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sensitivity.answers.window.find import Window
from sensitivity.answers.window.find_map import WindowMap
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

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]

# Okabe and Ito's set again, less the blue of the whole.
LIMIT_COLOURS = ("#E69F00", "#009E73", "#CC79A7", INK, "#56B4E9")
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
    x = np.array([setting.value for setting in window.settings])
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
        _priced(axes, window)
    axes.axhline(100 * window.target, color=INK, linewidth=0.8, linestyle=(0, (6, 4)))
    if x[0] <= window.item.nominal <= x[-1]:
        axes.axvline(window.item.nominal, color=BAD, linewidth=1.0)
        axes.annotate(
            f"drawn {wording.drawn(window.item)}",
            (window.item.nominal, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(3, 3),
            textcoords="offset points",
            color=BAD_TEXT,
            fontsize=8,
        )
    chosen = window.settings[window.chosen]
    axes.plot([chosen.value], [100 * window.there.works.value], "o", color=GOOD, markersize=7)
    axes.set_xlim(x[0], x[-1])
    axes.set_ylim(0, 102)
    axes.set_xlabel(wording.with_unit(wording.in_words(window.item.name) + ",", window.item.unit))
    axes.set_ylabel(f"{window.study.vocabulary.many}, %")
    axes.legend(loc="center left", bbox_to_anchor=(1.0, 0.5), fontsize=8)


def _priced(axes: Axes, window: Window) -> None:
    """Draw the settings priced in parts that work, with their intervals."""
    found = [(each.value, each.works) for each in window.settings if each.works is not None]
    x = [value for value, _ in found]
    for value, share in found:
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
    for place, limit, way, side in zip(edges, closing, ways, ("right", "left"), strict=True):
        if limit:
            axes.annotate(
                f"{way}\n{wording.in_words(limit)}",
                (x[place], 10),
                xytext=(-4 if side == "right" else 4, 0),
                textcoords="offset points",
                ha=side,
                fontsize=8,
            )


def map_figure(found: WindowMap) -> Figure:
    """Yield over two nominals as a heat map, with the contour of the target."""
    figure = new_figure(6.0, 4.4)
    axes = figure.subplots()
    x, y = np.array(found.first), np.array(found.second)
    share = np.array([[100 * each.value for each in row] for row in found.overall])
    mesh = axes.pcolormesh(x, y, share.T, cmap="cividis", shading="nearest", vmin=0, vmax=100)
    single = found.stated.one_level is not None
    at = "" if single else " at a moment"
    figure.colorbar(mesh, ax=axes, label=f"keep every limit{at}, %")
    wanted = 100 * found.target
    if single and share.min() < wanted < share.max():
        lines = axes.contour(x, y, share.T, levels=[wanted], colors=INK, linewidths=1.4)
        axes.clabel(lines, fmt=f"{wanted:g} %%", fontsize=8)
    one, other = found.items
    marks = [((one.nominal, other.nominal), "x", "drawn")]
    if found.chosen is not None:
        set_at = (found.first[found.chosen[0]], found.second[found.chosen[1]])
        marks.append((set_at, "o", "set here"))
    for place, marker, words in marks:
        axes.plot(*place, marker, color=BAD, markersize=8, markeredgewidth=2.2)
        axes.annotate(
            words,
            place,
            xytext=(7, 6),
            textcoords="offset points",
            fontsize=8,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1, "alpha": 0.85},
        )
    if not single:
        for pair, works in found.works.items():
            axes.annotate(
                f"{100 * works.value:.0f} work",
                (x[pair[0]], y[pair[1]]),
                ha="center",
                va="center",
                fontsize=7,
                bbox={"facecolor": "white", "edgecolor": INK, "pad": 1, "linewidth": 0.5},
            )
    axes.set_xlim(x[0], x[-1])
    axes.set_ylim(y[0], y[-1])
    axes.set_xlabel(wording.with_unit(wording.in_words(one.name) + ",", one.unit))
    axes.set_ylabel(wording.with_unit(wording.in_words(other.name) + ",", other.unit))
    return figure
