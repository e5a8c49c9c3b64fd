"""Parts and moments of one replicate, crossed: every part is tried at the same moments.

A part is one draw of all build and model inputs, a moment one draw of all running inputs (with a
schedule, of all its steps). Parts come from one scrambled sequence and moments from another,
independent of it. Models are given the former as (a, 1) and the latter as (1, c), so that they
compute once what depends on one of them alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.bounded import Verdicts, check_bounds
from sensitivity.engine.kept import Fails
from sensitivity.engine.plan import Plan
from sensitivity.engine.sampling import scrambled_points
from sensitivity.spreads.copula import Copula
from sensitivity.spreads.spread import Spread, quantile
from sensitivity.system.catalogue import Quantity
from sensitivity.system.crossing import with_crossing
from sensitivity.system.remarks import Kind
from sensitivity.system.system import Values, inside_range

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Places = NDArray[np.intp]

Variant = Mapping[str, Spread | float]
"""Inputs by name, each with the spread or the value that it has instead."""

AS_STATED: Variant = {}

TILE = 16384
"""Evaluations at a time."""
ACROSS = 64
"""Moments of a tile: about as many as parts, so that neither's own terms weigh."""

PARTS, MOMENTS, BUILDS, DOUBTS, SWAPPED = 1, 2, 3, 4, 5
"""Which sequence of a replicate: second number of its key."""

_FOR: dict[int, tuple[Kind, ...]] = {
    PARTS: ("build", "model"),
    MOMENTS: ("running",),
    BUILDS: ("build",),
    DOUBTS: ("model",),
    SWAPPED: ("build", "model"),
}
"""Kinds of inputs that each sequence is for."""

_ORDER: dict[Kind, int] = {"model": 0, "build": 1, "running": 2}
"""Correlated inputs are drawn one given the others: what is not known, the part, its moment."""


@dataclass(frozen=True)
class Leaning:
    """A running input correlated with inputs of the part: two terms of its normal score.

    ``of_part`` (p,) is what its mean gets from the part, ``of_moment`` (c,) the rest.
    """

    of_part: Floats
    of_moment: Floats


@dataclass(frozen=True)
class Crossed:
    """Parts (p) and moments (c), as positions 0..1 in each varying input's spread.

    Attributes
    ----------
    parts, moments : mapping of name to array (p,) or (c,)
        Correlated inputs are already dependent.
    leaning : mapping of name to Leaning
        Running inputs whose position depends on the part too.
    count : int
        Number of parts.
    """

    parts: Mapping[str, Floats]
    moments: Mapping[str, Floats]
    leaning: Mapping[str, Leaning]
    count: int


def of_kinds(plan: Plan, *kinds: Kind) -> tuple[str, ...]:
    """Names of the varying inputs of these kinds, in the study's order."""
    return tuple(item.name for item in plan.varying if item.kind in kinds)


def positions(
    plan: Plan, replicate: int, sequence: int, points: int, samples: int = 1
) -> list[dict[str, Floats]]:
    """Draw independent positions (points,) of every varying input, once or several times.

    Every sequence has a dimension for each of the plan's columns, so that a name draws the same
    numbers in designs that share columns. Those that the sequence is for come first, where points
    are spread best: with the running inputs last, intervals were twice as wide (measured).
    """
    own = _FOR[sequence]
    columns = sorted(plan.columns, key=lambda name: plan.kinds.get(name, "build") not in own)
    count = len(columns)
    drawn = scrambled_points(plan.seed, (replicate, sequence), samples * count, points)
    names = {item.name for item in plan.varying}
    return [
        {name: drawn[:, start + at] for at, name in enumerate(columns) if name in names}
        for start in range(0, samples * count, count)
    ]


def crossed_sample(plan: Plan, replicate: int, parts: int, moments: int) -> Crossed:
    """Draw the parts and the moments of one replicate, numbers of each a power of two."""
    (of_parts,) = positions(plan, replicate, PARTS, parts)
    return cross(plan, of_parts, moments_of(plan, replicate, moments))


def moments_of(plan: Plan, replicate: int, moments: int) -> dict[str, Floats]:
    """Draw the moments of one replicate: independent positions (moments,)."""
    return positions(plan, replicate, MOMENTS, moments)[0]


