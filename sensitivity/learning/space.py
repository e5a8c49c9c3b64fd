"""Where the unknown is looked for: standard normals of the part, and of each trial's conditions.

A point w has one coordinate for each model and build input that varies, model inputs first, then
one for each running input that a trial leaves open and that its observations depend on. Whatever
is known of the inputs jointly - the study's copula, readings of their own, what earlier trials
taught of the physics - comes after w, so that w is standard normal and independent before
anything else is seen.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sensitivity.engine.moments import of_kinds
from sensitivity.engine.plan import Plan
from sensitivity.engine.replicate import cut_rows, row_blocks
from sensitivity.engine.sampling import scrambled_points
from sensitivity.errors import CallError
from sensitivity.learning.marginals import Marginal, Tabulated, value_of
from sensitivity.learning.observations import EventSeen, Trial, ValueSeen
from sensitivity.study.study import Limit
from sensitivity.system.system import System, Values, inside_range

Floats = NDArray[np.float64]
Places = NDArray[np.intp]


@dataclass(frozen=True)
class KnownPhysics:
    """What earlier trials taught of the model inputs: their normal scores, jointly normal.

    Attributes
    ----------
    names : tuple of str
        Model inputs.
    mean : array (k,)
    covariance : array (k, k)
    """

    names: tuple[str, ...]
    mean: Floats
    covariance: Floats


@dataclass(frozen=True)
class Occasion:
    """One trial, ready to be computed.

    Attributes
    ----------
    trial : Trial
    system, of_values : System
        The models that what was seen depends on, and those that the values seen do.
    reached : frozenset of str
        Inputs that these take.
    open : tuple of str
        Running inputs that are left open.
    start : int
        Column of the first of them.
    factor : array (o, p + o)
        Their normal scores from the part's independent ones and their own.
    """

    trial: Trial
    system: System
    of_values: System
    reached: frozenset[str]
    open: tuple[str, ...]
    start: int
    factor: Floats


@dataclass(frozen=True)
class Space:
    """The unknown, and what was seen of it.

    Attributes
    ----------
    names : tuple of str
        The part's inputs, in the order of the first columns.
    marginals : mapping of str to Marginal
        Of every varying input.
    factor : array (p, p)
        Lower: the part's dependent normal scores from independent ones.
    known : (array (p,), array (p, p)) or None
        Mean and lower factor of the independent ones where earlier trials taught of them.
    told : mapping of str to Tabulated
        Of an input that was read by itself: its score, by the standard normal that is drawn.
    """

    plan: Plan
    names: tuple[str, ...]
    marginals: Mapping[str, Marginal]
    factor: Floats
    known: tuple[Floats, Floats] | None
    told: Mapping[str, Tabulated]
    occasions: tuple[Occasion, ...]
    dimensions: int

    @property
    def values_seen(self) -> list[tuple[Occasion, ValueSeen]]:
        """Readings of values, in order."""
        return [
            (occasion, one)
            for occasion in self.occasions
            for one in occasion.trial.seen
            if isinstance(one, ValueSeen)
        ]

    @property
    def events_seen(self) -> list[tuple[Occasion, EventSeen]]:
        """Limits seen broken or kept, in order."""
        return [
            (occasion, one)
            for occasion in self.occasions
            for one in occasion.trial.seen
            if isinstance(one, EventSeen)
        ]

    @property
    def reached(self) -> frozenset[str]:
        """Inputs that what was seen can depend on."""
        return frozenset[str]().union(*(each.reached for each in self.occasions))

    @property
    def active(self) -> Places:
        """Columns (c,) that what was seen can depend on."""
        joined = self.known is not None or bool(np.any(self.factor != np.eye(len(self.names))))
        own = [at for at, name in enumerate(self.names) if joined or name in self.reached]
        return np.array([*own, *range(len(self.names), self.dimensions)], dtype=np.intp)

    def independent(self, w: Floats) -> Floats:
        """Independent normal scores (n, p) of the part as stated, from w (n, d)."""
        z = w[:, : len(self.names)]
        if self.told:
            z = z.copy()
            for column, name in enumerate(self.names):
                if name in self.told:
                    z[:, column] = value_of(self.told[name], z[:, column])
        if self.known is not None:
            mean, factor = self.known
            z = mean + z @ factor.T
        return z

    def scores(self, independent: Floats) -> Floats:
        """Normal score (n, p) of each of the part's inputs, as the study correlates them."""
        if self.plan.copula is None:
            return independent
        return independent @ self.factor.T

    def part(self, scores: Floats, only: frozenset[str] | None = None) -> dict[str, Floats]:
        """Value (n,) of each of the part's inputs, or of some, from normal scores (n, p) of all."""
        return {
            name: value_of(self.marginals[name], scores[:, column])
            for column, name in enumerate(self.names)
            if only is None or name in only
        }

    def conditions(self, occasion: Occasion, w: Floats, independent: Floats) -> dict[str, Floats]:
        """Value (n,) of each running input that a trial left open."""
        own = w[:, occasion.start : occasion.start + len(occasion.open)]
        scores = np.concatenate([independent, own], axis=1) @ occasion.factor.T
        return {
            name: value_of(self.marginals[name], scores[:, column])
            for column, name in enumerate(occasion.open)
        }

    def predicted(self, w: Floats, *, events: bool = True) -> tuple[Floats, Floats]:
        """Compute at points (n, d) what is seen: values (k, n), and margins (e, n) of the events.

        A margin is above nothing where the limit is met, minus infinity without an answer. Without
        ``events`` only what the values need is computed.
        """
        values = np.empty((len(self.values_seen), len(w)))
        margins = np.full((len(self.events_seen), len(w)), np.nan)
        independent = self.independent(w)
        part = self.part(self.scores(independent), self.reached)
        value_row = event_row = 0
        for occasion in self.occasions:
            count = sum(isinstance(one, ValueSeen) for one in occasion.trial.seen)
            some = slice(value_row, value_row + count)
            rest = slice(event_row, event_row + len(occasion.trial.seen) - count)
            value_row, event_row = some.stop, rest.stop
            if not events and not count:
                continue
            inputs = self._inputs(occasion, part, self.conditions(occasion, w, independent))
            for rows in row_blocks(len(w)):
                self._see(
                    occasion,
                    cut_rows(inputs, rows),
                    values[some, rows],
                    margins[rest, rows],
                    events,
                )
        return values, margins

    def _inputs(
        self, occasion: Occasion, part: Mapping[str, Floats], open_: Mapping[str, Floats]
    ) -> Values:
        stated = {item.name: item.nominal for item in self.plan.inputs}
        values: dict[str, Floats | float] = {**stated, **part, **open_, **occasion.trial.held}
        return {
            item.name: inside_range(values[item.name], item)[0]
            for item in self.plan.system.inputs
            if item.name in occasion.reached
        }

    def _see(
        self, occasion: Occasion, inputs: Values, values: Floats, margins: Floats, events: bool
    ) -> None:
        system = occasion.system if events else occasion.of_values
        found = {**inputs, **system.evaluate(inputs)}
        limits = limits_of(self.plan)
        value_row = event_row = 0
        for one in occasion.trial.seen:
            if isinstance(one, ValueSeen):
                values[value_row] = found[one.result]
                value_row += 1
            elif events:
                limit = limits[one.result]
                result = np.asarray(found[one.result])
                margin = np.where(np.isfinite(result), limit.margin(result), -np.inf)
                margins[event_row] = np.where(limit.met(result), np.maximum(margin, 0.0), margin)
                event_row += 1


