"""What a command leaves behind: report, JSON, tables, figures and the study."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sensitivity.answers.run.document import result_document
from sensitivity.engine.result import Result
from sensitivity.presentation.folder import new_results
from sensitivity.presentation.json_values import to_json


def write_run(result: Result, target: Path) -> str:
    """Write the results folder, whole or not at all; return the text of ``result.json``."""
    from sensitivity.answers.run.figures import run_figures
    from sensitivity.answers.run.model_figures import model_figures
    from sensitivity.answers.run.report import run_report
    from sensitivity.answers.run.silent_figures import left_out
    from sensitivity.answers.run.tables import result_tables
    from sensitivity.presentation.drawing import model_drawings

    document = to_json(result_document(result))
    figures = model_drawings(result) | run_figures(result) | model_figures(result)
    silent = left_out(result)
    figures = {name: figure for name, figure in figures.items() if name not in silent}
    report = run_report(result, figures)
    with new_results(target) as folder:
        for name in ("tables", "figures"):
            (folder / name).mkdir()
        for name, table in result_tables(result).items():
            table.to_csv(folder / "tables" / f"{name}.csv", index=False)
        for name, (svg, _) in figures.items():
            (folder / "figures" / f"{name}.svg").write_text(svg, encoding="utf-8")
        (folder / "report.html").write_text(report, encoding="utf-8")
        (folder / "study.toml").write_text(result.study.text, encoding="utf-8")
        if result.plan.keep_samples:
            _write_samples(result, folder / "samples.csv.gz")
        (folder / "result.json").write_text(document, encoding="utf-8")
    return document


def _write_samples(result: Result, path: Path) -> None:
    import pandas as pd

    pd.DataFrame(dict(result.sample)).to_csv(
        path, index=False, float_format="%.7g", compression={"method": "gzip", "mtime": 0}
    )


def write_answer(
    target: Path,
    document: str,
    tables: Mapping[str, list[dict[str, Any]]],
    figures: Mapping[str, str],
    studies: Mapping[str, str],
    report: str,
) -> None:
    """Write a decision's folder, whole or not at all: report, JSON, tables, figures, studies."""
    import pandas as pd

    with new_results(target) as folder:
        for name in ("tables", "figures"):
            (folder / name).mkdir()
        for name, rows in tables.items():
            pd.DataFrame(rows).to_csv(folder / "tables" / f"{name}.csv", index=False)
        for name, svg in figures.items():
            (folder / "figures" / f"{name}.svg").write_text(svg, encoding="utf-8")
        for name, text in studies.items():
            stem = "study" if len(studies) == 1 else name
            (folder / f"{stem}.toml").write_text(text, encoding="utf-8")
        (folder / "report.html").write_text(report, encoding="utf-8")
        (folder / "result.json").write_text(document, encoding="utf-8")
