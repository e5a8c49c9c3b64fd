"""Which command to ask next: two at most, chosen by what was found, and never in a circle.

Commands point onward alone, in the order ``ORDER``; whoever follows them comes to an end.
"""

from __future__ import annotations

from typing import NamedTuple

from sensitivity.answers.calls_in_words import model_file_options
from sensitivity.study.study import Study

ORDER = ("window", "measure", "tighten", "redraw", "built", "learn")
"""From what costs least to try to what needs a finished part."""
MOST = 2


class Ask(NamedTuple):
    """A command, what follows the study's name in it, and what it tells."""

    command: str
    tells: str
    words: str = ""


def next_in_words(study: Study, asked: str, *asks: Ask | None) -> str:
    """Write what to ask next, after the command ``asked``; empty where there is nothing.

    Parameters
    ----------
    study : Study
        Of which it is asked.
    asked : str
        The command that was given; ``run`` goes before all others.
    *asks : Ask or None
        In the order of their worth; those that do not point onward are left out.
    """
    here = ORDER.index(asked) if asked in ORDER else -1
    onward = [ask for ask in asks if ask is not None and ORDER.index(ask.command) > here][:MOST]
    if not onward:
        return ""
    tail = model_file_options(study)
    told = [
        f'"spiritlevel {ask.command} {study.name}.toml{ask.words}{tail}" {ask.tells}'
        for ask in onward
    ]
    return f"Next: {'; '.join(told)}."


def reach(target: float) -> str:
    """Write the option that asks for a yield: `` --target 95``."""
    return f" --target {100.0 * target:g}" if target > 0.01 else f" --target {target:g}"
