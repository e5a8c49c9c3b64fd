"""The answer of ``run``, as one value.

What tells and draws is loaded where it is needed, which is when the crew has its work.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar

from sensitivity.answers.answer import Answer, Call
from sensitivity.answers.levels import headline
from sensitivity.answers.run.find import Ran, find_result
from sensitivity.engine.intervals import Proportion
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.result import PASS_FAIL, Index, Result
from sensitivity.engine.two_levels import TwoLevels
from sensitivity.errors import CallError, nearest
from sensitivity.presentation.blocks import Block, Card, Figure, Page
from sensitivity.presentation.table import Table
from sensitivity.pricing.ranking import rank
from sensitivity.study.study import Study

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd
    from numpy.typing import NDArray


@dataclass(frozen=True, repr=False)
class RunAnswer(Answer[Ran]):
    """How likely it works, what decides it, what to measure."""

    command: ClassVar[str] = "run"
    early: Mapping[str, tuple[str, str]] = field(default_factory=dict)

    @property
    def replicates(self) -> int:
        """How many replicates it took: more than planned, where it stops when sure enough."""
        return self.found.result.replicates

    @property
    def overall(self) -> Proportion | None:
        """The yield: probability of keeping every limit; None without limits."""
        return self.found.result.overall

    @property
    def levels(self) -> TwoLevels | None:
        """How many parts work, how often they keep, and the band; None without limits."""
        return self.found.levels

    @property
    def samples(self) -> pd.DataFrame:
        """Sampled inputs and results, a row a part, in the study's units: ``attrs["units"]``.

        Of the first replicate, or of all where samples were kept.
        """
        import pandas as pd

        units = self._units()
        frame = pd.DataFrame(self._said_samples())
        frame.attrs["units"] = {name: self.said.of_unit(unit).unit for name, unit in units.items()}
        return frame

    def _units(self) -> dict[str, str]:
        study = self.found.study
        units = {item.name: item.unit for item in study.inputs}
        return units | {item.name: item.unit for item in study.system.results}

    def _said_samples(self) -> dict[str, NDArray[np.float64]]:
        """The sampled values (n,) by name, in the study's units."""
        units = self._units()
        return {
            name: self.said.of_unit(units.get(name, "")).numbers(values)
            for name, values in self.found.result.sample.items()
        }

    def sensitivity(self, output: str = PASS_FAIL) -> pd.DataFrame:
        """Give the indices of one result, or of pass or fail, largest total index first.

        Parameters
        ----------
        output : str
            Name of a result; pass or fail unless given.

        Returns
        -------
        DataFrame (inputs or groups, 6)
            First-order and total index with the ends of their intervals, by input or group.

        Raises
        ------
        CallError
            Where there is no such result, or its indices are refused; the message says why.
        """
        import pandas as pd

        result = self.found.result
        if output in result.no_indices:
            raise CallError(f"{output}: {result.no_indices[output]}")
        if output not in result.sensitivity:
            raise CallError(
                f'no result "{output}" has indices; {nearest(output, result.sensitivity)}'
            )
        ordered = sorted(result.sensitivity[output].items(), key=lambda p: -p[1].total.value)
        frame = pd.DataFrame.from_dict(
            {name: _index_row(index) for name, index in ordered}, orient="index"
        )
        frame.attrs["units"] = dict.fromkeys(frame.columns, "")
        return frame

    @property
    def verdict(self) -> str:
        """How many of a hundred keep within every limit, and what is broken most often."""
        from sensitivity.answers.run.words import run_verdict

        return run_verdict(self.found)

    def screen(self) -> Sequence[Block]:
        """The verdict, the results and the rankings."""
        from sensitivity.answers.run.screen import run_screen

        return run_screen(self.found)

    def page(self) -> Page:
        """The write-up."""
        from sensitivity.answers.run.report import run_page

        return run_page(self.found, self.drawings, self.repeat)

    def card(self) -> Card | None:
        """The bench card; None without limits, which is what tells that it works."""
        from sensitivity.answers.card import bench_card
        from sensitivity.answers.run.acting import to_gauge, to_make_closer

        found, drawings = self.found, self.drawings
        if found.levels is None:
            return None
        return bench_card(
            found.study,
            headline(found.levels, found.study)[0],
            gauge=to_gauge(found),
            closer=to_make_closer(found),
            drawing=next((f for name, f in drawings.items() if name.startswith("drawing")), None),
        )

    def body(self) -> dict[str, Any]:
        """Inputs, outputs, yield, indices and advice as plain values."""
        from sensitivity.answers.run.document import run_body

        return run_body(self.found)

    def more_files(self) -> Mapping[str, bytes]:
        """Every sampled part, where they were kept."""
        from sensitivity.presentation.results_folder import samples_file

        if not self.plan.keep_samples:
            return {}
        return {"samples.csv.gz": samples_file(self._said_samples())}

    def _sheets(self) -> Sequence[Table]:
        from sensitivity.answers.run.tables import run_tables

        return run_tables(self.found)

    def _drawn(self) -> Sequence[Figure]:
        from sensitivity.answers.report import figures_of
        from sensitivity.answers.run.silent_figures import left_out

        result, silent = self.found.result, left_out(self.found)
        drawn = dict(self.early or drawn_early(result))
        for model in result.plan.system.models:  # what models bring comes last
            if model.name in drawn:
                drawn[model.name] = drawn.pop(model.name)
        return figures_of({name: each for name, each in drawn.items() if name not in silent})


