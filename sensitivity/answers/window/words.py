"""Where to set one input or two, in shop words: in parts that work."""

from __future__ import annotations

from collections.abc import Sequence

from sensitivity.answers.finalists import hurts_first, of_which, physics
from sensitivity.answers.levels import sampled
from sensitivity.answers.window.find import FLAT, OUT_OF_RANGE, Window
from sensitivity.answers.window.find_map import WindowMap
from sensitivity.answers.window.settings import INCH
from sensitivity.presentation import wording


def setting_in_words(window: Window, place: int) -> str:
    """Write one setting with its unit, in inches too where the study is written in them."""
    values = [setting.value for setting in window.settings]
    return _in_units(window, [values[place]], wording.decimals_of(values))


def range_in_words(window: Window, ends: tuple[int, int]) -> str:
    """Write a run of settings with its unit; one setting alone by itself."""
    values = [setting.value for setting in window.settings]
    places = ends[:1] if ends[0] == ends[1] else ends
    return _in_units(window, [values[place] for place in places], wording.decimals_of(values))


def value_in_words(window: Window, value: float) -> str:
    """Write a value that is between settings."""
    decimals = wording.decimals_of([setting.value for setting in window.settings])
    return _in_units(window, [value], decimals)


def _in_units(window: Window, values: Sequence[float], decimals: int) -> str:
    unit = window.item.unit
    text = wording.with_unit(" to ".join(wording.number(v, decimals) for v in values), unit)
    if window.study.units != "inch" or unit != "mm":
        return text
    inches = " to ".join(wording.number(value / INCH, decimals + 1) for value in values)
    return f"{inches} in ({text})"


def window_verdict(window: Window) -> str:
    """Say in shop words where to set the input, and how much room there is."""
    return " ".join(
        [
            *hurts_first(
                window.study,
                window.drawn_shares,
                window.settings[window.chosen].shares,
                kept_out=window.kept_out,
                least_only=window.least_only,
            ),
            _where_to_set(window),
        ]
    )


def _where_to_set(window: Window) -> str:
    name, there = wording.in_words(window.item.name), window.there
    wanted, tried = wording.of_a_hundred(window.target), (0, len(window.settings) - 1)
    setting, said = setting_in_words(window, window.chosen), window.study.vocabulary
    if there.works.passes == 0:
        meaning = "" if there.one_level else f", which is to {of_which(there)}"
        return f"No {name} from {range_in_words(window, tried)} makes a {said.one} work{meaning}."
    share, band = sampled(there.works), physics(there, said.many)
    if window.held is None:
        best = window.settings[window.best].works
        assert best is not None
        reached = (
            f"The best there is, {setting}, makes about {share} work."
            if window.flat[0] == window.flat[1]
            else f"The best there is, {range_in_words(window, window.flat)}, makes about "
            f"{sampled(best)} work; {setting} is {_why_there(window)}."
        )
        return (
            f"No {name} from {range_in_words(window, tried)} makes {wanted} {said.many} work. "
            f"{reached}{band}{_sides(window)} "
            f'The rest lies elsewhere: "spiritlevel redraw {window.study.name}.toml" says whether '
            "in another nominal."
        )
    if window.held[0] == window.held[1]:
        room = f"only at {setting_in_words(window, window.held[0])} itself do {wanted}"
    elif window.held == tried:
        room = f"anywhere tried, {range_in_words(window, tried)}, {wanted} or more do"
    else:
        room = f"anywhere from {range_in_words(window, window.held)} {wanted} or more do"
    # A running condition is met, not set.
    where = f"Set the {name} at" if window.item.kind == "build" else f"Best is a {name} of"
    kept = f"of 100 {said.many} about {share} work"
    return f"{where} {setting}: {kept}, and {room}.{band}{_sides(window)}"


def _why_there(window: Window) -> str:
    last = len(window.settings) - 1
    if window.flat[0] == 0 or window.flat[1] == last:
        return "the nearest of these to the drawing"
    return "in the middle of these"


