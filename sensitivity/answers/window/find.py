"""Parts that work against the nominal of one input, and the window of settings that holds enough.

Every setting is tried on the same uniforms, so the curve is smooth and a difference between two
settings is the setting's. All are screened by how often they keep at a moment; those that may be
chosen are priced in parts that work. The window is made of settings whose lower ends all reach
the target; a setting between two that are priced is taken to be as they both are.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isclose

import numpy as np

from sensitivity.answers.window.finalists import may_hold, price_settings
from sensitivity.answers.window.settings import (
    Asked,
    finer_settings,
    input_of,
    physical_range,
    planned,
    range_to_try,
    settings_to_try,
)
from sensitivity.engine.intervals import Estimate, Proportion, proportion
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.two_levels import TwoLevels
from sensitivity.pricing.hurting import choosable, danger
from sensitivity.pricing.priced import Priced, one_level, with_band
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
"""Parts that work, less than one in a hundred below the best, count as level with it."""

_WANTED = 40
_REFINEMENTS = 4


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting: how often it keeps, in all and each limit, and how many parts work.

    Attributes
    ----------
    value : float
    overall : Proportion
        Share of parts and moments that keep every limit.
    shares : mapping of str to Proportion
        The same of each limit.
    works : Proportion or None
        Parts that work; None where it was not priced.
    short_of_best : Estimate or None
        Parts that work less than at the best setting.
    danger : float
        Chance of breaking a limit that hurts, its ceiling being one.
    """

    value: float
    overall: Proportion
    shares: dict[str, Proportion]
    works: Proportion | None
    short_of_best: Estimate | None
    danger: float


