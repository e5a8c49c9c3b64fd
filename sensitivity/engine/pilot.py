"""The pilot of parts: which are tried at all moments, and when the others may be dropped by it.

Parts that fail at most moments tell nothing of which are hard, so they are not tried at all of
them; and it is asked often whether a part is decided, which takes a fifth less and errs alike
(measured).
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.kept import Fails, Lattice, Order

Flags = NDArray[np.bool_]
Places = NDArray[np.intp]

STAGES = ((1 / 16, 1 / 2), (1 / 4, 1 / 3))
"""Shares of the moments that a pilot is tried at first, and of those the share from which on a part
that fails is taken to fail at the others too: a quarter of all is enough to tell nothing."""
SOONEST = 1.5
"""When it is first asked whether a part has failed, by the fewest moments it can have failed by."""
HALVED = 1
"""Chunks of moments, after the first, in the middle of which it is asked too."""
SPOTLESS = 8
"""Parts of a pilot, failing at none of some moments, that tell whether such parts work: of 1,700
that failed at none of the 55 hardest of 1,024, in one pipe on two supports, all did (measured)."""


def tried(fails: Fails, places: Places, moments: int, step: Lattice) -> tuple[Flags, int]:
    """Try parts at all moments, but for those that fail at most of the first.

    Parameters
    ----------
    fails : callable of places (a,) and (c,)
        Tells at which moments parts fail.
    places : array (p,)
        Of the parts.
    moments : int
        How many there are.
    step : Lattice
        The verdict that the failures lead to.

    Returns
    -------
    flags (p, moments)
        Parts that fail at most of the first moments, and too often to work, are taken to fail at
        all of the others: the verdict that follows is that of a whole count.
    int
        Evaluations spent.
    """
    failed = np.ones((places.size, moments), dtype=np.bool_)
    left, start, evaluations = np.arange(places.size), 0, 0
    for share, hopeless in (*STAGES, (1.0, 1.0)):
        end = max(1, round(share * moments))
        if end > start and left.size:
            failed[left, start:end] = fails(places[left], np.arange(start, end))
            evaluations += left.size * (end - start)
            so_far = np.count_nonzero(failed[left, :end], axis=1)
            left, start = left[so_far <= max(hopeless * end, step.most + 1)], end
    return failed, evaluations


def asked_often(order: Order, failed: Flags, step: Lattice, *, audited: bool = True) -> Order:
    """Have it asked more often whether a part is decided.

    Parameters
    ----------
    order : Order
        As ``hardest_first`` has it.
    failed : flags (p, c)
        Of each part of the pilot at all moments, that this order was made from.
    step : Lattice
        The verdict that the failures lead to.
    audited : bool
        Whether parts may be dropped as good at the new ends too; if not, verdicts are those of the
        order given.
    """
    fewest, plain = round(SOONEST * (step.most + 2)), order.ends
    soon = [fewest] if fewest < plain[0] else []
    between = [round(float(np.sqrt(a * b))) for a, b in pairwise(plain[: HALVED + 1])]
    ends = np.array(sorted({*plain, *between, *soon}))
    so_far = np.cumsum(failed[:, order.moments], axis=1)[:, ends - 1]
    later = failed.sum(axis=1)[:, None] - so_far
    to_come = np.where(so_far <= step.most + 1, later, -np.inf).max(axis=0)
    # At a new end as good none before the second of the plain ones: twice as often that was wrong.
    new = ~np.isin(ends, plain)
    if audited:
        new &= ends < plain[min(1, len(plain) - 1)]
    left = np.where(np.isneginf(to_come) | new, np.inf, to_come)
    spotless = so_far == 0
    enough = np.count_nonzero(spotless, axis=0) >= SPOTLESS
    sure = enough & np.all(~spotless | (later <= step.most), axis=0) & (ends > plain[0])
    return replace(
        order,
        ends=tuple(ends.tolist()),
        left=left,
        spotless=min(ends[sure].tolist(), default=np.inf),
    )
