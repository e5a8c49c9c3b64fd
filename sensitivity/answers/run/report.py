"""The report of a run: the question, the answer, and how far to trust it."""

from __future__ import annotations

import shlex
from collections.abc import Mapping

from sensitivity.answers.assumptions import assumptions
from sensitivity.answers.doubts import doubt_in_brief, doubts_section
from sensitivity.answers.ranking_tables import index_tables, measure_in_brief, ranking_tables, to_do
from sensitivity.answers.report import drawing_section, on_intervals, wanted_in_words
from sensitivity.answers.run.silent_figures import left_out
from sensitivity.answers.run.statements import (
    limits_in_brief,
    margin_statement,
    quantity,
    uses_inches,
    value_range,
)
from sensitivity.engine.result import Output, Result
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Figure, Items, Page, Section, Words
from sensitivity.presentation.blocks import PlainTable as Table
from sensitivity.presentation.page import cautions_section, render, repeat_section
from sensitivity.pricing.ranking import rank, verdict

OF_THE_RANKING = ("what_matters", "rare_failures")


def run_report(result: Result, figures: Mapping[str, tuple[str, str]]) -> str:
    """Write the report of a run as HTML.

    ``figures`` are SVG text and what it shows in words, by name: those of ``run_figures``,
    ``model_figures`` and ``model_drawings``. One that says nothing is left out, with a sentence.
    """
    return render(run_page(result, figures))


def run_page(result: Result, figures: Mapping[str, tuple[str, str]]) -> Page:
    """Tell the story of a run in order."""
    study, inches = result.study, uses_inches(result.study)
    silent = left_out(result)
    shown = {
        name: Figure(name, svg, words)
        for name, (svg, words) in figures.items()
        if name not in silent
    }
    drawings = [figure for name, figure in shown.items() if name.startswith("drawing")]
    others = [
        figure
        for name, figure in shown.items()
        if figure not in drawings and name != "results" and name not in OF_THE_RANKING
    ]
    ranking = rank(result)
    sections = [
        *drawing_section(drawings),
        Section("What was assumed", assumptions(study)),
        Section(
            "Results against the limits" if result.limited else "Results",
            [
                *_statements(result, inches=inches),
                _results_table(result, inches=inches),
                *(Words(note, quiet=True) for note in result_notes(result)),
                *_one("results", shown, silent),
                *others,
            ],
        ),
        Section(
            "What matters",
            [
                *([Words(ranking.note)] if ranking.note else []),
                *ranking_tables(ranking),
                *(block for name in OF_THE_RANKING for block in _one(name, shown, silent)),
                *index_tables(result),
            ],
        ),
        Section("What to do", to_do(result, _model_files(result))),
        Section("How sure this is", _how_sure(result)),
        Section("What the physics does not know", doubts_section(study, result)),
        cautions_section(),
        repeat_section(command_to_repeat(result), result.plan.seed, {study.name: study.text}),
    ]
    brief = [("What is in doubt", doubt_in_brief(study, result))]
    if result.limited:
        brief = [
            ("How likely it fails", limits_in_brief(result, inches=inches)),
            ("Measure first", measure_in_brief(result)),
            *brief,
        ]
    return Page(study.title, question(result), verdict(result), brief, sections)


def question(result: Result) -> str:
    """Put the question that a run answers."""
    if not result.limited:
        return "How are the results spread over burners built as stated?"
    return (
        "The question: how likely is a burner to work that is built to this drawing, each "
        f"dimension held as well as stated? Wanted at once: {wanted_in_words(result.study)}."
    )


def _one(name: str, shown: Mapping[str, Figure], silent: Mapping[str, str]) -> list[Block]:
    if name in shown:
        return [shown[name]]
    return [Words(silent[name])] if name in silent else []


def _statements(result: Result, *, inches: bool) -> list[Block]:
    limited = result.limited
    if not limited:
        return []
    return [
        Items(
            [
                (
                    f"{wording.in_words(output.name).capitalize()}:",
                    margin_statement(output, inches=inches),
                )
                for output in limited
            ]
        )
    ]