def cross(plan: Plan, parts: Mapping[str, Floats], moments: Mapping[str, Floats]) -> Crossed:
    """Make correlated inputs dependent, and keep of each sample the inputs that are its own.

    Parameters
    ----------
    plan : Plan
        Whose copula it is.
    parts, moments : mapping of name to array (p,) and (c,)
        Independent positions of every varying input.
    """
    own = of_kinds(plan, "build", "model")
    running = of_kinds(plan, "running")
    count = next(iter(parts.values())).size
    found = {name: parts[name] for name in own}
    at = {name: moments[name] for name in running}
    leaning: dict[str, Leaning] = {}
    if plan.copula is not None:
        _correlate(plan, plan.copula, found, at, leaning)
    return Crossed(found, at, leaning, count)


def _correlate(
    plan: Plan,
    copula: Copula,
    parts: dict[str, Floats],
    moments: dict[str, Floats],
    leaning: dict[str, Leaning],
) -> None:
    """Replace independent positions by dependent ones, in place.

    The factor is lower triangular in the order of ``_ORDER``, so that parts do not depend on
    moments; a running input's normal is then a term of the part plus a term of the moment.
    """
    from sensitivity.spreads.special_functions import ndtr, ndtri

    kind = {item.name: item.kind for item in plan.inputs}
    names = sorted(copula.names, key=lambda name: _ORDER[kind[name]])
    place = [copula.names.index(name) for name in names]
    matrix = (copula.factor @ copula.factor.T)[np.ix_(place, place)]
    factor = np.linalg.cholesky(matrix)
    factor[np.abs(factor) < 1e-12] = 0.0
    first = sum(kind[name] != "running" for name in names)
    of_parts = [ndtri(parts[name]) for name in names[:first]]
    of_moments = [ndtri(moments[name]) for name in names[first:]]
    for row, name in enumerate(names):
        from_part = sum(
            (weight * z for weight, z in zip(factor[row, :first], of_parts, strict=True)),
            start=np.zeros(()),
        )
        if row < first:
            parts[name] = ndtr(from_part)
            continue
        from_moment = sum(
            (weight * z for weight, z in zip(factor[row, first:], of_moments, strict=True)),
            start=np.zeros(()),
        )
        if factor[row, :first].any():
            leaning[name] = Leaning(from_part, from_moment)
            del moments[name]
        else:
            moments[name] = ndtr(from_moment)


@dataclass(frozen=True)
class CrossedValues:
    """Values of all inputs over parts (p) and moments (c), NaN where physically impossible.

    Attributes
    ----------
    by_part, by_moment : mapping of name to array (p, 1) or (1, c)
    held : mapping of name to float
    leaning : mapping of name to (Leaning, Spread, Quantity)
        Whose values (a, c) are made of the parts and moments that are asked for.
    """

    by_part: Mapping[str, Floats]
    by_moment: Mapping[str, Floats]
    held: Mapping[str, float]
    leaning: Mapping[str, tuple[Leaning, Spread, Quantity]]

    def cut(self, parts: Places, moments: Places) -> Values:
        """Take some parts (a,) and moments (c,): values (a, 1), (1, c), (a, c) and numbers."""
        values: dict[str, Floats | float] = dict(self.held)
        values |= {name: value[parts] for name, value in self.by_part.items()}
        values |= {name: value[:, moments] for name, value in self.by_moment.items()}
        for name, (leaning, spread, quantity) in self.leaning.items():
            from sensitivity.spreads.special_functions import ndtr

            score = leaning.of_part[parts, None] + leaning.of_moment[None, moments]
            values[name], _ = inside_range(quantile(spread, ndtr(score)), quantity)
        return values


