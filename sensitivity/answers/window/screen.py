"""What ``window`` prints: the yield at each setting, what closes the window, one sentence."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console
from rich.table import Table

from sensitivity.answers.window.find import FLAT, Window, WindowMap
from sensitivity.answers.window.words import (
    map_verdict,
    pair_in_words,
    range_in_words,
    setting_in_words,
    window_verdict,
)
from sensitivity.presentation import wording
from sensitivity.presentation.cautions import CAUTIONS
from sensitivity.presentation.terminal import console, new_table

ROWS = 17
"""Settings shown at most; the JSON and the CSV hold all."""


def show_window(found: Window | WindowMap, folder: Path | None, *, quiet: bool = False) -> None:
    """Print yield against the setting, or over the map, and where to set it."""
    out = console()
    words = window_verdict(found) if isinstance(found, Window) else map_verdict(found)
    if quiet:
        out.print(words)
        return
    out.print(found.study.title, style="bold")
    sampling = found.plan.sampling
    out.print(
        f"{sampling.replicates} replicates of {sampling.points} points at every setting, the same "
        f"burners at each; seed {found.plan.seed}",
        style="dim",
    )
    out.print()
    if isinstance(found, Window):
        out.print(_settings_table(found))
        _window_lines(out, found)
    else:
        out.print(_map_table(found))
        _map_lines(out, found)
    out.print()
    out.print(words)
    out.print()
    out.print(CAUTIONS, style="dim")
    if folder is not None:
        out.print()
        out.print(f"Written to {folder}/: report.html, result.json, tables, figures")


def _settings_table(window: Window) -> Table:
    name = wording.in_words(window.item.name)
    limits = _telling_limits(window)
    table = new_table(
        f"Yield against {name} (its spread moves along)",
        "set at",
        "keeps within every limit",
        *(wording.in_words(limit) for limit in limits),
        "",
        right=(0,),
    )
    for place in _shown(window):
        setting = window.settings[place]
        table.add_row(
            setting_in_words(window, place),
            wording.percent(setting.overall),
            *(f"{100 * setting.shares[limit].value:.1f} %" for limit in limits),
            _marks(window, place),
        )
    return table


def _telling_limits(window: Window) -> list[str]:
    """Pick the limits that the setting moves; the others would fill the screen with one number."""
    names = list(window.settings[0].shares)
    ranges = {}
    for name in names:
        values = [setting.shares[name].value for setting in window.settings]
        ranges[name] = max(values) - min(values)
    return [name for name in names if ranges[name] >= FLAT]


def _shown(window: Window) -> list[int]:
    """Pick the settings to print: evenly, and all that the answer names."""
    count = len(window.settings)
    stride = -(-count // ROWS)
    named = {window.best, window.chosen, *window.flat, *(window.held or ())}
    return sorted(named | set(range(window.chosen % stride, count, stride)))


def _marks(window: Window, place: int) -> str:
    marks = []
    if place == window.chosen:
        marks.append("set here")
    if place == window.best:
        marks.append("highest")
    if window.held is not None and place in window.held:
        marks.append("edge")
    return ", ".join(marks)


def _window_lines(out: Console, window: Window) -> None:
    wanted = wording.of_a_hundred(window.target)
    drawn = wording.drawn(window.item)
    out.print(f"As drawn, {drawn}: {wording.percent(window.stated)}.")
    quiet_limits = [n for n in window.settings[0].shares if n not in _telling_limits(window)]
    if quiet_limits:
        names = wording.listed([wording.in_words(name) for name in quiet_limits])
        out.print(f"Hardly moved by it: {names}.")
    level = range_in_words(window, window.flat)
    alone = " alone" if window.flat[0] == window.flat[1] else ""
    out.print(f"Level with the highest (within a point in a hundred): {level}{alone}.")
    if window.held is None:
        out.print(f"Window that holds {wanted}: none.")
        return
    centre = wording.with_unit(wording.significant(window.centre or 0.0), window.item.unit)
    out.print(
        f"Window that holds {wanted} (lower ends of the intervals): "
        f"{range_in_words(window, window.held)}, its middle {centre}.",
        markup=False,
    )
    for place, end, way in ((0, window.held[0], "lower"), (-1, window.held[1], "higher")):
        if end == place % len(window.settings):
            out.print(f"It may go on {way} than the settings tried.")


def _map_table(found: WindowMap) -> Table:
    one, other = found.items
    decimals = wording.decimals_of(found.second)
    table = new_table(
        f"Yield in %: {wording.in_words(one.name)} down, {wording.in_words(other.name)} across",
        one.unit,
        *(wording.with_unit(wording.number(y, decimals), other.unit) for y in found.second),
        right=range(len(found.second) + 1),
    )
    decimals = wording.decimals_of(found.first)
    for i, x in enumerate(found.first):
        cells = [
            f"{100 * share.value:.0f}"
            + ("*" if share.low >= found.target else "")
            + ("!" if (i, j) == (found.chosen or found.best) else "")
            for j, share in enumerate(found.overall[i])
        ]
        table.add_row(wording.number(x, decimals), *cells)
    return table


def _map_lines(out: Console, found: WindowMap) -> None:
    drawn = " and ".join(wording.drawn(item) for item in found.items)
    mark = "the highest" if found.chosen is None else "set here"
    out.print(f"! {mark}   * holds {wording.of_a_hundred(found.target)}", style="dim")
    out.print(f"As drawn, {drawn}: {wording.percent(found.stated)}.")
    best = found.overall[found.best[0]][found.best[1]]
    out.print(
        f"Highest, {' and '.join(pair_in_words(found, found.best))}: {wording.percent(best)}; "
        f"{wording.points_of_percent(found.gain)} against the drawing.",
        markup=False,
    )
