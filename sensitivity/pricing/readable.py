"""What can be read of a finished part: its dimensions, and results that a gauge reaches.

A result is read as the models have it of each part, with what the study holds meanwhile held
(``at``); conditions of running that it does not hold are as they happen to be, each part at a
moment of its own, and are part of the error of its reading.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.moments import Crossed, CrossedValues, crossed_values
from sensitivity.engine.plan import Plan
from sensitivity.pricing.instruments import Readable, instruments_for
from sensitivity.spreads.spread import quantile
from sensitivity.spreads.workshop import WorkshopEntry
from sensitivity.study.study import Input, Reading, Study
from sensitivity.system.system import Values, inside_range

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

GAUGED = 0x6A
"""Last number of the key by which each part is given the moment that it is read in."""


@dataclass(frozen=True)
class Readables:
    """What may be read, in the order of its columns.

    Attributes
    ----------
    inputs : tuple of Input
        Dimensions.
    results : tuple of Reading
        Results, in the columns after them.
    """

    inputs: tuple[Input, ...] = ()
    results: tuple[Reading, ...] = ()

    @property
    def items(self) -> tuple[Readable, ...]:
        """All of them."""
        return (*self.inputs, *self.results)

    @property
    def names(self) -> tuple[str, ...]:
        """Their names; no result has the name of an input."""
        return tuple(item.name for item in self.items)


NOTHING_TO_READ = Readables()


def readable_of(study: Study) -> Readables:
    """Find what may be read: build dimensions that vary and are not set, and results.

    A dimension that is correlated with another is left out: what its reading tells of the other is
    not worked out where it is taken up ("built").
    """
    correlated = {name for row in study.correlations for name in row.inputs}
    inputs = tuple(
        item
        for item in study.varying
        if item.kind == "build" and item.adjust is None and item.name not in correlated
    )
    return Readables(inputs, tuple(study.readings.values()))


def values_to_read(
    plan: Plan, sample: Crossed, values: CrossedValues, readables: Readables, replicate: int
) -> Floats:
    """Find the true values (n, c) of what may be read, of every part of a sample.

    Parameters
    ----------
    plan : Plan
        Whose sample it is.
    sample : Crossed
        Parts (n) and moments.
    values : CrossedValues
        Those as stated.
    readables : Readables
        Of which inputs are read as they are; where that is physically impossible the part fails
        whatever is read, and the nominal is put there.
    replicate : int
        Number of the replicate, by which each part has its moment.

    Returns
    -------
    array (n, c)
        Each in its unit. A result that a model has no answer for has the mean of the others.
    """
    nominal = {item.name: item.nominal for item in plan.inputs}
    found = np.empty((sample.count, len(readables.items)))
    for column, item in enumerate(readables.inputs):
        value = values.by_part.get(item.name)
        one = values.held[item.name] if value is None else value[:, 0]
        found[:, column] = np.where(np.isfinite(one), one, nominal[item.name])
    if not readables.results:
        return found
    stream = np.random.SeedSequence(plan.seed, spawn_key=(replicate, GAUGED))
    own = [value.size for value in sample.moments.values()]
    own += [leaning.of_moment.size for leaning in sample.leaning.values()]
    moments = max(own, default=1)
    which = np.random.default_rng(stream).integers(moments, size=sample.count)
    for at in {tuple(sorted(reading.at.items())) for reading in readables.results}:
        held = crossed_values(plan, sample, dict(at), values)
        answers = plan.system.evaluate(_paired(held, which))
        for column, reading in enumerate(readables.results, start=len(readables.inputs)):
            if tuple(sorted(reading.at.items())) == at:
                found[:, column] = as_gauged(reading, answers[reading.name], sample.count)
    return found


def as_gauged(reading: Reading, values: Floats | float, rows: int) -> Floats:
    """Say what there is to gauge (n,): a gap is none where parts meet, however far they would."""
    whole = np.broadcast_to(np.asarray(values, dtype=np.float64), (rows,))
    told = np.isfinite(whole)
    filled = np.where(told, whole, whole[told].mean() if told.any() else 0.0)
    return np.maximum(filled, 0.0) if reading.read_as == "gap" else filled


def _paired(values: CrossedValues, which: Places) -> Values:
    """Values (n,) of each part at the one moment of its own."""
    found: dict[str, Floats | float] = dict(values.held)
    found |= {name: value[:, 0] for name, value in values.by_part.items()}
    found |= {name: value[0, which] for name, value in values.by_moment.items()}
    for name, (leaning, spread, quantity) in values.leaning.items():
        from sensitivity.spreads.special_functions import ndtr

        score = leaning.of_part + leaning.of_moment[which]
        found[name], _ = inside_range(quantile(spread, ndtr(score)), quantity)
    return found


def that_vary(readables: Readables, values: Floats) -> tuple[Readables, Floats]:
    """Leave out results that are alike for all parts, and their columns of values (r, n, c)."""
    inputs = len(readables.inputs)
    vary = np.ptp(values, axis=(0, 1)) > 0.0
    vary[:inputs] = True
    results = tuple(
        item for item, kept in zip(readables.results, vary[inputs:], strict=True) if kept
    )
    return Readables(readables.inputs, results), values[..., vary]


def instruments_of(
    study: Study, readables: Readables, at_hand: Sequence[str] = ()
) -> tuple[tuple[WorkshopEntry, ...], ...]:
    """Find what reads each dimension and result, by its kind and its size as drawn."""
    drawn = study.nominal_results() if readables.results else {}
    sizes = {name: value for name, value in drawn.items() if isfinite(value)}
    return (
        *(instruments_for(item, at_hand) for item in readables.inputs),
        *(instruments_for(item, at_hand, size=sizes.get(item.name)) for item in readables.results),
    )
