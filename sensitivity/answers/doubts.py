"""What the physics does not know, and how much of the answer hangs on it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sensitivity.answers.assumptions import density_svg, spread_in_words
from sensitivity.answers.borrowed import borrowed_in_words
from sensitivity.engine.intervals import Proportion, clopper_pearson
from sensitivity.engine.result import PASS_FAIL, Result
from sensitivity.presentation import wording
from sensitivity.presentation.blocks import Block, Folded, Verbatim, Words
from sensitivity.presentation.blocks import PlainTable as Table
from sensitivity.presentation.model_words import in_shop_words
from sensitivity.presentation.units_said import said_by
from sensitivity.pricing.ranking import Ranking
from sensitivity.spreads.spread import quantile
from sensitivity.study.study import Input, Study

SLICE = 0.2
"""Share of its spread at either end of a doubt that its effect is read from."""


@dataclass(frozen=True, slots=True)
class Hanging:
    """The yield if a doubt lies in the lowest fifth of its spread, and if in the highest."""

    item: Input
    low: Proportion
    high: Proportion


def hanging_on_doubts(result: Result) -> list[Hanging]:
    """Find what hangs on each model doubt; nothing without limits.

    From the sampled parts that were kept. The intervals are exact binomial (Clopper-Pearson),
    which is exact for independent rows and errs on the wide side for these.
    """
    met = result.sample.get("meets_all_limits")
    if result.overall is None or met is None:
        return []
    found = []
    for item in result.study.varying:
        if item.kind != "model" or item.spread is None:
            continue
        values = result.sample[item.name]
        low, high = quantile(item.spread, np.array([SLICE, 1.0 - SLICE]))
        ends = [met[values <= low], met[values >= high]]
        if min(end.size for end in ends) > 0:
            confidence = result.plan.sampling.confidence
            found.append(Hanging(item, *(_share(end, confidence) for end in ends)))
    return found


def _share(met: np.ndarray, confidence: float) -> Proportion:
    passes, rows = int(np.count_nonzero(met)), int(met.size)
    low, high = clopper_pearson(passes, rows, confidence)
    return Proportion(passes / rows, low, high, "clopper-pearson", passes, rows)


def doubt_in_brief(
    study: Study, result: Result | None = None, ranking: Ranking | None = None
) -> str:
    """Say in a few sentences what the doubt is; more of it with a run's result."""
    doubts = _ordered(study, ranking)
    if doubts:
        text = _in_brief(doubts, result)
    else:
        text = (
            "No doubt of the physics is stated in this study, so the figures know nothing of one."
        )
    nobody = [item for item in study.varying if not item.sourced]
    if nobody and result is None:  # a run says more of these beside it
        named = wording.listed([wording.in_words(item.name) for item in nobody[:3]])
        text += (
            f" {len(nobody)} of {len(study.varying)} spreads are without a source: {named}"
            f"{' among them' if len(nobody) > 3 else ''}."
        )
    borrowed = borrowed_in_words(study)
    return f"{borrowed} {text} The intervals tell of the sampling alone.".lstrip()


def _ordered(study: Study, ranking: Ranking | None) -> list[Input]:
    """Model doubts, those first that do most to pass or fail, as far as that is known."""
    doubts = [item for item in study.varying if item.kind == "model"]
    if ranking is None:
        return doubts
    ranked = [row.name for row in ranking.of_kind("model")]
    if not ranked:
        return doubts

    def place(item: Input) -> int:
        found = [n for n, name in enumerate(ranked) if name in (item.name, item.shown_group)]
        return found[0] if found else len(ranked)

    return sorted(doubts, key=place)


def _in_brief(doubts: list[Input], result: Result | None) -> str:
    if result is None:
        names = [wording.in_words(item.name) for item in doubts]
        return f"What the physics does not know: {wording.listed(names)}."
    first, names = doubts[0], [wording.in_words(item.name) for item in doubts]
    text = f"What the physics does not know: first {names[0]} ({first.meaning})"
    rest = f" Then {wording.listed(names[1:4])}." if len(names) > 1 else ""
    hanging = {each.item.name: each for each in hanging_on_doubts(result)}.get(first.name)
    many = result.study.vocabulary.many
    if hanging is None:
        return f"{text}.{rest}"
    if hanging.low.low <= hanging.high.high and hanging.high.low <= hanging.low.high:
        return (
            f"{text}: between the lowest and the highest fifth of its spread, no "
            f"difference in how many {many} work is settled.{rest}"
        )
    low, high = (wording.share_of_a_hundred(share) for share in (hanging.low, hanging.high))
    return (
        f"{text}: if it lies in the lowest fifth of its spread, {low} of 100 {many} "
        f"work; in the highest fifth, {high}.{rest}"
    )


def doubts_section(
    study: Study, result: Result | None = None, ranking: Ranking | None = None
) -> list[Block]:
    """Model doubts as a section of their own, and each model's own account of itself."""
    doubts = _ordered(study, ranking)
    blocks: list[Block] = []
    if doubts:
        blocks += [
            Words(
                "What the physics does not know is sampled as an input of its own, so it widens "
                "the spread of the results instead of hiding in a constant. No care at the bench "
                "makes it smaller; a trial might."
            ),
            _table(doubts, result, study),
        ]
    else:
        blocks.append(
            Words("No model doubt is stated in this study; the intervals know nothing of one.")
        )
    blocks.append(
        Words(
            "Where a model is valid, what it leaves out and how far its sources differ stands in "
            "its own account."
        )
    )
    for model in study.system.models:
        blocks.append(Folded(f"Model: {model.name}", [Verbatim(in_shop_words(model.description))]))
    return blocks


def _table(doubts: list[Input], result: Result | None, study: Study) -> Table:
    said, many = said_by(study), study.vocabulary.many
    found_hanging = hanging_on_doubts(result) if result is not None else []
    hanging = {each.item.name: each for each in found_hanging}
    indices = result.sensitivity.get(PASS_FAIL, {}) if result is not None else {}
    head = ["doubt", "as drawn", "how it is spread", "spread as stated", "basis"]
    if indices:
        head.append("total-effect index of pass/fail")
    if hanging:
        head += ["of 100 work if in its lowest fifth", "of 100 work if in its highest fifth"]
    rows = []
    for item in doubts:
        row = [
            wording.in_words(item.name),
            said.drawn(item),
            density_svg(item, said.drawn(item)),
            spread_in_words(item, said),
            item.basis or "not stated",
        ]
        if indices:
            found = indices.get(item.shown_group)
            row.append(wording.index(found.total, settled=found.settled) if found else "")
        if hanging:
            each = hanging.get(item.name)
            row += (
                [wording.share_of_a_hundred(share) for share in (each.low, each.high)]
                if each
                else ["", ""]
            )
        rows.append(row)
    ends = f", and how many {many} work at either end of it" if hanging else ""
    caption = f"Each doubt{ends}"
    return Table(caption, head, rows)
