"""What decides: inputs ranked by what they do to pass or fail, and a word on that alone.

What closer work buys is another matter, and is priced in ``pricing.worth``; where that is done its
advice stands in place of the word here. The rule, in full. Each input has a measure with an
interval: its total index of the pass/fail result or, where failures are rare, the distance of the
input among failures from its spread among all. The largest estimate of the table is the yardstick.

- ``measure``: even the low end of the interval is a third of the yardstick or more;
- ``good enough as stated``: even the high end is below a tenth of the low end of the largest;
- ``watch``: anything between;
- ``not settled``: the interval reaches zero but its high end does not stay below a tenth; more
  points will tell. No word of care rests on an interval that reaches zero.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sensitivity.engine.intervals import Estimate
from sensitivity.engine.result import PASS_FAIL, Result
from sensitivity.presentation.units_said import said_by
from sensitivity.system.remarks import Kind

Advice = Literal[
    "measure",
    "watch",
    "good enough as stated",
    "not settled",
    "make closer",
    "move a nominal",
    "not priced",
]
"""The last three only where closer work is priced."""

MUCH, LITTLE = 1 / 3, 1 / 10


@dataclass(frozen=True, slots=True)
class Ranked:
    """One row of the ranking: an input or a group.

    ``halved`` are the parts that work more if its spread is halved, ``read`` those if it is read
    and acted on, where that is priced. A measure that is not ``settled`` is no more than a bound.
    """

    name: str
    kind: Kind
    drawn: str
    spread: str
    measure: Estimate
    advice: Advice
    halved: Estimate | None = None
    read: Estimate | None = None
    settled: bool = True


@dataclass(frozen=True, slots=True)
class Ranking:
    """All inputs ranked, largest first; ``note`` says by what, or why there is no ranking."""

    measured_by: Literal["total index", "distance", ""]
    rows: tuple[Ranked, ...]
    note: str

    def of_kind(self, kind: Kind) -> tuple[Ranked, ...]:
        """The rows of one kind."""
        return tuple(row for row in self.rows if row.kind == kind)


def word_of_advice(measure: Estimate, yardstick: float, sure: float | None = None) -> Advice:
    """Apply the rule of this module to one row.

    ``yardstick`` is the largest estimate of the table and ``sure`` the low end of its interval
    (the yardstick itself, if it is exact).
    """
    if measure.high < LITTLE * (yardstick if sure is None else sure) or measure.high <= 0.0:
        return "good enough as stated"
    if measure.low <= 0.0:
        return "not settled"
    return "measure" if measure.low >= MUCH * yardstick else "watch"


def rank(result: Result) -> Ranking:
    """Rank all inputs by what they do to pass or fail."""
    note = result.no_indices.get(PASS_FAIL, "")
    if result.overall is None:
        return Ranking("", (), "No limits are stated, so there is no pass or fail to rank by.")
    if PASS_FAIL in result.sensitivity:
        found = {name: row.total for name, row in result.sensitivity[PASS_FAIL].items()}
        return Ranking("total index", _rows(result, found, grouped=True), note)
    if result.distances:
        return Ranking("distance", _rows(result, dict(result.distances), grouped=False), note)
    return Ranking("", (), note)


def _rows(result: Result, found: dict[str, Estimate], *, grouped: bool) -> tuple[Ranked, ...]:
    largest = max(found.values(), key=lambda estimate: estimate.value)
    said = said_by(result.study)
    rows = []
    for name, measure in sorted(found.items(), key=lambda pair: -pair[1].value):
        members = [
            item
            for item in result.study.varying
            if (item.shown_group if grouped else item.name) == name
        ]
        kinds = [item.kind for item in members]
        several = len(members) > 1
        rows.append(
            Ranked(
                name=name,
                kind=next((kind for kind in kinds if kind != "build"), "build"),
                drawn=f"{len(members)} together" if several else said.drawn(members[0]),
                spread="" if several else said.stated(members[0]),
                measure=measure,
                advice=word_of_advice(measure, largest.value, largest.low),
                settled=not grouped or result.sensitivity[PASS_FAIL][name].settled,
            )
        )
    return tuple(rows)
