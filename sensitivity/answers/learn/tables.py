"""Tables of ``learn``: trials, parts that work, suspects, readings, dimensions, next trials."""

from __future__ import annotations

from collections.abc import Sequence
from math import log

from sensitivity.answers import narrow
from sensitivity.answers.learn.find import Dimension, Fault, Learnt, Remedy
from sensitivity.answers.learn.readings import SettlingReading
from sensitivity.answers.levels import moments_in_words
from sensitivity.answers.settings_words import as_drawn, settings_in_cell
from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.engine.moments import of_kinds
from sensitivity.learning.conflict import Expected
from sensitivity.learning.next_trial import NextTrial
from sensitivity.learning.suspects import Suspect
from sensitivity.learning.words import rarity
from sensitivity.presentation import cells, wording
from sensitivity.presentation.table import Cell, Column, Row, Table
from sensitivity.presentation.units_said import Said
from sensitivity.study.study import Input

TITLE, SEEN = 22, 19
"""Letters of a line of a trial's title, and of what was seen, in a table."""
TOLD = 0.1
"""Share of its range by which a dimension must be narrowed or moved to be shown."""


def trials_table(found: Learnt) -> Table:
    """Lay out what was seen, and how often so much would be expected."""
    expected = {(e.trial.identifier, e.seen.result): e for e in found.known.conflict.expected}
    rows = []
    for one in found.told:
        title, held = one.trial.title, one.conditions
        for seen, words in zip(one.trial.seen, one.seen, strict=True):
            odds = expected.get((one.trial.identifier, seen.result))
            first = seen is one.trial.seen[0]
            rows.append(
                Row(
                    (
                        cells.read_as(narrow.fold(title, TITLE) if first else "", title),
                        cells.read_as(",\n".join(held) if first else "", "; ".join(held)),
                        cells.read_as(narrow.fold(words, SEEN), words),
                        cells.read_as(
                            "" if odds is None else _odds(odds),
                            None if odds is None else odds.probability,
                        ),
                    )
                )
            )
    return Table(
        "trials",
        "What was seen",
        (
            Column("trial", ("trial",)),
            Column("held", ("held",)),
            Column("seen", ("seen",)),
            Column("expected", ("probability",)),
        ),
        tuple(rows),
    )


def _odds(one: Expected) -> str:
    """Write how often so much would be seen of parts as stated."""
    if one.probability >= 0.05:
        return wording.out_of_a_hundred(one.probability)
    return rarity(one)


def works_table(found: Learnt) -> Table:
    """Lay out how many work: before, as it stands, set well, and with suspects made anew."""
    drawn = settings_in_cell(as_drawn(found.settings), found.said)
    rows = [
        _works("before the trials", drawn, None, found.before),
        _works("as it stands", drawn, None, found.now),
    ]
    if found.best is not None:
        at = settings_in_cell(found.best.at, found.said)
        rows.append(_works("set well", at, found.best.gain, found.best.overall))
    for one in [] if found.fault is None else found.fault.remedies:
        rows.append(_works(remade_in_words(one, found.fault), drawn, one.gain, one.works))
    head = "keeps every limit"
    if of_kinds(found.plan, "running"):
        head = f"works, in {moments_in_words(found.study.keeps)}"
    return Table(
        "works",
        f"How many {found.study.vocabulary.many} like this one work",
        (
            Column("which", ("which",)),
            Column("set", ("set",), seen="file" if found.settings is None else "everywhere"),
            *narrow.gain_columns("gains, of 100", "gain", "gains, of 100"),
            *narrow.share_columns(head, "works", "work, of 100"),
        ),
        tuple(rows),
    )


def _works(which: str, at: str, gain: Estimate | None, share: Proportion) -> Row:
    return Row(
        (
            cells.text(which),
            cells.read_as(at, at.replace("\n", " ")),
            *narrow.gain_cells(gain),
            *narrow.share_cells(share, interval=True),
        )
    )


def remade_in_words(one: Remedy, fault: Fault | None) -> str:
    """Say what was made anew: by name, or how many at once."""
    named = [] if fault is None else [s for s in fault.named if s.item.kind == "build"]
    if len(one.names) > 2 and len(one.names) == len(named):
        return f"all {len(one.names)} suspects made anew"
    return f"{wording.listed([wording.in_words(name) for name in one.names])} made anew"


