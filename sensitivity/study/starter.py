"""A starter study: what a builder must decide, in the order of the finished thing, and no more.

A dimension is left empty until it is given; one that is usually nought, or that nobody draws, has
its usual value. What the models' trade brings (``system/setting_out``) says the order, how each is
usually made, and what must hold. Conditions and doubts are left to the models: the study says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from types import MappingProxyType

from sensitivity.quantities.quantity import read_quantity
from sensitivity.quantities.units import conversion
from sensitivity.study.asked import example, mixed
from sensitivity.study.study import Units
from sensitivity.study.tubes import wall_of
from sensitivity.system.catalogue import Quantity
from sensitivity.system.setting_out import (
    SettingOut,
    Statement,
    in_order,
    setting_out_of,
    sketch_numbers,
)
from sensitivity.system.system import System
from sensitivity.system.together import computed_elsewhere

TO_THE_EDGE = 100
"""Columns of a heading."""

DECLARED = "suggested: as its model declares it; judgement, no source"

OTHERS = "# The others likewise"
"""How a line begins that says how to have more than one of what is counted."""

NONE_GIVEN: Mapping[str, str] = MappingProxyType({})

FIVES_FROM, THOU_TO = 20.0, 100.0
"""Thousandths of an inch above which a length is said to five of them, and in sixteenths."""


def starter_study(
    system: System, units: Units = "mm", drawing: str = "", given: Mapping[str, str] = NONE_GIVEN
) -> str:
    """Write a study that waits for its dimensions, with limits and suggested spreads.

    Parameters
    ----------
    system : System
        The models, joined.
    units : "mm" or "inch"
        In which lengths are given and said back.
    drawing : str
        Name of the file with the labelled drawing, if one stands beside the study.
    given : mapping of str to str
        Nominals that are known already, as they would be written; a count says how many there are
        of what it counts.

    Returns
    -------
    str
        The text of a study file.
    """
    out = setting_out_of(system.models)
    names = [model.name for model in system.models]
    title = " and ".join(name.replace("_", " ") for name in names)
    listed = ", ".join(f'"{name}"' for name in names)
    lines = [
        f'title    = "{title}"',
        f"models   = [{listed}]",
        f'units    = "{units}"',
        'unstated = "as declared"  # conditions and doubts vary as the models say; see the end',
        "",
        *_how(units, drawing),
    ]
    absent = not_counted(system, given)
    for heading, every in _grouped(system, out):
        quantities = [quantity for quantity in every if quantity.name not in absent]
        if not quantities:
            continue
        lines += ["", f"# --- {heading} ".ljust(TO_THE_EDGE, "-")]
        for quantity in quantities:
            lines += ["", *_decided(quantity, system, units, out, given)]
    if sized := [quantity for quantity in system.inputs if quantity.name in out.sized]:
        lines += [
            "",
            "# --- conditions that go with the size of the engine ".ljust(TO_THE_EDGE, "-"),
        ]
        for quantity in sized:
            lines += ["", *_sized(quantity, units, given)]
    lines += ["", "# --- what must hold ".ljust(TO_THE_EDGE, "-")]
    lines += _limits(system, units, out)
    lines += _left_to_the_models(system, out)
    return "\n".join(lines) + "\n"


def _how(units: Units, drawing: str) -> list[str]:
    """Say how to fill it in."""
    length = '"5/16 in", "0.31 in", "310 thou"' if units == "inch" else '"8 mm", "5/16 in"'
    spread = '"5 thou"' if units == "inch" else '"0.15 mm"'
    ends = '["1/2 in", "5/8 in"]' if units == "inch" else '["11 mm", "14 mm"]'
    numbers = [f"# The numbers in brackets are those on the drawing, {drawing}."] if drawing else []
    processes = f"spiritlevel processes{' --units inch' if units == 'inch' else ''}"
    return [
        f'# Give every nominal = "" its size, like {length}.',
        *numbers,
        "# A nominal that stands there is what is usual; change it where yours differs.",
        f"# Each spread is only suggested: take the process that you use ({processes}),",
        "# or say it yourself, and on whose word; an input without a spread is taken as perfect:",
        f'#   plus_minus = {spread}, with shape = "normal" where most lie near the middle',
        '#   basis = "measured on six of mine"',
        "# What can be set at assembly has adjust beside it, what may be drawn elsewhere redraw;",
        "# they tell measure and built what to set, and redraw what to move:",
        f"#   adjust = {ends}",
        f"#   redraw = {ends}",
    ]


def _grouped(system: System, out: SettingOut) -> Iterable[tuple[str, list[Quantity]]]:
    """The inputs to decide under their headings; last those under none."""
    left = {quantity.name: quantity for quantity in in_order(system)}
    for heading, names in out.groups:
        if here := [left.pop(name) for name in names if name in left]:
            yield heading, here
    if left:
        yield "dimensions" if not out.groups else "the rest", list(left.values())


def not_counted(system: System, given: Mapping[str, str | float]) -> frozenset[str]:
    """Name the inputs of which there are fewer, by the counts that are given; else all but one.

    Parameters
    ----------
    system : System
        The models, joined.
    given : mapping of str to str
        Counts among other nominals, as written or read.
    """
    asked = {quantity.name for quantity in system.inputs}
    return frozenset(
        name
        for name, (by, place) in setting_out_of(system.models).counted.items()
        if by in asked and place > read_quantity(given.get(by, 1.0), "")
    )


def groups_of(system: System, given: Mapping[str, str]) -> dict[str, list[str]]:
    """Name, by the group in which a new study has them, inputs of which there is more than one.

    Parameters
    ----------
    system, given
        As ``starter_study`` has them; a count that is not given is one.
    """
    out, absent = setting_out_of(system.models), not_counted(system, given)
    found: dict[str, list[str]] = {}
    for quantity in system.inputs:
        group = dict(out.making.get(quantity.name, ())).get("group")
        if group and quantity.name not in absent:
            found.setdefault(str(group), []).append(quantity.name)
    second = {name for name, (_, place) in out.counted.items() if place > 1}
    return {group: names for group, names in found.items() if second & {*names}}


def _decided(
    quantity: Quantity, system: System, units: Units, out: SettingOut, given: Mapping[str, str]
) -> list[str]:
    """The table of one input that a builder decides."""
    name, known = quantity.name, {each.name for each in system.inputs}
    nought = quantity.default == 0.0 or name in out.nought
    head = f"[inputs.{name}]  # ({sketch_numbers(system)[name]}) {quantity.meaning}"
    if name in out.needs and given.get(out.needs[name], "no") in ("no", "0"):
        other = out.needs[name].replace("_", " ")
        return [f"# {head}", f"# nominal = {example(quantity, units)}  # with a {other}"]
    if name in given:
        lines = [head, f"nominal = {_written(given[name], quantity)}"]
    elif name in out.usual and quantity.default is not None:
        lines = [head, f"nominal = {_usual(quantity, quantity.default)}  # usual"]
    elif nought:
        lines = [head, f"nominal = {_usual(quantity, 0.0, units)}"]
    else:
        lines = [head, f'nominal = ""  # like {example(quantity, units)}']
        if wall := wall_of(name, known):
            size = "3/16 in x 22 SWG" if units == "inch" else "4 mm x 0.5 mm"
            lines.append(f'# tube = "{size}"  # in its place: gives {wall} too')
    suggested = out.making.get(name, ())
    if quantity.spread:
        suggested = (*quantity.spread, ("basis", DECLARED))
    together = groups_of(system, given)
    stated = _statement(
        tuple(each for each in suggested if each[0] != "group" or each[1] in together), units
    )
    if name in out.nought:  # what is not there does not vary
        stated = [f"# {line}" for line in stated]
    by, _ = out.counted.get(name, ("", 1))
    if by in known and by not in given:
        stated += [f"{OTHERS}, as many as {by}: new ... --given {by}=4 writes four."]
    return lines + stated


def decided_table(
    name: str, system: System, units: Units, given: Mapping[str, str] = NONE_GIVEN
) -> list[str]:
    """Write the lines of one input's table as a starter study has them; the second its nominal.

    Parameters
    ----------
    name : str
        Of an input that a builder decides.
    system, units, given
        As ``starter_study`` has them.
    """
    quantity = next(each for each in system.inputs if each.name == name)
    return _decided(quantity, system, units, setting_out_of(system.models), given)


def _written(text: str, quantity: Quantity) -> str:
    return text if not quantity.unit and text.isdigit() else f'"{text}"'


def _sized(quantity: Quantity, units: Units, given: Mapping[str, str]) -> list[str]:
    """The table of a condition whose size is the engine's: asked for, or as declared to be changed.

    A nominal is asked for where the declared spread goes with any, being a share of it.
    """
    share = [key for key, _ in quantity.spread] == ["lognormal"]
    asked = share or quantity.default is None
    nominal = f"nominal = {example(quantity, units)}  # of no engine in particular: yours?"
    if quantity.name in given:
        nominal = f"nominal = {_written(given[quantity.name], quantity)}"
    elif asked:
        nominal = f'nominal = ""  # like {example(quantity, units)}'
    return [
        f"[inputs.{quantity.name}]  # {quantity.meaning}",
        nominal,
        *_statement(quantity.spread, units),
        f'kind = "{quantity.kind}"',
        f'basis = "{DECLARED}"',
    ]


def _usual(quantity: Quantity, value: float, units: Units = "mm") -> str:
    """Write a value in place: in the model's unit, but for nought, which is so in any."""
    if quantity.yes_or_no:
        return '"yes"' if value else '"no"'
    if not quantity.unit:
        return f"{value:g}"
    unit = "in" if units == "inch" and quantity.unit == "mm" else quantity.unit
    return f'"{value:g} {unit}"'


