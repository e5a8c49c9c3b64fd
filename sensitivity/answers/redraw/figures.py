"""Figures of redraw: what a small move of each nominal gains, and what each move is worth."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sensitivity.answers.redraw.find import Redrawn
from sensitivity.answers.redraw.tables import shown_slopes
from sensitivity.answers.redraw.words import move_in_words, small_move
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Figure as Drawn
from sensitivity.presentation.figure_style import (
    GOOD,
    INK,
    NEUTRAL,
    figure_style,
    new_figure,
    to_svg,
)

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def redraw_figures(found: Redrawn) -> list[Drawn]:
    """Draw what there is to show."""
    drawn, many = [], found.study.vocabulary.many
    with figure_style():
        if found.moves:
            words = (
                f"{many.capitalize()} of 100 that work, as drawn, as redrawn, and without each move"
            )
            drawn.append(Drawn("moves", to_svg(moves_figure(found)), words))
        if shown_slopes(found):
            words = (
                "Kept more of 100 moments for a small move of each nominal alone, with intervals"
            )
            drawn.append(Drawn("nominals", to_svg(nominals_figure(found)), words))
    return drawn


def moves_figure(found: Redrawn) -> Figure:
    """Bars of parts that work: as drawn, as redrawn, and without each move."""
    rows = [("as drawn", found.stated.works), ("as redrawn", found.there.works)]
    rows += [
        (f"without: {move_in_words(found, move)}", move.undone)
        for move in found.moves
        if move.undone is not None and len(found.moves) > 1
    ]
    figure = new_figure(6.8, 1.0 + 0.32 * len(rows))
    axes = figure.subplots()
    places = np.arange(len(rows))[::-1]
    for place, (name, share) in zip(places, rows, strict=True):
        axes.barh(place, 100 * share.value, color=GOOD if name == "as redrawn" else NEUTRAL)
        axes.plot([100 * share.low, 100 * share.high], [place, place], color=INK, linewidth=1.6)
    axes.set_yticks(places, [name for name, _ in rows])
    axes.set_xlim(0, 100)
    axes.set_xlabel(f"{found.study.vocabulary.many} that work, %")
    return figure


def nominals_figure(found: Redrawn) -> Figure:
    """Bars of what a small move of each nominal gains the better way, with intervals."""
    slopes = shown_slopes(found)
    figure = new_figure(6.8, 0.9 + 0.27 * len(slopes))
    axes = figure.subplots()
    places = np.arange(len(slopes))[::-1]
    for place, slope in zip(places, slopes, strict=True):
        gain = slope.gained
        axes.barh(place, 100 * gain.value, color=GOOD if slope.settled else NEUTRAL)
        axes.plot([100 * gain.low, 100 * gain.high], [place, place], color=INK, linewidth=1.6)
    labels = [f"{wording.in_words(s.nominal.name)}, {small_move(found, s)}" for s in slopes]
    axes.set_yticks(places, labels)
    axes.axvline(0, color=INK, linewidth=0.8)
    axes.set_xlabel("kept more of 100 for a small move, with interval")
    return figure
