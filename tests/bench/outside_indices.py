"""Indices of the problems of two outside collections, found by other ways than ours.

A closed form, a product of Gauss rules where that is sure to 1e-4, else SciPy's. Each comes with
how sure it is, so that what a collection lists can itself be judged. Values are ``(2, inputs)``, of
first order and total.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from outside_formulas import morris, morris_terms, oakley
from outside_problems import Problem, Reference
from scipy import stats
from scipy.special import ndtri

Floats = NDArray[np.float64]

SURE = 1e-4
"""Error of a product of Gauss rules, as its own next lower order tells, from which SciPy serves."""

WEAK = 1e-3
"""Total index below which an input gets few nodes."""

ROWS = 1 << 21
"""Most nodes of a product of Gauss rules."""


def indices(problem: Problem) -> Reference:
    """Indices by a closed form, a product of Gauss rules, or SciPy."""
    if problem.name in INDICES:
        values = INDICES[problem.name](problem)
        return Reference(values, np.full_like(values, 1e-7), "closed form")
    found = by_rules(problem)
    return found if found is not None and float(found.sure.max()) <= SURE else by_scipy(problem)


def by_rules(problem: Problem) -> Reference | None:
    """Indices by a product of Gauss rules, how far its next lower order is off for its error.

    Legendre's rule on each half of an input that has two ends, for a kink in its middle, Hermite's
    for one that has not. Where that is not sure enough, inputs of hardly any index take four
    nodes, so that the others can have more; None where the nodes would be too many.
    """
    moved = _moved(problem)
    active = np.flatnonzero(moved > 0.0).tolist()
    found = None
    for weak in ([], [i for i in active if moved[i] < WEAK]):
        strong = len(active) - len(weak)
        orders = [k for k in range(1, 33) if (2 * k) ** strong * 4 ** len(weak) <= ROWS]
        if len(orders) < 2:
            continue
        low, high = (
            _by_rule(problem, active, [few if i in weak else order for i in active])[0]
            for few, order in zip((1, 2), orders[-2:], strict=True)
        )
        if np.isfinite(low).all() and np.isfinite(high).all():
            found = Reference(high, np.abs(high - low) + 1e-9, "Gauss rules")
            if float(found.sure.max()) <= SURE:
                break
    return found


def _moved(problem: Problem) -> Floats:
    """Total indices (inputs,) by 1024 points, roughly: 0 for an input that changes nothing."""
    generator = np.random.default_rng(9)
    z = generator.standard_normal((1024, problem.inputs))
    base, found = problem.function(z), []
    for i in range(problem.inputs):
        moved = z.copy()
        moved[:, i] = generator.standard_normal(len(z))
        found.append(np.mean((problem.function(moved) - base) ** 2))
    return np.array(found) / (2.0 * np.var(base))


def _by_rule(
    problem: Problem, active: Sequence[int], orders: Sequence[int]
) -> tuple[Floats, float]:
    """Indices (2, inputs) of some inputs, and the variance, the others at their medians."""
    rules = [_rule(problem.bounded[i], order) for i, order in zip(active, orders, strict=True)]
    shape = tuple(len(nodes) for nodes, _ in rules)
    values = np.empty(int(np.prod(shape)))
    for start in range(0, values.size, 1 << 16):
        places = np.unravel_index(np.arange(start, min(start + (1 << 16), values.size)), shape)
        z = np.zeros((len(places[0]), problem.inputs))
        for axis, i in enumerate(active):
            z[:, i] = rules[axis][0][places[axis]]
        values[start : start + len(z)] = problem.function(z)
    table = values.reshape(shape)
    table = table - _mean(table, rules, range(len(active)))
    variance = float(_mean(table**2, rules, range(len(active))))
    found = np.zeros((2, problem.inputs))
    if not variance > 0.0:
        return found, variance
    for axis, i in enumerate(active):
        others = [each for each in range(len(active)) if each != axis]
        first = _mean(table, rules, others)
        rest = _mean(table, rules, [axis])
        nodes = [rules[each] for each in others]
        found[0, i] = float(rules[axis][1] @ first**2) / variance
        found[1, i] = 1.0 - float(_mean(rest**2, nodes, range(len(others)))) / variance
    return found, variance


def _rule(bounded: bool, order: int) -> tuple[Floats, Floats]:
    if not bounded:
        nodes, weights = np.polynomial.hermite_e.hermegauss(2 * order)
        return nodes, weights / weights.sum()
    nodes, weights = np.polynomial.legendre.leggauss(order)
    u = 0.25 * (nodes + 1.0)
    return ndtri(np.concatenate([u, u + 0.5])), np.tile(0.25 * weights, 2)


def _mean(table: Floats, rules: list[tuple[Floats, Floats]], axes: Iterable[int]) -> Floats:
    """Mean over some axes, each by its rule's weights."""
    for axis in sorted(axes, reverse=True):
        table = np.tensordot(table, rules[axis][1], axes=(axis, 0))
    return table


