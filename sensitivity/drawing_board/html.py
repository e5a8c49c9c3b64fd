"""An answer's blocks as HTML for the page: by the report's own templates."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

from markupsafe import Markup, escape

from sensitivity.presentation.blocks import Block, Figure
from sensitivity.presentation.page import unbroken
from sensitivity.presentation.table import Table
from sensitivity.presentation.texts import shown

if TYPE_CHECKING:
    from jinja2 import Template


def blocks_html(blocks: Sequence[Block]) -> str:
    """Write blocks as HTML; figures become images, whose styles a strict page takes."""
    return shown(_template().render(blocks=blocks))


def named_rows(blocks: Sequence[Block], names: frozenset[str]) -> list[list[str]]:
    """Name what each row of each table is about, where that is one of ``names``; else empty.

    In the order in which a page shows tables and rows, so that it can lead from a row to the
    drawing.
    """
    tables = [block for block in blocks if isinstance(block, Table)]
    return [
        [_name(row.cells[0].values, names) for row in table.rows if row.shown] for table in tables
    ]


def _name(values: Sequence[object], names: frozenset[str]) -> str:
    first = values[0] if values else ""
    return first if isinstance(first, str) and first in names else ""


def _image(figure: Figure) -> Markup:
    data = base64.b64encode(figure.svg.encode()).decode()
    return Markup('<img src="data:image/svg+xml;base64,{}" alt="{}">').format(
        data, escape(figure.words)
    )


@lru_cache(maxsize=1)
def _template() -> Template:
    from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined

    rooms = ("sensitivity.drawing_board", "sensitivity.presentation")
    environment = Environment(
        loader=ChoiceLoader([PackageLoader(room) for room in rooms]),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["unbroken"] = unbroken
    environment.filters["inline"] = _image
    return environment.get_template("blocks_told.html.jinja")
