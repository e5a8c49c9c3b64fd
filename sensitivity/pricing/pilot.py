"""The pilot of parts and variants that are counted in step, and when they may be dropped by it.

As of ``engine/verdicts``, and with less: parts that fail at most moments tell nothing of which are
hard, so they are not tried at all of them; of many variants fewer parts each; and more often it is
asked whether a part is decided, which takes a fifth less and errs alike (measured).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.kept import Fails, Lattice, Order, hardest_first
from sensitivity.engine.moments import (
    Variant,
    crossed_sample,
    crossed_values,
    failing,
    failing_as_each,
)
from sensitivity.engine.plan import Plan
from sensitivity.engine.verdicts import Counting, Prepared, audit_numbers

Flags = NDArray[np.bool_]
Places = NDArray[np.intp]

OF_OTHERS, FEWEST_OF_ONE, MOST_OF_ONE = 32, 4, 8
"""Parts as other designs in all, and as one of them."""
FIRST, HOPELESS = 1 / 4, 1 / 2
"""Moments that a pilot is tried at first, and of those the share from which on a part that fails is
taken to fail at the others too: a quarter of all is enough to tell nothing."""
SOONEST = 1.5
"""When it is first asked whether a part has failed, by the fewest moments it can have failed by."""
HALVED = 2
"""Chunks of moments, after the first, in the middle of which it is asked too."""


def prepared_for(
    plan: Plan,
    counting: Counting,
    replicate: int,
    parts: int,
    others: Sequence[Variant] = (),
) -> tuple[Prepared, Order]:
    """Draw a replicate's parts and moments, and try its pilot, as ``engine/verdicts`` does.

    Parameters
    ----------
    plan : Plan
        Whose system takes crossed arrays (``crossing_plan``).
    counting : Counting
        How parts are counted.
    replicate, parts : int
        Its number, and how many parts it has, a power of two.
    others : sequence of mappings of name to Spread or float
        Variants of which a few parts are tried too.

    Returns
    -------
    Prepared
        Whose order asks often.
    Order
        The same moments with fewer ends, for what is counted without an audit.
    """
    sample = crossed_sample(plan, replicate, parts, counting.moments)
    values = crossed_values(plan, sample)
    pilot = min(counting.pilot, parts)
    each = min(MOST_OF_ONE, max(FEWEST_OF_ONE, OF_OTHERS // max(len(others), 1)), parts)
    designs = [crossed_values(plan, sample, other, values) for other in others]
    failed = tried(partial(failing, plan, values), np.arange(pilot), counting.moments)
    every = [failed]
    if designs:
        places = (np.arange(len(designs))[:, None] * parts + np.arange(each)).ravel()
        every.append(tried(failing_as_each(plan, designs, parts), places, counting.moments))
    together = np.concatenate(every)
    order = hardest_first(together, counting.step)
    prepared = Prepared(
        sample=sample,
        values=values,
        order=asked_often(order, together, counting.step),
        known=failed.sum(axis=1).astype(np.int64),
        audit=audit_numbers(plan, replicate, parts),
        evaluations=0,
    )
    return prepared, order


def tried(fails: Fails, places: Places, moments: int) -> Flags:
    """Try parts at all moments, but for those that fail at most of the first.

    Parameters
    ----------
    fails : callable of places (a,) and (c,)
        Tells at which moments parts fail.
    places : array (p,)
        Of the parts.
    moments : int
        How many there are.

    Returns
    -------
    flags (p, moments)
        Parts that fail at most of the first moments are taken to fail at all of the others.
    """
    failed = np.ones((places.size, moments), dtype=np.bool_)
    first = max(1, round(FIRST * moments))
    failed[:, :first] = fails(places, np.arange(first))
    telling = np.count_nonzero(failed[:, :first], axis=1) <= HOPELESS * first
    if first < moments and telling.any():
        failed[telling, first:] = fails(places[telling], np.arange(first, moments))
    return failed


def asked_often(order: Order, failed: Flags, step: Lattice) -> Order:
    """Have it asked more often whether a part is decided.

    Parameters
    ----------
    order : Order
        As ``hardest_first`` has it.
    failed : flags (p, c)
        Of each part of the pilot at all moments, that this order was made from.
    step : Lattice
        The verdict that the failures lead to.
    """
    fewest, plain = round(SOONEST * (step.most + 2)), order.ends
    between = [round(float(np.sqrt(a * b))) for a, b in pairwise(plain[: HALVED + 1])]
    ends = sorted({*plain, *between, *([fewest] if fewest < plain[0] else [])})
    so_far = np.cumsum(failed[:, order.moments], axis=1)[:, np.asarray(ends) - 1]
    alive = so_far <= step.most + 1
    to_come = np.where(alive, failed.sum(axis=1)[:, None] - so_far, -np.inf).max(axis=0)
    # At a new end as good none before the second of the plain ones: twice as often that was wrong.
    early = (np.asarray(ends) < plain[min(1, len(plain) - 1)]) & ~np.isin(ends, plain)
    left = np.where(np.isneginf(to_come) | early, np.inf, to_come)
    return replace(order, ends=tuple(ends), left=left)