def by_scipy(problem: Problem, runs: int = 16) -> Reference:
    """Indices by ``scipy.stats.sobol_indices``: the mean of some runs, and their half-width."""
    found = []
    for seed in range(runs):
        drawn = stats.sobol_indices(
            func=lambda x: np.array(problem.function(x.T)),  # it writes into what it gets
            n=1 << 13,
            dists=[stats.norm()] * problem.inputs,
            rng=np.random.default_rng(seed),
        )
        found.append([np.ravel(drawn.first_order), np.ravel(drawn.total_order)])
    wide = float(stats.t.ppf(0.975, runs - 1)) / np.sqrt(runs)
    return Reference(
        np.mean(found, axis=0), wide * np.std(found, axis=0, ddof=1) + 1e-9, f"SciPy, {runs} runs"
    )


def _of_terms(main: Floats, pairs: dict[tuple[int, ...], float]) -> Floats:
    """Indices from the variances of each input alone (d,) and of each set of several."""
    variance = main.sum() + sum(pairs.values())
    total = main.copy()
    for members, value in pairs.items():
        total[list(members)] += value
    return np.stack([main, total]) / variance


def _product(problem: Problem) -> Floats:
    """Indices of a product of functions of one input each (Sobol' 1993).

    Each function is known but for a factor with the others held anywhere that the product is not
    nought: here half a deviation below their medians.
    """
    ratios = []
    for i, bounded in enumerate(problem.bounded):
        nodes, weights = _rule(bounded, 400 if bounded else 40)
        z = np.full((len(nodes), problem.inputs), -0.5)
        z[:, i] = nodes
        values = problem.function(z)
        mean = float(weights @ values)
        ratios.append(float(weights @ (values - mean) ** 2) / mean**2)
    found = np.array(ratios)
    whole = float(np.prod(1.0 + found))
    return np.stack([found, whole * found / (1.0 + found)]) / (whole - 1.0)


def _welch(problem: Problem) -> Floats:
    """A sum of functions of x1 and x12, of x4 and x20, and of each other input alone."""
    groups = [(0, 11), (3, 19)]
    groups += [(i,) for i in range(20) if i not in (0, 11, 3, 19)]
    parts = [_by_rule(problem, group, [16] * len(group)) for group in groups]
    parts = [part for part in parts if part[1] > 0.0]
    variance = sum(part[1] for part in parts)
    return np.sum([found * own / variance for found, own in parts], axis=0)


def _oakley(problem: Problem) -> Floats:
    """Main effects by Hermite's rule, those of pairs from the matrix; no others."""
    del problem  # its coefficients are its collection's
    matrix, a1, a2, a3 = oakley()
    nodes, weights = np.polynomial.hermite_e.hermegauss(80)
    weights = weights / weights.sum()
    x = nodes[:, None]
    alone = np.diag(matrix) * x**2 + a1 * x + a2 * np.sin(x) + a3 * np.cos(x)
    main = weights @ (alone - weights @ alone) ** 2
    pairs = {(i, j): float(matrix[i, j] + matrix[j, i]) ** 2 for i, j in combinations(range(15), 2)}
    return _of_terms(main, pairs)


def _morris(problem: Problem) -> Floats:
    """A sum of products of different w, each a mean and a deviation times a scaled one."""
    del problem  # its coefficients are its collection's
    b, c = morris()
    nodes, weights = np.polynomial.legendre.leggauss(64)
    w = morris_terms(np.tile(0.5 * (nodes[:, None] + 1.0), (1, 20)))
    mean = 0.5 * weights @ w
    deviation = np.sqrt(0.5 * weights @ (w - mean) ** 2)
    products = {(i,): float(b[i]) for i in range(20)}
    products |= dict.fromkeys(combinations(range(20), 2), c)
    products |= dict.fromkeys(combinations(range(5), 3), -10.0)
    products[(0, 1, 2, 3)] = 5.0
    terms: dict[tuple[int, ...], float] = {}
    for members, factor in products.items():
        for size in range(1, len(members) + 1):
            for kept in combinations(members, size):
                left = [i for i in members if i not in kept]
                part = factor * np.prod(mean[left]) * np.prod(deviation[list(kept)])
                terms[kept] = terms.get(kept, 0.0) + float(part)
    main = np.array([terms[(i,)] ** 2 for i in range(20)])
    return _of_terms(main, {kept: v**2 for kept, v in terms.items() if len(kept) > 1})


INDICES: dict[str, Callable[[Problem], Floats]] = {
    "GenzDiscontinuous": _product,
    "MorrisSensitivity": _morris,
    "OakleyOHaganSensitivity": _oakley,
    "SobolGStar": _product,
    "Sulfur": _product,
    "Welch20D": _welch,
}
