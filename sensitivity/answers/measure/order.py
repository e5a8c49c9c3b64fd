"""The order of readings: greedy by what each gains, exchanged in pairs, and without the needless.

At each step the reading that gains most is taken, given those read before, with the cheapest
instrument (in minutes) whose gain lies in the interval of the best one's. Where none gains by
itself, though some do together, those are read in turn. It stops where the target is reached,
where no gain is settled, or where none saves so much as one in fifty of those that still fail.

Then each reading of the order is tried against others in its place, and the best exchange whose
gain is settled is made; and readings that the later ones made needless are left out. A gain counts
as settled at the stated confidence shared out among all that may be read (Bonferroni), since it is
the largest of many that is looked at.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sensitivity.answers.measure.rejection import Rejection, rejection_of
from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.engine.two_levels import share_proportion
from sensitivity.pricing.reading_bench import Bench, Candidate, Pick, PricedReading
from sensitivity.pricing.value_of_information import Decision
from sensitivity.pricing.value_of_readings import (
    Knowledge,
    value_of_reading,
    with_reading,
    without_readings,
)

MOST_STEPS = 12
LEAST_SAVED = 0.02
"""Share of those that still fail which a reading must save to be worth its trouble."""

CONSIDERED = 8
"""What is tried after the first step: that which would explain most of what is still unknown."""

WITH_INSTRUMENTS = 3
"""Of those, how many are tried with each instrument; the others with a perfect one alone."""

EXCHANGES, IN_ITS_PLACE = 2, 4
"""How often a reading may be exchanged, and how many are tried in the place of each."""

PART_OF_A_SUM = 0.02
"""Squared correlation with a result from which on an input counts as a part of it."""


@dataclass(frozen=True, slots=True)
class MeasureStep:
    """One reading of the order, given those before it.

    Attributes
    ----------
    name : str
        The dimension, or the result.
    reading : PricedReading
        The instrument, its minutes, and what this step adds to the step before.
    overall : Proportion or None
        Share that works with all read so far and the adjustable inputs set to suit; None without
        any.
    rejection : Rejection
        What comes of setting nothing to suit, and rejecting what is likelier to fail.
    """

    name: str
    reading: PricedReading
    overall: Proportion | None
    rejection: Rejection


@dataclass(frozen=True, slots=True)
class SaidBySum:
    """What a result that is read says of the dimensions that it is made of.

    Attributes
    ----------
    result : str
        That which is read.
    parts : tuple of str
        Dimensions that it depends on and that are not worth a reading once all of the order is
        read, those that have most say in it first.
    more : Estimate
        What all of these, known exactly, would add.
    """

    result: str
    parts: tuple[str, ...]
    more: Estimate


@dataclass(frozen=True)
class Order:
    """What to read, in order; what is then known, and the places of what is left."""

    steps: tuple[MeasureStep, ...]
    known: Knowledge
    left: tuple[int, ...]


def find_order(
    bench: Bench,
    acceptance: Decision,
    start: Knowledge,
    alone: Mapping[int, Candidate],
    target: float | None,
    now: Proportion,
) -> Order:
    """Find what to read, one after another.

    Parameters
    ----------
    bench : Bench
        What may be read, and the decision that it is to help.
    acceptance : Decision
        Whether to accept with nothing set to suit.
    start : Knowledge
        With nothing read.
    alone : mapping of place to Candidate
        What each reading gains by itself.
    target : float or None
        Share that works at which to stop.
    now : Proportion
        Share that works with nothing read.
    """
    picks = _greedy(bench, acceptance, start, alone, target, now)
    for _ in range(EXCHANGES):
        changed = exchanged(bench, start, picks)
        if changed is None:
            break
        picks = changed
    least = LEAST_SAVED * bench.share_failing(start)
    steps, known = _told(bench, acceptance, start, picks)
    fewer = _without_the_needless(bench, start, picks, known, least)
    if len(fewer) < len(picks):
        shorter, then = _told(bench, acceptance, start, fewer)
        if target is None or _share(shorter[-1]).low >= target or _share(steps[-1]).low < target:
            picks, steps, known = fewer, shorter, then
    taken = {place for place, _ in picks}
    left = tuple(place for place in range(len(bench.names)) if place not in taken)
    return Order(steps, known, left)


def said_by_sums(bench: Bench, order: Order, sums: Sequence[int]) -> tuple[SaidBySum, ...]:
    """Find, of each result that is read, the dimensions that it says enough of.

    Parameters
    ----------
    bench : Bench
        What may be read.
    order : Order
        In which some of ``sums`` are read.
    sums : sequence of int
        Places of the results.
    """
    read = {step.name for step in order.steps}
    least = LEAST_SAVED * bench.share_failing(without_readings(bench.decision))
    found = []
    for place in sums:
        if bench.names[place] not in read:
            continue
        shares = {
            other: bench.squared_correlation(place, other)
            for other in order.left
            if other not in sums
        }
        parts = [other for other, share in shares.items() if share >= PART_OF_A_SUM]
        priced = bench.candidates(order.known, parts, with_instruments=0)
        said = [
            other
            for other in parts
            if not priced[other].settled or priced[other].perfect.value < least
        ]
        if not said:
            continue
        said.sort(key=lambda other: -shares[other])
        after = with_reading(bench.decision, order.known, bench.values[..., said])
        more = value_of_reading(order.known, after, bench.confidence)
        found.append(
            SaidBySum(bench.names[place], tuple(bench.names[other] for other in said), more)
        )
    return tuple(found)


def _greedy(
    bench: Bench,
    acceptance: Decision,
    known: Knowledge,
    tried: Mapping[int, Candidate],
    target: float | None,
    now: Proportion,
) -> list[Pick]:
    picks: list[Pick] = []
    left = list(tried)
    settled, proved, wanted = 0, known, 0.0
    while len(picks) < MOST_STEPS and (target is None or now.low < target):
        least = LEAST_SAVED * bench.share_failing(known)
        wanted = least if proved is known else wanted
        best = _best_alone(bench, tried, least) or bench.first_of_several(
            known, bench.by_variance_explained(known, left)[:CONSIDERED], least
        )
        if best is None:
            break
        known = with_reading(bench.decision, known, bench.read(*best))
        picks.append(best)
        now = _works(bench, acceptance, known)
        left = [place for place in left if place != best[0]]
        gained = value_of_reading(proved, known, bench.confidence).value
        if gained >= wanted and bench.settled(proved, known):
            settled, proved = len(picks), known
        telling = bench.by_variance_explained(known, left)[:CONSIDERED]
        tried = bench.candidates(known, telling, with_instruments=WITH_INSTRUMENTS)
    # Of several that were to tell together, those that came to nothing are not advised.
    return picks[:settled]


def _best_alone(bench: Bench, tried: Mapping[int, Candidate], least: float) -> Pick | None:
    """Find the reading that gains most by itself, if it gains so much at least."""
    worth = {
        place: row.advised
        for place, row in tried.items()
        if row.advised is not None and row.advised.gain.value >= least
    }
    if not worth:
        return None
    place = max(worth, key=lambda place: worth[place].gain.value)
    return place, bench.instrument(place, worth[place].instrument)


def exchanged(bench: Bench, start: Knowledge, picks: Sequence[Pick]) -> list[Pick] | None:
    """Drop one reading and take another for it, where that is settled to gain; the best of all.

    Parameters
    ----------
    bench : Bench
        What may be read.
    start : Knowledge
        With nothing read.
    picks : sequence of Pick
        What is read.

    Returns
    -------
    list of Pick or None
        The other in its place; None where no exchange gains.
    """
    if not picks:
        return None
    whole = bench.knowing(start, picks)
    taken = {place for place, _ in picks}
    left = [place for place in range(len(bench.names)) if place not in taken]
    best: tuple[float, list[Pick]] | None = None
    for number in range(len(picks)):
        rest = [pick for place, pick in enumerate(picks) if place != number]
        known = bench.knowing(start, rest)
        for place in bench.by_variance_explained(known, left)[:IN_ITS_PLACE]:
            if not bench.instruments[place]:
                continue
            pick = (place, bench.closest_instrument(place))
            after = with_reading(bench.decision, known, bench.read(*pick))
            gain = value_of_reading(whole, after, bench.confidence).value
            if (best is None or gain > best[0]) and gain > 0.0 and bench.settled(whole, after):
                changed = [pick if at == number else one for at, one in enumerate(picks)]
                best = (gain, changed)
    return None if best is None else best[1]


def _without_the_needless(
    bench: Bench, start: Knowledge, picks: Sequence[Pick], whole: Knowledge, least: float
) -> list[Pick]:
    """Leave readings out, as long as all left out together surely lose less than ``least``."""
    kept = list(picks)
    for pick in picks[:-1]:
        fewer = [one for one in kept if one != pick]
        loss = value_of_reading(bench.knowing(start, fewer), whole, bench.confidence)
        if loss.high < least:
            kept = fewer
    return kept


def _told(
    bench: Bench, acceptance: Decision, known: Knowledge, picks: Sequence[Pick]
) -> tuple[tuple[MeasureStep, ...], Knowledge]:
    """Say what each reading adds to those before it."""
    steps = []
    for place, entry in picks:
        after = with_reading(bench.decision, known, bench.read(place, entry))
        gain = value_of_reading(known, after, bench.confidence)
        known = after
        rejection = rejection_of(acceptance, known, bench.confidence)
        overall = None
        if bench.decision is not acceptance:
            overall = _paid_share(bench, known)
        reading = PricedReading(entry.name, entry.minutes, gain)
        steps.append(MeasureStep(bench.names[place], reading, overall, rejection))
    return tuple(steps), known


def _works(bench: Bench, acceptance: Decision, known: Knowledge) -> Proportion:
    if bench.decision is not acceptance:
        return _paid_share(bench, known)
    return rejection_of(acceptance, known, bench.confidence).accepted


def _paid_share(bench: Bench, known: Knowledge) -> Proportion:
    return share_proportion(known.paid.mean(axis=1), known.paid.shape[1], bench.confidence)


def _share(step: MeasureStep) -> Proportion:
    return step.overall or step.rejection.accepted
