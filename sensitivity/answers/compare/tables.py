"""Tables of a comparison: each limit's yield in each design, and what moves a result in each."""

from __future__ import annotations

from collections.abc import Iterator

from sensitivity.answers.compare.find import Compared, Comparison
from sensitivity.answers.compare.words import (
    band_in_words,
    own_causes,
    settled,
    telling_limit,
    told_limits,
    works_in_words,
)
from sensitivity.answers.unsourced_spreads import contest_table
from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.presentation import cells, wording
from sensitivity.presentation.table import Cell, Column, Row, Table
from sensitivity.presentation.units_said import Manner, Said, said_by
from sensitivity.pricing.swaps import Swap
from sensitivity.study.study import Input

CAUSES = 6
"""Causes of a result's spread that are named for each design."""

DIFFERENCES = 12
"""Differences shown at most; files hold all."""

ALL = "all limits together"


def contest_tables(found: Comparison) -> list[Table]:
    """Lay out of each other design how far its difference rests on what has no source."""
    return [
        contest_table(design.contest, found.first.study, design.study)
        for design in found.others
        if design.contest is not None
    ]


def works_table(found: Comparison) -> Table:
    """Lay out how many of each design work, how many more, and between which figures that lies."""
    first = found.first
    many = first.study.vocabulary.many
    columns = [
        Column("design", ("design",)),
        Column(f"{many} that work", cells.interval_keys("works"), seen="page"),
        Column(f"{many} that work", seen="terminal"),
        Column(f"more than {first.study.name}", ("more", "more_low", "more_high"), seen="page"),
        Column("more than the first", seen="terminal"),
        Column("as the physics may turn out", ("band_low", "band_high")),
    ]
    rows = []
    for design in found.designs:
        band = design.levels.band
        ends = (None, None) if band is None else (band.low.value, band.high.value)
        words = band_in_words(design.levels)
        rows.append(
            Row(
                (
                    Cell(design.study.name, (design.study.name,)),
                    cells.percent(design.levels.works),
                    Cell(wording.percent_in_short(design.levels.works)),
                    Cell(
                        "" if design.gain is None else wording.points_of_percent(design.gain),
                        cells.interval_values(design.gain),
                    ),
                    Cell("" if design.gain is None else wording.gain_of_a_hundred(design.gain)),
                    Cell(f"{words} %" if words else "not stated", ends),
                )
            )
        )
    return Table("works", f"How many {many} {works_in_words(found)}", tuple(columns), tuple(rows))


def yields_table(found: Comparison) -> Table:
    """Lay designs side by side: how many keep within each limit, and how far from the first."""
    rows = [
        Row(
            (
                Cell(ALL if limit == ALL else wording.in_words(limit)),
                *(cell for d in found.designs for cell in _yield_cells(d, limit)),
            ),
            ruled=limit == ALL,
        )
        for limit in (*found.first.shares, ALL)
    ]
    moment = "" if found.first.levels.one_level else " at a moment taken at random"
    return Table(
        "yields",
        f"Keeps within{moment}, and the difference to the first design",
        (Column("limit"), *(column for d in found.designs for column in _columns(d))),
        tuple(rows),
    )


def _columns(design: Compared) -> tuple[Column, Column]:
    """A design's column on a page, and on a terminal."""
    name = design.study.name
    return Column(name, seen="page"), Column(name, seen="terminal")


def _yield_cells(design: Compared, limit: str) -> tuple[Cell, Cell]:
    share, change = of_limit(design, limit)
    text, short = wording.percent(share), wording.percent_in_short(share)
    if change is None:
        return Cell(text), Cell(short)
    gain = wording.gain_of_a_hundred(change)
    return Cell(f"{text}\n{wording.points_of_percent(change)}"), Cell(f"{short}\n{gain}")


def of_limit(design: Compared, limit: str) -> tuple[Proportion, Estimate | None]:
    """Find a design's yield of one limit, or of all, and its difference to the first design's."""
    if limit == ALL:
        return design.overall, design.overall_difference
    return design.shares[limit], design.differences.get(limit)


def comparison_table(found: Comparison) -> Table:
    """Lay out for files the yields, a row a design and limit."""
    columns = (
        Column("", ("design",), seen="file"),
        Column("", ("limit",), seen="file"),
        Column("", cells.interval_keys("yield"), seen="file"),
        Column("", ("difference", "low", "high"), seen="file"),
    )
    rows = []
    for design in found.designs:
        for limit in (*design.shares, ALL):
            share, change = of_limit(design, limit)
            row = (cells.filed(design.study.name), cells.filed(limit), cells.percent(share))
            rows.append(Row((*row, cells.filed(*cells.interval_values(change)))))
    return Table("comparison", "Yields and differences", columns, tuple(rows))


def reasons_tables(found: Comparison) -> list[Table]:
    """Lay out for each other design what differs from the first; none where nothing does."""
    told = [reasons_table(found, design) for design in found.others]
    return [table for table in told if table.rows]


