"""What was found of the last few studies, kept: one answer asks for the same some forty times."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from functools import wraps
from typing import TypeVar

from sensitivity.study.study import Study

Found = TypeVar("Found")

KEPT = 4
"""Studies: an answer is about one or two."""


def remembered(find: Callable[[Study], Found]) -> Callable[[Study], Found]:
    """Find something of a study once; of a study that is another object it is found anew."""
    last: deque[tuple[Study, Found]] = deque(maxlen=KEPT)

    @wraps(find)
    def once(study: Study) -> Found:
        for known, found in list(last):  # the page's threads ask too
            if known is study:
                return found
        found = find(study)
        last.append((study, found))
        return found

    return once
