"""Figures of ``measure``: how many work after each reading, and what each is worth alone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sensitivity.answers.measure.find import Measuring
from sensitivity.answers.measure.words import at_best, does
from sensitivity.engine.intervals import Proportion
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Figure as Drawn
from sensitivity.presentation.figure_style import (
    BAD_TEXT,
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

BARS = 8


def measure_figures(found: Measuring) -> list[Drawn]:
    """Draw the one figure there is."""
    words = (
        f"{_shares(found)} after each reading in turn, and what each gains by itself, "
        "with intervals"
    )
    with figure_style():
        return [Drawn("measuring", to_svg(measuring_figure(found)), words)]


def _shares(found: Measuring) -> str:
    return f"How many {found.study.system.vocabulary.many} {does(found)}"


def measuring_figure(found: Measuring) -> Figure:
    """Share that works after each reading above, the gain of each dimension alone below."""
    steps = 2 + len(found.steps)
    bars = min(len(found.candidates), BARS)
    figure = new_figure(7.2, 1.6 + 0.3 * (steps + bars))
    above, below = figure.subplots(2, 1, height_ratios=[steps + 1, bars + 1])
    order_axes(above, found)
    alone_axes(below, found)
    return figure


def order_axes(axes: Axes, found: Measuring) -> None:
    """Draw the share that works as drawn, set well and after each reading, with intervals."""
    rows: list[tuple[str, Proportion]] = [("as drawn", found.as_drawn)]
    if found.set_well is not None:
        rows.append((at_best(found), found.set_well.overall))
    for step in found.steps:
        label = f"+ {wording.in_words(step.name)}, {wording.instrument(step.reading.instrument)}"
        rows.append((label, step.overall or step.rejection.accepted))
    places = np.arange(len(rows))[::-1]
    for place, (_, share) in zip(places, rows, strict=True):
        measured = place < len(rows) - (1 if found.set_well is None else 2)
        axes.barh(place, 100 * share.value, color=GOOD if measured else NEUTRAL, height=0.62)
        ends = [100 * share.low, 100 * share.high]
        axes.plot(ends, [place, place], color=INK, linewidth=1.6)
        axes.annotate(
            f"{100 * share.value:.1f}",
            (0, place),
            xytext=(4, 0),
            textcoords="offset points",
            va="center",
            color="white" if measured else INK,
            fontsize=8,
        )
    if found.ceiling is not None:
        _upright(axes, found.ceiling.value, "works at some setting", INK, 2)
    if found.target is not None:
        _upright(axes, found.target, "wanted", BAD_TEXT, 13)
    axes.set_yticks(places, [label for label, _ in rows])
    axes.set_ylim(-0.6, len(rows) + 0.5)
    axes.set_xlim(0, 108)
    axes.set_xticks(range(0, 101, 20))
    if found.set_well is None:
        used = found.study.system.vocabulary.used
        axes.set_xlabel(f"of those {used} {does(found)}, %")
        axes.set_title("Measured one after another")
    else:
        axes.set_xlabel(f"{does(found)}, %")
        axes.set_title("Measured one after another and set to suit")


def _upright(axes: Axes, share: float, words: str, colour: str, down: int) -> None:
    axes.axvline(100 * share, color=colour, linewidth=1.0, linestyle="--")
    axes.annotate(
        words,
        (100 * share, 1.0),
        xycoords=("data", "axes fraction"),
        xytext=(-3, -down),
        textcoords="offset points",
        ha="right",
        va="top",
        color=colour,
        fontsize=8,
    )


def alone_axes(axes: Axes, found: Measuring) -> None:
    """Draw what each dimension gains alone: known exactly, and by the advised instrument."""
    rows = found.candidates[:BARS]
    places = np.arange(len(rows))[::-1]
    for place, row in zip(places, rows, strict=True):
        value, low, high = (100 * v for v in (row.perfect.value, row.perfect.low, row.perfect.high))
        axes.barh(
            place, value, color="none", edgecolor=GOOD, hatch="////", linewidth=0.8, height=0.66
        )
        if row.advised is not None:
            axes.barh(place, 100 * row.advised.gain.value, color=GOOD, height=0.34)
        axes.plot([low, high], [place, place], color=INK, linewidth=1.6)
    labels = []
    for row in rows:
        words = wording.in_words(row.name)
        with_what = row.advised and wording.instrument(row.advised.instrument)
        labels.append(f"{words}, {with_what}" if with_what else words)
    axes.set_yticks(places, labels)
    axes.axvline(0, color=INK, linewidth=0.8)
    many = found.study.system.vocabulary.many
    axes.set_xlabel(f"gain, {many} of 100 (hatched: known exactly; solid: by the instrument)")
    axes.set_title("Each measured alone")
