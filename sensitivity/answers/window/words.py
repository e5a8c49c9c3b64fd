"""Where to set one input or two, in shop words and as plain values."""

from __future__ import annotations

from typing import Any

from sensitivity import __version__
from sensitivity.answers.window.find import OUT_OF_RANGE, Window, WindowMap
from sensitivity.presentation import wording
from sensitivity.presentation.json_values import SCHEMA, estimate_value, proportion_value
from sensitivity.study.study import Input


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
        alone = window.flat[0] == window.flat[1]
        best = wording.share_of_a_hundred(window.settings[window.best].overall)
        reached = (
            f"The best there is, {setting}, keeps about {share}."
            if alone
            else f"The best there is, {range_in_words(window, window.flat)}, keeps about {best}; "
            f"{setting} is in the middle of these."
        )
        return (
            f"No {name} from {range_in_words(window, tried)} keeps {wanted} within every limit. "
            f"{reached}{_sides(window)} "
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
