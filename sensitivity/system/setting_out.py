"""What a builder is shown and asked: labelled views of the models' trade, and sketch numbers.

Installed models may bring, in the entry-point group ``spiritlevel.setting_out``, an object with

* ``groups``: headings, each with names of inputs, in the order of the finished thing;
* ``views``: each with a ``title`` and ``draw(design) -> shapes``;
* ``making``: by input, the statement of the spread that a new study suggests;
* ``limits``, ``instead``: by result, the limit that usually holds (key, value, because); and
  which results say more than it;
* ``usual``: inputs of which one takes the usual value; ``nought``: those that are nought where
  there is no such thing; ``sized``: conditions that go with the size of the finished thing;
  ``needs``: what means nothing while another is nought; ``counted``: what there are as many of
  as another says, with that other and the place of each;
* ``relations``: each with ``names``, ``holds(design)`` and what it ``says`` where it does not.

A sketch number is the place of an input that a builder decides in that order; what no group
names follows, as the models have it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from importlib.metadata import EntryPoint
from typing import Any

from sensitivity.errors import ModelFileError
from sensitivity.system.catalogue import Model, Quantity, distribution_of
from sensitivity.system.installed import brought_by, points_of
from sensitivity.system.loading import load
from sensitivity.system.system import System

SETTING_OUT_GROUP = "spiritlevel.setting_out"

Statement = tuple[tuple[str, object], ...]
"""Keys of a study's statement of a spread and their values, lengths in mm."""

Draw = Callable[[Mapping[str, float]], Sequence[Any]]


@dataclass(frozen=True, slots=True)
class LabelledView:
    """One view with its dimensions: its title, and what draws it from one design."""

    title: str
    draw: Draw


@dataclass(frozen=True, slots=True)
class Relation:
    """What is plausible between inputs and results as drawn: ``says`` tells it, names in braces."""

    names: tuple[str, ...]
    holds: Callable[[Mapping[str, float]], bool]
    says: str


@dataclass(frozen=True, slots=True)
class SettingOut:
    """What the installed models bring; the fields are those of the module's docstring."""

    groups: tuple[tuple[str, tuple[str, ...]], ...] = ()
    views: tuple[LabelledView, ...] = ()
    making: Mapping[str, Statement] = field(default_factory=dict)
    limits: Mapping[str, tuple[str, str, str]] = field(default_factory=dict)
    instead: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    usual: frozenset[str] = frozenset()
    nought: frozenset[str] = frozenset()
    sized: frozenset[str] = frozenset()
    needs: Mapping[str, str] = field(default_factory=dict)
    counted: Mapping[str, tuple[str, int]] = field(default_factory=dict)
    relations: tuple[Relation, ...] = ()

    @property
    def order(self) -> tuple[str, ...]:
        """The inputs' names in the order of the finished thing."""
        return tuple(name for _, names in self.groups for name in names)


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
    distributions = dict.fromkeys(distribution_of(model) for model in models)
    found = [installed_setting_out(name) for name in distributions if name]
    if len(found) == 1:
        return found[0]
    return SettingOut(
        groups=tuple(group for each in found for group in each.groups),
        views=tuple(view for each in found for view in each.views),
        making={name: stated for each in found for name, stated in each.making.items()},
        limits={name: stated for each in found for name, stated in each.limits.items()},
        instead={name: more for each in found for name, more in each.instead.items()},
        usual=frozenset[str]().union(*(each.usual for each in found)),
        nought=frozenset[str]().union(*(each.nought for each in found)),
        sized=frozenset[str]().union(*(each.sized for each in found)),
        needs={name: other for each in found for name, other in each.needs.items()},
        counted={name: by for each in found for name, by in each.counted.items()},
        relations=tuple(relation for each in found for relation in each.relations),
    )


@lru_cache(maxsize=32)
def installed_setting_out(distribution: str) -> SettingOut:
    """Read what one installed distribution brings; an empty one if it brings nothing."""
    for point in points_of(SETTING_OUT_GROUP):
        if brought_by(point) == distribution:
            return _read(load(point), point)
    return SettingOut()


def _read(stated: Any, point: EntryPoint) -> SettingOut:
    where = f'setting out "{point.name}" ({point.value})'
    try:
        found = SettingOut(
            groups=tuple((str(title), tuple(names)) for title, names in stated.groups),
            views=tuple(LabelledView(view.title, view.draw) for view in stated.views),
            making=dict(stated.making),
            limits={name: (key, value, why) for name, (key, value, why) in stated.limits.items()},
            instead={name: tuple(others) for name, others in stated.instead.items()},
            usual=frozenset(stated.usual),
            nought=frozenset(stated.nought),
            sized=frozenset(stated.sized),
            needs=dict(stated.needs),
            counted={name: (by, int(place)) for name, (by, place) in stated.counted.items()},
            relations=tuple(
                Relation(tuple(each.names), each.holds, each.says) for each in stated.relations
            ),
        )
    except (AttributeError, TypeError, ValueError) as error:
        raise ModelFileError(f"{where} is not of the form that it should have: {error}") from error
    if not all(isinstance(name, str) for name in found.order):
        raise ModelFileError(f"{where}: its groups should hold names")
    return found


def decided(quantity: Quantity) -> bool:
    """Tell whether an input is the builder's to decide, as its model has it."""
    return quantity.kind in (None, "build")


def in_order(system: System) -> tuple[Quantity, ...]:
    """Put the inputs that a builder decides in the order of the finished thing."""
    names = dict.fromkeys(setting_out_of(system.models).order)
    order = {name: place for place, name in enumerate(names)}
    mine = [quantity for quantity in system.inputs if decided(quantity)]
    return tuple(sorted(mine, key=lambda quantity: order.get(quantity.name, len(order))))


def sketch_numbers(system: System) -> dict[str, int]:
    """Number the inputs that a builder decides, from 1, in the order of the finished thing.

    The same in a study's file, its labelled drawing and its tables: it hangs on the models alone.
    """
    return {quantity.name: number for number, quantity in enumerate(in_order(system), 1)}
