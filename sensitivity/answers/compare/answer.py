"""The answer of ``compare``, as one value."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

from sensitivity.answers.answer import Answer
from sensitivity.answers.compare.document import comparison_body
from sensitivity.answers.compare.find import Comparison, compare_designs
from sensitivity.answers.compare.names import named_apart
from sensitivity.answers.compare.screen import comparison_screen
from sensitivity.answers.compare.tables import (
    comparison_table,
    contest_tables,
    reasons_tables,
    works_table,
    yields_table,
)
from sensitivity.answers.compare.words import comparison_verdict
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Figure, Page
from sensitivity.presentation.table import Table
from sensitivity.study.study import Study


@dataclass(frozen=True, repr=False)
class CompareAnswer(Answer[Comparison]):
    """The same limits on several designs, and why they differ."""

    command: ClassVar[str] = "compare"

    @property
    def studies(self) -> tuple[Study, ...]:
        """The designs, in their order."""
        return tuple(design.study for design in self.found.designs)

    @property
    def plan(self) -> Plan:
        """What was run of the first design; the others have its sampling and seed."""
        return self.found.plans[0]

    @property
    def title(self) -> str:
        """The designs by name."""
        return f"{wording.listed([study.name for study in self.studies])} compared"

    @property
    def verdict(self) -> str:
        """Of which design more work, and by how much."""
        return comparison_verdict(self.found)

    def screen(self) -> Sequence[Block]:
        """Designs side by side, what moves them, and the verdict."""
        return comparison_screen(self.found)

    def page(self) -> Page:
        """The write-up."""
        from sensitivity.answers.compare.report import comparison_page

        return comparison_page(self.found, self.drawings, self.repeat)

    def body(self) -> dict[str, Any]:
        """Yields and differences as plain values."""
        return comparison_body(self.found)

    def _sheets(self) -> Sequence[Table]:
        return [
            works_table(self.found),
            yields_table(self.found),
            comparison_table(self.found),
            *reasons_tables(self.found),
            *contest_tables(self.found),
        ]

    def _drawn(self) -> Sequence[Figure]:
        from sensitivity.answers.compare.figures import comparison_figures

        return comparison_figures(self.found.designs)


def compare(
    *studies: Study, paths: Sequence[Path] = (), options: RunOptions = DEFAULTS
) -> CompareAnswer:
    """Hold several designs to the same limits, with common random numbers.

    Parameters
    ----------
    *studies : Study
        Two designs or more with the same limits; each is sampled as the first asks.
    paths : sequence of Path
        Where each was read, to tell those of one name apart.
    options : RunOptions
        How much is sampled, by whom, and who is told.

    Returns
    -------
    CompareAnswer
        How many of each design work, how often each limit is kept, and the differences to the
        first's, each with its interval.

    Raises
    ------
    CallError
        Where there are fewer than two designs, or their limits or what works differ.
    """
    apart = named_apart([options.asked_of(study) for study in studies], paths)
    return CompareAnswer(compare_designs(apart, options=options))
