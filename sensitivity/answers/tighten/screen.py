"""What a terminal shows of ``tighten``: what halving gains, the set, one sentence."""

from __future__ import annotations

from sensitivity.answers.finalists import levels_in_words
from sensitivity.answers.tighten.find import Tightened
from sensitivity.answers.tighten.tables import gains, halved_table, set_table, shown_halved
from sensitivity.answers.tighten.words import (
    halving_verdict,
    next_after_tightening,
    set_verdict,
    unpriced_in_words,
)
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Items, Words
from sensitivity.presentation.units_said import Said
from sensitivity.pricing.allocation_found import Found

GUESSED = "~ the study names no process here; minutes read off the trend of the workshop table"


def tighten_screen(tightened: Tightened) -> list[Block]:
    """Tell what closer tolerances buy."""
    sampling, found = tightened.plan.sampling, tightened.found
    many = tightened.study.vocabulary.many
    blocks: list[Block] = [
        Words(
            f"{sampling.replicates} replicates of {sampling.points} points, the same {many} for "
            f"every variant; seed {tightened.plan.seed}",
            quiet=True,
        ),
        halved_table(tightened),
    ]
    if hidden := len(tightened.halved) - len(shown_halved(tightened)):
        blocks.append(
            Words(f"and {hidden} more that gain nothing that is clear of zero", quiet=True)
        )
    if empty := unpriced_in_words(tightened, shown_halved(tightened)):
        blocks.append(Words(empty, quiet=True))
    if any(row.weighted is not None for row in tightened.halved):
        blocks.append(
            Words(
                f"By weights: the {many} as drawn, each counted for as much as it stands for; the "
                "effective sample is what is left of them. Gains are at a moment taken at random.",
                quiet=True,
            )
        )
    verdicts = [("", halving_verdict(tightened))]
    if tightened.levels is not None:
        verdicts.insert(0, ("", f"As drawn: {levels_in_words(tightened.levels, many)}."))
    if found is not None:
        blocks += [*_set(found, tightened.said), *_left_as_it_is(tightened)]
        verdicts.append(("", set_verdict(tightened)))
    if onward := next_after_tightening(tightened):
        verdicts.append(("", onward))
    return [*blocks, Items(verdicts)]


def _set(found: Found, said: Said) -> list[Block]:
    blocks: list[Block] = []
    if found.steps:
        blocks.append(set_table(found, said))
        if not all(step.choice.process for step in found.steps):
            blocks.append(Words(GUESSED, quiet=True))
    fresh = f"sample of another seed ({found.fresh_seed})"
    lowest = wording.number(100 * found.works.low, 2)
    borne_out = f"Borne out by a {fresh}: its low end, {lowest} %, reaches the target."
    return [*blocks, Words(borne_out if found.reached else f"All of it on a {fresh}.", quiet=True)]


def _left_as_it_is(tightened: Tightened) -> list[Block]:
    gaining = {row.dimension.name for row in tightened.halved if gains(row)}
    by_note: dict[str, list[str]] = {}
    for dimension in tightened.dimensions:
        if dimension.note and dimension.name in gaining:
            by_note.setdefault(dimension.note, []).append(wording.in_words(dimension.name))
    return [
        Words(f"Left as it is: {wording.listed(names)}: {note}.", quiet=True)
        for note, names in by_note.items()
    ]
