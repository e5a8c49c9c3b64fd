"""What closer work is worth in parts that work, against closed forms.

With g = d - (s_b b + s_r r + s_m m) of standard normals, a part keeps g >= 0 at a share rho of the
moments where s_b b + s_m m <= d - s_r q(rho), q the normal quantile, so that
W = Phi((d - s_r q) / sqrt(s_b^2 + s_m^2)). Half the spread of b makes s_b half: that gains where
d > s_r q, and loses where d < s_r q although the mean of g keeps the limit. Where nothing runs it
is the yield that changes. The figures are worked out by SciPy.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm

from sensitivity.engine.monte_carlo import run_replicates
from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import plan_run
from sensitivity.engine.result import assemble
from sensitivity.pricing.ranking import rank
from sensitivity.pricing.worth import advised_by_worth, missed_on_average, worth_of_closer_work
from sensitivity.study.file import read_study

MODELS = str(Path(__file__).with_name("two_level_models.py"))
ONE = RunOptions(workers=1)
S_R, S_M, KEEPS = 0.5, 0.6, 0.9


def found(tmp_path, drawn, *, running="running", seed=2):
    """Result, ranking and worth of the linear margin as drawn."""
    text = f'models = ["linear_margin"]\nkeeps = {KEEPS}\n[inputs.d]\nnominal = {drawn}\n'
    for name, kind in (("b1", "build"), ("r", running), ("m", "model")):
        text += f'[inputs.{name}]\nnominal = 0\nstandard_deviation = 1\nkind = "{kind}"\n'
    text += f"[limits.margin]\nat_least = 0\n[sampling]\nseed = {seed}\npoints = 8192\n"
    path = tmp_path / "study.toml"
    path.write_text(text, encoding="utf-8")
    study = read_study(path, (MODELS,))
    plan = plan_run(study)
    few = replace(plan, sampling=replace(plan.sampling, points=1024))
    result = assemble(study, few, run_replicates(few, workers=1))
    ranking = rank(result)
    worth = worth_of_closer_work(plan, ranking, keeps=KEEPS, options=ONE)
    return result, advised_by_worth(ranking, worth)


def gained(drawn, s_r=S_R):
    edge = drawn - s_r * norm.ppf(KEEPS)
    return norm.cdf(edge / np.hypot(0.5, S_M)) - norm.cdf(edge / np.hypot(1.0, S_M))


@pytest.mark.parametrize(
    ("drawn", "advice"),
    [(2.0, "make closer"), (0.3, "move a nominal"), (-0.5, "move a nominal")],
)
def test_half_the_spread_gains_or_loses_as_the_edge_lies(tmp_path, drawn, advice):
    result, ranking = found(tmp_path, drawn)
    (row,) = ranking.of_kind("build")
    assert row.halved.low <= gained(drawn) <= row.halved.high
    assert row.halved.half_width < 0.012
    assert row.advice == advice
    # Whatever closer work does, the index says that it decides.
    assert row.measure.value > 0.3
    assert missed_on_average(result) == (("margin",) if drawn < 0 else ())
    assert all(other.halved is None for other in ranking.rows if other.kind != "build")


def test_where_nothing_runs_half_the_spread_gains_in_yield(tmp_path):
    _, ranking = found(tmp_path, 1.0, running="model")
    (row,) = ranking.of_kind("build")
    rest = np.hypot(S_R, S_M)
    exact = norm.cdf(1 / np.hypot(0.5, rest)) - norm.cdf(1 / np.hypot(1.0, rest))
    assert row.halved.low <= exact <= row.halved.high
    assert row.halved.half_width < 0.005


def test_where_nothing_works_no_single_spread_is_good_enough(tmp_path):
    _, ranking = found(tmp_path, -9.0)
    assert ranking.rows == ()
    _, ranking = found(tmp_path, -3.0)
    assert {row.advice for row in ranking.of_kind("build")} <= {"not settled", "move a nominal"}
