"""Is what was seen what could be expected, by what is stated? Asked before anything is learnt.

The probability of an observation is the share of what is expected, by the statements and the
models, that is less likely than what was seen. Where it is below one in a hundred, the statement of
a dimension, the observation or the model is wrong, and nothing is learnt without being told to.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.errors import CallError
from sensitivity.learning.observations import Seen, Trial, ValueSeen
from sensitivity.learning.space import Space
from sensitivity.spreads.spread import quantile

Floats = NDArray[np.float64]

SURPRISING = 0.01
"""Probability below which what was seen is in conflict with what is stated."""
MOVED = 5
"""Inputs named at most as those that a conflict would move."""


class ConflictError(CallError):
    """What was seen is in conflict with what is stated; ``conflict`` says how."""

    def __init__(self, words: str, conflict: Conflict) -> None:
        self.conflict = conflict
        super().__init__(words)


@dataclass(frozen=True, slots=True)
class Expected:
    """One observation and its probability.

    Attributes
    ----------
    trial : Trial
    seen : ValueSeen or EventSeen
    probability : float
        Two-sided rank of a value among those expected; the chance of an event. No smaller than
        ``floor``.
    floor : float
        One of the points tried: a probability this small may be smaller.
    """

    trial: Trial
    seen: Seen
    probability: float
    floor: float


@dataclass(frozen=True, slots=True)
class Moved:
    """An input, and by how many of its own standard deviations what was seen would move it."""

    name: str
    deviations: float


@dataclass(frozen=True)
class Conflict:
    """What of it could be expected.

    Attributes
    ----------
    expected : tuple of Expected
        Each observation by itself, in order.
    together : float
        Of all values at once, and of the events given them; 1 where there is but one.
    moved : tuple of Moved
        The inputs that all of it moves most, the most first.
    """

    expected: tuple[Expected, ...] = ()
    together: float = 1.0
    moved: tuple[Moved, ...] = ()

    @property
    def surprising(self) -> tuple[Expected, ...]:
        """Observations that are in conflict with what is stated, by themselves."""
        return tuple(each for each in self.expected if each.probability < SURPRISING)

    @property
    def there(self) -> bool:
        """Whether there is a conflict, of one observation or of all of them together."""
        return bool(self.surprising) or self.together < SURPRISING


def expected(space: Space, w: Floats, uniforms: Floats) -> Conflict:
    """Ask whether what was seen could be expected.

    Parameters
    ----------
    space : Space
        With all that was seen.
    w : array (n, d)
        Points as stated.
    uniforms : array (n, k)
        Probabilities of the readings' errors.

    Returns
    -------
    Conflict
        Several values by the rank of their Mahalanobis distance, in normal scores of each.
    """
    values, margins = space.predicted(w)
    read = [one for _, one in space.values_seen]
    said = values.copy()
    for row, one in enumerate(read):
        said[row] += quantile(one.error, uniforms[:, row])
    floor = 1.0 / len(w)
    found, value_row, event_row = [], 0, 0
    for occasion in space.occasions:
        for seen in occasion.trial.seen:
            if isinstance(seen, ValueSeen):
                share = _two_sided(said[value_row], seen.value)
                value_row += 1
            else:
                share = float(((margins[event_row] < 0.0) == seen.broken).mean())
                event_row += 1
            found.append(Expected(occasion.trial, seen, max(share, floor), floor))
    wanted = np.array([one.value for one in read])
    together = _together(said, wanted, floor) if len(read) > 1 else 1.0
    return Conflict(tuple(found), together, _moved(space, w, said, margins))


def _two_sided(said: Floats, value: float) -> float:
    """Two-sided rank of a value among those (n,) that would be said."""
    known = said[np.isfinite(said)]
    below = np.count_nonzero(known < value) + 0.5 * np.count_nonzero(known == value)
    return float(2.0 * min(below, known.size - below) / said.size)


def _together(said: Floats, seen: Floats, floor: float) -> float:
    """Share of what would be said (k, n) that is further from its middle than what was seen."""
    from sensitivity.spreads.special_functions import ndtri

    said = said[:, np.isfinite(said).all(axis=0)]
    count = said.shape[1]
    if count < 2:
        return floor
    scores = ndtri((said.argsort(axis=1).argsort(axis=1) + 0.5) / count)
    ends = [_score(row, each, value) for row, each, value in zip(said, scores, seen, strict=True)]
    inner = np.linalg.pinv(np.atleast_2d(np.corrcoef(scores)), hermitian=True)
    distances = np.einsum("kn,kj,jn->n", scores, inner, scores)
    own = np.array(ends)
    return max(float((distances >= own @ inner @ own).mean()), floor)


def _score(said: Floats, scores: Floats, value: float) -> float:
    """Normal score of a value; beyond all that would be said by their own deviations."""
    order = np.argsort(said)
    if said[order[0]] <= value <= said[order[-1]]:
        return float(np.interp(value, said[order], scores[order]))
    return float((value - said.mean()) / max(float(said.std()), np.finfo(float).tiny))


def _moved(space: Space, w: Floats, said: Floats, margins: Floats) -> tuple[Moved, ...]:
    """Find how far each input would have to be off, by the linear regression on what was seen.

    An event that was not to be expected counts as its margin at the limit itself.
    """
    rows, seen = [*said], [one.value for _, one in space.values_seen]
    for (_, event), margin in zip(space.events_seen, margins, strict=True):
        if float(((margin < 0.0) == event.broken).mean()) < 0.5:
            rows.append(margin)
            seen.append(0.0)
    if not rows:
        return ()
    table = np.stack(rows)
    whole = np.isfinite(table).all(axis=0)
    scores, table = space.scores(space.independent(w[whole])), table[:, whole]
    if table.shape[1] < 2 or not space.names:
        return ()
    off = np.array(seen) - table.mean(axis=1)
    middle = table - table.mean(axis=1, keepdims=True)
    own = scores - scores.mean(axis=0)
    inner = np.linalg.pinv(middle @ middle.T / table.shape[1], hermitian=True)
    shift = (own.T @ middle.T / table.shape[1]) @ inner @ off
    order = np.argsort(-np.abs(shift))[:MOVED]
    return tuple(Moved(space.names[at], float(shift[at])) for at in order)
