"""Tables of a run: results against their limits, inputs, indices, advice."""

from __future__ import annotations

from sensitivity.answers.levels import levels_table
from sensitivity.answers.run.acting import acting_table
from sensitivity.answers.run.find import Ran
from sensitivity.answers.run.totals import part_totals_table
from sensitivity.answers.unsourced_spreads import robustness_table
from sensitivity.engine.result import PASS_FAIL, Output
from sensitivity.engine.shapley import ShapleyEffects
from sensitivity.presentation import cells, wording
from sensitivity.presentation.cells import filed
from sensitivity.presentation.table import Cell, Column, Row, Table, table_of
from sensitivity.presentation.units_said import Said, said_by

SHORT = (0.025, 0.975)
"""Quantiles between which lie the 95 % of parts that a reader is shown."""


def run_tables(ran: Ran) -> list[Table]:
    """Lay out every table of a run that files hold, the main one first."""
    tables = [outputs_table(ran), inputs_table(ran), sensitivity_table(ran), advice_table(ran)]
    if ran.levels is not None:
        tables.append(levels_table(ran.levels, ran.study))
    if (acting := acting_table(ran)) is not None:
        tables.append(acting)
    if ran.part_totals is not None:
        tables.append(part_totals_table(ran.part_totals, ran.study))
    if ran.shapley is not None:
        tables.append(shapley_table(ran.shapley))
    if ran.robustness is not None:
        tables.append(robustness_table(ran.robustness))
    if ran.result.pairs:
        tables.append(pairs_table(ran))
    return [table for table in tables if table.rows]


def outputs_table(ran: Ran) -> Table:
    """Lay out each result: as drawn, its spread, its worst case, how many keep its limit.

    A reader is shown those with a limit (all, where none has one), and all limits together.
    """
    result = ran.result
    limited, shown = bool(result.limited), result.limited or result.outputs
    as_written = said_by(result.study)
    said = as_written.in_one_table((each.name, each.scale) for each in shown)
    named = {output.name for output in shown}
    share_names = tuple(f"quantile_{share:g}" for share in result.outputs[0].quantiles)
    columns = (
        Column("result", ("output", "unit")),
        Column("must be", ("at_least", "at_most"), seen="page" if limited else "file"),
        Column("must be", seen="terminal" if limited else "file"),
        Column("as drawn", ("nominal",), right=True),
        Column(
            f"95 % of {result.study.vocabulary.many}",
            ("mean", "standard_deviation", *share_names),
        ),
        Column(
            "root-sum-square, 95 %", ("root_sum_square_low", "root_sum_square_high"), seen="page"
        ),
        Column("worst case", ("worst_case_low", "worst_case_high"), seen="page"),
        Column(
            "keeps within",
            (*cells.interval_keys("yield"), "yield_interval_by"),
            seen="page" if limited else "file",
        ),
        Column("keeps within", seen="terminal" if limited else "file"),
        Column("why", seen="page" if limited else "file"),
    )
    rows = [
        Row(_output_cells(output, said, as_written), shown=output.name in named)
        for output in result.outputs
    ]
    # In the study's order of limits, which is the order of its story.
    order = {output.name: place for place, output in enumerate(result.limited)}
    by_name = {output.name: row for output, row in zip(result.outputs, rows, strict=True)}
    rows = [by_name[name] for name in sorted(by_name, key=lambda n: order.get(n, len(order)))]
    if result.overall is not None:
        together = wording.percent(result.overall), wording.percent_in_short(result.overall)
        texts = ["all limits together", "", "", "", "", "", "", *together, ""]
        rows.append(Row(tuple(map(Cell, texts)), filed=False, ruled=True))
    title = "Results against the limits" if limited else "Results"
    return Table("outputs", title, columns, tuple(rows))


