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
    words = (
        f"{many} that keep within each limit and all of them, and that work, in each design, with "
        "intervals"
    )
    with figure_style():
        return [Drawn("comparison", to_svg(comparison_figure(compared), "comparison"), words)]


def comparison_figure(compared: Sequence[Compared]) -> Figure:
    """Yields of every limit and of all together, a row a limit, a mark a design."""
    names = [*compared[0].shares, TOGETHER]
    many, levels = compared[0].study.vocabulary.many, compared[0].levels
    labels = [wording.in_words(n) if n != TOGETHER else "all limits together" for n in names]
    if levels.one_level is None:
        labels.append(f"{many} that work")
    figure = new_figure(7.2, 1.1 + 0.22 * len(labels) * (len(compared) + 1))
    axes = figure.subplots()
    rows = np.arange(len(labels))[::-1] * (len(compared) + 1.0)
    for place, design in enumerate(compared):
        marker, colour = MARKS[place % len(MARKS)], COLOURS[place % len(COLOURS)]
        shares = [design.overall if name == TOGETHER else design.shares[name] for name in names]
        shares += [design.levels.works] * (len(labels) - len(names))
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
    axes.set_yticks(rows, labels)
    axes.set_xlim(0, 102)
    where = "" if levels.one_level else " at a moment taken at random"
    axes.set_xlabel(f"share that keeps within{where}, %, with intervals")
    axes.legend(loc="upper left", bbox_to_anchor=(0.0, 1.0), fontsize=8)
    return figure
