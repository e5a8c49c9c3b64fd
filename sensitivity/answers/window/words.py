"""Where to set one input or two, in shop words."""

from __future__ import annotations

from sensitivity.answers.window.find import OUT_OF_RANGE, Window, WindowMap
from sensitivity.presentation import wording


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
        one = window.study.vocabulary.one
        return f"No {name} from {range_in_words(window, tried)} keeps a {one} within every limit."
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
        one = found.study.vocabulary.one
        return f"No pair tried keeps a {one} within every limit."
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
