"""What ``tighten`` prints: what halving each spread gains, the set for the target, one sentence."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console
from rich.table import Table

from sensitivity.answers.tighten.find import Halved, Tightened, halving_verdict, set_verdict
from sensitivity.presentation import wording
from sensitivity.presentation.cautions import CAUTIONS
from sensitivity.presentation.terminal import console, new_table
from sensitivity.pricing.allocation import Found
from sensitivity.pricing.closer_work import Dimension

UNSETTLED_SHOWN = 3
"""Halved dimensions shown beyond those that gain something; the JSON and the CSV hold all."""


def show_tightened(tightened: Tightened, folder: Path | None, *, quiet: bool = False) -> None:
    """Print what closer tolerances buy."""
    out, found = console(), tightened.found
    if quiet:
        words = halving_verdict(tightened) if found is None else set_verdict(tightened)
        out.print(words)
        return
    out.print(tightened.study.title, style="bold")
    sampling = tightened.plan.sampling
    out.print(
        f"{sampling.replicates} replicates of {sampling.points} points, the same burners for every "
        f"variant; seed {tightened.plan.seed}",
        style="dim",
    )
    out.print()
    _halved(out, tightened)
    if found is not None:
        out.print()
        _set(out, found)
        _notes(out, tightened)
    out.print()
    out.print(halving_verdict(tightened))
    if found is not None:
        out.print(set_verdict(tightened))
    out.print()
    out.print(CAUTIONS, style="dim")
    if folder is not None:
        out.print()
        out.print(f"Written to {folder}/: report.html, result.json, tables, figures")


def _halved(out: Console, tightened: Tightened) -> None:
    weighted = any(row.weighted is not None for row in tightened.halved)
    columns = ["dimension", "spread now", "yield gained"]
    if weighted:
        columns += ["effective sample", "effective failures"]
    table = new_table(
        f"If one spread is halved (as drawn {wording.percent(tightened.stated)})", *columns
    )
    shown = [row for row in tightened.halved if _gains(row)]
    others = [row for row in tightened.halved if not _gains(row)]
    for row in [*shown, *others[:UNSETTLED_SHOWN]]:
        table.add_row(*_halved_cells(row, weighted))
    out.print(table)
    if hidden := others[UNSETTLED_SHOWN:]:
        out.print(f"and {len(hidden)} more that gain nothing that is settled", style="dim")
    if weighted:
        out.print(
            "By weights: the burners as drawn, each counted for as much as it stands for; the "
            "effective sample is what is left of them.",
            style="dim",
        )


def _gains(row: Halved) -> bool:
    return row.gain is None or row.gain.low > 0.0


def _halved_cells(row: Halved, weighted: bool) -> list[str]:
    cells = [_name(row.dimension), row.dimension.inputs[0].stated]
    if row.gain is None:
        return [*cells, f"not by weights: {row.refused}", "", ""]
    cells.append(_gain(row))
    if weighted and row.weighted is not None:
        cells += [
            f"{100 * row.weighted.effective:.0f} %",
            f"{row.weighted.effective_failures:.0f}",
        ]
    return cells


def _gain(row: Halved) -> str:
    assert row.gain is not None
    if row.gain.low != row.gain.low:
        return "too few failures to say"
    return wording.points_of_percent(row.gain)


def _name(dimension: Dimension) -> str:
    name = wording.in_words(dimension.name)
    count = len(dimension.inputs)
    return name if count == 1 else f"{name} ({count} alike)"


def _set(out: Console, found: Found) -> None:
    if found.steps:
        head = (
            "Cheapest set found" if found.reached else "Worth doing, though short of what is wanted"
        )
        out.print(_steps_table(f"{head}: {wording.of_a_hundred(found.target)}", found))
    lowest = wording.number(100 * found.overall.low, 2)
    if found.reached:
        out.print(
            f"Borne out by a sample of another seed ({found.fresh_seed}): its low end, {lowest} %, "
            "reaches the target.",
            style="dim",
        )
    else:
        out.print(f"All of it on a sample of another seed ({found.fresh_seed}).", style="dim")


def _steps_table(title: str, found: Found) -> Table:
    table = new_table(
        title, "hold closer", "by", "instead of", "adds, min", "yield with all so far", right=(3,)
    )
    table.add_row("as drawn", "", "", "", wording.percent(found.as_drawn))
    guessed = False
    for step in found.steps:
        choice, first = step.choice, step.dimension.inputs[0]
        by = (
            wording.in_words(choice.process)
            if choice.process
            else f"{choice.factor:g} of its spread"
        )
        guessed = guessed or not choice.process
        instead = wording.in_words(first.process) if first.process else first.stated
        minutes = f"{choice.minutes:.0f}" if choice.process else f"~{choice.minutes:.1f}"
        table.add_row(_name(step.dimension), by, instead, minutes, wording.percent(step.overall))
    table.add_section()
    table.add_row("in all", "", "", f"{found.minutes:.0f}", wording.percent(found.overall))
    if guessed:
        table.caption = (
            "~ the study names no process here; minutes read off the trend of the workshop table"
        )
        table.caption_justify = "left"
    return table


def _notes(out: Console, tightened: Tightened) -> None:
    gaining = {row.dimension.name for row in tightened.halved if _gains(row)}
    by_note: dict[str, list[str]] = {}
    for dimension in tightened.dimensions:
        if dimension.note and dimension.name in gaining:
            by_note.setdefault(dimension.note, []).append(wording.in_words(dimension.name))
    for note, names in by_note.items():
        out.print(f"Left as it is: {wording.listed(names)}: {note}.", style="dim")
