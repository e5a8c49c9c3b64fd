"""Of which of several designs more work, by which limit and why, in shop words."""

from __future__ import annotations

from sensitivity.answers.compare.find import Compared, Comparison
from sensitivity.answers.levels import band_ends, moments_in_words, sampled
from sensitivity.answers.unsourced_spreads import contest_in_words
from sensitivity.engine.intervals import Estimate
from sensitivity.engine.two_levels import TwoLevels
from sensitivity.presentation import wording
from sensitivity.presentation.units_said import Said, said_by
from sensitivity.pricing.swaps import Swap
from sensitivity.study.study import Input, Limit

NAMED = 3
"""Differences, or what moves a result, named at most in a sentence."""


def comparison_verdict(found: Comparison) -> str:
    """Say what can hurt first, then of each other design how it stands against the first."""
    return " ".join(verdicts(found))


def verdicts(found: Comparison) -> list[str]:
    """What can hurt, a sentence or two for each design but the first, and the doubts."""
    told = [pair_verdict(found.first, design) for design in found.others]
    return [*what_hurts(found), *told, *_meaning(found), *_bands(found), *on_no_source(found)]


def on_no_source(found: Comparison) -> list[str]:
    """Say of each other design whether what is said of it rests on spreads without a source."""
    return [
        contest_in_words(design.contest, found.first.study, design.study)
        for design in found.others
        if design.contest is not None
    ]


def told_limits(found: Comparison) -> list[str]:
    """Name the limits that make most of the differences, each once."""
    return list(dict.fromkeys(telling_limit(found.first, design) for design in found.others))


def telling_limit(first: Compared, other: Compared) -> str:
    """Name the limit that makes most of the difference between two designs."""
    assert other.gain is not None
    sign = 1.0 if other.gain.value >= 0 else -1.0
    return max(other.differences, key=lambda name: sign * other.differences[name].value)


def what_hurts(found: Comparison) -> list[str]:
    """Name the designs that break a limit that hurts more often than allowed, and those left."""
    return [
        sentence
        for limit in found.first.study.limits
        if limit.hurts and (sentence := _hurts(found, limit))
    ]


def _hurts(found: Comparison, limit: Limit) -> str:
    above = [d for d in found.designs if 1.0 - d.shares[limit.result].value > limit.ceiling]
    if not above:
        return ""
    because = f" ({limit.because})" if limit.because else ""
    listed = wording.listed(
        [
            f"{design.study.name} at "
            f"{wording.out_of_a_hundred(1.0 - design.shares[limit.result].value)}"
            for design in above
        ]
    )
    text = (
        f"This can hurt: {wording.in_words(limit.result)}{because} may break its limit at "
        f"{wording.out_of_a_hundred(limit.ceiling)} moments at most, and breaks it as {listed}."
    )
    left = [design.study.name for design in found.designs if design not in above]
    if not left:
        return f"{text} None of these designs is to be chosen as it stands."
    return f"{text} Of these only {wording.listed(left)} can be chosen, whichever works more often."


def pair_verdict(first: Compared, other: Compared) -> str:
    """Say of which of two designs more work, by which limit, and why."""
    difference, many = other.gain, first.study.vocabulary.many
    assert difference is not None
    if not settled(difference):
        return (
            f"Between {first.study.name} and {other.study.name} no difference is settled in how "
            f"many {many} work: {wording.points_of_percent(difference)}."
        )
    better, worse = (other, first) if difference.value > 0 else (first, other)
    more = wording.size_of_a_hundred(difference)
    text = (
        f"Of 100 {many}, {more} more work as {better.study.name} than as {worse.study.name}: "
        f"{working(better.levels)} against {working(worse.levels)}"
    )
    at_random = other.overall_difference
    assert at_random is not None
    if settled(at_random) and (at_random.value > 0) != (difference.value > 0):
        text += " (at a moment taken at random it is the other way round)"
    limit = telling_limit(first, other)
    largest = other.differences[limit]
    if not settled(largest) or (largest.value > 0) != (difference.value > 0):
        return text + "."
    moment = "" if better.levels.one_level else "At a moment taken at random, "
    text += (
        f". {moment}{wording.size_of_a_hundred(largest)} in 100 fewer break the "
        f"limit of {wording.in_words(limit)}"
    )
    return f"{text}. {reasons_in_words(first, other)}"


