"""What a reading is worth: the best choice with it less the best without it, cross-fitted.

A builder reads some dimensions and then chooses: a setting, or whether to light the burner at
all. The worth of the reading is the expected value of partial perfect information, or of sample
information where the instrument errs. The estimator, on one sample of burners:

1. A *guide* says what would be best for each burner: the middle of the settings at which it
   works, or its smallest margin. It is smooth, and near a sum of functions of the dimensions, so
   it is regressed on the readings with their squares and products (least squares; Strong, Oakley
   and Brennan 2014, Medical Decision Making 34:311, from memory, regress likewise).
2. Burners are sorted into bins by the guide as predicted. In each bin, with its two neighbours, the
   choice with the best mean is the bin's. Nothing is assumed of how pass or fail depends on the
   prediction, so walls, skew and several limits at once do no harm.
3. Both steps use some of the replicates, and the choices are scored on the others. Choices are
   never scored on burners that they were made from, so no gain comes of fitting noise: the
   expected score is that of a rule that a builder could follow, and so at most that of the best
   rule there is. (The plain estimator takes the largest of noisy means and is biased upward.)

For a margin linear in independent normal dimensions and a setting that shifts it, the bins of one
prediction lose nothing; the tests hold it to that closed form, and to nested sampling for a model
that is not linear. One prediction for each adjustable input, however many dimensions are read,
keeps it light: some hundredths of a second for 65 536 burners.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Places = NDArray[np.intp]

FOLDS = 4
MOST_WITH_PRODUCTS = 6
"""Readings above which only their squares and no products of two are regressed on."""

ROWS_IN_A_BIN, FEWEST_BINS, MOST_BINS = 384, 8, 128


def features(readings: Floats) -> Floats:
    """Readings (r, n, d), scaled, with their squares and products: (r, n, p), the first column 1.

    Products of two readings stand among them up to six readings.
    """
    middle, scale = readings.mean(axis=(0, 1)), readings.std(axis=(0, 1))
    z = (readings - middle) / np.where(scale > 0.0, scale, 1.0)
    count = z.shape[2]
    last = count if count <= MOST_WITH_PRODUCTS else 1
    columns = [np.ones(z.shape[:2]), *np.moveaxis(z, 2, 0)]
    for one in range(count):
        columns += [z[..., one] * z[..., other] for other in range(one, min(one + last, count))]
    return np.stack(columns, axis=-1)


def held_out_choices(payoffs: Floats, guides: Floats, known: Floats | None) -> Places:
    """Choose for every burner by a rule that was made without it.

    Parameters
    ----------
    payoffs : array (r, n, o)
        What each choice pays for each burner, replicates first.
    guides : array (r, n, k)
        What to predict, NaN for a burner that has none.
    known : array (r, n, p) or None
        What is known of each burner, as ``features`` lays it out; None if nothing is.

    Returns
    -------
    array (r, n)
        The place of the choice among the o.
    """
    replicates = payoffs.shape[0]
    choices = np.zeros(payoffs.shape[:2], dtype=np.intp)
    for fold in range(FOLDS):
        held = np.arange(replicates) % FOLDS == fold
        best = int(payoffs[~held].sum(axis=(0, 1)).argmax())
        if known is None:
            choices[held] = best
            continue
        codes, bins = _binned(guides, known, ~held)
        means = _smoothed_sums(payoffs[~held], codes[~held], bins)
        counts = _smoothed_sums(np.ones((*codes[~held].shape, 1)), codes[~held], bins)
        by_bin = np.where(counts[:, 0] > 0.1, means.argmax(axis=1), best)
        choices[held] = by_bin[codes[held]]
    return choices


def _binned(guides: Floats, known: Floats, train: Flags) -> tuple[Places, tuple[int, ...]]:
    """Sort burners into bins (r, n) by their predicted guides; the bins' number by guide."""
    count = guides.shape[2]
    rows = int(train.sum()) * guides.shape[1]
    wanted = min(max(rows // ROWS_IN_A_BIN, FEWEST_BINS), MOST_BINS)
    each = max(int(wanted ** (1.0 / count) + 1e-9), 2)
    codes = np.zeros(guides.shape[:2], dtype=np.intp)
    for guide in range(count):
        predicted = known @ _coefficients(known[train], guides[train, :, guide])
        edges = np.quantile(predicted[train], np.arange(1, each) / each)
        codes = codes * each + np.searchsorted(edges, predicted.ravel()).reshape(codes.shape)
    return codes, (each,) * count


def _coefficients(known: Floats, guide: Floats) -> Floats:
    """Least squares of a guide on what is known, over the burners that have a guide."""
    told = np.isfinite(guide)
    columns, values = known[told], guide[told]
    size = columns.shape[1]
    if values.size <= size:
        return np.zeros(size)
    normal = columns.T @ columns
    # A trace of a ridge, for readings that say the same.
    ridge = 1e-9 * np.trace(normal) / size * np.eye(size)
    return np.asarray(np.linalg.solve(normal + ridge, columns.T @ values))


def _smoothed_sums(payoffs: Floats, codes: Places, bins: tuple[int, ...]) -> Floats:
    """Sums (bins, o) of the payoffs in each bin and its neighbours."""
    from scipy.ndimage import uniform_filter1d
    from scipy.sparse import csr_matrix

    flat = codes.ravel()
    shape = (flat.size, int(np.prod(bins)))
    member = csr_matrix((np.ones(flat.size), flat, np.arange(flat.size + 1)), shape=shape)
    sums = (member.T @ payoffs.reshape(flat.size, -1)).reshape(*bins, -1)
    for axis in range(len(bins)):
        sums = uniform_filter1d(sums, 3, axis=axis, mode="nearest")
    return np.asarray(sums.reshape(shape[1], -1))


def taken(payoffs: Floats, choices: Places) -> Floats:
    """What each burner (r, n) pays by its choice."""
    return np.asarray(np.take_along_axis(payoffs, choices[..., None], axis=2)[..., 0])


def middle_of_working(works: Flags, points: Floats) -> Floats:
    """Middle (r, n, k) of the settings (s, k) at which each burner works; NaN where it does at none."""
    count = works.sum(axis=2)[..., None]
    with np.errstate(invalid="ignore"):
        return np.asarray(np.where(count > 0, works @ points, np.nan) / np.maximum(count, 1))
