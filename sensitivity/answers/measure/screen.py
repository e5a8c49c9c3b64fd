"""What ``measure`` prints: the order, what each dimension is worth alone, one sentence."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console
from rich.table import Table

from sensitivity.answers.measure.find import Measuring, Step
from sensitivity.answers.measure.words import (
    adjustable_in_words,
    measuring_verdict,
    setting_in_words,
    settings_in_words,
    share_in_words,
)
from sensitivity.presentation import wording
from sensitivity.presentation.cautions import CAUTIONS
from sensitivity.presentation.terminal import console, new_table


def show_measuring(found: Measuring, folder: Path | None, *, quiet: bool = False) -> None:
    """Print in which order to measure, with what, and the yield after each reading."""
    out = console()
    if quiet:
        out.print(measuring_verdict(found))
        return
    out.print(found.study.title, style="bold")
    sampling = found.plan.sampling
    burners = 2 * sampling.points * sampling.replicates
    tried = f", each at {len(found.settings.points)} settings" if found.settings else ""
    out.print(
        f"{sampling.replicates} replicates of {sampling.points} points, {burners:,} "
        f"burners{tried}; seed {found.plan.seed}",
        style="dim",
    )
    out.print()
    out.print(_order_to_set(found) if found.set_well else _order_to_light(found))
    _notes(out, found)
    _alone(out, found)
    if found.set_well and found.steps:
        out.print(_unlit_table(found))
        out.print()
    out.print(measuring_verdict(found))
    if found.steps and found.set_well:
        out.print('With the readings in hand, "spiritlevel built" says where to set it.')
    out.print()
    out.print(CAUTIONS, style="dim")
    if folder is not None:
        out.print()
        out.print(f"Written to {folder}/: report.html, result.json, tables, figures")


def _order_to_set(found: Measuring) -> Table:
    assert found.set_well is not None
    assert found.settings is not None
    table = new_table(
        f"Measure in this order, and set {adjustable_in_words(found)} to suit",
        "measured",
        "with",
        "min",
        "gains",
        "keeps within",
        right=(2,),
    )
    drawn = {item.name: item.nominal for item in found.settings.inputs}
    at_drawing = "\n".join(settings_in_words(drawn, found.study.inputs))
    at_best = "\n".join(settings_in_words(found.set_well.at, found.study.inputs))
    table.add_row("nothing, as drawn", at_drawing, "", "", wording.percent(found.as_drawn))
    table.add_row(
        "nothing, but set well",
        at_best,
        "",
        wording.gain_of_a_hundred(found.set_well.gain),
        wording.percent(found.set_well.overall),
    )
    table.add_section()
    for place, step in enumerate(found.steps, start=1):
        assert step.overall is not None
        table.add_row(*_reading_cells(place, step), wording.percent(step.overall))
    return table


def _order_to_light(found: Measuring) -> Table:
    table = new_table(
        "Measure in this order, and remake what is likelier to fail than to work",
        "measured",
        "with",
        "min",
        "gains",
        "not lit",
        "of those lit within",
        right=(2,),
    )
    table.add_row("nothing, all lit", "", "", "", "", wording.percent(found.as_drawn))
    table.add_section()
    for place, step in enumerate(found.steps, start=1):
        table.add_row(*_reading_cells(place, step), *_unlit_cells(step))
    return table


def _reading_cells(place: int, step: Step) -> tuple[str, str, str, str]:
    reading = step.reading
    return (
        f"{place}. {wording.in_words(step.name)}",
        wording.instrument(reading.instrument),
        f"{reading.minutes:g}",
        wording.gain_of_a_hundred(reading.gain),
    )


def _unlit_cells(step: Step) -> tuple[str, str]:
    unlit = step.unlit
    share = wording.percent(unlit.share)
    if unlit.share.passes == 0:
        share = "none"
    elif unlit.share.failures == 0:
        share = "all"
    return (
        share,
        share_in_words(unlit.lit),
    )


def _notes(out: Console, found: Measuring) -> None:
    if found.ceiling is None:
        note = "Gains of 100 built: bad burners kept unlit, less good ones remade."
    else:
        note = (
            f"Gains: burners of 100. No measuring can do better than "
            f"{wording.percent(found.ceiling)}; the others work at no "
            f"{adjustable_in_words(found)} that can be set."
        )
    out.print(note, style="dim")
    out.print()


def _alone(out: Console, found: Measuring) -> None:
    shown = [row for row in found.candidates if row.settled]
    if shown:
        table = new_table(
            "Each dimension measured alone",
            "dimension",
            "gains, known exactly",
            "with",
            "min",
            "gains",
            right=(3,),
        )
        for row in shown:
            name, perfect = wording.in_words(row.name), wording.gain_of_a_hundred(row.perfect)
            if row.advised is not None:
                reading = row.advised
                instrument = wording.instrument(reading.instrument)
                cells = (
                    instrument,
                    f"{reading.minutes:g}",
                    wording.gain_of_a_hundred(reading.gain),
                )
            elif row.readings:
                cells = ("none reads it close enough", "", "")
            else:
                cells = ("no instrument in the table", "", "")
            table.add_row(name, perfect, *cells)
        out.print(table)
    others = [wording.in_words(row.name) for row in found.candidates if not row.settled]
    if others:
        out.print(
            f"No gain alone, though they may tell together: {wording.listed(others)}.", style="dim"
        )
    out.print()


def _unlit_table(found: Measuring) -> Table:
    assert found.set_well is not None
    where = setting_in_words(found.set_well.at, found.study.inputs)
    table = new_table(
        f"Or with {where} for all, and what is likelier to fail than to work remade",
        "measured so far",
        "not lit",
        "of those lit keep within",
    )
    table.add_row("nothing, all lit", "", wording.percent(found.set_well.overall))
    for place, step in enumerate(found.steps, start=1):
        table.add_row(f"{place}. {wording.in_words(step.name)}", *_unlit_cells(step))
    return table
