"""Tables of ``redraw``: where to draw what, and what a small move of each nominal gains."""

from __future__ import annotations

from sensitivity.answers.levels import moments_in_words
from sensitivity.answers.redraw.find import Move, Redrawn
from sensitivity.answers.redraw.words import length, range_in_words, setting
from sensitivity.presentation import cells, wording
from sensitivity.presentation.table import Cell, Column, Row, Table
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
        Column(f"{many} that work without this move", cells.interval_keys("works_undone")),
        Column("gained by it", cells.interval_keys("lost")),
        Column("level, or better, from", ("level_from",)),
        Column("to", ("level_to",)),
    )
    drawn, there = wording.percent(found.stated.works), wording.percent(found.there.works)
    rows = [
        *(Row(_move_cells(found, move)) for move in found.moves),
        Row(tuple(map(Cell, ("all as drawn", "", "", drawn, "", "", ""))), filed=False, ruled=True),
        Row(tuple(map(Cell, ("as redrawn", "", "", there, "", "", ""))), filed=False),
    ]
    return Table("moves", f"What to draw elsewhere{meaning}", columns, tuple(rows))


def _move_cells(found: Redrawn, move: Move) -> tuple[Cell, ...]:
    nominal = move.nominal
    low, high = move.level
    ends = nominal.settings
    end = " (your range's end)"
    return (
        cells.named(nominal.name),
        Cell(wording.drawn(nominal.item), (nominal.item.nominal,)),
        Cell(setting(found, nominal, move.to), (move.to,)),
        Cell(
            "" if move.undone is None else wording.percent(move.undone),
            cells.interval_values(move.undone),
        ),
        cells.gain(move.lost),
        Cell(setting(found, nominal, low) + (end if low == ends[0] else ""), (low,)),
        Cell(setting(found, nominal, high) + (end if high == ends[-1] else ""), (high,)),
    )


def nominals_table(found: Redrawn) -> Table:
    """Lay out what a small move of each nominal gains, what gains most first."""
    at = "" if found.stated.one_level else " at moments taken at random"
    columns = (
        Column("nominal", ("nominal",)),
        Column("drawn", ("drawn",)),
        Column("a small move", ("move",)),
        Column("moved up, more of 100", cells.interval_keys("gain")),
        Column("", cells.interval_keys("gain_per_unit"), seen="file"),
        Column("mostly by", ("limit",)),
        Column("may be drawn", ("low", "high")),
    )
    shown = {slope.nominal.name for slope in shown_slopes(found)}
    rows = tuple(Row(_slope_cells(found, s), s.nominal.name in shown) for s in found.slopes)
    return Table("nominals", f"What a small move of each nominal alone gains{at}", columns, rows)


def shown_slopes(found: Redrawn) -> list[Slope]:
    """Pick what a screen shows: what gains something settled, and all that may be moved."""
    picked = [s for s in found.slopes if s.settled or s.nominal.settings]
    few = picked[:SHOWN]
    return [*few, *(s for s in picked[SHOWN:] if s.nominal.settings)]


def _slope_cells(found: Redrawn, slope: Slope) -> tuple[Cell, ...]:
    nominal = slope.nominal
    ends = (nominal.settings[0], nominal.settings[-1]) if nominal.settings else (None, None)
    return (
        cells.named(nominal.name),
        Cell(wording.drawn(nominal.item), (nominal.item.nominal,)),
        Cell(length(found, nominal), (nominal.move,)),
        cells.gain(slope.gain),
        cells.filed(*cells.interval_values(slope.per_unit)),
        Cell(wording.in_words(slope.limit), (slope.limit,)),
        Cell(range_in_words(found, nominal), ends),
    )
