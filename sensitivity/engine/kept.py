"""Whether a part keeps its limits at nearly all moments, counted at the hardest moments first.

A part with a chance R of keeping its limits at a moment works where R is at least ``keeps``. From
a finite number of moments that is a verdict with a step in it, placed so that its mean over parts
is all but unbiased (``lattice``). Few moments decide most parts: a pilot finds which are the
hardest, parts are dropped as soon as they have failed too often, or can hardly fail any more, and
an audit of those dropped as good keeps the answer unbiased whatever the pilot missed.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.audit import drawn_together, second_numbers, shares_going_on
from sensitivity.errors import CallError
from sensitivity.study.study import HIGHEST_KEEPS, LOWEST_KEEPS

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Places = NDArray[np.intp]
Counts = NDArray[np.int64]

Fails = Callable[[Places, Places], Flags]
"""At which moments (c,) each part (a,) fails: flags (a, c)."""

FEWEST_MOMENTS = 256
FAILURES_EXPECTED = 10
"""Failing moments at the verge, as a power of two of moments at least allows for."""

FIRST_CHUNK = 32
"""Moments counted before parts are dropped; then twice as many, twice, and then four times as many
each time, for what is left after the hardest is seldom decided soon, and every chunk is a call."""
DOUBLED = 3
"""Chunks of which each has twice the moments of the one before."""


@dataclass(frozen=True, slots=True)
class Lattice:
    """The verdict from a count f of failing moments: 1 up to ``most``, ``part`` at one more."""

    most: int
    part: float

    def verdict(self, failures: Counts) -> Floats:
        """Verdicts (n,) of parts from their failing moments (n,), counted whole."""
        verge = np.where(failures == self.most + 1, self.part, 0.0)
        return np.where(failures <= self.most, 1.0, verge)


WITHOUT_MOMENTS = Lattice(0, 0.0)
"""Where nothing varies from moment to moment: a part works or does not."""


def check_keeps(keeps: float) -> None:
    """Raise CallError where ``keeps`` is no share of the moments that can be asked for."""
    if not LOWEST_KEEPS <= keeps <= HIGHEST_KEEPS:
        raise CallError(
            f"keeps: found {keeps:g}; should be a share of the moments from {LOWEST_KEEPS:g} to "
            f"{HIGHEST_KEEPS:g}, like 0.99"
        )


def moments_for(keeps: float) -> int:
    """Moments that a share of them wants: a power of two with ten to fail at the verge."""
    wanted = round(FAILURES_EXPECTED / (1.0 - keeps), 6)
    return max(FEWEST_MOMENTS, 1 << int(np.ceil(np.log2(wanted))))


def lattice(keeps: float, moments: int) -> Lattice:
    """Place the verdict's step for a share and a number of moments.

    With h = (1 - keeps) n - 1/2 failing moments, the verdict is 1 up to the whole number below h,
    and the fraction of h at one more: the mean over parts of a plain count would be out by
    0.0012 to 0.03, of this by 0.0001 to 0.002 (measured on a linear margin).

    Raises
    ------
    CallError
        Where the moments are too few for the share.
    """
    check_keeps(keeps)
    verge = round((1.0 - keeps) * moments - 0.5, 9)
    if verge < 0.0:
        raise CallError(
            f"{moments} moments are too few to tell whether a part keeps in {keeps:g} of them; at "
            f"least {moments_for(keeps)} are wanted"
        )
    most = int(verge)
    return Lattice(most, verge - most)


@dataclass(frozen=True)
class Order:
    """In which order moments are counted, and when parts may be dropped as good.

    Attributes
    ----------
    moments : array (c,)
        Places of the moments, the hardest first.
    ends : tuple of int
        How many moments are counted at the end of each chunk.
    left : array (chunks,)
        Most failures that a part of the pilot still had to come after each chunk; infinite where
        none was left to tell.
    spotless : float
        Moments after which a part that has failed at none of them is dropped as good.
    """

    moments: Places
    ends: tuple[int, ...]
    left: Floats
    spotless: float = np.inf

    def chunks(self) -> Iterator[Places]:
        """Places of the moments of each chunk."""
        start = 0
        for end in self.ends:
            yield self.moments[start:end]
            start = end


def hardest_first(failed: Flags, step: Lattice) -> Order:
    """Order the moments by what the parts of a pilot fail at.

    Parameters
    ----------
    failed : flags (p, c)
        Of each part of the pilot at all moments.
    step : Lattice
        The verdict that the failures lead to.

    Returns
    -------
    Order
        A moment's score is the sum over parts of 1/f where the part, of f failures in all, fails
        at it; parts that fail at a quarter of the moments or more tell nothing.
    """
    count = failed.shape[1]
    failures = failed.sum(axis=1)
    telling = (failures > 0) & (failures < max(count / 4, 2 * (step.most + 1)))
    score = (failed[telling] / failures[telling, None]).sum(axis=0)
    moments = np.argsort(-score, kind="stable")
    ends = _ends(count)
    so_far = np.cumsum(failed[:, moments], axis=1)[:, np.asarray(ends) - 1]
    alive = so_far <= step.most + 1
    to_come = np.where(alive, failures[:, None] - so_far, -np.inf).max(axis=0)
    left = np.where(np.isneginf(to_come), np.inf, to_come)
    return Order(moments, ends, left)


def _ends(count: int) -> tuple[int, ...]:
    found: list[int] = []
    size = end = FIRST_CHUNK
    while 2 * end < count:
        found.append(end)
        size *= 2 if len(found) < DOUBLED else 4
        end += size
    return (*found, count)


@dataclass(frozen=True)
class Counted:
    """Verdicts of parts; their mean plus the correction is the share that works, unbiased.

    Attributes
    ----------
    verdicts : array (n,)
        0 to 1; those of parts dropped as good, and not audited, are taken to be 1.
    failures : array (n,)
        Failing moments among those that each part was counted at.
    dropped : flags (n,)
        Parts dropped as good.
    audited : array (m,)
        Places of those of them that were counted further.
    lost : array (m,)
        How many dropped parts, as each of these tells, do not work.
    correction : float
        What the audit adds to the mean, 0 or less.
    evaluations : int
        Moments of parts that were asked for.
    """

    verdicts: Floats
    failures: Counts
    dropped: Flags
    audited: Places
    lost: Floats
    correction: float
    evaluations: int

    @property
    def share(self) -> float:
        """Share of the parts that work."""
        return float(self.verdicts.mean()) + self.correction

    @property
    def weighted(self) -> Floats:
        """Verdicts (n,) whose mean is the share: those audited count for all they stand for.

        Unbiased over any parts that are taken without looking at the audit; may be below 0.
        """
        found = self.verdicts.copy()
        found[self.audited] = 1.0 - self.lost
        return found


def count(
    fails: Fails,
    parts: int,
    order: Order,
    step: Lattice,
    *,
    audit: Floats | None = None,
    known: Counts | None = None,
) -> Counted:
    """Count failing moments, the hardest first, until each part is decided.

    Parameters
    ----------
    fails : callable of places (a,) and (c,)
        Tells at which moments parts fail.
    parts : int
        How many there are.
    order : Order
        Of the moments.
    step : Lattice
        The verdict that the failures lead to.
    audit : array (parts,), optional
        Numbers drawn for each part, by which some of those dropped as good are counted further
        (``engine/audit``). The same numbers for two designs audit the same parts where they can. No
        audit where they are not given.
    known : array (p,), optional
        Failing moments of the first parts, counted whole already.
    """
    (found,) = count_each(fails, 1, parts, order, step, audit=audit, known=[known])
    return found


def count_each(
    fails: Fails,
    designs: int,
    parts: int,
    order: Order,
    step: Lattice,
    *,
    audit: Floats | None = None,
    known: Sequence[Counts | None] = (),
) -> list[Counted]:
    """Count the same parts as each of several designs, in step: as ``count``, in fewer calls.

    The parts of the designs lie end to end: ``fails`` is asked for places ``design * parts +
    part``. A few parts that are left of each design make one call together, not one each.
    ``known`` are failing moments of the first parts of the first designs, where they are known.
    """
    each_known = [*known, *[None] * (designs - len(known))]
    return count_lots(fails, [Lot(parts, order, audit, first) for first in each_known], step)


@dataclass(frozen=True, slots=True)
class Lot:
    """Parts that are counted in step with those of others, as of ``count``.

    Lots have the same moments, in the same order and chunks; when parts are dropped is each one's.
    """

    parts: int
    order: Order
    audit: Floats | None = None
    known: Counts | None = None


def count_lots(fails: Fails, lots: Sequence[Lot], step: Lattice) -> list[Counted]:
    """Count several lots of parts in step; their places lie end to end."""
    chunks = list(lots[0].order.chunks())
    firsts = np.cumsum([0, *(lot.parts for lot in lots)])
    under_way = [_counting(lot, step) for lot in lots]
    asked: dict[int, _Asked] = {}
    found: dict[int, Counted] = {}

    def go_on(lot: int, failed: Flags | None) -> None:
        try:
            asked[lot] = under_way[lot].send(failed)
        except StopIteration as done:
            asked.pop(lot, None)
            found[lot] = done.value

    for lot in range(len(lots)):
        go_on(lot, None)
    while asked:
        turn = min(each.turn for each in asked.values())
        now = [lot for lot in sorted(asked) if asked[lot].turn == turn]
        places = np.concatenate([firsts[lot] + asked[lot].parts for lot in now])
        failed = fails(places, chunks[turn[1]])
        start = 0
        for lot in now:
            end = start + asked[lot].parts.size
            go_on(lot, failed[start:end])
            start = end
    return [found[lot] for lot in range(len(lots))]


@dataclass(frozen=True, slots=True)
class _Asked:
    """Parts (a,) whose failures are asked for, and when: first or for the audit, at which chunk."""

    parts: Places
    turn: tuple[int, int]


def _counting(lot: Lot, step: Lattice) -> Generator[_Asked, Flags | None, Counted]:
    """Count one lot: asks for flags (a, c) of some parts at a chunk of the moments at a time."""
    parts, order, audit, known = lot.parts, lot.order, lot.audit, lot.known
    failures = np.zeros(parts, dtype=np.int64)
    first = 0 if known is None else known.size
    if known is not None:
        failures[:first] = known
    counted = np.full(parts, len(order.ends))
    dropped = np.zeros(parts, dtype=np.bool_)
    active = np.arange(first, parts)
    evaluations = 0
    last = len(order.ends) - 1
    for number in range(len(order.ends)):
        if not active.size:
            break
        failed = yield _Asked(active, (0, number))
        assert failed is not None
        failures[active] += np.count_nonzero(failed, axis=1)
        evaluations += failed.size
        if number == last:
            break
        so_far = failures[active]
        good = so_far + order.left[number] <= step.most
        if order.ends[number] >= order.spotless:
            good |= so_far == 0
        counted[active[good]] = number + 1
        dropped[active[good]] = True
        active = active[~good & (so_far <= step.most + 1)]
    drawn, lost = np.zeros(0, dtype=np.intp), np.zeros(0)
    if audit is not None and dropped.any():
        good = np.flatnonzero(dropped)
        drawn, stand_for = drawn_together(good, failures[good], step, audit)
        lost, spent = yield from _audited(failures, counted, (drawn, stand_for), order, step, audit)
        evaluations += spent
    verdicts = step.verdict(failures)
    correction = float((1.0 - verdicts[drawn]).sum() - lost.sum()) / parts
    return Counted(verdicts, failures, dropped, drawn, lost, correction, evaluations)


def _audited(
    failures: Counts,
    counted: Places,
    chosen: tuple[Places, Floats],
    order: Order,
    step: Lattice,
    audit: Floats,
) -> Generator[_Asked, Flags | None, tuple[Floats, int]]:
    """Count some of the parts dropped as good further, in place; ever fewer in ever longer chunks.

    ``counted`` (n,) tells after how many chunks each part was left; ``chosen`` are places (m,) and
    how many parts each of these stands for. Returns how many of those do not work (m,), and the
    evaluations that told it.
    """
    drawn, stand_for = chosen
    lost, evaluations = np.zeros(drawn.size), 0
    numbers, entered = second_numbers(audit[drawn]), counted[drawn]
    shares = shares_going_on(order.ends)
    for number in range(len(order.ends)):
        share = shares[number] / shares[entered]
        going = (entered <= number) & (numbers < share) & (failures[drawn] <= step.most + 1)
        late = np.flatnonzero(going)
        if late.size:
            places = drawn[late]
            failed = yield _Asked(places, (1, number))
            assert failed is not None
            before = step.verdict(failures[places])
            failures[places] += np.count_nonzero(failed, axis=1)
            lost[late] += stand_for[late] / share[late] * (before - step.verdict(failures[places]))
            evaluations += failed.size
    return lost, evaluations