def _output_cells(output: Output, said: Said, as_written: Said) -> tuple[Cell, ...]:
    scale, unit, limit, share = output.scale, output.unit, output.limit, output.proportion
    manner = said.of(output.name)

    def between(ends: tuple[float, float]) -> str:
        # The unit stands with the value as drawn.
        return manner.ends(*ends, scale)

    ends = output.quantiles[SHORT[0]], output.quantiles[SHORT[1]]
    return (
        Cell(wording.in_words(output.name), (output.name, unit), unit),
        Cell(
            as_written.limit(limit) if limit else "",
            (limit.at_least, limit.at_most) if limit else (None, None),
            unit,
        ),
        cells.words(as_written.limit_in_short(limit) if limit else ""),
        Cell(manner.text(output.nominal, scale), (output.nominal,), unit),
        Cell(
            between(ends),
            (output.mean.value, output.standard_deviation.value, *output.quantiles.values()),
            unit,
        ),
        Cell(between(output.root_sum_square), output.root_sum_square, unit),
        Cell(between(output.worst_case), output.worst_case, unit),
        Cell(
            wording.percent(share) if share else "",
            (*cells.interval_values(share), share.method if share else ""),
        ),
        cells.words(wording.percent_in_short(share) if share else ""),
        cells.words(limit.because if limit else ""),
    )


def inputs_table(ran: Ran) -> Table:
    """Lay out for files what was assumed of each input."""
    said = said_by(ran.study)
    names = ("input", "unit", "nominal", "mean", "standard_deviation", "spread", "kind")
    rows = [
        [
            filed(item.name),
            Cell("", (item.unit,), item.unit),
            Cell("", (item.nominal,), item.unit),
            Cell("", (item.mean,), item.unit),
            Cell("", (item.standard_deviation,), item.unit),
            filed(said.stated(item) if item.spread is not None else ""),
            filed(item.kind if item.spread is not None else ""),
            filed(item.group),
            filed(item.basis),
        ]
        for item in ran.study.inputs
    ]
    return _for_files("inputs", "What was assumed", (*names, "group", "basis"), rows)


def sensitivity_table(ran: Ran) -> Table:
    """Lay out for files the indices of every result and of pass or fail."""
    columns = [
        Column("", ("output",), seen="file"),
        Column("", ("input_or_group",), seen="file"),
        Column("", cells.interval_keys("first"), seen="file"),
        Column("", cells.interval_keys("total"), seen="file"),
        Column("", ("settled",), seen="file"),
    ]
    rows = [
        [
            filed(name),
            filed(group),
            cells.index(row.first),
            cells.index(row.total),
            filed(row.settled),
        ]
        for name, table in ran.result.sensitivity.items()
        for group, row in table.items()
    ]
    return table_of("sensitivity", "Sobol' indices", columns, rows)


def pairs_table(ran: Ran) -> Table:
    """Lay out for files the second-order indices."""
    rows = [
        [
            filed(name),
            filed(pair[0]),
            filed(pair[1]),
            filed(value.value),
            filed(value.low),
            filed(value.high),
        ]
        for name, table in ran.result.pairs.items()
        for pair, value in table.items()
    ]
    names = ("output", "one", "other", "second_order", "low", "high")
    return _for_files("second_order", "Second-order indices", names, rows)


def advice_table(ran: Ran) -> Table:
    """Lay out for files the ranking and its advice."""
    names = ("input_or_group", "kind", "drawn", "spread", "measured_by")
    keys = tuple(f"{what}{end}" for what in ("halved", "read") for end in ("", "_low", "_high"))
    rows = [
        [
            filed(row.name),
            filed(row.kind),
            filed(row.drawn),
            filed(row.spread),
            filed(ran.ranking.measured_by),
            filed(row.measure.value),
            filed(row.measure.low),
            filed(row.measure.high),
            *(filed(value) for value in cells.interval_values(row.halved)),
            *(filed(value) for value in cells.interval_values(row.read)),
            filed(row.advice if row.kind == "build" else ""),
        ]
        for row in ran.ranking.rows
    ]
    return _for_files("advice", "Advice", (*names, "value", "low", "high", *keys, "advice"), rows)


def _for_files(name: str, title: str, keys: tuple[str, ...], rows: list[list[Cell]]) -> Table:
    return table_of(name, title, [Column("", (key,), seen="file") for key in keys], rows)


def shapley_table(shapley: ShapleyEffects) -> Table:
    """Lay out the Shapley effects of every result, largest first; of pass or fail for a reader."""
    columns = (
        Column("", ("output",), seen="file"),
        Column("input", ("input",)),
        cells.interval_column("share of the variance", "effect"),
    )
    rows = []
    for name, effects in shapley.effects.items():
        for item, effect in sorted(effects.items(), key=lambda pair: -pair[1].value):
            row = (filed(name), cells.named(item), cells.index(effect))
            rows.append(Row(row, shown=name == PASS_FAIL))
    title = "Shapley effects: shares of pass or fail, correlated inputs included"
    return Table("shapley", title, columns, tuple(rows))
