"""A bore stated by the tube that it is bought as: ``tube = "1/8 in x 22 SWG"``.

The tube says two dimensions at once. The bore takes its own from it, and the wall of the same name
(``pipe_bore`` and ``pipe_wall``) takes the wall, where a model asks for one.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping

from sensitivity.errors import QuantityError
from sensitivity.quantities.tube import Tube, is_a_tube, read_tube
from sensitivity.study.faults import Faults
from sensitivity.study.form import InputTable
from sensitivity.study.study import Input
from sensitivity.study.toml_lines import Path as KeyPath
from sensitivity.system.catalogue import Quantity

_BORE = "_bore"
_WALLS = ("_wall", "_tube_wall")

Tables = Mapping[str, tuple[KeyPath, InputTable]]


def with_tubes(tables: Tables, known: Mapping[str, Quantity], faults: Faults) -> Tables:
    """Put the nominals that tubes say in the tables of the bores and the walls.

    Parameters
    ----------
    tables : mapping of name to (path, InputTable)
        As stated, and where.
    known : mapping of name to Quantity
        What the models take.
    faults : Faults
        Takes a tube that cannot be read, that stands at no bore, or that says what is said again.
    """
    found = dict(tables)
    for name, (path, table) in tables.items():
        if table.tube is None:
            continue
        key = (*path, "tube")
        if not takes_a_tube(name):
            bores = ", ".join(other for other in known if other.endswith(_BORE)) or "there is none"
            faults.add(key, f"goes with the bore of a tube: {bores}")
            continue
        if table.nominal is not None and not table.blank:
            faults.add((*path, "nominal"), "the tube says the bore; leave this out, or the tube")
            continue
        try:
            tube = read_tube(table.tube)
        except QuantityError as error:
            faults.add(key, str(error))
            continue
        found[name] = (path, table.model_copy(update={"nominal": f"{tube.bore:.12g} mm"}))
        _put_wall(found, name.removesuffix(_BORE), tube, path, known, faults)
    return found


def _put_wall(
    found: dict[str, tuple[KeyPath, InputTable]],
    stem: str,
    tube: Tube,
    path: KeyPath,
    known: Mapping[str, Quantity],
    faults: Faults,
) -> None:
    """Give the wall its nominal; a wall that is stated keeps its spread and all else."""
    wall = wall_of(stem + _BORE, known)
    if wall is None:
        return
    place, table = found.get(wall, (path, InputTable()))
    if table.nominal is not None and not table.blank:
        stated = ".".join(map(str, (*path, "tube")))
        faults.add((*place, "nominal"), f"{stated} says the wall; leave this out, or the tube")
        return
    found[wall] = (place, table.model_copy(update={"nominal": tube.wall_written}))


def takes_a_tube(name: str) -> bool:
    """Tell whether an input is a bore, which a bought tube may give."""
    return name.endswith(_BORE)


def wall_of(bore: str, known: Container[str]) -> str | None:
    """Name the wall of the tube whose bore an input is; None where no model asks for it."""
    if not takes_a_tube(bore):
        return None
    stem = bore.removesuffix(_BORE)
    return next((stem + ending for ending in _WALLS if stem + ending in known), None)


def from_tubes(inputs: Iterable[Input]) -> list[Input]:
    """Find the inputs whose nominals bought tubes gave: each bore, and the wall that took it."""
    named, found = {item.name: item for item in inputs}, []
    for item in named.values():
        if item.name.endswith(_BORE) and is_a_tube(item.drawn):
            wall = named.get(wall_of(item.name, named) or "")
            written = read_tube(item.drawn).wall_written
            found += [item, *([wall] if wall is not None and wall.drawn == written else [])]
    return found
