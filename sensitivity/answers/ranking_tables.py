"""What matters, and what to do about it: rankings, indices and advice as blocks of a report."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from markupsafe import Markup

from sensitivity.engine.intervals import Estimate
from sensitivity.engine.result import PASS_FAIL, Result
from sensitivity.presentation import cells, wording
from sensitivity.presentation.blocks import Block, Folded, Items, Words
from sensitivity.presentation.table import Cell, Column, Table, table_of
from sensitivity.presentation.units_said import said_by
from sensitivity.pricing.ranking import Advice, Ranked, Ranking
from sensitivity.pricing.worth import missed_on_average
from sensitivity.study.study import Study
from sensitivity.system.remarks import Kind

ENOUGH: Advice = "good enough as stated"

RANKING_TITLES: tuple[tuple[Kind, str, str], ...] = (
    ("build", "dimension", "Build dimensions: what care gains, of 100"),
    ("running", "condition", "Running conditions: what a {one} meets in use"),
    ("model", "doubt", "Model doubts: what the physics does not know"),
)
MEASURES = {"total index": "total-effect index", "distance": "distance among failures", "": ""}
"""What the inputs are ranked by, as the heading of a column."""

FIRST = 8
"""Rows of a ranking that a terminal shows."""

NAMED = 3
"""Conditions and doubts that a terminal names."""


def ranking_tables(ranking: Ranking, study: Study) -> list[Table]:
    """Lay out each kind's ranking: what the builder can hold by worth, with advice.

    What reading a dimension gains stands there where any gains by itself, settled.
    """
    tables = []
    for kind, first, title in RANKING_TITLES:
        rows = by_worth(ranking) if kind == "build" else ranking.of_kind(kind)
        if not rows:
            continue
        build = kind == "build"
        reads = any(row.read is not None and row.read.low > 0.0 for row in rows)
        columns = [
            Column(first),
            Column("drawn", seen="page"),
            Column("spread", seen="page"),
            Column("as drawn", seen="terminal"),
            *([Column("if halved")] * build),
            *([Column("if it alone is read", seen="page")] * (build and reads)),
            Column(MEASURES[ranking.measured_by], seen="page" if build else "everywhere"),
            *([Column("advice", seen="page"), Column("advice", seen="terminal")] * build),
        ]
        short = _in_short(study)
        told = [
            [Cell(text) for text in _ranked(row, short, advise=build, reads=reads)] for row in rows
        ]
        table = table_of(f"ranking_{kind}", title.format(one=study.vocabulary.one), columns, told)
        tables.append(replace(table, first=FIRST, rest=_others(rows[FIRST:]) if build else ""))
    return tables


def _in_short(study: Study) -> dict[str, str]:
    """Write each input as stated, without a word on how its values lie."""
    said = said_by(study)
    return {
        item.name: f"{said.drawn(item)} {ends}"
        if (ends := said.stated(item, shape=False)).startswith("±")
        else f"{said.drawn(item)}, {ends}"
        for item in study.varying
    }


def _ranked(row: Ranked, short: Mapping[str, str], *, advise: bool, reads: bool) -> list[str]:
    both = row.drawn if not row.spread else short.get(row.name, row.drawn)
    texts = [wording.in_words(row.name), row.drawn, row.spread, both]
    index = wording.index(row.measure, settled=row.settled)
    if not advise:
        return [*texts, index]
    gained = "" if row.halved is None else wording.gain_of_a_hundred(row.halved)
    read = "" if row.read is None else wording.gain_of_a_hundred(row.read)
    advice = row.advice, row.advice.removesuffix(" as stated")
    return [*texts, gained, *([read] if reads else []), index, *advice]


def _others(rows: Sequence[Ranked]) -> str:
    """Say of the rows that a terminal does not show what is advised of them."""
    if not rows:
        return ""
    counts: dict[str, int] = {}
    for row in rows:
        counts[row.advice] = counts.get(row.advice, 0) + 1
    if len(counts) == 1:
        verb = "is" if len(rows) == 1 else "are"
        return f"The other {len(rows)} {verb} {rows[0].advice}; the report has them all."
    told = ", ".join(f"{count} {advice}" for advice, count in counts.items())
    return f"Of the other {len(rows)}: {told}; the report has them all."


def others_in_words(ranking: Ranking, study: Study) -> list[str]:
    """Name the running conditions and the doubts that decide most, each kind in a sentence."""
    found = []
    for kind, _, title in RANKING_TITLES[1:]:
        rows = ranking.of_kind(kind)
        if not rows:
            continue
        told = [f"{wording.in_words(row.name)} {_index_in_short(row)}" for row in rows[:NAMED]]
        more = f"; {len(rows) - NAMED} more, each less" if len(rows) > NAMED else ""
        lead = title.format(one=study.vocabulary.one)
        measure = MEASURES[ranking.measured_by].capitalize()
        found.append(f"{lead}. {measure}: {', '.join(told)}{more}.")
    return found


def _index_in_short(row: Ranked) -> str:
    text = wording.index(row.measure, settled=row.settled)
    return text.partition(" (")[0]


def index_tables(result: Result) -> list[Block]:
    """What moves each result, folded; what has no limit is folded once more."""
    wanted = {output.name for output in result.limited or result.outputs} | {PASS_FAIL}
    blocks: list[Block] = []
    others: list[Block] = []
    for name in (PASS_FAIL, *result.plan.outputs):
        shown = "pass or fail" if name == PASS_FAIL else wording.in_words(name)
        if name in result.no_indices:
            inner: list[Block] = [Words(result.no_indices[name])]
        elif name in result.sensitivity:
            inner = _indices(result, name, shown)
        else:
            continue
        (blocks if name in wanted else others).append(Folded(f"What moves {shown}", inner))
    if others:
        blocks.append(Folded("What moves the results that have no limit", others))
    return blocks


def _indices(result: Result, name: str, shown: str) -> list[Block]:
    ordered = sorted(result.sensitivity[name].items(), key=lambda pair: -pair[1].total.value)
    blocks: list[Block] = [
        table_of(
            f"indices_{name}",
            f"Shares of the variance of {shown}",
            [
                Column("input", ("input_or_group",)),
                cells.interval_column("alone (first-order index)", "first"),
                cells.interval_column("alone and with others (total index)", "total"),
            ],
            [
                (
                    cells.named(group),
                    cells.index(row.first, settled=row.settled),
                    cells.index(row.total, settled=row.settled),
                )
                for group, row in ordered
                if row.total.high > 0.0005
            ],
        )
    ]
    settled = sorted(
        (pair for pair in result.pairs.get(name, {}).items() if pair[1].low > 0),
        key=lambda pair: -pair[1].value,
    )
    if settled:
        pairs = "; ".join(
            f"{' with '.join(map(wording.in_words, pair))} {wording.index(value)}"
            for pair, value in settled[:8]
        )
        blocks.append(Words(f"Pairs that act together: {pairs}."))
    return blocks


def with_advice(ranking: Ranking, advice: Advice) -> list[Ranked]:
    """Find the build dimensions that have this advice, those that gain most first."""
    return [row for row in by_worth(ranking) if row.advice == advice]


def by_worth(ranking: Ranking) -> list[Ranked]:
    """Order the build dimensions by what closer work gains, then those that are not priced."""
    rows = ranking.of_kind("build")
    priced = [row for row in rows if row.halved is not None]
    priced.sort(key=lambda row: -row.halved.value if row.halved is not None else 0.0)
    return [*priced, *(row for row in rows if row.halved is None)]


def closer_in_brief(result: Result, ranking: Ranking) -> str:
    """Say what to make closer first, which nominal to move, and what is good enough as stated."""
    if not ranking.rows:
        return ranking.note
    told = []
    off = [wording.in_words(output.name) for output in result.broken_as_drawn]
    if off:
        told.append(
            f"First move a nominal: as drawn already {wording.listed(off)} "
            f"{'break their limits' if len(off) > 1 else 'breaks its limit'}."
        )
    lost = with_advice(ranking, "move a nominal")
    if lost:
        names = wording.listed([wording.in_words(row.name) for row in lost])
        told.append(
            f"Closer work on {names} loses {result.study.vocabulary.many}{_missed(result)}."
        )
    first = with_advice(ranking, "make closer")[:2]
    if first:
        named = wording.listed([_with_meaning(result, row) for row in first])
        told.append(f"Make closer: {named}.")
    elif not lost:
        told.append(
            "No dimension gains a point in 100 by closer work alone, settled; running conditions, "
            "doubts and nominals come first, or several together (spiritlevel tighten)."
        )
    top = ranking.rows[0]
    if top.kind != "build":
        what = "a running condition" if top.kind == "running" else "a doubt of the physics"
        told.append(f"Most is decided by {wording.in_words(top.name)}, which is {what}.")
    enough, count = len(with_advice(ranking, ENOUGH)), len(ranking.of_kind("build"))
    if enough:
        told.append(f"{enough} of {count} build dimensions are good enough as stated.")
    return " ".join(told)


def _missed(result: Result) -> str:
    """Say which results lie at or beyond their limit on average: why closer work may lose."""
    names = [wording.in_words(name) for name in missed_on_average(result)]
    if not names:
        return ", since what is aimed at works no more often than what is missed: move a nominal"
    verb = "lie" if len(names) > 1 else "lies"
    return (
        f", since {wording.listed(names)} on average {verb} at or beyond the limit: move a nominal"
    )


def _with_meaning(result: Result, row: Ranked) -> str:
    """Name a dimension with what it is: a group's name says that already."""
    meanings = [item.meaning for item in result.study.inputs if item.name == row.name]
    what = [*meanings, row.drawn, *([row.spread] if row.spread else [])]
    gained = "" if row.halved is None else _gained(result, row.halved)
    return f"{wording.in_words(row.name)} ({', '.join(what)}{gained})"


