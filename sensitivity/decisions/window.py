"""Yield against the nominal of one input, and the window of settings that holds a wanted yield.

Every setting is tried on the same uniforms, so the curve is smooth and a difference between
two settings is the setting's. Its interval at each setting is that setting's own; the window is
made of settings whose lower ends all reach the target.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sensitivity import __version__, wording
from sensitivity.catalogue import PhysicalRange
from sensitivity.decisions.variants import (
    Variant,
    VariantPasses,
    at_setting,
    passes_difference,
    run_variants,
)
from sensitivity.document import SCHEMA, estimate_value, proportion_value
from sensitivity.errors import CallError, nearest
from sensitivity.intervals import Estimate, Proportion, proportion
from sensitivity.plan import Plan, plan_run
from sensitivity.progress import NoProgress, Progress
from sensitivity.spread import Spread
from sensitivity.study import Input, Study

MOST_SETTINGS = 400
OUT_OF_RANGE = "physical range"
"""What closes a window where the spread reaches what physically cannot be."""

FLAT = 0.01
"""A yield less than one point in a hundred below the best counts as level with it."""

_WANTED = {1: 40, 2: 14}
_FEWEST_ON_THE_HILL, _REFINEMENTS = 12, 4
_DISTANCES = np.sqrt(2.0) ** np.arange(-2, 21)

Floats = NDArray[np.float64]
Watch = Callable[[], Progress]


@dataclass(frozen=True, slots=True)
class Asked:
    """What the call says of one input's settings, in its unit; None where it says nothing."""

    name: str
    low: float | None = None
    high: float | None = None
    step: float | None = None


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting: its yield, each limit's, and how far the yield is below the best one's."""

    value: float
    overall: Proportion
    shares: dict[str, Proportion]
    short_of_best: Estimate


@dataclass(frozen=True)
class Window:
    """Yield against the nominal of one input.

    Attributes
    ----------
    stated : Proportion
        Yield as drawn.
    step : float or None
        What the builder can set, if the call says.
    best, chosen : int
        Places in ``settings``: of the highest yield, and of the middle of what is level with it.
    flat : (int, int)
        First and last setting about the best that are level with it: the difference is not
        settled, or is below one point in a hundred.
    held : (int, int) or None
        First and last setting of the widest window that holds the target; None if none does.
    closed_below, closed_above : str
        The limit that is broken more often beyond the window (or beyond what is level with the
        best, if there is no window), or ``OUT_OF_RANGE``; empty where the settings tried end
        before it.
    """

    study: Study
    plan: Plan
    item: Input
    target: float
    stated: Proportion
    step: float | None
    settings: tuple[Setting, ...]
    best: int
    chosen: int
    flat: tuple[int, int]
    held: tuple[int, int] | None
    closed_below: str
    closed_above: str

    @property
    def centre(self) -> float | None:
        """Middle of the window."""
        if self.held is None:
            return None
        return 0.5 * sum(self.settings[place].value for place in self.held)


@dataclass(frozen=True)
class WindowMap:
    """Yield over the nominals of two inputs: ``overall[i][j]`` at ``first[i]``, ``second[j]``.

    ``best`` is the pair of the highest yield. ``chosen`` is the pair nearest to the drawing among
    those level with it; None where the drawing itself is. ``gain`` is of the best pair over the
    drawing.
    """

    study: Study
    plan: Plan
    items: tuple[Input, Input]
    target: float
    stated: Proportion
    steps: tuple[float | None, float | None]
    first: tuple[float, ...]
    second: tuple[float, ...]
    overall: tuple[tuple[Proportion, ...], ...]
    best: tuple[int, int]
    chosen: tuple[int, int] | None
    gain: Estimate

    @property
    def holding(self) -> int:
        """Number of pairs whose yield's lower end reaches the target."""
        return sum(share.low >= self.target for row in self.overall for share in row)


