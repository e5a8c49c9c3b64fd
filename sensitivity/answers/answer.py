"""What every answer is: one value with a verdict, tables, figures, a screen, a page and files.

A number, a unit and a word are decided once, in the answer's tables and words; terminal, report,
CSV, JSON and notebook only write them.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, Generic, NamedTuple, Protocol, TypeVar, cast

from sensitivity import __version__
from sensitivity.answers.calls_in_words import command_in_words
from sensitivity.engine.plan import Plan
from sensitivity.presentation.blocks import Block, Card, Figure, Page
from sensitivity.presentation.json_values import SCHEMA, to_json
from sensitivity.presentation.table import Table
from sensitivity.presentation.units_said import Said, said_by
from sensitivity.study.study import Study

if TYPE_CHECKING:
    import pandas as pd

IN_SHORT = 60
"""Letters of a verdict that the short form of an answer shows."""


class Call(NamedTuple):
    """How an answer was asked for, beside its studies and its sampling: words and options."""

    words: Sequence[str] = ()
    options: Mapping[str, object] = {}


NO_MORE = Call()
"""Nothing beside the studies and the sampling."""


class OfOneStudy(Protocol):
    """What is found of one study."""

    @property
    def study(self) -> Study:
        """The study."""

    @property
    def plan(self) -> Plan:
        """What was run: sampling and seed."""


Found = TypeVar("Found")


@dataclass(frozen=True, repr=False)
class Answer(ABC, Generic[Found]):
    """What a command finds: shows itself in a notebook, saves the same folder as the command.

    A room gives ``verdict``, ``screen``, ``page``, ``body``, ``_sheets`` and ``_drawn``; all else
    follows from these.

    Attributes
    ----------
    found : Found
        What the arithmetic found; it has the study and the plan, or the room says otherwise.
    call : Call
        How it was asked for.
    """

    command: ClassVar[str]
    found: Found
    call: Call = NO_MORE

    @property
    def studies(self) -> tuple[Study, ...]:
        """The studies that it is about."""
        return (cast(OfOneStudy, self.found).study,)

    @property
    def plan(self) -> Plan:
        """What was run: sampling and seed."""
        return cast(OfOneStudy, self.found).plan

    @property
    def replicates(self) -> int:
        """How many replicates it rests on."""
        return self.plan.sampling.replicates

    @property
    def title(self) -> str:
        """What it is about."""
        return self.studies[0].title

    @property
    @abstractmethod
    def verdict(self) -> str:
        """The answer in one or two sentences, in shop words."""

    @abstractmethod
    def screen(self) -> Sequence[Block]:
        """What a terminal shows between the title and the cautions, verdict included."""

    @abstractmethod
    def page(self) -> Page:
        """The write-up."""

    def card(self) -> Card | None:
        """The bench card; None where the answer has none."""
        return None

    @abstractmethod
    def body(self) -> dict[str, Any]:
        """What ``to_dict`` has beside what all answers have."""

    @abstractmethod
    def _sheets(self) -> Sequence[Table]:
        """All tables, the main one first."""

    @abstractmethod
    def _drawn(self) -> Sequence[Figure]:
        """All figures that are files of their own."""

    @cached_property
    def sheets(self) -> dict[str, Table]:
        """The tables by name, as the writers take them."""
        return {table.name: table for table in self._sheets()}

    @cached_property
    def said(self) -> Said:
        """How its quantities are said: as the study, or the first of them, writes them."""
        return said_by(self.studies[0])

    def _filed(self) -> dict[str, Table]:
        """The tables by name, their values in the study's units."""
        return {name: self.said.table(table) for name, table in self.sheets.items()}

    @cached_property
    def drawings(self) -> dict[str, Figure]:
        """The figures by name; drawn once."""
        return {figure.name: figure for figure in self._drawn()}

    def tables(self) -> dict[str, pd.DataFrame]:
        """Give each table as a DataFrame in the study's units, named in ``attrs["units"]``."""
        return {name: table.to_frame() for name, table in self._filed().items() if table.has_values}

    def figures(self) -> dict[str, Figure]:
        """Give each figure as SVG text with its words; it shows itself in a notebook."""
        return dict(self.drawings)

    @property
    def repeat(self) -> str:
        """The command that gives the same answer again."""
        words, options = self.call
        sampling = self.plan.sampling
        same: dict[str, object] = {
            "--seed": self.plan.seed,
            "--replicates": self.replicates,
            "--points": sampling.points,
        }
        return command_in_words(self.command, self.studies, words, {**options, **same})

    def to_dict(self) -> dict[str, Any]:
        """Lay the answer out as plain values: ``result.json``, in the models' units.

        The same studies, seed and version give the same, whatever the number of workers.
        """
        head = {
            "schema": SCHEMA,
            "spiritlevel": __version__,
            "command": self.command,
            "title": self.title,
            **self._sampled(),
            "verdict": self.verdict,
        }
        return {**head, **self.body(), **self._study_texts()}

    def _sampled(self) -> dict[str, Any]:
        sampling = self.plan.sampling
        return {
            "seed": self.plan.seed,
            "replicates": self.replicates,
            "points": sampling.points,
            "confidence": sampling.confidence,
        }

    def _study_texts(self) -> dict[str, Any]:
        if len(self.studies) == 1:
            return {"study": self.studies[0].text}
        return {"studies": {study.name: study.text for study in self.studies}}

    def save(self, folder: str | Path) -> Path:
        """Write the results folder, whole or not at all, as the command does.

        Raises
        ------
        FolderError
            Where the folder holds what the tool did not write, or cannot be made.
        MachineError
            Where it cannot be written.
        """
        from sensitivity.presentation.folder import check_folder
        from sensitivity.presentation.page import CARD, render, render_card
        from sensitivity.presentation.results_folder import write_results

        target = Path(folder)
        check_folder(target)
        card = self.card()
        beside = {} if card is None else {CARD: render_card(card).encode()}
        write_results(
            target,
            document=to_json(self.to_dict()),
            tables=self._filed(),
            figures={name: figure.svg for name, figure in self.drawings.items()},
            studies={study.name: study.text for study in self.studies if study.text},
            report=render(self.page()._replace(card=card is not None)),
            more={**beside, **self.more_files()},
        )
        return target

    def more_files(self) -> Mapping[str, bytes]:
        """Further files of the results folder, by name."""
        return {}

    def _repr_html_(self) -> str:
        from sensitivity.presentation.page import fragment

        return fragment(self.verdict, next(iter(self.sheets.values()), None))

    def __repr__(self) -> str:
        words = self.verdict
        names = ", ".join(study.name for study in self.studies)
        short = words if len(words) <= IN_SHORT else f"{words[:IN_SHORT].rstrip()}..."
        return f"<{self.command} of {names}: {short}>"
