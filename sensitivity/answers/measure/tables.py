"""Tables of ``measure``: the order, each dimension alone, and what comes of setting nothing."""

from __future__ import annotations

from sensitivity.answers import narrow
from sensitivity.answers.finalists import of_which
from sensitivity.answers.levels import moments_in_words
from sensitivity.answers.measure.find import Measuring
from sensitivity.answers.measure.order import MeasureStep
from sensitivity.answers.measure.rejection import Rejection
from sensitivity.answers.measure.words import accepted_in_words, does
from sensitivity.answers.settings_words import adjustable_in_words, as_drawn, settings_in_cell
from sensitivity.engine.intervals import Proportion
from sensitivity.presentation import cells, wording
from sensitivity.presentation.cells import NOTHING
from sensitivity.presentation.table import Cell, Column, Row, Table
from sensitivity.pricing.reading_bench import Candidate, PricedReading
from sensitivity.system.vocabulary import Vocabulary

GAINS = "gains, of 100"
REJECTED, ACCEPTED = "left_unlit", "works_of_those_lit"
"""Names in files of the share rejected, and of the share of those accepted that works."""


def order_table(found: Measuring) -> Table:
    """Lay out the order of measuring, with the share that works after each reading."""
    first = (
        Column("measured", ("step", "dimension")),
        Column("with", ("instrument",)),
        Column("min", ("minutes",), right=True),
        *narrow.gain_columns(GAINS, "gain", "gains, of 100"),
    )
    said = found.study.system.vocabulary
    if found.set_well is None:
        rejected, accepted = _rejection_heads(found)
        none = f"nothing, all {said.used}"
        return Table(
            "order",
            "Measure in this order, and remake what is likelier to fail than to work",
            (
                *first,
                *narrow.share_columns(rejected, REJECTED, rejected),
                *narrow.share_columns(accepted, ACCEPTED, accepted),
            ),
            (
                _unfiled(none, "", "", "", "", "", "", *_both(found.as_drawn)),
                *_steps(found),
            ),
        )
    columns = (
        *first,
        *narrow.share_columns(share_head(found), "works", f"{does(found)}, of 100"),
        Column("", cells.interval_keys(REJECTED), seen="file"),
        Column("", cells.interval_keys(ACCEPTED), seen="file"),
    )
    well = found.set_well
    drawn, at = (
        f"\n({settings_in_cell(setting, found.units_said)})" if len(setting) == 1 else ""
        for setting in (as_drawn(found.settings), well.at)
    )
    gained = (wording.gain_of_a_hundred(well.gain), narrow.gain(well.gain))
    rows = (
        _unfiled(f"nothing, as drawn{drawn}", "", "", "", "", *_both(found.as_drawn), "", ""),
        _unfiled(f"nothing, but set well{at}", "", "", *gained, *_both(well.overall), "", ""),
        *_steps(found),
    )
    title = f"Measure in this order, and set {adjustable_in_words(found.settings)} to suit"
    if not found.levels.one_level:
        title += f" (to work: {of_which(found.levels)})"
    return Table("order", title, columns, rows)


def _both(share: Proportion) -> tuple[str, str]:
    """Write a share for a page and for a terminal."""
    return wording.percent(share), narrow.share_with_interval(share)


def share_head(found: Measuring) -> str:
    """Head a column of shares that work."""
    if found.levels.one_level:
        return "keeps every limit"
    return f"works, in {moments_in_words(found.levels.keeps)}"


def _rejection_heads(found: Measuring) -> tuple[str, str]:
    used = found.study.system.vocabulary.used
    return f"not {used}", f"of those {used} {does(found)}"


def _unfiled(*texts: str) -> Row:
    return Row(tuple(map(Cell, texts)), filed=False)


def _steps(found: Measuring) -> list[Row]:
    return [
        Row(_step_cells(place, step, found.study.system.vocabulary), ruled=place == 1)
        for place, step in enumerate(found.steps, start=1)
    ]