def _results_table(result: Result, *, inches: bool) -> Table:
    shown = result.limited or result.outputs
    limited = bool(result.limited)
    head = ["result", "as drawn", "95 % of burners", "root-sum-square, 95 %", "worst case"]
    if limited:
        head = ["result", "must be", *head[1:], "keeps within", "why"]
    rows = [_result_row(output, limited=limited, inches=inches) for output in shown]
    if result.overall is not None:
        empty = [""] * (len(head) - 3)
        rows.append(["all limits together", *empty, wording.percent(result.overall), ""])
    caption = "Each result against its limit" if limited else "Each result"
    return Table(caption, head, rows)


def _result_row(output: Output, *, limited: bool, inches: bool) -> list[str]:
    scale, unit = output.scale, output.unit

    def both(ends: tuple[float, float]) -> str:
        return value_range(*ends, unit, scale, inches=inches)

    cells = [
        quantity(output.nominal, unit, scale, inches=inches),
        both((output.quantiles[0.025], output.quantiles[0.975])),
        both(output.root_sum_square),
        both(output.worst_case),
    ]
    name = wording.in_words(output.name)
    if not limited:
        return [name, *cells]
    limit = output.limit
    return [
        name,
        wording.limit(limit) if limit else "",
        *cells,
        wording.percent(output.proportion) if output.proportion else "",
        limit.because if limit else "",
    ]


def result_notes(result: Result) -> list[str]:
    """Say what a reader of the results must know beside the figures."""
    notes = []
    shares = [output.proportion for output in result.outputs if output.proportion]
    if any(share.method == "clopper-pearson" for share in shares):
        notes.append(
            "* or a bound: exact binomial (Clopper-Pearson) on the pooled counts, where failures "
            "are too few for the spread between replicates."
        )
    if result.invalid:
        notes.append(
            f"The models have no answer for {result.invalid:,} of {result.evaluations:,} burners; "
            "these count as failing every limit."
        )
    for name, count in result.outside.items():
        stated = next(q.range.stated for q in result.plan.system.inputs if q.name == name)
        notes.append(
            f"{wording.in_words(name)}: {count:,} drawn values are physically impossible (it is "
            f"{stated}) and count as failing; look at its spread."
        )
    return notes


def _how_sure(result: Result) -> list[Block]:
    sampling = result.plan.sampling
    items = [
        (
            "Method:",
            f"{result.replicates} independently scrambled Sobol' sequences of {sampling.points} "
            f"points each, {result.evaluations:,} burners in all, as stated and with each input "
            "exchanged in turn.",
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
            "Saltelli and others 2010 (first-order) and Jansen 1999 (total). A share in pass/fail "
            "is the total index of meeting all limits together; shares overlap and need not add "
            "to 1.",
        ),
        (
            "Worst case:",
            "a search of the tolerance box (a normal spread's box is its stated half-width), "
            "widened by any sampled burner inside it. It asks for every dimension to be at its "
            "worst together.",
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
                f"{wording.percent(result.overall)} of burners keep within every limit, from "
                f"{result.overall.failures:,} failures among {result.overall.rows:,}.",
            ),
        )
    return [Items(items)]


def command_to_repeat(result: Result) -> str:
    """Write the command that gives the same result again."""
    sampling = result.plan.sampling
    words = ["spiritlevel", "run", f"{result.study.name}.toml", "--seed", str(result.plan.seed)]
    words += ["--replicates", str(result.replicates), "--points", str(sampling.points)]
    pairs = " --pairs" if result.plan.pairs else ""
    return shlex.join(words) + _model_files(result) + pairs


def _model_files(result: Result) -> str:
    """Write the options that name the files of the study's own models."""
    origins = dict.fromkeys(model.origin for model in result.study.system.models)
    names = [origin.rpartition("/")[2] for origin in origins if origin.startswith("file:")]
    return "".join(f" --model-file {shlex.quote(name)}" for name in names)
