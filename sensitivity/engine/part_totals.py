"""Total indices of whether a part works: which of its inputs decide that, its moments left out.

A part's verdict is a function of its build and model inputs alone, so running inputs have no index
here. Each group of build inputs is swapped between two samples of parts, all model inputs as one
group, at the same moments; Jansen's formula on the verdicts. Both samples and every swap are
counted in the order that one pilot gave, and parts dropped as good are audited in pairs.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.audit import drawn_for_audit
from sensitivity.engine.intervals import Estimate, estimate
from sensitivity.engine.kept import Counted, Fails, Order, count, hardest_first
from sensitivity.engine.moments import (
    SWAPPED,
    cross,
    crossed_values,
    crossing_plan,
    failing,
    moments_of,
    of_kinds,
    positions,
)
from sensitivity.engine.monte_carlo import each_replicate
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.pilot import asked_often, tried
from sensitivity.engine.plan import Group, Plan
from sensitivity.engine.verdicts import Counting, audit_numbers, counting_for
from sensitivity.errors import CallError

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

PARTS = 256
DOUBT = "model inputs"
"""Name of the group of all model inputs."""


@dataclass(frozen=True)
class PartTotals:
    """Total indices of the verdict.

    Attributes
    ----------
    totals : mapping of name to Estimate
        By the group's name; NaN where all parts agree.
    doubt : str
        Name under which all model inputs stand; empty where none varies.
    evaluations : int
    """

    totals: Mapping[str, Estimate]
    doubt: str
    evaluations: int


def part_totals(
    plan: Plan,
    *,
    keeps: float = 0.99,
    options: RunOptions = DEFAULTS,
    parts: int = PARTS,
    moments: int | None = None,
) -> PartTotals:
    """Find the total index of each group of build inputs, and of all model inputs together.

    Parameters
    ----------
    plan : Plan
        As ``plan_run`` fixed it.
    keeps : float
        Share of the moments at which a part that works keeps every limit.
    options : RunOptions
        Who computes, and who is told.
    parts, moments : int
        In a replicate, powers of two.

    Raises
    ------
    CallError
        Where no limits are stated, no build or model input varies, or correlated ones would be
        reported apart.
    """
    if not plan.limits:
        raise CallError("no limits are stated, so nothing can be said to work; state [limits]")
    groups = part_groups(plan)
    counting = counting_for(plan, keeps, moments=moments)
    task = partial(totals_replicate, crossing_plan(plan), counting, groups, parts)
    found = each_replicate(
        task,
        plan.sampling.replicates,
        workers=options.workers,
        executor=options.executor,
        progress=options.progress(),
    )
    halves = np.stack([each for each, *_ in found])
    variances = verdict_variances(np.array([each for _, each, _ in found]))
    doubt = groups[-1].name if of_kinds(plan, "model") else ""
    return PartTotals(
        {
            group.name: ratio(halves[:, place], variances, plan.sampling.confidence)
            for place, group in enumerate(groups)
        },
        doubt,
        sum(evaluations for *_, evaluations in found),
    )


def verdict_variances(means: Floats) -> Floats:
    """Variance of the verdict: one number a replicate (r,), linear in its means, of the right mean.

    ``means`` (r, 2) are of the verdict v, and of v - v^2, which is 0 but at the verge.
    """
    share, partial_share = means.mean(axis=0)
    own = means - (share, partial_share)
    variance = share - share**2 - partial_share
    return np.asarray(variance + (1.0 - 2.0 * share) * own[:, 0] - own[:, 1])


def ratio(above: Floats, below: Floats, confidence: float) -> Estimate:
    """Ratio of two means over replicates (r,), with Student's interval of its linear part.

    The mean of the replicates' own ratios is biased where their parts are few: it covered 39 of 50
    times (measured). NaN where the mean below is zero.
    """
    if not below.mean() > 0.0:
        return Estimate(np.nan, np.nan, np.nan)
    value = float(above.mean() / below.mean())
    spread = estimate((above - value * below) / below.mean(), confidence)
    return Estimate(value, value + spread.low, value + spread.high)


def part_groups(plan: Plan) -> tuple[Group, ...]:
    """Groups of build inputs as reported, and all model inputs as the last one.

    Raises
    ------
    CallError
        Where there are none, or correlated inputs would stand in two of them.
    """
    grouped: dict[str, list[str]] = {}
    for item in plan.varying:
        if item.kind == "build":
            grouped.setdefault(item.shown_group, []).append(item.name)
    groups = [Group(name, tuple(members)) for name, members in grouped.items()]
    if doubts := of_kinds(plan, "model"):
        name = DOUBT if DOUBT not in grouped else f"all {DOUBT}"
        groups.append(Group(name, doubts))
    if not groups:
        raise CallError("no build or model input varies, so all parts are alike")
    group_of = {name: place for place, group in enumerate(groups) for name in group.inputs}
    if plan.copula is not None:
        own = [name for name in plan.copula.names if name in group_of]
        matrix = plan.copula.factor @ plan.copula.factor.T
        place = plan.copula.names.index
        for at, one in enumerate(own):
            for other in own[at + 1 :]:
                apart = group_of[one] != group_of[other]
                if apart and abs(matrix[place(one), place(other)]) > 1e-12:
                    raise CallError(
                        f"{one} and {other} are correlated but reported apart, and the shares of "
                        "correlated inputs do not add up to anything; give them the same group"
                    )
    return tuple(groups)


def totals_replicate(
    plan: Plan, counting: Counting, groups: tuple[Group, ...], parts: int, replicate: int
) -> tuple[Floats, tuple[float, float], int]:
    """Find one replicate's halves of mean squared differences (g,), and what its variance is of.

    The latter are the means of the verdict v and of v - v^2; last, the evaluations.
    """
    a, b = positions(plan, replicate, SWAPPED, parts, samples=2)
    moments = moments_of(plan, replicate, counting.moments)
    audit = audit_numbers(plan, replicate, parts)

    def fails_of(of_parts: Mapping[str, Floats]) -> Fails:
        return partial(failing, plan, crossed_values(plan, cross(plan, of_parts, moments)))

    base = fails_of(a)
    pilot = np.arange(min(counting.pilot, parts))
    failed, spent = tried(base, pilot, counting.moments, counting.step)
    order = asked_often(hardest_first(failed, counting.step), failed, counting.step)
    known = failed.sum(axis=1).astype(np.int64)
    first = count(base, parts, order, counting.step, known=known)
    second = count(fails_of(b), parts, order, counting.step, audit=audit)
    evaluations = spent + first.evaluations + second.evaluations
    means = np.zeros(len(groups))
    exact = np.where(first.dropped, np.nan, first.verdicts)
    lost, spent = _lost(counting, order, audit, (base, first, exact))
    evaluations += spent
    for place, group in enumerate(groups):
        fails = fails_of({**a, **{name: b[name] for name in group.inputs}})
        swapped = count(fails, parts, order, counting.step)
        evaluations += swapped.evaluations
        halves = 0.5 * (first.verdicts - swapped.verdicts) ** 2
        added, spent = _audited(counting, order, audit, (base, first, exact), (fails, swapped))
        evaluations += spent
        means[place] = halves.mean() + added
    both = np.concatenate([first.verdicts, second.verdicts])
    share = float(both.mean()) + 0.5 * (second.correction - lost)
    return means, (share, float((both - both**2).mean())), evaluations


Stated = tuple[Fails, Counted, Floats]
"""How parts fail as stated, their count, and exact verdicts (n,), NaN where not counted whole."""


def _count_whole(counting: Counting, order: Order, stated: Stated, parts: Places) -> int:
    """Fill in the exact verdicts of some parts; return the evaluations that took."""
    base, _, exact = stated
    unknown = parts[np.isnan(exact[parts])]
    if unknown.size:
        failures = np.count_nonzero(base(unknown, order.moments), axis=1)
        exact[unknown] = counting.step.verdict(failures)
    return unknown.size * order.moments.size


def _lost(counting: Counting, order: Order, audit: Floats, stated: Stated) -> tuple[float, int]:
    """What the mean verdict as stated is too high by, and the evaluations that told it."""
    _, first, exact = stated
    good = np.flatnonzero(first.dropped)
    strata = drawn_for_audit(good, first.failures[good], counting.step, audit)
    lost, spent = 0.0, 0
    for drawn, size in strata:
        spent += _count_whole(counting, order, stated, drawn)
        lost += float((1.0 - exact[drawn]).mean()) * size / audit.size
    return lost, spent


def _audited(
    counting: Counting,
    order: Order,
    audit: Floats,
    stated: Stated,
    other: tuple[Fails, Counted],
) -> tuple[float, int]:
    """What the mean of half the squared differences lacks, and the evaluations that told it.

    Of the parts dropped as good on either side some are counted whole on both; as stated, what the
    group before asked for is known.
    """
    _, first, exact = stated
    fails, swapped = other
    either = np.flatnonzero(first.dropped | swapped.dropped)
    if not either.size:
        return 0.0, 0
    seen = np.maximum(
        np.where(first.dropped, first.failures, 0), np.where(swapped.dropped, swapped.failures, 0)
    )
    strata = drawn_for_audit(either, seen[either], counting.step, audit)
    chosen = np.concatenate([drawn for drawn, _ in strata])
    every = order.moments
    spent = _count_whole(counting, order, stated, chosen)
    again = chosen[swapped.dropped[chosen]]
    whole = swapped.verdicts.copy()
    if again.size:
        whole[again] = counting.step.verdict(np.count_nonzero(fails(again, every), axis=1))
    lacking = 0.0
    for drawn, size in strata:
        quick = 0.5 * (first.verdicts[drawn] - swapped.verdicts[drawn]) ** 2
        true = 0.5 * (exact[drawn] - whole[drawn]) ** 2
        lacking += float((true - quick).mean()) * size / audit.size
    return lacking, spent + again.size * every.size
