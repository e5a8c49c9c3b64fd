"""Tables of a window: the yield at each setting, and the map over two."""

from __future__ import annotations

from sensitivity.answers.window.find import FLAT, Window, WindowMap
from sensitivity.answers.window.words import pair_in_words, setting_in_words
from sensitivity.presentation import cells, wording
from sensitivity.presentation.table import Cell, Column, Row, Table

ROWS = 17
"""Settings shown at most, besides those that the answer names; files hold all."""


def settings_table(window: Window) -> Table:
    """Lay out the yield at each setting, of every limit together and of each that it moves."""
    shown, moved = _shown(window), moved_limits(window)
    name = wording.in_words(window.item.name)
    columns = [
        Column("set at", (window.item.name,), window.item.unit, right=True),
        cells.interval_column("keeps within every limit", "yield"),
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
            cells.percent(setting.overall),
            *(
                Cell(f"{100 * share.value:.1f} %", cells.interval_values(share))
                for share in setting.shares.values()
            ),
            cells.words(_remark(window, place)),
        )
        rows.append(Row(row, shown=place in shown))
    return Table(
        "window", f"Yield against {name} (its spread moves along)", tuple(columns), tuple(rows)
    )


def moved_limits(window: Window) -> list[str]:
    """Name the limits that the setting moves; the others would fill a table with one number."""
    names = list(window.settings[0].shares)
    ranges = {}
    for name in names:
        values = [setting.shares[name].value for setting in window.settings]
        ranges[name] = max(values) - min(values)
    return [name for name in names if ranges[name] >= FLAT]


def _shown(window: Window) -> set[int]:
    """Pick the settings to show: evenly, and all that the answer names."""
    count = len(window.settings)
    stride = -(-count // ROWS)
    named = {window.best, window.chosen, *window.flat, *(window.held or ())}
    return named | set(range(window.chosen % stride, count, stride))


def _remark(window: Window, place: int) -> str:
    remarks = []
    if place == window.chosen:
        remarks.append("set here")
    if place == window.best:
        remarks.append("highest")
    if window.held is not None and place in window.held:
        remarks.append("edge")
    return ", ".join(remarks)


def map_table(found: WindowMap) -> Table:
    """Lay out the yield over two settings as a grid for a reader."""
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
            + ("*" if share.low >= found.target else "")
            + ("!" if (i, j) == marked else "")
            for j, share in enumerate(found.overall[i])
        ]
        rows.append(Row(tuple(Cell(text) for text in (wording.number(x, decimals), *texts))))
    title = f"Yield in %: {wording.in_words(one.name)} down, {wording.in_words(other.name)} across"
    return Table("map", title, tuple(columns), tuple(rows))


def pairs_table(found: WindowMap) -> Table:
    """Lay out every pair of the map for files."""
    one, other = found.items
    columns = (
        Column("", (one.name,), one.unit),
        Column("", (other.name,), other.unit),
        cells.interval_column("", "yield"),
    )
    rows = tuple(
        Row((cells.filed(x), cells.filed(y), cells.percent(share)))
        for x, shares in zip(found.first, found.overall, strict=True)
        for y, share in zip(found.second, shares, strict=True)
    )
    return Table("window", "Yield of every pair", columns, rows)


def places_table(found: WindowMap) -> Table:
    """Lay out where the two are drawn, where the yield is highest, and where to set them."""
    one, other = (wording.in_words(item.name) for item in found.items)
    drawn = " and ".join(
        f"{wording.in_words(item.name)} at {wording.drawn(item)}" for item in found.items
    )
    best = found.overall[found.best[0]][found.best[1]]
    rows = [
        ("as drawn", drawn, found.stated),
        ("highest", " and ".join(pair_in_words(found, found.best)), best),
    ]
    if found.chosen is not None:
        chosen = found.overall[found.chosen[0]][found.chosen[1]]
        where = " and ".join(pair_in_words(found, found.chosen))
        rows.append(("nearest to the drawing of those level with it", where, chosen))
    return Table(
        "places",
        f"Where to set {one} and {other}",
        (Column("which"), Column("set at"), Column("keeps within every limit")),
        tuple(
            Row((Cell(which), Cell(where), Cell(wording.percent(share))))
            for which, where, share in rows
        ),
    )
