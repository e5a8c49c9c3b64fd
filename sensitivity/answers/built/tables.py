"""Tables of ``built``: the parts, what they tell, how many work, settings, what matters now."""

from __future__ import annotations

from math import isnan

from sensitivity.answers.built.find import Built, Part
from sensitivity.answers.built.matters import Matter
from sensitivity.answers.built.words import SAID, advice
from sensitivity.answers.levels import band_ends, moments_in_words
from sensitivity.answers.settings_words import as_drawn, settings_in_cell
from sensitivity.engine.two_levels import TwoLevels
from sensitivity.presentation import cells, wording
from sensitivity.presentation.table import Cell, Column, Row, Table
from sensitivity.spreads.workshop import deviation_in_words
from sensitivity.study.study import Input


def parts_table(found: Built) -> Table:
    """Lay out each reading, and whether the part is as drawn."""
    columns = (
        Column("dimension", ("input",)),
        Column("", ("unit", "nominal"), seen="file"),
        Column("drawn between", ("tolerance_low", "tolerance_high")),
        Column("", ("expected_low", "expected_high"), seen="file"),
        Column("read", ("measured",), right=True),
        Column("with", ("instrument",)),
        Column("out by", seen="terminal"),
        Column("out by", ("instrument_errs",), seen="page"),
        Column("", ("standard_uncertainty", "guard_band"), seen="file"),
        Column("as drawn, %", ("conformance_probability",), right=True),
        Column("is it as drawn", ("verdict",)),
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
        cells.filed(one.item.unit, one.drawn),
        cells.read_as(_tolerance(part), *(decided.tolerance or (None, None))),
        cells.filed(*(part.expected or (None, None))),
        cells.read_as(one.words, one.value),
        cells.read_as(wording.instrument(one.entry.name), one.entry.name),
        cells.words(errs.partition(",")[0]),
        cells.text(errs),
        cells.filed(decided.uncertainty, decided.guard_band),
        cells.read_as(_probability(decided.probability), decided.probability),
        cells.read_as(SAID[decided.verdict], decided.verdict),
    )


def _tolerance(part: Part) -> str:
    ends = part.conformity.tolerance or part.expected
    if ends is None:
        return ""
    low, high = ends
    if part.expected is not None:
        told = wording.value_range(low, high, part.measured.item.unit, (high - low) / 4.0)
        return f"comes out at {told}"
    return wording.value_range(low, high, part.measured.item.unit, (high - low) / 4.0)


def _probability(value: float) -> str:
    if isnan(value):
        return ""
    if 0.001 <= value <= 0.999:
        return f"{100.0 * value:.1f}"
    return "below 0.1" if value < 0.5 else "above 99.9"


def yields_table(found: Built) -> Table:
    """Lay out, for readers, how likely it works before and after measuring, and set well."""
    best, there = found.best, found.there
    banded = any(levels.band is not None for levels in (found.drawn, found.now))
    rows = [
        ("as drawn, nothing measured", "", "", *_levels(found.drawn, banded)),
        (
            "as measured",
            settings_in_cell(as_drawn(found.settings), found.said),
            wording.gain_of_a_hundred(found.change),
            *_levels(found.now, banded),
        ),
    ]
    if best is not None and there is not None:
        rows.append(
            (
                "as measured, set well",
                settings_in_cell(best.at, found.said),
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


def told_table(found: Built, most: int | None = None) -> Table:
    """Lay out what the readings say of what was not read itself; readers see ``most`` or all."""
    return Table(
        "told",
        "What the readings say of what was not read",
        (
            Column("of", ("input",)),
            Column("", ("unit",), seen="file"),
            Column("as stated", ("mean_before", "standard_deviation_before")),
            Column("with the readings", ("mean_after", "standard_deviation_after")),
        ),
        tuple(
            Row(
                (
                    cells.named(one.item.name),
                    cells.filed(one.item.unit),
                    cells.read_as(_spread(one.before, one.item.unit), *one.before),
                    cells.read_as(_spread(one.after, one.item.unit), *one.after),
                ),
                shown=most is None or place < most,
            )
            for place, one in enumerate(found.told)
        ),
    )


def _spread(of: tuple[float, float], unit: str) -> str:
    """Write mean and standard deviation: ``0.3 give or take 0.9 deg``."""
    mean, deviation = of
    decimals = wording.decimals_for(deviation)
    text = f"{wording.number(mean, decimals)} give or take {wording.number(deviation, decimals)}"
    return wording.with_unit(text, unit)


def matters_table(found: Built, most: int | None = None) -> Table:
    """Lay out what still matters, what gains most first; readers see ``most`` rows or all."""
    return Table(
        "matters_now",
        "Not measured yet: what it would gain if it were known",
        (
            Column("dimension", ("name",)),
            Column("drawn"),
            Column("spread"),
            Column("gains, of 100", ("gain", "low", "high")),
            Column("read with", ("instrument",)),
            Column("advice", ("advice",)),
        ),
        tuple(
            Row(_matter_cells(one), shown=most is None or place < most)
            for place, one in enumerate(found.matters)
        ),
    )


def _matter_cells(one: Matter) -> tuple[Cell, ...]:
    item = one.item
    drawn, spread = "as it comes out", ""
    if isinstance(item, Input):
        drawn, spread = wording.drawn(item), item.stated
    gain = (one.gain.value, one.gain.low, one.gain.high)
    return (
        cells.named(item.name),
        cells.words(drawn),
        cells.words(spread),
        cells.read_as(wording.gain_of_a_hundred(one.gain), *gain),
        cells.read_as(wording.instrument(one.instrument), one.instrument),
        cells.text(advice(one)),
    )