def crossed_values(
    plan: Plan,
    sample: Crossed,
    variant: Variant = AS_STATED,
    stated: CrossedValues | None = None,
) -> CrossedValues:
    """Turn positions into values, as stated or with what a variant has instead.

    A variant holds any input at a value, or gives another spread to one that varies; what it has
    as stated is taken from ``stated``, the same sample's, where that is given.
    """
    spreads = {item.name: item.spread for item in plan.varying if item.spread is not None}
    nominals = {item.name: item.nominal for item in plan.inputs}
    by_part: dict[str, Floats] = {}
    by_moment: dict[str, Floats] = {}
    held: dict[str, float] = {}
    leaning: dict[str, tuple[Leaning, Spread, Quantity]] = {}
    for quantity in plan.system.inputs:
        name = quantity.name
        spread = variant.get(name, spreads.get(name, nominals[name]))
        known = stated if name not in variant else None
        if known is not None and name in known.held:
            held[name] = known.held[name]
        elif known is not None and name in known.by_part:
            by_part[name] = known.by_part[name]
        elif known is not None and name in known.by_moment:
            by_moment[name] = known.by_moment[name]
        elif not isinstance(spread, Spread):
            number, _ = inside_range(float(spread), quantity)
            held[name] = float(number)
        elif name in sample.leaning:
            leaning[name] = (sample.leaning[name], spread, quantity)
        elif name in sample.moments:
            values = quantile(spread, sample.moments[name][None, :])
            by_moment[name] = np.asarray(inside_range(values, quantity)[0])
        else:
            values = quantile(spread, sample.parts[name][:, None])
            by_part[name] = np.asarray(inside_range(values, quantity)[0])
    return CrossedValues(by_part, by_moment, held, leaning)


def end_to_end(designs: Sequence[CrossedValues], parts: Sequence[int]) -> CrossedValues | None:
    """Lay the parts of several designs end to end, so many of each.

    None where the designs differ in what varies from moment to moment, which all parts share.
    """
    first = designs[0]
    if any(
        each.by_moment.keys() != first.by_moment.keys()
        or any(each.by_moment[name] is not value for name, value in first.by_moment.items())
        or each.leaning
        for each in designs
    ):
        return None
    names = first.held.keys() | first.by_part.keys()
    held: dict[str, float] = {}
    by_part: dict[str, Floats] = {}
    for name in names:
        pieces = [each.held.get(name, each.by_part.get(name)) for each in designs]
        if isinstance(pieces[0], float) and all(
            isinstance(piece, float) and piece == pieces[0] for piece in pieces
        ):
            held[name] = pieces[0]
        else:
            whole = [
                piece if isinstance(piece, np.ndarray) else np.full((count, 1), piece)
                for piece, count in zip(pieces, parts, strict=True)
            ]
            by_part[name] = np.concatenate(whole)
    return CrossedValues(by_part, first.by_moment, held, {})


def failing_as_each(
    plan: Plan, designs: Sequence[CrossedValues], parts: int | Sequence[int]
) -> Fails:
    """Tell where parts fail as each of several designs, their places end to end.

    ``parts`` are of each design, or of every one of them: part p of design d is then at
    ``d * parts + p``.
    """
    counts = [parts] * len(designs) if isinstance(parts, int) else list(parts)
    together = end_to_end(designs, counts)
    if together is not None:
        return partial(failing, plan, together)
    ends = np.cumsum(counts)

    def fails(places: Places, moments: Places) -> Flags:
        of_design = np.searchsorted(ends, places, side="right")
        found = [
            failing(plan, each, places[of_design == number] - (end - count), moments)
            for number, (each, end, count) in enumerate(zip(designs, ends, counts, strict=True))
        ]
        return np.concatenate(found)  # places come in the order of the designs

    return fails


def failing(plan: Plan, values: CrossedValues, parts: Places, moments: Places) -> Flags:
    """Tell at which moments (c,) each part (a,) fails: flags (a, c).

    A part fails where it breaks a limit, and where it has no answer.
    """
    verdicts = Verdicts(plan, np.empty((parts.size, moments.size), dtype=np.bool_))
    across = min(moments.size, max(ACROSS, TILE // max(parts.size, 1)))
    down = max(1, TILE // across)
    for top in range(0, parts.size, down):
        some = parts[top : top + down]
        for left in range(0, moments.size, across):
            at = moments[left : left + across]
            tile = slice(top, top + down), slice(left, left + across)
            verdicts.judge(tile, values.cut(some, at))
    verdicts.finish()
    return np.logical_not(verdicts.kept, out=verdicts.kept)


def crossing_plan(plan: Plan) -> Plan:
    """Give the plan a system that takes crossed arrays, whatever its models are like."""
    values = crossed_values(plan, crossed_sample(plan, 0, 8, 4))
    few = values.cut(np.arange(8), np.arange(4))
    plan = replace(plan, system=with_crossing(plan.system, few))
    check_bounds(plan, few)
    return plan
