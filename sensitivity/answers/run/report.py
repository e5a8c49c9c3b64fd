"""The report of a run: the question, the answer, and how far to trust it."""

from __future__ import annotations

from collections.abc import Mapping

from sensitivity.answers.assumptions import assumptions
from sensitivity.answers.doubts import doubt_in_brief, doubts_section
from sensitivity.answers.levels import levels_table
from sensitivity.answers.on_nobody import robustness_in_words, robustness_table
from sensitivity.answers.ranking_tables import index_tables, ranking_tables, to_do
from sensitivity.answers.report import (
    drawing_section,
    model_file_options,
    on_intervals,
    wanted_in_words,
)
from sensitivity.answers.run.acting import acting_table, first_in_brief, nominal_in_words
from sensitivity.answers.run.find import Ran
from sensitivity.answers.run.silent_figures import left_out
from sensitivity.answers.run.statements import limits_in_brief, margin_statement, uses_inches
from sensitivity.answers.run.tables import outputs_table, shapley_table
from sensitivity.answers.run.totals import part_totals_in_words, part_totals_table
from sensitivity.answers.run.words import result_notes, run_verdict
from sensitivity.engine.result import Result
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Figure, Folded, Items, Page, Section, Words
from sensitivity.presentation.page import cautions_section, repeat_section
from sensitivity.pricing.ranking import Ranking
from sensitivity.pricing.worth import RULE

OF_THE_RANKING = ("what_matters", "rare_failures")


def run_page(ran: Ran, figures: Mapping[str, Figure], command: str) -> Page:
    """Tell the story of a run in order.

    Parameters
    ----------
    ran : Ran
        What was found.
    figures : mapping of name to Figure
        The model's drawings, the run's own figures and the models'. One that says nothing is left
        out, with a sentence.
    command : str
        That gives the same again.
    """
    result, ranking = ran.result, ran.ranking
    study, inches = result.study, uses_inches(result.study)
    silent = left_out(ran)
    figures = {name: figure for name, figure in figures.items() if name not in silent}
    drawings = [figure for name, figure in figures.items() if name.startswith("drawing")]
    others = [
        figure
        for name, figure in figures.items()
        if figure not in drawings and name != "results" and name not in OF_THE_RANKING
    ]
    sections = [
        *drawing_section(drawings, study.vocabulary.many),
        Section("What was assumed", assumptions(study)),
        Section(
            "Results against the limits" if result.limited else "Results",
            [
                *([levels_table(ran.levels, study)] if ran.levels else []),
                *_statements(result, inches=inches),
                outputs_table(ran),
                *(Words(note, quiet=True) for note in result_notes(result)),
                *_one("results", figures, silent),
                *others,
            ],
        ),
        Section(
            "What matters",
            [
                *([Words(ranking.note)] if ranking.note else []),
                *ranking_tables(ranking)[:1],
                *_other_rankings(ranking),
                *([Words(RULE, quiet=True)] if ranking.rows else []),
                *(block for name in OF_THE_RANKING for block in _one(name, figures, silent)),
                *_part_totals(ran),
                *([shapley_table(ran.shapley)] if ran.shapley is not None else []),
                *index_tables(result),
            ],
        ),
        Section("What to do", _what_to_do(ran)),
        *_on_nobody(ran),
        Section("How sure this is", _how_sure(result)),
        Section("What the physics does not know", doubts_section(study, result, ranking)),
        cautions_section(study.vocabulary),
        repeat_section(command, result.plan.seed, {study.name: study.text}),
    ]
    brief = [("What is in doubt", doubt_in_brief(study, result, ranking))]
    if result.limited:
        brief = [
            ("How likely it fails", limits_in_brief(result, inches=inches)),
            ("What to do first", first_in_brief(ran)),
            *brief,
        ]
    return Page(study.title, question(result), run_verdict(ran), brief, sections)


def _other_rankings(ranking: Ranking) -> list[Block]:
    tables = ranking_tables(ranking)[1:]
    return [Folded("Running conditions and doubts, ranked", tables)] if tables else []


def _what_to_do(ran: Ran) -> list[Block]:
    acting, nominal = acting_table(ran), nominal_in_words(ran)
    return [
        *([acting] if acting is not None else []),
        *([Words(nominal)] if nominal else []),
        *to_do(ran.result, ran.ranking, model_file_options(ran.study)),
    ]


def _part_totals(ran: Ran) -> list[Block]:
    if ran.part_totals is None:
        return []
    words = Words(part_totals_in_words(ran.part_totals, ran.study), quiet=True)
    return [part_totals_table(ran.part_totals, ran.study), words]


def _on_nobody(ran: Ran) -> list[Section]:
    if ran.robustness is None:
        return []
    told = Words(robustness_in_words(ran.robustness, ran.study))
    table = Folded(
        "Each figure without a source, halved and doubled", [robustness_table(ran.robustness)]
    )
    return [Section("On nobody's figure", [told, table])]


def question(result: Result) -> str:
    """Put the question that a run answers."""
    said = result.study.vocabulary
    if not result.limited:
        return f"How are the results spread over {said.many} built as stated?"
    return (
        f"The question: how likely is a {said.one} to work that is built to this drawing, each "
        f"dimension held as well as stated? Wanted at once: {wanted_in_words(result.study)}."
    )


def _one(name: str, shown: Mapping[str, Figure], silent: Mapping[str, str]) -> list[Block]:
    if name in shown:
        return [shown[name]]
    return [Words(silent[name])] if name in silent else []


def _statements(result: Result, *, inches: bool) -> list[Block]:
    limited, many = result.limited, result.study.vocabulary.many
    if not limited:
        return []
    return [
        Items(
            [
                (
                    f"{wording.in_words(output.name).capitalize()}:",
                    margin_statement(output, many, inches=inches),
                )
                for output in limited
            ]
        )
    ]


def _how_sure(result: Result) -> list[Block]:
    sampling, said = result.plan.sampling, result.study.vocabulary
    items = [
        (
            "Method:",
            f"{result.replicates} independently scrambled Sobol' sequences of {sampling.points} "
            f"points each, {result.evaluations:,} {said.many} in all, as stated and with each "
            "input exchanged in turn.",
        ),
        on_intervals(sampling),
        (
            "Points without an answer:",
            f"{result.invalid:,} of {result.evaluations:,}, counted as failing every limit."
            if result.invalid
            else "none.",
        ),
        (
            "Indices:",
            "Saltelli and others 2010 (first-order) and Jansen 1999 (total-effect). That of "
            "pass/fail is of meeting all limits together at a moment; they overlap and need not "
            "add to 1.",
        ),
        (
            "Worst case:",
            "a search of the tolerance box (a normal spread's box is its stated half-width), "
            f"widened by any sampled {said.one} inside it. It asks for every dimension to be at "
            "its worst together.",
        ),
        (
            "Root-sum-square:",
            "central differences over one standard deviation; it holds while results are nearly "
            "linear.",
        ),
    ]
    if result.overall is not None and result.overall.failures:
        items.insert(
            0,
            (
                "Yield:",
                f"{wording.percent(result.overall)} of {said.many} keep within every limit, from "
                f"{result.overall.failures:,} failures among {result.overall.rows:,}.",
            ),
        )
    return [Items(items)]
