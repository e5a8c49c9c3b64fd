"""What a run tells before it is done: how many work, the first thing that everybody asks."""

import io
import sys
from dataclasses import replace

import numpy as np
import pytest

from sensitivity.answers.levels import sampled
from sensitivity.answers.run import run
from sensitivity.engine.intervals import proportion
from sensitivity.engine.options import RunOptions
from sensitivity.engine.progress import told_for
from tests.strategies import GOOD


def test_headline_is_told_first_and_is_that_of_the_answer(read):
    told: list[str] = []
    options = RunOptions(seed=1, points=64, replicates=8, workers=1, told=told.append)
    found = run(read(GOOD), options=options)
    assert len(told) == 1
    assert found.verdict.startswith(told[0])


@pytest.mark.parametrize(
    ("passes", "said"),
    [
        ([274] * 8, "27 (sampling: 26.7 to 28.2"),
        ([15] * 8, "1.5 (sampling: 1.3 to 1.8"),  # and not 2, which lies outside
    ],
)
def test_whole_parts_are_said_where_they_lie_in_the_interval(passes, said):
    low, high = (float(end) / 100 for end in said.split(": ")[1].split(" to "))
    share = replace(proportion(np.array(passes), 1000, 0.95), low=low, high=high)
    assert sampled(share).startswith(said)


class Terminal(io.StringIO):
    """A stream that says it is a terminal, or not."""

    def __init__(self, is_terminal):
        super().__init__()
        self.is_terminal = is_terminal

    def isatty(self):
        return self.is_terminal


@pytest.mark.parametrize(("is_terminal", "quiet"), [(True, False), (True, True), (False, False)])
def test_only_a_terminal_is_told(monkeypatch, is_terminal, quiet):
    stream = Terminal(is_terminal)
    monkeypatch.setattr(sys, "stderr", stream)
    told_for(quiet=quiet)("Of 100 burners built as stated, about 27 keep every limit. " * 4)
    heard = stream.getvalue()
    assert bool(heard) == (is_terminal and not quiet)
    assert all(len(line) <= 110 for line in heard.splitlines())
