"""The report of ``learn``: what the trials say, and procedures to print for the next."""

from __future__ import annotations

from collections.abc import Mapping

from sensitivity.answers.learn.find import Learnt
from sensitivity.answers.learn.screen import fault_blocks, procedure, sampled_in_words
from sensitivity.answers.learn.tables import (
    dimensions_table,
    next_table,
    readings_table,
    trials_table,
    works_table,
)
from sensitivity.answers.learn.words import (
    doubts_in_words,
    fault_in_words,
    learn_verdict,
    slips_in_words,
)
from sensitivity.answers.levels import sampled
from sensitivity.answers.report import answer_page, wanted_in_words
from sensitivity.presentation.blocks import Block, Figure, Page, Section, Words


def learn_page(found: Learnt, figures: Mapping[str, Figure], command: str) -> Page:
    """Tell what the trials say."""
    said = found.study.vocabulary
    told = [
        Section("What was seen", [trials_table(found)], "Each trial"),
        Section(
            "How likely it works",
            [works_table(found), Words(slips_in_words(found))],
            "Before and after each trial",
        ),
    ]
    if found.readings:
        folded = "Readings, by how much they would tell"
        told.append(Section("What to read", [readings_table(found)], folded))
    told += [
        Section("What was learnt", _learnt(found, figures), "Each dimension and each doubt"),
        Section("Which trial next", _trials(found), "Trials to print, with blanks"),
    ]
    if found.fault is not None:
        act = Section("Where to look first", fault_blocks(found, found.fault))
    else:
        act = Section("What to try next", [next_table(found)] if found.trials else _trials(found))
    return answer_page(
        found.study,
        found.plan,
        question=(
            f"The question: with what was seen of this {said.one}, how likely is it to work, what "
            "does that say of its dimensions and of the physics, and where to look? Wanted at "
            f"once: {wanted_in_words(found.study)}."
        ),
        answer=learn_verdict(found),
        brief=[
            ("How it stands", f"{sampled(found.now)} of 100 {said.many} like this one work."),
            *(
                []
                if found.fault is None
                else [("The fault", " ".join(fault_in_words(found, found.fault)))]
            ),
        ],
        act=act,
        told=told,
        how=[
            ("What is known:", f"{sampled_in_words(found)}."),
            (
                "Suspects:",
                "by mutual information with what was seen to fail, in 36 bins of each input; named "
                "where its interval is clear of zero, those of all inputs holding together.",
            ),
            (
                "Settles:",
                "share of the spread still in doubt that a reading would explain, by regression on "
                "its normal scores; intervals by the jackknife over replicates.",
            ),
        ],
        command=command,
    )


def _learnt(found: Learnt, figures: Mapping[str, Figure]) -> list[Block]:
    title = "What the trials say of each dimension"
    blocks: list[Block] = [figures["learnt"]]
    blocks.append(dimensions_table(found, found.dimensions, "dimensions", title))
    if found.doubts:
        title = "What they say of the physics"
        blocks.append(dimensions_table(found, found.doubts, "doubts", title))
    return [*blocks, *(Words(text) for text in doubts_in_words(found))]


def _trials(found: Learnt) -> list[Block]:
    if not found.trials:
        return [Words("The models bring no trials for what this study computes.")]
    # The first page has the table where no fault comes before it.
    blocks: list[Block] = [next_table(found)] if found.fault is not None else []
    for one in found.trials:
        blocks += procedure(one, found.study.units)
    return blocks
