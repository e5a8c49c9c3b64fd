"""What a study says that is implausible in a workshop: warnings, not refusals.

What is wrong of any part stands here: a process that does not make such a size, a slip of units, a
spread wider than its size, a condition stated as a dimension. What is wrong between the dimensions
of one trade is brought by its models (``system/setting_out``, ``relations``). Bounds are judgement,
no source.
"""

from __future__ import annotations

import re
import tomllib
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import inf, isfinite

from sensitivity.answers.calls_in_words import command_in_words
from sensitivity.presentation import wording
from sensitivity.presentation.units_said import Said, said_by
from sensitivity.spreads.workshop import workshop_table
from sensitivity.study.study import Input, Study
from sensitivity.system.catalogue import Quantity
from sensitivity.system.setting_out import setting_out_of, sketch_numbers

INCH = 25.4
FAR = 10.0
"""Times the usual size, or below it by as much, at which a size is far from what is usual."""
NEAR = 3.0
"""Within so many times the usual size a slip of units is the likely reason."""

HOLES = re.compile(r"drilled|reamed|bored_|jet_")
"""Processes that make holes."""

LISTED = re.compile(r"drilled|reamed|jet_|cnc_")
"""Processes whose entry says for which sizes of the thing itself they are."""

_IN_INCHES = re.compile(r"(in|inch|inches|[\"″])\s*$")
_SIZES = re.compile(r"(?:, |of )(\d+(?:\.\d+)?) to (\d+(?:\.\d+)?) mm")
_UP_TO = re.compile(r"(?:, |; )to (\d+(?:\.\d+)?) mm")
SLACK = 1.1
"""A size may be past what a process is listed for by so much: 3.2 mm is drilled as 3 mm is."""

CONDITIONS = re.compile(r"/|^(degC|K|%|bar|Pa|W|ml|l|cm3|mm3|in3|rpm|g|s|min|h)$")
"""Units of a flow, temperature, gradient, pressure or volume, which are seldom a dimension's."""


@dataclass(frozen=True, slots=True)
class Implausible:
    """One warning: the inputs and results that it is about, and what it says."""

    names: tuple[str, ...]
    says: str


def implausible(study: Study) -> tuple[Implausible, ...]:
    """Find what is implausible in a study as drawn, in the order of the finished thing.

    Parameters
    ----------
    study : Study
        Read and joined; nothing is sampled.
    """
    said, numbers = said_by(study), sketch_numbers(study.system)
    declared = {quantity.name: quantity for quantity in study.system.inputs}
    found: list[Implausible] = []
    for item in sorted(study.inputs, key=lambda item: numbers.get(item.name, len(numbers) + 1)):
        if not item.borrowed and (quantity := declared.get(item.name)) is not None:
            found += _of_one(item, quantity, said, numbers)
    found += _left_at_build(study, declared)
    found += _perfect_beside_others(study, numbers)
    return (*found, *_between(study, said, numbers))


def implausible_in_a_line(study: Study) -> list[str]:
    """Say that something is implausible, the first of it and where the rest is told; else nothing.

    Whoever runs a study may never have checked it, and a slip of units makes all figures idle.
    """
    found = implausible(study)
    if not found:
        return []
    check, says = command_in_words("check", [study]), found[0].says
    has = "has it" if len(found) == 1 else f"has all {len(found)}"
    end = "" if says.endswith("?") else "."
    return [f'Implausible in a workshop ("{check}" {has}): {says}{end}']


def _of_one(
    item: Input, quantity: Quantity, said: Said, numbers: dict[str, int]
) -> Iterator[Implausible]:
    if item.kind != "build":
        return
    drawn = f"{_called(item.name, numbers)} {said.drawn(item)}"
    for words in (_slip(item, quantity), _wide(item, said), _process(item)):
        if words:
            yield Implausible((item.name,), f"{drawn}: {words}")


def _slip(item: Input, quantity: Quantity) -> str:
    """A length that is far from usual, and what it would be in the other unit."""
    usual = quantity.default
    if quantity.unit != "mm" or not usual or item.nominal == 0.0:
        return ""
    times = abs(item.nominal / usual)
    if 1.0 / FAR <= times <= FAR:
        return ""
    many = f"{times:.0f} times" if times > 1.0 else f"1/{1.0 / times:.0f} of"
    far = f"{many} what is usual"
    inches = _IN_INCHES.search(item.drawn) is not None
    if inches and 1.0 / NEAR <= times / INCH <= NEAR:
        return f"{far}; was it meant in mm, and written in inches?"
    if not inches and 1.0 / NEAR <= times * INCH <= NEAR:
        return f"{far}; was it meant in inches, and written in mm?"
    return f"{far}; a figure too many, or a point out of place?"


