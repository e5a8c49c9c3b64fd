"""What the drawing by itself says, in shop words."""

from __future__ import annotations

from sensitivity.answers.check.find import Checked
from sensitivity.presentation import wording


def check_verdict(found: Checked) -> str:
    """Say which limits the design breaks as drawn, or that it keeps them."""
    broken = [wording.in_words(result.name) for result in found.results if not result.met]
    if broken:
        return f"As drawn it breaks: {', '.join(broken)}. Move a nominal first."
    if found.study.limits:
        return 'As drawn it keeps every limit; "spiritlevel run" says how likely one built does.'
    return "No limits are stated, so nothing can be kept or broken; the results are above."


def without_an_answer(found: Checked) -> str:
    """Say in how much of the tolerance box the models have no answer; empty where they have one."""
    if not found.no_answer:
        return ""
    return f"The models have no answer in {100 * found.no_answer:.2g} % of the box."
