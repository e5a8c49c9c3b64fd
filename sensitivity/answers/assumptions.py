"""What a study assumed: every input with its nominal, its spread drawn small, and its basis."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from markupsafe import Markup, escape

from sensitivity.answers.borrowed import borrowed_in_words, declared_in_words
from sensitivity.answers.held import doubtful_in_words
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Folded, Items, Words
from sensitivity.presentation.blocks import PlainTable as Table
from sensitivity.presentation.units_said import Said, said_by
from sensitivity.spreads.shape_words import shape_in_words, statistical_name
from sensitivity.spreads.spread import Spread, density, quantile
from sensitivity.study.study import Input, Study
from sensitivity.system.setting_out import sketch_numbers

WIDTH, HEIGHT, POINTS = 120.0, 30.0, 41
TALLEST = 2.5
"""A density is cut at this many times its mean height: an arcsine has infinite ends."""


def assumptions(study: Study) -> list[Block]:
    """Every input, what is held that is in doubt, and how inputs go together.

    Inputs that are held are folded: they are many, and move nothing.
    """
    blocks: list[Block] = [
        Words(
            f"Each dimension varies from {study.vocabulary.one} to "
            f"{study.vocabulary.one} as stated here."
        ),
        Words(
            "A curve shows how often each value comes; the upright line is the value as drawn.",
            on_paper=False,
        ),
        *_varying(study),
        *_held(study),
    ]
    together = [
        (
            f"{wording.listed([wording.in_words(name) for name in item.inputs])}:",
            f"rank correlation {item.rank:g}"
            + (f", because {item.because}" if item.because else ""),
        )
        for item in study.correlations
    ]
    return [
        *blocks,
        *(Words(line) for line in (borrowed_in_words(study), declared_in_words(study)) if line),
        *(Words(line) for line in doubtful_in_words(study)),
        *([Items(together)] if together else []),
    ]


def _varying(study: Study) -> list[Block]:
    numbers = sketch_numbers(study.system)
    said = said_by(study)
    head = ("input", "as drawn", "how it is spread", "spread as stated", "kind", "basis")
    rows = [
        (
            _with_meaning(item, numbers),
            said.drawn(item),
            density_svg(item, said.drawn(item)),
            spread_in_words(item, said),
            item.kind,
            item.basis or "not stated",
        )
        for item in study.varying
    ]
    return [Table("Every input that varies, as drawn and how", head, rows)] if rows else []


def _held(study: Study) -> list[Block]:
    numbers = sketch_numbers(study.system)
    said = said_by(study)
    rows = [
        (_with_meaning(item, numbers), said.drawn(item), item.basis or "")
        for item in study.inputs
        if item.spread is None
    ]
    if not rows:
        return []
    table = Table("Every input that is held", ("input", "as drawn", "basis"), rows)
    return [Folded(f"Taken to be exactly as drawn: {len(rows)} inputs", [table])]


def _with_meaning(item: Input, numbers: Mapping[str, int]) -> Markup:
    """Name an input with what it is and its sketch number, if the builder decides on it."""
    number = f", no. {numbers[item.name]}" if item.name in numbers else ""
    return Markup("{} <small>{}{}</small>").format(
        wording.in_words(item.name), item.meaning, number
    )


def spread_in_words(item: Input, said: Said) -> str:
    """Write a spread as the study states it, with what statistics calls its shape."""
    if item.spread is None:
        return "held"
    by = f"; {wording.in_words(item.process)}" if item.process else ""
    return f"{said.stated(item)} ({statistical_name(item.spread.shape)}){by}"


def density_svg(item: Input, drawn: str = "") -> Markup:
    """Draw the density of an input's spread small, its nominal as an upright line.

    ``drawn`` is what the nominal is said to be, for who cannot see it.
    """
    assert item.spread is not None
    low, high = _ends(item.spread)
    room = 0.06 * (high - low)
    first = min(low, item.nominal) - room
    last = max(high, item.nominal) + room
    x = np.linspace(low, high, POINTS)
    inner = np.linspace(0.5 / POINTS, 1 - 0.5 / POINTS, POINTS) * (high - low) + low
    heights = density(item.spread, np.where((x == low) | (x == high), inner, x))
    heights = np.minimum(heights, TALLEST / (high - low))
    top = float(heights.max())
    across = (x - first) / (last - first) * WIDTH
    up = HEIGHT - 1.0 - heights / top * (HEIGHT - 5.0)
    curve = " ".join(f"{a:.1f} {b:.1f}" for a, b in _without_flats(across, up))
    base = HEIGHT - 1.0
    nominal = (item.nominal - first) / (last - first) * WIDTH
    words = (
        f"spread of {wording.in_words(item.name)}, {shape_in_words(item.spread.shape)}, about "
        f"{drawn or wording.drawn(item)}"
    )
    return Markup(
        f'<svg role="img" aria-label="{escape(words)}" viewBox="0 0 {WIDTH:g} {HEIGHT:g}">'
        f'<path d="M{across[0]:.1f} {base} {curve} {across[-1]:.1f} {base}Z" fill="currentColor" '
        f'fill-opacity=".22" stroke="currentColor" stroke-width="1.2"/>'
        f'<path d="M{nominal:.1f} 1V{HEIGHT:g}" stroke="currentColor" stroke-width="1.6"/></svg>'
    )


def _ends(spread: Spread) -> tuple[float, float]:
    """Ends between which a spread is drawn."""
    if spread.shape in ("normal", "lognormal", "empirical"):
        low, high = quantile(spread, np.array([0.0015, 0.9985]))
        return float(low), float(high)
    return spread.low, spread.high


def _without_flats(x: np.ndarray, y: np.ndarray) -> list[tuple[float, float]]:
    """Leave out points on a straight line between their neighbours."""
    bend = np.abs(np.diff(y, 2)) > 0.05
    kept = np.concatenate([[True], bend, [True]])
    return [(float(a), float(b)) for a, b in zip(x[kept], y[kept], strict=True)]
