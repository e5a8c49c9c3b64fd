"""How far the share of parts that work moves with what the physics does not know.

W(m) is counted at some points of the model inputs m, at each over the same parts and the same
moments, so that points differ by m alone; the band lies between the 5 and 95 % quantiles of W(m).
Every replicate has its own few parts and its own moments, and counts them at all points. Where each
replicate had points of its own and was centred on the others, the low end came out 0.013 too high
for six model inputs, and the high end 0.034 where W(m) is flat at the top (measured on margins with
closed forms): centring takes out part of what m does, and what a few parts add at random widens
the band. A regression of the verdict on m would be cheaper and smooths cliffs: it put the low end
at 0.70 where brute force gives 0.53 (19 model inputs, measured).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Estimate, share_proportion
from sensitivity.engine.kept import Counted, Order, count
from sensitivity.engine.moments import (
    BUILDS,
    DOUBTS,
    Crossed,
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
Counts = NDArray[np.intp]

ENDS = (0.05, 0.95)
BAND_REPLICATES = 16
"""Of a plan's replicates, the first ones that count for the band."""
POINTS = 128
"""Points of the model inputs."""
BUILDS_EACH, BUILDS_OF_ONE_LEVEL = 128, 1024
"""Parts at each point over all replicates, and where there are no moments."""
LEADS = 0.40
"""Share of the variance of W(m) from which one model input is named."""


@dataclass(frozen=True)
class DoubtBand:
    """Between which figures the share of parts that work lies, as the physics may turn out.

    Attributes
    ----------
    low, high : Estimate
        The 5 and 95 % quantiles of W(m); the interval of each is for the number of points, by
        order statistics, and for that of the parts, between replicates, one by the other squared.
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
    """One replicate: its share of parts that work at each point of the model inputs.

    Attributes
    ----------
    shares : array (m,)
    counted : array (m,)
        Parts that the shares are of.
    points : array (m, d)
        The points' positions in each model input's spread, the same in all replicates.
    evaluations : int
    """

    shares: Floats
    counted: Counts
    points: Floats
    evaluations: int


def band_builds(plan: Plan, builds: int | None = None) -> int:
    """Say how many parts a replicate has at each point: a power of two.

    ``builds`` is over all replicates; as many as the plan wants where it is not given.
    """
    if not of_kinds(plan, "build"):
        return 1
    if builds is None:
        builds = BUILDS_EACH if of_kinds(plan, "running") else BUILDS_OF_ONE_LEVEL
    return 1 << (max(1, builds // _replicates(plan)).bit_length() - 1)


def _replicates(plan: Plan) -> int:
    return min(plan.sampling.replicates, BAND_REPLICATES)


def band_sample(
    plan: Plan, replicate: int, moments: int, builds: int, points: int = POINTS
) -> tuple[Crossed, Floats]:
    """Draw a replicate's parts at each point of the model inputs, and its moments.

    Parameters
    ----------
    plan : Plan
        In which model inputs vary.
    replicate : int
        Its number.
    moments, builds, points : int
        Moments, parts at each point (``band_builds``) and points, powers of two.

    Returns
    -------
    sample : Crossed
        A point's parts lie together.
    positions : array (points, d)
        In each model input's spread; where they are correlated, those that they came to have.
    """
    names = of_kinds(plan, "model")
    # One sequence of points for all replicates, and one of parts of which each has its stretch:
    # both are spread more evenly than sixteen short ones.
    in_all = 1 << (_replicates(plan) * builds - 1).bit_length()
    (parts,) = positions(plan, 0, BUILDS, in_all)
    (at,) = positions(plan, 0, DOUBTS, points)
    own = slice(replicate * builds, (replicate + 1) * builds)
    crossed = {name: np.tile(value[own], points) for name, value in parts.items()}
    crossed |= {name: np.repeat(at[name], builds) for name in names}
    sample = cross(plan, crossed, moments_of(plan, replicate, moments))
    return sample, np.stack([sample.parts[name][::builds] for name in names], axis=1)


def band_replicate(
    plan: Plan, counting: Counting, order: Order, replicate: int, points: int, builds: int
) -> BandOfReplicate:
    """Count W at each point of the model inputs, with a replicate's parts and moments.

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
    points, builds : int
        As of ``band_sample``.
    """
    sample, had = band_sample(plan, replicate, counting.moments, builds, points)
    fails = partial(failing, plan, crossed_values(plan, sample))
    return band_counted(count(fails, sample.count, order, counting.step), had)


def band_counted(counted: Counted, had: Floats) -> BandOfReplicate:
    """Take what was counted of a replicate's parts at points that ``had`` these positions (m, d).

    No audit of parts dropped as good, which would take as much again by half; without it the low
    end came out 0.007 too high (six model inputs, measured).
    """
    points = had.shape[0]
    shares = counted.verdicts.reshape(points, -1)
    return BandOfReplicate(
        shares.mean(axis=1), np.full(points, shares.shape[1]), had, counted.evaluations
    )


def doubt_band(plan: Plan, found: list[BandOfReplicate]) -> DoubtBand:
    """Put replicates together into a band, with intervals of the plan's confidence."""
    confidence = plan.sampling.confidence
    counted = np.stack([each.counted for each in found])
    # Of what is rejected replicates may have different numbers: each counts by its own.
    weight = counted * len(found) / np.maximum(counted.sum(axis=0), 1)
    shares = np.stack([each.shares for each in found]) * weight
    values = shares.mean(axis=0)
    order = np.argsort(values, kind="stable")
    parts = max(1, round(float(counted.mean())))
    low, high = (_end(shares[:, order], parts, end, confidence) for end in ENDS)
    points = found[0].points
    doubts = [
        (name, _own_share(points[:, place], values, confidence))
        for place, name in enumerate(of_kinds(plan, "model"))
    ]
    doubts.sort(key=lambda each: -each[1].value)
    return DoubtBand(
        low, high, values[order], tuple(doubts), sum(each.evaluations for each in found)
    )


