"""The table of a check: as drawn, root-sum-square and worst case against the limits."""

from __future__ import annotations

from sensitivity.answers.check.find import Checked, Stacked
from sensitivity.presentation import wording
from sensitivity.presentation.table import Cell, Column, Row, Table
from sensitivity.presentation.units_said import Said, said_by


def stack_table(found: Checked) -> Table:
    """Lay out each result without sampling; a reader is shown those with a limit."""
    judged = {result.name for result in found.judged}
    as_written = said_by(found.study)
    said = as_written.in_one_table((one.name, one.scale) for one in found.judged)
    return Table(
        "stack_up",
        "Without sampling: the drawing and its two classical stack-ups",
        (
            Column("result", ("output", "unit")),
            Column("must be", ("at_least", "at_most"), seen="page"),
            Column("must be", seen="terminal"),
            Column("as drawn", ("nominal",), right=True),
            Column("root-sum-square, 95 %", ("root_sum_square_low", "root_sum_square_high")),
            Column("worst case", ("worst_case_low", "worst_case_high")),
        ),
        tuple(
            Row(_cells(result, said, as_written), shown=result.name in judged)
            for result in found.results
        ),
    )


def _cells(result: Stacked, said: Said, as_written: Said) -> tuple[Cell, ...]:
    limit, scale, unit = result.limit, result.scale, result.unit
    manner = said.of(result.name)
    return (
        Cell(wording.in_words(result.name), (result.name, unit), unit),
        Cell(
            as_written.limit(limit) if limit else "",
            (limit.at_least, limit.at_most) if limit else (None, None),
            unit,
        ),
        Cell(as_written.limit_in_short(limit) if limit else ""),
        Cell(manner.text(result.nominal, scale), (result.nominal,), unit),
        Cell(manner.ends(*result.root_sum_square, scale), result.root_sum_square, unit),
        Cell(manner.ends(*result.worst_case, scale), result.worst_case, unit),
    )