def reasons_table(found: Comparison, design: Compared) -> Table:
    """Lay out what differs, what each makes of the first design alone, and what is left."""
    first, reasons = found.first, design.reasons
    assert reasons is not None
    limit = telling_limit(first, design)
    said = said_by(first.study), said_by(design.study)
    unit = said[0].of(limit).unit
    at = "" if first.levels.one_level else ", at moments"
    shown = [swap for swap in reasons.each if settled(swap.overall)][:DIFFERENCES]
    rows = [
        _reason_row(swap, limit, wording.in_words(swap.name), said, shown=swap in shown)
        for swap in reasons.each
    ]
    if reasons.together is not None:
        rows.append(_reason_row(reasons.together, limit, "all of these at once", said, ruled=True))
    if reasons.rest is not None:
        rows.append(_reason_row(reasons.rest, limit, "what only one of them has", said, ruled=True))
    return Table(
        f"reasons_{design.study.name}",
        f"What differs, put into {first.study.name} by itself",
        (
            Column("what differs", ("input",)),
            Column(f"as in {first.study.name}", seen="page"),
            Column(f"as in {design.study.name}", seen="page"),
            Column("in the first", seen="terminal"),
            Column("in the other", seen="terminal"),
            Column(f"kept more of 100{at}", cells.interval_keys("gain")),
            Column(
                f"mean of {wording.in_words(limit)} moves, {unit or 'a pure number'}",
                cells.interval_keys("shift"),
                said[0].of(limit).model_unit,
                seen="page",
            ),
        ),
        tuple(rows),
    )


def _reason_row(
    swap: Swap,
    limit: str,
    label: str,
    said: tuple[Said, Said],
    *,
    shown: bool = True,
    ruled: bool = False,
) -> Row:
    shift = swap.shifts[limit]
    ours, theirs = (
        stated_in_words(item, own) if item else ""
        for item, own in zip((swap.first, swap.other), said, strict=True)
    )
    still = shift.value == shift.low == shift.high == 0.0
    moved = "0" if still else said[0].of(limit).measured(shift)
    return Row(
        (
            Cell(label, (swap.name or label,)),
            Cell(ours),
            Cell(theirs),
            *(
                Cell(stated_in_words(item, own, shape=False) if item else "")
                for item, own in zip((swap.first, swap.other), said, strict=True)
            ),
            cells.gain(swap.overall),
            Cell(moved, cells.interval_values(shift)),
        ),
        shown,
        ruled=ruled,
    )


def stated_in_words(item: Input, said: Said, *, shape: bool = True) -> str:
    """Write an input as it is stated: nominal and spread."""
    drawn = said.drawn(item)
    return drawn if item.spread is None else f"{drawn}, {said.stated(item, shape=shape)}"


def causes_table(found: Comparison, limit: str) -> Table:
    """Lay side by side what moves one result in each design, of what only one of them has."""
    manner, scale = _of_its_causes(found, limit)
    means = (_twice(manner, "", design.means[limit], scale) for design in found.designs)
    rows = [Row((Cell("mean"), *(Cell(text) for both in means for text in both)))]
    for place, texts in enumerate(_causes(found, limit)):
        label = "what moves it, each alone" if place == 0 else ""
        rows.append(Row(tuple(map(Cell, (label, *texts))), ruled=place == 0))
    return Table(
        f"causes_{limit}",
        f"What only one of them has: {wording.in_words(limit)}, {manner.unit or 'a pure number'}",
        (Column(""), *(column for design in found.designs for column in _columns(design))),
        tuple(rows),
    )


def _of_its_causes(found: Comparison, limit: str) -> tuple[Manner, float]:
    """How a result and what moves it are said, with one precision, and the scale of that."""
    causes = [
        cause.value for each in found.designs for cause in each.causes.get(limit, {}).values()
    ]
    scale = max(causes, default=0.0)
    return said_by(found.first.study).in_one_table([(limit, scale)]).of(limit), scale


def _twice(manner: Manner, name: str, estimate: Estimate, scale: float) -> tuple[str, str]:
    """Write an estimate behind a name with its interval, for a page, and without for a terminal."""
    short, low, high = (
        manner.number(each, scale) for each in (estimate.value, estimate.low, estimate.high)
    )
    long = short if low == high else f"{short} ({low} to {high})"
    return f"{name} {long}".strip(), f"{name} {short}".strip()


def causes_tables(found: Comparison) -> list[Table]:
    """Lay out what moves the telling limits, of what not all designs have; none if all have all."""
    return [
        table for limit in told_limits(found) if len((table := causes_table(found, limit)).rows) > 1
    ]


def _causes(found: Comparison, limit: str) -> Iterator[list[str]]:
    """Give the causes in rows, two columns a design (of a page, of a terminal), largest first."""
    manner, scale = _of_its_causes(found, limit)
    columns = []
    for design in found.designs:
        pairs = [(other, design) for other in found.others if design in (found.first, other)]
        own = {
            name: cause
            for other, _ in pairs
            for name, cause in own_causes(found.first, other, design, limit)
        }
        ordered = sorted(own.items(), key=lambda pair: -pair[1].value)[:CAUSES]
        seen = [each for each in ordered if manner.number(each[1].value, scale).strip("0.")]
        columns.append([_twice(manner, wording.in_words(n), cause, scale) for n, cause in seen])
    for place in range(max(map(len, columns))):
        yield [
            text
            for column in columns
            for text in (column[place] if place < len(column) else ("", ""))
        ]
