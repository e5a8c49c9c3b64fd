"""The report of a run: the question, the answer, and how far to trust it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from sensitivity.answers.calls_in_words import model_file_options
from sensitivity.answers.doubts import doubt_in_brief, doubts_section
from sensitivity.answers.implausible import implausible_in_a_line
from sensitivity.answers.levels import levels_table
from sensitivity.answers.ranking_tables import index_tables, ranking_tables, to_do
from sensitivity.answers.report import (
    assumptions_section,
    doubts_folded,
    drawing_section,
    first_drawing,
    hangs_section,
    how_sure_section,
    on_intervals,
    wanted_in_words,
)
from sensitivity.answers.run.acting import (
    acting_table,
    finer,
    first_in_brief,
    nominal_in_words,
    readings_first,
)
from sensitivity.answers.run.find import Ran
from sensitivity.answers.run.silent_figures import left_out
from sensitivity.answers.run.statements import margin_statement
from sensitivity.answers.run.tables import outputs_table, shapley_table
from sensitivity.answers.run.totals import part_totals_in_words, part_totals_table
from sensitivity.answers.run.words import result_notes, run_verdict
from sensitivity.answers.unsourced_spreads import robustness_in_words, robustness_table
from sensitivity.engine.result import Result
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Figure, Folded, Items, Page, Section, Words
from sensitivity.presentation.page import cautions_section, repeat_section
from sensitivity.presentation.units_said import said_by
from sensitivity.pricing.ranking import Ranking
from sensitivity.pricing.worth import RULE
from sensitivity.study.study import Study

MOST = 8
"""Build dimensions that are ranked in sight; the rest are folded."""

SELDOM = 0.005
"""Share of moments below which the first page does not tell limits apart."""

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
    study = result.study
    silent = left_out(ran)
    figures = {name: figure for name, figure in figures.items() if name not in silent}
    drawings = [figure for name, figure in figures.items() if name.startswith("drawing")]
    drawn = first_drawing(study, drawings)
    others = [
        figure
        for name, figure in figures.items()
        if figure not in drawings and name != "results" and name not in OF_THE_RANKING
    ]
    sections = [
        Section(
            "Results against the limits" if result.limited else "Results",
            [
                *([levels_table(ran.levels, study)] if ran.levels else []),
                outputs_table(ran),
                *(Words(note, quiet=True) for note in result_notes(result)),
                *_one("results", figures, silent),
                *others,
                *_statements(result),
            ],
            "How often each limit is kept, and by how much" if result.limited else "Each result",
        ),
        Section(
            "What matters",
            [
                *([Words(ranking.note)] if ranking.note else []),
                *_ranked(ranking, study),
                *([Words(RULE, quiet=True)] if ranking.rows else []),
                *(block for name in OF_THE_RANKING for block in _one(name, figures, silent)),
                *_part_totals(ran),
                *([shapley_table(ran.shapley)] if ran.shapley is not None else []),
                *index_tables(result),
            ],
            "Each input, by what it does to pass or fail",
        ),
        *_advice(ran),
        *_unsourced(ran),
        *drawing_section(drawn.behind, study.vocabulary.many),
        assumptions_section(study),
        doubts_folded(doubts_section(study, result, ranking)),
        how_sure_section(_how_sure(result)),
        repeat_section(command, result.plan.seed, {study.name: study.text}),
    ]
    doubt = doubt_in_brief(study, result, ranking)
    unsourced = ran.robustness
    first = [
        *([Section("What to do", _what_to_do(ran))] if result.limited else []),
        hangs_section(
            [
                *implausible_in_a_line(study),
                doubt,
                *([robustness_in_words(unsourced, study)] if unsourced else []),
            ]
        ),
        cautions_section(study.vocabulary),
    ]
    brief = [("Limits broken", limits_broken(result))] if result.limited else []
    return Page(
        study.title,
        question(result),
        run_verdict(ran),
        brief if result.limited else (),
        drawn.first,
        first,
        sections,
        sheet=drawn.sheet,
    )


def _ranked(ranking: Ranking, study: Study) -> list[Block]:
    """The first of the build dimensions open; the rest of them, conditions and doubts folded."""
    tables = ranking_tables(ranking, study)
    if not tables:
        return []
    first, *others = tables
    blocks: list[Block] = [replace(first, rows=first.rows[:MOST])]
    if rest := first.rows[MOST:]:
        title = f"{len(rest)} more"
        blocks.append(Folded(title, [replace(first, title=f"{first.title}, {title}", rows=rest)]))
    if others:
        blocks.append(Folded("Running conditions and doubts, ranked", others))
    return blocks


def _what_to_do(ran: Ran) -> list[Block]:
    """What gains most, one act a row; in words where no act does."""
    acting, nominal = acting_table(ran), nominal_in_words(ran)
    read = readings_first(ran)
    return [
        Words(first_in_brief(ran)) if acting is None else acting,
        *([Words(finer(ran.study.vocabulary.many), quiet=True)] if read else []),
        *([Words(nominal)] if nominal else []),
    ]


def _advice(ran: Ran) -> list[Section]:
    blocks = to_do(ran.result, ran.ranking, model_file_options(ran.study))
    folded = "What to make closer, what to leave, and what to ask next"
    return [Section("Advice", blocks, folded)] if blocks else []


def _part_totals(ran: Ran) -> list[Block]:
    if ran.part_totals is None:
        return []
    words = Words(part_totals_in_words(ran.part_totals, ran.study), quiet=True)
    return [part_totals_table(ran.part_totals, ran.study), words]


def _unsourced(ran: Ran) -> list[Section]:
    if ran.robustness is None:
        return []
    table, folded = robustness_table(ran.robustness), "Each halved and doubled"
    return [Section("Spreads without a source", [table], folded, on_paper=False)]


def limits_broken(result: Result) -> str:
    """Say of how many moments in a hundred each limit is broken, most often first, in one line."""
    broken = [
        (1.0 - output.proportion.value, wording.in_words(output.name))
        for output in result.limited
        if output.proportion is not None
    ]
    often = sorted((each for each in broken if each[0] >= SELDOM), reverse=True)
    told = [f"{name} in {wording.out_of_a_hundred(share)}" for share, name in often]
    if len(often) < len(broken):
        others = "the others" if told else "each"
        told.append(f"{others} in less than {wording.out_of_a_hundred(SELDOM)}")
    return f"Of moments at random: {wording.listed(told)}."


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


def _statements(result: Result) -> list[Block]:
    limited, many = result.limited, result.study.vocabulary.many
    said = said_by(result.study)
    if not limited:
        return []
    told = [
        (
            f"{wording.in_words(output.name).capitalize()}:",
            margin_statement(output, many, said),
        )
        for output in limited
    ]
    return [Folded("The same in words", [Items(told)])]


def _how_sure(result: Result) -> list[tuple[str, str]]:
    sampling, said = result.plan.sampling, result.study.vocabulary
    items = [
        (
            "Method:",
            f"{result.replicates} independently scrambled Sobol' sequences of {sampling.points} "
            f"points each, {result.evaluations:,} evaluations of the models in all, as stated and "
            "with each input exchanged in turn.",
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
    return items
