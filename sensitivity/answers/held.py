"""What a study holds exactly: as drawn, or although the models say that nobody knows it so well."""

from __future__ import annotations

from sensitivity.presentation import wording
from sensitivity.study.study import Input, Study
from sensitivity.system.remarks import Kind
from sensitivity.system.setting_out import setting_out_of

ALTHOUGH: dict[Kind, str] = {
    "model": "Held exactly although the models doubt them",
    "running": "Held exactly although they change while running",
    "build": "Held exactly as drawn, no spread stated",
}
"""Before the names of what is held, by kind, the most doubtful first."""


def held_in_words(study: Study, named: int = 0) -> list[str]:
    """Say what was taken as perfect, so that nobody takes it for settled.

    Parameters
    ----------
    study : Study
        As read, its models joined.
    named : int
        How many of what is held as drawn are named; all of it where that is 0.

    Returns
    -------
    list of str
        One sentence a kind that something is held of. The model's word on the kind goes before the
        study's; what a study says nothing of is held too.
    """
    declared = {quantity.name: quantity.kind for quantity in study.system.inputs}
    missing = _not_there(study)
    held: dict[Kind, dict[str, None]] = {kind: {} for kind in ALTHOUGH}
    for item in study.inputs:
        if item.spread is None and not item.borrowed and item.name not in missing:
            held[declared.get(item.name) or item.kind][_name(item)] = None
    return [
        f"{words}: {_listed(list(held[kind]), named if kind == 'build' else 0)}."
        for kind, words in ALTHOUGH.items()
        if held[kind]
    ]


def _not_there(study: Study) -> set[str]:
    """Name what the design as drawn has not: the fifth of four wicks, the roll of no manifold."""
    out = setting_out_of(study.system.models)
    drawn = {item.name: item.nominal for item in study.inputs}
    missing = {name for name, other in out.needs.items() if drawn.get(other) == 0.0}
    return missing | {
        name for name, (by, place) in out.counted.items() if drawn.get(by, place) < place
    }


def doubtful_in_words(study: Study) -> list[str]:
    """The sentences of ``held_in_words`` on doubts and running conditions alone."""
    return [line for line in held_in_words(study) if not line.startswith(ALTHOUGH["build"])]


def _listed(names: list[str], named: int) -> str:
    if not named or len(names) <= named + 1:
        return ", ".join(names)
    return f"{', '.join(names[:named])} and {len(names) - named} more"


def _name(item: Input) -> str:
    """Name an input in words; the steps of a schedule under one, for all that they hold."""
    return wording.in_words(item.name.partition(".")[0])
