"""Is what was seen what could be expected, by what is stated? Asked before anything is learnt.

The probability of an observation is the share of what is expected, by the statements and the
models, that is less likely than what was seen. Where it is below one in a hundred, the statement of
a dimension, the observation or the model is wrong, and nothing is learnt without being told to.
"""

from __future__ import annotations

from dataclasses import dataclass

from sensitivity.errors import CallError
from sensitivity.learning.observations import Seen, Trial

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
