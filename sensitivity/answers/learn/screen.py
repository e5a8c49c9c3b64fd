"""What a terminal shows of ``learn``."""

from __future__ import annotations

from sensitivity.answers.learn.find import Fault, Learnt
from sensitivity.answers.learn.tables import (
    TOLD,
    dimensions_table,
    next_table,
    readings_table,
    suspects_table,
    trials_table,
    works_table,
)
from sensitivity.answers.learn.words import (
    advised_trial,
    doubts_in_words,
    learn_verdict,
    slips_in_words,
)
from sensitivity.learning.bench import steps_said
from sensitivity.learning.next_trial import NextTrial
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Items, Words
from sensitivity.study.study import Units

READINGS = 5
METHODS = {
    "prior": "nothing was seen",
    "weights": "weighted by what was seen",
    "solved": "solved for what was read",
    "tempered": "led step by step to what was seen",
}


def learn_screen(found: Learnt) -> list[Block]:
    """Tell what the trials say of this part, of the fault, of its dimensions and the physics."""
    one = advised_trial(found)
    return [
        Words(sampled_in_words(found), quiet=True),
        trials_table(found),
        works_table(found),
        Words(slips_in_words(found), quiet=True),
        *([] if found.fault is None else fault_blocks(found, found.fault)),
        *_readings(found),
        *_told(found),
        *([next_table(found)] if found.trials else []),
        *([] if one is None else procedure(one, found.study.units)),
        Words(learn_verdict(found)),
    ]


def sampled_in_words(found: Learnt) -> str:
    """Say how many rows there are, how they were come by, and how many count."""
    replicates, rows = found.known.weights.shape
    return (
        f"{replicates * rows:,} {found.study.vocabulary.many}, {METHODS[found.known.method]}: "
        f"worth {found.known.ess:,.0f} drawn independently; seed {found.plan.seed}"
    )


def fault_blocks(found: Learnt, fault: Fault) -> list[Block]:
    """The suspects, and what their figures mean."""
    if not fault.named:
        return [Words("What was seen to fail says nothing clear of any one dimension.")]
    blocks: list[Block] = [
        suspects_table(found, fault),
        Words(
            "Tells: of all that would say whether it fails so, the share that this says by itself. "
            "If one slipped: chances that it is this one, if just one dimension was made wrong.",
            quiet=True,
        ),
    ]
    for group in fault.together:
        names = wording.listed([wording.in_words(name) for name in group])
        blocks.append(Words(f"These together rather than apart: {names}."))
    return blocks


def _readings(found: Learnt) -> list[Block]:
    if not any(one.settles.low > 0.0 for one in found.readings):
        return []
    return [readings_table(found, READINGS)]


def _told(found: Learnt) -> list[Block]:
    blocks: list[Block] = []
    if any(one.told >= TOLD for one in found.dimensions):
        title = "What the trials say of each dimension"
        blocks.append(dimensions_table(found, found.dimensions, "dimensions", title))
    if any(one.told >= TOLD for one in found.doubts):
        title = "What they say of the physics"
        blocks.append(dimensions_table(found, found.doubts, "doubts", title))
    return [*blocks, *(Words(text) for text in doubts_in_words(found))]


def procedure(one: NextTrial, units: Units) -> list[Block]:
    """How a trial is made, with blanks to fill in and what to heed."""
    return [
        Words(f"How: {one.trial.title}."),
        Items([(f"{n}.", step) for n, step in enumerate(steps_said(one.trial, units), 1)]),
        Items([("Caution:", text) for text in one.trial.cautions]),
    ]
