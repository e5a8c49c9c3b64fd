"""Particles led to what was seen, step by step: tempered sequential Monte Carlo.

Each run starts from points as stated. First what was seen within hard bounds is drawn near - events
and readings whose error has ends - by levels of how far off a particle is, each met by a quarter of
them; then the readings with a normal error count for more and more, likelihood to a power t, so
that the effective sample size stays at half. After each step particles are resampled and moved:

    w' = mu + sqrt(1 - beta^2) (w - mu) + beta sqrt(s) L xi,    xi standard normal,

with s drawn from (4 + |u|^2)/2 over a gamma of shape (4 + d)/2, u = L^-1 (w - mu). That leaves a
multivariate t of four degrees of freedom as it is, so that a move is accepted by the ratio of the
wanted density to it. mu and LL' are the particles' own mean and covariance, the latter drawn to a
multiple of the identity by d/(d + n). With a normal in the place of the t the far side of a rare
event, whose tail is wider, was come to too seldom: its mean came out a tenth of a deviation low.
Runs are independent; intervals are Student's t between them. (Del Moral, Doucet and Jasra 2006,
Journal of the Royal Statistical Society B 68:411; the move after Cotter and others 2013,
Statistical Science 28:424, and Kamatani 2018, Bernoulli 24:3711; all from memory.)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.learning.own_readings import error_ends
from sensitivity.learning.solving import Pivots, solve
from sensitivity.learning.space import Space
from sensitivity.learning.weights import effective, equal_rows, log_density
from sensitivity.spreads.spread import Spread

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

WANTED_ACCEPTANCE = 0.4
MOVED = 2.0
"""Moves that a particle has accepted, on average, before the next step."""
MOST_MOVES = 40
MOST_STEPS = 60
KEPT = 0.5
"""Share of the particles that a step of the power leaves effective."""
WITHIN = 0.25
"""Share of the particles that a level leaves."""
HALVINGS = 40
HARDLY, MOST_STALLED = 0.95, 3
"""A level that is more than this share of the last is no nearer; that it may be so many times."""
FREEDOM = 4.0
"""Of the t distribution that moves keep."""


@dataclass(frozen=True)
class Fit:
    """How particles (n,) stand to what was seen.

    Attributes
    ----------
    off : array (n,)
        How far they are from what has hard bounds, in what it varies by as stated; 0 within.
    smooth : array (n,)
        Logarithm of how likely the values are, as far as they are known; finite within the bounds.
    w : array (n, d)
        Where they are.
    """

    off: Floats
    smooth: Floats
    w: Floats

    def of(self, rows: NDArray[np.intp]) -> Fit:
        """Some of the particles."""
        return Fit(self.off[rows], self.smooth[rows], self.w[rows])

    def where(self, taken: Flags, other: Fit) -> Fit:
        """These, and the others where ``taken``."""
        return Fit(
            np.where(taken, other.off, self.off),
            np.where(taken, other.smooth, self.smooth),
            np.where(taken[:, None], other.w, self.w),
        )


@dataclass(frozen=True)
class Particles:
    """One run: equal points (n, d), and the logarithm of how likely all that was seen is."""

    w: Floats
    log_evidence: float


@dataclass(frozen=True)
class Target:
    """What particles are led to, in coordinates that are standard normal as drawn.

    With ``pivots`` the values are met: the pivots' columns are the readings' errors as normal
    scores, and the pivots are solved for. Then only events are left to come to.
    """

    space: Space
    scales: Floats
    pivots: Pivots | None

    def fit(self, points: Floats, before: Floats | None = None) -> Fit:
        """Find how points (n, d) stand, which are not far from where they were before (n, d)."""
        space, off = self.space, np.zeros(len(points))
        if self.pivots is None:
            w = points
            values, margins = space.predicted(w)
            smooth = np.zeros(len(w))
            for row, (_, one) in enumerate(space.values_seen):
                error = one.value - values[row]
                off = np.maximum(off, _outside(one.error, error, self.scales[row]))
                smooth += log_density(one.error, error)
        else:
            w, smooth = self._met(points, before)
            margins = space.predicted(w)[1]
        first = len(space.values_seen)
        for row, (_, event) in enumerate(space.events_seen):
            wrong = (margins[row] < 0.0) != event.broken
            far = np.abs(margins[row]) / self.scales[first + row]
            off = np.maximum(off, np.where(wrong, np.maximum(far, np.finfo(float).tiny), 0.0))
        return Fit(off, smooth, w)

    def _met(self, points: Floats, before: Floats | None) -> tuple[Floats, Floats]:
        from sensitivity.spreads.special_functions import ndtr

        assert self.pivots is not None
        columns = self.pivots.columns
        start = points.copy()
        if before is not None:
            start[:, columns] = before[:, columns]
        uniforms = ndtr(points[:, columns])
        solved = solve(self.space, self.pivots, start, uniforms, near_by=before is not None)
        return solved.w, solved.log_weights


def _outside(error_: Spread, error: Floats, scale: float) -> Floats:
    """How far readings are out of what their error can be, (n,); infinite without an answer."""
    if error_.shape == "normal":
        return np.zeros_like(error)
    low, high = error_ends(error_)
    outside = np.maximum(low - error, error - high) / scale
    return np.where(np.isfinite(outside), np.maximum(outside, 0.0), np.inf)


def scales_of(space: Space, w: Floats) -> Floats:
    """What values and margins (k + e,) vary by at points (n, d) as stated."""
    found = []
    for row in np.concatenate(space.predicted(w)):
        known = row[np.isfinite(row)]
        spread = float(known.std()) if known.size else 0.0
        found.append(spread if spread > 0.0 else 1.0)
    return np.array(found)


def temper(target: Target, start: Floats, generator: np.random.Generator) -> Particles:
    """Lead one run's particles to what was seen.

    Parameters
    ----------
    target : Target
        With what was seen.
    start : array (n, d)
        Points as drawn, in the target's coordinates.
    generator : Generator
        Of this run.

    Returns
    -------
    Particles
        With evidence of minus infinity where no particle got there.
    """
    points, active, stalled = start.copy(), target.space.active, 0
    now, level, power, evidence, beta = target.fit(points), np.inf, 0.0, 0.0, 0.5
    for _ in range(MOST_STEPS):
        if power < 1.0 and (level == 0.0 or target.pivots is not None):
            # Values that are met have a density that hardly varies: it comes first.
            power, weights, gained = _next_power(now.smooth, power)
            evidence += gained
        elif level > 0.0:
            level_next, weights = _next_level(now.off, level)
            if level_next is not None and level_next > HARDLY * level:
                stalled += 1
            if level_next is None or stalled > MOST_STALLED:
                return Particles(now.w, -np.inf)
            level = level_next
            evidence += float(np.log(weights.mean()))
        else:
            return Particles(now.w, evidence)
        if not np.isfinite(evidence):
            return Particles(now.w, -np.inf)
        left = effective(weights)
        rows = equal_rows(weights, len(points), generator)
        points, now = points[rows], now.of(rows)
        step = _Step(target, level, power)
        points, now, beta = _moved(step, points, now, active, left, beta, generator)
    return Particles(now.w, -np.inf)


def _next_level(off: Floats, level: float) -> tuple[float | None, Floats]:
    """Find the next level, and who is within it; None where nobody is nearer than the last."""
    if float((off == 0.0).mean()) >= WITHIN:
        new = 0.0
    else:
        ordered = np.sort(off)
        new = float(ordered[int(WITHIN * off.size) - 1])
        if not new < level:
            nearer = ordered[ordered < level]
            if not nearer.size:
                return None, np.zeros_like(off)
            new = float(nearer[-1])
        if not np.isfinite(new):
            finite = ordered[np.isfinite(ordered)]
            if not finite.size:
                return None, np.zeros_like(off)
            new = float(finite[-1])
    return new, (off <= new).astype(np.float64)


def _next_power(smooth: Floats, power: float) -> tuple[float, Floats, float]:
    """Find the next power by bisection, its weights, and what it adds to the log evidence."""

    def weights_at(new: float) -> tuple[Floats, float]:
        logs = (new - power) * np.where(np.isfinite(smooth), smooth, -np.inf)
        top = float(logs.max())
        if not np.isfinite(top):
            return np.zeros_like(smooth), -np.inf
        weights = np.exp(logs - top)
        return weights, top + float(np.log(weights.mean()))

    low, high = power, 1.0
    weights, gained = weights_at(1.0)
    if effective(weights) >= KEPT * smooth.size:
        return 1.0, weights, gained
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        weights, gained = weights_at(middle)
        if effective(weights) >= KEPT * smooth.size:
            low = middle
        else:
            high = middle
    # Where so few have an answer that any power leaves less than half, a step is made even so.
    new = low if low > power else high
    weights, gained = weights_at(new)
    return new, weights, gained


@dataclass(frozen=True)
class _Step:
    """The density that particles are to have at one step."""

    target: Target
    level: float
    power: float

    def log_density(self, points: Floats, found: Fit) -> Floats:
        """Its logarithm (n,), but for a constant."""
        logs = -0.5 * (points**2).sum(axis=1)
        if self.power > 0.0:
            logs = logs + self.power * found.smooth
        return np.where(found.off <= self.level, logs, -np.inf)


def _moved(
    step: _Step,
    points: Floats,
    now: Fit,
    active: NDArray[np.intp],
    left: float,
    beta: float,
    generator: np.random.Generator,
) -> tuple[Floats, Fit, float]:
    """Move particles (n, d) along the active columns until each has moved twice on average."""
    from scipy.linalg import solve_triangular

    mean = points[:, active].mean(axis=0)
    covariance = np.cov(points[:, active].T).reshape(active.size, active.size)
    shrink = active.size / (active.size + left)
    round_ = max(float(np.trace(covariance)) / active.size, 1e-12) * np.eye(active.size)
    factor = np.linalg.cholesky((1.0 - shrink) * covariance + shrink * round_)
    # In coordinates u in which the t to be kept is standard.
    u = solve_triangular(factor, (points[:, active] - mean).T, lower=True).T
    power = 0.5 * (active.size + FREEDOM)

    def against_t(u: Floats) -> Floats:
        return np.asarray(power * np.log1p((u**2).sum(axis=1) / FREEDOM))

    at = step.log_density(points, now) + against_t(u)
    moved = 0.0
    for move in range(1, MOST_MOVES + 1):
        scale = 0.5 * (FREEDOM + (u**2).sum(axis=1)) / generator.gamma(power, size=len(u))
        noise = generator.standard_normal(u.shape) * np.sqrt(scale)[:, None]
        u_tried = np.sqrt(1.0 - beta**2) * u + beta * noise
        tried = points.copy()
        # Plain loops: a few threads for so small a product wait for each other on a busy machine.
        tried[:, active] = mean + np.einsum("nd,cd->nc", u_tried, factor)
        found = step.target.fit(tried, now.w)
        there = step.log_density(tried, found) + against_t(u_tried)
        with np.errstate(over="ignore"):
            taken = generator.random(len(u)) < np.exp(np.minimum(there - at, 0.0))
        points, u = (np.where(taken[:, None], *each) for each in ((tried, points), (u_tried, u)))
        at, now = np.where(taken, there, at), now.where(taken, found)
        rate = float(taken.mean())
        moved += rate
        beta *= float(np.exp((rate - WANTED_ACCEPTANCE) / np.sqrt(move)))
        beta = min(max(beta, 0.02), 1.0)
        if moved >= MOVED:
            break
    return points, now, beta