@dataclass(frozen=True)
class Window:
    """Parts that work against the nominal of one input.

    Attributes
    ----------
    stated, there : TwoLevels
        As drawn, and at the chosen setting.
    drawn_shares : mapping of str to Proportion
        Share of moments at which each limit is kept as drawn.
    step : float or None
        What the builder can set, if the call says.
    best, chosen : int
        Places in ``settings``: where most parts work, and the middle of what is level with it.
    at_a_moment : int
        Where most keep at a moment taken at random.
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
    stated: TwoLevels
    there: TwoLevels
    drawn_shares: Mapping[str, Proportion]
    step: float | None
    settings: tuple[Setting, ...]
    best: int
    chosen: int
    at_a_moment: int
    flat: tuple[int, int]
    held: tuple[int, int] | None
    closed_below: str
    closed_above: str

    @property
    def kept_out(self) -> bool:
        """Tell whether a limit that hurts forbids any of the settings."""
        return any(each.danger > 1.0 for each in self.settings)

    @property
    def least_only(self) -> bool:
        """Tell whether a limit that hurts forbids them all."""
        return all(each.danger > 1.0 for each in self.settings)

    @property
    def centre(self) -> float | None:
        """Middle of the window."""
        if self.held is None:
            return None
        return 0.5 * sum(self.settings[place].value for place in self.held)


def find_window(
    study: Study,
    asked: Asked,
    *,
    target: float = 0.95,
    options: RunOptions = DEFAULTS,
) -> Window:
    """Find parts that work against the nominal of one input.

    Raises
    ------
    CallError
        Where the study has no limits or no such input, or the settings asked for make no sense.
    """
    plan, item = planned(study), input_of(study, asked.name)
    low, high = range_to_try(plan, item, asked, options)
    settings = settings_to_try(plan, item, asked, low, high, _WANTED)
    passes = _tried(plan, item, settings, options)
    for _ in range(_REFINEMENTS):
        finer = [] if asked.step else finer_settings(settings, passes)
        if not finer:
            break
        settings = sorted({*settings, *finer})
        passes = _tried(plan, item, settings, options)
    return _window(_Screened(study, plan, item, settings, passes), asked.step, target, options)


def _tried(
    plan: Plan, item: Input, settings: Sequence[float], options: RunOptions
) -> VariantPasses:
    variants: list[Variant] = [{item.name: at_setting(item, value)} for value in settings]
    return run_variants(plan, variants, options=options)


@dataclass(frozen=True)
class _Screened:
    """The settings as they are tried at moments."""

    study: Study
    plan: Plan
    item: Input
    settings: Sequence[float]
    passes: VariantPasses

    @property
    def variants(self) -> list[Variant]:
        """What each setting changes."""
        return [{self.item.name: at_setting(self.item, value)} for value in self.settings]

    @property
    def drawn(self) -> int | None:
        """Place of the setting as drawn, if it is one of them."""
        for place, value in enumerate(self.settings):
            if isclose(value, self.item.nominal, rel_tol=1e-9, abs_tol=1e-12):
                return place
        return None

    def overall(self, place: int) -> Proportion:
        """Share of parts and moments that keep every limit."""
        return self.passes.overall(place + 1)

    def shares(self, place: int) -> dict[str, Proportion]:
        """Share of parts and moments that keep each limit; of -1, as drawn."""
        passes = self.passes
        return {
            limit.result: proportion(passes.each[:, place + 1, row], passes.rows, passes.confidence)
            for row, limit in enumerate(self.plan.limits)
        }


def _window(tried: _Screened, step: float | None, target: float, options: RunOptions) -> Window:
    study, plan, settings = tried.study, tried.plan, tried.settings
    places = range(len(settings))
    overall = [tried.overall(place) for place in places]
    shares = [tried.shares(place) for place in places]
    dangers = {place: danger(plan.limits, shares[place]) for place in places}
    allowed = choosable(dangers)
    drawn = tried.drawn if tried.drawn in allowed else None
    if one_level(plan):
        priced: Priced[int] = Priced(tried.passes, {place: place + 1 for place in allowed})
    else:
        priced = price_settings(
            plan, tried.variants, overall, allowed, drawn,
            target=target, keeps=study.keeps, options=options,
        )  # fmt: skip
    works = {place: priced.works(place) for place in sorted(priced.columns)}
    best = max(works, key=lambda place: works[place].value)
    short = {place: priced.more(best, place) for place in works}
    level = _filled(places, allowed, {p: _is_level(each) for p, each in short.items()})
    flat = next(run for run in _runs(level) if run[0] <= best <= run[1])
    enough = _filled(
        places,
        [place for place in allowed if may_hold(overall[place], target, study.keeps)],
        {place: share.low >= target for place, share in works.items()},
    )
    held = max(_runs(enough), key=lambda run: settings[run[1]] - settings[run[0]], default=None)
    middle = 0.5 * (settings[flat[0]] + settings[flat[1]])
    chosen = min(
        (place for place in works if flat[0] <= place <= flat[1]),
        key=lambda place: (abs(settings[place] - middle), -works[place].value),
    )
    edges = flat if held is None else held
    inside = chosen if edges[0] <= chosen <= edges[1] else sum(edges) // 2
    stated = with_band(
        plan,
        priced.stated,
        tried.passes.overall(0),
        keeps=study.keeps,
        orders=priced.orders,
        options=options,
    )
    return Window(
        study=study,
        plan=plan,
        item=tried.item,
        target=target,
        stated=stated,
        there=stated
        if chosen == tried.drawn
        else with_band(
            plan, works[chosen], overall[chosen], tried.variants[chosen],
            keeps=study.keeps, orders=priced.orders, options=options,
        ),
        drawn_shares=tried.shares(-1),
        step=step,
        settings=tuple(
            Setting(
                value=value,
                overall=overall[place],
                shares=shares[place],
                works=works.get(place),
                short_of_best=short.get(place),
                danger=dangers[place],
            )
            for place, value in enumerate(settings)
        ),
        best=best,
        chosen=chosen,
        at_a_moment=max(allowed, key=lambda place: overall[place].value),
        flat=flat,
        held=held,
        closed_below=_closing(tried, inside, edges[0] - 1),
        closed_above=_closing(tried, inside, edges[1] + 1),
    )  # fmt: skip


def _is_level(short: Estimate) -> bool:
    """Tell whether so little less is level with the best: not told apart, or within a point."""
    return short.low <= 0.0 or short.value < FLAT


def _filled(places: Sequence[int], allowed: Sequence[int], told: Mapping[int, bool]) -> list[bool]:
    """Tell of every place what is told of some: of one between two, what both of them say."""
    row = sorted(told)

    def between(place: int) -> bool:
        below = [at for at in row if at < place]
        above = [at for at in row if at > place]
        return bool(below and above and told[below[-1]] and told[above[0]])

    open_to = set(allowed)
    return [
        told[place] if place in told else place in open_to and between(place) for place in places
    ]


def _runs(flags: Sequence[bool]) -> list[tuple[int, int]]:
    """First and last place of each unbroken run of flags that are set."""
    edges = np.flatnonzero(np.diff([False, *flags, False]))
    return [(int(start), int(end) - 1) for start, end in zip(edges[::2], edges[1::2], strict=True)]


def _closing(tried: _Screened, inside: int, outside: int) -> str:
    """Name the limit that is broken more often outside, if that is settled."""
    plan, passes = tried.plan, tried.passes
    if not 0 <= outside < len(tried.settings):
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
    spread = at_setting(tried.item, tried.settings[outside])
    if (
        isinstance(spread, Spread)
        and min(f.value for f in falls.values()) > 0.5 * falls[name].value
    ):
        # Where there is no answer every limit fails alike.
        physical = physical_range(plan, tried.item)
        if not (physical.holds(spread.low) and physical.holds(spread.high)):
            return OUT_OF_RANGE
    return name
