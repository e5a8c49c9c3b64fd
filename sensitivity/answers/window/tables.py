"""Tables of a window: parts that work and moments kept at each setting, and the map over two."""

from __future__ import annotations

from sensitivity.answers.levels import moments_in_words
from sensitivity.answers.window.find import FLAT, Window
from sensitivity.answers.window.find_map import WindowMap
from sensitivity.answers.window.words import pair_in_words, setting_in_words
from sensitivity.engine.intervals import Proportion
from sensitivity.engine.two_levels import TwoLevels
from sensitivity.presentation import cells, wording
from sensitivity.presentation.table import Cell, Column, Row, Table

ROWS = 17
"""Settings shown at most, besides those that the answer names; files hold all."""


def settings_table(window: Window) -> Table:
    """Lay out each setting: parts that work, and moments that keep every limit and each moved."""
    shown, moved = _shown(window), moved_limits(window)
    name, single = wording.in_words(window.item.name), bool(window.stated.one_level)
    columns = [
        Column("set at", (window.item.name,), window.item.unit, right=True),
        cells.interval_column("keeps every limit" if single else works_head(window.there), "works"),
        Column(
            "keeps every limit",
            cells.interval_keys("yield"),
            seen="file" if single else "everywhere",
        ),
        *(
            cells.interval_column(wording.in_words(limit), limit)
            if limit in moved
            else Column("", cells.interval_keys(limit), seen="file")
            for limit in window.settings[0].shares
        ),
        Column("remark"),
    ]
    rows = []
    for place, setting in enumerate(window.settings):
        row = (
            cells.read_as(setting_in_words(window, place), setting.value),
            works_cell(setting.works),
            cells.percent(setting.overall),
            *(
                Cell(f"{100 * share.value:.1f} %", cells.interval_values(share))
                for share in setting.shares.values()
            ),
            cells.words(_remark(window, place)),
        )
        rows.append(Row(row, shown=place in shown))
    title = f"{window.study.vocabulary.many.capitalize()} that work against {name}"
    if not single:
        title += ", and what is kept at a moment taken at random"
    return Table("window", f"{title} (its spread moves along)", tuple(columns), tuple(rows))


def works_head(levels: TwoLevels) -> str:
    """Head a column of parts that work."""
    return f"work, in {moments_in_words(levels.keeps)}"


def works_cell(share: Proportion | None) -> Cell:
    """Parts that work; empty where they were not priced."""
    return Cell("" if share is None else wording.percent(share), cells.interval_values(share))


def moved_limits(window: Window) -> list[str]:
    """Name the limits that the setting moves; the others would fill a table with one number."""
    names = list(window.settings[0].shares)
    ranges = {}
    for name in names:
        values = [setting.shares[name].value for setting in window.settings]
        ranges[name] = max(values) - min(values)
    return [name for name in names if ranges[name] >= FLAT]


def _shown(window: Window) -> set[int]:
    """Pick the settings to show: evenly, and all that the answer names or has priced apart."""
    count = len(window.settings)
    stride = -(-count // ROWS)
    named = {window.best, window.chosen, *window.flat, *(window.held or ())}
    if not window.stated.one_level:
        named |= {place for place, each in enumerate(window.settings) if each.works is not None}
    return named | set(range(window.chosen % stride, count, stride))


def _remark(window: Window, place: int) -> str:
    remarks = []
    if place == window.chosen:
        remarks.append("set here")
    if place == window.best:
        remarks.append("highest")
    if window.held is not None and place in window.held:
        remarks.append("edge")
    if window.settings[place].danger > 1.0:
        remarks.append("can hurt")
    return ", ".join(remarks)


def map_table(found: WindowMap) -> Table:
    """Lay out how often each pair keeps at a moment, as a grid for a reader."""
    one, other = found.items
    decimals = wording.decimals_of(found.second)
    heads = [wording.with_unit(wording.number(y, decimals), other.unit) for y in found.second]
    columns = [Column(one.unit, right=True), *(Column(head, right=True) for head in heads)]
    decimals = wording.decimals_of(found.first)
    marked = found.chosen or found.best
    rows = []
    for i, x in enumerate(found.first):
        texts = [
            f"{100 * share.value:.0f}"
            + ("*" if (i, j) in found.works and found.works[i, j].low >= found.target else "")
            + ("!" if (i, j) == marked else "")
            for j, share in enumerate(found.overall[i])
        ]
        rows.append(Row(tuple(Cell(text) for text in (wording.number(x, decimals), *texts))))
    what = (
        f"{found.study.vocabulary.many.capitalize()} that work"
        if found.stated.one_level
        else "Every limit kept at a moment taken at random"
    )
    title = f"{what}, %: {wording.in_words(one.name)} down, {wording.in_words(other.name)} across"
    return Table("map", title, tuple(columns), tuple(rows))


def pairs_table(found: WindowMap) -> Table:
    """Lay out every pair of the map for files."""
    one, other = found.items
    columns = (
        Column("", (one.name,), one.unit),
        Column("", (other.name,), other.unit),
        cells.interval_column("", "works"),
        cells.interval_column("", "yield"),
    )
    rows = tuple(
        Row(
            (
                cells.filed(x),
                cells.filed(y),
                works_cell(found.works.get((i, j))),
                cells.percent(found.overall[i][j]),
            )
        )
        for i, x in enumerate(found.first)
        for j, y in enumerate(found.second)
    )
    return Table("window", "Every pair", columns, rows)


def places_table(found: WindowMap) -> Table:
    """Lay out the drawing and the pairs priced in parts that work, those that most work at first.

    Where every pair is priced, the best and the chosen one alone.
    """
    one, other = (wording.in_words(item.name) for item in found.items)
    drawn = " and ".join(
        f"{wording.in_words(item.name)} at {wording.drawn(item)}" for item in found.items
    )
    single = bool(found.stated.one_level)
    rows = [("as drawn", drawn, found.stated.works, found.stated.share)]
    pairs = sorted(found.works, key=lambda pair: -found.works[pair].value)
    if single:
        pairs = list(dict.fromkeys([found.best, *([found.chosen] if found.chosen else [])]))
    for pair in pairs:
        rows.append(
            (
                _which(found, pair),
                " and ".join(pair_in_words(found, pair)),
                found.works[pair],
                found.overall[pair[0]][pair[1]],
            )
        )
    return Table(
        "places",
        f"Where to set {one} and {other}",
        (
            Column("which"),
            Column("set at"),
            Column("keeps every limit" if single else works_head(found.stated)),
            Column("keeps every limit at a moment", seen="file" if single else "everywhere"),
        ),
        tuple(
            Row((Cell(which), Cell(where), works_cell(works)._replace(values=()),
                 Cell(wording.percent(share))))
            for which, where, works, share in rows
        ),
    )  # fmt: skip


def _which(found: WindowMap, pair: tuple[int, int]) -> str:
    words = ["highest"] if pair == found.best else []
    if pair == found.chosen:
        words.append("nearest to the drawing of those level with it")
    if pair == found.at_a_moment and not found.stated.one_level:
        words.append("highest at a moment")
    return ", ".join(words)
