"""The answer of ``check``, as one value: nothing is sampled, so it has no seed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from sensitivity.answers.answer import Answer
from sensitivity.answers.check.find import Checked, check_drawing
from sensitivity.answers.check.tables import stack_table
from sensitivity.answers.check.words import check_verdict, without_an_answer
from sensitivity.answers.report import command_in_words
from sensitivity.presentation.blocks import Block, Figure, Items, Page, Section
from sensitivity.presentation.page import cautions_section
from sensitivity.presentation.table import Table
from sensitivity.study.study import Study


@dataclass(frozen=True, repr=False)
class CheckAnswer(Answer[Checked]):
    """Nominal results, worst case and root-sum-square against the limits, without sampling."""

    command: ClassVar[str] = "check"

    @property
    def verdict(self) -> str:
        """Which limits it breaks as drawn, if any."""
        return check_verdict(self.found)

    @property
    def repeat(self) -> str:
        """The command that gives the same again."""
        return command_in_words(self.command, self.studies)

    def screen(self) -> Sequence[Block]:
        """The table and the verdict."""
        lines = [("", self.verdict)]
        if note := without_an_answer(self.found):
            lines.append(("", note))
        return [stack_table(self.found), Items(lines)]

    def page(self) -> Page:
        """The write-up: what the terminal shows."""
        title, question = self.title, "The question: does it work exactly as drawn?"
        told = Section("The drawing by itself", list(self.screen()))
        cautions = cautions_section(self.studies[0].system.vocabulary)
        return Page(title, question, self.verdict, (), (), [told, cautions], ())

    def body(self) -> dict[str, Any]:
        """Each result as plain values."""
        return {
            "outputs": {
                result.name: {
                    "unit": result.unit,
                    "nominal": result.nominal,
                    "limit": None
                    if result.limit is None
                    else {"at_least": result.limit.at_least, "at_most": result.limit.at_most},
                    "met": result.met,
                    "root_sum_square": list(result.root_sum_square),
                    "worst_case": list(result.worst_case),
                }
                for result in self.found.results
            },
            "no_answer": self.found.no_answer,
        }

    def _sheets(self) -> Sequence[Table]:
        return [stack_table(self.found)]

    def _drawn(self) -> Sequence[Figure]:
        return []

    def _sampled(self) -> dict[str, Any]:
        return {}


def check(study: Study) -> CheckAnswer:
    """Hold a design exactly as drawn, and its two classical stack-ups, against its limits.

    Parameters
    ----------
    study : Study
        Nothing of it is sampled.

    Raises
    ------
    CallError
        Where the design as drawn has no answer for what it is judged by.
    """
    return CheckAnswer(check_drawing(study))
