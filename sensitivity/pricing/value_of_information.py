"""What a reading is worth: the best choice with it less the best without it, cross-fitted.

A builder reads some dimensions and then decides: on a setting, or whether to accept the assembly
at all. The worth of the reading is the expected value of partial perfect information, or of sample
information where the instrument errs. The estimator, on one sample of assemblies:

1. *Guides* say what would be best for each assembly: the middle of the settings at which it works,
   or its margins to the limits. They are smooth, and near a sum of functions of the dimensions,
   so they are regressed on the readings with their squares and products (least squares; Strong,
   Oakley and Brennan 2014, Medical Decision Making 34:311, from memory, regress likewise). Several
   margins are then joined into one: their smallest, regressed on those predicted.
2. Assemblies are sorted into bins by what is predicted. In each bin, with as many neighbours as
   served best within the same assemblies, the choice with the best mean is the bin's; settings are
   counted from the prediction, so that neighbours have the same best one. Nothing is assumed of
   how pass or fail depends on the prediction, so walls, skew and several limits at once do no
   harm; where a reading tells nothing, all bins end up with one choice.
3. All of this uses some of the replicates, and the choices are scored on the others. Choices are
   never scored on assemblies that they were made from, so no gain comes of fitting noise: the
   expected score is that of a rule that a builder could follow, and so at most that of the best
   rule there is. (The plain estimator takes the largest of noisy means and is biased upward.)

For a margin linear in independent normal dimensions and a setting that shifts it, the bins of one
prediction lose nothing; the tests hold it to that closed form, and to nested sampling for a model
that is not linear. One prediction for each adjustable input, however many dimensions are read,
keeps it light.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Places = NDArray[np.intp]
Number = TypeVar("Number", np.float64, np.intp)

FOLDS = 4
MOST_WITH_PRODUCTS = 6
"""Readings above which only their squares and no products of two are regressed on."""

BINS = 128
CELLS = 2048
ROWS_IN_A_BIN = 16
STRETCHES = (0.0, 1.0, 2.0)
RULES: tuple[tuple[float, int | None], ...] = (
    (0.0, None), (1.0, 0), (1.0, 27), (1.0, 9), (2.0, 0), (2.0, 9), (0.0, 27), (0.0, 9), (0.0, 3),
)  # fmt: skip
"""Ways to make a bin's choice, plainest first: the stretch of the predictions, and the number of
bins that it is made from, itself in the middle; 0 is all of them, and None one choice for all."""


def regressors(readings: Floats) -> Floats:
    """Lay readings out for regression: scaled, with their squares and products.

    Parameters
    ----------
    readings : array (r, n, d)
        Of d dimensions of every assembly, each in its unit.

    Returns
    -------
    array (r, n, p)
        The first column is 1; then the readings, then squares, and products of two up to six
        readings. Without unit.
    """
    middle, scale = readings.mean(axis=(0, 1)), readings.std(axis=(0, 1))
    z = (readings - middle) / np.where(scale > 0.0, scale, 1.0)
    count = z.shape[2]
    last = count if count <= MOST_WITH_PRODUCTS else 1
    columns = [np.ones(z.shape[:2]), *np.moveaxis(z, 2, 0)]
    for one in range(count):
        columns += [z[..., one] * z[..., other] for other in range(one, min(one + last, count))]
    return np.stack(columns, axis=-1)


@dataclass(frozen=True)
class Decision:
    """A decision to be made for each assembly, replicates first.

    Attributes
    ----------
    payoffs : array (r, n, o)
        What each of o ways pays.
    guides : array (r, n, k)
        What to predict from readings, NaN for an assembly that has none.
    joined : array (r, n) or None
        What the guides, as predicted, are joined into; None where they stand for themselves.
    points : array (o, k) or None
        Where each way lies, in the guides' own units; None where it lies nowhere.
    """

    payoffs: Floats
    guides: Floats
    joined: Floats | None = None
    points: Floats | None = None

    @cached_property
    def by_way(self) -> Floats:
        """The payoffs way by way (o, r n), each in one stretch of memory."""
        return np.ascontiguousarray(self.payoffs.reshape(-1, self.payoffs.shape[2]).T)


def cross_fitted_choices(decision: Decision, known: Floats | None) -> Places:
    """Choose for every assembly by a rule that was made without it.

    Parameters
    ----------
    decision : Decision
        What is to be decided.
    known : array (r, n, p) or None
        What is known of each assembly, as ``regressors`` lays it out; None if nothing is.

    Returns
    -------
    array (r, n)
        The place of the way chosen among the o.
    """
    payoffs = decision.payoffs
    folds = fold_of(payoffs.shape[0])
    members = [np.flatnonzero(folds == fold) for fold in range(FOLDS)]
    # Slices, so that nothing of this size is copied.
    slices = [slice(int(member[0]), int(member[-1]) + 1) for member in members]
    choices = np.zeros(payoffs.shape[:2], dtype=np.intp)
    if known is None:
        paid = np.stack([payoffs[part].sum(axis=(0, 1)) for part in slices])
        for fold, part in enumerate(slices):
            choices[part] = (paid.sum(axis=0) - paid[fold]).argmax()
        return choices
    fits = [_normal_equations(decision.guides[part], known[part]) for part in slices]
    for fold, part in enumerate(slices):
        train = folds != fold
        others = [other for other in range(FOLDS) if other != fold]
        predicted = known @ _coefficients([fits[other] for other in others])
        if decision.joined is not None:
            predicted = _join(predicted, decision.joined, train)
        codes, bins = _binned(predicted, train)
        sums = _sums_by_fold(decision.by_way, codes, folds, bins)[others]
        ways = _ways(decision.points, predicted, codes, train, sums)
        choices[part] = _rule(sums, ways)[codes[part]]
    return choices


def fold_of(replicates: int) -> Places:
    """Number the fold, 0 to 3, of each replicate (r,): neighbours share one."""
    return np.arange(replicates) * FOLDS // replicates


def _ways(
    points: Floats | None, predicted: Floats, codes: Places, train: Flags, sums: Floats
) -> dict[float, Places]:
    """Number the ways of each bin (*bins, o) by how they lie to its prediction, by stretch.

    The way of a bin at place j is the nearest to its prediction plus what the way j lies off the
    one that is best for all: so one place is one and the same rule in every bin, such as "a
    tenth above the prediction". Predictions are taken as they are (stretch 1), further apart
    (2, where a range cuts the guides short) or not at all (0).
    """
    *bins, count = sums.shape[1:]
    plain = np.broadcast_to(np.arange(count), (*bins, count))
    if points is None:
        return {0.0: plain}
    size, own = int(np.prod(bins)), codes[train].ravel()
    number = np.maximum(np.bincount(own, minlength=size), 1)
    middles = np.stack(
        [
            (np.bincount(own, guide, minlength=size) / number).reshape(bins)
            for guide in predicted[train].reshape(own.size, -1).T
        ],
        axis=-1,
    )
    mean = predicted[train].mean(axis=(0, 1))
    best = points[sums.reshape(-1, count).sum(axis=0).argmax()]
    scale = np.ptp(points, axis=0)
    nearest = _nearest_of(points / scale)
    ways = {0.0: plain}
    for stretch in STRETCHES:
        if stretch:
            wanted = (mean + stretch * (middles - mean))[..., None, :] + (points - best)
            ways[stretch] = nearest(wanted / scale)
    return ways


def _nearest_of(points: Floats) -> Callable[[Floats], Places]:
    """Give what finds the nearest of some points (m, k) to each of others (..., k), by place."""
    if points.shape[1] > 1:
        from scipy.spatial import cKDTree

        tree = cKDTree(points)
        return lambda wanted: np.asarray(tree.query(wanted)[1], dtype=np.intp)
    order = np.argsort(points[:, 0], kind="stable")
    along = points[order, 0]
    between = 0.5 * (along[1:] + along[:-1])
    return lambda wanted: order[np.searchsorted(between, wanted[..., 0])]


def _join(predicted: Floats, joined: Floats, train: Flags) -> Floats:
    """Join predicted guides (r, n, k) into one (r, n, 1), by regression on them and their least."""
    least = predicted.min(axis=2)
    columns = np.stack(
        [np.ones_like(least), *np.moveaxis(predicted, 2, 0), least, least**2], axis=2
    )
    # A few coefficients want only a few of the assemblies.
    fit = _normal_equations(joined[train][:, ::4, None], columns[train][:, ::4])
    return np.asarray(columns @ _coefficients([fit]))


def _normal_equations(guides: Floats, known: Floats) -> tuple[Floats, Floats]:
    """Normal equations (k, p, p) and (k, p) of each guide, over the assemblies that have one."""
    told = np.isfinite(guides)
    columns, values = known.reshape(-1, known.shape[2]), guides.reshape(-1, guides.shape[2])
    if told.all():
        matrix = columns.T @ columns
        return np.broadcast_to(matrix, (values.shape[1], *matrix.shape)), values.T @ columns
    matrices, vectors = [], []
    for guide, has in zip(values.T, told.reshape(values.shape).T, strict=True):
        matrices.append(columns[has].T @ columns[has])
        vectors.append(columns[has].T @ guide[has])
    return np.stack(matrices), np.stack(vectors)


def _coefficients(fits: Sequence[tuple[Floats, Floats]]) -> Floats:
    """Least squares of each guide on what is known: coefficients (p, k)."""
    matrix = np.sum([fit[0] for fit in fits], axis=0)
    vector = np.sum([fit[1] for fit in fits], axis=0)
    size = vector.shape[1]
    # A trace of a ridge, for readings that say the same and for guides that no assembly has.
    ridge = 1e-9 * np.trace(matrix, axis1=1, axis2=2) / size + 1e-9
    solved = np.linalg.solve(matrix + ridge[:, None, None] * np.eye(size), vector[..., None])
    return np.asarray(solved[..., 0].T)


def _binned(predicted: Floats, train: Flags) -> tuple[Places, tuple[int, ...]]:
    """Sort assemblies into bins (r, n) by what is predicted (r, n, k); count the bins by guide."""
    count = predicted.shape[2]
    rows = int(train.sum()) * predicted.shape[1]
    wanted = min(rows // ROWS_IN_A_BIN, BINS)
    each = max(int(wanted ** (1.0 / count) + 1e-9), 2)
    codes = np.zeros(predicted.shape[:2], dtype=np.intp)
    for values in np.moveaxis(predicted, 2, 0):
        # Every fourth assembly places the edges well enough.
        edges = _quantiles(values[train][:, ::4], np.arange(1, each) / each)
        codes = codes * each + _places(values, edges)
    return codes, (each,) * count


def _quantiles(values: Floats, shares: Floats) -> Floats:
    """Quantiles of many shares at once: for these a sort is quicker than numpy's own."""
    ordered = np.sort(values, axis=None)
    return np.interp(shares * (ordered.size - 1), np.arange(ordered.size), ordered)