def _sides(window: Window) -> str:
    parts, more = [], " is broken more often"
    for way, limit in (("lower", window.closed_below), ("higher", window.closed_above)):
        if limit == OUT_OF_RANGE:
            parts.append(f"{way}, it cannot be")
        elif limit:
            parts.append(f"{way}, {wording.in_words(limit)}{more}")
            more = ""
    text = "; ".join(parts)
    told = f" {text[0].upper()}{text[1:]}." if text else ""
    return told + "".join(f" {sentence}" for sentence in open_ends(window))


def open_ends(window: Window) -> list[str]:
    """Say of each edge that is the end of what was tried, and not of what works."""
    edges = window.flat if window.held is None else window.held
    last = len(window.settings) - 1
    told = []
    for side, (place, end) in enumerate(zip(edges, (0, last), strict=True)):
        if place != end:
            continue
        setting, way = setting_in_words(window, end), ("Lower", "Higher")[side]
        by = window.ends[side]
        if by == "physics":
            told.append(f"{way} than {setting} it cannot be.")
        elif by == "study":
            told.append(f"{setting} is the end of the range that the study states.")
        elif by == "call":
            told.append(f"{way} than {setting} was not asked for, so it may go on there.")
        else:
            told.append(
                f"{setting} is where the search ended, and not where it stops working; "
                f'"{("--from", "--to")[side]}" looks further.'
            )
    return told


def order_differs(window: Window) -> str:
    """Say where a moment taken at random would have had it set, if that is settled to be worse."""
    at, best = window.settings[window.at_a_moment], window.settings[window.best]
    short = at.short_of_best
    if short is None or short.low <= 0.0 or short.value < FLAT:
        return ""
    return (
        f"At a moment taken at random {setting_in_words(window, window.at_a_moment)} looks best, "
        f"{wording.percent(at.overall)} against {wording.percent(best.overall)}; but there "
        f"{wording.significant(100 * short.value, 2)} fewer of 100 work."
    )


def map_verdict(found: WindowMap) -> str:
    """Say in shop words where to set the two inputs."""
    return " ".join(
        [
            *hurts_first(
                found.study,
                found.drawn_shares,
                found.there_shares,
                kept_out=found.kept_out,
                least_only=found.least_only,
            ),
            _where_to_set_both(found),
        ]
    )


def _where_to_set_both(found: WindowMap) -> str:
    said, stated = found.study.vocabulary, found.stated
    if found.works[found.best].passes == 0 and found.chosen is None:
        meaning = "" if stated.one_level else f", which is to {of_which(stated)}"
        return f"No pair tried makes a {said.one} work{meaning}."
    held = _held(found)
    if found.chosen is None:
        return (
            f"Leave both as drawn, {sampled(stated.works)} of 100 {said.many} work: no pair "
            f"{_tried(found)} is better by one in a hundred, and {held}."
            f"{physics(stated, said.many)}"
        )
    where = " and the ".join(pair_in_words(found, found.chosen))
    return (
        f"Set the {where}: of 100 {said.many} about {sampled(found.there.works)} work, against "
        f"{sampled(stated.works)} as drawn; {held}.{physics(found.there, said.many)}"
    )


def _held(found: WindowMap) -> str:
    count, wanted = found.holding, wording.of_a_hundred(found.target)
    return (
        f"{count or 'none'} of the {len(found.works)} pairs {_tried(found)} "
        f"{'make' if count > 1 else 'makes'} {wanted} work"
    )


def _tried(found: WindowMap) -> str:
    """Pairs are tried where nothing runs; else a few of them are priced."""
    return "tried" if found.stated.one_level else f"priced in {found.study.vocabulary.many}"


def pair_in_words(found: WindowMap, pair: tuple[int, int]) -> tuple[str, str]:
    """Write where a pair sets its two inputs."""
    words = []
    axes = (found.first, found.second)
    for item, values, place in zip(found.items, axes, pair, strict=True):
        text = wording.number(values[place], wording.decimals_of(values))
        words.append(f"{wording.in_words(item.name)} at {wording.with_unit(text, item.unit)}")
    return words[0], words[1]
