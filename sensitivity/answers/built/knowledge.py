"""From readings to one posterior: what each takes the place of, joins, or contradicts.

What the study states of a dimension is how it is spread before it was read, and the reading how
likely each size then is: both count, as ``measure`` counts on, and a fine instrument leaves little
of the former. So do readings of results, which tell of all that they are made of. A reading stands
alone where nothing is stated for it to join: a dimension that is held as drawn, one that was set
to suit (``adjust``), and a condition of running. One that contradicts what is stated of its
dimension widens that, and is told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sensitivity.answers.built.readings import Measured
from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import Plan, plan_run
from sensitivity.learning.observations import Trial, ValueSeen
from sensitivity.learning.posterior import Posterior, posterior
from sensitivity.learning.widening import widened
from sensitivity.pricing.instruments import Readable
from sensitivity.spreads.copula import copula_factor
from sensitivity.spreads.spread import Spread
from sensitivity.study.study import Input, Reading, Study


@dataclass(frozen=True, slots=True)
class Widened:
    """A dimension whose reading contradicts what is stated of it, and how far that was widened."""

    measured: Measured
    factor: float


@dataclass(frozen=True)
class Known:
    """What is known with the readings.

    Attributes
    ----------
    study : Study
        With readings that stand alone in it, and what was contradicted widened.
    plan, drawn : Plan
        Of it, and of the study as drawn; both draw the same numbers.
    after, before : Posterior
        With the readings, and as drawn.
    widened : tuple of Widened
    """

    study: Study
    plan: Plan
    drawn: Plan
    after: Posterior
    before: Posterior
    widened: tuple[Widened, ...]


def stands_alone(item: Readable) -> bool:
    """Tell whether a reading takes the place of what is stated of an input."""
    if not isinstance(item, Input):
        return False
    return item.spread is None or item.kind == "running" or item.adjust is not None


def study_with_readings(study: Study, measured: Sequence[Measured]) -> Study:
    """Put the readings that stand alone in a study, in the place of what it states.

    Correlations of what was so read go: it is what was read, whatever the other is. What was set
    to suit is not set again.
    """
    alone = {one.item.name: one for one in measured if stands_alone(one.item)}
    inputs = tuple(
        _as_read(item, alone[item.name]) if item.name in alone else item for item in study.inputs
    )
    kept = tuple(row for row in study.correlations if alone.keys().isdisjoint(row.inputs))
    return replace(study, inputs=inputs, correlations=kept)


def _as_read(item: Input, one: Measured) -> Input:
    return replace(
        item,
        nominal=one.value,
        drawn=one.words,
        spread=one.size,
        stated=one.stated,
        origin="measured",
        process="",
        basis=one.entry.says,
        adjust=None,
    )


def know(
    study: Study,
    measured: Sequence[Measured],
    *,
    believe: bool,
    options: RunOptions,
) -> Known:
    """Join readings with what is stated.

    Parameters
    ----------
    study : Study
        As drawn.
    measured : sequence of Measured
        As ``read_measured`` reads them.
    believe : bool
        Go on in spite of a conflict that no widening of one dimension mends.
    options : RunOptions
        Who works, and who is told.

    Raises
    ------
    ConflictError
        Where readings contradict what is stated of what they are made of, or each other.
    """
    joining = [one for one in measured if not stands_alone(one.item)]
    with_readings, wide = _widened(study_with_readings(study, measured), joining)
    plan = plan_run(with_readings, indices=False)
    drawn = replace(plan, inputs=study.inputs, copula=copula_factor(study.correlations))
    return Known(
        study=with_readings,
        plan=plan,
        drawn=drawn,
        after=posterior(plan, _trials(joining), options=options, believe=believe),
        before=posterior(drawn, (), options=options),
        widened=wide,
    )


def _trials(joining: Sequence[Measured]) -> list[Trial]:
    """Lay out readings, each an occasion of its own."""
    found = []
    for one in joining:
        held = one.item.at if isinstance(one.item, Reading) else {}
        seen = ValueSeen(one.item.name, one.value, one.error, one.words)
        found.append(Trial(one.item.name, held=held, seen=(seen,)))
    return found


def _widened(study: Study, joining: Sequence[Measured]) -> tuple[Study, tuple[Widened, ...]]:
    """Widen what is stated of each dimension whose reading contradicts it."""
    wider: dict[str, Spread] = {}
    found = []
    for one in joining:
        if not isinstance(one.item, Input) or one.item.spread is None:
            continue
        spread, factor = widened(one.item.spread, one.item.nominal, one.value, one.error)
        if factor > 1.0:
            wider[one.item.name] = spread
            found.append(Widened(one, factor))
    inputs = tuple(
        replace(item, spread=wider[item.name]) if item.name in wider else item
        for item in study.inputs
    )
    return replace(study, inputs=inputs), tuple(found)
