"""What a terminal shows of ``built``: the parts, how many work, what matters now, one sentence."""

from __future__ import annotations

from sensitivity.answers import narrow
from sensitivity.answers.built.find import Built
from sensitivity.answers.built.tables import matters_table, parts_table, told_table, yields_table
from sensitivity.answers.built.words import built_verdict, coarse_in_words, next_after_reading
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Items, Words

SHOWN, NAMED = 8, 8
"""Dimensions shown of what matters now; below the table as many are named, and the rest counted."""


def built_screen(found: Built) -> list[Block]:
    """Tell how it stands with what was measured."""
    sampling, many = found.plan.sampling, found.study.system.vocabulary.many
    coarse = coarse_in_words(found)
    return [
        Words(
            f"{sampling.replicates} replicates of {sampling.points} points, the same {many} "
            f"throughout; seed {found.plan.seed}",
            quiet=True,
        ),
        parts_table(found),
        *([Items([("", words) for words in coarse])] if coarse else []),
        *([told_table(found, SHOWN)] if found.told else []),
        yields_table(found),
        Words(f"Gains: {many} of 100. {narrow.IN_BRACKETS}", quiet=True),
        *_matters(found),
        Words(built_verdict(found)),
        Words(next_after_reading(found)),
    ]


def _matters(found: Built) -> list[Block]:
    if not found.matters:
        return []
    blocks: list[Block] = [matters_table(found, SHOWN)]
    if rest := [wording.in_words(one.item.name) for one in found.matters[SHOWN:]]:
        if len(rest) > NAMED + 1:
            rest = [*rest[:NAMED], f"{len(rest) - NAMED} others, all in the report"]
        blocks.append(Words(f"And less than these: {wording.listed(rest)}.", quiet=True))
    return blocks
