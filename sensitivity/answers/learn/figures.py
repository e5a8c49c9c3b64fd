"""The figure of ``learn``: each dimension and doubt, before the trials and after."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sensitivity.answers.learn.find import Dimension, Learnt
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Figure as Drawn
from sensitivity.presentation.figure_style import (
    BAD,
    GOOD,
    INK,
    NEUTRAL,
    figure_style,
    new_figure,
    to_svg,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SHOWN = 14
"""Inputs drawn at most: those that the trials say most of."""
FARTHEST = 3.0
"""Stated half-widths from the middle to which it is drawn."""


def learn_figures(found: Learnt) -> list[Drawn]:
    """Draw the one figure there is."""
    words = (
        "Where each dimension and doubt lies with nine chances in ten, before the trials (grey) "
        "and after, in half-widths of what is stated of it"
    )
    with figure_style():
        return [Drawn("learnt", to_svg(learnt_figure(found)), words)]


def learnt_figure(found: Learnt) -> Figure:
    """Bars before and after, the most told first."""
    every = sorted((*found.dimensions, *found.doubts), key=lambda one: -one.told)[:SHOWN]
    figure = new_figure(7.2, 1.4 + 0.38 * len(every))
    bars_axes(figure.subplots(), every)
    return figure


def bars_axes(axes: Axes, shown: list[Dimension]) -> None:
    """Draw each input's ranges in half-widths of its stated spread."""
    places = np.arange(len(shown))[::-1]
    for place, one in zip(places, shown, strict=True):
        spread = one.item.spread
        assert spread is not None
        middle, half = 0.5 * (spread.low + spread.high), 0.5 * (spread.high - spread.low)

        before, after, dot = (
            np.clip((np.array(values) - middle) / half, -FARTHEST, FARTHEST)
            for values in (one.before, one.after, one.middle[1:])
        )
        colour = GOOD if one.item.kind == "build" else INK
        axes.plot(before, [place + 0.14] * 2, color=NEUTRAL, linewidth=5.0, alpha=0.5)
        axes.plot(after, [place - 0.14] * 2, color=colour, linewidth=5.0, alpha=0.9)
        axes.plot(dot, [place - 0.14], "o", color=BAD, markersize=4.5)
    axes.axvline(-1, color=INK, linewidth=0.8)
    axes.axvline(1, color=INK, linewidth=0.8)
    axes.set_yticks(places, [wording.in_words(one.item.name) for one in shown])
    axes.set_ylim(-0.6, max(len(shown), 1) - 0.4)
    furthest = max(1.3, *(abs(end) for end in axes.dataLim.intervalx)) * 1.05
    axes.set_xlim(-furthest, furthest)
    axes.set_xticks([-1, 0, 1], ["lowest stated", "middle", "highest stated"])
    axes.set_title("What the trials say: before (grey), after, and the middle after (dot)")
