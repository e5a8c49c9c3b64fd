"""The bench card: what a builder takes to the bench, in the study's units and on one sheet.

A drawing of many views, which nobody could read on a part of it, is a second.

What to make to what, with the sketch numbers of the labelled drawing; what to gauge with what, in
which order, and where to set it; the limits that show that it works. Blanks stand for what is
read. The answers say what to gauge and to set; all else is the study's own.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from string import ascii_lowercase
from typing import NamedTuple

from sensitivity.answers.gauged_words import reached_in_words, should_read
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Card, Figure, PlainTable, View, Views, Words
from sensitivity.presentation.labelled import DrawnView, labelled_views
from sensitivity.presentation.labelled_layout import WIDTH as VIEW_WIDTH
from sensitivity.presentation.units_said import Said, said_by
from sensitivity.study.remembered import remembered
from sensitivity.study.study import Input, Study
from sensitivity.system.setting_out import setting_out_of, sketch_numbers

ACROSS, MANY, APART = 3, 8, 2
"""Columns of views side by side; the number of views above which they have a sheet of their own;
columns there.
"""

MANY_ROWS = 46
"""Rows of a table above which its parts stand three abreast."""

CLOSER = "\N{BLACK CIRCLE}"
"""Beside what is to be made closer than it is stated."""


class ToGauge(NamedTuple):
    """What to read of the finished part: its name, with which instrument, and its minutes.

    The minutes are None where they are not known.
    """

    name: str
    instrument: str
    minutes: float | None = None


def bench_card(
    study: Study,
    verdict: str,
    *,
    gauge: Sequence[ToGauge] = (),
    closer: Collection[str] = (),
    at: Mapping[str, float] | None = None,
    accept: str = "",
    drawing: Figure | None = None,
) -> Card:
    """Lay a study out for the bench.

    Parameters
    ----------
    study : Study
        Whose nominals and spreads are to be made.
    verdict : str
        How many work, in a sentence.
    gauge : sequence of ToGauge
        In the order of gauging.
    closer : collection of str
        Inputs or groups that are best made closer than is stated.
    at : mapping of str to float, optional
        Where what can be set is best set, by input name and in its unit, if that is known.
    accept : str
        Between which readings to accept it, in a sentence, where that is known.
    drawing : Figure, optional
        Shown where the models bring no labelled one.
    """
    said, numbers = said_by(study), sketch_numbers(study.system)
    drawn, made = labelled_drawing(study), _made(study, numbers)
    letters = _letters(made)
    rows = [_make_row(item, numbers, letters, closer, said) for item in made]
    head = ("no.", "dimension", "make to", "by", "as made")
    meant = [f"{letter}: {wording.in_words(process)}" for process, letter in letters.items()]
    if any(item.name in closer or item.group in closer for item in made):
        meant.insert(0, f"{CLOSER} twice as closely as this, it gains most")
    limits = [(wording.in_words(limit.result), said.limit(limit), "") for limit in study.limits]
    return Card(
        study.title,
        verdict,
        drawn or drawing,
        _side_by_side("What to make", head, rows),
        "; ".join(meant) + ("." if meant else ""),
        _act(study, said, numbers, gauge, at or {}, accept),
        _side_by_side("Limits", ("result", "must be", "seen"), limits),
        study.vocabulary.cautions,
        apart=drawn is not None and drawn.apart,
    )


def labelled_drawing(study: Study, *, legend: bool = False) -> Views | None:
    """Draw the labelled views; None where the models bring none.

    Parameters
    ----------
    study : Study
        At its nominals.
    legend : bool
        Whether what the numbers are stands under each.
    """
    drawn = _labelled(study)  # for the card and for the page
    if not drawn:
        return None
    views = [
        View(f"labelled-{place}", view.svg, view.legend if legend else ())
        for place, view in enumerate(drawn, 1)
    ]
    apart = len(views) > MANY
    across = min(len(views), APART if apart else ACROSS)
    places, height = _balanced([view.height for view in drawn], across)
    columns = [[views[place] for place in column] for column in places]
    numbered = "numbers in circles are those of the study's file, the tables and the bench card"
    aspect = across * 1.025 * VIEW_WIDTH / height
    return Views(columns, f"Every dimension as drawn; {numbered}", aspect, apart)


@remembered
def _labelled(study: Study) -> tuple[DrawnView, ...]:
    return labelled_views(study)


def _balanced(heights: Sequence[float], across: int) -> tuple[list[list[int]], float]:
    """Part views in columns of about one height; the height of the tallest, px.

    The tallest view that is left goes to the column that is shortest so far.
    """
    columns: list[list[int]] = [[] for _ in range(across)]
    for place in sorted(range(len(heights)), key=lambda place: -heights[place]):
        min(columns, key=lambda column: sum(heights[each] for each in column)).append(place)
    columns = sorted(sorted(column) for column in columns)
    return columns, float(max(sum(heights[each] for each in column) for column in columns))


def _made(study: Study, numbers: Mapping[str, int]) -> list[Input]:
    """What is made, in the order of its numbers; not what is nought, nor what goes with that."""
    made = [
        item
        for item in study.inputs
        if item.kind == "build" and (item.spread is not None or item.nominal != 0.0)
    ]
    there, needs = {item.name for item in made}, setting_out_of(study.system.models).needs
    made = [item for item in made if needs.get(item.name, item.name) in there]
    return sorted(made, key=lambda item: numbers.get(item.name, len(numbers) + 1))


def _letters(made: Sequence[Input]) -> dict[str, str]:
    """A letter for each process, as long as there are letters."""
    processes = dict.fromkeys(item.process for item in made if item.process)
    return dict(zip(processes, ascii_lowercase, strict=False))


def _make_row(
    item: Input,
    numbers: Mapping[str, int],
    letters: Mapping[str, str],
    closer: Collection[str],
    said: Said,
) -> tuple[str, ...]:
    number = str(numbers.get(item.name, ""))
    mark = f" {CLOSER}" if item.name in closer or item.group in closer else ""
    spread = "" if item.spread is None else said.stated(item, shape=False)
    between = "" if not spread else " " if spread.startswith("±") else ", "
    to = f"{said.drawn(item)}{between}{spread}"
    return number, f"{wording.in_words(item.name)}{mark}", to, letters.get(item.process, ""), ""


def _side_by_side(
    caption: str, head: Sequence[str], rows: Sequence[Sequence[str]]
) -> list[PlainTable]:
    """Part rows in two tables that stand side by side, in three where they are many."""
    across = 2 if len(rows) <= MANY_ROWS else 3
    each = -(-len(rows) // across)
    parts = [rows[start : start + each] for start in range(0, len(rows), each)]
    return [
        PlainTable(f"{caption}, part {place} of {len(parts)}", head, part)
        for place, part in enumerate(parts, 1)
    ]


def _act(
    study: Study,
    said: Said,
    numbers: Mapping[str, int],
    gauge: Sequence[ToGauge],
    at: Mapping[str, float],
    accept: str,
) -> list[Block]:
    """What to gauge and where to set it: tables with blanks, and the call that says where."""
    settable = [item for item in study.inputs if item.adjust is not None]
    blocks: list[Block] = []
    if gauge:
        rows = [
            (
                str(place),
                _numbered(one.name, numbers),
                wording.instrument(one.instrument) if one.instrument else "what gauges it",
                f"{one.minutes:.0f} min" if one.instrument and one.minutes is not None else "",
                should_read(study, one.name),
                "",
            )
            for place, one in enumerate(gauge, 1)
        ]
        head = ("step", "gauge", "with", "takes", "as drawn it reads", "reading")
        blocks.append(PlainTable("What to gauge, in this order", head, rows))
        reached = reached_in_words(study, [one.name for one in gauge])
        if told := " ".join(filter(None, [accept, reached])):
            blocks.append(Words(told))
    if settable:
        places = [_set_row(item, said, numbers, at) for item in settable]
        blocks.append(PlainTable("Where to set it", ("set", "at", "may be", "set to"), places))
    if settable and gauge and not at:
        first = gauge[0]
        tool = f" --with {first.name}={first.instrument}" if first.instrument else ""
        blocks.append(
            Words(
                'Where to set it once read: on the page note what it reads and ask "Is it good, as '
                f'read?"; or spiritlevel built {study.name}.toml --measured {first.name}="READING"'
                f"{tool}, and so on for each that was read."
            )
        )
    return blocks


def _set_row(
    item: Input, said: Said, numbers: Mapping[str, int], at: Mapping[str, float]
) -> tuple[str, ...]:
    assert item.adjust is not None
    manner = said.of(item.name)
    where = manner.text(at[item.name]) if item.name in at else f"{said.drawn(item)}, as drawn"
    return _numbered(item.name, numbers), where, manner.pair(*item.adjust), ""


def _numbered(name: str, numbers: Mapping[str, int]) -> str:
    number = numbers.get(name)
    return wording.in_words(name) + (f" ({number})" if number else "")
