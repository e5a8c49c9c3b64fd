"""The answer of ``tighten``, as one value."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from sensitivity.answers.answer import Answer, Call
from sensitivity.answers.tighten.document import tighten_body
from sensitivity.answers.tighten.find import Tightened, price_tolerances
from sensitivity.answers.tighten.screen import tighten_screen
from sensitivity.answers.tighten.tables import halved_table, set_table
from sensitivity.answers.tighten.words import tighten_verdict
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.workers import one_crew
from sensitivity.presentation.blocks import Block, Figure, Page
from sensitivity.presentation.table import Table
from sensitivity.study.study import Study


@dataclass(frozen=True, repr=False)
class TightenAnswer(Answer[Tightened]):
    """What halving each spread gains, and the set of closer tolerances for a target."""

    command: ClassVar[str] = "tighten"

    @property
    def verdict(self) -> str:
        """Which tolerances reach the target, or what halving one buys."""
        return tighten_verdict(self.found)

    def screen(self) -> Sequence[Block]:
        """The halved spreads, the set, and both verdicts."""
        return tighten_screen(self.found)

    def page(self) -> Page:
        """The write-up."""
        from sensitivity.answers.tighten.report import tighten_page

        return tighten_page(self.found, self.drawings, self.repeat)

    def body(self) -> dict[str, Any]:
        """Gains and set as plain values."""
        return tighten_body(self.found)

    def _sheets(self) -> Sequence[Table]:
        found = self.found.found
        return [
            halved_table(self.found),
            *([set_table(found, self.found.said)] if found is not None else []),
        ]

    def _drawn(self) -> Sequence[Figure]:
        from sensitivity.answers.tighten.figures import tighten_figures

        return tighten_figures(self.found)


def tighten(
    study: Study,
    *,
    target: float | None = None,
    by_weights: bool = False,
    options: RunOptions = DEFAULTS,
) -> TightenAnswer:
    """Find what closer tolerances buy, and the cheapest set with which enough parts work.

    Parameters
    ----------
    study : Study
        With limits, and with build inputs that vary.
    target : float, optional
        Share of parts that are to work, 0..1: find a set for it.
    by_weights : bool
        Halve by weighting one sample, where the model is slow: gains at moments alone.
    options : RunOptions
        How much is sampled, by whom, and who is told.

    Returns
    -------
    TightenAnswer
        Parts that work more, each with its interval.

    Raises
    ------
    CallError
        Where the study has no limits, or no build input that varies.
    """
    asked = options.asked_of(study)
    with one_crew():
        found = price_tolerances(asked, target=target, by_weights=by_weights, options=options)
    return TightenAnswer(found, Call((), {"--target": target, "--by-weights": by_weights}))
