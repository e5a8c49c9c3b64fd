"""The answer of ``check``, as one value: nothing is sampled, so it has no seed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from sensitivity.answers.answer import Answer
from sensitivity.answers.borrowed import DECLARED_NAMED, borrowed_in_words, declared_in_words
from sensitivity.answers.calls_in_words import command_in_words
from sensitivity.answers.check.find import Checked, check_drawing
from sensitivity.answers.check.tables import stack_table
from sensitivity.answers.check.words import (
    check_verdict,
    tubes_in_words,
    without_an_answer,
    worst_case_in_words,
)
from sensitivity.answers.implausible import Implausible
from sensitivity.presentation.blocks import Block, Figure, Items, Page, Section, Words
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
        """The table and what its worst case means, the verdict, and what is implausible."""
        study = self.found.study
        table, worst = stack_table(self.found), worst_case_in_words(self.found)
        lines = [
            self.verdict,
            tubes_in_words(self.found),
            declared_in_words(study, DECLARED_NAMED),
            without_an_answer(self.found),
        ]
        return [
            table,
            *([Words(worst)] if worst else []),
            Items([("", line) for line in lines if line]),
            *_doubted(self.found.implausible),
        ]

    def page(self) -> Page:
        """The write-up: what the terminal shows."""
        title, question = self.title, "The question: does it work exactly as drawn?"
        borrowed = borrowed_in_words(self.found.study)
        named = [Words(borrowed)] if borrowed else []
        told = Section("The drawing by itself", [*named, *self.screen()])
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
            "borrowed": [item.name for item in self.found.study.inputs if item.borrowed],
            "implausible": [
                {"names": list(one.names), "says": one.says} for one in self.found.implausible
            ],
        }

    def _sheets(self) -> Sequence[Table]:
        return [stack_table(self.found)]

    def _drawn(self) -> Sequence[Figure]:
        return []

    def _sampled(self) -> dict[str, Any]:
        return {}


def _doubted(found: Sequence[Implausible]) -> list[Block]:
    """What is implausible, each a line."""
    if not found:
        return []
    return [
        Words("Implausible in a workshop; look again, and leave it where you mean it:"),
        Items([("", _sentence(one.says)) for one in found]),
    ]


def _sentence(says: str) -> str:
    return f"{says[0].upper()}{says[1:]}{'' if says.endswith('?') else '.'}"


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
