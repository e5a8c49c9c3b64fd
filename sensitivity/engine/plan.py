"""What one run does, fixed before the first replicate: a value that travels to the workers."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from sensitivity.errors import CallError
from sensitivity.spreads.copula import Copula, copula_factor
from sensitivity.spreads.spread import Floats, Spread
from sensitivity.study.study import Input, Limit, Sampling, Study
from sensitivity.system.remarks import Kind
from sensitivity.system.system import System, Values, inside_range

REPEATED = 5
"""Rows asked for twice, to see that a model answers the same."""


@dataclass(frozen=True, slots=True)
class Group:
    """Inputs whose sensitivity is reported together; most groups are one input."""

    name: str
    inputs: tuple[str, ...]


@dataclass(frozen=True)
class Plan:
    """All that a replicate needs.

    Attributes
    ----------
    columns : tuple of str
        Input names in the order of the Sobol' dimensions. Designs compared with common
        random numbers share it, so that one name draws the same numbers in each.
    kinds : mapping of name to Kind
        Of each column, in all the designs that share them.
    groups : tuple of Group
        Whose columns are swapped; empty where indices are refused.
    refused : str
        Why there is no index table, in words; empty where there is one.
    """

    system: System
    inputs: tuple[Input, ...]
    limits: tuple[Limit, ...]
    copula: Copula | None
    columns: tuple[str, ...]
    groups: tuple[Group, ...]
    refused: str
    sampling: Sampling
    pairs: bool = False
    keep_samples: bool = False
    kinds: Mapping[str, Kind] = field(default_factory=dict)

    @property
    def seed(self) -> int:
        """The seed, drawn if the study and the call gave none."""
        assert self.sampling.seed is not None
        return self.sampling.seed

    @cached_property
    def outputs(self) -> tuple[str, ...]:
        """Names of all results, in the order of the system."""
        return tuple(quantity.name for quantity in self.system.results)

    @property
    def varying(self) -> tuple[Input, ...]:
        """The inputs with a spread."""
        return tuple(item for item in self.inputs if item.spread is not None)


def plan_run(
    study: Study,
    *,
    pairs: bool = False,
    keep_samples: bool = False,
    indices: bool = True,
    columns: tuple[str, ...] | None = None,
    kinds: Mapping[str, Kind] | None = None,
) -> Plan:
    """Fix what a run of the study does.

    Parameters
    ----------
    study : Study
        What is sampled.
    pairs : bool
        Second-order indices too.
    keep_samples : bool
        Keep all rows, and not those of the first replicate alone.
    indices : bool
        Whether indices are wanted at all.
    columns : tuple of str, optional
        As of ``Plan``; by default the study's own varying inputs.
    kinds : mapping of name to Kind, optional
        Of the columns that are not the study's own.

    Returns
    -------
    Plan
        With a seed, drawn if neither the study nor the call gave one.

    Raises
    ------
    CallError
        Where there is nothing to sample, or the design as drawn has no answer.
    ModelError
        Where a model answers differently to the same call.
    """
    if not study.varying:
        raise CallError(
            f"{study.name}: no input varies, so there is nothing to sample; state a spread, like "
            'plus_minus = "0.25 mm", or ask "spiritlevel check" for the nominal results'
        )
    study.check_drawn()
    if study.sampling.target_half_width is not None and not study.limits:
        raise CallError(f"{study.name}: target_half_width is of the yield, which wants [limits]")
    check_repeats(study)
    sampling = study.sampling
    if sampling.seed is None:
        sampling = replace(sampling, seed=secrets.randbelow(1 << 32))
    names = tuple(item.name for item in study.varying)
    refused = _refusal(study)
    grouped: dict[str, list[str]] = {}
    for item in study.varying:
        grouped.setdefault(item.shown_group, []).append(item.name)
    groups = tuple(Group(name, tuple(members)) for name, members in grouped.items())
    return Plan(
        system=study.system,
        inputs=study.inputs,
        limits=study.limits,
        copula=copula_factor(study.correlations),
        columns=columns or names,
        groups=groups if indices and not refused else (),
        refused=refused,
        sampling=sampling,
        pairs=pairs,
        keep_samples=keep_samples,
        kinds={**(kinds or {}), **{item.name: item.kind for item in study.varying}},
    )


def check_repeats(study: Study) -> None:
    """Raise ModelError where a model answers differently to the same call.

    Such a model would make noise of every difference that is taken between samples. A few rows
    spread over the tolerance box are asked for twice.
    """
    rows = np.linspace(0.1, 0.9, REPEATED)
    values: Values = {
        item.name: (
            item.nominal if item.spread is None else _between(item.spread, np.roll(rows, place))
        )
        for place, item in enumerate(study.inputs)
    }
    study.system.check_repeats(
        {item.name: inside_range(values[item.name], item)[0] for item in study.system.inputs}
    )


def _between(spread: Spread, shares: Floats) -> Floats:
    """Go so far from the low end of the box to the high one."""
    return spread.low + (spread.high - spread.low) * shares


def _refusal(study: Study) -> str:
    """Say why first-order and total indices would not be a decomposition, if so."""
    group_of = {item.name: item.shown_group for item in study.varying}
    apart = [
        " and ".join(correlation.inputs)
        for correlation in study.correlations
        if group_of[correlation.inputs[0]] != group_of[correlation.inputs[1]]
    ]
    if not apart:
        return ""
    return (
        f"No index table: {'; '.join(apart)} are correlated but reported apart, and the shares "
        "of correlated inputs do not add up to anything. Give them the same group, or restate "
        "them as a shared cause plus independent parts (one setting error and one error a part), "
        "which a builder can act on."
    )
