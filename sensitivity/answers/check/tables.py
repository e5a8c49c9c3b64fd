"""The table of a check: as drawn, root-sum-square and worst case against the limits."""

from __future__ import annotations

from sensitivity.answers.check.find import Checked, Stacked
from sensitivity.presentation import wording
from sensitivity.presentation.table import Cell, Column, Row, Table


def stack_table(found: Checked) -> Table:
    """Lay out each result without sampling; a reader is shown those with a limit."""
    judged = {result.name for result in found.judged}
    return Table(
        "stack_up",
        "Without sampling: the drawing and its two classical stack-ups",
        (
            Column("result", ("output", "unit")),
            Column("must be", ("at_least", "at_most")),
            Column("as drawn", ("nominal",), right=True),
            Column("root-sum-square, 95 %", ("root_sum_square_low", "root_sum_square_high")),
            Column("worst case", ("worst_case_low", "worst_case_high")),
        ),
        tuple(Row(_cells(result), shown=result.name in judged) for result in found.results),
    )


def _cells(result: Stacked) -> tuple[Cell, ...]:
    limit, scale = result.limit, result.scale
    nominal = wording.number(result.nominal, wording.decimals_for(scale))
    return (
        Cell(wording.in_words(result.name), (result.name, result.unit)),
        Cell(
            wording.limit(limit) if limit else "",
            (limit.at_least, limit.at_most) if limit else (None, None),
        ),
        Cell(wording.with_unit(nominal, result.unit), (result.nominal,)),
        Cell(wording.value_range(*result.root_sum_square, "", scale), result.root_sum_square),
        Cell(wording.value_range(*result.worst_case, "", scale), result.worst_case),
    )
