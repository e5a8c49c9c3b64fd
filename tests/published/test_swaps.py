"""What differs between two designs, put into one of them at a time, against closed forms.

Outside source: the normal distribution of scipy.stats; each docstring derives its case.
"""

from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm

from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import plan_run
from sensitivity.pricing.swaps import swapped
from sensitivity.study.file import read_study

ONE = RunOptions(workers=1)
STATISTICS = str(Path(__file__).with_name("statistics_models.py"))


def plan(folder, name, **inputs):
    """Y = x1 + x2 + x3, wanted within 1 of zero; each x (mean, deviation)."""
    text = 'models = ["weighted_sum"]\n[inputs.c4]\nnominal = 0\n'
    for key, (mean, deviation) in inputs.items():
        text += f"[inputs.{key}]\nnominal = {mean}\nstandard_deviation = {deviation}\n"
    text += "[limits.y]\nat_least = -1\nat_most = 1\n[sampling]\nseed = 3\npoints = 1024\n"
    path = folder / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return plan_run(read_study(path, (STATISTICS,)), indices=False)


def kept(**inputs):
    mean = sum(m for m, _ in inputs.values())
    deviation = np.sqrt(sum(s**2 for _, s in inputs.values()))
    return norm.cdf((1.0 - mean) / deviation) - norm.cdf((-1.0 - mean) / deviation)


A = {"x1": (0.4, 0.4), "x2": (0.0, 0.5), "x3": (0.1, 0.3)}
B = {"x1": (0.0, 0.4), "x2": (0.0, 0.2), "x3": (0.1, 0.3)}


def test_each_difference_alone(tmp_path):
    """x1 moves the mean by -0.4 and x2 narrows; x3, alike in both, moves nothing however large.

    With one input (m, s) as in B, Y is N(sum m, sum s^2): the yields are differences of normal
    distribution functions.
    """
    found = swapped(plan(tmp_path, "a", **A), plan(tmp_path, "b", **B), options=ONE)
    each = {swap.name: swap for swap in found.each}
    assert set(each) == {"x1", "x2"}
    for name, swap in each.items():
        exact = kept(**{**A, name: B[name]}) - kept(**A)
        assert swap.overall.value == pytest.approx(exact, abs=2.0 * swap.overall.half_width)
        assert swap.overall.half_width < 0.01
        assert swap.limits["y"] == swap.overall or swap.limits["y"].value == swap.overall.value
        shift = B[name][0] - A[name][0]
        assert swap.shifts["y"].value == pytest.approx(shift, abs=1e-4)
    both = kept(**B) - kept(**A)
    assert found.together.overall.value == pytest.approx(
        both, abs=2.0 * found.together.overall.half_width
    )
    assert found.rest is None
    # The largest difference comes first.
    assert abs(found.each[0].overall.value) >= abs(found.each[1].overall.value)


def test_the_other_way_round_is_the_other_sign_of_all_together(tmp_path):
    """From B to A all together is minus what it is from A to B, on the same samples exactly."""
    a, b = plan(tmp_path, "a", **A), plan(tmp_path, "b", **B)
    one, other = swapped(a, b, options=ONE), swapped(b, a, options=ONE)
    assert one.together.overall.value == -other.together.overall.value


def test_a_design_and_itself(tmp_path):
    found = swapped(plan(tmp_path, "a", **A), plan(tmp_path, "b", **A), options=ONE)
    assert found.each == ()
    assert found.together is None
    assert found.rest is None