def reasons_in_words(first: Compared, other: Compared) -> str:
    """Say what differs, and what each difference makes of the first design by itself."""
    reasons = other.reasons
    assert reasons is not None
    if not reasons.each and reasons.rest is None:
        return "Nothing that is stated differs."
    at = "" if first.levels.one_level else " moments"
    said = said_by(first.study), said_by(other.study)
    told = [
        f"{wording.in_words(swap.name)} {difference_in_words(swap, *said)} "
        f"{_more_or_fewer(swap.overall)}"
        for swap in reasons.each
        if settled(swap.overall)
    ][:NAMED]
    text = ""
    if told:
        text = f"What differs, put into {first.study.name} alone, of 100{at}: {'; '.join(told)}."
        if reasons.together is not None:
            text += f" All of them at once: {_more_or_fewer(reasons.together.overall)}."
    elif reasons.each:
        text = f"No one difference by itself makes one that is settled in {first.study.name}."
    if reasons.rest is not None:
        text += f" {_rest_in_words(first, other)}"
    return text.strip()


def _rest_in_words(first: Compared, other: Compared) -> str:
    """Say of what only one of them has what it makes, and what of it moves the result most."""
    reasons = other.reasons
    assert reasons is not None
    assert reasons.rest is not None
    what = "What only one of them has"
    made = f"{what} makes {_more_or_fewer(reasons.rest.overall)} of 100"
    if not settled(reasons.rest.overall):
        made = f"{what} makes no difference that is settled"
    limit = telling_limit(first, other)
    causes = [own_causes(first, other, design, limit)[:NAMED] for design in (first, other)]
    scale = max((cause.value for own in causes for _, cause in own), default=0.0)
    manner = said_by(first.study).in_one_table([(limit, scale)]).of(limit)
    rows = []
    for design, own in zip((first, other), causes, strict=True):
        listed = ", ".join(
            f"{wording.in_words(name)} {manner.text(cause.value, scale)}" for name, cause in own
        )
        rows += [f"in {design.study.name} by {listed}"] if listed else []
    if not rows:
        return f"{made}."
    return (
        f"{made}. Of that, {wording.in_words(limit)} is moved {'; '.join(rows)} (standard "
        "deviation each causes alone)."
    )


def own_causes(
    first: Compared, other: Compared, design: Compared, limit: str
) -> list[tuple[str, Estimate]]:
    """What moves a result in a design, of what the other of the two has not, largest first."""
    reasons = other.reasons
    assert reasons is not None
    own = reasons.only_first if design is first else reasons.only_other
    groups = {item.name: item.shown_group for item in design.study.inputs}
    names = {groups.get(name, name) for name in own}
    return [each for each in design.causes.get(limit, {}).items() if each[0] in names]


def difference_in_words(swap: Swap, ours: Said, theirs: Said) -> str:
    """Write what differs: ``(8.5 mm for 8 mm)``, ``(± 0.5 deg, in place of ± 2 deg)``."""
    first, other = swap.first, swap.other
    assert first is not None
    assert other is not None
    parts = []
    if first.nominal != other.nominal:
        parts.append(f"{theirs.drawn(other)} for {ours.drawn(first)}")
    if first.stated != other.stated:
        parts.append(f"{_stated(other, theirs)}, in place of {_stated(first, ours)}")
    return f"({'; '.join(parts)})" if parts else "(another spread)"


def _stated(item: Input, said: Said) -> str:
    return "exact" if item.spread is None else said.stated(item)


def _more_or_fewer(gain: Estimate) -> str:
    return f"{wording.size_of_a_hundred(gain)} {'more' if gain.value > 0 else 'fewer'}"


def settled(difference: Estimate) -> bool:
    """Tell whether an interval clears zero."""
    return not difference.low <= 0.0 <= difference.high


def working(levels: TwoLevels) -> str:
    """Write how many of a hundred work; of none and of all, how many were tried."""
    if levels.works.failures == 0:
        return f"all of {levels.works.rows:,} tried"
    if levels.works.passes == 0:
        return f"none of {levels.works.rows:,} tried"
    return sampled(levels.works)


def works_in_words(found: Comparison) -> str:
    """Say what working asks for."""
    if all(design.levels.one_level for design in found.designs):
        return "keep every limit"
    return f"keep every limit in {moments_in_words(found.first.levels.keeps)}"


def _meaning(found: Comparison) -> list[str]:
    return [f"To work is to {works_in_words(found)}."]


def _bands(found: Comparison) -> list[str]:
    stated = [d for d in found.designs if d.levels.band is not None]
    if not stated:
        return [
            "No doubt about the physics is stated, so nothing is said of how far that may be off."
        ]
    listed = wording.listed(
        [f"{design.study.name} {band_in_words(design.levels)}" for design in stated]
    )
    return [f"As the physics may turn out, of 100 work: {listed}."]


def band_in_words(levels: TwoLevels) -> str:
    """Write between which figures, of a hundred, the parts that work may lie; empty if unstated."""
    if levels.band is None:
        return ""
    low, high = band_ends(levels)
    return low if low == high else f"{low} to {high}"
