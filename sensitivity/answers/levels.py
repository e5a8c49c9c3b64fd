"""How many parts work, in shop words: what every answer's headline says, apart and in this order.

How many parts work in nearly all their moments; between which two figures that lies as the physics
may turn out; and how often one taken at random keeps at a moment taken at random.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.engine.two_levels import TwoLevels
from sensitivity.presentation import cells, wording
from sensitivity.presentation.json_values import estimate_value, proportion_value
from sensitivity.presentation.table import Cell, Column, Row, Table
from sensitivity.study.study import Study

WHOLE = 0.01
"""Share, and of the failing, from which a share is told in whole parts of a hundred."""

UNDER, OVER = "under 1", "over 99"
"""Of a hundred, told in whole parts."""


def headline(levels: TwoLevels, study: Study) -> list[str]:
    """Say the three things apart, one short sentence each; fewer where a level is not there."""
    many, one = study.vocabulary.many, study.vocabulary.one
    found = [_works(levels, many), _band(levels, many)]
    if levels.one_level is None:
        share = wording.share_of_a_hundred(levels.share).partition(" (")[0]
        found.append(
            f"A {one} taken at random keeps every limit at a moment taken at random {share} times "
            "in 100."
        )
    else:
        found.append("No running condition is stated, so every moment is alike.")
    return found


def _works(levels: TwoLevels, many: str) -> str:
    if levels.one_level is not None:
        keeps = "keep every limit"
    else:
        keeps = f"keep every limit in {moments_in_words(levels.keeps)}"
    if levels.works.failures == 0:
        return f"Not one of {levels.works.rows:,} {many} built as stated failed to {keeps}."
    if levels.works.passes == 0:
        return f"Not one of {levels.works.rows:,} {many} built as stated would {keeps}."
    return f"Of 100 {many} built as stated, about {sampled(levels.works)} {keeps}."


def sampled(share: Proportion) -> str:
    """Write a share of a hundred; its interval second, and called that.

    In whole parts, where it is not near none or all: the physics knows no more. The interval of
    the sampling is finer, so that two answers can be told apart.
    """
    value, _, interval = wording.share_of_a_hundred(share).partition(" (")
    whole = f"{100 * share.value:.0f}"
    if WHOLE <= share.value <= 1.0 - WHOLE and share.low <= int(whole) / 100 <= share.high:
        value = whole  # where that does not lie outside of its own interval
    return f"{value} (sampling: {interval}" if interval else value


def moments_in_words(keeps: float) -> str:
    """Write the share of the moments that working asks for: ``99 of 100 moments of running``."""
    return f"{wording.out_of_a_hundred(keeps)} moments of running"


def _band(levels: TwoLevels, many: str) -> str:
    band = levels.band
    if band is None:
        return "No doubt about the physics is stated, so nothing is said of how far it may be off."
    low, high = band_ends(levels)
    if low == high and low in (UNDER, OVER):
        return f"In nine of ten ways that the physics may turn out it is {low} of 100 {many}."
    if low == high:
        return "What the physics does not know hardly moves that."
    text = f"What the physics does not know puts that anywhere from {low} to {high} of 100 {many}"
    if band.leading is None:
        return f"{text}."
    return f"{text}, {wording.in_words(band.leading[0])} most of all."


def band_ends(levels: TwoLevels) -> tuple[str, str]:
    """Write the two figures of the band, of a hundred, with no more digits than it bears."""
    assert levels.band is not None
    return _whole(levels.band.low.value), _whole(levels.band.high.value)


def _whole(share: float) -> str:
    """Write a share as whole parts of a hundred, and neither none nor all of them."""
    if share < 0.005:
        return UNDER
    return OVER if share >= 0.995 else f"{100 * share:.0f}"


def levels_table(levels: TwoLevels, study: Study) -> Table:
    """Lay the three things out side by side."""
    many = study.vocabulary.many
    rows = [
        _row(
            f"{many} that work"
            + ("" if levels.one_level else f", in {moments_in_words(levels.keeps)}"),
            "works",
            wording.percent(levels.works),
            cells.interval_values(levels.works),
        )
    ]
    if levels.one_level is None:
        rows.append(
            _row(
                f"{many} and moments at random",
                "moments",
                wording.percent(levels.share),
                cells.interval_values(levels.share),
            )
        )
    if levels.band is not None:
        low, high = band_ends(levels)
        values = (None, levels.band.low.value, levels.band.high.value)
        rows.append(
            _row(
                "the first of these, as the physics may turn out",
                "band",
                f"{low} to {high} %" if low != high else f"{low} %",
                values,
            )
        )
    columns = (Column("of what", ("level",)), Column("keeps every limit", ("share", "low", "high")))
    return Table("works", f"How many {many} work", columns, tuple(rows))


def _row(words: str, key: str, reads: str, values: Sequence[float | None]) -> Row:
    return Row((Cell(words, (key,)), Cell(reads, tuple(values))))


def levels_value(levels: TwoLevels | None) -> dict[str, Any] | None:
    """Lay the two levels out as plain values: ``works`` of result.json."""
    if levels is None:
        return None
    band = levels.band
    return {
        **(proportion_value(levels.works) or {}),
        "keeps": levels.keeps,
        "moments": levels.moments,
        "parts": levels.parts,
        "evaluations": levels.evaluations,
        "one_level": levels.one_level,
        "band": None if band is None else [band.low.value, band.high.value],
        "band_intervals": None if band is None else [_ends(band.low), _ends(band.high)],
        "no_band": levels.no_band,
        "doubts": {}
        if band is None
        else {name: estimate_value(share) for name, share in band.doubts},
    }


def _ends(estimate: Estimate) -> list[float]:
    return [estimate.low, estimate.high]
