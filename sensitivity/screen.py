"""All printing to the terminal. Nothing else in the engine knows of a screen."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path

from rich import box
from rich.console import Console
from rich.table import Table

from sensitivity import wording
from sensitivity.advice import Ranked, Ranking, comparison_verdict, rank, telling_limit, verdict
from sensitivity.catalogue import Model
from sensitivity.cautions import CAUTIONS
from sensitivity.comparison import Compared
from sensitivity.result import PASS_FAIL, Result
from sensitivity.study import Sampling, Study
from sensitivity.workshop import WorkshopEntry, deviation_in_words
from sensitivity.worst_case import StackUp
from sensitivity.writeup import RANKING_TITLES, result_notes

PIPED_WIDTH = 110


def console() -> Console:
    """A console on standard output; wide enough for the tables where nobody is watching."""
    width = None if sys.stdout.isatty() else PIPED_WIDTH
    return Console(width=width, highlight=False, soft_wrap=False)


def say_error(message: str) -> None:
    """Print one error on standard error, plain."""
    Console(stderr=True, highlight=False, soft_wrap=True, markup=False).print(
        f"spiritlevel: {message}"
    )


def _table(title: str, *columns: str, right: Iterable[int] = ()) -> Table:
    table = Table(title=title, title_justify="left", title_style="bold", box=box.SIMPLE_HEAD)
    wanted = set(right)
    for place, column in enumerate(columns):
        table.add_column(column, justify="right" if place in wanted else "left")
    return table


def show_run(result: Result, folder: Path | None, seconds: float) -> None:
    """Print what a run found: the verdict, the limits, what to measure, and where it all is."""
    out = console()
    plan = result.plan
    out.print(result.study.title, style="bold", markup=False)
    out.print(
        f"{result.replicates} replicates of {plan.sampling.points} points, "
        f"{result.evaluations:,} burners, seed {plan.seed}, {seconds:.1f} s",
        style="dim",
    )
    out.print()
    out.print(verdict(result), markup=False)
    out.print()
    out.print(_results_table(result))
    _notes(out, result)
    ranking = rank(result)
    if ranking.rows:
        _ranking(out, ranking)
    elif ranking.note:
        out.print(ranking.note, markup=False)
        out.print()
    if not result.study.limits or result.pairs:
        _index_tables(out, result)
    out.print(CAUTIONS, style="dim", markup=False)
    if folder is not None:
        out.print()
        out.print(f"Written to {folder}/: report.html, result.json, tables, figures", markup=False)


def _results_table(result: Result) -> Table:
    shown = result.limited or result.outputs
    table = _table(
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
        scale = output.standard_deviation.value
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
        out.print(note, style="dim", markup=False)
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
        out.print(ranking.note, markup=False)
        out.print()
    what = _MEASURED_BY[ranking.measured_by]
    for kind, first, title in RANKING_TITLES:
        rows = ranking.of_kind(kind)
        if rows:
            out.print(_ranked(title, first, what, rows, advise=kind == "build"))
    if ranking.measured_by == "total index":
        out.print(
            "Share in pass/fail: the total Sobol' index of meeting all limits, alone and with "
            "others, with its interval; the shares overlap and need not add to 1.",
            style="dim",
        )
        out.print()


def _ranked(title: str, first: str, what: str, rows: tuple[Ranked, ...], *, advise: bool) -> Table:
    table = _table(title, first, "drawn", "spread", what, *(["advice"] if advise else []))
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
                out.print(f"{wording.in_words(name)}: {reason}", markup=False)
            continue
        if not result.study.limits:
            table = _table(
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
            table = _table(f"Pairs that act together on {wording.in_words(name)}", "pair", "index")
            for pair, value in sorted(settled, key=lambda p: -p[1].value)[:8]:
                table.add_row(" with ".join(map(wording.in_words, pair)), wording.index(value))
            out.print(table)


def show_verdict(result: Result) -> None:
    """Print the verdict alone."""
    console().print(verdict(result), markup=False)


def show_check(study: Study, stacked: StackUp) -> None:
    """Print nominal results, worst case and root-sum-square against the limits."""
    out = console()
    out.print(study.title, style="bold", markup=False)
    out.print()
    limits = {limit.result: limit for limit in study.limits}
    table = _table(
        "Without sampling: the drawing and its two classical stack-ups",
        "result",
        "must be",
        "as drawn",
        "root-sum-square, 95 %",
        "worst case",
        right=(2,),
    )
    broken = []
    for row, quantity in enumerate(study.system.results):
        if limits and quantity.name not in limits:
            continue
        low, high = (float(end) for end in stacked.root_sum_square[row])
        worst_low, worst_high = (float(end) for end in stacked.worst[row])
        scale = (high - low) / 4 or abs(float(stacked.nominal[row])) / 100
        limit = limits.get(quantity.name)
        nominal = wording.number(float(stacked.nominal[row]), wording.decimals_for(scale))
        table.add_row(
            wording.in_words(quantity.name),
            wording.limit(limit) if limit else "",
            wording.with_unit(nominal, quantity.unit),
            wording.value_range(low, high, "", scale),
            wording.value_range(worst_low, worst_high, "", scale),
        )
        if limit is not None and not (
            (limit.at_least is None or stacked.nominal[row] >= limit.at_least)
            and (limit.at_most is None or stacked.nominal[row] <= limit.at_most)
        ):
            broken.append(wording.in_words(quantity.name))
    out.print(table)
    if broken:
        out.print(f"As drawn it breaks: {', '.join(broken)}. Move a nominal first.")
    elif limits:
        out.print(
            'As drawn it keeps every limit; "spiritlevel run" says how likely one built does.'
        )
    if stacked.no_answer:
        out.print(f"The models have no answer in {100 * stacked.no_answer:.2g} % of the box.")
    out.print()
    out.print(CAUTIONS, style="dim", markup=False)


def show_models(models: Iterable[Model]) -> None:
    """Print the models at hand, one line each."""
    table = _table("Models at hand", "model", "what it computes")
    for model in models:
        table.add_row(model.name, model.description.split("\n\n")[0].replace("\n", " "))
    console().print(table)


def show_model(model: Model) -> None:
    """Print one model: what it computes, its inputs and its results."""
    out = console()
    out.print(model.name, style="bold")
    out.print()
    out.print(model.description, markup=False)
    out.print()
    inputs = _table("Inputs", "input", "default", "unit", "range", "meaning", right=(1,))
    for quantity in model.arguments:
        default = "" if quantity.default is None else wording.significant(quantity.default)
        inputs.add_row(
            quantity.name, default, quantity.unit, quantity.range.stated, quantity.meaning
        )
    out.print(inputs)
    results = _table("Results", "result", "unit", "meaning")
    for quantity in model.results:
        results.add_row(quantity.name, quantity.unit, quantity.meaning)
    out.print(results)


def show_processes(
    processes: Iterable[WorkshopEntry], instruments: Iterable[WorkshopEntry]
) -> None:
    """Print the workshop table with sources."""
    out = console()
    for title, entries in (
        ('Workshop processes: process = "..."', processes),
        ('Instruments: measured = "..." with instrument = "..."', instruments),
    ):
        table = _table(title, "name", "what it is", "spread", "min", "source", right=(3,))
        for entry in entries:
            table.add_row(
                entry.name,
                entry.says,
                deviation_in_words(entry),
                f"{entry.minutes:g}",
                entry.source,
            )
        out.print(table)
    out.print("min: bench minutes to hold or read one dimension, a judgement.", style="dim")


def show_comparison(
    compared: tuple[Compared, ...], sampling: Sampling, *, quiet: bool = False
) -> None:
    """Print designs side by side, each against the first."""
    out = console()
    first = compared[0]
    if not quiet:
        table = _table(
            "Keeps within, and the difference to the first design",
            "limit",
            *(design.study.name for design in compared),
        )
        for name in first.shares:
            cells = []
            for design in compared:
                cell = wording.percent(design.shares[name])
                if design.differences:
                    cell += f"\n{wording.points_of_percent(design.differences[name])}"
                cells.append(cell)
            table.add_row(wording.in_words(name), *cells)
        table.add_section()
        cells = []
        for design in compared:
            cell = wording.percent(design.overall)
            if design.overall_difference is not None:
                cell += f"\n{wording.points_of_percent(design.overall_difference)}"
            cells.append(cell)
        table.add_row("all limits together", *cells)
        out.print(table)
        out.print(
            f"Common random numbers: {sampling.replicates} replicates of {sampling.points} points, "
            f"seed {sampling.seed}. An input of the same name draws the same numbers in each.",
            style="dim",
        )
        out.print()
        for limit in dict.fromkeys(telling_limit(first, design) for design in compared[1:]):
            out.print(_causes_table(compared, limit))
    for design in compared[1:]:
        out.print(comparison_verdict(first, design), markup=False)
    if not quiet:
        out.print()
        out.print(CAUTIONS, style="dim", markup=False)


CAUSES_SHOWN = 6


def _causes_table(compared: tuple[Compared, ...], limit: str) -> Table:
    """Lay side by side what moves one result in each design."""
    unit = next(item.unit for item in compared[0].study.limits if item.result == limit)
    table = _table(
        f"Why: {wording.in_words(limit)}, {unit or 'a pure number'}",
        "",
        *(design.study.name for design in compared),
    )
    table.add_row("mean", *(wording.measured(design.means[limit]) for design in compared))
    table.add_section()
    columns = []
    for design in compared:
        causes = list(design.causes.get(limit, {}).items())[:CAUSES_SHOWN]
        columns.append(
            [f"{wording.in_words(name)} {wording.measured(cause)}" for name, cause in causes]
        )
    for place in range(max(map(len, columns))):
        label = "what moves it, each alone" if place == 0 else ""
        table.add_row(label, *(cells[place] if place < len(cells) else "" for cells in columns))
    return table
