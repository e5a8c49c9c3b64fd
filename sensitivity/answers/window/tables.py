"""Tables of a window: parts that work and moments kept at each setting, and the map over two."""

from __future__ import annotations

from collections.abc import Sequence

from sensitivity.answers import narrow
from sensitivity.answers.finalists import of_which
from sensitivity.answers.levels import moments_in_words
from sensitivity.answers.settings_words import said_alike
from sensitivity.answers.window.find import FLAT, Window
from sensitivity.answers.window.find_map import WindowMap
from sensitivity.answers.window.words import pair_in_figures, setting_in_words
from sensitivity.engine.intervals import Proportion
from sensitivity.engine.two_levels import TwoLevels
from sensitivity.presentation import cells, wording
from sensitivity.presentation.table import Cell, Column, Row, Seen, Table

ROWS = 17
"""Settings shown at most, besides those that the answer names; files hold all."""
MOST_LIMITS = 2
"""Limits that a terminal shows; a page has all that the setting moves."""


def settings_table(window: Window) -> Table:
    """Lay out each setting: parts that work, and moments that keep every limit and each moved."""
    shown, moved = _shown(window), moved_limits(window)
    name, single = wording.in_words(window.item.name), bool(window.stated.one_level)
    head = "keeps every limit" if single else works_head(window.there)
    columns = [
        Column("set at", (window.item.name,), window.item.unit, right=True),
        *narrow.share_columns(head, "works", "keep, of 100" if single else "work, of 100"),
        Column(
            "keeps every limit",
            cells.interval_keys("yield"),
            seen="file" if single else "page",
        ),
        Column(
            narrow.heading("keep every limit, %"), right=True, seen="file" if single else "terminal"
        ),
        *(column for limit in window.settings[0].shares for column in _limit_columns(limit, moved)),
        Column("remark"),
    ]
    rows = []
    for place, setting in enumerate(window.settings):
        row = (
            cells.read_as(setting_in_words(window, place), setting.value),
            *narrow.share_cells(setting.works, interval=True),
            *narrow.share_cells(setting.overall),
            *(
                cell
                for share in setting.shares.values()
                for cell in (
                    Cell(f"{100 * share.value:.1f} %", cells.interval_values(share)),
                    Cell(narrow.share(share)),
                )
            ),
            cells.words(_remark(window, place)),
        )
        rows.append(Row(row, shown=place in shown))
    title = f"{window.study.vocabulary.many.capitalize()} that work against {name}"
    if not single:
        title += f", to {of_which(window.there)}; and what is kept at a moment taken at random"
    return Table("window", f"{title} (its spread moves along)", tuple(columns), tuple(rows))


def _limit_columns(limit: str, moved: Sequence[str]) -> tuple[Column, Column]:
    """Head a limit where the setting moves it; on a terminal the few that it moves most."""
    head, keys = wording.in_words(limit), cells.interval_keys(limit)
    if limit not in moved:
        return Column("", keys, seen="file"), Column(seen="file")
    on_terminal: Seen = "terminal" if limit in moved[:MOST_LIMITS] else "file"
    return (
        Column(head, keys, seen="page"),
        Column(narrow.heading(f"{head}, %"), right=True, seen=on_terminal),
    )


def works_head(levels: TwoLevels) -> str:
    """Head a column of parts that work."""
    return f"work, in {moments_in_words(levels.keeps)}"


def works_cell(share: Proportion | None) -> Cell:
    """Parts that work; empty where they were not priced."""
    return narrow.share_cells(share)[0]


def moved_limits(window: Window) -> list[str]:
    """Name the limits that the setting moves, what it moves most first.

    The others would fill a table with one number.
    """
    names = list(window.settings[0].shares)
    ranges = {}
    for name in names:
        values = [setting.shares[name].value for setting in window.settings]
        ranges[name] = max(values) - min(values)
    return sorted((name for name in names if ranges[name] >= FLAT), key=lambda n: -ranges[n])


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
    return ",\n".join(remarks)