def find_window(
    study: Study,
    asked: Asked,
    *,
    target: float = 0.95,
    workers: int | None = None,
    watch: Watch = NoProgress,
) -> Window:
    """Find yield against the nominal of one input.

    Raises
    ------
    CallError
        Where the study has no limits or no such input, or the settings asked for make no sense.
    """
    plan, item = _planned(study), _input(study, asked.name)
    low, high = _range(plan, item, asked, workers)
    settings = _settings(plan, item, asked, low, high, _WANTED[1])
    passes = _tried(plan, item, settings, workers, watch)
    for _ in range(_REFINEMENTS):
        finer = [] if asked.step else _finer(settings, passes)
        if not finer:
            break
        settings = sorted({*settings, *finer})
        passes = _tried(plan, item, settings, workers, watch)
    return _window(study, plan, item, target, asked.step, settings, passes)


def _tried(
    plan: Plan, item: Input, settings: Sequence[float], workers: int | None, watch: Watch
) -> VariantPasses:
    variants: list[Variant] = [{item.name: at_setting(item, value)} for value in settings]
    return run_variants(plan, variants, workers=workers, progress=watch())


def _window(
    study: Study,
    plan: Plan,
    item: Input,
    target: float,
    step: float | None,
    settings: Sequence[float],
    passes: VariantPasses,
) -> Window:
    together = passes.together[:, 1:]
    best = int(np.argmax(together.sum(axis=0)))
    found = []
    for place, value in enumerate(settings):
        shares = [
            proportion(passes.each[:, place + 1, row], passes.rows, passes.confidence)
            for row in range(len(plan.limits))
        ]
        short = passes_difference(
            together[:, best], together[:, place], passes.rows, passes.confidence
        )
        found.append(
            Setting(
                value=value,
                overall=passes.overall(place + 1),
                shares={limit.result: s for limit, s in zip(plan.limits, shares, strict=True)},
                short_of_best=Estimate(0.0, 0.0, 0.0) if place == best else short,
            )
        )
    level = [_level(passes, best + 1, place + 1) for place in range(len(found))]
    flat = next(run for run in _runs(level) if run[0] <= best <= run[1])
    windows = _runs([setting.overall.low >= target for setting in found])
    held = max(windows, key=lambda run: settings[run[1]] - settings[run[0]], default=None)
    middle = 0.5 * (settings[flat[0]] + settings[flat[1]])
    chosen = min(
        range(flat[0], flat[1] + 1),
        key=lambda place: (abs(settings[place] - middle), -found[place].overall.value),
    )
    edges = flat if held is None else held
    inside = chosen if edges[0] <= chosen <= edges[1] else sum(edges) // 2
    return Window(
        study=study,
        plan=plan,
        item=item,
        target=target,
        stated=passes.overall(0),
        step=step,
        settings=tuple(found),
        best=best,
        chosen=chosen,
        flat=flat,
        held=held,
        closed_below=_closing(plan, item, passes, settings, inside, edges[0] - 1),
        closed_above=_closing(plan, item, passes, settings, inside, edges[1] + 1),
    )


def _runs(flags: Sequence[bool]) -> list[tuple[int, int]]:
    """First and last place of each unbroken run of flags that are set."""
    edges = np.flatnonzero(np.diff([False, *flags, False]))
    return [(int(start), int(end) - 1) for start, end in zip(edges[::2], edges[1::2], strict=True)]


def _closing(
    plan: Plan,
    item: Input,
    passes: VariantPasses,
    settings: Sequence[float],
    inside: int,
    outside: int,
) -> str:
    """Name the limit that is broken more often outside, if that is settled."""
    if not 0 <= outside < len(settings):
        return ""
    falls = {
        limit.result: passes_difference(
            passes.each[:, inside + 1, row],
            passes.each[:, outside + 1, row],
            passes.rows,
            passes.confidence,
        )
        for row, limit in enumerate(plan.limits)
    }
    name = max(falls, key=lambda result: falls[result].value)
    if falls[name].low <= 0.0:
        return ""
    spread = at_setting(item, settings[outside])
    if (
        isinstance(spread, Spread)
        and min(f.value for f in falls.values()) > 0.5 * falls[name].value
    ):
        # Where there is no answer every limit fails alike.
        physical = _physical(plan, item)
        if not (physical.holds(spread.low) and physical.holds(spread.high)):
            return OUT_OF_RANGE
    return name


