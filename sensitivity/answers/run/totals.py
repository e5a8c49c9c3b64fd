"""What decides whether a part works: total-effect indices of its verdict, if asked for."""

from __future__ import annotations

from math import isfinite
from typing import Any

from sensitivity.engine.intervals import Estimate
from sensitivity.engine.part_totals import PartTotals
from sensitivity.presentation import cells, wording
from sensitivity.presentation.json_values import estimate_value
from sensitivity.presentation.table import Cell, Column, Row, Table
from sensitivity.study.study import Study


def part_totals_table(found: PartTotals, study: Study) -> Table:
    """Lay the total indices of the verdict out; a reader sees the settled, the largest first."""
    ordered = sorted(found.totals.items(), key=lambda pair: -pair[1].value)
    rows = [
        Row((cells.read_as(_called(name, found), name), _index(total)), shown=total.low > 0.0)
        for name, total in ordered
    ]
    one = study.vocabulary.one
    columns = (Column("of what", ("input_or_group",)), cells.interval_column("index", "total"))
    title = f"What decides whether a {one} works: total-effect index"
    return Table("part_totals", title, columns, tuple(rows))


def _index(total: Estimate) -> Cell:
    return cells.index(total) if isfinite(total.value) else cells.filed(None, None, None)


def _called(name: str, found: PartTotals) -> str:
    return "all that the physics does not know" if name == found.doubt else wording.in_words(name)


def part_totals_in_words(found: PartTotals, study: Study) -> str:
    """Say what the table is of, or why it is empty of figures."""
    one, many = study.vocabulary.one, study.vocabulary.many
    if not any(isfinite(total.value) for total in found.totals.values()):
        return (
            f"All {many} that were tried work, or none does, so nothing decides which of them do."
        )
    text = (
        f"Total-effect index (Sobol'): how much of whether a {one} works is decided by this one, "
        "alone and together with the others; they overlap and need not add to 1. Running "
        f"conditions are not in it: a {one} that works does so in nearly all of them."
    )
    left = sum(not total.low > 0.0 for total in found.totals.values())
    return f"{text} Of {left} others none is settled to decide anything." if left else text


def part_totals_value(found: PartTotals | None) -> dict[str, Any] | None:
    """Lay out as plain values: ``part_totals`` of result.json."""
    if found is None:
        return None
    return {
        "totals": {name: estimate_value(total) for name, total in found.totals.items()},
        "doubt": found.doubt or None,
        "evaluations": found.evaluations,
    }