def map_table(found: WindowMap) -> Table:
    """Lay out how often each pair keeps at a moment, as a grid for a reader."""
    one, other = found.items
    heads = in_figures(found, 1)
    columns = [Column(found.said.of(one.name).unit, right=True)]
    columns += [Column(head, right=True) for head in heads]
    rows = [
        Row(tuple(map(Cell, (head, *map_row(found, i)))))
        for i, head in enumerate(in_figures(found, 0))
    ]
    unit = found.said.of(other.name).unit
    title = f"{map_title(found)} across{f', {unit}' if unit else ''}"
    return Table("map", title, tuple(columns), tuple(rows))


def map_title(found: WindowMap, *, turned: bool = False) -> str:
    """Say what a map shows: the first input down and the second across, unless it is turned."""
    what = (
        f"{found.study.vocabulary.many.capitalize()} that work"
        if found.stated.one_level
        else "Every limit kept at a moment taken at random"
    )
    down, across = (wording.in_words(item.name) for item in found.items[:: -1 if turned else 1])
    return f"{what}, %: {down} down, {across}"


def in_figures(found: WindowMap, which: int) -> list[str]:
    """Write the settings of one of the two inputs without their unit."""
    item, values = found.items[which], (found.first, found.second)[which]
    alike = said_alike(found.said.of(item.name), values)
    return [alike.number(value) for value in values]


def map_row(found: WindowMap, i: int) -> list[str]:
    """Write the shares of the first input's i-th setting, with their marks."""
    marked = found.chosen or found.best
    return [
        _whole(share)
        + ("*" if (i, j) in found.works and found.works[i, j].low >= found.target else "")
        + ("!" if (i, j) == marked else "")
        for j, share in enumerate(found.overall[i])
    ]


def _whole(share: Proportion) -> str:
    """Write whole parts of a hundred, and all of them only where none fails."""
    return "100" if share.failures == 0 else f"{min(100 * share.value, 99):.0f}"


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
    names = [wording.in_words(item.name) for item in found.items]
    single = bool(found.stated.one_level)
    drawn = [found.said.drawn(item) for item in found.items]
    rows = [_place(drawn, found.stated.works, found.stated.share, "as drawn")]
    pairs = sorted(found.works, key=lambda pair: -found.works[pair].value)
    if single:
        pairs = list(dict.fromkeys([found.best, *([found.chosen] if found.chosen else [])]))
    for pair in pairs:
        share = found.overall[pair[0]][pair[1]]
        rows.append(
            _place(pair_in_figures(found, pair), found.works[pair], share, _which(found, pair))
        )
    works = "keep every limit" if single else "work"
    title = f"Where to set {wording.listed(names)}"
    if not single:
        title += f"; to work is to {of_which(found.stated)}"
    columns = (
        *(Column(name, right=True, seen="page") for name in names),
        *(Column(narrow.heading(name), right=True, seen="terminal") for name in names),
        Column(works, seen="page"),
        Column(f"{works}, of 100", right=True, seen="terminal"),
        Column("keeps every limit at a moment", seen="file" if single else "page"),
        Column(
            narrow.heading("keep at a moment, %"), right=True, seen="file" if single else "terminal"
        ),
        Column("remark"),
    )
    return Table("places", title, columns, tuple(rows))


def _place(at: Sequence[str], works: Proportion, share: Proportion, remark: str) -> Row:
    shares = (*narrow.share_cells(works, interval=True), *narrow.share_cells(share))
    told = [Cell(cell.text) for cell in shares]
    return Row((*map(Cell, at), *map(Cell, at), *told, Cell(remark)))


def _which(found: WindowMap, pair: tuple[int, int]) -> str:
    words = ["set here"] if pair == found.chosen else []
    if pair == found.best:
        words.append("highest")
    return ", ".join(words)
