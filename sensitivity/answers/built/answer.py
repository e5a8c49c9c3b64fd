"""The answer of ``built``, as one value."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

from sensitivity.answers.answer import Answer, Call
from sensitivity.answers.built.document import built_body
from sensitivity.answers.built.find import Built, find_built
from sensitivity.answers.built.readings import heard_in_call, heard_in_file, read_measured
from sensitivity.answers.built.screen import built_screen
from sensitivity.answers.built.tables import (
    matters_table,
    parts_table,
    settings_table,
    told_table,
)
from sensitivity.answers.built.words import built_verdict
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.presentation.blocks import Block, Card, Figure, Page
from sensitivity.presentation.table import Table
from sensitivity.study.study import Study


@dataclass(frozen=True, repr=False)
class BuiltAnswer(Answer[Built]):
    """How it stands with what was measured: how many work, what matters now, where to set it."""

    command: ClassVar[str] = "built"

    @property
    def verdict(self) -> str:
        """How it stands, where to set it, and whether the parts are good."""
        return built_verdict(self.found)

    def screen(self) -> Sequence[Block]:
        """The parts, how many work, what matters now, and the verdict."""
        return built_screen(self.found)

    def page(self) -> Page:
        """The write-up."""
        from sensitivity.answers.built.report import built_page

        return built_page(self.found, self.drawings, self.repeat)

    def card(self) -> Card:
        """The bench card: what to gauge next, and where to set it by what was read."""
        from sensitivity.answers.card import ToGauge, bench_card

        found = self.found
        gauge = [ToGauge(one.item.name, one.instrument) for one in found.matters if one.most]
        at = found.set_well.at if found.set_well is not None else None
        return bench_card(found.study, built_verdict(found), gauge=gauge, at=at)

    def body(self) -> dict[str, Any]:
        """Parts, how many work and what matters now, as plain values."""
        return built_body(self.found)

    def _sheets(self) -> Sequence[Table]:
        found = self.found
        told = [told_table(found)] if found.told else []
        return [parts_table(found), *told, settings_table(found), matters_table(found)]

    def _drawn(self) -> Sequence[Figure]:
        from sensitivity.answers.built.figures import built_figures

        return built_figures(self.found)


def built(
    study: Study,
    *,
    measured: Mapping[str, str] | Sequence[str] = (),
    instruments: Mapping[str, str] | Sequence[str] = (),
    readings: str | Path | None = None,
    believe: bool = False,
    options: RunOptions = DEFAULTS,
) -> BuiltAnswer:
    """Find how it stands with what was measured so far.

    Parameters
    ----------
    study : Study
        As drawn, with limits.
    measured : mapping or sequence of str
        What was read, a quantity for each input or result: ``{"rise": "12.1 mm"}`` or
        ``["rise=12.1 mm"]``.
    instruments : mapping or sequence of str
        With what each was read: ``{"rise": "digital_caliper"}`` or ``["rise=digital_caliper"]``.
    readings : str or Path, optional
        A CSV file of readings in columns input, measured and instrument, beside these.
    believe : bool
        Go on in spite of a conflict between readings and what is stated.
    options : RunOptions
        How much is sampled, by whom, and who is told.

    Returns
    -------
    BuiltAnswer
        Yields with their intervals; parts and settings in the inputs' own units.

    Raises
    ------
    CallError
        Where the study has no limits, nothing was measured, or a reading makes no sense; all
        faults at once.
    ConflictError
        Where readings contradict what is stated, unless they are to be believed.
    """
    read, used = _pairs(measured), _pairs(instruments)
    heard = [heard_in_call(read, used)]
    if readings is not None:
        heard.append(heard_in_file(Path(readings)))
    parts = read_measured(study, *heard)
    asked = options.asked_of(study)
    call = Call((), {"--measured": read, "--with": used, "--readings": readings})
    return BuiltAnswer(find_built(asked, parts, believe=believe, options=options), call)


def _pairs(stated: Mapping[str, str] | Sequence[str]) -> tuple[str, ...]:
    """Write what is stated of each input as a call does: ``name=words``."""
    if isinstance(stated, Mapping):
        return tuple(f"{name}={words}" for name, words in stated.items())
    return tuple(stated)
