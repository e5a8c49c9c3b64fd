"""What reading a dimension gains, on top of those read before, with each instrument.

The choice that a reading helps is where to set what can be set or, where nothing can be, whether
to light the burner at all; ``information`` estimates the gain.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.intervals import Estimate
from sensitivity.pricing.information import (
    Choice,
    features,
    held_out_choices,
    middle_of_working,
    taken,
)
from sensitivity.pricing.instruments import reading_errors
from sensitivity.pricing.settings import Burners, Settings
from sensitivity.pricing.variants import moved_difference
from sensitivity.spreads.workshop import WorkshopEntry

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]
Places = NDArray[np.intp]

LIGHT, LEAVE_UNLIT = 0, 1

FARTHEST = 2.0
"""Standard deviations beyond which a margin makes no difference to lighting."""


@dataclass(frozen=True, slots=True)
class Reading:
    """An instrument, the minutes of one reading, and what the reading gains."""

    instrument: str
    minutes: float
    gain: Estimate


@dataclass(frozen=True, slots=True)
class Candidate:
    """A dimension that may be measured: what that is worth.

    ``perfect`` is the gain if it were known exactly, and ``settled`` tells whether that is above
    nothing; ``readings`` are of each instrument tried, cheapest first; ``advised`` is the one to
    take: None where no instrument reads it, or none with a settled gain.
    """

    name: str
    perfect: Estimate
    settled: bool
    readings: tuple[Reading, ...]
    advised: Reading | None


def where_to_set(burners: Burners, settings: Settings) -> Choice:
    """Choice of a setting: a burner that works pays 1."""
    middle = middle_of_working(burners.works, settings.points)
    return Choice(burners.works.astype(np.float64), middle, points=settings.points)


def whether_to_light(burners: Burners) -> Choice:
    """Choice of lighting a burner as drawn: 1 if it works, -1 if it fails, 0 if left unlit.

    So it is left unlit where it is likelier to fail than to work.
    """
    lit = np.where(burners.as_drawn, 1.0, -1.0)
    ways = np.stack([lit, np.zeros_like(lit)], axis=2)
    return Choice(ways, burners.margins, np.clip(burners.smallest, -FARTHEST, FARTHEST))


@dataclass(frozen=True)
class Known:
    """What has been read of each burner (r, n, d), and what the choice then pays (r, n)."""

    readings: Floats
    paid: Floats


def nothing_known(choice: Choice) -> Known:
    """Choose the same for all burners."""
    choices = held_out_choices(choice, None)
    return Known(np.empty((*choices.shape, 0)), taken(choice.payoffs, choices))


def read_too(choice: Choice, known: Known, reading: Floats) -> Known:
    """Choose anew, with one more reading (r, n) of each burner, or several (r, n, d)."""
    more = reading if reading.ndim == 3 else reading[..., None]
    readings = np.concatenate([known.readings, more], axis=2)
    choices = held_out_choices(choice, features(readings))
    return Known(readings, taken(choice.payoffs, choices))


def choices_by(choice: Choice, known: Known) -> Places:
    """Choose for each burner (r, n) by what is known of it."""
    columns = features(known.readings) if known.readings.shape[2] else None
    return held_out_choices(choice, columns)


def gain(before: Known, after: Known, confidence: float) -> Estimate:
    """Difference of what the choice pays, a burner, with its interval between replicates."""
    change = after.paid - before.paid
    gained = np.maximum(change, 0.0).sum(axis=1).astype(np.int64)
    lost = np.maximum(-change, 0.0).sum(axis=1).astype(np.int64)
    return moved_difference(gained, lost, change.shape[1], confidence)


@dataclass(frozen=True)
class Bench:
    """All that may be measured, and with what.

    Attributes
    ----------
    choice : Choice
        What the readings are to help.
    values : array (r, n, c)
        The dimensions as they are.
    names, units : tuple of str
        Theirs.
    instruments : tuple of tuple of WorkshopEntry
        What reads each, cheapest first.
    seed : int
        Of the errors of reading.
    confidence : float
        Of the intervals.
    """

    choice: Choice
    values: Floats
    names: tuple[str, ...]
    units: tuple[str, ...]
    instruments: tuple[tuple[WorkshopEntry, ...], ...]
    seed: int
    confidence: float

    def read(self, place: int, entry: WorkshopEntry) -> Floats:
        """Read a dimension of every burner (r, n) with an instrument.

        All instruments err by the same probabilities, so that the difference between two is
        theirs.
        """
        values = self.values[..., place]
        stream = np.random.SeedSequence(self.seed, spawn_key=(place, 0))
        uniforms = np.random.default_rng(stream).random(values.shape)
        return values + reading_errors(entry, self.units[place], values, uniforms)

    def settled(self, before: Known, after: Known) -> bool:
        """Tell whether a gain is above nothing, at a confidence shared out among all dimensions."""
        doubt = (1.0 - self.confidence) / len(self.names)
        return gain(before, after, 1.0 - doubt).low > 0.0

    def failing(self, known: Known) -> float:
        """Share of burners that fail by the choice made (and not of those left unlit)."""
        return float(np.mean(known.paid == self.choice.payoffs.min()))

    def candidates(
        self, known: Known, places: Sequence[int], *, with_instruments: int
    ) -> dict[int, Candidate]:
        """Find what one more dimension is worth on top of what is known, for each of ``places``.

        Each is tried exactly known; those ``with_instruments`` in number that then gain most, if
        their gain is settled, with each of their instruments.
        """
        after = {place: read_too(self.choice, known, self.values[..., place]) for place in places}
        perfect = {place: gain(known, after[place], self.confidence) for place in places}
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

    def _readings(self, known: Known, place: int) -> tuple[tuple[Reading, ...], Reading | None]:
        readings, worth = [], []
        for entry in self.instruments[place]:
            after = read_too(self.choice, known, self.read(place, entry))
            readings.append(Reading(entry.name, entry.minutes, gain(known, after, self.confidence)))
            worth.append(self.settled(known, after))
        return tuple(readings), _advised(readings, worth)

    def most_telling(self, known: Known, places: Iterable[int]) -> list[int]:
        """Order dimensions by how much they would still explain of the guides, most first.

        By the squared correlations of what the readings leave unexplained with the dimension and
        with its square. A dimension may gain nothing by itself and yet be what the next reading
        needs.
        """
        columns = features(known.readings) if known.readings.shape[2] else None
        share = dict.fromkeys(places, 0.0)
        for guide in np.moveaxis(self.choice.guides, 2, 0):
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


def _squared_correlation(one: Floats, other: Floats) -> float:
    if one.size < 2:
        return 0.0
    other = other - other.mean()
    scale = float(one @ one) * float(other @ other)
    return float(one @ other) ** 2 / scale if scale > 0.0 else 0.0


def _advised(readings: Sequence[Reading], worth: Sequence[bool]) -> Reading | None:
    """Find the cheapest reading whose gain is settled and in the interval of the best one's."""
    if not readings:
        return None
    least = max(readings, key=lambda reading: reading.gain.value).gain.low
    for reading, settled in zip(readings, worth, strict=True):
        if settled and reading.gain.value >= least:
            return reading
    return None
