"""What a terminal shows of a window: the yield at each setting, what closes it, one sentence."""

from __future__ import annotations

from collections.abc import Sequence

from sensitivity.answers.window.find import Window, WindowMap
from sensitivity.answers.window.tables import map_table, moved_limits, settings_table
from sensitivity.answers.window.words import (
    map_verdict,
    pair_in_words,
    range_in_words,
    window_verdict,
)
from sensitivity.engine.plan import Plan
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Items, Words


def window_screen(window: Window) -> list[Block]:
    """Tell of the yield against one setting, and where to set it."""
    return [
        _sampled(window.plan),
        settings_table(window),
        Items([("", line) for line in _lines(window)]),
        Words(window_verdict(window)),
    ]


def map_screen(found: WindowMap) -> list[Block]:
    """Tell of the yield over two settings, and where to set them."""
    mark = "the highest" if found.chosen is None else "set here"
    drawn = " and ".join(wording.drawn(item) for item in found.items)
    best = found.overall[found.best[0]][found.best[1]]
    lines = [
        f"! {mark}   * holds {wording.of_a_hundred(found.target)}",
        f"As drawn, {drawn}: {wording.percent(found.stated)}.",
        f"Highest, {' and '.join(pair_in_words(found, found.best))}: {wording.percent(best)}; "
        f"{wording.points_of_percent(found.gain)} against the drawing.",
    ]
    return [
        _sampled(found.plan),
        map_table(found),
        Items([("", line) for line in lines]),
        Words(map_verdict(found)),
    ]


def _sampled(plan: Plan) -> Words:
    sampling, many = plan.sampling, plan.system.vocabulary.many
    return Words(
        f"{sampling.replicates} replicates of {sampling.points} points at every setting, the same "
        f"{many} at each; seed {plan.seed}",
        quiet=True,
    )


def _lines(window: Window) -> Sequence[str]:
    wanted, drawn = wording.of_a_hundred(window.target), wording.drawn(window.item)
    lines = [f"As drawn, {drawn}: {wording.percent(window.stated)}."]
    moved = moved_limits(window)
    unmoved = [wording.in_words(n) for n in window.settings[0].shares if n not in moved]
    if unmoved:
        lines.append(f"Hardly moved by it: {wording.listed(unmoved)}.")
    level = range_in_words(window, window.flat)
    alone = " alone" if window.flat[0] == window.flat[1] else ""
    lines.append(f"Level with the highest (within a point in a hundred): {level}{alone}.")
    if window.held is None:
        return [*lines, f"Window that holds {wanted}: none."]
    centre = wording.with_unit(wording.significant(window.centre or 0.0), window.item.unit)
    lines.append(
        f"Window that holds {wanted} (lower ends of the intervals): "
        f"{range_in_words(window, window.held)}, its middle {centre}."
    )
    for place, end, way in ((0, window.held[0], "lower"), (-1, window.held[1], "higher")):
        if end == place % len(window.settings):
            lines.append(f"It may go on {way} than the settings tried.")
    return lines
