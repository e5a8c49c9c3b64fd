"""Where to set one input or two, as plain values."""

from __future__ import annotations

from typing import Any

from sensitivity.answers.window.find import Window, WindowMap
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


def map_body(found: WindowMap) -> dict[str, Any]:
    """Lay a map out as plain values."""
    return {
        "target": found.target,
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
