"""The report of ``window``: where to set one input or two, and how much room there is."""

from __future__ import annotations

from collections.abc import Mapping

from sensitivity.answers.finalists import levels_in_words, of_which
from sensitivity.answers.report import answer_page, figures_of, wanted_in_words
from sensitivity.answers.window.find import FLAT, Window
from sensitivity.answers.window.find_map import WindowMap
from sensitivity.answers.window.tables import places_table, settings_table
from sensitivity.answers.window.words import (
    map_verdict,
    order_differs,
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
    many, differs = found.study.vocabulary.many, order_differs(found)
    return answer_page(
        found.study,
        found.plan,
        question=(
            f"The question: where to set the {name}, so that {wanted} {many} work, which is to "
            f"{of_which(found.stated)} ({wanted_in_words(found.study)}), and how much room is "
            "there?"
        ),
        answer=window_verdict(found),
        brief=[
            (
                "Set it at",
                f"{setting_in_words(found, found.chosen)}: {levels_in_words(found.there, many)}. "
                f"At {found.said.drawn(found.item)}, as drawn: "
                f"{levels_in_words(found.stated, many)}.",
            ),
            ("Room", _room(found)),
        ],
        act=Section(f"{many.capitalize()} that work against {name}", [figures["window"]]),
        told=[
            Section(
                "Every setting that was priced",
                [
                    Words(
                        "The spread of the setting, which is how well it can be set, moves along "
                        f"with it; every setting is tried on the same {many}."
                    ),
                    settings_table(found),
                    *([Words(differs)] if differs else []),
                ],
                f"How many {many} work at each",
            )
        ],
        how=[
            (
                "Window:",
                f"made of settings at which the {many} that work all reach the target with the "
                "lower ends of their sampling intervals. Level with the highest: within "
                f"{100 * FLAT:g} in 100 of it as printed, or not told apart from it.",
            ),
            *_priced(found.stated.one_level is None, many),
        ],
        command=command,
        drawings=figures_of(plan_drawings(found.study, found.plan)),
    )


def _priced(few: bool, many: str) -> list[tuple[str, str]]:
    if not few:
        return []
    return [
        (
            "Priced in what works:",
            f"every setting is tried at moments taken at random; the few that may be chosen are "
            f"then priced in {many} that work, on the same {many} and moments, nearer to the "
            "answer from round to round. A setting between two of these is taken to be as both "
            "are.",
        )
    ]


def _room(found: Window) -> str:
    wanted, tried = wording.of_a_hundred(found.target), (0, len(found.settings) - 1)
    level = range_in_words(found, found.flat)
    if found.held is None:
        return (
            f"Nothing tried, {range_in_words(found, tried)}, makes {wanted} work. Level with the "
            f"best: {level}."
        )
    closing = [
        f"{way} it is closed by {wording.in_words(limit)}"
        for way, limit in (("below", found.closed_below), ("above", found.closed_above))
        if limit
    ]
    ends = f"; {' and '.join(closing)}" if closing else ""
    from_where = "Only at" if found.held[0] == found.held[1] else "From"
    return f"{from_where} {range_in_words(found, found.held)} {wanted} or more work{ends}."


def map_page(found: WindowMap, figures: Mapping[str, Figure], command: str) -> Page:
    """Tell the story of a map over two inputs."""
    one, other = (wording.in_words(item.name) for item in found.items)
    wanted = wording.of_a_hundred(found.target)
    many = found.study.vocabulary.many
    place = found.chosen or found.best
    drawn = " and ".join(
        f"{wording.in_words(item.name)} at {found.said.drawn(item)}" for item in found.items
    )
    held = f"{found.holding} of the {len(found.works)} pairs priced make {wanted} work"
    blocks: list[Block] = [
        Words(
            f"The highest is {wording.points_of_percent(found.gain)} against the drawing. {held}."
        ),
        figures["map"],
    ]
    return answer_page(
        found.study,
        found.plan,
        question=(
            f"The question: where to set {one} and {other} so that the most {many} work, which is "
            f"to {of_which(found.stated)} ({wanted_in_words(found.study)})?"
        ),
        answer=map_verdict(found),
        brief=[
            (
                "Set them at",
                f"The {' and the '.join(pair_in_words(found, place))}: "
                f"{levels_in_words(found.there, many)}."
                if found.chosen
                else f"The {drawn}, as drawn, {levels_in_words(found.stated, many)}: no pair "
                "priced is better by one in a hundred.",
            ),
            ("Room", f"{held}."),
        ],
        act=Section(f"{many.capitalize()} that work over {one} and {other}", blocks),
        told=[
            Section("The pairs that tell", [places_table(found)], f"How many {many} work at each")
        ],
        how=[
            (
                "Highest:",
                "the largest of several figures is a little too high by chance; its gain over the "
                f"drawing is of the same {many}.",
            ),
            *_priced(found.stated.one_level is None, many),
        ],
        command=command,
        drawings=figures_of(plan_drawings(found.study, found.plan)),
    )
