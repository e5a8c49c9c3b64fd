"""Where what can be set at assembly is set, in shop words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from sensitivity.presentation import wording
from sensitivity.presentation.units_said import Manner, Said
from sensitivity.pricing.assembly_settings import AssemblySettings
from sensitivity.study.study import Limit


def settings_in_words(at: Mapping[str, float], said: Said) -> str:
    """Write where each adjustable input is set, in a row: ``breather height at 12.6 mm and ...``.

    Parameters
    ----------
    at : mapping of str to float
        Settings by input name, each in its input's unit; empty where nothing can be set.
    said : Said
        How the study's quantities are said.
    """
    words = _each_in_words(at, said)
    return wording.listed(words) if words else ""


def settings_in_cell(at: Mapping[str, float], said: Said) -> str:
    """Write where each adjustable input is set, in a cell of a table, which is narrow.

    One is told by its value alone, for the title names it; several stand in a row.
    """
    if len(at) == 1:
        return "".join(said.of(name).text(value) for name, value in at.items())
    return ", ".join(_each_in_words(at, said))


def _each_in_words(at: Mapping[str, float], said: Said) -> list[str]:
    return [
        f"{wording.in_words(name)} at {said.of(name).text(value)}" for name, value in at.items()
    ]


class Alike(NamedTuple):
    """How settings of one input are said alike, with the digits that tell them apart.

    Attributes
    ----------
    manner : Manner
        Of the input; what was written of it has no digits of its own here.
    scale : float
        In the model's unit, whose digits show the settings as they are.
    """

    manner: Manner
    scale: float

    def text(self, value: float) -> str:
        """Write a setting with its unit."""
        return self.manner.text(value, self.scale)

    def number(self, value: float) -> str:
        """Write a setting without its unit, which stands beside it."""
        return self.manner.number(value, self.scale)

    def pair(self, low: float, high: float) -> str:
        """Write a run of settings with its unit; one by itself."""
        return self.text(low) if low == high else self.manner.pair(low, high, self.scale)


def said_alike(manner: Manner, values: Sequence[float]) -> Alike:
    """Find how ascending settings of one input are said alike; what is bought, by its name."""
    plain = replace(manner, written=())
    decimals = wording.decimals_of([float(each) for each in plain.numbers(list(values))])
    if any("(" in manner.text(each) for each in values):  # as in "No. 44 (2.184 mm)"
        plain = manner
    return Alike(plain, 1.5 * 10.0 ** (1 - decimals) / plain.factor)


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
