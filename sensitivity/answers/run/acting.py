"""What acting would gain: a reading of the finished part, closer work, another nominal."""

from __future__ import annotations

from sensitivity.answers.card import ToGauge
from sensitivity.answers.next_commands import Ask, next_in_words, reach
from sensitivity.answers.ranking_tables import by_worth, closer_in_brief
from sensitivity.answers.run.find import Ran
from sensitivity.engine.intervals import Estimate
from sensitivity.presentation import cells, wording
from sensitivity.presentation.table import Cell, Column, Row, Table
from sensitivity.presentation.units_said import said_by
from sensitivity.pricing.ranking import Ranked
from sensitivity.pricing.reading_worth import ReadingWorth
from sensitivity.pricing.worth import WORTH_IT, worth_reading

GOOD = 0.95
"""Share that works from which the next thing is to make it."""

MOST = 3
"""Readings, and dimensions to make closer, that are shown."""


def readings_first(ran: Ran) -> list[ReadingWorth]:
    """Find the readings that gain a point in 100 or more, settled, the largest gain first."""
    return [row for row in ran.readings if worth_reading(row)][:MOST]


def _closer(ran: Ran) -> list[Ranked]:
    rows = [
        row
        for row in by_worth(ran.ranking)
        if row.halved is not None and row.halved.low > 0.0 and row.halved.value >= WORTH_IT
    ]
    return rows[:MOST]


def to_gauge(ran: Ran) -> list[ToGauge]:
    """What a bench card says to read, the largest gain first."""
    return [ToGauge(row.name, row.instrument, row.minutes) for row in readings_first(ran)]


def to_make_closer(ran: Ran) -> list[str]:
    """What a bench card says to make closer than is stated: inputs or groups."""
    return [row.name for row in _closer(ran)]


def acting_table(ran: Ran) -> Table | None:
    """Lay out what gains most, one act a row, the largest gain first; None where nothing does."""
    readings = readings_first(ran)
    acts = [(_read(ran, row), _reading(row, ", "), row.name, row.gain) for row in readings]
    acts += [
        (closer, closer, row.name, row.halved)
        for row in _closer(ran)
        if row.halved is not None
        for closer in [f"make {wording.in_words(row.name)} twice as closely"]
    ]
    if not acts:
        return None
    acts.sort(key=lambda act: -act[3].value)
    many = ran.study.vocabulary.many
    columns = (
        Column("one of these", ("act", "name"), seen="page"),
        Column("one of these", seen="terminal"),
        Column("gains", ("gain", "low", "high")),
    )
    rows = tuple(_row(*act) for act in acts)
    then = f"Once read: {acted_on(ran).removeprefix('and ')}. {finer(many)}" if readings else ""
    return Table("acting", f"What one act gains, of 100 {many}", columns, rows, rest=then)


def finer(many: str) -> str:
    """Say why a reading may gain another figure elsewhere: one is from a smaller sample."""
    return (
        f"Readings are priced here on fewer {many}, a little low as a rule; "
        '"measure" (what to measure) works them out finer.'
    )


def _row(words: str, short: str, name: str, gain: Estimate) -> Row:
    reads = wording.gain_of_a_hundred(gain)
    return Row((Cell(words, (words, name)), Cell(short), Cell(reads, cells.interval_values(gain))))


def _read(ran: Ran, row: ReadingWorth) -> str:
    return f"{_reading(row, ' with a ')} {acted_on(ran)}"


def _reading(row: ReadingWorth, by: str) -> str:
    tool = f"{by}{wording.instrument(row.instrument)}" if row.instrument else ""
    minutes = f" ({row.minutes:.0f} min)" if row.instrument else ""
    return f"read {wording.in_words(row.name)}{tool}{minutes}"


def acted_on(ran: Ran) -> str:
    """Say what is done upon a reading: what can be set is set to suit, or the part is remade."""
    set_at = [wording.in_words(item.name) for item in ran.study.inputs if item.adjust is not None]
    return f"and set {wording.listed(set_at)} to suit" if set_at else "and remake what would fail"


def nominal_in_words(ran: Ran) -> str:
    """Name the nominal to draw elsewhere, or the one whose range to state; empty where none is."""
    move, asked = ran.nominal.move, ran.nominal.asked
    if move is not None:
        item = move.nominal.item
        manner = said_by(ran.study).of(item.name)
        drawn, to = manner.text(item.nominal), manner.text(move.to)
        return (
            f"Or draw {wording.in_words(item.name)} at {to}, not {drawn}: "
            f"{wording.gain_of_a_hundred(move.gain)} of 100 at moments taken at random."
        )
    if asked is not None:
        item, way = asked.nominal.item, "more" if asked.gain.value >= 0.0 else "less"
        step = said_by(ran.study).spread_of(item.name).rough(asked.nominal.move)
        return (
            f"Or draw {wording.in_words(item.name)} elsewhere: {step} {way} gains "
            f"{wording.gain_of_a_hundred(asked.gained)} of 100 at moments taken at random. State "
            'the range in which it may be drawn (redraw), and "redraw" finds how far.'
        )
    return ""


def next_in_words_of(ran: Ran) -> str:
    """Say what to ask next, by what gains most here; empty where nothing is asked.

    A burner that is likely to work is to be made, and then gauged.
    """
    if ran.levels is None:
        return ""
    study, settable = ran.study, [item for item in ran.study.inputs if item.adjust is not None]
    if ran.levels.works.value >= GOOD:
        made = Ask("built", "judges one as made and read", " --measured NAME=SIZE")
        return next_in_words(study, "run", made)
    return next_in_words(
        study,
        "run",
        Ask("measure", "says what to gauge, in which order") if readings_first(ran) else None,
        Ask("redraw", "finds the best moves within the ranges stated, and proves them")
        if ran.nominal.move is not None
        else None,
        Ask("tighten", "finds the cheapest closer work", reach(GOOD)) if _closer(ran) else None,
        Ask("window", "says where to set it", f" {settable[0].name}") if settable else None,
    )


def first_in_brief(ran: Ran) -> str:
    """Say what to do first: read, make closer, move a nominal, or leave as stated."""
    told = closer_in_brief(ran.result, ran.ranking)
    readings = readings_first(ran)
    if not readings:
        return told
    best = readings[0]
    words = _read(ran, best)
    return (
        f"{words[0].upper()}{words[1:]}: {wording.gain_of_a_hundred(best.gain)} of 100 "
        f"{ran.study.vocabulary.many}. {told}"
    )