def _statement(statement: Statement, units: Units) -> list[str]:
    return [f"{key} = {_toml(value, units)}" for key, value in statement]


def _toml(value: object, units: Units) -> str:
    if isinstance(value, tuple):
        return f"[{', '.join(_toml(each, units) for each in value)}]"
    return f'"{_said(value, units)}"' if isinstance(value, str) else f"{value!r}"


def _said(text: str, units: Units) -> str:
    """Write a suggested length in mm as one in inches would be; anything else as it is.

    It is a judgement, so it is rounded to what a builder in inches would say: a sixteenth, five
    thou, one thou, as its size is.
    """
    number, _, unit = text.partition(" ")
    if units == "mm" or unit != "mm":
        return text
    thou = conversion("mm", "thou").factor * float(number)
    if abs(thou) >= THOU_TO:
        return f"{mixed(Fraction(round(thou / 1000.0 * 16.0), 16))} in"
    step = 5.0 if abs(thou) >= FIVES_FROM else 1.0
    return f"{step * round(thou / step):.0f} thou" if thou else "0 in"


def _limits(system: System, units: Units, out: SettingOut) -> list[str]:
    """The limits that usually hold, and by name what else there is."""
    results = {quantity.name: quantity for quantity in system.results}
    lines: list[str] = []
    for name, (key, value, because) in out.limits.items():
        if name not in results or any(other in results for other in out.instead.get(name, ())):
            continue
        stated = f'"{_said(value, units)}"' if results[name].unit else value
        lines += [
            "",
            f"[limits.{name}]  # {results[name].meaning}",
            f"{key} = {stated}",
            f'because = "{because}"',
        ]
    others = [name for name in results if f"[limits.{name}]" not in "\n".join(lines)]
    if not lines:
        return [
            *_limit_to_choose(results, units),
            *_listed("# The results to choose from:", others),
        ]
    return [*lines, "", *_listed("# Others that a limit can stand on:", others)]


