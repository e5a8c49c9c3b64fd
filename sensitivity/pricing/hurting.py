"""Limits whose breaking can hurt: no choice above their ceiling while there is one below it.

The chance is that at a moment taken at random, and is never traded for anything else.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from typing import TypeVar

from sensitivity.engine.intervals import Proportion
from sensitivity.study.study import Limit

Key = TypeVar("Key", bound=Hashable)


def danger(limits: Iterable[Limit], shares: Mapping[str, Proportion]) -> float:
    """Largest chance of breaking a limit that hurts, its ceiling being one; 0 where none hurts.

    Parameters
    ----------
    limits : iterable of Limit
        Those that do not hurt are passed over.
    shares : mapping of str to Proportion
        Share of moments at which each limit is kept, by result.
    """
    return max(
        ((1.0 - shares[limit.result].value) / limit.ceiling for limit in limits if limit.hurts),
        default=0.0,
    )


def choosable(dangers: Mapping[Key, float]) -> list[Key]:
    """Keep the choices that no ceiling forbids; where all are above one, the least dangerous."""
    below = [key for key, each in dangers.items() if each <= 1.0]
    if below or not dangers:
        return below
    least = min(dangers.values())
    return [key for key, each in dangers.items() if each == least]


def above_ceiling(limits: Sequence[Limit], shares: Mapping[str, Proportion]) -> list[Limit]:
    """Name the limits that hurt and are broken more often than their ceiling allows."""
    return [limit for limit in limits if danger([limit], shares) > 1.0]
