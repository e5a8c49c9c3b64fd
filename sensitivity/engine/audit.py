"""Which of the parts dropped as good are counted further, and how many each of them stands for.

What a pilot misses lies near the verge: of 27 parts wrongly taken to be good 26 had failed at more
than three quarters of the moments allowed (four cases, measured). And what it misses is mostly
found soon: the moments that come next are harder than the last ones, which are many. So parts are
drawn by strata of their failures, and of those drawn ever fewer go on to ever longer chunks of
moments, each then standing for more. That is unbiased whatever the pilot missed, for who goes on is
drawn by chance.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from sensitivity.engine.kept import Lattice

Floats = NDArray[np.float64]
Places = NDArray[np.intp]
Counts = NDArray[np.int64]
Strata = Sequence[tuple[float, float]]

AUDITED: Strata = ((0.25, 1 / 32), (0.75, 1 / 4), (1.0, 1 / 2))
"""Strata of parts dropped as good: up to which share of the failures allowed, and which share of
them is drawn."""
COUNTED_WHOLE: Strata = ((0.25, 1 / 32), (0.75, 1 / 8), (1.0, 1 / 2))
"""The same where each of those drawn is counted at all moments."""
FEWEST_AUDITED = 2
EVEN, FEWEST_ON = 400, 1 / 2
"""Moments of a chunk to which all go on; to longer ones so many that each costs the same, but no
smaller a share than this: with a quarter from 100 moments on, the intervals of gains were 2 to 12
in 100 wider; so they are as wide as where all go on (16 seeds, measured)."""
CELLS = 4096
"""Parts of the range 0 to 1: where a number lies in its own is as good as a second one."""


def drawn_for_audit(
    good: Places, failures: Counts, step: Lattice, audit: Floats, strata: Strata = COUNTED_WHOLE
) -> list[tuple[Places, int]]:
    """Draw the parts to audit among some: by strata of their failures, and a few of each.

    Parameters
    ----------
    good : array (n,)
        Places of the parts.
    failures : array (n,)
        Of each when it was dropped.
    step : Lattice
        The verdict that the failures lead to.
    audit : array (parts,)
        Numbers drawn for each part; the smallest are taken.
    strata : sequence of (float, float)
        As of ``AUDITED``.

    Returns
    -------
    list of (array (m,), int)
        Places of those drawn, and the size of their stratum, for each that is not empty.
    """
    found = []
    below = -1.0
    for share, rate in strata:
        some = good[(failures > below) & (failures <= share * step.most)]
        below = share * step.most
        if some.size:
            wanted = min(some.size, max(FEWEST_AUDITED, int(np.ceil(rate * some.size))))
            found.append((some[np.argsort(audit[some], kind="stable")[:wanted]], some.size))
    return found


def drawn_together(
    good: Places, failures: Counts, step: Lattice, audit: Floats
) -> tuple[Places, Floats]:
    """Draw the parts to count further (m,), and say how many each stands for (m,)."""
    strata = drawn_for_audit(good, failures, step, audit, AUDITED)
    stand_for = [np.full(drawn.size, size / drawn.size) for drawn, size in strata]
    return np.concatenate([drawn for drawn, _ in strata]), np.concatenate(stand_for)


def shares_going_on(ends: Sequence[int]) -> Floats:
    """Say which share of the audited parts goes on to each chunk (chunks,) that ends there."""
    sizes = np.diff(ends, prepend=0)
    shares = np.clip(EVEN / sizes, FEWEST_ON, 1.0)
    return np.asarray(np.minimum.accumulate(shares))


def second_numbers(audit: Floats) -> Floats:
    """Make a second number, 0 to 1, of each part's (n,): it goes on where that is below a share.

    By the number and not by its rank, so that a part goes on as each of the designs it is tried as.
    """
    return np.asarray(np.modf(CELLS * audit)[0])
