"""Tables of ``built``: the parts, what they tell, how many work, settings, what matters now."""

from __future__ import annotations

from math import isnan

from sensitivity.answers import narrow
from sensitivity.answers.built.find import Built, Part, Told
from sensitivity.answers.built.matters import Matter
from sensitivity.answers.built.words import SAID, advice, errs_in_words
from sensitivity.answers.finalists import of_which
from sensitivity.answers.levels import band_ends, moments_in_words
from sensitivity.answers.settings_words import as_drawn, settings_in_cell
from sensitivity.engine.intervals import Estimate
from sensitivity.engine.two_levels import TwoLevels
from sensitivity.presentation import cells, wording
from sensitivity.presentation.table import Cell, Column, Row, Table
from sensitivity.presentation.units_said import Said
from sensitivity.study.study import Input

FINE_MM = 0.1
"""A deviation, mm, for which two digits of it are a thousandth, which no bench reads."""


def parts_table(found: Built) -> Table:
    """Lay out each reading, and whether the part is as drawn."""
    columns = (
        Column("dimension", ("input",)),
        Column("", ("unit", "nominal"), seen="file"),
        Column("drawn between", ("tolerance_low", "tolerance_high")),
        Column("", ("expected_low", "expected_high"), seen="file"),
        Column("read", ("measured",), right=True),
        Column("with", ("instrument",)),
        Column("out by", ("instrument_errs",), seen="page"),
        Column("", ("standard_uncertainty", "guard_band"), seen="file"),
        Column("as drawn, %", ("conformance_probability",), right=True, seen="page"),
        Column("is it as drawn", ("verdict",)),
    )
    return Table(
        "measured",
        "What was measured, and whether it is as drawn",
        columns,
        tuple(Row(_part_cells(found, part)) for part in found.parts),
    )


def _part_cells(found: Built, part: Part) -> tuple[Cell, ...]:
    one, decided, unit = part.measured, part.conformity, part.measured.item.unit
    errs = errs_in_words(found.said, one)
    return (
        cells.named(one.item.name),
        Cell("", (unit, one.drawn), unit),
        Cell(_tolerance(found, part), decided.tolerance or (None, None), unit),
        Cell("", part.expected or (None, None), unit),
        Cell(one.words, (one.value,), unit),
        cells.read_as(wording.instrument(one.entry.name), one.entry.name),
        cells.text(errs),
        Cell("", (decided.uncertainty, decided.guard_band), unit),
        cells.read_as(_probability(decided.probability), decided.probability),
        cells.read_as(SAID[decided.verdict], decided.verdict),
    )


def _tolerance(found: Built, part: Part) -> str:
    ends = part.conformity.tolerance or part.expected
    if ends is None:
        return ""
    low, high = ends
    told = found.said.of(part.measured.item.name).pair(low, high, (high - low) / 4.0)
    return f"comes out at\n{told}" if part.expected is not None else told


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
        ("as drawn, unmeasured", "", "", "", *_levels(found.drawn, banded)),
        (
            "as measured",
            settings_in_cell(as_drawn(found.settings), found.said),
            *_gained(found.change),
            *_levels(found.now, banded),
        ),
    ]
    # Where it stands best as drawn its share, that of a choice, would differ by that alone.
    if best is not None and there is not None and best.at != as_drawn(found.settings):
        rows.append(
            (
                "as measured, set well",
                settings_in_cell(best.at, found.said),
                *_gained(best.gain),
                *_levels(there, banded),
            )
        )
    single = found.now.one_level is not None
    columns = [
        Column("which"),
        Column("set"),
        Column("gains, of 100", seen="page"),
        Column(narrow.heading("gains, of 100"), right=True, seen="terminal"),
        Column("keeps every limit" if single else works_head(found.now), seen="page"),
        Column(
            narrow.heading("keep, of 100" if single else "work, of 100"),
            right=True,
            seen="terminal",
        ),
    ]
    if banded:
        columns.append(Column(narrow.heading("as the physics may turn out")))
    if not single:
        columns.append(Column("keeps, at a moment", seen="page"))
    meaning = "" if single else f" (to work: {of_which(found.now)})"
    return Table(
        "yields",
        f"How likely it works{meaning}",
        tuple(columns),
        tuple(Row(tuple(map(Cell, texts))) for texts in rows),
    )


def _gained(gain: Estimate) -> tuple[str, str]:
    return wording.gain_of_a_hundred(gain), narrow.gain(gain)


def works_head(levels: TwoLevels) -> str:
    """Head a column of shares that work."""
    return f"works, in {moments_in_words(levels.keeps)}"


def _levels(levels: TwoLevels, banded: bool) -> list[str]:
    texts = [wording.percent(levels.works), narrow.share(levels.works)]
    if levels.band is not None:
        low, high = band_ends(levels)
        texts.append(f"{low} to {high}" if low != high else low)
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
                    Cell("", (one.item.unit,), one.item.unit),
                    Cell(_spread(found.said, one, one.before), one.before, one.item.unit),
                    Cell(_spread(found.said, one, one.after), one.after, one.item.unit),
                ),
                shown=most is None or place < most,
            )
            for place, one in enumerate(found.told)
        ),
    )


def _spread(said: Said, one: Told, of: tuple[float, float]) -> str:
    """Write mean and standard deviation: ``0.3 deg give or take 0.9 deg``."""
    mean, deviation = of
    strays = said.spread_of(one.item.name)
    scale = FINE_MM if one.item.unit == "mm" and 0.3 * FINE_MM < deviation < FINE_MM else deviation
    return f"{said.of(one.item.name).text(mean, scale)} give or take {strays.rough(deviation)}"


def matters_table(found: Built, most: int | None = None) -> Table:
    """Lay out what still matters, what gains most first; readers see ``most`` rows or all."""
    return Table(
        "matters_now",
        "Not measured yet: what it would gain if it were known",
        (
            Column("dimension", ("name",)),
            Column("drawn", seen="page"),
            Column("spread", seen="page"),
            Column("gains, of 100", ("gain", "low", "high"), seen="page"),
            Column("gains, of 100", right=True, seen="terminal"),
            Column("read with", ("instrument",)),
            Column("advice", ("advice",)),
        ),
        tuple(
            Row(_matter_cells(found.said, one), shown=most is None or place < most)
            for place, one in enumerate(found.matters)
        ),
    )


def _matter_cells(said: Said, one: Matter) -> tuple[Cell, ...]:
    item = one.item
    drawn, spread = "as it comes out", ""
    if isinstance(item, Input):
        drawn, spread = said.drawn(item), said.stated(item)
    gain = (one.gain.value, one.gain.low, one.gain.high)
    return (
        cells.named(item.name),
        cells.words(drawn),
        cells.words(spread),
        cells.read_as(wording.gain_of_a_hundred(one.gain), *gain),
        Cell(narrow.gain(one.gain)),
        cells.read_as(wording.instrument(one.instrument), one.instrument),
        cells.text(advice(one)),
    )
