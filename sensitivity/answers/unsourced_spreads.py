"""What rests on spreads without a source, in a sentence or two and a table."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.presentation import cells, wording
from sensitivity.presentation.json_values import estimate_value, proportion_value
from sensitivity.presentation.table import Cell, Column, Row, Table
from sensitivity.presentation.units_said import said_by
from sensitivity.pricing.contest import Contest, Contested
from sensitivity.pricing.robustness import Alone, Robustness
from sensitivity.pricing.unsourced import Figure
from sensitivity.study.study import Study

FACTORS: tuple[tuple[float, str, str], ...] = (
    (0.5, "half", "half"),
    (0.5**0.5, "0.71 times", "times_0_71"),
    (1.0, "as stated", "as_stated"),
    (2.0**0.5, "1.41 times", "times_1_41"),
    (2.0, "twice", "twice"),
)
"""Factor, heading of its column, and key in files."""

AT_ONCE = "all of them at once"


def robustness_in_words(found: Robustness, study: Study) -> str:
    """Say how many spreads nobody vouches for, and what hangs on them."""
    many = study.vocabulary.many
    half, stated, twice = (_value(found.together[factor]) for factor in (0.5, 1.0, 2.0))
    text = (
        f"{len(found.unsourced)} of {found.varying} spreads are without a source. Were all of them "
        f"half as wide, {half} of 100 {many} at moments taken at random would keep every limit; "
        f"twice as wide, {twice}; as they are, {stated} in the same, small sample."
    )
    if found.alone:
        most = found.alone[0]
        ends = (_value(most.yields[factor]) for factor in (0.5, 2.0))
        text += f" Of single ones most hangs on {_called(most.figure)}: {' and '.join(ends)}."
    return text + _order_in_words(found)


def _order_in_words(found: Robustness) -> str:
    first = found.leaders.get(1.0, ())
    if not first:
        return ""
    listed = wording.listed([wording.in_words(name) for name in first])
    if found.firm:
        return f" Where closer work gains most is firm: {listed}."
    at = found.turns_at[0]
    new = [wording.in_words(name) for name in found.leaders[at] if name not in first]
    factors = wording.listed([f"{factor:.2g}" for factor in found.turns_at])
    return (
        f" Where closer work gains most turns on them: {listed} as stated, but "
        f"{wording.listed(new)} too at a factor of {factors}."
    )


def _called(figure: Figure) -> str:
    return wording.in_words(figure.name)


def _value(share: Proportion) -> str:
    if share.failures == 0:
        return f"over {wording.lower_bound(100.0 * share.low)}"
    if share.passes == 0:
        return "none"
    return wording.share_alone(share)


def robustness_table(found: Robustness) -> Table:
    """Lay out the yields at moments by factor: all spreads without a source, then single ones."""
    stated = found.together[1.0]
    rows = [_row(AT_ONCE, found.together)]
    rows += [_row(_called(each.figure), {**each.yields, 1.0: stated}) for each in found.alone]
    columns = (
        Column("without a source", ("figure",)),
        *(
            Column("as stated, same sample" if factor == 1.0 else head, cells.interval_keys(key))
            for factor, head, key in FACTORS
        ),
    )
    return Table(
        "robustness",
        "Spreads without a source: keeps every limit at a moment taken at random, of 100, all in "
        "one small sample",
        columns,
        tuple(rows),
    )


def _row(name: str, shares: Mapping[float, Proportion]) -> Row:
    found = [shares.get(factor) for factor, _, _ in FACTORS]
    texts = ["" if share is None else _value(share) for share in found]
    return Row(
        (
            Cell(name, (name,)),
            *(
                Cell(text, cells.interval_values(share))
                for text, share in zip(texts, found, strict=True)
            ),
        )
    )


def robustness_value(found: Robustness | None) -> dict[str, Any] | None:
    """Lay out as plain values: ``robustness`` of result.json."""
    if found is None:
        return None
    return {
        "unsourced": list(found.unsourced),
        "varying": found.varying,
        "together": _by_factor(found.together),
        "alone": [_alone_value(each) for each in found.alone],
        "leaders": {f"{factor:.2f}": list(names) for factor, names in found.leaders.items()},
        "turns_at": list(found.turns_at),
        "firm": found.firm,
    }


def _by_factor(shares: Mapping[float, Proportion]) -> dict[str, Any]:
    return {f"{factor:.2f}": proportion_value(share) for factor, share in shares.items()}


def _alone_value(each: Alone) -> dict[str, Any]:
    return {"inputs": list(each.figure.inputs), "yields": _by_factor(each.yields)}


def contest_in_words(found: Contest, first: Study, other: Study) -> str:
    """Say whether the better of two designs stays so, and until which figure."""
    stated = found.together[1.0]
    better = other.name if stated.value > 0.0 else first.name
    worse = first.name if better == other.name else other.name
    text = f"At moments taken at random {better} is better than {worse}"
    untils = [_until(each, root, first, other) for each in found.alone for root in each.break_evens]
    if found.turns_at:
        factors = wording.listed([f"{factor:.2g}" for factor in found.turns_at])
        text += (
            f"; that turns on the spreads without a source, all of them at once at a factor of "
            f"{factors} of what is stated"
        )
    elif found.firm:
        text += (
            ", and that is firm: no spread without a source turns it, made half or twice what is "
            "stated, all of them at once or each alone"
        )
    if untils:
        return f"{text}. {better} is better unless {', or '.join(untils)}."
    return text + "."


def _until(each: Contested, root: Estimate, first: Study, other: Study) -> str:
    study = first if each.stated_by[0] else other
    item = next(item for item in study.varying if item.name in each.figure.inputs)
    spread = item.spread
    assert spread is not None
    half = 0.5 * (spread.high - spread.low) * root.value
    ends = f"± {said_by(study).spread_of(item.name).rough(half)}"
    beyond = "more" if root.value > 1.0 else "less"
    times = (wording.significant(value, 3) for value in (root.value, root.low, root.high))
    value, low, high = times
    return (
        f"{_whose(each, first, other)} varies by {beyond} than {ends}, "
        f"{value} times what is stated (sampling: {low} to {high})"
    )


def _whose(each: Contested, first: Study, other: Study) -> str:
    """Name a figure, and the design that alone rests on it, if only one does."""
    if all(each.stated_by):
        return _called(each.figure)
    return f"{_called(each.figure)} ({(first if each.stated_by[0] else other).name})"


def contest_table(found: Contest, first: Study, other: Study) -> Table:
    """Lay out the difference at moments by factor, in points of a hundred."""
    columns = (
        Column("without a source", ("figure",)),
        *(
            Column(head, cells.interval_keys(key), seen="page" if "." in head else "everywhere")
            for _, head, key in FACTORS
        ),
        Column("even at", cells.interval_keys("even_at")),
    )
    rows = [_difference_row(AT_ONCE, found.together, ())]
    rows += [
        _difference_row(_whose(each, first, other), each.differences, each.break_evens)
        for each in found.alone
    ]
    return Table(
        f"robustness_{other.name}",
        f"Spreads without a source: {other.name} against {first.name}, of 100 at moments",
        columns,
        tuple(rows),
    )


def _difference_row(
    name: str, differences: Mapping[float, Estimate], roots: tuple[Estimate, ...]
) -> Row:
    told = [differences.get(factor) for factor, _, _ in FACTORS]
    even = roots[0] if roots else None
    return Row(
        (
            Cell(name, (name,)),
            *(
                Cell("" if each is None else _points(each), cells.interval_values(each))
                for each in told
            ),
            Cell(
                ", ".join(f"{wording.significant(root.value, 2)} times" for root in roots),
                cells.interval_values(even),
            ),
        )
    )


def _points(difference: Estimate) -> str:
    return wording.points_of_percent(difference).partition(" points")[0].partition(" (")[0]


def contest_value(found: Contest | None) -> dict[str, Any] | None:
    """Lay out as plain values: ``robustness`` of a design in result.json."""
    if found is None:
        return None
    return {
        "together": _differences(found.together),
        "alone": [
            {
                "inputs": list(each.figure.inputs),
                "differences": _differences(each.differences),
                "break_evens": [estimate_value(root) for root in each.break_evens],
            }
            for each in found.alone
        ],
        "turns_at": list(found.turns_at),
        "firm": found.firm,
    }


def _differences(found: Mapping[float, Estimate]) -> dict[str, Any]:
    return {f"{factor:.2f}": estimate_value(each) for factor, each in found.items()}