def suspects_table(found: Learnt, fault: Fault) -> Table:
    """Lay out what the failure says of each dimension and doubt, the most first.

    Readers see those of which it is settled to say something; files hold all.
    """
    whole = max(_entropy(fault.expected), 1e-300)
    return Table(
        "suspects",
        "Where to look first",
        (
            Column("suspect", ("input",)),
            Column("", ("kind", "unit"), seen="file"),
            Column("drawn", ("mean_before", "deviation_before"), seen="page"),
            Column("tells, %", cells.interval_keys("information"), seen="page"),
            Column("tells, %", right=True, seen="terminal"),
            Column("now likely between", ("low", "high", "mean", "deviation")),
            Column(narrow.heading("outside its spread, %"), ("out_before", "out")),
            Column(
                narrow.heading("if one slipped, %"),
                ("slip_before", "slip", "if_one_slipped"),
                right=True,
            ),
        ),
        tuple(
            Row(_suspect_cells(found.said, one, whole), shown=one.named) for one in fault.suspects
        ),
    )


def _suspect_cells(said: Said, one: Suspect, whole: float) -> tuple[Cell, ...]:
    item, (low, high) = one.item, one.where
    value, ends = one.information.value / whole, (one.information.low, one.information.high)
    share = f"{100 * value:.1f} ({100 * ends[0] / whole:.1f} to {100 * ends[1] / whole:.1f})"
    slipped = f"{100 * one.if_one:.0f}" if one.if_one > 0.0 else ""
    return (
        cells.named(item.name),
        Cell("", (item.kind, item.unit), item.unit),
        Cell(drawn_in_words(said, item), (one.mean[0], one.deviation[0]), item.unit),
        cells.read_as(share.replace("-", "−"), *cells.interval_values(one.information)),
        Cell(f"{100 * value:.1f}".replace("-", "−")),
        Cell(
            said.of(item.name).pair(low, high, (high - low) / 4.0),
            (low, high, one.mean[1], one.deviation[1]),
            item.unit,
        ),
        cells.read_as(_from_to(*one.out) if item.kind == "build" else "", *one.out),
        cells.read_as(slipped, *one.slip, one.if_one),
    )


def drawn_in_words(said: Said, item: Input) -> str:
    """Write what is stated of an input: ``0 deg, ± 2 deg, mostly near the middle``."""
    return f"{said.drawn(item)}, {said.stated(item)}"


def _from_to(before: float, after: float) -> str:
    first, now = _percent(before), _percent(after)
    return first if first == now else f"{first}, now {now}"


def _percent(share: float) -> str:
    return "under 1" if share < 0.01 else f"{100 * share:.0f}"


def _entropy(p: float) -> float:
    return 0.0 if not 0.0 < p < 1.0 else -(p * log(p) + (1.0 - p) * log(1.0 - p))


def readings_table(found: Learnt, most: int | None = None) -> Table:
    """Lay out what one reading would settle; of each dimension the quickest good instrument first.

    Readers see one row a dimension; files hold every instrument.
    """
    best: dict[str, SettlingReading] = {}
    for one in found.readings:
        known = best.get(one.name)
        quicker = known is not None and one.instrument.minutes < known.instrument.minutes
        if known is None or (quicker and one.settles.value >= 0.9 * known.settles.value):
            best[one.name] = one
    shown = [one for one in best.values() if one.settles.low > 0.0][:most]
    what = "the failure" if found.of_failure else "how near to its limits it stands"
    return Table(
        "readings",
        f"What one reading would settle of {what}",
        (
            Column("reading", ("name",)),
            Column("with", ("instrument",)),
            Column("min", ("minutes",), right=True),
            cells.interval_column("settles, %", "settles"),
            Column("expect", ("low", "high")),
            Column("", ("unit", "a_minute"), seen="file"),
        ),
        tuple(Row(_reading_cells(found.said, one), shown=one in shown) for one in found.readings),
    )