UNKNOWN = 0x50
"""Key of the points of a replicate."""


def drawn(space: Space, replicate: int, count: int, further: int = 0) -> tuple[Floats, Floats]:
    """Draw the points (n, d) of one replicate before anything was seen.

    Also ``further`` probabilities (n, f) beside each of them.
    """
    from sensitivity.spreads.special_functions import ndtri

    dimensions = max(space.dimensions + further, 1)
    points = scrambled_points(space.plan.seed, (replicate, UNKNOWN), dimensions, count)
    own = space.dimensions
    return np.asarray(ndtri(points[:, :own])), points[:, own : own + further]


def limits_of(plan: Plan) -> dict[str, Limit]:
    """Limits by the result that they are of."""
    return {limit.result: limit for limit in plan.limits}


def space_of(
    plan: Plan,
    trials: Sequence[Trial],
    *,
    marginals: Mapping[str, Marginal] | None = None,
    physics: KnownPhysics | None = None,
    told: Mapping[str, Tabulated] | None = None,
) -> Space:
    """Lay out the unknown of some trials.

    Parameters
    ----------
    plan : Plan
        Of the design as stated.
    trials : sequence of Trial
        As ``check_trials`` lets them pass.
    marginals : mapping of str to Marginal, optional
        Of varying inputs that vary otherwise than stated.
    physics : KnownPhysics, optional
        What is known of the model inputs already.
    told : mapping of str to Tabulated, optional
        As of ``Space``.
    """
    names = (*of_kinds(plan, "model"), *of_kinds(plan, "build"))
    every = {item.name: item.spread for item in plan.varying if item.spread is not None}
    matrix = _correlations(plan, (*names, *of_kinds(plan, "running")))
    count = len(names)
    factor = _lower(matrix[:count, :count])
    running = of_kinds(plan, "running")
    occasions, start = [], count
    for trial in trials:
        wanted = {one.result for one in trial.seen}
        system, reached = reaching(plan.system, wanted)
        open_ = tuple(n for n in running if n in reached | wanted and n not in trial.held)
        places = [*range(count), *(count + running.index(name) for name in open_)]
        whole = _lower(matrix[np.ix_(places, places)])
        touched = frozenset(reached | wanted)
        read = {one.result for one in trial.seen if isinstance(one, ValueSeen)}
        of_values, _ = reaching(plan.system, read)
        occasions.append(Occasion(trial, system, of_values, touched, open_, start, whole[count:]))
        start += len(open_)
    return Space(
        plan=plan,
        names=names,
        marginals={**every, **(marginals or {})},
        factor=factor,
        known=None if physics is None else _known(names, factor, physics),
        told=told or {},
        occasions=tuple(occasions),
        dimensions=start,
    )


