"""The figure of a comparison: each limit's yield in each design, side by side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from sensitivity.answers.compare.find import TOGETHER, Compared
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
    from matplotlib.figure import Figure

MARKS = ("o", "D", "s", "^", "v", "P")
COLOURS = (NEUTRAL, GOOD, BAD, "#946c00", INK, "#00724f")


def comparison_figures(compared: Sequence[Compared]) -> list[Drawn]:
    """Draw the one figure there is."""
    many = compared[0].study.vocabulary.many.capitalize()
    words = f"{many} that keep within each limit and all of them, in each design, with intervals"
    with figure_style():
        return [Drawn("comparison", to_svg(comparison_figure(compared), "comparison"), words)]


def comparison_figure(compared: Sequence[Compared]) -> Figure:
    """Yields of every limit and of all together, a row a limit, a mark a design."""
    names = [*compared[0].shares, TOGETHER]
    figure = new_figure(7.2, 1.1 + 0.22 * len(names) * (len(compared) + 1))
    axes = figure.subplots()
    rows = np.arange(len(names))[::-1] * (len(compared) + 1.0)
    for place, design in enumerate(compared):
        marker, colour = MARKS[place % len(MARKS)], COLOURS[place % len(COLOURS)]
        shares = [design.overall if name == TOGETHER else design.shares[name] for name in names]
        at = rows + 0.5 * (len(compared) - 1) - place
        axes.plot(
            [100 * share.value for share in shares],
            at,
            marker,
            color=colour,
            linestyle="none",
            label=design.study.name,
        )
        for share, height in zip(shares, at, strict=True):
            axes.plot([100 * share.low, 100 * share.high], [height, height], color=INK)
    for edge in rows[:-1]:
        axes.axhline(edge - 0.5 * (len(compared) + 1.0), color="#d9dde2", linewidth=0.8)
    axes.set_yticks(
        rows, [wording.in_words(n) if n != TOGETHER else "all limits together" for n in names]
    )
    axes.set_xlim(0, 102)
    many = compared[0].study.vocabulary.many
    axes.set_xlabel(f"{many} that keep within, %, with intervals")
    axes.legend(loc="upper left", bbox_to_anchor=(0.0, 1.0), fontsize=8)
    return figure
