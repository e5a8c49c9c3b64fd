"""The bench: all that may be measured and with what, and what one more reading is worth there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Estimate
from sensitivity.engine.workers import aside
from sensitivity.pricing.instruments import reading_errors
from sensitivity.pricing.value_of_information import Decision, regressors
from sensitivity.pricing.value_of_readings import Knowledge, value_of_reading, with_reading
from sensitivity.spreads.workshop import WorkshopEntry

Floats = NDArray[np.float64]

Pick = tuple[int, WorkshopEntry]
"""A reading: the place of what is read, and the instrument."""


WORTH_SHARING = 8
"""Readings to try from which on another process does half of them."""


@dataclass(frozen=True, slots=True)
class PricedReading:
    """An instrument, the minutes of one reading, and what the reading gains."""

    instrument: str
    minutes: float
    gain: Estimate

    @property
    def per_minute(self) -> float:
        """What it gains for each minute."""
        return self.gain.value / self.minutes


@dataclass(frozen=True, slots=True)
class Candidate:
    """A dimension or a result that may be read: what that is worth.

    ``perfect`` is the gain if it were known exactly, and ``settled`` tells whether that is above
    nothing; ``readings`` are of each instrument tried, cheapest first; ``advised`` is the one to
    take: None where no instrument reads it, or none with a settled gain.
    """

    name: str
    perfect: Estimate
    settled: bool
    readings: tuple[PricedReading, ...]
    advised: PricedReading | None


@dataclass(frozen=True)
class Bench:
    """All that may be measured, and with what.

    Attributes
    ----------
    decision : Decision
        What the readings are to help.
    values : array (r, n, c)
        What may be read, as it is: dimensions, then results.
    names, units : tuple of str
        Theirs.
    instruments : tuple of tuple of WorkshopEntry
        What reads each, cheapest first.
    seed : int
        Of the errors of reading.
    confidence : float
        Of the intervals.
    """

    decision: Decision
    values: Floats
    names: tuple[str, ...]
    units: tuple[str, ...]
    instruments: tuple[tuple[WorkshopEntry, ...], ...]
    seed: int
    confidence: float

    def read(self, place: int, entry: WorkshopEntry) -> Floats:
        """Read a dimension of every assembly (r, n) with an instrument.

        All instruments err by the same probabilities, so that the difference between two is
        theirs.
        """
        return self.read_of(self.values[..., place], place, entry)

    def read_of(
        self, values: Floats, place: int, entry: WorkshopEntry, sample: int = 0, repeats: int = 1
    ) -> Floats:
        """Read a dimension whose values (r, n) are those of another sample, numbered from 1.

        Where assemblies are had ``repeats`` times over, one after another, they err alike.
        """
        stream = np.random.SeedSequence(self.seed, spawn_key=(place, sample))
        rows = values.shape[1] // repeats
        uniforms = np.random.default_rng(stream).random((values.shape[0], rows))
        uniforms = np.tile(uniforms, (1, repeats))
        return values + reading_errors(entry, self.units[place], values, uniforms)

    def instrument(self, place: int, name: str) -> WorkshopEntry:
        """Find one of the instruments that read a place, by its name."""
        return next(entry for entry in self.instruments[place] if entry.name == name)

    def closest_instrument(self, place: int) -> WorkshopEntry:
        """Find the instrument that errs least at a place that some read."""
        size = float(np.abs(self.values[..., place]).mean())
        return min(
            self.instruments[place],
            key=lambda entry: (entry.high - entry.low) * (size if entry.relative else 1.0),
        )

    def knowing(self, start: Knowledge, picks: Sequence[Pick]) -> Knowledge:
        """Take several readings at once, on top of what is known at the start."""
        if not picks:
            return start
        readings = np.stack([self.read(*pick) for pick in picks], axis=2)
        return with_reading(self.decision, start, readings)

    def knowing_each(self, known: Knowledge, sets: Sequence[Sequence[int]]) -> list[Knowledge]:
        """Know exactly what stands at some places, on top of what is known, for each of ``sets``.

        A process that stands ready does half of many.
        """
        here, there = list(sets), None
        if len(sets) >= WORTH_SHARING:
            here, rest = list(sets[: len(sets) // 2]), sets[len(sets) // 2 :]
            there = aside(partial(_paid_by_each, self, known, rest), workers=None)
            here = here if there is not None else list(sets)
        paid = _paid_by_each(self, known, here)
        if there is not None:
            paid += there()
        return [
            Knowledge(
                np.concatenate([known.readings, self.values[..., list(places)]], axis=2), each
            )
            for places, each in zip(sets, paid, strict=True)
        ]

    def squared_correlation(self, one: int, other: int) -> float:
        """Find the squared correlation of what stands at two places."""
        first, second = (self.values[..., place].ravel() for place in (one, other))
        return _squared_correlation(first - first.mean(), second)

    def settled(self, before: Knowledge, after: Knowledge) -> bool:
        """Tell whether a gain is above nothing, at a confidence shared out among all dimensions."""
        doubt = (1.0 - self.confidence) / len(self.names)
        return value_of_reading(before, after, 1.0 - doubt).low > 0.0

    def share_failing(self, known: Knowledge) -> float:
        """Share of assemblies that fail by the decision made (and not of those rejected)."""
        paid = known.paid
        if self.decision.points is not None:
            return float(1.0 - paid.mean())
        return float(np.mean(np.where(paid != 0.0, 0.5 * (1.0 - paid), 0.0)))

    def candidates(
        self, known: Knowledge, places: Sequence[int], *, with_instruments: int
    ) -> dict[int, Candidate]:
        """Find what one more dimension is worth on top of what is known, for each of ``places``.

        Each is tried exactly known; those ``with_instruments`` in number that then gain most, if
        their gain is settled, with each of their instruments.
        """
        each = self.knowing_each(known, [[place] for place in places])
        after = dict(zip(places, each, strict=True))
        perfect = {
            place: value_of_reading(known, after[place], self.confidence) for place in places
        }
        settled = {place: self.settled(known, after[place]) for place in places}
        ordered = sorted(places, key=lambda place: -perfect[place].value)[:with_instruments]
        tried = {place for place in ordered if settled[place]}
        return {
            place: Candidate(
                self.names[place],
                perfect[place],
                settled[place],
                *(self._readings(known, place) if place in tried else ((), None)),
            )
            for place in places
        }

    def _readings(
        self, known: Knowledge, place: int
    ) -> tuple[tuple[PricedReading, ...], PricedReading | None]:
        readings, worth = [], []
        for entry in self.instruments[place]:
            after = with_reading(self.decision, known, self.read(place, entry))
            readings.append(
                PricedReading(
                    entry.name, entry.minutes, value_of_reading(known, after, self.confidence)
                )
            )
            worth.append(self.settled(known, after))
        return tuple(readings), _advised(readings, worth)

    def first_of_several(
        self, known: Knowledge, places: Sequence[int], least: float
    ) -> Pick | None:
        """Find what to read first where nothing gains by itself, though some do together.

        Two that gain by their product, or each other's sign, tell nothing singly: so all pairs are
        tried, and the best of them taken; and where no pair gains, more and more of them together.

        Parameters
        ----------
        known : Knowledge
            What is read already.
        places : sequence of int
            What may be read, the most telling first.
        least : float
            A share of assemblies, that they are to gain at least, known exactly.

        Returns
        -------
        Pick or None
            The first of them, with its cheapest instrument by which they gain about as much, the
            others known exactly.
        """
        able = [place for place in places if self.instruments[place]]
        together = self._best_pair(known, able, least) or self._fewest(known, able, least)
        if together is None:
            return None
        first, others = together[0], self.values[..., together[1:]]
        readings, worth = [], []
        for entry in self.instruments[first]:
            both = np.concatenate([self.read(first, entry)[..., None], others], axis=2)
            after = with_reading(self.decision, known, both)
            gain_together = value_of_reading(known, after, self.confidence)
            readings.append(PricedReading(entry.name, entry.minutes, gain_together))
            worth.append(self.settled(known, after))
        advised = _advised(readings, worth)
        return None if advised is None else (first, self.instrument(first, advised.instrument))

    def _best_pair(self, known: Knowledge, able: Sequence[int], least: float) -> list[int] | None:
        """Find the two that gain most together, if that is more than either gains."""
        best, found = least, None
        pairs = [list(pair) for pair in combinations(able, 2)]
        alone: dict[int, Knowledge] = {}
        for pair, after in zip(pairs, self.knowing_each(known, pairs), strict=True):
            gain = value_of_reading(known, after, self.confidence).value
            if gain < best or not self.settled(known, after):
                continue
            for one in pair:
                if one not in alone:
                    alone[one] = with_reading(self.decision, known, self.values[..., one])
            if all(self.settled(alone[one], after) for one in pair):
                best, found = gain, pair
        return found

    def _fewest(self, known: Knowledge, able: Sequence[int], least: float) -> list[int] | None:
        """Take as few as gain enough together, from the most telling on."""
        for count in range(3, len(able) + 1):
            after = with_reading(self.decision, known, self.values[..., able[:count]])
            gain = value_of_reading(known, after, self.confidence).value
            if gain >= least and self.settled(known, after):
                return list(able[:count])
        return None

    def by_variance_explained(self, known: Knowledge, places: Iterable[int]) -> list[int]:
        """Order dimensions by how much they would still explain of the guides, most first.

        By the squared correlations of what the readings leave unexplained with the dimension and
        with its square. A dimension may gain nothing by itself and yet be what the next reading
        needs.
        """
        columns = regressors(known.readings) if known.readings.shape[2] else None
        share = dict.fromkeys(places, 0.0)
        for guide in np.moveaxis(self.decision.guides, 2, 0):
            told = np.isfinite(guide)
            left = guide[told] - guide[told].mean() if told.any() else guide[told]
            if columns is not None and left.size > columns.shape[2]:
                left = left - columns[told] @ np.linalg.lstsq(columns[told], left, rcond=None)[0]
            for place in share:
                value = self.values[..., place][told]
                middle = value - value.mean() if value.size else value
                for term in (middle, middle**2):
                    share[place] += _squared_correlation(left, term)
        return sorted(share, key=lambda place: -share[place])


def _paid_by_each(bench: Bench, known: Knowledge, sets: Sequence[Sequence[int]]) -> list[Floats]:
    return [
        with_reading(bench.decision, known, bench.values[..., list(places)]).paid for places in sets
    ]


def _squared_correlation(one: Floats, other: Floats) -> float:
    if one.size < 2:
        return 0.0
    other = other - other.mean()
    scale = float(one @ one) * float(other @ other)
    return float(one @ other) ** 2 / scale if scale > 0.0 else 0.0


def _advised(readings: Sequence[PricedReading], worth: Sequence[bool]) -> PricedReading | None:
    """Find the cheapest reading whose gain is settled and in the interval of the best one's."""
    if not readings:
        return None
    least = max(readings, key=lambda reading: reading.gain.value).gain.low
    for reading, settled in zip(readings, worth, strict=True):
        if settled and reading.gain.value >= least:
            return reading
    return None
