"""Parts that work against the nominal of one input, and the window of settings that holds enough.

Every setting is tried on the same uniforms, so the curve is smooth and a difference between two
settings is the setting's. All are screened by how often they keep at a moment; those that may be
chosen are priced in parts that work. The window is made of settings whose lower ends all reach
the target; a setting between two that are priced is taken to be as they both are.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sensitivity.answers.window.edges import refined_edges
from sensitivity.answers.window.finalists import price_settings
from sensitivity.answers.window.screened import (
    Screened,
    filled,
    holding,
    runs,
    screened,
    widest,
    with_more,
)
from sensitivity.answers.window.settings import (
    Asked,
    EndBy,
    as_stated,
    ends_by,
    finer_settings,
    input_of,
    on_the_drawings_rule,
    planned,
    range_to_try,
    round_in,
    settings_to_try,
    sizes_between,
)
from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan
from sensitivity.engine.two_levels import TwoLevels
from sensitivity.presentation.units_said import Said, said_by
from sensitivity.pricing.nominals import physical_range
from sensitivity.pricing.priced import Priced, one_level, with_band
from sensitivity.pricing.variants import at_setting, passes_difference
from sensitivity.spreads.spread import Spread
from sensitivity.study.study import Input, Study

OUT_OF_RANGE = "physical range"
"""What closes a window where the spread reaches what physically cannot be."""

FLAT = 0.01
"""Parts that work, within one in a hundred of the best, count as level with it."""

_WANTED = 40
_ON_A_RULE = 80
"""Settings at most where they lie on the lines of a rule, which are not refined."""
_REFINEMENTS = 4
_OF_A_STEP = 4
"""Parts of the smallest step tried to which the edges of a window are refined."""


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
    asked : Asked
        What the call said, and the step that the builder can set, if the call or the study says.
    ends : (EndBy, EndBy)
        What the first and the last of the settings are the ends of.
    best, chosen : int
        Places in ``settings``: where most parts work, and, of those priced, what is nearest to the
        middle of what is level with it, or to the drawing where that goes on to an end of the
        settings.
    at_a_moment : int
        Where most keep at a moment taken at random.
    flat : (int, int)
        First and last setting about the best that are level with it: the difference is not
        settled, or is within one point in a hundred.
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
    asked: Asked
    ends: tuple[EndBy, EndBy]
    settings: tuple[Setting, ...]
    best: int
    chosen: int
    at_a_moment: int
    flat: tuple[int, int]
    held: tuple[int, int] | None
    closed_below: str
    closed_above: str

    @property
    def step(self) -> float | None:
        """What the builder can set, in the input's unit, if the call or the study says."""
        return self.asked.step

    @cached_property
    def said(self) -> Said:
        """How quantities are said: in the study's units, and in the step that was asked for."""
        return self.asked.said_in(said_by(self.study))

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
        """Middle of the window; None of one that ends where the settings tried do."""
        if self.held is None or self.held[0] == 0 or self.held[1] == len(self.settings) - 1:
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
    asked, inches = as_stated(item, asked), study.units == "inch"
    low, high = range_to_try(plan, item, asked, options)
    asked = on_the_drawings_rule(item, asked, low, high, _ON_A_RULE, inches=inches)
    settings = settings_to_try(plan, item, asked, low, high, _WANTED, inches=inches)
    tried = screened(study, plan, item, settings, options)
    only_these = bool(asked.step or sizes_between(item, low, high))
    for _ in range(_REFINEMENTS):
        finer = (
            [] if only_these else finer_settings(item, tried.settings, tried.passes, inches=inches)
        )
        if not finer:
            break
        tried = with_more(tried, finer, options)
    ends = ends_by(plan, item, asked, low, high)
    gap = float(np.diff(tried.settings).min())
    finest = None if only_these else round_in(item, gap / _OF_A_STEP, inches=inches)
    return _window(tried, asked, finest, ends, target, options)


def _window(
    tried: Screened,
    asked: Asked,
    finest: float | None,
    ends: tuple[EndBy, EndBy],
    target: float,
    options: RunOptions,
) -> Window:
    study, plan = tried.study, tried.plan
    drawn = tried.drawn if tried.drawn in tried.allowed else None
    if one_level(plan):
        priced: Priced[int] = Priced(tried.passes, {place: place + 1 for place in tried.allowed})
    else:
        overall = [tried.overall(place) for place in range(len(tried.settings))]
        priced = price_settings(
            plan, tried.variants, overall, tried.allowed, drawn,
            target=target, keeps=study.keeps, options=options,
        )  # fmt: skip
    if finest is not None:
        tried, priced = refined_edges(tried, priced, target, finest, options)
    settings, places = tried.settings, range(len(tried.settings))
    overall = [tried.overall(place) for place in places]
    shares = [tried.shares(place) for place in places]
    works = {place: priced.works(place) for place in sorted(priced.columns)}
    best = max(works, key=lambda place: works[place].value)
    short = {place: priced.more(best, place) for place in works}
    level = filled(places, tried.allowed, level_with_best(works, short))
    flat = next(run for run in runs(level) if run[0] <= best <= run[1])
    held = widest(tried, holding(tried, works, target))
    chosen = _chosen(tried, works, flat)
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
        asked=asked,
        ends=ends,
        settings=tuple(
            Setting(
                value=value,
                overall=overall[place],
                shares=shares[place],
                works=works.get(place),
                short_of_best=short.get(place),
                danger=tried.dangers[place],
            )
            for place, value in enumerate(settings)
        ),
        best=best,
        chosen=chosen,
        at_a_moment=max(tried.allowed, key=lambda place: overall[place].value),
        flat=flat,
        held=held,
        closed_below=_closing(tried, inside, edges[0] - 1),
        closed_above=_closing(tried, inside, edges[1] + 1),
    )  # fmt: skip


def level_with_best(
    works: Mapping[int, Proportion], short: Mapping[int, Estimate]
) -> dict[int, bool]:
    """Tell of each setting whether it is level with the best: not told apart, or within a point.

    By the tenths of a hundred that tables print, so that no two settings read alike and only one
    of them counts.
    """
    tenths = {place: round(1000.0 * share.value) for place, share in works.items()}
    within = max(tenths.values()) - round(1000.0 * FLAT)
    least = min([within, *(tenths[place] for place, less in short.items() if less.low <= 0.0)])
    return {place: count >= least for place, count in tenths.items()}


def _chosen(tried: Screened, works: Mapping[int, Proportion], flat: tuple[int, int]) -> int:
    """Take the middle of what is level with the best; what ends where the search does has none.

    There it is the setting nearest to the drawing: what lies beyond the end is not known, and so
    neither is the middle.
    """
    settings, last = tried.settings, len(tried.settings) - 1
    whole = flat[0] > 0 and flat[1] < last
    aim = 0.5 * (settings[flat[0]] + settings[flat[1]]) if whole else tried.item.nominal
    return min(
        (place for place in works if flat[0] <= place <= flat[1]),
        key=lambda place: (abs(settings[place] - aim), -works[place].value),
    )


def _closing(tried: Screened, inside: int, outside: int) -> str:
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
