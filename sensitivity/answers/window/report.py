"""The report of ``window``: where to set one input or two, and how much room there is."""

from __future__ import annotations

from collections.abc import Mapping

from sensitivity.answers.report import answer_page, figures_of, wanted_in_words
from sensitivity.answers.window.find import FLAT, Window, WindowMap
from sensitivity.answers.window.words import (
    map_verdict,
    pair_in_words,
    range_in_words,
    setting_in_words,
    window_verdict,
)
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Figure, Page, Section, Words
from sensitivity.presentation.blocks import PlainTable as Table
from sensitivity.presentation.drawing import plan_drawings
from sensitivity.presentation.page import render

ROWS = 25
"""Settings in the table at most; the CSV holds all."""


def window_report(found: Window | WindowMap, figures: Mapping[str, str], command: str) -> str:
    """Write the report of a window, or of a map over two inputs, as HTML."""
    if isinstance(found, Window):
        return render(_window_page(found, figures, command))
    return render(_map_page(found, figures, command))


def _window_page(found: Window, figures: Mapping[str, str], command: str) -> Page:
    name, wanted = wording.in_words(found.item.name), wording.of_a_hundred(found.target)
    chosen = found.settings[found.chosen]
    share = wording.share_of_a_hundred(chosen.overall)
    return answer_page(
        found.study,
        found.plan,
        question=(
            f"The question: where to set the {name}, so that {wanted} burners keep within every "
            f"limit ({wanted_in_words(found.study)}), and how much room is there?"
        ),
        answer=window_verdict(found),
        brief=[
            (
                "Set it at",
                f"{setting_in_words(found, found.chosen)}: about {share} of 100 keep within every "
                f"limit, against {wording.share_of_a_hundred(found.stated)} at "
                f"{wording.drawn(found.item)} as drawn.",
            ),
            ("Room", _room(found)),
        ],
        told=[
            Section(
                f"Yield against {name}",
                [
                    Words(
                        "The spread of the setting, which is how well it can be set, moves along "
                        "with it; every setting is tried on the same burners."
                    ),
                    _settings_table(found),
                    Figure(
                        "window",
                        figures["window"],
                        f"Burners that keep within, against {name}: every limit together with its "
                        "interval, each limit by itself, the setting as drawn and the window",
                    ),
                ],
            )
        ],
        how=[
            (
                "Window:",
                "made of settings whose yields all reach the target with the lower ends of their "
                f"intervals. Level with the highest: less than {100 * FLAT:g} in 100 below it, or "
                "not told apart from it.",
            )
        ],
        command=command,
        drawings=figures_of(plan_drawings(found.study, found.plan)),
    )


def _room(found: Window) -> str:
    wanted, tried = wording.of_a_hundred(found.target), (0, len(found.settings) - 1)
    level = range_in_words(found, found.flat)
    if found.held is None:
        return (
            f"Nothing tried, {range_in_words(found, tried)}, keeps {wanted}. Level with the best: "
            f"{level}."
        )
    closing = [
        f"{way} it is closed by {wording.in_words(limit)}"
        for way, limit in (("below", found.closed_below), ("above", found.closed_above))
        if limit
    ]
    ends = f"; {' and '.join(closing)}" if closing else ""
    return f"{range_in_words(found, found.held)} keeps {wanted} or more{ends}."


def _settings_table(found: Window) -> Table:
    limits = [name for name in found.settings[0].shares if _told_apart(found, name)]
    named = {
        found.best: "highest",
        found.chosen: "set here",
        **dict.fromkeys(found.held or (), "edge of the window"),
    }
    stride = -(-len(found.settings) // ROWS)
    places = sorted({*named, *found.flat, *range(0, len(found.settings), stride)})
    rows = []
    for place in places:
        setting = found.settings[place]
        remark = named.get(place, "")
        if place == found.chosen == found.best:
            remark = "set here, highest"
        rows.append(
            [
                setting_in_words(found, place),
                wording.percent(setting.overall),
                *(wording.percent(setting.shares[limit]) for limit in limits),
                remark,
            ]
        )
    head = ["set at", "keeps within every limit", *map(wording.in_words, limits), "remark"]
    name = wording.in_words(found.item.name)
    return Table(f"Yield against {name}, and of the limits that it moves", head, rows)


def _told_apart(found: Window, limit: str) -> bool:
    shares = [setting.shares[limit].value for setting in found.settings]
    return max(shares) - min(shares) >= FLAT


def _map_page(found: WindowMap, figures: Mapping[str, str], command: str) -> Page:
    one, other = (wording.in_words(item.name) for item in found.items)
    wanted = wording.of_a_hundred(found.target)
    best = found.overall[found.best[0]][found.best[1]]
    place = found.chosen or found.best
    chosen = found.overall[place[0]][place[1]]
    tried = len(found.first) * len(found.second)
    drawn = " and ".join(
        f"{wording.in_words(item.name)} at {wording.drawn(item)}" for item in found.items
    )
    rows = [
        ["as drawn", drawn, wording.percent(found.stated)],
        ["highest", " and ".join(pair_in_words(found, found.best)), wording.percent(best)],
        [
            "nearest to the drawing of those level with it",
            " and ".join(pair_in_words(found, place)),
            wording.percent(chosen),
        ],
    ]
    if found.chosen is None:
        rows.pop()
    blocks: list[Block] = [
        Table(
            f"Where to set {one} and {other}", ["which", "set at", "keeps within every limit"], rows
        ),
        Words(
            f"The highest is {wording.points_of_percent(found.gain)} against the drawing. "
            f"{found.holding} of the {tried} pairs tried keep {wanted}."
        ),
        Figure(
            "map",
            figures["map"],
            f"Burners that keep within every limit, over {one} and {other}, with the drawing",
        ),
    ]
    return answer_page(
        found.study,
        found.plan,
        question=(
            f"The question: where to set {one} and {other} so that the most burners keep within "
            f"every limit ({wanted_in_words(found.study)})?"
        ),
        answer=map_verdict(found),
        brief=[
            (
                "Set them at",
                f"The {' and the '.join(pair_in_words(found, place))}: about "
                f"{wording.share_of_a_hundred(chosen)} of 100 keep within every limit."
                if found.chosen
                else f"The {drawn}, as drawn: no pair tried is better by a point in a hundred.",
            ),
            ("Room", f"{found.holding} of {tried} pairs tried keep {wanted} or more."),
        ],
        told=[Section(f"Yield over {one} and {other}", blocks)],
        how=[
            (
                "Highest:",
                "the largest of many yields is a little too high by chance; its gain over the "
                "drawing is of the same burners.",
            )
        ],
        command=command,
        drawings=figures_of(plan_drawings(found.study, found.plan)),
    )
