"""What a study holds exactly is named, and nothing doubtful without its own sentence."""

import re
from dataclasses import replace

import pytest

from sensitivity.answers.assumptions import assumptions
from sensitivity.answers.held import doubtful_in_words, held_in_words
from sensitivity.presentation.blocks import Words
from sensitivity.spreads.spread import bounded
from tests.strategies import QUICK

DOUBTFUL = '''
from typing import Annotated, NamedTuple


class Left(NamedTuple):
    left: Annotated[float, "mm", "what is left"]


def doubtful(
    height: Annotated[float, "mm", "of the mouth", "read as height"] = 12.0,
    clings: Annotated[float, "", "a doubt", "0..1", "model: 0.6..1 triangular"] = 0.9,
    grade: Annotated[float, "mm", "of the track", "running: +-0.8 normal"] = 0.0,
    lasts: Annotated[float, "mm", "one a step", "running", "per step"] = 1.0,
) -> Left:
    """A rest."""
    return Left(height * clings + grade + 0.0 * (lasts if isinstance(lasts, float) else lasts[0]))
'''
STUDY = """
title = "What is held"
models = ["doubtful"]
[inputs.height]
nominal = "12 mm"
plus_minus = "0.3 mm"
[limits.left]
at_least = "10.7 mm"
"""
DOUBT = "Held exactly although the models doubt them: clings."
RUNNING = "Held exactly although they change while running: grade, lasts."


@pytest.fixture
def study(write_study, tmp_path):
    from sensitivity.study.file import read_study

    path = tmp_path / "doubtful.py"
    path.write_text(DOUBTFUL, encoding="utf-8")

    def read(text=""):
        return read_study(write_study(STUDY + text), [str(path)])

    return read


def test_what_is_left_out_is_named_by_its_kind(study):
    assert held_in_words(study()) == [DOUBT, RUNNING]


def test_what_is_stated_without_a_spread_is_named_too(study):
    stated = study('[inputs.clings]\nnominal = 0.8\n[inputs.grade]\nplus_minus = "1 mm"\n')
    assert held_in_words(stated) == [DOUBT, RUNNING.replace("grade, ", "")]


def test_a_study_cannot_call_a_doubt_a_dimension(study):
    stated = study('[inputs.clings]\nnominal = 0.8\nkind = "build"\n')
    assert DOUBT in held_in_words(stated)


def test_dimensions_are_held_as_drawn(study):
    text = held_in_words(study("[inputs.clings]\nbetween = [0.6, 1.0]\n"))
    plain = study()
    held = replace(plain, inputs=tuple(replace(item, spread=None) for item in plain.inputs))
    assert text == [RUNNING]
    assert held_in_words(held)[-1] == "Held exactly as drawn, no spread stated: height."
    assert doubtful_in_words(held) == [DOUBT, RUNNING]


def test_steps_of_a_schedule_are_named_once(study):
    steps = "".join(
        f'[[schedule]]\nstep = "{name}"\nlasts = "{number} mm"\n'
        for number, name in enumerate(("stand", "run", "stop"))
    )
    assert held_in_words(study(steps)) == [DOUBT, RUNNING.replace("grade, lasts", "lasts, grade")]


def test_nothing_is_said_where_all_of_it_varies(study):
    plain = study()
    varied = tuple(replace(one, spread=bounded("rectangular", 0.0, 1.0)) for one in plain.inputs)
    assert held_in_words(replace(plain, inputs=varied)) == []


def test_report_names_what_is_doubtful(study):
    said = [block.text for block in assumptions(study()) if isinstance(block, Words)]
    assert said[-2:] == [DOUBT, RUNNING]


def test_terminal_names_what_is_doubtful(run_command, write_study, tmp_path, no_figures):
    path = tmp_path / "doubtful.py"
    path.write_text(DOUBTFUL, encoding="utf-8")
    ran = run_command("run", write_study(STUDY + QUICK), "--model-file", path)
    assert ran.exit_code == 0, ran.stderr
    shown = re.sub(r"\s+", " ", ran.stdout)
    assert DOUBT in shown
    assert RUNNING in shown
