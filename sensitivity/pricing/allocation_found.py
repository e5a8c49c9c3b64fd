"""A set of closer tolerances as a fresh sample finds it: parts that work, and moments kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.engine.two_levels import TwoLevels
from sensitivity.pricing.closer_work import Choice, Dimension


@dataclass(frozen=True, slots=True)
class Both:
    """One design: parts that work, and how often a part keeps at a moment taken at random."""

    works: Proportion
    share: Proportion


@dataclass(frozen=True, slots=True)
class Step:
    """One dimension of the set held closer, with what it leads to after all before it.

    ``overall`` and ``gain`` are of moments; ``works``, of parts, is None where it was not priced.
    """

    dimension: Dimension
    choice: Choice
    overall: Proportion
    works: Proportion | None
    gain: Estimate


@dataclass(frozen=True)
class Found:
    """The set that was found for a target.

    Attributes
    ----------
    target : float
        Share of parts that are to work.
    reached : bool
        Whether the fresh run bears the target out, and no limit that hurts is broken more often
        than its ceiling allows. If not, ``steps`` are those worth doing.
    fresh_seed : int
        Seed of the run that all these figures come from.
    there : TwoLevels
        With the steps.
    as_drawn, closest, exact : Both
        As stated; with every dimension that does not lose by it at its closest choice; and with
        every build dimension exactly as drawn.
    drawn_shares, shares, closest_shares : mapping of str to Proportion
        Share of moments at which each limit is kept: as stated, with the steps, at the closest.
    kept_out : bool
        Whether a limit that hurts stood against a set that was tried.
    making : mapping of str to float
        Bench minutes for making each jig, once for all the steps that go to its process.
    cheapest : bool
        Whether no cheaper set of all that might do does; else it is a cheap one.
    """

    target: float
    reached: bool
    fresh_seed: int
    as_drawn: Both
    steps: tuple[Step, ...]
    there: TwoLevels
    closest: Both
    exact: Both
    drawn_shares: Mapping[str, Proportion]
    shares: Mapping[str, Proportion]
    closest_shares: Mapping[str, Proportion]
    kept_out: bool
    making: Mapping[str, float]
    cheapest: bool

    @property
    def works(self) -> Proportion:
        """Parts that work with the steps."""
        return self.there.works

    @property
    def overall(self) -> Proportion:
        """Share of parts and moments that keep every limit with the steps."""
        return self.there.share

    @property
    def minutes(self) -> float:
        """Bench minutes that the steps add, and the jigs for them."""
        return sum(step.choice.minutes for step in self.steps) + sum(self.making.values())

    @property
    def in_the_way(self) -> str:
        """The limit that is broken most often even with everything at its closest."""
        return min(self.closest_shares, key=lambda name: self.closest_shares[name].value)
