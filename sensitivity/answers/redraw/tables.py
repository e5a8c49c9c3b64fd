"""Tables of ``redraw``: where to draw what, and what a small move of each nominal gains."""

from __future__ import annotations

from sensitivity.answers import narrow
from sensitivity.answers.levels import moments_in_words
from sensitivity.answers.redraw.find import Move, Redrawn
from sensitivity.answers.redraw.words import length, range_in_words, setting
from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.presentation import cells, wording
from sensitivity.presentation.cells import NOTHING
from sensitivity.presentation.table import Cell, Column, Row, Table
from sensitivity.presentation.units_said import factor_said
from sensitivity.pricing.slopes import Slope

SHOWN = 12
"""Nominals shown at most; files hold all."""


def moves_table(found: Redrawn) -> Table:
    """Lay out where each nominal is drawn instead, and what works without that."""
    many = found.study.vocabulary.many
    single = found.there.one_level is not None
    meaning = "" if single else f", and what works in {moments_in_words(found.there.keeps)}"
    columns = (
        Column("nominal", ("nominal",)),
        Column("drawn now", ("drawn",)),
        Column("draw at", ("draw_at",)),
        *narrow.share_columns(
            f"{many} that work without this move", "works_undone", "work without it, of 100"
        ),
        *narrow.gain_columns("gained by it", "lost", "gained by it"),
        Column("level, or better, from", ("level_from",), seen="page"),
        Column("to", ("level_to",), seen="page"),
        Column(narrow.heading("level, or better"), seen="terminal"),
    )
    rows = [
        *(Row(_move_cells(found, move)) for move in found.moves),
        Row(_whole("all as drawn", found.stated.works), filed=False, ruled=True),
        Row(_whole("as redrawn", found.there.works), filed=False),
    ]
    return Table("moves", f"What to draw elsewhere{meaning}", columns, tuple(rows))


def _whole(which: str, works: Proportion) -> tuple[Cell, ...]:
    return (Cell(which), NOTHING, NOTHING, *narrow.share_cells(works, interval=True)) + (
        NOTHING,
    ) * 5


def _move_cells(found: Redrawn, move: Move) -> tuple[Cell, ...]:
    nominal = move.nominal
    low, high = move.level
    ends = nominal.settings
    end = " (your range's end)"
    unit = nominal.item.unit
    reach = setting(found, nominal, low)
    if low < high:
        reach = found.said.of(nominal.name).pair(low, high)
    return (
        cells.named(nominal.name),
        Cell(found.said.drawn(nominal.item), (nominal.item.nominal,), unit),
        Cell(setting(found, nominal, move.to), (move.to,), unit),
        *narrow.share_cells(move.undone, interval=True),
        *narrow.gain_cells(move.lost),
        Cell(setting(found, nominal, low) + (end if low == ends[0] else ""), (low,), unit),
        Cell(setting(found, nominal, high) + (end if high == ends[-1] else ""), (high,), unit),
        Cell(reach),
    )


def nominals_table(found: Redrawn) -> Table:
    """Lay out what a small move of each nominal gains, what gains most first."""
    at = "" if found.stated.one_level else " at moments taken at random"
    columns = (
        Column("nominal", ("nominal",)),
        Column("drawn", ("drawn",)),
        Column("a small move", ("move",)),
        *narrow.gain_columns("moved up, more of 100", "gain", "moved up, of 100"),
        Column("", cells.interval_keys("gain_per_unit"), seen="file"),
        Column("mostly by", ("limit",), seen="page"),
        Column("may be drawn", ("low", "high")),
    )
    shown = {slope.nominal.name for slope in shown_slopes(found)}
    rows = tuple(Row(_slope_cells(found, s), s.nominal.name in shown) for s in found.slopes)
    return Table("nominals", f"What a small move of each nominal alone gains{at}", columns, rows)


def _ends(found: Estimate) -> tuple[float, float, float]:
    return found.value, found.low, found.high


def shown_slopes(found: Redrawn) -> list[Slope]:
    """Pick what a screen shows: what gains something settled, and all that may be moved."""
    picked = [s for s in found.slopes if s.settled or s.nominal.settings]
    few = picked[:SHOWN]
    return [*few, *(s for s in picked[SHOWN:] if s.nominal.settings)]


def _slope_cells(found: Redrawn, slope: Slope) -> tuple[Cell, ...]:
    nominal = slope.nominal
    ends = (nominal.settings[0], nominal.settings[-1]) if nominal.settings else (None, None)
    unit = nominal.item.unit
    # For one of the unit in which lengths are filed: an inch is more of a move than a millimetre.
    per_unit = [each / factor_said(unit, found.study.units) for each in _ends(slope.per_unit)]
    return (
        cells.named(nominal.name),
        Cell(found.said.drawn(nominal.item), (nominal.item.nominal,), unit),
        Cell(length(found, nominal), (nominal.move,), unit),
        *narrow.gain_cells(slope.gain),
        cells.filed(*per_unit),
        Cell(wording.in_words(slope.limit), (slope.limit,)),
        Cell(range_in_words(found, nominal), ends, unit),
    )
