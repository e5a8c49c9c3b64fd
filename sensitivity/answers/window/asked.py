"""What a call asks of a window: the ends and the step of each input, as quantities."""

from __future__ import annotations

from collections.abc import Sequence

from sensitivity.answers.window.settings import Asked
from sensitivity.errors import CallError, QuantityError, nearest
from sensitivity.quantities.quantity import read_difference, read_quantity, suggesting
from sensitivity.study.study import Study


def read_asked(
    study: Study,
    names: Sequence[str],
    lowest: Sequence[str] | None,
    highest: Sequence[str] | None,
    step: Sequence[str] | None,
) -> list[Asked]:
    """Read the ends and steps that a call asks for, in each input's own unit.

    Raises
    ------
    CallError
        Where an input is not there, a quantity does not read, or one is given too often.
    """
    known = {item.name: item.unit for item in study.inputs}
    options = {"--from": lowest, "--to": highest, "--step": step}
    for option, given in options.items():
        if given and len(given) != len(names):
            raise CallError(
                f"{option} is given {len(given)} times for {len(names)} inputs; give it once for "
                "each, in their order, or not at all"
            )
    asked = []
    for place, name in enumerate(names):
        if name not in known:
            raise CallError(f'{study.name} has no input "{name}"; {nearest(name, known)}')
        values: dict[str, float | None] = {}
        for option, given in options.items():
            reads = read_difference if option == "--step" else read_quantity
            try:
                with suggesting(inches=study.units == "inch"):
                    values[option] = reads(given[place], known[name]) if given else None
            except QuantityError as error:
                raise CallError(f"{option}: {error}") from None
        size = values["--step"]
        if size is not None and not size > 0.0:
            raise CallError(f"--step: found {size:g} {known[name]}; should be above zero")
        ends = tuple(given[place] for given in (lowest, highest) if given)
        stepped = step[place] if step else ""
        asked.append(Asked(name, values["--from"], values["--to"], size, ends, stepped))
    return asked
