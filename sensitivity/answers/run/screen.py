"""What ``run`` prints: the verdict, the limits, what to measure."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console
from rich.table import Table

from sensitivity.answers.ranking_tables import RANKING_TITLES
from sensitivity.answers.run.report import result_notes
from sensitivity.engine.result import PASS_FAIL, Result
from sensitivity.presentation import wording
from sensitivity.presentation.cautions import CAUTIONS
from sensitivity.presentation.terminal import console, new_table
from sensitivity.pricing.ranking import Ranked, Ranking, rank, verdict


def show_run(result: Result, folder: Path | None, seconds: float) -> None:
    """Print what a run found: the verdict, the limits, what to measure, and where it all is."""
    out = console()
    plan = result.plan
    out.print(result.study.title, style="bold")
    out.print(
        f"{result.replicates} replicates of {plan.sampling.points} points, "
        f"{result.evaluations:,} burners, seed {plan.seed}, {seconds:.1f} s",
        style="dim",
    )
    out.print()
    out.print(verdict(result))
    out.print()
    out.print(_results_table(result))
    _notes(out, result)
    _held(out, result)
    ranking = rank(result)
    if ranking.rows:
        _ranking(out, ranking)
    elif ranking.note:
        out.print(ranking.note)
        out.print()
    if not result.study.limits or result.pairs:
        _index_tables(out, result)
    out.print(CAUTIONS, style="dim")
    if folder is not None:
        out.print()
        out.print(f"Written to {folder}/: report.html, result.json, tables, figures")


def _results_table(result: Result) -> Table:
    shown = result.limited or result.outputs
    table = new_table(
        "Results" + (" against the limits" if result.limited else ""),
        "result",
        "must be",
        "nominal",
        "95 % of burners",
        "worst case",
        "keeps within",
        right=(2,),
    )
    for output in shown:
        scale = output.scale
        table.add_row(
            wording.in_words(output.name),
            wording.limit(output.limit) if output.limit else "",
            wording.with_unit(
                wording.number(output.nominal, wording.decimals_for(scale)), output.unit
            ),
            wording.value_range(output.quantiles[0.025], output.quantiles[0.975], "", scale),
            wording.value_range(*output.worst_case, "", scale),
            wording.percent(output.proportion) if output.proportion else "",
        )
    if result.overall is not None:
        table.add_section()
        table.add_row("all limits together", "", "", "", "", wording.percent(result.overall))
    return table


def _notes(out: Console, result: Result) -> None:
    for note in result_notes(result):
        out.print(note, style="dim")
    for output in result.limited:
        if output.name in result.no_indices:
            out.print(
                f"{wording.in_words(output.name)}: {result.no_indices[output.name]}", markup=False
            )
    out.print()


_MEASURED_BY = {
    "total index": "share in pass/fail",
    "distance": "distance among failures",
    "": "",
}


def _ranking(out: Console, ranking: Ranking) -> None:
    if ranking.note:
        out.print(ranking.note)
        out.print()
    what = _MEASURED_BY[ranking.measured_by]
    for kind, first, title in RANKING_TITLES:
        rows = ranking.of_kind(kind)
        if rows:
            out.print(_ranked(title, first, what, rows, advise=kind == "build"))
    if ranking.measured_by == "total index":
        out.print(
            "Share in pass/fail: how much of the chance of failing would be settled by knowing "
            "this one, alone and together with the others (total Sobol' index, with its "
            "interval); the shares overlap and need not add to 1. Leave to the eye: good enough as "
            "stated, closer work buys next to nothing. Spreads: normal, 997 of 1000 within the "
            "ends; rectangular, equally likely throughout. Worst case: every dimension at its "
            "worst at once.",
            style="dim",
        )
        out.print()


def _held(out: Console, result: Result) -> None:
    """Say what was taken as perfect, so that nobody takes it for settled."""
    held = [item for item in result.study.inputs if item.spread is None]
    if held:
        names = ", ".join(wording.in_words(item.name) for item in held)
        out.print(f"Held exactly as drawn, no spread stated: {names}.")
        out.print()
    if not any(item.kind == "model" for item in result.study.varying):
        out.print("No doubt of the physics is stated (kind = model); the real figure is less sure.")
        out.print()


def _ranked(title: str, first: str, what: str, rows: tuple[Ranked, ...], *, advise: bool) -> Table:
    table = new_table(title, first, "drawn", "spread", what, *(["advice"] if advise else []))
    for row in rows:
        cells = [wording.in_words(row.name), row.drawn, row.spread, wording.index(row.measure)]
        table.add_row(*cells, *([row.advice] if advise else []))
    return table


def _index_tables(out: Console, result: Result) -> None:
    for output in (*result.outputs, None):
        name = PASS_FAIL if output is None else output.name
        if name not in result.sensitivity:
            reason = result.no_indices.get(name)
            if reason and output is not None and output.limit is None:
                out.print(f"{wording.in_words(name)}: {reason}")
            continue
        if not result.study.limits:
            table = new_table(
                f"What moves {wording.in_words(name)}", "input", "alone (first)", "in all (total)"
            )
            ordered = sorted(result.sensitivity[name].items(), key=lambda p: -p[1].total.value)
            for group, row in ordered:
                table.add_row(
                    wording.in_words(group), wording.index(row.first), wording.index(row.total)
                )
            out.print(table)
        settled = [
            (pair, value) for pair, value in result.pairs.get(name, {}).items() if value.low > 0
        ]
        if settled:
            table = new_table(
                f"Pairs that act together on {wording.in_words(name)}", "pair", "index"
            )
            for pair, value in sorted(settled, key=lambda p: -p[1].value)[:8]:
                table.add_row(" with ".join(map(wording.in_words, pair)), wording.index(value))
            out.print(table)


def show_verdict(result: Result) -> None:
    """Print the verdict alone."""
    console().print(verdict(result))
