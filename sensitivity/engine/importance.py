"""Importance sampling about the ways of failing: a mixture of shifted normals.

A failing region far out is hit by a standard normal moved to it; each point is weighted by how
much likelier it is under the standard normal than under the mixture, which is unbiased wherever
the centres lie. A part of the mixture stays at the origin, so that no weight exceeds one over it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

AT_ORIGIN = 0.1
"""Share of the mixture that stays at the origin: weights are at most 10."""

NEW = 0.1
"""Share of a way's normals that are added to it before their own is known."""

MOST_CENTRES = 4
STARTS = 6
ROUNDS = 40


@dataclass(frozen=True)
class Mixture:
    """Normals N(c_j, I): shares (j,) that add up to 1 and centres (j, d)."""

    shares: Floats
    centres: Floats

    def log_ratio(self, z: Floats) -> Floats:
        """Logarithm (n,) of the standard normal's density over the mixture's, at points (n, d)."""
        # |z|^2/2 is common to both, so only z.c - |c|^2/2 is left.
        exponents = z @ self.centres.T - 0.5 * np.einsum("jd,jd->j", self.centres, self.centres)
        return -_log_total(exponents + np.log(self.shares))

    def points(self, uniforms: Floats) -> Floats:
        """Turn uniforms (n, 1 + d) into points (n, d): the first says which normal."""
        from sensitivity.spreads.special_functions import ndtri

        edges = np.cumsum(self.shares)
        which = np.minimum(np.searchsorted(edges, uniforms[:, 0]), self.shares.size - 1)
        return np.asarray(self.centres[which] + ndtri(uniforms[:, 1:]))


def pooled(parts: list[Mixture], chances: Floats) -> Mixture:
    """Pool the mixtures of several ways by their chances (w,), none left out, with the origin.

    A way gets its share of the chance, but no less than 0.3 over the number of ways.
    """
    floor = 0.3 / len(parts)
    shares = np.maximum(chances / chances.sum(), floor)
    shares *= (1.0 - AT_ORIGIN) / shares.sum()
    dimensions = parts[0].centres.shape[1]
    return Mixture(
        np.concatenate(
            [[AT_ORIGIN], *(w * part.shares for w, part in zip(shares, parts, strict=True))]
        ),
        np.concatenate([np.zeros((1, dimensions)), *(part.centres for part in parts)]),
    )


def with_more(mixture: Mixture, more: Mixture) -> Mixture:
    """Add the normals of another mixture, which together get a share of a tenth."""
    return Mixture(
        np.concatenate([(1.0 - NEW) * mixture.shares, NEW * more.shares]),
        np.concatenate([mixture.centres, more.centres]),
    )


def _log_total(exponents: Floats) -> Floats:
    """Logarithm (n,) of the sum of exponentials (n, j), without overflow."""
    highest = exponents.max(axis=1)
    return np.asarray(highest + np.log(np.exp(exponents - highest[:, None]).sum(axis=1)))


def fitted(points: Floats, weights: Floats, generator: np.random.Generator) -> Mixture:
    """Fit one to four normals of unit covariance to weighted points.

    Expectation and maximisation from several starts; the number of centres by Schwarz's criterion
    with the points' effective number.

    Parameters
    ----------
    points : array (n, d)
        Failing ones.
    weights : array (n,)
        Positive.
    generator : numpy.random.Generator
        Draws the starts.
    """
    weights = weights / weights.sum()
    effective = 1.0 / float(np.sum(weights**2))
    dimensions = points.shape[1]
    best, lowest = Mixture(np.ones(1), (weights @ points)[None, :]), np.inf
    for count in range(1, MOST_CENTRES + 1):
        if count > 1 and effective < 10 * count:
            break
        for _ in range(STARTS if count > 1 else 1):
            mixture, likelihood = _climbed(
                points, weights, _start(points, weights, count, generator)
            )
            parameters = count * dimensions + count - 1
            criterion = -2.0 * effective * likelihood + parameters * np.log(effective)
            if criterion < lowest:
                best, lowest = mixture, float(criterion)
    return best


def refitted(mixture: Mixture, points: Floats, weights: Floats) -> Mixture:
    """Fit a mixture anew to weighted points (n, d), from where it stands."""
    return _climbed(points, weights / weights.sum(), mixture)[0]


def _start(points: Floats, weights: Floats, count: int, generator: np.random.Generator) -> Mixture:
    """Choose centres far apart among the points (k-means++)."""
    if count == 1:
        return Mixture(np.ones(1), (weights @ points)[None, :])
    chosen = [points[generator.choice(len(points), p=weights)]]
    for _ in range(count - 1):
        nearest = np.min([((points - centre) ** 2).sum(axis=1) for centre in chosen], axis=0)
        chance = weights * nearest
        total = chance.sum()
        chosen.append(points[generator.choice(len(points), p=chance / total if total else weights)])
    return Mixture(np.full(count, 1.0 / count), np.stack(chosen))


def _climbed(points: Floats, weights: Floats, mixture: Mixture) -> tuple[Mixture, float]:
    """Climb to the likeliest mixture nearby; its mean log-likelihood, less what is common."""
    shares, centres = mixture.shares, mixture.centres
    before = -np.inf
    for _ in range(ROUNDS):
        exponents = points @ centres.T - 0.5 * np.einsum("jd,jd->j", centres, centres)
        exponents = exponents + np.log(shares)
        total = _log_total(exponents)
        likelihood = float(weights @ total)
        if likelihood - before < 1e-4:
            break
        before = likelihood
        belongs = weights[:, None] * np.exp(exponents - total[:, None])
        shares = np.maximum(belongs.sum(axis=0), 1e-12)
        centres = (belongs.T @ points) / shares[:, None]
        shares = shares / shares.sum()
    return Mixture(shares, centres), before
