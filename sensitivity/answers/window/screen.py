"""What a terminal shows of a window: each setting, what closes it, one sentence."""

from __future__ import annotations

from collections.abc import Sequence

from sensitivity.answers.finalists import levels_in_words
from sensitivity.answers.window.find import Window
from sensitivity.answers.window.find_map import WindowMap
from sensitivity.answers.window.map_text import edges_in_words, map_lines
from sensitivity.answers.window.tables import (
    MOST_LIMITS,
    moved_limits,
    places_table,
    settings_table,
)
from sensitivity.answers.window.words import (
    map_verdict,
    next_after_map,
    next_after_window,
    order_differs,
    range_in_words,
    value_in_words,
    window_verdict,
)
from sensitivity.engine.plan import Plan
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Items, Verbatim, Words


def window_screen(window: Window) -> list[Block]:
    """Tell of the parts that work against one setting, and where to set it."""
    return [
        _sampled(window.plan),
        settings_table(window),
        Items([("", line) for line in _lines(window)]),
        Words(window_verdict(window)),
        *([Words(onward)] if (onward := next_after_window(window)) else []),
    ]


def map_screen(found: WindowMap) -> list[Block]:
    """Tell of the parts that work over two settings, and where to set them."""
    mark = "the highest" if found.chosen is None else "set here"
    drawn = " and ".join(found.said.drawn(item) for item in found.items)
    many = found.study.vocabulary.many
    lines = [
        f"! {mark}   * {wording.of_a_hundred(found.target)} work",
        *edges_in_words(found),
        f"As drawn, {drawn}: {levels_in_words(found.stated, many)}.",
        f"Highest: {wording.gain_of_a_hundred(found.gain)} of 100 against the drawing.",
    ]
    return [
        _sampled(found.plan),
        Verbatim(map_lines(found)),
        *([] if found.stated.one_level else [places_table(found)]),
        Items([("", line) for line in lines]),
        Words(map_verdict(found)),
        *([Words(onward)] if (onward := next_after_map(found)) else []),
    ]


def _sampled(plan: Plan) -> Words:
    sampling, many = plan.sampling, plan.system.vocabulary.many
    return Words(
        f"{sampling.replicates} replicates of {sampling.points} points at every setting, the same "
        f"{many} at each; seed {plan.seed}",
        quiet=True,
    )


def _lines(window: Window) -> Sequence[str]:
    wanted, drawn = wording.of_a_hundred(window.target), window.said.drawn(window.item)
    many = window.study.vocabulary.many
    lines = [f"As drawn, {drawn}: {levels_in_words(window.stated, many)}."]
    moved = moved_limits(window)
    unmoved = [wording.in_words(n) for n in window.settings[0].shares if n not in moved]
    more = [wording.in_words(name) for name in moved[MOST_LIMITS:]]
    if more:
        lines.append(f"Moved less, and in the report: {wording.listed(more)}.")
    if unmoved:
        lines.append(f"Hardly moved by it: {wording.listed(unmoved)}.")
    level = range_in_words(window, window.flat)
    alone = " alone" if window.flat[0] == window.flat[1] else ""
    lines.append(
        f"Level with the highest (within one in a hundred, or not told apart): {level}{alone}."
    )
    if differs := order_differs(window):
        lines.append(differs)
    if window.held is None:
        return [*lines, f"Window in which {wanted} work: none."]
    centre = window.centre if window.held[0] < window.held[1] else None
    middle = "" if centre is None else f", its middle {value_in_words(window, centre)}"
    return [
        *lines,
        f"Window in which {wanted} work (lower ends of the intervals): "
        f"{range_in_words(window, window.held)}{middle}.",
    ]
