"""Two designs side by side: what differs, in words and on both drawings."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sensitivity.drawing_board.html import blocks_html, named_rows
from sensitivity.presentation import cells
from sensitivity.presentation.labelled import labelled_views
from sensitivity.presentation.table import Cell, Column, Row, Table
from sensitivity.presentation.units_said import said_by
from sensitivity.study.study import Input, Study


def side_by_side(studies: Iterable[Study], names: Iterable[str]) -> dict[str, Any]:
    """Lay out two designs: the table of what differs, and the views of each that show it.

    Parameters
    ----------
    studies : two of Study
        The design on the board, and the other.
    names : two of str
        What each is called.
    """
    mine, other = studies
    called = tuple(names)
    differ = differing(mine, other)
    table = _table(mine, other, differ, called)
    return {
        "names": differ,
        "html": blocks_html([table]),
        "rows": named_rows([table], frozenset(item.name for item in mine.inputs)),
        "designs": [
            {
                "name": name,
                "views": [
                    {"title": view.title, "svg": view.svg}
                    for view in labelled_views(study, prefix=f"design-{place}-")
                    if not set(differ).isdisjoint(view.names)
                ],
            }
            for place, (study, name) in enumerate(zip((mine, other), called, strict=True))
        ],
    }


def differing(mine: Study, other: Study) -> list[str]:
    """Name the inputs that one design has and the other has otherwise, or not at all."""
    before = {item.name: item for item in other.inputs}
    after = {item.name: item for item in mine.inputs}
    return [name for name in {**after, **before} if not _alike(after.get(name), before.get(name))]


def _alike(one: Input | None, two: Input | None) -> bool:
    if one is None or two is None:
        return False
    return (one.nominal, one.spread, one.adjust) == (two.nominal, two.spread, two.adjust)


def _table(mine: Study, other: Study, differ: Iterable[str], called: tuple[str, ...]) -> Table:
    return Table(
        "differences",
        "What differs",
        (Column("dimension", ("input",)), *(Column(name, ("stated",)) for name in called)),
        tuple(
            Row((cells.named(name), *(_cell(study, name) for study in (mine, other))))
            for name in differ
        ),
    )


def _cell(study: Study, name: str) -> Cell:
    item = next((each for each in study.inputs if each.name == name), None)
    if item is None:
        return Cell("not there", (None,))
    said = said_by(study)
    spread = said.stated(item, shape=False)
    return Cell(f"{said.drawn(item)}, {spread}", (item.nominal,))
