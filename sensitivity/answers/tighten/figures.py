"""Figures of tighten: what halving each spread gains, and what works after each step of the set."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sensitivity.answers.tighten.find import Halved, Tightened
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
from sensitivity.pricing.allocation_found import Found

if TYPE_CHECKING:
    from matplotlib.figure import Figure

BARS = 14


def tighten_figures(tightened: Tightened) -> list[Drawn]:
    """Draw what there is to show."""
    drawn, many = [], tightened.study.vocabulary.many
    called = many.capitalize()
    with figure_style():
        rows = [row for row in tightened.halved if row.more is not None]
        at = "" if rows else " at a moment taken at random"
        rows = rows or [row for row in tightened.halved if row.gain is not None]
        rows = rows[:BARS]
        if rows:
            words = f"{called} of 100 gained{at} if one spread alone is halved, with intervals"
            drawn.append(Drawn("halved", to_svg(halved_figure(rows, many + at)), words))
        if tightened.found is not None:
            words = f"{called} that work after each step priced, and what is wanted"
            drawn.append(Drawn("set", to_svg(set_figure(tightened.found, many)), words))
    return drawn


def halved_figure(rows: list[Halved], many: str) -> Figure:
    """Bars of what halving each spread gains, with intervals."""
    figure = new_figure(6.6, 0.9 + 0.27 * len(rows))
    axes = figure.subplots()
    places = np.arange(len(rows))[::-1]
    for place, row in zip(places, rows, strict=True):
        gain = row.worth
        assert gain is not None
        axes.barh(place, 100 * gain.value, color=GOOD if gain.low > 0.0 else NEUTRAL)
        axes.plot([100 * gain.low, 100 * gain.high], [place, place], color=INK, linewidth=1.6)
    axes.set_yticks(places, [wording.in_words(row.dimension.name) for row in rows])
    axes.axvline(0, color=INK, linewidth=0.8)
    axes.set_xlabel(f"{many} of 100 gained if this spread alone is halved, with interval")
    return figure


def set_figure(found: Found, many: str) -> Figure:
    """Parts that work after each step of the set, where priced, and the target."""
    names = ["as drawn", *(f"+ {wording.in_words(step.dimension.name)}" for step in found.steps)]
    shares = [found.as_drawn.works, *(step.works for step in found.steps)]
    spent = np.cumsum([0.0, *(step.choice.minutes for step in found.steps)])
    figure = new_figure(6.6, 1.2 + 0.32 * len(names))
    axes = figure.subplots()
    places = np.arange(len(names))[::-1]
    for place, share, minutes in zip(places, shares, spent, strict=True):
        if share is not None:
            axes.barh(place, 100 * share.value, color=GOOD)
            axes.plot([100 * share.low, 100 * share.high], [place, place], color=INK, linewidth=1.6)
        axes.annotate(
            f"{minutes:.0f} min more" if minutes else "",
            (0, place),
            xytext=(4, 0),
            textcoords="offset points",
            va="center",
            color="white" if share is not None else INK,
            fontsize=8,
        )
    axes.axvline(100 * found.target, color=INK, linewidth=1.2, linestyle="--")
    axes.annotate(
        f"wanted {wording.of_a_hundred(found.target)}",
        (100 * found.target, 1.0),
        xycoords=("data", "axes fraction"),
        xytext=(-3, 3),
        textcoords="offset points",
        ha="right",
        fontsize=8,
    )
    axes.set_yticks(places, names)
    axes.set_xlim(0, 100)
    axes.set_xlabel(f"{many} that work, %")
    return figure