def find_map(
    study: Study,
    asked: tuple[Asked, Asked],
    *,
    target: float = 0.95,
    workers: int | None = None,
    watch: Watch = NoProgress,
) -> WindowMap:
    """Find yield over a grid of the nominals of two inputs; raises as ``find_window`` does."""
    plan = _planned(study)
    one, other = (_input(study, each.name) for each in asked)
    if one is other:
        raise CallError(f"{one.name} is named twice; a map wants two inputs")
    axes = []
    for item, each in zip((one, other), asked, strict=True):
        low, high = _range(plan, item, each, workers)
        axes.append(_settings(plan, item, each, low, high, _WANTED[2]))
    first, second = axes
    variants: list[Variant] = [
        {one.name: at_setting(one, x), other.name: at_setting(other, y)}
        for x in first
        for y in second
    ]
    if len(variants) > MOST_SETTINGS:
        raise CallError(f"that is a map of {len(variants)} pairs; take larger steps")
    passes = run_variants(plan, variants, workers=workers, progress=watch())
    shares = [passes.overall(place) for place in range(1, len(variants) + 1)]
    best = int(np.argmax(passes.together[:, 1:].sum(axis=0)))
    width, gain = len(second), passes.gain(best + 1)
    chosen = None
    if gain.low > 0.0 and gain.value >= FLAT:
        level = [place for place in range(len(variants)) if _level(passes, best + 1, place + 1)]
        away = np.add.outer(_moves(one, first), _moves(other, second)).ravel()
        chosen = divmod(min(level, key=lambda place: float(away[place])), width)
    return WindowMap(
        study=study,
        plan=plan,
        items=(one, other),
        target=target,
        stated=passes.overall(0),
        steps=(asked[0].step, asked[1].step),
        first=tuple(first),
        second=tuple(second),
        overall=tuple(tuple(shares[i * width : (i + 1) * width]) for i in range(len(first))),
        best=divmod(best, width),
        chosen=chosen,
        gain=gain,
    )


def _level(passes: VariantPasses, best: int, other: int) -> bool:
    """Tell whether a yield is level with the best: not told apart, or within a point of it."""
    together = passes.together
    short = passes_difference(together[:, best], together[:, other], passes.rows, passes.confidence)
    return short.low <= 0.0 or short.value < FLAT


def _moves(item: Input, settings: Sequence[float]) -> Floats:
    """Squared distance of each setting from the nominal, the range being one."""
    values = np.asarray(settings)
    return np.asarray(((values - item.nominal) / np.ptp(values)) ** 2)


def _planned(study: Study) -> Plan:
    if not study.limits:
        raise CallError(f"{study.name} states no limits, so no setting is better than another")
    return plan_run(study, indices=False)


def _input(study: Study, name: str) -> Input:
    found = {item.name: item for item in study.inputs}
    if name not in found:
        raise CallError(f'{study.name} has no input "{name}"; {nearest(name, found)}')
    return found[name]


def _physical(plan: Plan, item: Input) -> PhysicalRange:
    """Find what the nominal can be: the model's range, and above zero where errors are shares."""
    stated = next(q for q in plan.system.inputs if q.name == item.name).range
    if item.spread is None or item.spread.shape not in ("lognormal", "log_uniform"):
        return stated
    return replace(stated, low=0.0, open_low=True) if stated.low <= 0.0 else stated


def _range(plan: Plan, item: Input, asked: Asked, workers: int | None) -> tuple[float, float]:
    """Find the range of settings: the call's ends, else ``adjust``, else as far as it matters."""
    low, high = asked.low, asked.high
    if low is None or high is None:
        found = item.adjust or _where_it_matters(plan, item, workers)
        low, high = (found[0] if low is None else low), (found[1] if high is None else high)
    if not low < high:
        raise CallError(
            f"{item.name}: from {low:g} to {high:g} {item.unit}; the first should be the lower"
        )
    physical = _physical(plan, item)
    if low >= physical.high or high <= physical.low:
        raise CallError(f"{item.name}: physically it is {physical.stated} {item.unit}".rstrip())
    return max(low, physical.low), min(high, physical.high)