def _end(shares: Floats, parts: int, end: float, confidence: float) -> Estimate:
    """Quantile over points of the mean over replicates; ``shares`` (r, m) ascend in that mean.

    Its interval is as far from it as that for the points and that for the parts, squared and added:
    they are drawn apart from each other. The latter is of the points that the quantile lies among.
    """
    by_points = quantile_estimate(shares.mean(axis=0), end, confidence)
    count = shares.shape[1]
    there = np.array([np.interp(end * count - 0.5, np.arange(count), row) for row in shares])
    by_parts = share_proportion(there, parts, confidence)
    below = np.hypot(by_points.value - by_points.low, by_parts.value - by_parts.low)
    above = np.hypot(by_points.high - by_points.value, by_parts.high - by_parts.value)
    return Estimate(
        by_points.value,
        max(0.0, by_points.value - float(below)),
        min(1.0, by_points.value + float(above)),
    )


def quantile_estimate(ordered: Floats, share: float, confidence: float) -> Estimate:
    """Quantile of values (k,) in ascending order, its interval by order statistics.

    The number of values below a quantile is binomial, so two of them hold it between them
    (Thompson 1936, Annals of Mathematical Statistics 7:122, from memory): of 128 values the second
    and the twelfth hold the 5 % quantile. Where there are too few, the end is that of shares.
    """
    from sensitivity.spreads.special_functions import bdtr

    count, tail = ordered.size, min(share, 1.0 - share)
    # Chance of at most so many below the quantile, from none on.
    at_most = bdtr(np.arange(count + 1), count, tail)
    outer = int(np.searchsorted(at_most, 0.5 * (1.0 - confidence)))
    below_outer = float(at_most[outer - 1]) if outer else 0.0
    inner = int(np.searchsorted(at_most, below_outer + confidence)) + 1
    value = float(np.interp(share * count - 0.5, np.arange(count), ordered))
    below, above = (outer, inner) if share < 0.5 else (count + 1 - inner, count + 1 - outer)
    low = float(ordered[below - 1]) if below >= 1 else 0.0
    return Estimate(value, low, float(ordered[above - 1]) if above <= count else 1.0)


def _own_share(position: Floats, shares: Floats, confidence: float) -> Estimate:
    """Share of the variance of W (k,) that a cubic in an input's normal score (k,) tells."""
    from sensitivity.spreads.special_functions import ndtri

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
