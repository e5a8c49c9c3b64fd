"""Where what can be set at assembly is set, in shop words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sensitivity.presentation import wording
from sensitivity.pricing.assembly_settings import AssemblySettings
from sensitivity.study.study import Input, Limit


def settings_in_words(at: Mapping[str, float], inputs: Iterable[Input]) -> str:
    """Write where each adjustable input is set, in a row: ``breather height at 12.6 mm and ...``.

    Parameters
    ----------
    at : mapping of str to float
        Settings by input name, each in its input's unit; empty where nothing can be set.
    inputs : iterable of Input
        Those of the study.
    """
    words = _each_in_words(at, inputs)
    return wording.listed(words) if words else ""


def settings_in_lines(at: Mapping[str, float], inputs: Iterable[Input]) -> str:
    """Write where each adjustable input is set, one a line: for a cell of a table.

    A page runs the lines together, so each but the last ends in a comma.
    """
    return ",\n".join(_each_in_words(at, inputs))


def _each_in_words(at: Mapping[str, float], inputs: Iterable[Input]) -> list[str]:
    units = {item.name: item.unit for item in inputs}
    return [
        f"{wording.in_words(name)} at {wording.with_unit(wording.significant(value), units[name])}"
        for name, value in at.items()
    ]


def settings_left_out(barred: Iterable[Limit]) -> list[str]:
    """Say which limits that hurt left settings out; nothing where none did."""
    texts = []
    for limit in barred:
        because = f" ({limit.because})" if limit.because else ""
        texts.append(
            f"This can hurt: {wording.in_words(limit.result)} may break its limit{because} at "
            f"{wording.out_of_a_hundred(limit.ceiling)} moments; settings that break it more often "
            "were left out, whatever they gain."
        )
    return texts


def as_drawn(settings: AssemblySettings | None) -> dict[str, float]:
    """Give the settings that the drawing states, by name and in the inputs' units."""
    return {item.name: item.nominal for item in settings.inputs} if settings is not None else {}


def adjustable_in_words(settings: AssemblySettings | None) -> str:
    """Name what can be set; empty where nothing can."""
    if settings is None:
        return ""
    return wording.listed([wording.in_words(item.name) for item in settings.inputs])


def at_their_ends(settings: AssemblySettings, at: Mapping[str, float]) -> str:
    """Name the adjustable inputs that are set at an end of their range; empty if none is."""
    names = [
        wording.in_words(item.name)
        for item in settings.inputs
        if item.adjust is not None and at[item.name] in item.adjust
    ]
    return wording.listed(names) if names else ""
