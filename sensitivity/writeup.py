"""The write-up: one HTML file that opens offline and tells the story in order."""

from __future__ import annotations

import shlex
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from sensitivity import __version__, wording
from sensitivity.advice import RULE, Ranked, rank, verdict
from sensitivity.cautions import CAUTIONS
from sensitivity.result import PASS_FAIL, Output, Result
from sensitivity.study import Input, Kind

if TYPE_CHECKING:
    from jinja2 import Template


RANKING_TITLES: tuple[tuple[Kind, str, str], ...] = (
    ("build", "dimension", "Build dimensions: what to measure"),
    ("running", "condition", "Running conditions: not yours to set"),
    ("model", "doubt", "Model doubts: what the physics does not know"),
)


@lru_cache(maxsize=1)
def _template() -> Template:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("sensitivity"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("report.html.jinja")


def run_report(result: Result, figures: dict[str, tuple[str, str]]) -> str:
    """Write the report of a run as HTML; ``figures`` as ``run_figures`` draws them."""
    ranking = rank(result)
    measure = {"total index": "share in pass/fail (total index)"}.get(
        ranking.measured_by, "distance among failures from the spread among all"
    )
    return _template().render(
        title=result.study.title,
        verdict=verdict(result),
        results=[_result_row(output) for output in (result.limited or result.outputs)]
        + _all_together(result),
        notes=result_notes(result),
        figures=[
            {"name": name, "svg": _inline(svg, words), "words": words}
            for name, (svg, words) in figures.items()
        ],
        ranking_note=ranking.note,
        rankings=[
            {
                "title": title,
                "first": first,
                "measure": measure,
                "advise": kind == "build",
                "rows": [_ranked(row) for row in ranking.of_kind(kind)],
            }
            for kind, first, title in RANKING_TITLES
            if ranking.of_kind(kind)
        ],
        rule=RULE,
        indices=_index_tables(result),
        inputs=[
            {
                "name": wording.in_words(item.name),
                "meaning": item.meaning,
                "drawn": wording.drawn(item),
                "spread": _spread(item),
                "kind": item.kind if item.spread else "",
                "basis": item.basis or ("not stated" if item.spread else ""),
            }
            for item in result.study.inputs
        ],
        correlations=[
            f"{' with '.join(map(wording.in_words, item.inputs))}: rank correlation {item.rank:g}"
            + (f", because {item.because}" if item.because else "")
            for item in result.study.correlations
        ],
        method=_method(result),
        doubts=_doubts(result),
        models=result.study.system.models,
        cautions=CAUTIONS,
        version=__version__,
        seed=result.plan.seed,
        study_name=result.study.name,
        command=command_to_repeat(result),
        study=result.study.text,
    )


def command_to_repeat(result: Result) -> str:
    """Write the command that gives the same result again."""
    sampling = result.plan.sampling
    words = ["spiritlevel", "run", f"{result.study.name}.toml", "--seed", str(result.plan.seed)]
    words += ["--replicates", str(result.replicates), "--points", str(sampling.points)]
    for model in result.study.system.models:
        if model.origin.startswith("file:"):
            words += ["--model-file", model.origin.rpartition("/")[2]]
    return shlex.join(words + (["--pairs"] if result.plan.pairs else []))


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


def _inline(svg: str, words: str) -> str:
    """Cut what stands before the svg element, and give it a name for those who cannot see it."""
    from markupsafe import escape

    body = svg[svg.index("<svg") :]
    return body.replace("<svg ", f'<svg role="img" aria-label="{escape(words)}" ', 1)


def _result_row(output: Output) -> dict[str, Any]:
    scale = output.scale
    return {
        "name": wording.in_words(output.name),
        "limit": wording.limit(output.limit) if output.limit else "",
        "nominal": wording.with_unit(
            wording.number(output.nominal, wording.decimals_for(scale)), output.unit
        ),
        "range": wording.value_range(
            output.quantiles[0.025], output.quantiles[0.975], output.unit, scale
        ),
        "root_sum_square": wording.value_range(*output.root_sum_square, output.unit, scale),
        "worst": wording.value_range(*output.worst_case, output.unit, scale),
        "held": wording.percent(output.proportion) if output.proportion else "",
        "because": output.limit.because if output.limit else "",
    }


def _all_together(result: Result) -> list[dict[str, Any]]:
    if result.overall is None:
        return []
    empty = dict.fromkeys(("limit", "nominal", "range", "root_sum_square", "worst", "because"), "")
    return [empty | {"name": "all limits together", "held": wording.percent(result.overall)}]


def _spread(item: Input) -> str:
    if item.spread is None:
        return "held"
    return item.stated + (f" ({wording.in_words(item.process)})" if item.process else "")


def _ranked(row: Ranked) -> dict[str, str]:
    return {
        "name": wording.in_words(row.name),
        "drawn": row.drawn,
        "spread": row.spread,
        "measure": wording.index(row.measure),
        "advice": row.advice,
    }


def _index_tables(result: Result) -> list[dict[str, Any]]:
    tables: list[dict[str, Any]] = []
    for name in (*result.plan.outputs, PASS_FAIL):
        shown = "pass or fail" if name == PASS_FAIL else wording.in_words(name)
        if name in result.no_indices:
            tables.append({"name": shown, "reason": result.no_indices[name]})
        elif name in result.sensitivity:
            ordered = sorted(result.sensitivity[name].items(), key=lambda p: -p[1].total.value)
            settled = sorted(
                (pair for pair in result.pairs.get(name, {}).items() if pair[1].low > 0),
                key=lambda pair: -pair[1].value,
            )
            tables.append(
                {
                    "name": shown,
                    "reason": "",
                    "rows": [
                        {
                            "name": wording.in_words(group),
                            "first": wording.index(row.first),
                            "total": wording.index(row.total),
                        }
                        for group, row in ordered
                        if row.total.high > 0.0005
                    ],
                    "pairs": "; ".join(
                        f"{' with '.join(map(wording.in_words, pair))} {wording.index(value)}"
                        for pair, value in settled[:8]
                    ),
                }
            )
    return tables


def _method(result: Result) -> str:
    sampling = result.plan.sampling
    level = f"{100 * sampling.confidence:g} %"
    return (
        f"{result.replicates} independently scrambled Sobol' sequences of {sampling.points} points "
        f"each, {result.evaluations:,} burners in all. Every estimate is the mean over these "
        f"replicates and its interval is Student's t between them, at {level} confidence; a yield "
        "with fewer than ten failures, or none, has the exact binomial (Clopper-Pearson) interval. "
        "Indices: Saltelli and others 2010 (first-order) and Jansen 1999 (total). Worst case: a "
        "search of the tolerance box (a normal spread's box is its stated half-width), widened by "
        "any sampled burner inside it. Root-sum-square: central differences over one standard "
        "deviation."
    )


def _doubts(result: Result) -> str:
    doubts = [item for item in result.study.varying if item.kind == "model"]
    if not doubts:
        return "No model doubt is stated in this study; the intervals know nothing of one."
    listed = ", ".join(wording.in_words(item.name) for item in doubts)
    return (
        f"What the physics does not know is sampled as an input of its own: {listed}. The "
        "intervals show how far the sampling is settled, not whether the stated spreads are true."
    )
