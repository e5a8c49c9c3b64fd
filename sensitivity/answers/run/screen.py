"""What a terminal shows of a run: the verdict, the limits, what to measure."""

from __future__ import annotations

from collections.abc import Iterable

from sensitivity.answers.borrowed import DECLARED_NAMED, declared_in_words
from sensitivity.answers.held import held_in_words
from sensitivity.answers.implausible import implausible_in_a_line
from sensitivity.answers.ranking_tables import others_in_words, ranking_tables
from sensitivity.answers.run.acting import acting_table, next_in_words_of, nominal_in_words
from sensitivity.answers.run.find import Ran
from sensitivity.answers.run.tables import outputs_table, shapley_table
from sensitivity.answers.run.totals import part_totals_in_words, part_totals_table
from sensitivity.answers.run.words import result_notes, run_verdict
from sensitivity.answers.unsourced_spreads import robustness_in_words
from sensitivity.engine.result import PASS_FAIL, Output, Result
from sensitivity.presentation import cells, wording
from sensitivity.presentation.blocks import Block, Items, Words
from sensitivity.presentation.table import Column, table_of

SHARES = (
    "If halved: how many more of 100 work if this spread alone is halved, with its sampling "
    "interval. Total-effect index: the share of failing at a moment that knowing this one would "
    "settle, alone and with others; they overlap."
)

HELD_NAMED = 3
"""Names of what is held as drawn that a terminal gives."""

PAIRS = 8
"""Pairs that act together shown at most; files hold all."""


def run_screen(ran: Ran) -> list[Block]:
    """Tell what a run found."""
    result, ranking, plan = ran.result, ran.ranking, ran.plan
    blocks: list[Block] = [
        Words(
            f"{result.replicates} replicates of {plan.sampling.points} points, "
            f"{result.evaluations:,} evaluations, seed {plan.seed}, {ran.seconds:.1f} s",
            quiet=True,
        ),
        Words(run_verdict(ran)),
        *_lines(implausible_in_a_line(result.study)),
        outputs_table(ran),
        *_lines(_beside_the_results(result)),
        *_held(result),
    ]
    if (acting := acting_table(ran)) is not None:
        blocks.append(acting)
    if nominal := nominal_in_words(ran):
        blocks.append(Words(nominal))
    if ranking.note:
        blocks.append(Words(ranking.note))
    blocks += ranking_tables(ranking, result.study)[:1] if ranking.of_kind("build") else []
    blocks += _lines(others_in_words(ranking, result.study))
    if ran.part_totals is not None:
        blocks.append(part_totals_table(ran.part_totals, result.study))
        blocks.append(Words(part_totals_in_words(ran.part_totals, result.study), quiet=True))
    if ran.shapley is not None and PASS_FAIL in ran.shapley.effects:
        blocks.append(shapley_table(ran.shapley))
    if ranking.measured_by == "total index":
        blocks.append(Words(SHARES, quiet=True))
    if ran.robustness is not None:
        blocks.append(Words(robustness_in_words(ran.robustness, result.study)))
    if not result.study.limits or result.pairs:
        blocks += _index_tables(result)
    return [*blocks, *([Words(onward)] if (onward := next_in_words_of(ran)) else [])]


def _lines(lines: Iterable[str]) -> list[Block]:
    found = [("", line) for line in lines]
    return [Items(found)] if found else []


def _beside_the_results(result: Result) -> list[str]:
    refused = [
        f"{wording.in_words(output.name)}: {result.no_indices[output.name]}"
        for output in result.limited
        if output.name in result.no_indices and output.standard_deviation.value > 0.0
    ]
    still = [
        wording.in_words(output.name)
        for output in result.limited
        if output.name in result.no_indices and not output.standard_deviation.value > 0.0
    ]
    if still:
        verb = "does" if len(still) == 1 else "do"
        refused.append(f"{wording.listed(still)} {verb} not vary.")
    # A star stands in the report's tables alone.
    return [*(note for note in result_notes(result) if not note.startswith("*")), *refused]


def _held(result: Result) -> list[Block]:
    """Say what was taken as perfect, so that nobody takes it for settled."""
    declared = declared_in_words(result.study, DECLARED_NAMED)
    lines = [*([declared] if declared else []), *held_in_words(result.study, HELD_NAMED)]
    blocks: list[Block] = _lines(lines)
    if not any(item.kind == "model" for item in result.study.varying):
        blocks.append(
            Words("No doubt of the physics is stated (kind = model); the real figure is less sure.")
        )
    return blocks


def _index_tables(result: Result) -> list[Block]:
    blocks: list[Block] = []
    for output in (*result.outputs, None):
        name = PASS_FAIL if output is None else output.name
        if name in result.sensitivity:
            blocks += _indices(result, name)
        elif _refused_without_a_limit(result, output):
            blocks.append(Words(f"{wording.in_words(name)}: {result.no_indices[name]}"))
    return blocks


def _refused_without_a_limit(result: Result, output: Output | None) -> bool:
    return output is not None and output.limit is None and output.name in result.no_indices


def _indices(result: Result, name: str) -> list[Block]:
    shown, blocks = wording.in_words(name), []
    if not result.study.limits:
        ordered = sorted(result.sensitivity[name].items(), key=lambda p: -p[1].total.value)
        rows = [
            (
                cells.named(group),
                cells.index(row.first, settled=row.settled),
                cells.index(row.total, settled=row.settled),
            )
            for group, row in ordered
        ]
        columns = [
            Column("input", ("input_or_group",)),
            cells.interval_column("alone (first)", "first"),
            cells.interval_column("in all (total)", "total"),
        ]
        blocks.append(table_of(f"indices_{name}", f"What moves {shown}", columns, rows))
    settled = [pair for pair in result.pairs.get(name, {}).items() if pair[1].low > 0]
    if settled:
        settled.sort(key=lambda pair: -pair[1].value)
        pairs = [
            (cells.words(" with ".join(map(wording.in_words, pair))), cells.index(value))
            for pair, value in settled[:PAIRS]
        ]
        title = f"Pairs that act together on {shown}"
        blocks.append(
            table_of(
                f"pairs_{name}",
                title,
                [Column("pair"), cells.interval_column("index", "index")],
                pairs,
            )
        )
    return list[Block](blocks)
