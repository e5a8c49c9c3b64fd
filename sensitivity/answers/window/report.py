"""The report of ``window``: where to set one input or two, and how much room there is."""

from __future__ import annotations

from collections.abc import Mapping

from sensitivity.answers.report import answer_page, figures_of, wanted_in_words
from sensitivity.answers.window.find import FLAT, Window, WindowMap
from sensitivity.answers.window.tables import places_table, settings_table
from sensitivity.answers.window.words import (
    map_verdict,
    pair_in_words,
    range_in_words,
    setting_in_words,
    window_verdict,
)
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Figure, Page, Section, Words
from sensitivity.presentation.drawing import plan_drawings


def window_page(found: Window, figures: Mapping[str, Figure], command: str) -> Page:
    """Tell the story of a window."""
    name, wanted = wording.in_words(found.item.name), wording.of_a_hundred(found.target)
    chosen = found.settings[found.chosen]
    many = found.study.vocabulary.many
    share = wording.share_of_a_hundred(chosen.overall)
    return answer_page(
        found.study,
        found.plan,
        question=(
            f"The question: where to set the {name}, so that {wanted} {many} keep within every "
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
                        f"with it; every setting is tried on the same {many}."
                    ),
                    settings_table(found),
                    figures["window"],
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


def map_page(found: WindowMap, figures: Mapping[str, Figure], command: str) -> Page:
    """Tell the story of a map over two inputs."""
    one, other = (wording.in_words(item.name) for item in found.items)
    wanted = wording.of_a_hundred(found.target)
    many = found.study.vocabulary.many
    place = found.chosen or found.best
    chosen = found.overall[place[0]][place[1]]
    tried = len(found.first) * len(found.second)
    drawn = " and ".join(
        f"{wording.in_words(item.name)} at {wording.drawn(item)}" for item in found.items
    )
    blocks: list[Block] = [
        places_table(found),
        Words(
            f"The highest is {wording.points_of_percent(found.gain)} against the drawing. "
            f"{found.holding} of the {tried} pairs tried keep {wanted}."
        ),
        figures["map"],
    ]
    return answer_page(
        found.study,
        found.plan,
        question=(
            f"The question: where to set {one} and {other} so that the most {many} keep within "
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
                f"drawing is of the same {many}.",
            )
        ],
        command=command,
        drawings=figures_of(plan_drawings(found.study, found.plan)),
    )
