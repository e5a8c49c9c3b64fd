"""What matters, and what to do about it: rankings, indices and advice as blocks of a report."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from sensitivity.engine.result import PASS_FAIL, Result
from sensitivity.presentation import cells, wording
from sensitivity.presentation.blocks import Block, Folded, Items, Words
from sensitivity.presentation.table import Cell, Column, Table, table_of
from sensitivity.pricing.ranking import Advice, Ranked, Ranking
from sensitivity.system.remarks import Kind

RANKING_TITLES: tuple[tuple[Kind, str, str], ...] = (
    ("build", "dimension", "Build dimensions: what to measure"),
    ("running", "condition", "Running conditions: not yours to set"),
    ("model", "doubt", "Model doubts: what the physics does not know"),
)
MEASURES = {"total index": "share in pass/fail", "distance": "distance among failures", "": ""}
"""What the inputs are ranked by, as the heading of a column."""


def ranking_tables(ranking: Ranking) -> list[Table]:
    """Lay out each kind's ranking, with advice for what the builder can hold."""
    tables = []
    for kind, first, title in RANKING_TITLES:
        if rows := ranking.of_kind(kind):
            columns = [
                Column(first),
                Column("drawn"),
                Column("spread"),
                Column(MEASURES[ranking.measured_by]),
                *([Column("advice")] if kind == "build" else []),
            ]
            told = [[Cell(text) for text in _ranked(row, advise=kind == "build")] for row in rows]
            tables.append(table_of(f"ranking_{kind}", title, columns, told))
    return tables


def _ranked(row: Ranked, *, advise: bool) -> list[str]:
    texts = [wording.in_words(row.name), row.drawn, row.spread, wording.index(row.measure)]
    return [*texts, row.advice] if advise else texts


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
                (cells.named(group), cells.index(row.first), cells.index(row.total))
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


def to_measure(ranking: Ranking, advice: Advice) -> list[Ranked]:
    """Find the build dimensions that have this advice, most telling first."""
    return [row for row in ranking.of_kind("build") if row.advice == advice]


def measure_in_brief(result: Result, ranking: Ranking) -> str:
    """Say which two dimensions to measure first, and what can be left to the eye."""
    if not ranking.rows:
        return ranking.note
    first = (to_measure(ranking, "measure") + to_measure(ranking, "watch"))[:2]
    if not first:
        return (
            "No dimension is settled as deciding it, so none is named; running conditions and "
            "doubts, or more points, come first."
        )
    off = [wording.in_words(output.name) for output in result.broken_as_drawn]
    nominal = (
        f"First move a nominal: as drawn already {wording.listed(off)} "
        f"{'break their limits' if len(off) > 1 else 'breaks its limit'}. Then "
        if off
        else ""
    )
    named = wording.listed([_with_meaning(result, row) for row in first])
    named = nominal + named if nominal else f"{named[0].upper()}{named[1:]}"
    leave = len(to_measure(ranking, "leave to the eye"))
    count = len(ranking.of_kind("build"))
    rest = f" {leave} of {count} build dimensions can be left to the eye." if leave else ""
    watch = "" if first[0].advice == "measure" else " (to watch: none of them decides it alone)"
    top = ranking.rows[0]
    more = (
        ""
        if top.kind == "build"
        else f" More than either matters {wording.in_words(top.name)}, which is "
        f"{'a running condition' if top.kind == 'running' else 'a doubt of the physics'}."
    )
    return f"{named}{watch}.{more}{rest}"


def _with_meaning(result: Result, row: Ranked) -> str:
    """Name a dimension with what it is: a group's name says that already."""
    meanings = [item.meaning for item in result.study.inputs if item.name == row.name]
    what = [*meanings, row.drawn, *([row.spread] if row.spread else [])]
    return f"{wording.in_words(row.name)} ({', '.join(what)})"


def to_do(result: Result, ranking: Ranking, command_tail: str) -> list[Block]:
    """What to do: nominals that are off, what to measure, watch and leave, what to ask next."""
    items: list[tuple[str, str]] = [
        (
            "Move a nominal first:",
            f"{wording.in_words(output.name)} breaks its limit with every dimension exactly as "
            "drawn, and no care in making mends that.",
        )
        for output in result.broken_as_drawn
    ]
    for advice, lead, words in (
        ("measure", "Measure:", "these decide whether it works"),
        ("watch", "Watch:", "these matter, though less"),
        ("not settled", "Not settled:", "more points will tell"),
        ("leave to the eye", "Leave to the eye:", "closer work on these buys next to nothing"),
    ):
        rows = to_measure(ranking, advice)  # type: ignore[arg-type]
        if rows:
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
                f"spiritlevel tighten {study} --target 0.95{tail}",
                "the loosest tolerances that keep 95 of 100 within",
            ),
        ]
    return [(Markup("<code>{}</code>:").format(command), words) for command, words in found]
