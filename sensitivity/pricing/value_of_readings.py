"""What readings gain, on top of those read before: the decisions they help, and what these pay.

The decision that a reading helps is where to set what can be set or, where nothing can be, whether
to accept the assembly at all; ``value_of_information`` estimates the gain.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import FEWEST_EVENTS, Estimate, estimate
from sensitivity.pricing.assembly_settings import Assemblies, AssemblySettings
from sensitivity.pricing.value_of_information import (
    Decision,
    cross_fitted_choices,
    middle_of_working,
    payoffs_taken,
    regressors,
)
from sensitivity.pricing.variants import moved_difference

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]
Places = NDArray[np.intp]

ACCEPT, REJECT = 0, 1

WORKING = 0.5
"""Verdict above which an assembly is taken to work at a setting."""

ROUNDING = 1e-6
"""Of sums of verdicts, which are whole but for it where every verdict is."""

FARTHEST = 2.0
"""Standard deviations beyond which a margin makes no difference to acceptance."""


def setting_decision(assemblies: Assemblies, settings: AssemblySettings) -> Decision:
    """Lay out the decision on a setting: an assembly that works there pays 1.

    Parameters
    ----------
    assemblies : Assemblies
        Each at each of s settings.
    settings : AssemblySettings
        Those, in their inputs' units.

    Returns
    -------
    Decision
        With s ways, each where its setting lies.
    """
    middle = middle_of_working(assemblies.works > WORKING, settings.points)
    return Decision(assemblies.works, middle, points=settings.points)


def acceptance_decision(assemblies: Assemblies) -> Decision:
    """Lay out the decision to accept an assembly as drawn: 1 if it works, -1 if not, 0 if rejected.

    A verdict in between pays in between.

    So it is rejected where it is likelier to fail than to work.

    Parameters
    ----------
    assemblies : Assemblies
        As drawn.

    Returns
    -------
    Decision
        With two ways, ``ACCEPT`` and ``REJECT``.
    """
    accepted = 2.0 * assemblies.as_drawn - 1.0
    ways = np.stack([accepted, np.zeros_like(accepted)], axis=2)
    return Decision(ways, assemblies.margins, np.clip(assemblies.smallest, -FARTHEST, FARTHEST))


@dataclass(frozen=True)
class Knowledge:
    """What has been read of each assembly (r, n, d), and what the decision then pays (r, n)."""

    readings: Floats
    paid: Floats


def without_readings(decision: Decision) -> Knowledge:
    """Decide the same for all assemblies."""
    choices = cross_fitted_choices(decision, None)
    return Knowledge(np.empty((*choices.shape, 0)), payoffs_taken(decision.payoffs, choices))


def with_reading(decision: Decision, known: Knowledge, reading: Floats) -> Knowledge:
    """Decide anew with one reading more.

    Parameters
    ----------
    decision : Decision
        The same as before.
    known : Knowledge
        What was known before.
    reading : array (r, n) or (r, n, d)
        Of one dimension of each assembly, or of several; each in its unit.

    Returns
    -------
    Knowledge
        With the reading.
    """
    more = reading if reading.ndim == 3 else reading[..., None]
    readings = np.concatenate([known.readings, more], axis=2)
    choices = cross_fitted_choices(decision, regressors(readings))
    return Knowledge(readings, payoffs_taken(decision.payoffs, choices))


def choices_with(decision: Decision, known: Knowledge) -> Places:
    """Choose a way for each assembly (r, n) by what is known of it."""
    columns = regressors(known.readings) if known.readings.shape[2] else None
    return cross_fitted_choices(decision, columns)


def choices_for_others(decision: Decision, known: Knowledge, others: Floats) -> Places:
    """Choose a way for other assemblies, by rules made without their replicate's neighbours.

    Parameters
    ----------
    decision : Decision
        For the assemblies (r, n) that the rules are made from.
    known : Knowledge
        What was read of them.
    others : array (q, k, d)
        The same readings of other assemblies, of the first q replicates.

    Returns
    -------
    array (q, k)
        They pay nothing whatever is chosen, and so teach nothing.
    """
    replicates, rows = decision.payoffs.shape[:2]
    rest = np.broadcast_to(others[:1], (replicates - others.shape[0], *others.shape[1:]))
    readings = np.concatenate([known.readings, np.concatenate([others, rest])], axis=1)

    def longer(values: Floats, fill: float) -> Floats:
        more = np.full((replicates, others.shape[1], *values.shape[2:]), fill)
        return np.concatenate([values, more], axis=1)

    longer_decision = Decision(
        longer(decision.payoffs, 0.0),
        longer(decision.guides, np.nan),
        None if decision.joined is None else longer(decision.joined, np.nan),
        decision.points,
    )
    choices = choices_with(longer_decision, Knowledge(readings, known.paid))
    return choices[: others.shape[0], rows:]


def value_of_reading(before: Knowledge, after: Knowledge, confidence: float) -> Estimate:
    """Find what the decision pays more, an assembly, for what is known after and was not before.

    Parameters
    ----------
    before, after : Knowledge
        Of the same assemblies, for the same decision.
    confidence : float
        Of the interval, 0..1.

    Returns
    -------
    Estimate
        A share of assemblies, with its interval between replicates.
    """
    return difference(after.paid, before.paid, confidence)


def difference(one: Floats, other: Floats, confidence: float) -> Estimate:
    """Find what assemblies (r, n) pay more on average one way than another.

    Parameters
    ----------
    one, other : array (r, n)
        Of the same assemblies.
    confidence : float
        Of the interval, 0..1.

    Returns
    -------
    Estimate
        Its interval as ``moved_difference`` has it, verdicts in between rounded up.
    """
    change, rows = one - other, one.shape[1]
    gained = np.maximum(change, 0.0).sum(axis=1)
    lost = np.maximum(-change, 0.0).sum(axis=1)
    whole = moved_difference(
        np.ceil(gained - ROUNDING).astype(np.int64),
        np.ceil(lost - ROUNDING).astype(np.int64),
        rows,
        confidence,
    )
    shares = (gained - lost) / rows
    if float((gained + lost).sum()) >= FEWEST_EVENTS and float(np.ptp(shares)) > 0.0:
        return estimate(shares, confidence)
    return Estimate(float(shares.mean()), whole.low, whole.high)