def _gained(result: Result, halved: Estimate) -> str:
    return f"; half of it gains {wording.gain_of_a_hundred(halved)} {result.study.vocabulary.many}"


def to_do(result: Result, ranking: Ranking, command_tail: str) -> list[Block]:
    """What to do: nominals that are off, what to make closer and what to leave, what to ask."""
    items: list[tuple[str, str]] = [
        (
            "Move a nominal first:",
            f"{wording.in_words(output.name)} breaks its limit with every dimension exactly as "
            "drawn, and no care in making mends that.",
        )
        for output in result.broken_as_drawn
    ]
    leads: tuple[tuple[Advice, str, str], ...] = (
        ("move a nominal", "Move a nominal:", f"closer work on these alone loses{_missed(result)}"),
        ("measure", "Measure:", "reading one of these, and acting on it, gains more than care"),
        ("make closer", "Make closer:", "half the spread of one of these gains a point or more"),
        ("not settled", "Not settled:", "more points will tell"),
        (ENOUGH, "Good enough as stated:", "closer work on these buys next to nothing"),
    )
    for advice, lead, words in leads:
        if rows := with_advice(ranking, advice):
            names = wording.listed([wording.in_words(row.name) for row in rows])
            items.append((lead, f"{names}; {words}."))
    blocks: list[Block] = []
    if items:
        blocks.append(Items(items))
    elif ranking.note:
        blocks.append(Words(ranking.note))
    if result.study.limits:
        blocks += [Words("What to ask next:"), Items(_next(result, ranking, command_tail))]
    return blocks


def _next(result: Result, ranking: Ranking, tail: str) -> Sequence[tuple[str, str]]:
    study = f"{result.study.name}.toml"
    found = [
        (
            f"spiritlevel window {study} {item.name}{tail}",
            f"where to set the {wording.in_words(item.name)}, and how much room there is",
        )
        for item in result.study.inputs
        if item.adjust is not None
    ]
    if ranking.of_kind("build"):
        found += [
            (
                f"spiritlevel measure {study}{tail}",
                "in which order to measure, with which instrument, and what that gains",
            ),
            (
                f"spiritlevel tighten {study} --target 95{tail}",
                "the loosest tolerances that keep 95 of 100 within",
            ),
        ]
    return [(Markup("<code>{}</code>:").format(command), words) for command, words in found]
