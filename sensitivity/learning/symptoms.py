"""The builder's own words for what was seen: "it floods" is a limit broken.

A limit is known by its result's name, by what that means, by the reason that the study gives, and
by what the trade says of it. Words are matched by their beginnings, so that "floods" finds
"flooding"; the limit that most of them point to is meant, and where two are level none is.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sensitivity.study.study import Limit, Study

FEWEST_LETTERS = 4
"""Letters that two words must begin with alike: so many, or the whole of the shorter one."""
# fmt: off
SAID_OF = frozenset({
    "a", "an", "and", "any", "are", "as", "at", "be", "been", "but", "by", "did", "does", "for",
    "from", "had", "has", "have", "he", "if", "in", "into", "is", "it", "its", "not", "of",
    "off", "on", "one", "only", "or", "out", "over", "than", "that", "the", "them", "then",
    "there", "they", "this", "to", "too", "was", "were", "when", "where", "while", "with",
    "without",
})
# fmt: on
"""Words that say nothing of what was seen."""


@dataclass(frozen=True, slots=True)
class Symptom:
    """A limit as its breaking is told: the builder's words for it, the trade's first."""

    limit: Limit
    words: tuple[str, ...]


def symptoms_of(study: Study, trade: Mapping[str, Sequence[str]]) -> tuple[Symptom, ...]:
    """List what can be seen of a study's limits, in its order.

    Parameters
    ----------
    study : Study
        With limits.
    trade : mapping of str to sequence of str
        The trade's words for a result whose limit is broken.
    """
    meaning = {item.name: item.meaning for item in study.system.results}
    found = []
    for limit in study.limits:
        words = [*trade.get(limit.result, ()), limit.because, limit.result.replace("_", " ")]
        words.append(meaning.get(limit.result, ""))
        found.append(Symptom(limit, tuple(text for text in words if text)))
    return tuple(found)


def meant_by(said: str, symptoms: Sequence[Symptom]) -> tuple[Symptom, ...]:
    """Find what is meant by a builder's words: one symptom, several that are level, or none.

    Parameters
    ----------
    said : str
        Such as "it floods when lit".
    symptoms : sequence of Symptom
        As ``symptoms_of`` lists them.

    Returns
    -------
    tuple of Symptom
        Those to which most of the words point.
    """
    whole = said.strip().lower()
    exact = tuple(
        symptom
        for symptom in symptoms
        if whole in (symptom.limit.result, *(text.lower() for text in symptom.words))
    )
    if exact:
        return exact
    asked = _telling(said)
    scores = [
        max((_score(asked, text) for text in symptom.words), default=0.0) for symptom in symptoms
    ]
    best = max(scores, default=0.0)
    if best <= 0.0:
        return ()
    return tuple(
        symptom for symptom, score in zip(symptoms, scores, strict=True) if score >= best - 1e-9
    )


def _telling(text: str) -> tuple[str, ...]:
    words = re.findall(r"[a-z]+", text.lower())
    return tuple(dict.fromkeys(word for word in words if word not in SAID_OF))


def _score(asked: Sequence[str], text: str) -> float:
    """Words that are found in a text; of two texts with as many the shorter is the nearer."""
    there = _telling(text)
    found = sum(any(_alike(word, other) for other in there) for word in asked)
    return found + 0.1 * found / max(len(there), 1) if found else 0.0


def _alike(one: str, other: str) -> bool:
    length = min(len(one), len(other))
    if length < FEWEST_LETTERS:
        return one == other
    return one[:FEWEST_LETTERS] == other[:FEWEST_LETTERS] and (
        one[: length - 2] == other[: length - 2] or length <= FEWEST_LETTERS
    )