def _where_it_matters(plan: Plan, item: Input, workers: int | None) -> tuple[float, float]:
    """Go out from the nominal until the yield is below half its best, or physics ends.

    Distances grow by the square root of two, from half a standard deviation (a hundredth of a
    held nominal) to a thousand; a window narrower than that far out would be missed. Where the
    yield never falls and physics has no end, one side is taken as far as the other.
    """
    unit = item.standard_deviation or abs(item.nominal) / 100.0 or 0.01
    places = np.concatenate([-_DISTANCES[::-1], [0.0], _DISTANCES]) * unit + item.nominal
    physical = _physical(plan, item)
    places = np.array([place for place in places if physical.holds(place)])
    variants = [{item.name: at_setting(item, float(value))} for value in places]
    passes = run_variants(plan, variants, workers=workers)
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


def _settings(
    plan: Plan, item: Input, asked: Asked, low: float, high: float, wanted: int
) -> list[float]:
    """Lay out settings from low to high: by the step from the nominal, or at round values."""
    step = round_step((high - low) / wanted) if asked.step is None else asked.step
    start = 0.0 if asked.step is None else item.nominal
    if (high - low) / step > MOST_SETTINGS:
        raise CallError(f"{item.name}: {step:g} {item.unit} is too small a step for such a range")
    first, last = np.ceil((low - start) / step - 1e-9), np.floor((high - start) / step + 1e-9)
    values = [float(f"{start + step * count:.12g}") for count in np.arange(first, last + 1)]
    values = [value for value in values if _physical(plan, item).holds(value)]
    if len(values) < 2:
        raise CallError(
            f"{item.name}: from {low:g} to {high:g} {item.unit} by {step:g} leaves no two settings"
        )
    return values


def round_step(size: float) -> float:
    """Round a step to the nearest of 1, 2 or 5 times a power of ten."""
    steps = [factor * 10.0 ** np.floor(np.log10(size)) for factor in (1.0, 2.0, 5.0, 10.0)]
    return float(f"{min(steps, key=lambda step: abs(np.log(step / size))):.12g}")


def _finer(settings: Sequence[float], passes: VariantPasses) -> list[float]:
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


def setting_in_words(window: Window, place: int) -> str:
    """Write one setting with its unit."""
    values = [setting.value for setting in window.settings]
    text = wording.number(values[place], wording.decimals_of(values))
    return wording.with_unit(text, window.item.unit)


def range_in_words(window: Window, ends: tuple[int, int]) -> str:
    """Write a run of settings with its unit; one setting alone by itself."""
    if ends[0] == ends[1]:
        return setting_in_words(window, ends[0])
    low = setting_in_words(window, ends[0]).removesuffix(window.item.unit).rstrip()
    return f"{low} to {setting_in_words(window, ends[1])}"


def window_verdict(window: Window) -> str:
    """Say in shop words where to set the input, and how much room there is."""
    name, chosen = wording.in_words(window.item.name), window.settings[window.chosen]
    wanted, tried = wording.of_a_hundred(window.target), (0, len(window.settings) - 1)
    setting = setting_in_words(window, window.chosen)
    if chosen.overall.passes == 0:
        return f"No {name} from {range_in_words(window, tried)} keeps a burner within every limit."
    share = wording.share_of_a_hundred(chosen.overall)
    if window.held is None:
        level = range_in_words(window, window.flat)
        near = "" if window.flat[0] == window.flat[1] else f" ({level} is level with it)"
        return (
            f"No {name} from {range_in_words(window, tried)} keeps {wanted} within every limit. "
            f"The best there is, {setting}{near}, keeps about {share}.{_sides(window)} "
            'The rest lies elsewhere; "spiritlevel tighten" says whether in the spreads.'
        )
    if window.held[0] == window.held[1]:
        room = f"only {setting_in_words(window, window.held[0])} itself keeps {wanted}"
    elif window.held == tried:
        room = f"anything tried, {range_in_words(window, tried)}, keeps {wanted} or more"
    else:
        room = f"anything from {range_in_words(window, window.held)} keeps {wanted} or more"
    # A running condition is met, not set.
    where = f"Set the {name} at" if window.item.kind == "build" else f"Best is a {name} of"
    kept = f"about {share} keep within every limit"
    return f"{where} {setting}: {kept}, and {room}.{_sides(window)}"


