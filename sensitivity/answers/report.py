"""What the reports of all decisions have in common: they rest on one study and one sampling."""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence

from sensitivity.answers.assumptions import assumptions
from sensitivity.answers.doubts import doubt_in_brief, doubts_section
from sensitivity.engine.plan import Plan
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Figure, Items, Page, Section, Words
from sensitivity.presentation.page import cautions_section, repeat_section
from sensitivity.study.study import Sampling, Study


def answer_page(
    study: Study,
    plan: Plan,
    *,
    question: str,
    answer: str,
    brief: Sequence[tuple[str, str]],
    told: Sequence[Section],
    how: Sequence[tuple[str, str]],
    command: str,
    drawings: Sequence[Figure] = (),
) -> Page:
    """Tell a decision's story in the order of all reports.

    ``told`` is what the decision found, ``how`` the leads and words on how that was got.
    """
    return Page(
        study.title,
        question,
        answer,
        [*brief, ("What is in doubt", doubt_in_brief(study))],
        [
            *drawing_section(drawings, study.vocabulary.many),
            Section("What was assumed", assumptions(study)),
            *told,
            Section(
                "How sure this is",
                [Items([*how, *on_sampling(plan.sampling, study.vocabulary.many)])],
            ),
            Section("What the physics does not know", doubts_section(study)),
            cautions_section(study.vocabulary),
            repeat_section(command, plan.seed, {study.name: study.text}),
        ],
    )


def drawing_section(drawings: Sequence[Figure], many: str) -> list[Section]:
    """The drawings under their heading; nothing without any. ``many`` is what parts are called."""
    sketch = (
        f"Solid lines are the design exactly as drawn; the shading is a sample of {many} as they "
        "would be built. Dashed grey outlines are a sketch of what the study does not state."
    )
    blocks: list[Block] = [Words(sketch), *drawings]
    return [Section("The drawing", blocks)] if drawings else []


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


def command_in_words(
    command: str,
    studies: Sequence[Study],
    words: Sequence[str] = (),
    options: Mapping[str, object] | None = None,
) -> str:
    """Write a call as it would be typed: studies, further words, the options that say something.

    A list is an option given several times; models in files of their own are named by themselves.
    """
    typed = ["spiritlevel", command, *(f"{study.name}.toml" for study in studies), *words]
    for option, value in {**(options or {}), "--model-file": _model_files(studies)}.items():
        if value is True:
            typed.append(option)
        elif isinstance(value, list | tuple):
            typed += [word for each in value for word in (option, str(each))]
        elif value is not None and value is not False:
            typed += [option, f"{value:g}" if isinstance(value, float) else str(value)]
    return shlex.join(typed)


def model_file_options(study: Study) -> str:
    """Write the options that name the files of the study's own models, a space before each."""
    return "".join(f" --model-file {shlex.quote(name)}" for name in _model_files([study]))


def _model_files(studies: Sequence[Study]) -> list[str]:
    origins = dict.fromkeys(model.origin for study in studies for model in study.system.models)
    return [origin.rpartition("/")[2] for origin in origins if origin.startswith("file:")]


def sampling_options(plan: Plan) -> dict[str, object]:
    """The options that make a call sample as this plan did."""
    sampling = plan.sampling
    return {
        "--seed": plan.seed,
        "--replicates": sampling.replicates,
        "--points": sampling.points,
    }


def wanted_in_words(study: Study) -> str:
    """Name the limits of a study: ``flood margin at least 0 mm and ...``."""
    return wording.listed(
        [f"{wording.in_words(limit.result)} {wording.limit(limit)}" for limit in study.limits]
    )