def _places(values: Floats, edges: Floats) -> Places:
    """Number of edges below each value, to a two-thousandth of their range: a quick search."""
    low, width = float(edges[0]), float(edges[-1] - edges[0])
    if not width > 0.0:
        return np.asarray(values > low, dtype=np.intp) * edges.size
    cells = np.searchsorted(edges, low + width * (np.arange(CELLS) + 0.5) / CELLS)
    cells[0], cells[-1] = 0, edges.size
    scaled = (values - low) * (CELLS / width)
    return np.asarray(cells[np.clip(scaled, 0, CELLS - 1).astype(np.intp)])


def _sums_by_fold(by_way: Floats, codes: Places, folds: Places, bins: tuple[int, ...]) -> Floats:
    """Sums (f, *bins, o) of the payoffs (o, r n) of the assemblies in each bin, by fold."""
    size = int(np.prod(bins))
    flat = (codes + size * folds[:, None]).ravel()
    sums = [np.bincount(flat, paid, minlength=FOLDS * size) for paid in by_way]
    return np.stack(sums, axis=-1, dtype=np.float64).reshape(FOLDS, *bins, -1)


def _rule(sums: Floats, ways: Mapping[float, Places]) -> Places:
    """Choose for each bin, from the sums (f, *bins, o) of several folds; flat bins out.

    Either one way for all bins, or in each bin that place among its ``ways`` which is best there
    and in its neighbours: what would have served best when each fold in turn was left out of the
    sums and scored, with as many neighbours and such a stretch.
    """
    total = sums.sum(axis=0)
    rest = total - sums
    rules = [rule for rule in RULES if rule[0] in ways]
    by_way = {stretch: _taken(rest, places) for stretch, places in ways.items()}
    scores = []
    for stretch, width in rules:
        choices = _choose(rest, by_way[stretch], ways[stretch], width)
        scores.append(float(sum(payoffs_taken(sums, choices).reshape(len(sums), -1).sum(axis=1))))
    stretch, width = rules[int(np.argmax(scores))]
    by_way = {stretch: _taken(total[None], ways[stretch])}
    return _choose(total[None], by_way[stretch], ways[stretch], width).ravel()