def _reading_cells(said: Said, one: SettlingReading) -> tuple[Cell, ...]:
    low, high = one.where
    return (
        cells.named(one.name),
        cells.read_as(wording.instrument(one.instrument.name), one.instrument.name),
        cells.read_as(wording.significant(one.instrument.minutes, 2), one.instrument.minutes),
        cells.read_as(_share(one.settles), *cells.interval_values(one.settles)),
        Cell(said.of(one.name).pair(low, high, (high - low) / 4.0), (low, high), one.unit),
        Cell("", (said.of_unit(one.unit).unit, one.a_minute)),
    )


def _share(one: Estimate) -> str:
    if one.low <= 0.0:
        return "unclear" if one.high > 0.02 else "nothing"
    return f"{100 * one.value:.0f} ({100 * one.low:.0f} to {100 * min(one.high, 1.0):.0f})"


def dimensions_table(found: Learnt, of: Sequence[Dimension], name: str, title: str) -> Table:
    """Lay out inputs before and after; readers see those that the trials say something of."""
    return Table(
        name,
        title,
        (
            Column("dimension" if name == "dimensions" else "doubt", ("input",)),
            Column("", ("unit", "nominal"), seen="file"),
            Column("stated", seen="page"),
            Column("nine in ten before", ("low_before", "high_before")),
            Column("nine in ten now", ("low", "high")),
            Column("middle now", ("median_before", "median")),
            Column(
                narrow.heading("outside its spread, %"),
                ("out",),
                right=True,
                seen="everywhere" if name == "dimensions" else "file",
            ),
        ),
        tuple(Row(_dimension_cells(found.said, one), shown=one.told >= TOLD) for one in of),
    )


def _dimension_cells(said: Said, one: Dimension) -> tuple[Cell, ...]:
    item = one.item
    scale = (one.after[1] - one.after[0]) / 4.0
    manner = said.of(item.name)
    out = _percent(one.out) if item.kind == "build" else ""
    return (
        cells.named(item.name),
        Cell("", (item.unit, item.nominal), item.unit),
        cells.words(drawn_in_words(said, item)),
        Cell(manner.pair(*one.before, scale), one.before, item.unit),
        Cell(manner.pair(*one.after, scale), one.after, item.unit),
        Cell(manner.text(one.middle[1], scale), one.middle, item.unit),
        cells.read_as(out, one.out),
    )


def next_table(found: Learnt) -> Table:
    """Lay out the trials that could be made next, safe ones first."""
    used, unused = found.study.vocabulary.used, found.study.vocabulary.unused
    part = f"settles of the {found.study.vocabulary.one}, %"
    rows = []
    for place, one in enumerate(found.trials):
        before = place > 0 and found.trials[place - 1].trial.safe
        rows.append(
            Row(
                (
                    cells.read_as(narrow.fold(one.trial.title, TITLE), one.trial.name),
                    cells.read_as(unused if one.trial.safe else used, one.trial.safe),
                    cells.read_as(wording.significant(one.trial.minutes, 2), one.trial.minutes),
                    cells.read_as(_share(one.of_part), *cells.interval_values(one.of_part)),
                    Cell(_share(one.of_part).partition(" (")[0]),
                    cells.read_as(_share(one.of_physics), *cells.interval_values(one.of_physics)),
                    Cell(_share(one.of_physics).partition(" (")[0]),
                    cells.read_as(
                        doubts_of(one), "; ".join(f"{n} {s.value:.3f}" for n, s in one.doubts)
                    ),
                ),
                ruled=before and not one.trial.safe,
            )
        )
    return Table(
        "next_trials",
        "Which trial next, the safe ones first",
        (
            Column("trial", ("trial",)),
            Column("done", ("safe",)),
            Column("min", ("minutes",), right=True),
            *narrow.share_columns(part, "of_part", part),
            *narrow.share_columns("of the physics, %", "of_physics", "of the physics, %"),
            Column("of doubts", ("doubts",)),
        ),
        tuple(rows),
    )


def doubts_of(one: NextTrial) -> str:
    """Write the doubts that a trial would settle: ``wick hold 94 %``."""
    return ", ".join(
        f"{wording.in_words(name)} {100 * share.value:.0f} %" for name, share in one.doubts[:3]
    )