def drawn_early(result: Result) -> dict[str, tuple[str, str]]:
    """Draw what the result alone shows, such as while its inputs are still being priced."""
    from sensitivity.answers.run.figures import results_drawn, run_figures
    from sensitivity.answers.run.model_figures import model_figures
    from sensitivity.presentation.drawing import model_drawings

    drawn = model_drawings(result) | results_drawn(result) | model_figures(result)
    # Of the ranking they show what an input does, which stands before anything is priced.
    return drawn | run_figures(Ran(result, rank(result), 0.0))


def _got_ready(result: Result) -> dict[str, tuple[str, str]]:
    """Draw early, and load what writes the pages, so that less is left for when all is priced."""
    from sensitivity.answers.card import labelled_drawing
    from sensitivity.answers.report import figures_of
    from sensitivity.answers.run import document, report, screen  # noqa: F401  to have them loaded
    from sensitivity.presentation.page import fit_for_a_page, load_writers

    load_writers()
    labelled = labelled_drawing(result.study)
    drawn = drawn_early(result)
    views = [view for column in labelled.columns for view in column] if labelled else []
    fit_for_a_page([*views, *figures_of(drawn)])
    return drawn


def _index_row(index: Index) -> dict[str, float]:
    return {
        "first": index.first.value,
        "first_low": index.first.low,
        "first_high": index.first.high,
        "total": index.total.value,
        "total_low": index.total.low,
        "total_high": index.total.high,
    }


def run(
    study: Study,
    *,
    pairs: bool = False,
    totals: bool = False,
    keep_samples: bool = False,
    options: RunOptions = DEFAULTS,
) -> RunAnswer:
    """Find how likely a study's design works, what decides it, and what to measure.

    Parameters
    ----------
    study : Study
        What varies, by how much, and what is wanted.
    pairs : bool
        Second-order indices too: which pairs act together.
    totals : bool
        Total indices of whether a part works too: what decides that, its moments left out.
    keep_samples : bool
        Keep every sampled part, for ``samples`` and the results folder.
    options : RunOptions
        How much is sampled, by whom, and who is told.

    Returns
    -------
    RunAnswer
        Yield, indices and rankings, each estimate with its interval between replicates.

    Raises
    ------
    CallError
        Where the study cannot be sampled as asked.
    ModelError
        Where a model raises or answers what is not a number.
    """
    asked = options.asked_of(study)
    early: dict[str, tuple[str, str]] = {}
    found = find_result(
        asked,
        pairs=pairs,
        totals=totals,
        keep_samples=keep_samples,
        beside=(lambda result: early.update(_got_ready(result))) if options.draws else None,
        options=options,
    )
    return RunAnswer(found, Call((), {"--pairs": pairs, "--totals": totals}), early)
