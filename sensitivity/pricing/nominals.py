"""Which nominals of a drawing could be moved, by how little, and where the builder allows it.

A nominal is moved where the study states a range for it (``redraw``, or ``adjust``). How much a
small move of any other gains can be told all the same, so that its range is asked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isclose

import numpy as np

from sensitivity.engine.plan import Plan
from sensitivity.pricing.closer_work import is_made
from sensitivity.pricing.variants import at_setting
from sensitivity.spreads.spread import Spread
from sensitivity.study.study import Input, Redraw
from sensitivity.study.units_used import drawn_in_fractions, step_of_a_rule
from sensitivity.system.remarks import PhysicalRange

A_MOVE = 0.5
"""A small move, in standard deviations of what is moved."""
OF_HELD = 0.005
"""A small move of what has no spread, as a share of its nominal."""
SETTINGS = 100
"""Settings of a range, about, where the builder states no step."""
MOST_SETTINGS = 400


@dataclass(frozen=True, slots=True)
class Nominal:
    """One nominal that could be moved.

    Attributes
    ----------
    item : Input
    down, up : float
        Where a small move takes it, in its unit; either is its nominal where physics ends.
    settings : tuple of float
        Where it may be drawn, ascending, as drawn among them; empty where no range is stated.
    """

    item: Input
    down: float
    up: float
    settings: tuple[float, ...]

    @property
    def name(self) -> str:
        """The input's name."""
        return self.item.name

    @property
    def move(self) -> float:
        """Size of the small move, one way."""
        return 0.5 * (self.up - self.down)

    @property
    def width(self) -> float:
        """Width of its range; 0 where none is stated."""
        return self.settings[-1] - self.settings[0] if self.settings else 0.0

    def nearest(self, value: float) -> float:
        """Find the setting nearest to a value."""
        return min(self.settings, key=lambda setting: abs(setting - value))


def nominals_of(plan: Plan, *, inches: bool = False) -> tuple[Nominal, ...]:
    """Find the nominals that could be moved: what is drawn and made, in the study's order.

    Left out are what has been measured, what is met or doubted, counts and other pure numbers that
    are held, and what is held at nothing, unless a range is stated for it.

    Parameters
    ----------
    plan : Plan
        Of the study.
    inches : bool
        Whether settings are to be round in inches where the builder states no step.
    """
    found = []
    for item in plan.inputs:
        if item.kind != "build" or is_made(item):
            continue
        stated = range_of(item)
        drawn = item.spread is not None or (item.unit != "" and item.nominal != 0.0)
        if not (drawn or stated):
            continue
        physical = physical_range(plan, item)
        settings = () if stated is None else _settings(item, stated, physical, inches=inches)
        move = _small_move(item, stated)
        down, up = (
            value if is_possible(item, value, physical) else item.nominal
            for value in (item.nominal - move, item.nominal + move)
        )
        if down < up:
            found.append(Nominal(item, down, up, settings if len(settings) > 1 else ()))
    return tuple(found)


def range_of(item: Input) -> Redraw | None:
    """Find where the builder lets a nominal be: ``redraw``, else where it can be set."""
    if item.redraw is not None or item.adjust is None:
        return item.redraw
    return Redraw(*item.adjust)


def physical_range(plan: Plan, item: Input) -> PhysicalRange:
    """Find what the nominal can be: the model's range, and above zero where errors are shares."""
    stated = next(q for q in plan.system.inputs if q.name == item.name).range
    if item.spread is None or item.spread.shape not in ("lognormal", "log_uniform"):
        return stated
    return replace(stated, low=0.0, open_low=True) if stated.low <= 0.0 else stated


def is_possible(item: Input, value: float, physical: PhysicalRange) -> bool:
    """Tell whether a nominal can be drawn there, its spread with it, in what physically is.

    A spread that reaches out of it as drawn is no reason against a move.
    """
    if not physical.holds(value):
        return False
    spread, drawn = at_setting(item, value), item.spread
    if not isinstance(spread, Spread) or drawn is None:
        return True
    inside = (spread.low >= physical.low, spread.high <= physical.high)
    before = (drawn.low >= physical.low, drawn.high <= physical.high)
    return all(now or not then for now, then in zip(inside, before, strict=True))


def round_step(size: float) -> float:
    """Round a step to the nearest of 1, 2 or 5 times a power of ten."""
    steps = [factor * 10.0 ** np.floor(np.log10(size)) for factor in (1.0, 2.0, 5.0, 10.0)]
    return float(f"{min(steps, key=lambda step: abs(np.log(step / size))):.12g}")


def _small_move(item: Input, stated: Redraw | None) -> float:
    """Half a standard deviation, or the finest step that can be set where one is stated."""
    if stated is not None and stated.step is not None:
        return stated.step
    if stated is not None and stated.sizes:
        return float(np.diff(stated.sizes).min())
    if item.standard_deviation:
        return A_MOVE * item.standard_deviation
    return OF_HELD * abs(item.nominal) or 0.5 * (stated.high - stated.low if stated else 0.0)


def _settings(
    item: Input, stated: Redraw, physical: PhysicalRange, *, inches: bool
) -> tuple[float, ...]:
    if stated.sizes:
        values: Sequence[float] = stated.sizes
    else:
        unit = 25.4 if inches and item.unit == "mm" else 1.0
        low, high = stated.low, stated.high
        step, start = stated.step, item.nominal
        if step is None:
            step, start = unit * round_step((high - low) / unit / SETTINGS), 0.0
            rule = inches and drawn_in_fractions(item) and step_of_a_rule(low, high, SETTINGS)
            step = 25.4 / rule if rule else step
        step = max(step, (high - low) / MOST_SETTINGS)
        counts = np.arange(
            np.ceil((low - start) / step - 1e-9), np.floor((high - start) / step + 1e-9) + 1
        )
        values = [float(f"{start + step * count:.12g}") for count in counts]
        values = [*values, *(() if stated.step else (low, high))]
    allowed = [value for value in values if is_possible(item, value, physical)]
    return _ascending([*allowed, item.nominal], item.nominal)


def _ascending(values: Sequence[float], drawn: float) -> tuple[float, ...]:
    """Order values, each once; what is as drawn but for rounding is as drawn."""
    told = {drawn if isclose(each, drawn, rel_tol=1e-9, abs_tol=1e-12) else each for each in values}
    return tuple(sorted(told))
