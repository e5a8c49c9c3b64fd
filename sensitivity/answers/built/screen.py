"""What ``built`` prints: the parts, the yield now and where to set it, what matters now."""

from __future__ import annotations

from math import isnan
from pathlib import Path

from rich.console import Console
from rich.table import Table

from sensitivity.answers.built.find import Built, Part
from sensitivity.answers.built.words import built_verdict, still_to_measure
from sensitivity.answers.measure.words import setting_in_words, settings_in_words
from sensitivity.presentation import wording
from sensitivity.presentation.cautions import CAUTIONS
from sensitivity.presentation.terminal import console, new_table
from sensitivity.spreads.workshop import deviation_in_words

SHOWN = 8
"""Dimensions shown of what matters now; the rest is named below the table."""


def show_built(found: Built, folder: Path | None, *, quiet: bool = False) -> None:
    """Print how the burner stands with what was measured."""
    out = console()
    if quiet:
        out.print(built_verdict(found))
        return
    out.print(found.study.title, style="bold")
    sampling = found.plan.sampling
    out.print(
        f"{sampling.replicates} replicates of {sampling.points} points, the same burners "
        f"throughout; seed {found.plan.seed}",
        style="dim",
    )
    out.print()
    out.print(_parts_table(found))
    _coarse(out, found)
    out.print(_yields_table(found))
    out.print("Gains: burners of 100.", style="dim")
    out.print()
    _matters(out, found)
    out.print(built_verdict(found))
    out.print()
    out.print(CAUTIONS, style="dim")
    if folder is not None:
        out.print()
        out.print(f"Written to {folder}/: report.html, result.json, tables, figures")


def _parts_table(found: Built) -> Table:
    table = new_table(
        "What was measured, and whether it is as drawn",
        "dimension",
        "drawn between",
        "read",
        "with",
        "out by",
        "as drawn, %",
        "verdict",
        right=(2, 5),
    )
    for part in found.parts:
        table.add_row(
            wording.in_words(part.measured.item.name),
            _tolerance(part),
            part.measured.words,
            wording.instrument(part.measured.entry.name),
            deviation_in_words(part.measured.entry).split(",")[0],
            _probability(part.conformity.probability),
            part.conformity.verdict,
        )
    return table


def _tolerance(part: Part) -> str:
    if part.conformity.tolerance is None:
        return ""
    low, high = part.conformity.tolerance
    return wording.value_range(low, high, part.measured.item.unit, (high - low) / 4.0)


def _probability(value: float) -> str:
    if isnan(value):
        return ""
    if 0.001 <= value <= 0.999:
        return f"{100.0 * value:.1f}"
    return "below 0.1" if value < 0.5 else "above 99.9"


def _coarse(out: Console, found: Built) -> None:
    for part in found.parts:
        if part.coarse:
            item = part.measured.item
            out.print(
                f"A {wording.instrument(part.measured.entry.name)} says less of "
                f"{wording.in_words(item.name)} than the drawing does ({item.stated}): read it "
                "closer, or leave the reading out.",
                markup=False,
            )
    out.print()


def _yields_table(found: Built) -> Table:
    table = new_table("How likely it works", "", "set", "gains", "keeps within")
    table.add_row("as drawn, nothing measured", "", "", wording.percent(found.as_drawn))
    drawn = {item.name: item.nominal for item in found.settings.inputs} if found.settings else {}
    at_drawing = "\n".join(settings_in_words(drawn, found.study.inputs))
    change = wording.gain_of_a_hundred(found.change)
    table.add_row("as measured", at_drawing, change, wording.percent(found.now))
    if found.best is not None:
        at_best = "\n".join(settings_in_words(found.best.at, found.study.inputs))
        gain = wording.gain_of_a_hundred(found.best.gain)
        table.add_row("as measured, set well", at_best, gain, wording.percent(found.best.overall))
    return table


def _matters(out: Console, found: Built) -> None:
    rows = still_to_measure(found)
    at = (
        f", with {setting_in_words(found.set_well.at, found.study.inputs)}"
        if found.set_well
        else ""
    )
    if rows:
        measure = "share in pass/fail"
        if found.ranking.measured_by == "distance":
            measure = "distance among failures"
        table = new_table(
            f"Not measured yet: what matters now{at}",
            "dimension",
            "drawn",
            "spread",
            measure,
            "advice",
        )
        for row in rows[:SHOWN]:
            table.add_row(
                wording.in_words(row.name),
                row.drawn,
                row.spread,
                wording.index(row.measure),
                row.advice,
            )
        out.print(table)
        rest = [wording.in_words(row.name) for row in rows[SHOWN:]]
        if rest:
            out.print(f"And less than these: {wording.listed(rest)}.", style="dim")
    elif found.ranking.note:
        out.print(found.ranking.note)
    out.print()
