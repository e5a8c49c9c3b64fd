"""Yield against the nominal of one input, and the window of settings that holds a wanted yield.

Every setting is tried on the same uniforms, so the curve is smooth and a difference between
two settings is the setting's. Its interval at each setting is that setting's own; the window is
made of settings whose lower ends all reach the target.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.answers.window.settings import (
    MOST_SETTINGS,
    Asked,
    finer_settings,
    physical_range,
    range_to_try,
    settings_to_try,
)
from sensitivity.engine.intervals import Estimate, Proportion, proportion
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan, plan_run
from sensitivity.errors import CallError, nearest
from sensitivity.pricing.variants import (
    Variant,
    VariantPasses,
    at_setting,
    passes_difference,
    run_variants,
)
from sensitivity.spreads.spread import Spread
from sensitivity.study.study import Input, Study

OUT_OF_RANGE = "physical range"
"""What closes a window where the spread reaches what physically cannot be."""

FLAT = 0.01
"""A yield less than one point in a hundred below the best counts as level with it."""

_WANTED = {1: 40, 2: 14}
_REFINEMENTS = 4

Floats = NDArray[np.float64]


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
    options: RunOptions = DEFAULTS,
) -> Window:
    """Find yield against the nominal of one input.

    Raises
    ------
    CallError
        Where the study has no limits or no such input, or the settings asked for make no sense.
    """
    plan, item = _planned(study), _input(study, asked.name)
    low, high = range_to_try(plan, item, asked, options)
    settings = settings_to_try(plan, item, asked, low, high, _WANTED[1])
    passes = _tried(plan, item, settings, options)
    for _ in range(_REFINEMENTS):
        finer = [] if asked.step else finer_settings(settings, passes)
        if not finer:
            break
        settings = sorted({*settings, *finer})
        passes = _tried(plan, item, settings, options)
    return _window(study, plan, item, target, asked.step, settings, passes)


def _tried(
    plan: Plan, item: Input, settings: Sequence[float], options: RunOptions
) -> VariantPasses:
    variants: list[Variant] = [{item.name: at_setting(item, value)} for value in settings]
    return run_variants(plan, variants, options=options)


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
        physical = physical_range(plan, item)
        if not (physical.holds(spread.low) and physical.holds(spread.high)):
            return OUT_OF_RANGE
    return name


def find_map(
    study: Study,
    asked: tuple[Asked, Asked],
    *,
    target: float = 0.95,
    options: RunOptions = DEFAULTS,
) -> WindowMap:
    """Find yield over a grid of the nominals of two inputs; raises as ``find_window`` does."""
    plan = _planned(study)
    one, other = (_input(study, each.name) for each in asked)
    if one is other:
        raise CallError(f"{one.name} is named twice; a map wants two inputs")
    axes = []
    for item, each in zip((one, other), asked, strict=True):
        low, high = range_to_try(plan, item, each, options)
        axes.append(settings_to_try(plan, item, each, low, high, _WANTED[2]))
    first, second = axes
    variants: list[Variant] = [
        {one.name: at_setting(one, x), other.name: at_setting(other, y)}
        for x in first
        for y in second
    ]
    if len(variants) > MOST_SETTINGS:
        raise CallError(f"that is a map of {len(variants)} pairs; take larger steps")
    passes = run_variants(plan, variants, options=options)
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
