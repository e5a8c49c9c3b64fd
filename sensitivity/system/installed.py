"""What is installed beside this package, by entry point: looked up once for all that is brought.

To look takes ten milliseconds each time, and a distribution's name two more, for which its whole
metadata are read. So both are done once a process.
"""

from __future__ import annotations

from functools import lru_cache
from importlib.metadata import Distribution, EntryPoint, entry_points

OURS = "spiritlevel."
"""How the groups that are looked for begin."""


@lru_cache(maxsize=1)
def _looked_up() -> dict[str, tuple[EntryPoint, ...]]:
    found = entry_points()
    groups = sorted(group for group in found.groups if group.startswith(OURS))
    return {group: tuple(found.select(group=group)) for group in groups}


def points_of(group: str) -> tuple[EntryPoint, ...]:
    """Entry points of a group of ours, such as ``spiritlevel.models``; none is loaded.

    Parameters
    ----------
    group : str
        Its whole name.
    """
    return _looked_up().get(group, ())


def brought_by(point: EntryPoint) -> str:
    """Name the distribution that brings an entry point; empty where it cannot be told."""
    return "" if point.dist is None else _name_of(point.dist)


@lru_cache(maxsize=64)
def _name_of(distribution: Distribution) -> str:
    return str(distribution.name)
