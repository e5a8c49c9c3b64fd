"""Where to set one input or two, in shop words: in parts that work."""

from __future__ import annotations

from sensitivity.answers.finalists import hurts_first, of_which, physics
from sensitivity.answers.levels import sampled
from sensitivity.answers.next_commands import Ask, next_in_words
from sensitivity.answers.settings_words import Alike, said_alike
from sensitivity.answers.window.find import FLAT, OUT_OF_RANGE, Window
from sensitivity.answers.window.find_map import WindowMap
from sensitivity.answers.window.settings import EndBy
from sensitivity.presentation import wording

REDRAW = Ask("redraw", "says whether another nominal is in the way")
MEASURE = Ask("measure", "says what to gauge before it is set")


def setting_in_words(window: Window, place: int) -> str:
    """Write one setting with its unit."""
    return value_in_words(window, window.settings[place].value)


def range_in_words(window: Window, ends: tuple[int, int]) -> str:
    """Write a run of settings with its unit; one setting alone by itself."""
    low, high = (window.settings[place].value for place in ends)
    return settings_alike(window).pair(low, high)


def value_in_words(window: Window, value: float) -> str:
    """Write a value of the input, with the digits that tell its settings apart."""
    return settings_alike(window).text(value)


def settings_alike(window: Window) -> Alike:
    """How the settings that were tried are said."""
    manner = window.said.of(window.item.name)
    return said_alike(manner, [setting.value for setting in window.settings])


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
            f"{reached}{band}{_sides(window)}"
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
    (low, high), last = window.flat, len(window.settings) - 1
    if low == 0 or high == last:
        return "the nearest of these to the drawing"
    if _in_the_middle(window):
        return "in the middle of these"
    if window.chosen == window.best:
        return "the best of these"
    return "the nearest to their middle that was worked out"


def _in_the_middle(window: Window) -> bool:
    """Tell whether the chosen setting may be called the middle of those level with the best.

    None between their ends is nearer to the middle, priced or not, nor is it far from there.
    """
    low, high = window.flat
    values = [setting.value for setting in window.settings[low : high + 1]]
    middle, width = 0.5 * (values[0] + values[-1]), values[-1] - values[0]
    off = abs(window.settings[window.chosen].value - middle)
    nearest = min(abs(value - middle) for value in values)
    return off <= nearest + 1e-9 * width and off <= 0.25 * width


def _sides(window: Window) -> str:
    parts, more = [], " is broken more often"
    for way, limit in (("lower", window.closed_below), ("higher", window.closed_above)):
        if limit == OUT_OF_RANGE:
            parts.append(f"{way} is physically impossible")
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
    return [
        _end_in_words(setting_in_words(window, end), side, window.ends[side])
        for side, (place, end) in enumerate(zip(edges, (0, last), strict=True))
        if place == end
    ]


def _end_in_words(setting: str, side: int, by: EndBy) -> str:
    way = ("Lower", "Higher")[side]
    if by == "physics":
        return f"{way} than {setting} is physically impossible."
    if by == "study":
        return f"{setting} is the end of the range that the study states."
    if by == "call":
        return f"{way} than {setting} was not asked for, so it may go on there."
    return (
        f"The search ended at {setting}, and more may work beyond it: "
        f'"{("--from", "--to")[side]}" looks further.'
    )


def next_after_window(window: Window) -> str:
    """Say what to ask next; nothing where enough work."""
    if window.held is not None:
        return ""
    return next_in_words(window.study, "window", REDRAW, MEASURE)


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
        + "".join(f" {text}" for text in open_edges(found))
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
    names = [wording.in_words(item.name) for item in found.items]
    one, other = pair_in_figures(found, pair)
    return f"{names[0]} at {one}", f"{names[1]} at {other}"


def pair_in_figures(found: WindowMap, pair: tuple[int, int]) -> tuple[str, str]:
    """Write the two settings of a pair with their units."""
    words = []
    for item, values, place in zip(found.items, (found.first, found.second), pair, strict=True):
        words.append(said_alike(found.said.of(item.name), values).text(values[place]))
    return words[0], words[1]


def drawn_pair(found: WindowMap) -> str:
    """Write where the two inputs are drawn."""
    return " and ".join(
        f"{wording.in_words(item.name)} at {found.said.drawn(item)}" for item in found.items
    )


def open_edges(found: WindowMap) -> list[str]:
    """Say of each edge of the map that the named pair lies on what it is the end of."""
    place = found.chosen or found.best
    figures = pair_in_figures(found, place)
    told = []
    axes = zip(found.items, (found.first, found.second), found.ends, strict=True)
    for which, (item, values, ends) in enumerate(axes):
        for side, end in enumerate((0, len(values) - 1)):
            if place[which] == end:
                setting = f"{wording.in_words(item.name)} {figures[which]}"
                text = _end_in_words(setting, side, ends[side])
                told.append(f"{text[0].upper()}{text[1:]}")
    return told


def next_after_map(found: WindowMap) -> str:
    """Say what to ask next; nothing where enough work."""
    if found.holding:
        return ""
    return next_in_words(found.study, "window", REDRAW, MEASURE)
