"""The answer of ``measure``, as one value."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from sensitivity.answers.answer import Answer, Call
from sensitivity.answers.measure.document import measure_body
from sensitivity.answers.measure.find import Measuring, find_measuring
from sensitivity.answers.measure.screen import measure_screen
from sensitivity.answers.measure.tables import alone_table, order_table
from sensitivity.answers.measure.words import accepted_between_in_words, measure_verdict
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.workers import one_crew
from sensitivity.presentation.blocks import Block, Card, Figure, Page
from sensitivity.presentation.table import Table
from sensitivity.study.study import Study


@dataclass(frozen=True, repr=False)
class MeasureAnswer(Answer[Measuring]):
    """What to measure, in order, with which instrument, and how many work then."""

    command: ClassVar[str] = "measure"

    @property
    def verdict(self) -> str:
        """What to measure, with what, and what comes of it."""
        return measure_verdict(self.found)

    def screen(self) -> Sequence[Block]:
        """The order, what each dimension gains alone, and the verdict."""
        return measure_screen(self.found)

    def page(self) -> Page:
        """The write-up."""
        from sensitivity.answers.measure.report import measure_page

        return measure_page(self.found, self.drawings, self.repeat)

    def card(self) -> Card:
        """The bench card: what to gauge, in the order that was found."""
        from sensitivity.answers.card import ToGauge, bench_card

        found = self.found
        steps = [
            ToGauge(step.name, step.reading.instrument, step.reading.minutes)
            for step in found.steps
        ]
        at = found.set_well.at if found.set_well is not None and not steps else None
        accept = accepted_between_in_words(found)
        return bench_card(found.study, measure_verdict(found), gauge=steps, at=at, accept=accept)

    def body(self) -> dict[str, Any]:
        """The order and what each reading gains, as plain values."""
        return measure_body(self.found)

    def _sheets(self) -> Sequence[Table]:
        return [order_table(self.found), alone_table(self.found)]

    def _drawn(self) -> Sequence[Figure]:
        from sensitivity.answers.measure.figures import measure_figures

        return measure_figures(self.found)


def measure(
    study: Study,
    *,
    target: float | None = None,
    at_hand: Sequence[str] = (),
    options: RunOptions = DEFAULTS,
) -> MeasureAnswer:
    """Find in which order to measure the build dimensions, with what, and how many then work.

    Parameters
    ----------
    study : Study
        With limits, and with inputs of kind ``build`` that vary and are not set at assembly.
    target : float, optional
        Share that works, 0..1, at which to stop.
    at_hand : sequence of str
        Names of the only instruments to consider; none for all of the workshop table.
    options : RunOptions
        How much is sampled, by whom, and who is told.

    Returns
    -------
    MeasureAnswer
        Gains as shares of all that are built, each with its interval; effort in minutes.

    Raises
    ------
    CallError
        Where there are no limits, nothing to measure, or an instrument is not in the table.
    """
    asked = options.asked_of(study)
    with one_crew():
        found = find_measuring(asked, target=target, at_hand=at_hand, options=options)
    return MeasureAnswer(found, Call((), {"--target": target, "--with": tuple(at_hand)}))
