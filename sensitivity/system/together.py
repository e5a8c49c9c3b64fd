"""Which models go together, as their names of inputs and results say: who supplies whom.

Two that give a result of the same name exclude each other in a study; one whose result has the
name of another's input supplies it there (``system.wire`` holds a study to both).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations

from sensitivity.system.catalogue import Model, Quantity, available_models


def suppliers(models: Iterable[Model]) -> Mapping[str, tuple[str, ...]]:
    """Name the models that give each result, by the result's name."""
    found: dict[str, tuple[str, ...]] = {}
    for model in models:
        for result in model.results:
            found[result.name] = (*found.get(result.name, ()), model.name)
    return found


def computed_elsewhere(inputs: Iterable[Quantity]) -> Mapping[str, tuple[str, ...]]:
    """Name the installed models that would compute a doubt for which its own model has no spread.

    Parameters
    ----------
    inputs : iterable of Quantity
        What a system of models takes, and none of them computes.
    """
    names = [each.name for each in inputs if each.kind == "model" and not each.spread]
    known = suppliers(available_models()) if names else {}
    return {name: known[name] for name in names if name in known}


def exclusive(models: Sequence[Model]) -> list[tuple[str, ...]]:
    """Find the sets of models of which a study takes one: each two of a set give one result.

    Parameters
    ----------
    models : sequence of Model
        Those at hand.

    Returns
    -------
    list of tuple of str
        Sets of two and more, in the models' order, that between them hold every such two.
    """
    apart = {
        frozenset(pair)
        for names in suppliers(models).values()
        for pair in combinations(names, 2)
        if len(set(pair)) == 2
    }
    found: list[tuple[str, ...]] = []
    for first, second in combinations([model.name for model in models], 2):
        held = any({first, second} <= set(names) for names in found)
        if frozenset((first, second)) not in apart or held:
            continue
        names = [first, second]
        for model in models:
            if all(frozenset((model.name, name)) in apart for name in names):
                names.append(model.name)
        found.append(tuple(names))
    return found


def takes_from(model: Model, models: Sequence[Model]) -> list[tuple[str, ...]]:
    """Name the models that can supply some input of one: alternatives together, each once.

    Parameters
    ----------
    model : Model
        What takes.
    models : sequence of Model
        Those at hand.
    """
    known = suppliers(models)
    wanted = {
        name
        for quantity in model.arguments
        for name in known.get(quantity.name, ())
        if name != model.name
    }
    sets = exclusive(models)
    found: dict[tuple[str, ...], None] = {}
    for name in (each.name for each in models if each.name in wanted):
        group = next((names for names in sets if name in names), (name,))
        found[tuple(each for each in group if each in wanted)] = None
    return list(found)
