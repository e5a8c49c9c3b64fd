"""The verdicts of one replicate: its parts and moments drawn, the moments ordered, parts counted.

The pilot is the first parts of the sequence, tried at every moment (``engine/pilot``); the order it
gives serves the replicate's other parts and all variants.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.kept import (
    WITHOUT_MOMENTS,
    Counted,
    Counts,
    Lattice,
    Order,
    check_keeps,
    count,
    count_each,
    hardest_first,
    lattice,
    moments_for,
)
from sensitivity.engine.moments import (
    Crossed,
    CrossedValues,
    Variant,
    crossed_sample,
    crossed_values,
    failing,
    failing_as_each,
    of_kinds,
)
from sensitivity.engine.pilot import asked_often, tried
from sensitivity.engine.plan import Plan

Floats = NDArray[np.float64]

PILOT = 64
OF_OTHERS, FEWEST_OF_ONE, MOST_OF_ONE = 32, 4, 8
"""Parts of the pilot as other designs in all, and as one of them."""
AUDIT = 0x0A
"""Last number of the key of a replicate's audit."""


@dataclass(frozen=True, slots=True)
class Counting:
    """How parts are counted: at how many moments, with which verdict, by how large a pilot."""

    keeps: float
    moments: int
    step: Lattice
    pilot: int = PILOT


def counting_for(
    plan: Plan, keeps: float, *, moments: int | None = None, pilot: int = PILOT
) -> Counting:
    """Say how the parts of a plan are counted.

    Parameters
    ----------
    plan : Plan
        As ``plan_run`` fixed it.
    keeps : float
        Share of the moments at which a part that works keeps every limit.
    moments : int, optional
        A power of two; as many as ``keeps`` wants where not given, and one where no running input
        varies.
    pilot : int
        Parts tried at all moments.

    Raises
    ------
    CallError
        Where ``keeps`` is out of its range, or the moments are too few for it.
    """
    check_keeps(keeps)
    if not of_kinds(plan, "running"):
        return Counting(keeps, 1, WITHOUT_MOMENTS, pilot)
    moments = moments or moments_for(keeps)
    return Counting(keeps, moments, lattice(keeps, moments), pilot)


@dataclass(frozen=True)
class Prepared:
    """One replicate before its parts are counted.

    Attributes
    ----------
    sample : Crossed
    values : CrossedValues
        As stated.
    order : Order
        For what is counted with an audit: it asks often whether a part is decided.
    known : array (pilot,)
        Failing moments of the first parts; of hopeless ones too many for them to work.
    audit : array (parts,)
        By which parts are drawn for the audit.
    evaluations : int
        Spent on the pilot.
    unaudited : Order
        The same moments for what is counted without an audit, such as a band: parts are dropped as
        good less often.
    """

    sample: Crossed
    values: CrossedValues
    order: Order
    known: Counts
    audit: Floats
    evaluations: int
    unaudited: Order


def prepare(
    plan: Plan,
    counting: Counting,
    replicate: int,
    parts: int,
    others: Sequence[Variant] = (),
) -> Prepared:
    """Draw a replicate's parts and moments, and try its pilot at all of them.

    ``parts`` is a power of two; the plan's system takes crossed arrays (``crossing_plan``). A few
    parts as each of the ``others`` help to order the moments: what is hardest for a design that
    leans one way is easy for one that leans the other, whose interval was then six times as wide
    (a margin of two sides, measured).
    """
    sample = crossed_sample(plan, replicate, parts, counting.moments)
    values = crossed_values(plan, sample)
    pilot = np.arange(min(counting.pilot, parts))
    failed, evaluations = tried(
        partial(failing, plan, values), pilot, counting.moments, counting.step
    )
    every = [failed]
    if others:
        designs = [crossed_values(plan, sample, each, values) for each in others]
        few = min(MOST_OF_ONE, max(FEWEST_OF_ONE, OF_OTHERS // len(others)), parts)
        places = (np.arange(len(others))[:, None] * parts + np.arange(few)).ravel()
        as_others, spent = tried(
            failing_as_each(plan, designs, parts), places, counting.moments, counting.step
        )
        every.append(as_others)
        evaluations += spent
    together = np.concatenate(every)
    order = hardest_first(together, counting.step)
    return Prepared(
        sample=sample,
        values=values,
        order=asked_often(order, together, counting.step),
        known=failed.sum(axis=1).astype(np.int64),
        audit=audit_numbers(plan, replicate, parts),
        evaluations=evaluations,
        unaudited=asked_often(order, together, counting.step, audited=False),
    )


def audit_numbers(plan: Plan, replicate: int, parts: int) -> Floats:
    """Draw the numbers (parts,) by which a replicate's parts are chosen for an audit."""
    seed = np.random.SeedSequence(plan.seed, spawn_key=(replicate, AUDIT))
    return np.random.default_rng(seed).random(parts)


def count_stated(plan: Plan, counting: Counting, prepared: Prepared) -> Counted:
    """Count the parts of a replicate as stated."""
    return count(
        partial(failing, plan, prepared.values),
        prepared.sample.count,
        prepared.order,
        counting.step,
        audit=prepared.audit,
        known=prepared.known,
    )


def count_variants(
    plan: Plan,
    counting: Counting,
    prepared: Prepared,
    variants: Sequence[Variant],
    *,
    stated: bool = False,
) -> list[Counted]:
    """Count the same parts at the same moments, with what each variant has instead.

    ``stated`` asks for the parts as stated too, first and in the same calls.
    """
    parts, values = prepared.sample.count, prepared.values
    designs = [values] if stated else []
    designs += [crossed_values(plan, prepared.sample, variant, values) for variant in variants]
    if not designs:
        return []
    return count_each(
        failing_as_each(plan, designs, parts),
        len(designs),
        parts,
        prepared.order,
        counting.step,
        audit=prepared.audit,
        known=[prepared.known] if stated else (),
    )
