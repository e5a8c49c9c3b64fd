"""How far the share of parts that work moves with what the physics does not know.

For some points of the model inputs m, W(m) is counted over the same parts and the same moments, so
that points of one replicate differ by m alone. Replicates are centred on each other, which takes
out what their own parts and moments add; the band lies between the 5 and 95 % quantiles of W(m).
A regression of the verdict on m would be cheaper and smooths cliffs: it put the low end at 0.70
where brute force gives 0.53 (19 model inputs, measured).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Estimate
from sensitivity.engine.kept import Order, count
from sensitivity.engine.moments import (
    BUILDS,
    DOUBTS,
    cross,
    crossed_values,
    failing,
    moments_of,
    of_kinds,
    positions,
)
from sensitivity.engine.plan import Plan
from sensitivity.engine.verdicts import Counting

Floats = NDArray[np.float64]

ENDS = (0.05, 0.95)
CLIPPED = 0.002
"""Nearest that W(m) comes to 0 or 1 before its logit is taken."""
LEADS = 0.40
"""Share of the variance of W(m) from which one model input is named."""


@dataclass(frozen=True)
class DoubtBand:
    """Between which figures the share of parts that work lies, as the physics may turn out.

    Attributes
    ----------
    low, high : Estimate
        The 5 and 95 % quantiles of W(m), each with an interval of its own from order statistics.
    values : array (k,)
        W at each point of the model inputs, in ascending order.
    doubts : tuple of (str, Estimate)
        Each model input's own share of the variance of W(m), the largest first: adjusted R^2 of
        a cubic in its normal score, its interval by Fisher's transformation (approximate).
    evaluations : int
    """

    low: Estimate
    high: Estimate
    values: Floats
    doubts: tuple[tuple[str, Estimate], ...]
    evaluations: int

    @property
    def leading(self) -> tuple[str, Estimate] | None:
        """The model input with over 40 % of the variance of W(m), if there is one."""
        if self.doubts and self.doubts[0][1].value > LEADS:
            return self.doubts[0]
        return None


@dataclass(frozen=True)
class BandOfReplicate:
    """One replicate: W (m,) and the points' positions (m, d) in each model input's spread."""

    shares: Floats
    points: Floats
    evaluations: int


def band_replicate(
    plan: Plan, counting: Counting, order: Order, replicate: int, doubts: int, builds: int
) -> BandOfReplicate:
    """Count W at some points of the model inputs, with the same parts and moments at each.

    Parameters
    ----------
    plan : Plan
        Whose system takes crossed arrays (``crossing_plan``).
    counting : Counting
        As ``counting_for`` says.
    order : Order
        Of the replicate's moments, by a pilot whose model inputs vary.
    replicate : int
        Its number.
    doubts, builds : int
        Points of the model inputs, and draws of the build inputs at each; powers of two.
    """
    names = of_kinds(plan, "model")
    (parts,) = positions(plan, replicate, BUILDS, builds)
    (points,) = positions(plan, replicate, DOUBTS, doubts)
    crossed = {name: np.tile(value, doubts) for name, value in parts.items()}
    crossed |= {name: np.repeat(points[name], builds) for name in names}
    sample = cross(plan, crossed, moments_of(plan, replicate, counting.moments))
    fails = partial(failing, plan, crossed_values(plan, sample))
    counted = count(fails, sample.count, order, counting.step)
    # Correlated model inputs are told by the positions that they came to have.
    had = np.stack([sample.parts[name][::builds] for name in names], axis=1)
    return BandOfReplicate(
        counted.verdicts.reshape(doubts, builds).mean(axis=1), had, counted.evaluations
    )


def doubt_band(plan: Plan, found: list[BandOfReplicate]) -> DoubtBand:
    """Put replicates together into a band, with intervals of the plan's confidence."""
    shares = np.stack([each.shares for each in found])
    builds = bool(of_kinds(plan, "build"))
    centred = centred_shares(shares) if builds else shares
    values = np.sort(centred, axis=None)
    low, high = (quantile_estimate(values, end, plan.sampling.confidence) for end in ENDS)
    points = np.concatenate([each.points for each in found])
    doubts = [
        (name, _own_share(points[:, place], centred.ravel(), plan.sampling.confidence))
        for place, name in enumerate(of_kinds(plan, "model"))
    ]
    doubts.sort(key=lambda each: -each[1].value)
    return DoubtBand(low, high, values, tuple(doubts), sum(each.evaluations for each in found))


def centred_shares(shares: Floats) -> Floats:
    """Centre W (r, m) of each replicate on the mean of all, in logits; 0 and 1 stay."""
    from scipy.special import expit, logit

    clipped = np.clip(shares, CLIPPED, 1.0 - CLIPPED)
    own, grand = logit(clipped.mean(axis=1, keepdims=True)), logit(clipped.mean())
    centred = expit(logit(clipped) - own + grand)
    return np.where((shares == 0.0) | (shares == 1.0), shares, centred)


def quantile_estimate(ordered: Floats, share: float, confidence: float) -> Estimate:
    """Quantile of values (k,) in ascending order, its interval by order statistics.

    The number of values below a quantile is binomial, so two of them hold it between them
    (Thompson 1936, Annals of Mathematical Statistics 7:122, from memory): of 128 values the second
    and the twelfth hold the 5 % quantile. Where there are too few, the end is that of shares.
    """
    from scipy.stats import binom

    count, tail = ordered.size, min(share, 1.0 - share)
    outer = int(binom.ppf(0.5 * (1.0 - confidence), count, tail))
    inner = int(binom.ppf(binom.cdf(outer - 1, count, tail) + confidence, count, tail)) + 1
    value = float(np.interp(share * count - 0.5, np.arange(count), ordered))
    below, above = (outer, inner) if share < 0.5 else (count + 1 - inner, count + 1 - outer)
    low = float(ordered[below - 1]) if below >= 1 else 0.0
    return Estimate(value, low, float(ordered[above - 1]) if above <= count else 1.0)


def _own_share(position: Floats, shares: Floats, confidence: float) -> Estimate:
    """Share of the variance of W (k,) that a cubic in an input's normal score (k,) tells."""
    from scipy.special import ndtri

    if float(np.ptp(shares)) == 0.0:
        return Estimate(0.0, 0.0, 0.0)
    terms, count = 3, shares.size
    fitted = np.polynomial.Polynomial.fit(ndtri(position), shares, terms)(ndtri(position))
    left = float(((shares - fitted) ** 2).sum() / ((shares - shares.mean()) ** 2).sum())
    share = 1.0 - left * (count - 1) / (count - terms - 1)
    if share <= 0.0:
        return Estimate(0.0, 0.0, max(0.0, 1.0 - left))
    score = np.arctanh(min(share, 1.0 - 1e-9) ** 0.5)
    half = float(ndtri(0.5 + 0.5 * confidence)) / (count - terms - 1) ** 0.5
    return Estimate(
        share, float(np.tanh(max(score - half, 0.0)) ** 2), float(np.tanh(score + half) ** 2)
    )
