"""Which settings of an input to try: as the call says, as it can be set, as far as it matters."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import Plan, plan_run
from sensitivity.errors import CallError, nearest
from sensitivity.presentation.units_said import Said
from sensitivity.pricing.nominals import physical_range, round_step
from sensitivity.pricing.variants import VariantPasses, at_setting, run_variants
from sensitivity.study.study import Input, Study
from sensitivity.study.units_used import drawn_in_fractions, step_of_a_rule

MOST_SETTINGS = 400
INCH = 25.4
AS_HIGH = 0.9
"""Share of what the highest place tried keeps, from which another counts as as high."""
CLEAR = 0.2
"""Part of a step by which the setting as drawn is to be clear of the round ones."""

EndBy = Literal["call", "study", "physics", "search"]
"""What the last setting tried is the end of."""

_FEWEST_ON_THE_HILL = 12
_DISTANCES = np.sqrt(2.0) ** np.arange(-2, 21)


@dataclass(frozen=True, slots=True)
class Asked:
    """What the call says of one input's settings, in its unit; None where it says nothing.

    ``words`` are its quantities as they were written, the step's ``step_words``.
    """

    name: str
    low: float | None = None
    high: float | None = None
    step: float | None = None
    words: tuple[str, ...] = ()
    step_words: str = ""

    @property
    def on_a_rule(self) -> bool:
        """Tell whether the step is a fraction: what is set then lies on the lines of a rule."""
        plain = unicodedata.normalize("NFKC", self.step_words).replace("⁄", "/")
        return re.search(r"\d\s*/\s*\d", plain) is not None

    def said_in(self, said: Said) -> Said:
        """How values of the input are said: what the call wrote is answered as it was written."""
        told = said.also(self.name, *self.words) if self.words else said
        return told.stepped(self.name, self.step_words) if self.step_words else told


def as_stated(item: Input, asked: Asked) -> Asked:
    """Take the step that the study states for the drawing, where the call asks for none."""
    if asked.step is not None or item.redraw is None:
        return asked
    return replace(asked, step=item.redraw.step)


def on_the_drawings_rule(
    item: Input, asked: Asked, low: float, high: float, most: int, *, inches: bool
) -> Asked:
    """Step by parts of an inch what is drawn in them, where nobody states a step or sizes."""
    if asked.step is not None or not inches or not drawn_in_fractions(item):
        return asked
    below = None if sizes_between(item, low, high) else step_of_a_rule(low, high, most)
    if below is None:
        return asked
    return replace(asked, step=INCH / below, step_words=f"1/{below} in")


def ends_by(plan: Plan, item: Input, asked: Asked, low: float, high: float) -> tuple[EndBy, EndBy]:
    """Tell what the lowest and the highest setting tried are the ends of."""
    physical = physical_range(plan, item)
    found: list[EndBy] = []
    for stated, value, edge in ((asked.low, low, physical.low), (asked.high, high, physical.high)):
        if value == edge:
            found.append("physics")
        elif stated is not None:
            found.append("call")
        elif _stated_range(item) is not None:
            found.append("study")
        else:
            found.append("search")
    return found[0], found[1]


def _stated_range(item: Input) -> tuple[float, float] | None:
    """Where the study says that it can be set, or drawn."""
    if item.adjust is not None or item.redraw is None:
        return item.adjust
    return item.redraw.low, item.redraw.high


def range_to_try(plan: Plan, item: Input, asked: Asked, options: RunOptions) -> tuple[float, float]:
    """Find the range of settings: the call's ends, else the study's, else as far as it matters."""
    low, high = asked.low, asked.high
    if low is None or high is None:
        found = _stated_range(item) or _where_it_matters(plan, item, options)
        low, high = (found[0] if low is None else low), (found[1] if high is None else high)
    if not low < high:
        raise CallError(
            f"{item.name}: from {low:g} to {high:g} {item.unit}; the first should be the lower"
        )
    physical = physical_range(plan, item)
    if low >= physical.high or high <= physical.low:
        raise CallError(f"{item.name}: physically it is {physical.stated} {item.unit}".rstrip())
    return max(low, physical.low), min(high, physical.high)


def _where_it_matters(plan: Plan, item: Input, options: RunOptions) -> tuple[float, float]:
    """Go out from the nominal until the yield is below half its best, or physics ends.

    Distances grow by the square root of two, from half a standard deviation (a hundredth of a
    held nominal) to a thousand; a window narrower than that far out would be missed. Of several
    hills about as high the one nearest to the drawing is looked at. Where the yield
    never falls and physics has no end, one side is taken as far as the other.
    """
    unit = item.standard_deviation or abs(item.nominal) / 100.0 or 0.01
    places = np.concatenate([-_DISTANCES[::-1], [0.0], _DISTANCES]) * unit + item.nominal
    physical = physical_range(plan, item)
    places = np.array([place for place in places if physical.holds(place)])
    variants = [{item.name: at_setting(item, float(value))} for value in places]
    passes = run_variants(plan, variants, options=options)
    shares = passes.together[:, 1:].sum(axis=0)
    as_high = np.flatnonzero(shares >= AS_HIGH * shares.max())
    foot = int(min(as_high, key=lambda place: abs(places[place] - item.nominal)))
    hill = [
        place
        for place in as_high
        if np.all(shares[slice(*sorted((place, foot)))] >= 0.5 * shares.max())
    ]
    best = int(max(hill, key=lambda p: (shares[p], -abs(places[p] - item.nominal))))
    fallen = np.flatnonzero(shares < 0.5 * shares[best])
    low_end = fallen[fallen < best].max(initial=-1)
    high_end = fallen[fallen > best].min(initial=places.size)
    reach = [
        abs(places[end] - item.nominal) for end in (low_end, high_end) if 0 <= end < places.size
    ]
    distance = max([*reach, 2.0 * abs(places[best] - item.nominal)]) or 10.0 * unit
    low, high = physical.low, physical.high
    if low_end >= 0 or not np.isfinite(low):
        low = places[low_end] if low_end >= 0 else item.nominal - distance
    if high_end < places.size or not np.isfinite(high):
        high = places[high_end] if high_end < places.size else item.nominal + distance
    return float(low), float(high)


def settings_to_try(
    plan: Plan,
    item: Input,
    asked: Asked,
    low: float,
    high: float,
    wanted: int,
    *,
    inches: bool = False,
) -> list[float]:
    """Lay out settings from low to high: by the step from the nominal, or at round values.

    A step that is a fraction is that of a rule, and counts from its end: 1/32 in gives 32nds.

    Round in the builder's unit; the setting as drawn is among them if it is clear of the others.
    Where the study states the sizes that can be bought, they are those, and as drawn.
    """
    if asked.step is None and (sizes := sizes_between(item, low, high)):
        physical = physical_range(plan, item)
        return sorted({*filter(physical.holds, sizes), item.nominal})
    step, start = asked.step, 0.0 if asked.on_a_rule else item.nominal
    if step is None:
        step, start = round_in(item, (high - low) / wanted, inches=inches), 0.0
    if (high - low) / step > MOST_SETTINGS:
        raise CallError(f"{item.name}: {step:g} {item.unit} is too small a step for such a range")
    first, last = np.ceil((low - start) / step - 1e-9), np.floor((high - start) / step + 1e-9)
    values = [float(f"{start + step * count:.12g}") for count in np.arange(first, last + 1)]
    values = [value for value in values if physical_range(plan, item).holds(value)]
    drawn = item.nominal
    if low <= drawn <= high and min((abs(v - drawn) for v in values), default=0.0) > CLEAR * step:
        values = sorted([*values, drawn])
    if len(values) < 2:
        raise CallError(
            f"{item.name}: from {low:g} to {high:g} {item.unit} by {step:g} leaves no two settings"
        )
    return values


def sizes_between(item: Input, low: float, high: float) -> list[float]:
    """Sizes between two ends that can be bought; none where no two are stated.

    Parameters
    ----------
    item : Input
        Which states them (``redraw_sizes``).
    low, high : float
        The ends, in its unit.
    """
    stated = item.redraw.sizes if item.redraw is not None else ()
    inside = [size for size in stated if low <= size <= high and size != item.nominal]
    return inside if len(inside) > 1 else []


def round_in(item: Input, size: float, *, inches: bool) -> float:
    """Round a step, in inches and thousandths where the builder works in them."""
    unit = INCH if inches and item.unit == "mm" else 1.0
    return unit * round_step(size / unit)


def finer_settings(
    item: Input, settings: Sequence[float], passes: VariantPasses, *, inches: bool = False
) -> list[float]:
    """Settings between those at hand, where the hill of good yields is narrow among them."""
    shares = passes.together[:, 1:].sum(axis=0)
    good = np.flatnonzero(2 * shares >= shares.max())
    if good.size >= _FEWEST_ON_THE_HILL or shares.max() == 0:
        return []
    start, end = max(int(good[0]) - 1, 0), min(int(good[-1]) + 1, len(settings) - 1)
    size = (settings[end] - settings[start]) / (2 * _FEWEST_ON_THE_HILL)
    step = round_in(item, size, inches=inches)
    counts = np.arange(np.ceil(settings[start] / step), np.floor(settings[end] / step) + 1)
    fresh = [float(f"{step * count:.12g}") for count in counts]
    return [value for value in fresh if min(abs(value - s) for s in settings) > 0.01 * step]


def planned(study: Study) -> Plan:
    """Fix how a study's settings are tried; raise CallError where it has no limits."""
    if not study.limits:
        raise CallError(f"{study.name} states no limits, so no setting is better than another")
    return plan_run(study, indices=False)


def input_of(study: Study, name: str) -> Input:
    """Find an input by its name; raise CallError where there is none."""
    found = {item.name: item for item in study.inputs}
    if name not in found:
        raise CallError(f'{study.name} has no input "{name}"; {nearest(name, found)}')
    if any(each.name == name and each.yes_or_no for each in study.system.inputs):
        raise CallError(f'{name} is yes or no, with nothing between; "compare" tells two studies')
    return found[name]
