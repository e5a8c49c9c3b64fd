"""The report of ``tighten``: what closer tolerances buy, and the cheapest set of them."""

from __future__ import annotations

from collections.abc import Mapping

from sensitivity.answers.report import answer_page, figures_of, wanted_in_words
from sensitivity.answers.tighten.find import Halved, Tightened, halving_verdict, set_verdict
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Figure, Items, Page, Section, Words
from sensitivity.presentation.blocks import PlainTable as Table
from sensitivity.presentation.drawing import plan_drawings
from sensitivity.presentation.page import render
from sensitivity.pricing.allocation import Found
from sensitivity.pricing.closer_work import Dimension


def tighten_report(found: Tightened, figures: Mapping[str, str], command: str) -> str:
    """Write the report of closer tolerances as HTML."""
    return render(_page(found, figures, command))


def _page(tightened: Tightened, figures: Mapping[str, str], command: str) -> Page:
    found = tightened.found
    wanted = wording.of_a_hundred(found.target) if found else ""
    question = (
        f"The question: which tolerances to hold closer, so that {wanted} burners keep within "
        "every limit for the least work"
        if found
        else "The question: what does it gain to hold one dimension twice as close"
    )
    return answer_page(
        tightened.study,
        tightened.plan,
        question=f"{question} ({wanted_in_words(tightened.study)})?",
        answer=set_verdict(tightened) if found else halving_verdict(tightened),
        brief=[("Hold closer", _hold_closer(tightened)), ("What it gains", _gains(tightened))],
        told=[
            Section("If one spread is halved", _halving(tightened, figures)),
            *(
                [Section(f"What reaches {wanted}", _set(tightened, found, figures))]
                if found
                else []
            ),
        ],
        how=[
            (
                "Closer tolerances:",
                "a dimension goes to a closer process of the workshop table, or to a share of its "
                "stated spread where it names none; effort is the table's bench minutes. The set "
                "is searched for on one sample and borne out on another.",
            )
        ],
        command=command,
        drawings=figures_of(plan_drawings(tightened.study, tightened.plan)),
    )


def _name(dimension: Dimension) -> str:
    name, count = wording.in_words(dimension.name), len(dimension.inputs)
    return name if count == 1 else f"{name} ({count} alike)"


def _gain(row: Halved) -> str:
    if row.gain is None:
        return f"not by weights: {row.refused}"
    if row.gain.low != row.gain.low:
        return "too few failures to say"
    return wording.points_of_percent(row.gain)


def _settled(tightened: Tightened) -> list[Halved]:
    return [row for row in tightened.halved if row.gain is not None and row.gain.low > 0.0]


def _hold_closer(tightened: Tightened) -> str:
    found = tightened.found
    if found is not None and found.steps:
        names = [_name(step.dimension) for step in found.steps]
        text = f"{wording.listed(names)}: {found.minutes:.0f} minutes more at the bench."
        return f"{text[0].upper()}{text[1:]}"
    if found is not None and found.reached:
        return "Nothing need be closer."
    rows = _settled(tightened)[:2]
    if not rows:
        return "Nothing: halving no one spread gains anything that is settled."
    text = wording.listed([_name(row.dimension) for row in rows])
    return f"{text[0].upper()}{text[1:]}, if anything."


def _gains(tightened: Tightened) -> str:
    drawn = wording.share_of_a_hundred(tightened.stated)
    found = tightened.found
    if found is not None:
        reached = (
            "" if found.reached else f" That is short of {wording.of_a_hundred(found.target)}."
        )
        return (
            f"{wording.share_of_a_hundred(found.overall)} of 100 burners keep within every limit, "
            f"against {wording.share_of_a_hundred(found.as_drawn)} as drawn.{reached}"
        )
    rows = _settled(tightened)
    first = (
        f" Halving the spread of {_name(rows[0].dimension)} alone: {_gain(rows[0])}."
        if rows
        else ""
    )
    return f"{drawn} of 100 burners keep within every limit as drawn.{first}"


def _halving(tightened: Tightened, figures: Mapping[str, str]) -> list[Block]:
    weighted = any(row.weighted is not None for row in tightened.halved)
    head = ["dimension", "spread now", "yield gained"]
    if weighted:
        head += ["effective sample", "effective failures"]
    rows = []
    for row in tightened.halved:
        cells = [_name(row.dimension), row.dimension.inputs[0].stated, _gain(row)]
        if weighted:
            cells += (
                ["", ""]
                if row.weighted is None
                else [
                    f"{100 * row.weighted.effective:.0f} %",
                    f"{row.weighted.effective_failures:.0f}",
                ]
            )
        rows.append(cells)
    caption = (
        f"One spread halved; with none, {wording.percent(tightened.stated)} keep within every limit"
    )
    blocks: list[Block] = [Words(halving_verdict(tightened)), Table(caption, head, rows)]
    if "halved" in figures and _settled(tightened):
        blocks.append(
            Figure(
                "halved",
                figures["halved"],
                "Burners of 100 gained if one spread alone is halved, with intervals",
            )
        )
    elif "halved" in figures:
        blocks.append(Words("No figure of the gains: none of them is clear of zero."))
    return blocks


def _set(tightened: Tightened, found: Found, figures: Mapping[str, str]) -> list[Block]:
    rows = [["as drawn", "", "", "", wording.percent(found.as_drawn)]]
    for step in found.steps:
        choice, first = step.choice, step.dimension.inputs[0]
        by = (
            wording.in_words(choice.process)
            if choice.process
            else f"{choice.factor:g} of its spread, however it is done"
        )
        instead = wording.in_words(first.process) if first.process else first.stated
        rows.append(
            [
                _name(step.dimension),
                by,
                instead,
                f"{choice.minutes:.0f}",
                wording.percent(step.overall),
            ]
        )
    head = ["hold closer", "by", "instead of", "adds, minutes", "keeps within, with all so far"]
    blocks: list[Block] = [
        Words(set_verdict(tightened)),
        Table("One step after another, the most yield a minute first", head, rows),
        Items(
            [
                (
                    "Another sample:",
                    f"these yields are of a sample that the search has not seen, seed "
                    f"{found.fresh_seed}.",
                ),
                (
                    "Every build dimension exactly as drawn:",
                    f"{wording.percent(found.exact)}; no care in making can do better.",
                ),
            ]
        ),
    ]
    if "set" in figures and found.steps:
        blocks.append(
            Figure(
                "set",
                figures["set"],
                "Burners that keep within every limit after each step, and what is wanted",
            )
        )
    return blocks
