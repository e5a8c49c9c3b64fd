"""The answer of ``window``, as one value: of one input, or of two as a map."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from sensitivity.answers.answer import Answer, Call
from sensitivity.answers.window.asked import read_asked
from sensitivity.answers.window.document import map_body, window_body
from sensitivity.answers.window.find import Window, find_window
from sensitivity.answers.window.find_map import WindowMap, find_map
from sensitivity.answers.window.screen import map_screen, window_screen
from sensitivity.answers.window.tables import map_table, pairs_table, places_table, settings_table
from sensitivity.answers.window.words import map_verdict, window_verdict
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.workers import one_crew
from sensitivity.errors import CallError
from sensitivity.presentation.blocks import Block, Figure, Page
from sensitivity.presentation.table import Table
from sensitivity.study.study import Study


@dataclass(frozen=True, repr=False)
class WindowAnswer(Answer[Window]):
    """Parts that work against one input's nominal, and the window in which enough of them do."""

    command: ClassVar[str] = "window"

    @property
    def verdict(self) -> str:
        """Where to set it, and how much room there is."""
        return window_verdict(self.found)

    def screen(self) -> Sequence[Block]:
        """The settings, what closes the window, and the verdict."""
        return window_screen(self.found)

    def page(self) -> Page:
        """The write-up."""
        from sensitivity.answers.window.report import window_page

        return window_page(self.found, self.drawings, self.repeat)

    def body(self) -> dict[str, Any]:
        """The settings with what works and what is kept, and which the answer names."""
        return window_body(self.found)

    def _sheets(self) -> Sequence[Table]:
        return [settings_table(self.found)]

    def _drawn(self) -> Sequence[Figure]:
        from sensitivity.answers.window.figures import window_figures

        return window_figures(self.found)


@dataclass(frozen=True, repr=False)
class WindowMapAnswer(Answer[WindowMap]):
    """Parts that work over the nominals of two inputs."""

    command: ClassVar[str] = "window"

    @property
    def verdict(self) -> str:
        """Where to set the two."""
        return map_verdict(self.found)

    def screen(self) -> Sequence[Block]:
        """The map, its highest place, and the verdict."""
        return map_screen(self.found)

    def page(self) -> Page:
        """The write-up."""
        from sensitivity.answers.window.report import map_page

        return map_page(self.found, self.drawings, self.repeat)

    def body(self) -> dict[str, Any]:
        """The pairs with what works and what is kept, and which the answer names."""
        return map_body(self.found)

    def _sheets(self) -> Sequence[Table]:
        return [map_table(self.found), pairs_table(self.found), places_table(self.found)]

    def _drawn(self) -> Sequence[Figure]:
        from sensitivity.answers.window.figures import window_figures

        return window_figures(self.found)


def window(
    study: Study,
    *inputs: str,
    lowest: Sequence[str] = (),
    highest: Sequence[str] = (),
    step: Sequence[str] = (),
    target: float = 0.95,
    options: RunOptions = DEFAULTS,
) -> WindowAnswer | WindowMapAnswer:
    """Find where to set one input, or two, and how much room there is.

    Parameters
    ----------
    study : Study
        With limits.
    *inputs : str
        Name of the input, or of two for a map.
    lowest, highest, step : sequence of str
        Lowest and highest setting and what can be set, as quantities (``"9 mm"``), one for each
        input or none; without them, as far as it matters.
    target : float
        Share of parts that are to work, 0..1.
    options : RunOptions
        How much is sampled, by whom, and who is told.

    Returns
    -------
    WindowAnswer or WindowMapAnswer
        Of one input, or of two.

    Raises
    ------
    CallError
        Where the study has no limits or no such input, or the settings asked for make no sense.
    """
    if not 1 <= len(inputs) <= 2:
        raise CallError(f"window takes one input or two; found {len(inputs)}: {', '.join(inputs)}")
    sampled = options.asked_of(study)
    asked = read_asked(sampled, inputs, lowest, highest, step)
    call = Call(inputs, {"--from": lowest, "--to": highest, "--step": step, "--target": target})
    with one_crew():
        if len(asked) == 1:
            found = find_window(sampled, asked[0], target=target, options=options)
            return WindowAnswer(found, call)
        pair = (asked[0], asked[1])
        both = find_map(sampled, pair, target=target, options=options)
        return WindowMapAnswer(both, call)
