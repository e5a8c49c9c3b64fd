"""What ``measure`` prints: the order, what each dimension is worth alone, one sentence."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console
from rich.table import Table

from sensitivity import wording
from sensitivity.cautions import CAUTIONS
from sensitivity.decisions.measuring import Measuring, Step
from sensitivity.decisions.measuring_answer import (
    adjustable_in_words,
    measuring_verdict,
    setting_in_words,
    share_in_words,
)
from sensitivity.screen import console, new_table


def show_measuring(found: Measuring, folder: Path | None, *, quiet: bool = False) -> None:
    """Print in which order to measure, with what, and the yield after each reading."""
    out = console()
    if quiet:
        out.print(measuring_verdict(found), markup=False)
        return
    out.print(found.study.title, style="bold", markup=False)
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
    _ceiling(out, found)
    _alone(out, found)
    if found.set_well and found.steps:
        out.print(_unlit_table(found))
        out.print()
    out.print(measuring_verdict(found), markup=False)
    if found.steps and found.set_well:
        out.print('With the readings in hand, "spiritlevel built" says where to set it.')
    out.print()
    out.print(CAUTIONS, style="dim", markup=False)
    if folder is not None:
        out.print()
        out.print(f"Written to {folder}/: result.json, tables, figures", markup=False)


def _order_to_set(found: Measuring) -> Table:
    assert found.set_well is not None
    assert found.settings is not None
    table = new_table(
        f"Measure in this order, and set {adjustable_in_words(found)} to suit",
        "",
        "with",
        "min",
        "gains",
        "keeps within every limit",
        right=(2,),
    )
    drawn = {item.name: item.nominal for item in found.settings.inputs}
    at_drawing = setting_in_words(drawn, found.study.inputs)
    at_best = setting_in_words(found.set_well.at, found.study.inputs)
    table.add_row(f"as drawn, {at_drawing}", "", "", "", wording.percent(found.as_drawn))
    table.add_row(
        f"{at_best}, nothing measured",
        "",
        "",
        wording.points_of_percent(found.set_well.gain),
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
        "",
        "with",
        "min",
        "gains",
        "not lit",
        "of those lit keep within",
        right=(2,),
    )
    table.add_row("as drawn, all lit", "", "", "", "", wording.percent(found.as_drawn))
    table.add_section()
    for place, step in enumerate(found.steps, start=1):
        table.add_row(*_reading_cells(place, step), *_unlit_cells(step))
    return table


def _reading_cells(place: int, step: Step) -> tuple[str, str, str, str]:
    reading = step.reading
    return (
        f"{place}. {wording.in_words(step.name)}",
        wording.in_words(reading.instrument),
        f"{reading.minutes:g}",
        wording.points_of_percent(reading.gain),
    )


def _unlit_cells(step: Step) -> tuple[str, str]:
    unlit = step.unlit
    return (
        "all" if unlit.share.failures == 0 else wording.percent(unlit.share),
        share_in_words(unlit.lit),
    )


def _ceiling(out: Console, found: Measuring) -> None:
    if found.ceiling is None:
        out.print(
            "Gains: bad burners kept unlit, less good ones remade, of 100 built.", style="dim"
        )
    else:
        out.print(
            f"No measuring can do better than {wording.percent(found.ceiling)}: the others work at no "
            f"{adjustable_in_words(found)}.",
            style="dim",
            markup=False,
        )
    out.print()


def _alone(out: Console, found: Measuring) -> None:
    shown = [row for row in found.candidates if row.perfect.low > 0.0]
    if shown:
        table = new_table(
            "Each dimension measured alone",
            "dimension",
            "known exactly",
            "with",
            "min",
            "gains",
            right=(3,),
        )
        for row in shown:
            reading = row.advised
            table.add_row(
                wording.in_words(row.name),
                wording.points_of_percent(row.perfect),
                "no instrument in the table"
                if reading is None
                else reading.instrument.replace("_", " "),
                "" if reading is None else f"{reading.minutes:g}",
                "" if reading is None else wording.points_of_percent(reading.gain),
            )
        out.print(table)
    others = [wording.in_words(row.name) for row in found.candidates if row not in shown]
    if others:
        out.print(f"Gain nothing alone: {wording.listed(others)}.", style="dim", markup=False)
    out.print()


def _unlit_table(found: Measuring) -> Table:
    assert found.set_well is not None
    where = setting_in_words(found.set_well.at, found.study.inputs)
    table = new_table(
        f"The same readings with {where} for all: remake what is likelier to fail than to work",
        "measured so far",
        "not lit",
        "of those lit keep within",
    )
    table.add_row("nothing, all lit", "", wording.percent(found.set_well.overall))
    for place, step in enumerate(found.steps, start=1):
        table.add_row(f"{place}. {wording.in_words(step.name)}", *_unlit_cells(step))
    return table
