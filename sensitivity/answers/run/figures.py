"""Figures of a run: plain functions from a result to axes."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sensitivity.answers.run.find import Ran
from sensitivity.engine.intervals import clopper_pearson
from sensitivity.engine.result import Output, Result
from sensitivity.presentation import wording
from sensitivity.presentation.figure_style import (
    BAD,
    GOOD,
    INK,
    KIND_STYLE,
    KIND_WORDS,
    figure_style,
    grid_of_axes,
    new_figure,
    to_svg,
)
from sensitivity.presentation.units_said import said_by
from sensitivity.pricing.ranking import Ranked

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]

BARS_ACROSS = 40
"""Bars of a histogram, about."""

BARS = 14
BINS = 10


def results_drawn(result: Result) -> dict[str, tuple[str, str]]:
    """Draw how the results are spread: by file name, the SVG text and what it shows in words."""
    with figure_style():
        every = result.limited or result.outputs[:6]
        varying = [output for output in every if np.ptp(result.sample[output.name]) != 0.0]
        shown = tuple(varying) or every  # NaN is no number, and so not 0
        return {
            "results": (
                to_svg(results_figure(result, shown), "results"),
                f"How each result is spread over the {result.study.vocabulary.many}"
                + (", against its limits: " if result.limited else ": ")
                + "; ".join(wording.in_words(output.name) for output in shown),
            )
        }


def run_figures(ran: Ran) -> dict[str, tuple[str, str]]:
    """Draw what else a run has to show, as ``results_drawn``."""
    drawn: dict[str, tuple[str, str]] = {}
    result, ranking = ran.result, ran.ranking
    with figure_style():
        rows = [row for row in ranking.rows if row.measure.high > 0][:BARS]
        if rows:
            figure = new_figure(7.2, 0.9 + 0.27 * len(rows))
            ranking_axes(figure.subplots(), rows, ranking.measured_by)
            listed = ", ".join(wording.in_words(row.name) for row in rows[:3])
            drawn["what_matters"] = (
                to_svg(figure, "what_matters"),
                f"Inputs ranked by what they do to pass or fail, with intervals; first: {listed}",
            )
        if result.distances:
            figure = rare_failures_figure(result)
            drawn["rare_failures"] = (
                to_svg(figure, "rare_failures"),
                "Probability of failure against where each decisive input lies in its spread",
            )
    return drawn


def results_figure(result: Result, outputs: tuple[Output, ...]) -> Figure:
    """Histograms of the outputs, failing parts apart, with their limits."""
    columns = min(2, len(outputs))
    lines = -(-len(outputs) // columns)
    figure, axes = grid_of_axes(lines, columns, 3.6, 2.3)
    for place, output in enumerate(outputs):
        histogram_axes(axes[place // columns][place % columns], result, output)
    for place in range(len(outputs), lines * columns):
        axes[place // columns][place % columns].set_visible(False)
    return figure


def histogram_axes(axes: Axes, result: Result, output: Output) -> None:
    """Draw one output's spread over the parts of the first replicate."""
    manner = said_by(result.study).of(output.name)
    values = manner.numbers(result.sample[output.name])
    values = values[np.isfinite(values)]
    axes.set_title(wording.in_words(output.name))
    axes.set_xlabel("0 is no, 1 is yes" if manner.yes_or_no else manner.unit or "pure number")
    axes.set_ylabel(f"share of {result.study.vocabulary.many}, %")
    if values.size == 0 or np.ptp(values) == 0.0:
        axes.text(0.5, 0.5, "does not vary", ha="center", va="center", transform=axes.transAxes)
        return
    low, high = np.quantile(values, [0.0005, 0.9995])
    if low == high:
        low, high = values.min(), values.max()
    limit = output.limit
    met = np.ones(values.size, dtype=np.bool_)
    ends = []
    for end, above in ((limit.at_least, True), (limit.at_most, False)) if limit else ():
        if end is None:
            continue
        words = f"{'at least' if above else 'at most'} {manner.number(end)}"
        if manner.yes_or_no:
            words = f"must be {manner.number(end)}"
        end = float(manner.numbers(end))
        met &= (values >= end) if above else (values <= end)
        near = low - (high - low) <= end <= high + (high - low)
        if near:
            ends.append(end)
            low, high = min(low, end), max(high, end)
            off_middle = (end - low) - (high - end)  # words go where there is room for them
            right = above if abs(off_middle) < 0.4 * (high - low) else off_middle < 0.0
            axes.axvline(end, color=INK, linewidth=1.2, linestyle="--")
            axes.annotate(
                words,
                (end, 1.0),
                xycoords=("data", "axes fraction"),
                xytext=(3 if right else -3, -2),
                textcoords="offset points",
                ha="left" if right else "right",
                va="top",
                fontsize=8,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 1, "alpha": 0.85},
            )
    edges = bar_edges(float(low), float(high), ends)
    for chosen, colour in ((met, GOOD), (~met, BAD)):
        if chosen.any():
            counts, _ = np.histogram(values[chosen], bins=edges)
            # One shape, not forty.
            shares = 100.0 / values.size * counts
            axes.stairs(shares, edges, fill=True, color=colour, alpha=0.85, linewidth=0.0)
    axes.set_ylabel(f"share of {result.study.vocabulary.many}, %")
    axes.set_xlim(low, high)


