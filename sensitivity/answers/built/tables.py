"""Tables of ``built``: the parts, how many work, the settings, what matters now."""

from __future__ import annotations

from math import isnan

from sensitivity.answers.built.find import Built, Part
from sensitivity.answers.built.words import measured_names, still_to_measure
from sensitivity.answers.levels import band_ends, moments_in_words
from sensitivity.answers.ranking_tables import MEASURES
from sensitivity.answers.settings_words import as_drawn, settings_in_lines, settings_in_words
from sensitivity.engine.two_levels import TwoLevels
from sensitivity.presentation import cells, wording
from sensitivity.presentation.table import Cell, Column, Row, Table
from sensitivity.pricing.ranking import Ranked
from sensitivity.spreads.workshop import deviation_in_words


def parts_table(found: Built) -> Table:
    """Lay out each reading, and whether the part is as drawn."""
    columns = (
        Column("dimension", ("input",)),
        Column("", ("unit", "nominal"), seen="file"),
        Column("drawn between", ("tolerance_low", "tolerance_high")),
        Column("read", ("measured",), right=True),
        Column("with", ("instrument",)),
        Column("out by", seen="terminal"),
        Column("out by", ("instrument_errs",), seen="page"),
        Column("", ("standard_uncertainty", "guard_band"), seen="file"),
        Column("as drawn, %", ("conformance_probability",), right=True),
        Column("verdict", ("verdict",)),
    )
    return Table(
        "measured",
        "What was measured, and whether it is as drawn",
        columns,
        tuple(Row(_part_cells(part)) for part in found.parts),
    )


def _part_cells(part: Part) -> tuple[Cell, ...]:
    one, decided = part.measured, part.conformity
    errs = deviation_in_words(one.entry)
    return (
        cells.named(one.item.name),
        cells.filed(one.item.unit, one.item.nominal),
        cells.read_as(_tolerance(part), *(decided.tolerance or (None, None))),
        cells.read_as(one.words, one.value),
        cells.read_as(wording.instrument(one.entry.name), one.entry.name),
        cells.words(errs.partition(",")[0]),
        cells.text(errs),
        cells.filed(decided.uncertainty, decided.guard_band),
        cells.read_as(_probability(decided.probability), decided.probability),
        cells.text(decided.verdict),
    )


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


def yields_table(found: Built) -> Table:
    """Lay out, for readers, how likely it works before and after measuring, and set well."""
    inputs, best, there = found.study.inputs, found.best, found.there
    banded = any(levels.band is not None for levels in (found.drawn, found.now))
    rows = [
        ("as drawn, nothing measured", "", "", *_levels(found.drawn, banded)),
        (
            "as measured",
            settings_in_lines(as_drawn(found.settings), inputs),
            wording.gain_of_a_hundred(found.change),
            *_levels(found.now, banded),
        ),
    ]
    if best is not None and there is not None:
        rows.append(
            (
                "as measured, set well",
                settings_in_lines(best.at, inputs),
                wording.gain_of_a_hundred(best.gain),
                *_levels(there, banded),
            )
        )
    single = found.now.one_level is not None
    heads = ["which", "set", "gains, of 100"]
    heads += ["keeps every limit"] if single else [works_head(found.now)]
    if banded:
        heads.append("as the physics may turn out")
    if not single:
        heads.append("keeps, at a moment")
    return Table(
        "yields",
        "How likely it works",
        tuple(map(Column, heads)),
        tuple(Row(tuple(map(Cell, texts))) for texts in rows),
    )


def works_head(levels: TwoLevels) -> str:
    """Head a column of shares that work."""
    return f"works, in {moments_in_words(levels.keeps)}"


def _levels(levels: TwoLevels, banded: bool) -> list[str]:
    texts = [wording.percent(levels.works)]
    if levels.band is not None:
        low, high = band_ends(levels)
        texts.append(f"{low} to {high} %" if low != high else f"{low} %")
    elif banded:
        texts.append("")
    if levels.one_level is None:
        texts.append(wording.percent(levels.share))
    return texts


def settings_table(found: Built) -> Table:
    """Lay out, for files, how many work at each setting; no rows where nothing can be set."""
    inputs = () if found.settings is None else found.settings.inputs
    points = () if found.settings is None else found.settings.points.tolist()
    return Table(
        "settings",
        "How many work at each setting, as measured",
        (
            *(Column("", (item.name,), item.unit) for item in inputs),
            cells.interval_column("", "works"),
        ),
        tuple(
            Row((*(cells.filed(value) for value in point), cells.percent(share)), shown=False)
            for point, share in zip(points, found.at_settings, strict=True)
        ),
    )


def matters_table(found: Built, most: int | None = None) -> Table:
    """Lay out what matters now, what matters most first.

    Readers see the build dimensions that were not measured, ``most`` of them or all; files hold
    every input and group.
    """
    shown = still_to_measure(found)[:most]
    done = measured_names(found)
    where = ""
    if found.set_well is not None:
        where = f", with {settings_in_words(found.set_well.at, found.study.inputs)}"
    return Table(
        "matters_now",
        f"Not measured yet: what matters now{where}",
        (
            Column("dimension", ("input_or_group",)),
            Column("", ("kind", "measured"), seen="file"),
            Column("drawn"),
            Column("spread"),
            Column(MEASURES[found.ranking.measured_by], ("value", "low", "high")),
            Column("advice", ("advice",)),
        ),
        tuple(
            Row(_ranked_cells(row, row.name in done), shown=row in shown)
            for row in found.ranking.rows
        ),
    )


def _ranked_cells(row: Ranked, measured: bool) -> tuple[Cell, ...]:
    return (
        cells.named(row.name),
        cells.filed(row.kind, measured),
        cells.words(row.drawn),
        cells.words(row.spread),
        cells.index(row.measure),
        cells.text(row.advice if row.kind == "build" else ""),
    )