def _limit_to_choose(results: Mapping[str, Quantity], units: Units) -> list[str]:
    quantity = next(iter(results.values()))
    nought = _usual(quantity, 0.0, units)
    return [
        "",
        f"# [limits.{quantity.name}]  # {quantity.meaning}",
        f"# at_least = {nought}",
        '# because = "..."',
        "",
    ]


def _listed(head: str, names: Iterable[str]) -> list[str]:
    """Names in lines of comment that are no wider than a heading."""
    lines, line = [], head
    for name in names:
        if len(line) + len(name) + 2 > TO_THE_EDGE:
            lines.append(line)
            line = "#"
        line += f" {name},"
    return [*lines, f"{line.rstrip(',')}."] if line != head else []


def _left_to_the_models(system: System, out: SettingOut) -> list[str]:
    """Name what the models declare, so that what is known better can be stated."""
    lines: list[str] = []
    elsewhere = computed_elsewhere(system.inputs)
    for kind, words in (("running", "conditions"), ("model", "doubts of the physics")):
        names = [
            quantity.name
            for quantity in system.inputs
            if quantity.kind == kind and quantity.name not in {*out.sized, *elsewhere}
        ]
        if names:
            head = f"# Leave these {words} to the models unless you know better:"
            lines += _listed(head, names)
    if elsewhere:
        models = list(dict.fromkeys(name for names in elsewhere.values() for name in names))
        head = "# Neither asked for nor computed here, but as the models have it:"
        lines += _listed(head, elsewhere)
        lines.append(f"# What computes it, among the models: {', '.join(models)}.")
    if lines:
        lines = [
            "",
            "# --- left to the models ".ljust(TO_THE_EDGE, "-"),
            "",
            *lines,
            '# To say better: [inputs.NAME] with nominal, spread and kind = "running" or "model".',
        ]
    return lines
