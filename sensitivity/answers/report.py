"""What the reports of all decisions have in common: they rest on one study and one sampling."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from sensitivity.answers.assumptions import assumptions
from sensitivity.answers.card import labelled_drawing
from sensitivity.answers.doubts import doubt_in_brief, doubts_section
from sensitivity.engine.plan import Plan
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import (
    Block,
    Figure,
    Folded,
    Items,
    Page,
    Section,
    Views,
    Words,
)
from sensitivity.presentation.page import cautions_section, repeat_section
from sensitivity.presentation.units_said import said_by
from sensitivity.study.study import Sampling, Study


def answer_page(
    study: Study,
    plan: Plan,
    *,
    question: str,
    answer: str,
    brief: Sequence[tuple[str, str]],
    act: Section,
    told: Sequence[Section],
    how: Sequence[tuple[str, str]],
    command: str,
    drawings: Sequence[Figure] = (),
) -> Page:
    """Tell a decision's story in the order of all reports.

    ``act`` is what to do about it, for the first page; ``told`` what else the decision found, and
    ``how`` the leads and words on how that was got.
    """
    drawn = first_drawing(study, drawings)
    return Page(
        study.title,
        question,
        answer,
        brief,
        drawn.first,
        [act, hangs_section([doubt_in_brief(study)]), cautions_section(study.vocabulary)],
        [
            *told,
            *drawing_section(drawn.behind, study.vocabulary.many),
            assumptions_section(study),
            doubts_folded(doubts_section(study)),
            how_sure_section([*how, *on_sampling(plan.sampling, study.vocabulary.many)]),
            repeat_section(command, plan.seed, {study.name: study.text}),
        ],
        sheet=drawn.sheet,
    )


class Drawn(NamedTuple):
    """Where the drawings of a report stand: on its first page, on a sheet behind it, folded."""

    first: Sequence[Figure | Views]
    sheet: Views | None
    behind: Sequence[Figure]


def first_drawing(study: Study, drawings: Sequence[Figure]) -> Drawn:
    """Part the drawing that a first page shows from those that stand behind it.

    The labelled one is the first, where the models bring it; one of many views, which could not be
    read there on paper, has a sheet of its own.
    """
    labelled = labelled_drawing(study, legend=True)
    if labelled is None or labelled.apart:
        return Drawn(drawings[:1], labelled, drawings[1:])
    return Drawn([labelled], None, drawings)


def hangs_section(sentences: Sequence[str]) -> Section:
    """What the answer hangs on, for the first page."""
    return Section("What it hangs on", [Words(text) for text in sentences])


def assumptions_section(study: Study) -> Section:
    """What the study assumed, folded."""
    varying = len(study.varying)
    folded = f"Every input: {varying} that vary, {len(study.inputs) - varying} that are held"
    return Section("What was assumed", assumptions(study), folded)


def doubts_folded(blocks: Sequence[Block]) -> Section:
    """What the physics does not know, folded; on paper the assumptions have it."""
    title = "What the physics does not know"
    return Section(title, blocks, "Each doubt, and each model's own account", on_paper=False)


def how_sure_section(items: Sequence[tuple[str, str]]) -> Section:
    """How the figures were got, folded."""
    return Section("How sure this is", [Items(items)], "Method and intervals")


def drawing_section(drawings: Sequence[Figure], many: str) -> list[Section]:
    """The drawings to scale under their heading; nothing without any.

    ``many`` is what parts are called. The first is printed, the others if they are unfolded.
    """
    sketch = (
        f"Solid lines are the design exactly as drawn; the shading is a sample of {many} as they "
        "would be built. Dashed grey outlines are a sketch of what the study does not state."
    )
    if not drawings:
        return []
    blocks: list[Block] = [Words(sketch), drawings[0]]
    if more := drawings[1:]:
        folded = "One more drawing" if len(more) == 1 else f"{len(more)} more drawings"
        blocks.append(Folded(folded, more))
    return [Section("Drawn to scale", blocks, f"As drawn, and as {many} would be built")]


def on_sampling(sampling: Sampling, many: str) -> list[tuple[str, str]]:
    """How the sampling was done, and what its intervals mean."""
    return [
        (
            "Method:",
            f"{sampling.replicates} independently scrambled Sobol' sequences of {sampling.points} "
            f"points each. Whatever is compared is compared on the same {many} (common random "
            "numbers), so a difference is the design's and not the sampling's.",
        ),
        on_intervals(sampling),
    ]


def on_intervals(sampling: Sampling) -> tuple[str, str]:
    """What the intervals are, and what they do not tell."""
    return (
        "Intervals:",
        "every estimate is the mean over these replicates and its interval is Student's t between "
        f"them, at {100 * sampling.confidence:g} % confidence; a yield with fewer than ten "
        "failures, or none, has the exact binomial (Clopper-Pearson) interval (*). They show how "
        "far the sampling is settled, not whether the stated spreads are true.",
    )


def figures_of(drawn: Mapping[str, tuple[str, str]]) -> list[Figure]:
    """Turn drawn figures, by name, into blocks."""
    return [Figure(name, svg, words) for name, (svg, words) in drawn.items()]


def wanted_in_words(study: Study) -> str:
    """Name the limits of a study: ``flood margin at least 0 mm and ...``."""
    said = said_by(study)
    return wording.listed(
        [f"{wording.in_words(limit.result)} {said.limit(limit)}" for limit in study.limits]
    )
