"""Which of several designs keeps within its limits more often, in shop words."""

from __future__ import annotations

from sensitivity.answers.compare.find import Compared, Comparison
from sensitivity.presentation import wording


def comparison_verdict(found: Comparison) -> str:
    """Say of each other design how it stands against the first."""
    return " ".join(verdicts(found))


def verdicts(found: Comparison) -> list[str]:
    """A sentence for each design but the first."""
    return [pair_verdict(found.first, design) for design in found.others]


def told_limits(found: Comparison) -> list[str]:
    """Name the limits that make most of the differences, each once."""
    return list(dict.fromkeys(telling_limit(found.first, design) for design in found.others))


def telling_limit(first: Compared, other: Compared) -> str:
    """Name the limit that makes most of the difference between two designs."""
    assert other.overall_difference is not None
    sign = 1.0 if other.overall_difference.value >= 0 else -1.0
    return max(other.differences, key=lambda name: sign * other.differences[name].value)


def pair_verdict(first: Compared, other: Compared) -> str:
    """Say which of two designs keeps within its limits more often, by which limit, and why."""
    difference = other.overall_difference
    assert difference is not None
    if difference.low <= 0.0 <= difference.high:
        return (
            f"Between {first.study.name} and {other.study.name} no difference is settled: "
            f"{wording.points_of_percent(difference)}."
        )
    better, worse = (other, first) if difference.value > 0 else (first, other)
    many, more = first.study.vocabulary.many, wording.significant(100 * abs(difference.value), 2)
    text = (
        f"Of 100 {many}, {more} more keep within "
        f"every limit as {better.study.name} than as {worse.study.name}"
    )
    limit = telling_limit(first, other)
    largest = other.differences[limit]
    if largest.low <= 0.0 <= largest.high or (largest.value > 0) != (difference.value > 0):
        return text + "."
    text += (
        f"; {wording.significant(100 * abs(largest.value), 2)} in 100 fewer break the limit of "
        f"{wording.in_words(limit)}"
    )
    if not better.causes.get(limit) or not worse.causes.get(limit):
        return text + "."
    unit = next(item.unit for item in first.study.limits if item.result == limit)
    causes = list(worse.causes[limit].items())[:3]
    listed = ", ".join(
        f"{wording.in_words(name)} {cause.value:.2g} {unit}" for name, cause in causes
    )
    return (
        f"{text}. What moves it most in {worse.study.name}: {listed} (standard deviation each "
        "causes alone)."
    )