def _taken(sums: Floats, ways: Places) -> Floats:
    """Give sums (f, *bins, o) in the order of each bin's ways (*bins, o)."""
    count = ways.shape[-1]
    places = (np.arange(ways.size // count)[:, None] * count + ways.reshape(-1, count)).ravel()
    return sums.reshape(len(sums), -1)[:, places].reshape(sums.shape)


def _choose(sums: Floats, by_way: Floats, ways: Places, width: int | None) -> Places:
    """Choose (f, *bins) for each bin by its own sums (f, *bins, o) and those of its neighbours.

    ``by_way`` are the same sums in the order of each bin's ``ways``.
    """
    if width is None:
        everywhere = sums.reshape(len(sums), -1, sums.shape[-1]).sum(axis=1).argmax(axis=1)
        flat = np.ones((1, *sums.shape[1:-1]), dtype=np.intp)
        return np.asarray(everywhere.reshape(-1, *(1 for _ in sums.shape[1:-1])) * flat)
    places = _smooth(by_way, width).argmax(axis=-1)
    return payoffs_taken(np.broadcast_to(ways, sums.shape), places)


def _smooth(sums: Floats, width: int) -> Floats:
    """Add up (f, *bins, o) over so many neighbouring bins along each axis; over all if 0.

    An odd number; beyond the last bin lie others like it.
    """
    axes = tuple(range(1, sums.ndim - 1))
    if width == 0:
        return np.broadcast_to(sums.sum(axis=axes, keepdims=True), sums.shape)
    half = width // 2
    for axis in axes:
        count = sums.shape[axis]
        places = np.clip(np.arange(-half - 1, count + half), 0, count - 1)
        so_far = np.swapaxes(sums.take(places, axis=axis).cumsum(axis=axis), 0, axis)
        sums = np.swapaxes(so_far[width:] - so_far[:-width], 0, axis)
    return sums


def payoffs_taken(payoffs: NDArray[Number], choices: Places) -> NDArray[Number]:
    """Pick what each assembly pays by the way chosen for it.

    Parameters
    ----------
    payoffs : array (r, n, o)
        What each way pays.
    choices : array (r, n)
        The place of the way chosen among the o.

    Returns
    -------
    array (r, n)
    """
    count = payoffs.shape[-1]
    places = np.arange(choices.size) * count + choices.ravel()
    taken: NDArray[Number] = payoffs.reshape(-1)[places].reshape(choices.shape)
    return taken


def middle_of_working(works: Flags, points: Floats) -> Floats:
    """Find the middle of the settings at which each assembly works.

    Parameters
    ----------
    works : array (r, n, s)
        Whether it works at each setting.
    points : array (s, k)
        The settings, each column in its input's unit.

    Returns
    -------
    array (r, n, k)
        In the units of ``points``; NaN where it works at none.
    """
    count = works.sum(axis=2)[..., None]
    return np.asarray(np.where(count > 0, works @ points, np.nan) / np.maximum(count, 1))
