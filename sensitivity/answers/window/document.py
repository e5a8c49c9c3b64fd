"""Where to set one input or two, as plain values."""

from __future__ import annotations

from typing import Any

from sensitivity.answers.finalists import works_value
from sensitivity.answers.levels import levels_value
from sensitivity.answers.window.find import Window
from sensitivity.answers.window.find_map import WindowMap
from sensitivity.presentation.json_values import estimate_value, proportion_value
from sensitivity.study.study import Input


def _input_body(item: Input) -> dict[str, Any]:
    return {"name": item.name, "unit": item.unit, "nominal": item.nominal, "spread": item.stated}


def window_body(window: Window) -> dict[str, Any]:
    """Lay a window out as plain values."""

    def ends(places: tuple[int, int] | None) -> list[float] | None:
        return None if places is None else [window.settings[place].value for place in places]

    return {
        "target": window.target,
        "input": _input_body(window.item),
        "step": window.step,
        "yield_as_drawn": proportion_value(window.stated.share),
        "works_as_drawn": levels_value(window.stated),
        "best": window.settings[window.best].value,
        "best_at_a_moment": window.settings[window.at_a_moment].value,
        "set_at": window.settings[window.chosen].value,
        "works": levels_value(window.there),
        "level_with_best": ends(window.flat),
        "window": ends(window.held),
        "centre": window.centre,
        "closed_below_by": window.closed_below,
        "closed_above_by": window.closed_above,
        "settings": [
            {
                "setting": setting.value,
                "yield": proportion_value(setting.overall),
                "works": works_value(setting.works, window.study.keeps),
                "limits": {name: proportion_value(s) for name, s in setting.shares.items()},
                "below_best": None
                if setting.short_of_best is None
                else estimate_value(setting.short_of_best),
            }
            for setting in window.settings
        ],
    }


def map_body(found: WindowMap) -> dict[str, Any]:
    """Lay a map out as plain values."""

    def at(pair: tuple[int, int]) -> list[float]:
        return [found.first[pair[0]], found.second[pair[1]]]

    return {
        "target": found.target,
        "inputs": [_input_body(item) for item in found.items],
        "steps": [each.step for each in found.asked],
        "yield_as_drawn": proportion_value(found.stated.share),
        "works_as_drawn": levels_value(found.stated),
        "best": at(found.best),
        "best_at_a_moment": at(found.at_a_moment),
        "set_at": None if found.chosen is None else at(found.chosen),
        "works": levels_value(found.there),
        "gain_of_best": estimate_value(found.gain),
        "first": list(found.first),
        "second": list(found.second),
        "yield": [[proportion_value(share) for share in row] for row in found.overall],
        "priced": [
            {"at": at(pair), "works": works_value(share, found.study.keeps)}
            for pair, share in found.works.items()
        ],
    }
