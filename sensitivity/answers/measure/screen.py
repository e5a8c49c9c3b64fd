"""What a terminal shows of ``measure``: the order, each dimension alone, one sentence."""

from __future__ import annotations

from sensitivity.answers.measure.find import Measuring
from sensitivity.answers.measure.tables import alone_table, order_table, rejection_table
from sensitivity.answers.measure.words import (
    as_drawn_it_reads,
    at_best,
    gains_in_words,
    measure_verdict,
    next_after_measuring,
    said_in_words,
    without_gain_in_words,
)
from sensitivity.presentation.blocks import Block, Items, Words


def _at_moments(found: Measuring) -> str:
    moments = found.levels.moments
    return f", all at the {moments:,} moments of their replicate" if moments > 1 else ""


def measure_screen(found: Measuring) -> list[Block]:
    """Tell in which order to measure, with what, and how many work after each."""
    sampling = found.plan.sampling
    count = found.as_drawn.rows
    tried = f", each at {len(found.settings.points)} settings" if found.settings else ""
    blocks: list[Block] = [
        Words(
            f"{sampling.replicates} replicates of {sampling.points} points; {count:,} "
            f"{found.study.system.vocabulary.many}{_at_moments(found)}{tried}; seed "
            f"{found.plan.seed}",
            quiet=True,
        ),
        order_table(found),
        Words(gains_in_words(found), quiet=True),
    ]
    if reads := as_drawn_it_reads(found):
        blocks.append(Words(reads))
    if said := said_in_words(found):
        blocks.append(Words(said))
    if any(row.settled for row in found.candidates):
        blocks.append(alone_table(found))
    if others := without_gain_in_words(found):
        blocks.append(Words(others, quiet=True))
    if found.set_well and found.steps:
        blocks.append(rejection_table(found, at_best(found)))
    closing = [("", measure_verdict(found))]
    if onward := next_after_measuring(found):
        closing.append(("", onward))
    return [*blocks, Items(closing)]