def _sides(window: Window) -> str:
    parts, more = [], " is broken more often"
    for way, limit in (("lower", window.closed_below), ("higher", window.closed_above)):
        if limit == OUT_OF_RANGE:
            parts.append(f"{way}, it cannot be")
        elif limit:
            parts.append(f"{way}, {wording.in_words(limit)}{more}")
            more = ""
    text = "; ".join(parts)
    return f" {text[0].upper()}{text[1:]}." if text else ""


def map_verdict(found: WindowMap) -> str:
    """Say in shop words where to set the two inputs."""
    best = found.overall[found.best[0]][found.best[1]]
    if best.passes == 0:
        return "No pair tried keeps a burner within every limit."
    count, tried = found.holding, len(found.first) * len(found.second)
    wanted = wording.of_a_hundred(found.target)
    held = (
        f"{count or 'none'} of the {tried} pairs tried {'keep' if count > 1 else 'keeps'} {wanted}"
    )
    if found.chosen is None:
        return (
            f"Leave both as drawn, {wording.share_of_a_hundred(found.stated)} of 100: no pair "
            f"tried is better by a point in a hundred, and {held}."
        )
    where = " and the ".join(pair_in_words(found, found.chosen))
    share = found.overall[found.chosen[0]][found.chosen[1]]
    kept = f"about {wording.share_of_a_hundred(share)} keep within every limit"
    return (
        f"Set the {where}: {kept}, against {wording.share_of_a_hundred(found.stated)} as drawn; "
        f"{held}."
    )


def pair_in_words(found: WindowMap, pair: tuple[int, int]) -> tuple[str, str]:
    """Write where a pair sets its two inputs."""
    words = []
    axes = (found.first, found.second)
    for item, values, place in zip(found.items, axes, pair, strict=True):
        text = wording.number(values[place], wording.decimals_of(values))
        words.append(f"{wording.in_words(item.name)} at {wording.with_unit(text, item.unit)}")
    return words[0], words[1]


def window_document(found: Window | WindowMap) -> dict[str, Any]:
    """Lay the answer out as plain values."""
    sampling = found.plan.sampling
    head = {
        "schema": SCHEMA,
        "spiritlevel": __version__,
        "command": "window",
        "title": found.study.title,
        "seed": found.plan.seed,
        "replicates": sampling.replicates,
        "points": sampling.points,
        "confidence": sampling.confidence,
        "target": found.target,
    }
    body = _map_body(found) if isinstance(found, WindowMap) else _window_body(found)
    return {**head, **body, "study": found.study.text}


def _input_body(item: Input) -> dict[str, Any]:
    return {"name": item.name, "unit": item.unit, "nominal": item.nominal, "spread": item.stated}


def _window_body(window: Window) -> dict[str, Any]:
    def ends(places: tuple[int, int] | None) -> list[float] | None:
        return None if places is None else [window.settings[place].value for place in places]

    return {
        "verdict": window_verdict(window),
        "input": _input_body(window.item),
        "step": window.step,
        "yield_as_drawn": proportion_value(window.stated),
        "best": window.settings[window.best].value,
        "set_at": window.settings[window.chosen].value,
        "level_with_best": ends(window.flat),
        "window": ends(window.held),
        "centre": window.centre,
        "closed_below_by": window.closed_below,
        "closed_above_by": window.closed_above,
        "settings": [
            {
                "setting": setting.value,
                "yield": proportion_value(setting.overall),
                "limits": {name: proportion_value(s) for name, s in setting.shares.items()},
                "below_best": estimate_value(setting.short_of_best),
            }
            for setting in window.settings
        ],
    }


def _map_body(found: WindowMap) -> dict[str, Any]:
    return {
        "verdict": map_verdict(found),
        "inputs": [_input_body(item) for item in found.items],
        "steps": list(found.steps),
        "yield_as_drawn": proportion_value(found.stated),
        "best": [found.first[found.best[0]], found.second[found.best[1]]],
        "set_at": None
        if found.chosen is None
        else [found.first[found.chosen[0]], found.second[found.chosen[1]]],
        "gain_of_best": estimate_value(found.gain),
        "first": list(found.first),
        "second": list(found.second),
        "yield": [[proportion_value(share) for share in row] for row in found.overall],
    }