def _lower(matrix: Floats) -> Floats:
    """Lower factor of a matrix, which may be of nothing."""
    return np.asarray(np.linalg.cholesky(matrix), dtype=np.float64) if len(matrix) else matrix


def _correlations(plan: Plan, names: Sequence[str]) -> Floats:
    """Correlations (d, d) of the normal scores of inputs."""
    matrix = np.eye(len(names))
    if plan.copula is not None:
        places = [names.index(name) for name in plan.copula.names]
        matrix[np.ix_(places, places)] = plan.copula.factor @ plan.copula.factor.T
    return matrix


def _known(names: tuple[str, ...], factor: Floats, physics: KnownPhysics) -> tuple[Floats, Floats]:
    """Mean and lower factor of the part's independent scores, of which some are known.

    Model inputs come first, so that their independent scores are those of the factor's upper left.
    """
    unknown = [name for name in physics.names if name not in names]
    if unknown:
        raise CallError(f"no model input of this study varies as {', '.join(unknown)}")
    places = [names.index(name) for name in physics.names]
    count = max(places, default=-1) + 1
    stated = factor[:count, :count] @ factor[:count, :count].T
    # What is not known of varies with what is as the study has it.
    follows = stated[:, places] @ np.linalg.inv(stated[np.ix_(places, places)])
    covariance = (
        stated - follows @ (stated[np.ix_(places, places)] - physics.covariance) @ follows.T
    )
    inner = np.linalg.inv(factor[:count, :count])
    mean, whole = np.zeros(len(names)), np.eye(len(names))
    mean[:count] = inner @ follows @ physics.mean
    whole[:count, :count] = np.linalg.cholesky(inner @ covariance @ inner.T)
    return mean, whole


def reaching(system: System, results: set[str]) -> tuple[System, set[str]]:
    """Cut a system to the models that some results need, and name the inputs that these take."""
    wanted, models, inputs = set(results), [], set()
    of_model = {item.name for model in system.models for item in model.results}
    for model in reversed(system.models):
        if wanted.isdisjoint(item.name for item in model.results):
            continue
        models.append(model)
        sources = {name for wire in system.wires[model.name] for name in wire.sources}
        wanted |= sources
        inputs |= sources - of_model
    return replace(system, models=tuple(reversed(models))), inputs
