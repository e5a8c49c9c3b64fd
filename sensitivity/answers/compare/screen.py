"""What ``compare`` prints: designs side by side, and why they differ."""

from __future__ import annotations

from rich.table import Table

from sensitivity.answers.compare.find import Compared, comparison_verdict, telling_limit
from sensitivity.presentation import wording
from sensitivity.presentation.cautions import CAUTIONS
from sensitivity.presentation.terminal import console, new_table
from sensitivity.study.study import Sampling

CAUSES_SHOWN = 6


def show_comparison(
    compared: tuple[Compared, ...], sampling: Sampling, *, quiet: bool = False
) -> None:
    """Print designs side by side, each against the first."""
    out = console()
    first = compared[0]
    if not quiet:
        table = new_table(
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
            f"seed {sampling.seed}, as the first design asks. An input of the same name draws the "
            "same numbers in each.",
            style="dim",
        )
        out.print()
        for limit in dict.fromkeys(telling_limit(first, design) for design in compared[1:]):
            out.print(_causes_table(compared, limit))
    for design in compared[1:]:
        out.print(comparison_verdict(first, design))
    if not quiet:
        out.print()
        out.print(CAUTIONS, style="dim")


def _causes_table(compared: tuple[Compared, ...], limit: str) -> Table:
    """Lay side by side what moves one result in each design."""
    unit = next(item.unit for item in compared[0].study.limits if item.result == limit)
    table = new_table(
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