def bar_edges(low: float, high: float, ends: Sequence[float]) -> Floats:
    """Cut a range into about ``BARS_ACROSS`` bars with an edge at each limit's end.

    A bar that holds a limit would be drawn in two halves, each as low as its share of the parts.
    """
    cuts = [low, *sorted(end for end in ends if low < end < high), high]
    found = [np.array([low])]
    for start, end in pairwise(cuts):
        bars = max(1, round(BARS_ACROSS * (end - start) / (high - low)))
        found.append(np.linspace(start, end, bars + 1)[1:])
    return np.concatenate(found)


def ranking_axes(axes: Axes, rows: list[Ranked], measured_by: str) -> None:
    """Draw bars with intervals, build dimensions apart from conditions and doubts."""
    from matplotlib.patches import Patch

    places = np.arange(len(rows))[::-1]
    for place, row in zip(places, rows, strict=True):
        colour, hatch = KIND_STYLE[row.kind]
        axes.barh(place, row.measure.value, color=colour, hatch=hatch, edgecolor="white")
        axes.plot([row.measure.low, row.measure.high], [place, place], color=INK, linewidth=1.6)
    axes.set_yticks(places, [wording.in_words(row.name) for row in rows])
    axes.set_xlabel(
        "total-effect index of pass/fail, with interval"
        if measured_by == "total index"
        else "distance among failures from the spread among all, with band"
    )
    axes.axvline(0, color=INK, linewidth=0.8)
    kinds = [kind for kind in KIND_STYLE if any(row.kind == kind for row in rows)]
    axes.legend(
        handles=[
            Patch(
                facecolor=KIND_STYLE[kind][0],
                hatch=KIND_STYLE[kind][1],
                edgecolor="white",
                label=KIND_WORDS[kind],
            )
            for kind in kinds
        ],
        loc="lower right",
    )


def rare_failures_figure(result: Result) -> Figure:
    """Probability of failure against each decisive input, in tenths of its spread."""
    assert result.overall is not None
    names = [item.name for item in result.study.varying]
    ordered = sorted(result.distances.items(), key=lambda pair: -pair[1].value)
    shown = [name for name, distance in ordered if distance.low > 0][:4] or [ordered[0][0]]
    figure = new_figure(3.6 * min(2, len(shown)), 2.3 * -(-len(shown) // 2))
    axes = figure.subplots(-(-len(shown) // 2), min(2, len(shown)), squeeze=False).ravel()
    kept = result.failing.shape[0]
    rate = (1.0 - result.overall.value) * BINS
    for place, name in enumerate(shown):
        counts, edges = np.histogram(result.failing[:, names.index(name)], BINS, (0.0, 1.0))
        bounds = np.array(
            [clopper_pearson(int(n), kept, result.plan.sampling.confidence) for n in counts]
        )
        middle = 0.5 * (edges[1:] + edges[:-1]) * 100
        value = counts / kept * rate * 100
        axes[place].errorbar(
            middle,
            value,
            yerr=np.abs(bounds.T * rate * 100 - value),
            fmt="o",
            color=BAD,
            ecolor=INK,
            markersize=4,
        )
        axes[place].set_title(wording.in_words(name))
        axes[place].set_xlabel(f"place in its spread, % of {result.study.vocabulary.many} below")
        axes[place].set_ylabel("failing, %")
        axes[place].set_ylim(bottom=0)
    for extra in axes[len(shown) :]:
        extra.set_visible(False)
    return figure
