"""Figures of ``built``: each measured part in its tolerance, and how many work at each setting."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sensitivity.answers.built.find import Built, Part
from sensitivity.answers.built.words import SAID
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Figure as Drawn
from sensitivity.presentation.figure_style import (
    BAD,
    BAD_TEXT,
    GOOD,
    INK,
    NEUTRAL,
    figure_style,
    new_figure,
    to_svg,
)
from sensitivity.presentation.units_said import Manner

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

VERDICT_STYLE = {
    "good": (GOOD, "o"),
    "not good": (BAD, "X"),
    "too close to say": (NEUTRAL, "D"),
    "no tolerance": (INK, "s"),
}
FARTHEST = 2.0
"""Half-widths of the tolerance from its middle at which a reading is drawn at most."""


def built_figures(found: Built) -> list[Drawn]:
    """Draw the one figure there is."""
    words = "Each reading in its drawn spread, with how far the instrument may be out"
    if _one_setting(found):
        words += "; below, how many work at each setting, as measured"
    with figure_style():
        return [Drawn("built", to_svg(built_figure(found)), words)]


def _one_setting(found: Built) -> bool:
    return found.settings is not None and len(found.settings.inputs) == 1


def built_figure(found: Built) -> Figure:
    """Parts in their tolerances above and, where one input is to be set, how many work below."""
    one_setting = _one_setting(found)
    height = 1.3 + 0.42 * len(found.parts)
    figure = new_figure(7.2, height + (3.0 if one_setting else 0.0))
    if not one_setting:
        parts_axes(figure.subplots(), found.parts)
        return figure
    above, below = figure.subplots(2, 1, height_ratios=[height, 3.0])
    parts_axes(above, found.parts)
    setting_axes(below, found)
    return figure


def parts_axes(axes: Axes, parts: tuple[Part, ...]) -> None:
    """Draw each reading with how its instrument errs, in half-widths of its tolerance."""
    axes.axvspan(-1, 1, color=GOOD, alpha=0.12, linewidth=0)
    places = np.arange(len(parts))[::-1]
    labels = []
    for place, part in zip(places, parts, strict=True):
        one, found = part.measured, part.conformity
        colour, marker = VERDICT_STYLE[found.verdict]
        name = wording.in_words(one.item.name)
        labels.append(
            f"{name}\n{one.words}" + (f", {said}" if (said := SAID[found.verdict]) else "")
        )
        tolerance = found.tolerance or part.expected
        if tolerance is None:
            continue
        low, high = tolerance
        middle, half = 0.5 * (low + high), 0.5 * (high - low)
        ends = np.array([one.size.low, one.value, one.size.high])
        ends = np.clip((ends - middle) / half, -FARTHEST, FARTHEST)
        axes.plot(ends[[0, 2]], [place, place], color=colour, linewidth=3.0, alpha=0.6)
        axes.plot(ends[1], place, marker, color=colour, markersize=7)
    axes.axvline(-1, color=INK, linewidth=0.8)
    axes.axvline(1, color=INK, linewidth=0.8)
    axes.set_yticks(places, labels)
    axes.set_ylim(-0.6, len(parts) - 0.4)
    axes.set_xlim(-1.05 * FARTHEST, 1.05 * FARTHEST)
    axes.set_xticks([-1, 0, 1], ["lowest drawn", "middle", "highest drawn"])
    axes.set_title("What was read, and how far the instrument may be out")


def said(manner: Manner, value: float) -> float:
    """Give a value in the unit in which it is said."""
    return float(manner.numbers(value))


def setting_axes(axes: Axes, found: Built) -> None:
    """Draw how many work at each setting, as measured."""
    assert found.settings is not None
    item = found.settings.inputs[0]
    manner = found.said.of(item.name)
    x = np.asarray(manner.numbers(found.settings.points[:, 0]))
    nominal = said(manner, item.nominal)
    shares = found.at_settings
    axes.fill_between(
        x,
        [100 * share.low for share in shares],
        [100 * share.high for share in shares],
        color=GOOD,
        alpha=0.3,
        linewidth=0,
    )
    axes.plot(x, [100 * share.value for share in shares], color=GOOD, linewidth=2.0)
    axes.plot([nominal], [100 * found.now.works.value], "o", color=BAD)
    axes.annotate(
        "as drawn",
        (nominal, 100 * found.now.works.value),
        xytext=(6, -10),
        textcoords="offset points",
        color=BAD_TEXT,
        fontsize=8,
    )
    if found.set_well is not None:
        at = found.set_well.at[item.name]
        right = said(manner, at) > 0.5 * (x[0] + x[-1])
        axes.axvline(said(manner, at), color=INK, linewidth=1.0, linestyle="--")
        axes.annotate(
            f"set at {found.said.of(item.name).text(at)}",
            (said(manner, at), 0.1),
            xycoords=("data", "axes fraction"),
            xytext=(-4 if right else 4, -2),
            textcoords="offset points",
            ha="right" if right else "left",
            va="top",
            fontsize=8,
        )
    axes.set_ylim(0, 102)
    axes.set_xlim(float(x[0]), float(x[-1]))
    unit = f", {manner.unit}" if manner.unit else ""
    axes.set_xlabel(f"{wording.in_words(item.name)}{unit}")
    axes.set_ylabel("keep every limit, %" if found.now.one_level else "work, %")
    axes.set_title("Where to set it, as measured")
