"""Bounds that a model brings: the same verdicts with fewer rows asked, and none taken on trust."""

import numpy as np
import pytest

from sensitivity import RunOptions, read_study
from sensitivity.engine.moments import crossed_sample, crossed_values, crossing_plan, failing
from sensitivity.engine.plan import plan_run
from sensitivity.engine.two_levels import LevelSizes, two_levels
from sensitivity.errors import ModelError

MODEL = """
from typing import Annotated, NamedTuple
import numpy as np

ASKED = []
BLIND = 6.2

class Height(NamedTuple):
    lip: Annotated[np.ndarray, "mm", "height of the lip"]

class Margins(NamedTuple):
    margin: Annotated[np.ndarray, "mm", "lip over the level"]
    depth: Annotated[np.ndarray, "mm", "depth under the lip"]

def stand(post: Annotated[np.ndarray, "mm", "height of the post"] = 10.0) -> Height:
    '''Height of the lip.'''
    return Height(post + 0.5)

def pool(
    lip: Annotated[np.ndarray, "mm", "height of the lip"] = 10.0,
    level: Annotated[np.ndarray, "mm", "level", "running: +-1"] = 8.0,
    wave: Annotated[np.ndarray, "mm", "height of a wave", "running: +-1"] = 0.0,
) -> Margins:
    '''Margin, by a wave of which its bounds know no more than that it is below 1 mm.'''
    margin = lip - level - np.sin(wave)
    ASKED.append(np.size(margin))
    return Margins(np.where(level > BLIND, margin, np.nan), lip - level)
"""
BOUNDS = """
class Bounds(NamedTuple):
    margin: tuple
    answered: np.ndarray

def pool_bound(lip=10.0, level=8.0, wave=0.0) -> Bounds:
    still = lip - level + 0.0 * wave
    return Bounds((still - {under}, still + 1.0), level + 0.0 * still > {answers})
"""
STUDY = """
title = "a pool"
models = ["stand", "pool"]
[inputs.post]
nominal = "10 mm"
plus_minus = "1 mm"
basis = "invented"
[inputs.level]
nominal = "8 mm"
plus_minus = "2 mm"
kind = "running"
basis = "invented"
[inputs.wave]
nominal = "0 mm"
plus_minus = "3 mm"
kind = "running"
basis = "invented"
[limits.margin]
at_least = "0.2 mm"
because = "it runs over"
"""


def study_of(folder, *, bounds="", more="", blind=6.2):
    (folder / "pool.toml").write_text(STUDY + more, encoding="utf-8")
    (folder / "pool.py").write_text(
        MODEL.replace("BLIND = 6.2", f"BLIND = {blind}") + bounds, encoding="utf-8"
    )
    return read_study(folder / "pool.toml", [folder / "pool.py"])


def asked_of(study):
    return study.system.models[-1].function.__globals__["ASKED"]


def failing_of(study):
    plan = crossing_plan(plan_run(RunOptions(seed=1).asked_of(study)))
    values = crossed_values(plan, crossed_sample(plan, 3, 256, 128))
    asked_of(study).clear()
    flags = failing(plan, values, np.arange(256), np.arange(128))
    return flags, sum(asked_of(study))


def two_of(tmp_path, bounds, more=""):
    plain, bounded = tmp_path / "plain", tmp_path / "bounded"
    plain.mkdir()
    bounded.mkdir()
    return study_of(plain, more=more), study_of(bounded, bounds=bounds, more=more)


GOOD = BOUNDS.format(under="1.0", answers="6.2")


def test_verdicts_are_the_models_own_and_fewer_rows_are_asked(tmp_path):
    plain, bounded = two_of(tmp_path, GOOD)
    (flags, all_asked), (found, few) = failing_of(plain), failing_of(bounded)
    assert np.array_equal(flags, found)
    assert 0.01 < flags.mean() < 0.9
    assert all_asked == flags.size
    assert few == open_rows(bounded)
    assert 0 < few < 0.5 * all_asked


def open_rows(study):
    """Count the rows whose wave decides, and those that may have no answer."""
    plan = plan_run(RunOptions(seed=1).asked_of(study))
    values = crossed_values(plan, crossed_sample(plan, 3, 256, 128))
    level = values.by_moment["level"]
    still = values.by_part["post"] + 0.5 - level
    lost, sure = still + 1.0 < 0.2, (still - 1.0 >= 0.2) & (level > 6.2)
    return np.count_nonzero(~(lost | sure))


def test_the_answer_on_two_levels_is_the_same(tmp_path):
    plain, bounded = two_of(tmp_path, GOOD)
    sizes = LevelSizes(parts=64, moments=256, pilot=16)
    asked = RunOptions(seed=1, replicates=8, points=64)
    found = [
        two_levels(plan_run(asked.asked_of(each)), keeps=0.9, sizes=sizes)
        for each in (plain, bounded)
    ]
    assert found[0].shares == found[1].shares
    assert found[0].share == found[1].share


def test_a_limit_without_bounds_is_the_models_to_judge(tmp_path):
    more = '[limits.depth]\nat_most = "4 mm"\nbecause = "it is too deep"\n'
    plain, bounded = two_of(tmp_path, GOOD, more)
    (flags, all_asked), (found, asked) = failing_of(plain), failing_of(bounded)
    assert np.array_equal(flags, found)
    assert asked == all_asked


def test_a_limit_of_another_model_is_judged_first(tmp_path):
    more = '[limits.lip]\nat_least = "10.5 mm"\nbecause = "it looks low"\n'
    plain, bounded = two_of(tmp_path, GOOD, more)
    (flags, _), (found, few) = failing_of(plain), failing_of(bounded)
    assert np.array_equal(flags, found)
    assert few < failing_of(study_of(tmp_path, bounds=GOOD))[1]


@pytest.mark.parametrize(
    ("bounds", "said"),
    [
        (BOUNDS.format(under="-0.9", answers="7.9"), 'promises "margin"'),
        (BOUNDS.format(under="1.0", answers="-9.0"), "promises an answer"),
        (
            GOOD.replace("still = lip", "still = no_such_name"),
            "bounds of model .* raised NameError",
        ),
    ],
)
def test_bounds_that_do_not_hold_are_refused(tmp_path, bounds, said):
    with pytest.raises(ModelError, match=said):
        crossing_plan(
            plan_run(RunOptions(seed=1).asked_of(study_of(tmp_path, bounds=bounds, blind=7.9)))
        )
