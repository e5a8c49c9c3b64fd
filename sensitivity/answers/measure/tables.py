"""Tables of ``measure``: the order, each dimension alone, and what comes of setting nothing."""

from __future__ import annotations

from sensitivity.answers.levels import moments_in_words
from sensitivity.answers.measure.find import Measuring
from sensitivity.answers.measure.order import MeasureStep
from sensitivity.answers.measure.rejection import Rejection
from sensitivity.answers.measure.words import accepted_in_words, does
from sensitivity.answers.settings_words import adjustable_in_words, as_drawn, settings_in_cell
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
        cells.interval_column(GAINS, "gain"),
    )
    said = found.study.system.vocabulary
    if found.set_well is None:
        rejected, accepted = _rejection_heads(found)
        return Table(
            "order",
            "Measure in this order, and remake what is likelier to fail than to work",
            (
                *first,
                cells.interval_column(rejected, REJECTED),
                cells.interval_column(accepted, ACCEPTED),
            ),
            (
                _unfiled(
                    f"nothing, all {said.used}", "", "", "", "", wording.percent(found.as_drawn)
                ),
                *_steps(found),
            ),
        )
    columns = (
        *first,
        cells.interval_column(share_head(found), "works"),
        Column("", cells.interval_keys(REJECTED), seen="file"),
        Column("", cells.interval_keys(ACCEPTED), seen="file"),
    )
    well = found.set_well
    drawn = settings_in_cell(as_drawn(found.settings), found.units_said)
    rows = (
        _unfiled("nothing, as drawn", drawn, "", "", wording.percent(found.as_drawn), "", ""),
        _unfiled(
            "nothing, but set well",
            settings_in_cell(well.at, found.units_said),
            "",
            wording.gain_of_a_hundred(well.gain),
            wording.percent(well.overall),
            "",
            "",
        ),
        *_steps(found),
    )
    title = f"Measure in this order, and set {adjustable_in_words(found.settings)} to suit"
    return Table("order", title, columns, rows)


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
    share = () if step.overall is None else (cells.percent(step.overall),)
    return (
        cells.read_as(_numbered(place, step), place, step.name),
        *_reading_cells(step.reading),
        *share,
        *_rejection_cells(step.rejection, said),
    )


def _numbered(place: int, step: MeasureStep) -> str:
    return f"{place}. {wording.in_words(step.name)}"


def _reading_cells(reading: PricedReading) -> tuple[Cell, Cell, Cell]:
    return (
        cells.read_as(wording.instrument(reading.instrument), reading.instrument),
        cells.read_as(f"{reading.minutes:g}", reading.minutes),
        cells.gain(reading.gain),
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
        cells.interval_column("gains, known exactly", "gain"),
        Column("with"),
        Column("min", right=True),
        Column(GAINS),
        Column("a minute", right=True),
        Column("", ("minutes", "gain_per_minute", "advised"), seen="file"),
    )
    rows: list[Row] = []
    for candidate in found.candidates:
        rows.append(Row(_candidate_cells(candidate), shown=candidate.settled))
        rows += [
            Row(_tried_cells(candidate, reading), shown=False) for reading in candidate.readings
        ]
    return Table("alone", "Each measured alone", columns, tuple(rows))


def _candidate_cells(row: Candidate) -> tuple[Cell, ...]:
    advised = (
        "none reads it close enough" if row.readings else "no instrument in the table",
        "",
        "",
        "",
    )
    if row.advised is not None:
        with_what, minutes, gain = _reading_cells(row.advised)
        a_minute = wording.significant(100.0 * row.advised.per_minute, 2)
        advised = (with_what.text, minutes.text, gain.text, a_minute)
    return (
        cells.named(row.name),
        cells.filed(""),
        cells.gain(row.perfect),
        *map(cells.words, advised),
        cells.filed(None, None, None),
    )


def _tried_cells(row: Candidate, reading: PricedReading) -> tuple[Cell, ...]:
    return (
        cells.filed(row.name),
        cells.filed(reading.instrument),
        cells.gain(reading.gain),
        NOTHING,
        NOTHING,
        NOTHING,
        NOTHING,
        cells.filed(reading.minutes, reading.per_minute, reading == row.advised),
    )