def _wide(item: Input, said: Said) -> str:
    """A spread about the nominal that is wider than the size itself."""
    if item.spread is None or item.origin not in ("plus_minus", "standard_deviation", "process"):
        return ""
    half = 0.5 * (item.spread.high - item.spread.low)
    if not item.nominal > 0.0 or not isfinite(half) or half < item.nominal or item.unit == "deg":
        return ""
    return f"its spread, {said.stated(item, shape=False)}, is as wide as the size itself"


def _process(item: Input) -> str:
    """A process that does not make such a thing, or not of such a size."""
    entry = workshop_table("process").get(item.process)
    if entry is None or item.unit != "mm":
        return ""
    holes = HOLES.match(item.process) is not None
    if holes and item.read_as is not None and item.read_as not in ("bore", "gap"):
        return f"{item.process} makes a hole, and this is no bore"
    low, high = _made(entry.says) if LISTED.match(item.process) else (-inf, inf)
    if low / SLACK <= item.nominal <= high * SLACK:
        return ""
    return f"{item.process} is for {low:g} to {high:g} mm"


def _made(says: str) -> tuple[float, float]:
    """The sizes that a process is listed for, in mm, as its entry says."""
    if match := _SIZES.search(says):
        return float(match[1]), float(match[2])
    if match := _UP_TO.search(says):
        return 0.0, float(match[1])
    return -inf, inf


def _left_at_build(study: Study, declared: dict[str, Quantity]) -> Iterator[Implausible]:
    """A flow, a temperature, a gradient or a volume that nobody said is a dimension."""
    known = setting_out_of(study.system.models).order
    stated = tomllib.loads(study.text).get("inputs", {}) if study.text else {}
    for item in study.inputs:
        quantity = declared.get(item.name)
        if quantity is None or quantity.kind is not None or item.kind != "build":
            continue
        if item.name in known or "kind" in stated.get(item.name, {}):
            continue
        if item.spread is not None and CONDITIONS.search(item.unit):
            yield Implausible(
                (item.name,),
                f"{wording.in_words(item.name)}, in {item.unit}, is taken for a dimension that "
                'closer work can hold; if it is a condition, say kind = "running"',
            )


def _perfect_beside_others(study: Study, numbers: dict[str, int]) -> Iterator[Implausible]:
    """Of what there are several of: those that are taken as perfect where another varies."""
    items, counts = {item.name: item for item in study.inputs}, defaultdict(list)
    for name, (by, place) in setting_out_of(study.system.models).counted.items():
        if name in items and by in items and place <= items[by].nominal:
            counts[by].append(items[name])
    for by, there in counts.items():
        perfect = [item for item in there if item.spread is None]
        vary = [item for item in there if item.spread is not None]
        if not perfect or not vary:
            continue
        names = [f"{_called(item.name, numbers)}" for item in perfect]
        yield Implausible(
            tuple(item.name for item in perfect),
            f"{wording.in_words(by)} is {items[by].nominal:g}, and {wording.listed(names)} "
            f"{'is' if len(names) == 1 else 'are'} taken as perfect beside "
            f"{_called(vary[0].name, numbers)}, which varies",
        )


def _between(study: Study, said: Said, numbers: dict[str, int]) -> Iterator[Implausible]:
    """What the models' trade knows of its dimensions together."""
    design = {item.name: item.nominal for item in study.inputs} | study.nominal_results()
    items = {item.name: item for item in study.inputs}
    borrowed = {item.name for item in study.inputs if item.borrowed}
    for relation in setting_out_of(study.system.models).relations:
        if not set(relation.names) <= design.keys() or borrowed & set(relation.names):
            continue
        if not all(isfinite(design[name]) for name in relation.names):
            continue
        if not relation.holds(design):
            values = {
                name: said.drawn(items[name]) if name in items else said.of(name).text(design[name])
                for name in relation.names
            }
            where = _listed(relation.names, numbers)
            words = relation.says.format(**values)
            yield Implausible(relation.names, f"{words}{where}")


def _listed(names: Iterable[str], numbers: dict[str, int]) -> str:
    """The sketch numbers behind a warning."""
    found = [f"({numbers[name]})" for name in names if name in numbers]
    return f"; see {wording.listed(found)} on the drawing" if found else ""


def _called(name: str, numbers: dict[str, int]) -> str:
    number = numbers.get(name)
    return f"({number}) {wording.in_words(name)}" if number else wording.in_words(name)
