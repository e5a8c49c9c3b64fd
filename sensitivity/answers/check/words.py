"""What the drawing by itself says, in shop words."""

from __future__ import annotations

from sensitivity.answers.calls_in_words import command_in_words
from sensitivity.answers.check.find import Checked
from sensitivity.presentation import wording
from sensitivity.presentation.units_said import said_by
from sensitivity.study.tubes import from_tubes
from sensitivity.system.setting_out import sketch_numbers

SELDOM_TOGETHER = 4
"""Spreads from which on hardly any part has them all at their worst ends: four each within a tenth
of one end, by chance, is one in ten thousand."""


def check_verdict(found: Checked) -> str:
    """Say which limits the design breaks as drawn, or that it keeps them."""
    broken = [wording.in_words(result.name) for result in found.results if not result.met]
    if broken:
        return f"As drawn it breaks: {', '.join(broken)}. Move a nominal first."
    if found.study.limits:
        run = command_in_words("run", [found.study])
        return f'As drawn it keeps every limit; "{run}" says how likely one built does.'
    return "No limits are stated, so nothing can be kept or broken; the results are above."


def worst_case_in_words(found: Checked) -> str:
    """Say what the worst case is, for it frightens; empty where nothing varies."""
    count, one = len(found.study.varying), found.study.vocabulary.one
    if not count:
        return ""
    if count < SELDOM_TOGETHER:
        return "Worst case: what varies is at its worst end. How often that is, only a run tells."
    return (
        f"Worst case: all {count} that vary, dimensions, running and doubts, at their worst ends "
        f"at once, as hardly any {one} ever is. How often a limit is broken, only a run tells."
    )


def tubes_in_words(found: Checked) -> str:
    """Read back what bought tubes gave: each bore, and the wall that took it; empty without one."""
    said, numbers = said_by(found.study), sketch_numbers(found.study.system)
    given = [
        f"{wording.in_words(item.name)} ({numbers[item.name]}) {said.drawn(item)}"
        for item in from_tubes(found.study.inputs)
    ]
    return f"By the tubes stated: {wording.listed(given)}." if given else ""


def without_an_answer(found: Checked) -> str:
    """Say in how much of the tolerance box the models have no answer; empty where they have one."""
    if not found.no_answer:
        return ""
    return f"The models have no answer in {100 * found.no_answer:.2g} % of the box."
