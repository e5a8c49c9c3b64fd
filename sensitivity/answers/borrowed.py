"""What a study takes from its models in its builder's place: other engines' sizes, and spreads."""

from __future__ import annotations

from sensitivity.presentation import wording
from sensitivity.presentation.units_said import said_by
from sensitivity.study.study import Study
from sensitivity.system.setting_out import sketch_numbers
from sensitivity.system.together import computed_elsewhere


def borrowed_in_words(study: Study) -> str:
    """Name the dimensions that the study does not state, and what it neither states nor computes.

    Parameters
    ----------
    study : Study
        As read, its models joined.

    Returns
    -------
    str
        Empty where it states them all.
    """
    return " ".join(filter(None, (_dimensions(study), _not_computed(study))))


def _not_computed(study: Study) -> str:
    """Name what another model would compute, and is here as its model's author wrote it."""
    elsewhere = computed_elsewhere(study.system.inputs)
    items = [item for item in study.inputs if item.name in elsewhere and not item.given]
    if not items:
        return ""
    said = said_by(study)
    named = [f"{wording.in_words(item.name)} {said.drawn(item)}" for item in items]
    models = list(dict.fromkeys(name for item in items for name in elsewhere[item.name]))
    it, figure = ("it", "figure") if len(items) == 1 else ("them", "figures")
    return (
        f"Neither computed nor stated, so the model's own {figure}, of no "
        f"{study.vocabulary.one} of yours: {wording.listed(named)}. "
        f"{wording.listed(models)} among the models would compute {it}."
    )


def _dimensions(study: Study) -> str:
    """Name the dimensions that are the models' own."""
    said, numbers = said_by(study), sketch_numbers(study.system)
    named = [
        f"{_numbered(item.name, numbers)} {said.drawn(item)}"
        for item in study.inputs
        if item.borrowed
    ]
    if not named:
        return ""
    one, whose = study.vocabulary.one, "its model's" if len(named) == 1 else "the models'"
    return (
        f"Not stated, so {whose} own, of no {one} of yours: {', '.join(named)}. "
        "Nothing here is of yours until you state it."
    )


DECLARED_NAMED = 3
"""Names of what is left to the models that a terminal gives."""


def declared_in_words(study: Study, named: int = 0) -> str:
    """Name the conditions and doubts whose spread is the models'; empty where there is none.

    Parameters
    ----------
    study : Study
        As read, its models joined.
    named : int
        How many are named; all of them where that is 0.
    """
    names = [
        wording.in_words(item.name)
        for item in study.inputs
        if not item.given and item.spread is not None
    ]
    if not names:
        return ""
    told, where = ", ".join(names), ""
    if named and len(names) > named + 1:
        told = f"{', '.join(names[:named])} and {len(names) - named} more"
        where = f' ("spiritlevel models {study.models[0]}" says how it varies)'
        if len(study.models) > 1:
            where = ' ("spiritlevel models NAME" says how each varies)'
    return (
        f"Left to the models, so as they declare it, by judgement: {told}{where}. "
        "State what you know better."
    )


def _numbered(name: str, numbers: dict[str, int]) -> str:
    number = numbers.get(name)
    return f"{wording.in_words(name)} ({number})" if number else wording.in_words(name)
