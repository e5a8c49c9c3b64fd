"""Tables of ``tighten``: what halving each spread gains, and the set step by step."""

from __future__ import annotations

from sensitivity.answers import narrow
from sensitivity.answers.levels import moments_in_words
from sensitivity.answers.tighten.find import Halved, Tightened
from sensitivity.answers.tighten.words import dimension_in_words, gain_in_words, worth_in_words
from sensitivity.engine.intervals import Proportion
from sensitivity.presentation import cells, wording
from sensitivity.presentation.cells import NOTHING
from sensitivity.presentation.table import Cell, Column, Row, Seen, Table
from sensitivity.presentation.units_said import Said
from sensitivity.pricing.allocation_found import Found, Step

UNSETTLED_SHOWN = 3
"""Halved dimensions shown beyond those that gain something; files hold all."""
BY = 20
"""Letters of a line in which a terminal names a process."""


def halved_table(tightened: Tightened) -> Table:
    """Lay out what halving each spread gains, what gains most first."""
    weighted = any(row.weighted is not None for row in tightened.halved)
    seen: Seen = "everywhere" if weighted else "file"
    levels = tightened.levels
    two = levels is not None and levels.one_level is None
    many = tightened.study.vocabulary.many
    columns = (
        Column("dimension", ("dimension", "inputs")),
        Column("spread now", seen="page"),
        Column("spread now", seen="terminal"),
        Column(
            f"more {many} work" if two else f"more {many} keep",
            cells.interval_keys("works_gain"),
            seen="everywhere" if levels is not None else "file",
        ),
        Column(
            "gained at a moment",
            cells.interval_keys("gain"),
            seen="file" if levels is not None and not two else "page",
        ),
        Column(
            narrow.heading("gained at a moment"),
            right=True,
            seen="file" if levels is not None and not two else "terminal",
        ),
        Column("effective sample", ("effective_sample_size",), seen=seen),
        Column("effective failures", ("effective_failures",), seen=seen),
    )
    shown = {row.dimension.name for row in shown_halved(tightened)}
    drawn = f"{wording.percent(tightened.stated)} at a moment"
    if levels is not None:
        drawn = f"{wording.percent(levels.works)} work"
        drawn += f", in {moments_in_words(levels.keeps)}" if two else ""
    return Table(
        "halved",
        f"If one spread is halved (as drawn {drawn})",
        columns,
        tuple(
            Row(_halved_cells(tightened, row), row.dimension.name in shown)
            for row in tightened.halved
        ),
    )


def shown_halved(tightened: Tightened) -> list[Halved]:
    """Pick what gains something or has no figure, and a few of the others."""
    gaining = [row for row in tightened.halved if gains(row)]
    others = [row for row in tightened.halved if not gains(row)]
    return [*gaining, *others[:UNSETTLED_SHOWN]]


def gains(row: Halved) -> bool:
    """Tell whether halving gains what is settled, or has no figure to say."""
    return row.worth is None or row.worth.low > 0.0


def _halved_cells(tightened: Tightened, row: Halved) -> tuple[Cell, ...]:
    dimension, weighted = row.dimension, row.weighted
    names = " ".join(item.name for item in dimension.inputs)
    effective, told = (Cell("", (None,)), Cell("", (None,))), gain_in_words(row)
    if weighted is not None:
        effective = (
            Cell(f"{100 * weighted.effective:.0f} %", (weighted.effective,)),
            Cell(f"{weighted.effective_failures:.0f}", (weighted.effective_failures,)),
        )
    return (
        Cell(dimension_in_words(dimension), (dimension.name, names)),
        cells.words(tightened.said.stated(dimension.inputs[0])),
        cells.words(tightened.said.stated(dimension.inputs[0], shape=False)),
        Cell(worth_in_words(row), cells.interval_values(row.more)),
        Cell(gain_in_words(row), cells.interval_values(row.gain)),
        Cell(narrow.gain(row.gain) if row.gain and row.gain.low == row.gain.low else told),
        *effective,
    )


def set_table(found: Found, said: Said) -> Table:
    """Lay out the set, step by step."""
    single = found.there.one_level is not None
    cheap = "Cheapest set" if found.cheapest else "A cheap set"
    head = cheap if found.reached else "Worth doing, though short of what is wanted"
    columns = (
        Column("hold closer", ("dimension", "inputs")),
        Column("by", ("process", "factor"), seen="page"),
        Column("by", seen="terminal"),
        Column("instead of", seen="page"),
        Column("adds, min", ("minutes",), right=True, seen="page"),
        Column("min", right=True, seen="terminal"),
        *narrow.share_columns(
            "keeps with all so far" if single else "work, all so far",
            "works",
            "keep, so far" if single else "work, so far",
        ),
        Column(
            "kept at a moment",
            cells.interval_keys("yield"),
            seen="file" if single else "page",
        ),
        Column(
            narrow.heading("kept at a moment"),
            right=True,
            seen="file" if single else "terminal",
        ),
    )
    drawn, there = found.as_drawn, found.there
    minutes = f"{found.minutes:.0f}"
    first = (*_texts("as drawn", "", ""), *_shares(drawn.works, drawn.share))
    last = (*_texts("in all", "", minutes), *_shares(there.works, there.share))
    return Table(
        "set",
        f"{head}: {wording.of_a_hundred(found.target)} work",
        columns,
        (
            Row(first, filed=False),
            *(Row(_step_cells(step, said)) for step in found.steps),
            *(Row(_making(process, each), filed=False) for process, each in found.making.items()),
            Row(last, filed=False, ruled=True),
        ),
    )


def _texts(what: str, by: str, minutes: str) -> tuple[Cell, ...]:
    """Write the first columns of the set, for a page and for a terminal."""
    texts = (what, by, narrow.fold(by, BY), "", minutes, minutes)
    return tuple(map(Cell, texts))


def _shares(works: Proportion, share: Proportion) -> tuple[Cell, ...]:
    return (*narrow.share_cells(works), *narrow.share_cells(share))


def _making(process: str, minutes: float) -> tuple[Cell, ...]:
    """Tell of making a jig, in the columns of the set."""
    texts = _texts("making the jig, once", wording.in_words(process), f"{minutes:.0f}")
    return (*texts, *(NOTHING,) * 4)


def _step_cells(step: Step, said: Said) -> tuple[Cell, ...]:
    choice, first = step.choice, step.dimension.inputs[0]
    names = " ".join(item.name for item in step.dimension.inputs)
    by = wording.in_words(choice.process) or f"{choice.factor:g} of its spread"
    instead = wording.in_words(first.process) if first.process else said.stated(first)
    minutes = f"{choice.minutes:.0f}" if choice.process else f"~{choice.minutes:.1f}"
    return (
        Cell(dimension_in_words(step.dimension), (step.dimension.name, names)),
        Cell(by, (choice.process, choice.factor)),
        Cell(narrow.fold(by, BY)),
        cells.words(instead),
        Cell(minutes, (choice.minutes,)),
        Cell(minutes),
        *narrow.share_cells(step.works),
        *narrow.share_cells(step.overall),
    )
