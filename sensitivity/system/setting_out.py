"""What a builder is shown and asked: labelled views of the models' trade, and sketch numbers.

Installed models may bring, in the entry-point group ``spiritlevel.setting_out``, an object with
``order`` (names of inputs in the order of the finished thing) and ``views`` (each with a
``title`` and ``draw(design) -> shapes``). A sketch number is the place of an input that a
builder decides in that order; what no order names follows, as the models have it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.metadata import EntryPoint, entry_points
from typing import Any

from sensitivity.errors import ModelFileError
from sensitivity.system.catalogue import Model, Quantity, installed_points
from sensitivity.system.loading import load
from sensitivity.system.system import System

SETTING_OUT_GROUP = "spiritlevel.setting_out"

Draw = Callable[[Mapping[str, float]], Sequence[Any]]


@dataclass(frozen=True, slots=True)
class LabelledView:
    """One view with its dimensions: its title, and what draws it from one design."""

    title: str
    draw: Draw


@dataclass(frozen=True, slots=True)
class SettingOut:
    """The order in which a builder is asked, and the views that show where each dimension is."""

    order: tuple[str, ...] = ()
    views: tuple[LabelledView, ...] = ()


def setting_out_of(models: Iterable[Model]) -> SettingOut:
    """Join what the distributions of the installed models among these bring.

    Parameters
    ----------
    models : iterable of Model
        Those of a study. Models from files of the user's own bring nothing.

    Raises
    ------
    ModelFileError
        Where what is installed as such is none.
    """
    distributions = {}
    for model in models:
        point = installed_points().get(model.name)
        if point is not None and point.value == model.origin and point.dist is not None:
            distributions[point.dist.name] = True
    found = [installed_setting_out(name) for name in distributions]
    order = dict.fromkeys(name for each in found for name in each.order)
    return SettingOut(tuple(order), tuple(view for each in found for view in each.views))


@lru_cache(maxsize=32)
def installed_setting_out(distribution: str) -> SettingOut:
    """Read what one installed distribution brings; an empty one if it brings nothing."""
    for point in entry_points(group=SETTING_OUT_GROUP):
        if point.dist is not None and point.dist.name == distribution:
            return _read(load(point), point)
    return SettingOut()


def _read(stated: Any, point: EntryPoint) -> SettingOut:
    where = f'setting out "{point.name}" ({point.value})'
    try:
        order = tuple(stated.order)
        views = tuple(LabelledView(view.title, view.draw) for view in stated.views)
    except (AttributeError, TypeError) as error:
        raise ModelFileError(
            f"{where}: {error}; it should have an order of names, and views with title and draw"
        ) from error
    if not all(isinstance(name, str) for name in order):
        raise ModelFileError(f"{where}: its order should be names")
    return SettingOut(order, views)


def decided(quantity: Quantity) -> bool:
    """Tell whether an input is the builder's to decide, as its model has it."""
    return quantity.kind in (None, "build")


def in_order(system: System) -> tuple[Quantity, ...]:
    """Put the inputs that a builder decides in the order of the finished thing."""
    order = {name: place for place, name in enumerate(setting_out_of(system.models).order)}
    mine = [quantity for quantity in system.inputs if decided(quantity)]
    return tuple(sorted(mine, key=lambda quantity: order.get(quantity.name, len(order))))


def sketch_numbers(system: System) -> dict[str, int]:
    """Number the inputs that a builder decides, from 1, in the order of the finished thing.

    The same in a study's file, its labelled drawing and its tables: it hangs on the models alone.
    """
    return {quantity.name: number for number, quantity in enumerate(in_order(system), 1)}
