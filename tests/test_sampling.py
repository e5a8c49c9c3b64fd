"""Points of a replicate: inside 0..1, its own whoever computes it, the same numbers by name."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from sensitivity.engine import sobol
from sensitivity.engine.plan import plan_run
from sensitivity.engine.sampling import draw, replicate_uniforms
from sensitivity.engine.sobol import directions, sobol_points

CORRELATED = """\
models = ["pin_fit"]
[inputs.hole]
nominal = "10 mm"
plus_minus = "0.2 mm"
group = "reamer"
[inputs.pin]
nominal = "9.8 mm"
standard_deviation = "0.1 mm"
group = "reamer"
[inputs.depth]
nominal = "20 mm"
lognormal = "5 %"
[[correlations]]
inputs = ["pin", "hole"]
rank = {rank}
[sampling]
seed = 5
points = 4096
"""


@pytest.fixture
def plan(read):
    return plan_run(read())


def test_points_lie_strictly_inside(plan):
    large = replace(plan, sampling=replace(plan.sampling, points=1 << 14))
    for replicate in range(4):
        for sample in replicate_uniforms(large, replicate):
            for values in sample.values():
                assert values.min() > 0.0
                assert values.max() < 1.0


def test_shapes_and_names(plan):
    a, b = replicate_uniforms(plan, 0)
    assert set(a) == set(b) == {"hole", "pin", "warmth", "tilt"}
    assert all(values.shape == (64,) for values in (*a.values(), *b.values()))


def test_replicate_is_the_same_in_any_order_and_again(plan):
    forwards = [replicate_uniforms(plan, number) for number in range(6)]
    backwards = [replicate_uniforms(plan, number) for number in reversed(range(6))][::-1]
    for there, back in zip(forwards, backwards, strict=True):
        for one, other in zip(there, back, strict=True):
            for name in one:
                np.testing.assert_array_equal(one[name], other[name])


def test_replicates_and_seeds_and_samples_differ(plan):
    other = replace(plan, sampling=replace(plan.sampling, seed=2))
    zero = replace(plan, sampling=replace(plan.sampling, seed=0))
    seen = [
        sample["hole"]
        for one, number in ((plan, 0), (plan, 1), (other, 0), (zero, 0))
        for sample in replicate_uniforms(one, number)
    ]
    for place, first in enumerate(seen):
        for second in seen[place + 1 :]:
            assert not np.array_equal(first, second)


def test_each_column_fills_its_strata_once(plan):
    # What a scrambled Sobol' sequence of 2^m points promises of every single dimension.
    for sample in replicate_uniforms(plan, 3):
        for values in sample.values():
            assert sorted(np.floor(values * 64).astype(int)) == list(range(64))


def test_one_name_draws_the_same_numbers_in_every_design(read):
    first = read()
    second = read(
        first.text.replace("[inputs.pin]", "[inputs.depth]\nplus_minus = '1 mm'\n\n[inputs.pin]")
    )
    columns = ("depth", "tilt", "pin", "hole", "warmth")
    one = replicate_uniforms(plan_run(first, columns=columns), 2)
    other = replicate_uniforms(plan_run(second, columns=columns), 2)
    for sample, same in zip(one, other, strict=True):
        assert set(same) - set(sample) == {"depth"}
        for name in sample:
            np.testing.assert_array_equal(sample[name], same[name])


# --- correlation --------------------------------------------------------------------------------


@pytest.mark.parametrize("rank", [0.6, -0.9, 0.0])
def test_rank_correlation_is_the_stated_one(read, rank):
    plan = plan_run(read(CORRELATED.format(rank=rank)))
    for sample in replicate_uniforms(plan, 0):
        # Outside source: scipy.stats.spearmanr. 4096 points of a sequence settle it to 0.01.
        assert stats.spearmanr(sample["hole"], sample["pin"])[0] == pytest.approx(rank, abs=0.01)
        assert stats.spearmanr(sample["hole"], sample["depth"])[0] == pytest.approx(0.0, abs=0.01)


def test_correlation_leaves_the_stated_spreads_alone(read):
    plan = plan_run(read(CORRELATED.format(rank=0.8)))
    for sample in replicate_uniforms(plan, 1):
        for values in sample.values():
            # Largest distance from the uniform distribution; 1.36/64 is where 5 % of random
            # samples lie beyond, and a sequence is far nearer.
            assert stats.kstest(values, "uniform").statistic < 0.01


# --- values -------------------------------------------------------------------------------------


def test_values_follow_the_stated_spreads(plan):
    large = replace(plan, sampling=replace(plan.sampling, points=4096))
    values = draw(large, replicate_uniforms(large, 0)[0])
    references = {
        "hole": stats.uniform(9.8, 0.4),
        "pin": stats.norm(9.8, 0.1 / 3),
        "warmth": stats.uniform(5.0, 35.0),
        "tilt": stats.norm(0.0, 0.1),
    }
    for name, reference in references.items():
        assert stats.kstest(values[name], reference.cdf).statistic < 0.005


def test_held_inputs_stay_numbers(plan):
    values = draw(plan, replicate_uniforms(plan, 0)[0])
    assert {name: value for name, value in values.items() if isinstance(value, float)} == {
        "depth": 20.0,
        "share": 0.5,
        "flow": 3.0,
    }


@pytest.mark.parametrize(("dimensions", "points"), [(1, 1), (2, 2), (53, 256), (300, 64), (3, 24)])
@pytest.mark.parametrize("scrambled", [True, False])
@pytest.mark.filterwarnings("ignore:The balance properties")
def test_points_are_those_of_scipy_bit_for_bit(dimensions, points, scrambled):
    # Outside source: scipy.stats.qmc.Sobol, whose module takes most of a second to import.
    ours, theirs = (np.random.default_rng(3) if scrambled else None for _ in range(2))
    wanted = stats.qmc.Sobol(dimensions, scramble=scrambled, rng=theirs).random(points)
    np.testing.assert_array_equal(sobol_points(dimensions, points, ours), wanted)


def test_directions_are_found_without_scipy_s_file(monkeypatch):
    # The file is no promise of SciPy's; its points are. 300 dimensions, 2^9 of their points.
    columns = 9
    by_file = directions(300, columns)
    monkeypatch.setattr(sobol, "TABULATED", columns)
    monkeypatch.setattr(sobol.np, "load", _no_file)
    sobol._table.cache_clear()
    try:
        np.testing.assert_array_equal(directions(300, columns), by_file)
    finally:
        sobol._table.cache_clear()


def test_directions_beside_the_module_are_scipy_s():
    # Those that stand in a file of ours, against what is worked out from SciPy's, whatever its age.
    np.testing.assert_array_equal(
        directions(sobol.BESIDE, sobol.TABULATED), sobol._from_file(sobol.BESIDE)
    )


def _no_file(path):
    raise FileNotFoundError(path)
