"""Suspects: what a symptom says of each dimension, the most telling first.

The order is by mutual information of an input with the symptom, I = H(p) - sum pi_k H(p_k), over
bins of the input as it was known before the symptom; H is the entropy of yes and no. Bins are 32 of
equal probability, the outer ones divided again: a slip lies in the last hundredth, and 16 bins
alone lose 4 % of what a failure of two normal inputs tells (closed form, tests). What chance alone
would leave, (bins - 1)/(2 ESS), is taken off (Miller 1955, from memory). An input is named only
where the interval of I is clear of zero, the intervals of all inputs holding together.

How likely it is that each was made wrong stands beside it: a slip has its stated chance before
anything is seen (``spreads/derived``).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Estimate
from sensitivity.engine.plan import Plan
from sensitivity.learning.observations import EventSeen, Trial, ValueSeen
from sensitivity.learning.posterior import Posterior
from sensitivity.learning.settling import jackknifed
from sensitivity.learning.space import limits_of
from sensitivity.learning.weights import effective
from sensitivity.spreads.derived import slipped, without_slip
from sensitivity.spreads.spread import Spread, density
from sensitivity.study.study import Input, Study

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_EQUAL = np.arange(1, 32) / 32
_TAILS = np.array([0.0125, 0.005])
EDGES = np.sort(np.concatenate([_EQUAL, _TAILS, 1.0 - _TAILS]))
"""Probabilities at which bins part."""
ODD = 0.05
"""Probability below which a reading is a symptom itself."""
TOGETHER = 0.5
"""Correlation, with the symptom, beyond which two suspects are named together."""


@dataclass(frozen=True)
class Suspect:
    """What a symptom says of one input.

    Attributes
    ----------
    item : Input
        As stated.
    information : Estimate
        Mutual information with the symptom, in nats.
    mean, deviation : (float, float)
        Before the symptom and after, in the input's unit.
    out : (float, float)
        Chance that it lies outside its stated ends, before and after.
    slip : (float, float)
        Chance that it was made wrong, before and after.
    if_one : float
        Chance that it is the one that was made wrong, if just one was; after.
    where : (float, float)
        Between which values it lies, after, with nine chances in ten.
    """

    item: Input
    information: Estimate
    mean: tuple[float, float]
    deviation: tuple[float, float]
    out: tuple[float, float]
    slip: tuple[float, float]
    if_one: float
    where: tuple[float, float]

    @property
    def named(self) -> bool:
        """Whether the symptom is settled to say something of it."""
        return self.information.low > 0.0


def with_slips(study: Study) -> dict[str, Spread]:
    """Give each dimension that varies its stated chance of a slip: spreads by name.

    What was measured, what is a condition and what is a doubt about the physics cannot have been
    made wrong.
    """
    ranges = {quantity.name: quantity.range for quantity in study.system.inputs}
    found = {}
    for item in study.varying:
        chance = study.blunder if item.blunder is None else item.blunder
        if item.kind != "build" or item.origin == "measured" or item.spread is None or chance <= 0:
            continue
        within = ranges[item.name]
        found[item.name] = slipped(item.spread, chance, lowest=within.low, highest=within.high)
    return found


Odd = Collection[tuple[str, str]]
"""Readings that are a symptom themselves, by identifier of their trial and by what was read."""


def odd_readings(trials: Sequence[Trial], known: Posterior) -> Odd:
    """Find the readings that are a symptom: seldom expected, or themselves beyond a limit."""
    limits = limits_of(known.plan)
    rare = {
        (one.trial.identifier, one.seen.result)
        for one in known.conflict.expected
        if one.probability < ODD
    }
    return {
        (trial.identifier, one.result)
        for trial in trials
        for one in trial.seen
        if isinstance(one, ValueSeen)
        and (
            (trial.identifier, one.result) in rare
            or (one.result in limits and not limits[one.result].met(one.value))
        )
    }


def symptom_of(trials: Sequence[Trial], odd: Odd = ()) -> tuple[Trial, ...]:
    """Keep of trials the limits that were seen broken and the odd readings, in their conditions."""
    return _of_trials(trials, odd, symptom=True)


def without_symptom(trials: Sequence[Trial], odd: Odd = ()) -> tuple[Trial, ...]:
    """Keep of trials all but the limits that were seen broken, and the odd readings."""
    return _of_trials(trials, odd, symptom=False)


def _of_trials(trials: Sequence[Trial], odd: Odd, *, symptom: bool) -> tuple[Trial, ...]:
    found = []
    for trial in trials:
        seen = tuple(
            one
            for one in trial.seen
            if (one.broken if isinstance(one, EventSeen) else (trial.identifier, one.result) in odd)
            == symptom
        )
        if seen:
            found.append(Trial(trial.identifier, trial.title, trial.held, seen))
    return tuple(found)


def information(
    values: Floats, symptom: Flags, weights: Floats, confidence: float, edges: Floats = EDGES
) -> Estimate:
    """Mutual information of an input and a symptom, in nats, with its interval.

    Parameters
    ----------
    values, weights : array (r, n)
        The input over replicates and rows, as known before the symptom.
    symptom : flags (r, n)
        Whether it is seen of each row.
    confidence : float
        Of the interval: Student's t on the replicates' pseudo-values (jackknife).
    edges : array (k,)
        Probabilities at which bins part.
    """
    order = np.argsort(values, axis=None, kind="stable")
    along = np.cumsum(weights.ravel()[order])
    places = np.searchsorted(along, edges * along[-1])
    cuts = np.unique(values.ravel()[order][np.minimum(places, order.size - 1)])
    bins = np.searchsorted(cuts, values, side="right")
    count = cuts.size + 1
    shares = np.stack([np.bincount(b, w, count) for b, w in zip(bins, weights, strict=True)])
    seen = np.where(symptom, weights, 0.0)
    failing = np.stack([np.bincount(b, w, count) for b, w in zip(bins, seen, strict=True)])
    squares = (weights**2).sum(axis=1)

    def of(share: Floats, fail: Floats, square: float) -> float:
        total = float(share.sum())
        if total <= 0.0:
            return 0.0
        kept = share > 0.0
        by_bin = np.clip(fail[kept] / share[kept], 0.0, 1.0)
        plain = _entropy(fail.sum() / total) - (share[kept] / total) @ _entropy(by_bin)
        return float(plain - (np.count_nonzero(kept) - 1) * square / (2.0 * total**2))

    def of_replicates(kept: Flags) -> float:
        return of(shares[kept].sum(0), failing[kept].sum(0), float(squares[kept].sum()))

    return jackknifed(of_replicates, len(values), confidence)


def _entropy(p: Floats | float) -> Floats:
    p = np.asarray(p, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        found = -(p * np.log(p) + (1.0 - p) * np.log1p(-p))
    return np.where((p <= 0.0) | (p >= 1.0), 0.0, found)


def suspects(
    plan: Plan,
    before: Posterior,
    after: Posterior,
    symptom: Flags,
    spreads: Mapping[str, Spread],
) -> tuple[Suspect, ...]:
    """Rank the inputs of a part and of the physics by what a symptom says of each.

    Parameters
    ----------
    plan : Plan
        Of the design as stated.
    before, after : Posterior
        With all that was seen but the symptom, and with it.
    symptom : flags (r, n)
        Whether each row of the former shows it.
    spreads : mapping of str to Spread
        Of the dimensions that may have slipped, as ``with_slips`` gives them.
    """
    slips = {name: slip_chances(spread, after.values[name]) for name, spread in spreads.items()}
    alone = only_one(slips, after.weights)
    slips_before = {
        name: slip_chances(spread, before.values[name]) for name, spread in spreads.items()
    }
    # All at once: of forty intervals that each hold in 95 of 100 two would be clear by chance.
    confidence = 1.0 - (1.0 - plan.sampling.confidence) / max(len(before.names), 1)
    found = []
    for item in plan.varying:
        if item.name not in before.names or item.spread is None:
            continue
        told = [(p.values[item.name], p.weights) for p in (before, after)]
        means, deviations, outs = zip(*(_moments(item, *each) for each in told), strict=True)
        slip = [
            float((p.weights * chances[item.name]).sum()) if item.name in chances else 0.0
            for p, chances in ((before, slips_before), (after, slips))
        ]
        found.append(
            Suspect(
                item=item,
                information=information(
                    before.values[item.name], symptom, before.weights, confidence
                ),
                mean=means,
                deviation=deviations,
                out=outs,
                slip=(slip[0], slip[1]),
                if_one=alone.get(item.name, 0.0),
                where=between(*told[1]),
            )
        )
    return tuple(sorted(found, key=lambda one: -one.information.value))


def slip_chances(spread: Spread, values: Floats) -> Floats:
    """Chance that a value (r, n) of a dimension that may have slipped is that of a slip."""
    base = without_slip(spread)
    reach = spread.high - spread.low
    wide = np.where((values >= spread.low) & (values <= spread.high), spread.flat / reach, 0.0)
    own = (1.0 - spread.flat) * density(base, values)
    return np.asarray(wide / np.maximum(wide + own, 1e-300))


def only_one(chances: Mapping[str, Floats], weights: Floats) -> dict[str, float]:
    """Chance of each dimension to be the one that was made wrong, if just one was."""
    if not chances:
        return {}
    names = list(chances)
    every = np.clip(np.stack([chances[name] for name in names]), 0.0, 1.0 - 1e-12)
    none = np.prod(1.0 - every, axis=0)
    ones = [float((weights * none * each / (1.0 - each)).sum()) for each in every]
    total = sum(ones)
    return {
        name: one / total if total > 0.0 else 0.0 for name, one in zip(names, ones, strict=True)
    }


def together(after: Posterior, names: Sequence[str]) -> tuple[tuple[str, ...], ...]:
    """Group suspects that are correlated, with the symptom, by more than one half."""
    left, groups = list(names), []
    scores = {name: after.z[name] for name in names}
    while left:
        group = [left.pop(0)]
        for name in list(left):
            if any(
                abs(_correlation(scores[name], scores[g], after.weights)) > TOGETHER for g in group
            ):
                group.append(name)
                left.remove(name)
        if len(group) > 1:
            groups.append(tuple(group))
    return tuple(groups)


def _correlation(one: Floats, other: Floats, weights: Floats) -> float:
    one = one - (weights * one).sum()
    other = other - (weights * other).sum()
    scale = float((weights * one**2).sum() * (weights * other**2).sum())
    return float((weights * one * other).sum()) / scale**0.5 if scale > 0.0 else 0.0


def _moments(item: Input, values: Floats, weights: Floats) -> tuple[float, float, float]:
    assert item.spread is not None
    mean = float((weights * values).sum())
    deviation = float(np.sqrt(max((weights * (values - mean) ** 2).sum(), 0.0)))
    outside = (values < item.spread.low) | (values > item.spread.high)
    return mean, deviation, float((weights * outside).sum())


def between(values: Floats, weights: Floats, share: float = 0.9) -> tuple[float, float]:
    """Find the ends between which values (r, n) lie with a share of the weight, as much beyond."""
    order = np.argsort(values, axis=None, kind="stable")
    along = np.cumsum(weights.ravel()[order])
    ends = np.searchsorted(along, np.array([0.5 - share / 2, 0.5 + share / 2]) * along[-1])
    low, high = values.ravel()[order][np.minimum(ends, order.size - 1)]
    return float(low), float(high)


def rows_that_count(weights: Floats, symptom: Flags) -> float:
    """Effective number of rows that show the symptom."""
    return effective(np.where(symptom, weights, 0.0))