def _step_cells(place: int, step: MeasureStep, said: Vocabulary) -> tuple[Cell, ...]:
    rejected, accepted = _rejection_cells(step.rejection, said)
    first = (
        cells.read_as(_numbered(place, step), place, step.name),
        *_reading_cells(step.reading),
    )
    if step.overall is not None:
        return *first, *narrow.share_cells(step.overall, interval=True), rejected, accepted
    short = narrow.share(step.rejection.share), narrow.share(step.rejection.accepted)
    if step.rejection.accepted.rows == 0:
        short = (short[0], "")
    return *first, rejected, Cell(short[0]), accepted, Cell(short[1])


def _numbered(place: int, step: MeasureStep) -> str:
    return f"{place}. {wording.in_words(step.name)}"


def _reading_cells(reading: PricedReading) -> tuple[Cell, Cell, Cell, Cell]:
    return (
        cells.read_as(wording.instrument(reading.instrument), reading.instrument),
        cells.read_as(f"{reading.minutes:g}", reading.minutes),
        *narrow.gain_cells(reading.gain),
    )


def _rejection_cells(rejection: Rejection, said: Vocabulary) -> tuple[Cell, Cell]:
    share = wording.percent(rejection.share)
    if rejection.share.passes == 0:
        share = "none"
    elif rejection.share.failures == 0:
        share = "all"
    return (
        Cell(share, cells.interval_values(rejection.share)),
        Cell(accepted_in_words(rejection, said), cells.interval_values(rejection.accepted)),
    )


def rejection_table(found: Measuring, at: str) -> Table:
    """Lay out, for readers, what comes of one setting for all (``at``) and of remaking."""
    assert found.set_well is not None
    said = found.study.system.vocabulary
    rows = [_unfiled(f"nothing, all {said.used}", "", wording.percent(found.set_well.overall))]
    for place, step in enumerate(found.steps, start=1):
        rejected, accepted = (cell.text for cell in _rejection_cells(step.rejection, said))
        rows.append(_unfiled(_numbered(place, step), rejected, accepted))
    return Table(
        "rejection",
        f"Or with {at} for all, and what is likelier to fail than to work remade",
        tuple(map(Column, ("measured so far", *_rejection_heads(found)))),
        tuple(rows),
    )


def alone_table(found: Measuring) -> Table:
    """Lay out what each reading gains alone: known exactly, and by each instrument.

    Readers see those whose gain is settled, with the instrument advised; files hold a row for
    each dimension and result, its instrument empty, and one for each of its instruments.
    """
    columns = (
        Column("measured", ("dimension",)),
        Column("", ("instrument",), seen="file"),
        *narrow.gain_columns("gains, known exactly", "gain", "known exactly"),
        Column("with"),
        Column("min", right=True),
        Column(GAINS, seen="page"),
        Column(narrow.heading("gains so read"), right=True, seen="terminal"),
        Column("a minute", right=True),
        Column("", ("minutes", "gain_per_minute", "advised"), seen="file"),
    )
    rows: list[Row] = []
    for candidate in found.candidates:
        rows.append(Row(_candidate_cells(candidate), shown=candidate.settled))
        rows += [
            Row(_tried_cells(candidate, reading), shown=False) for reading in candidate.readings
        ]
    return Table("alone", "Each measured alone: what it gains, of 100", columns, tuple(rows))


def _candidate_cells(row: Candidate) -> tuple[Cell, ...]:
    none = "none reads it close enough" if row.readings else "no instrument in the table"
    advised: tuple[str, ...] = (none, "", "", "", "")
    if row.advised is not None:
        a_minute = wording.significant(100.0 * row.advised.per_minute, 2)
        advised = (*(cell.text for cell in _reading_cells(row.advised)), a_minute)
    return (
        cells.named(row.name),
        cells.filed(""),
        *narrow.gain_cells(row.perfect),
        *map(cells.words, advised),
        cells.filed(None, None, None),
    )


def _tried_cells(row: Candidate, reading: PricedReading) -> tuple[Cell, ...]:
    return (
        cells.filed(row.name),
        cells.filed(reading.instrument),
        *narrow.gain_cells(reading.gain),
        *(NOTHING,) * 5,
        cells.filed(reading.minutes, reading.per_minute, reading == row.advised),
    )
