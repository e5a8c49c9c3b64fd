"""Which settings of an input to try: as the call says, as it can be set, as far as it matters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import Plan, plan_run
from sensitivity.errors import CallError, nearest
from sensitivity.pricing.variants import VariantPasses, at_setting, run_variants
from sensitivity.study.study import Input, Study
from sensitivity.system.remarks import PhysicalRange

MOST_SETTINGS = 400

_FEWEST_ON_THE_HILL = 12
_DISTANCES = np.sqrt(2.0) ** np.arange(-2, 21)


@dataclass(frozen=True, slots=True)
class Asked:
    """What the call says of one input's settings, in its unit; None where it says nothing."""

    name: str
    low: float | None = None
    high: float | None = None
    step: float | None = None


def physical_range(plan: Plan, item: Input) -> PhysicalRange:
    """Find what the nominal can be: the model's range, and above zero where errors are shares."""
    stated = next(q for q in plan.system.inputs if q.name == item.name).range
    if item.spread is None or item.spread.shape not in ("lognormal", "log_uniform"):
        return stated
    return replace(stated, low=0.0, open_low=True) if stated.low <= 0.0 else stated


def range_to_try(plan: Plan, item: Input, asked: Asked, options: RunOptions) -> tuple[float, float]:
    """Find the range of settings: the call's ends, else ``adjust``, else as far as it matters."""
    low, high = asked.low, asked.high
    if low is None or high is None:
        found = item.adjust or _where_it_matters(plan, item, options)
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
    held nominal) to a thousand; a window narrower than that far out would be missed. Where the
    yield never falls and physics has no end, one side is taken as far as the other.
    """
    unit = item.standard_deviation or abs(item.nominal) / 100.0 or 0.01
    places = np.concatenate([-_DISTANCES[::-1], [0.0], _DISTANCES]) * unit + item.nominal
    physical = physical_range(plan, item)
    places = np.array([place for place in places if physical.holds(place)])
    variants = [{item.name: at_setting(item, float(value))} for value in places]
    passes = run_variants(plan, variants, options=options)
    shares = passes.together[:, 1:].sum(axis=0)
    best = int(np.argmax(shares))
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
    plan: Plan, item: Input, asked: Asked, low: float, high: float, wanted: int
) -> list[float]:
    """Lay out settings from low to high: by the step from the nominal, or at round values."""
    step = round_step((high - low) / wanted) if asked.step is None else asked.step
    start = 0.0 if asked.step is None else item.nominal
    if (high - low) / step > MOST_SETTINGS:
        raise CallError(f"{item.name}: {step:g} {item.unit} is too small a step for such a range")
    first, last = np.ceil((low - start) / step - 1e-9), np.floor((high - start) / step + 1e-9)
    values = [float(f"{start + step * count:.12g}") for count in np.arange(first, last + 1)]
    values = [value for value in values if physical_range(plan, item).holds(value)]
    if len(values) < 2:
        raise CallError(
            f"{item.name}: from {low:g} to {high:g} {item.unit} by {step:g} leaves no two settings"
        )
    return values


def round_step(size: float) -> float:
    """Round a step to the nearest of 1, 2 or 5 times a power of ten."""
    steps = [factor * 10.0 ** np.floor(np.log10(size)) for factor in (1.0, 2.0, 5.0, 10.0)]
    return float(f"{min(steps, key=lambda step: abs(np.log(step / size))):.12g}")


def finer_settings(settings: Sequence[float], passes: VariantPasses) -> list[float]:
    """Settings between those at hand, where the hill of good yields is narrow among them."""
    shares = passes.together[:, 1:].sum(axis=0)
    good = np.flatnonzero(2 * shares >= shares.max())
    if good.size >= _FEWEST_ON_THE_HILL or shares.max() == 0:
        return []
    start, end = max(int(good[0]) - 1, 0), min(int(good[-1]) + 1, len(settings) - 1)
    step = round_step((settings[end] - settings[start]) / (2 * _FEWEST_ON_THE_HILL))
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
    return found[name]
