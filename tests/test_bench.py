"""The trade's bench: words and trials that the models bring, and which trial would settle what.

The share that a reading explains is held to the closed form of jointly normal variables.
"""

from pathlib import Path
from typing import Annotated, NamedTuple

import numpy as np
import pytest

import sensitivity as sl
from models.bench import BENCH
from sensitivity.engine.plan import plan_run
from sensitivity.errors import ModelFileError
from sensitivity.learning.bench import BenchReading, BenchTrial, bench_of, read_bench, trials_for
from sensitivity.learning.next_trial import next_trials
from sensitivity.learning.posterior import posterior
from sensitivity.learning.settling import explained
from sensitivity.system.catalogue import available_models
from tests.strategies import GOOD

ROOT = Path(__file__).parents[1]
ALL_RESULTS = {item.name for model in available_models() for item in model.results}
ALL_ARGUMENTS = {item.name for model in available_models() for item in model.arguments}


def test_the_house_brings_words_and_trials():
    bench = read_bench(BENCH, "bench")
    assert len(bench.trials) >= 6
    assert {trial.safe for trial in bench.trials} == {True, False}


@pytest.mark.parametrize("trial", read_bench(BENCH, "bench").trials, ids=lambda trial: trial.name)
def test_trial_reads_what_a_model_knows(trial):
    for reading in trial.readings:
        assert reading.of in ALL_RESULTS | ALL_ARGUMENTS
        assert set(reading.at) <= ALL_ARGUMENTS
    assert any("____" in step for step in trial.steps), "a procedure has blanks"
    assert trial.cautions
    # What is not safe says so itself.
    assert trial.safe or any("Lit" in text for text in trial.cautions)


def test_words_are_for_results_that_there_are():
    assert set(BENCH["symptoms"]) <= ALL_RESULTS


def test_readings_of_the_house_have_units_and_conditions():
    study = sl.read_study(ROOT / "studies" / "bramble" / "whole_burner.toml")
    units = {item.name: item.unit for item in (*study.system.results, *study.system.inputs)}
    found = trials_for(study, bench_of(study))
    assert len(found) >= 6
    for trial in found:
        for reading in trial.readings:
            assert reading.error(units[reading.of], 3.0).high > 0.0
            reading.held(study)


def test_models_from_a_file_alone_bring_none(read):
    assert not bench_of(read(GOOD)).trials


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ([], "should be a mapping"),
        ({"symptoms": {"play": [3]}}, "should be text"),
        ({"trials": [{"name": "a"}]}, "a trial should have"),
        ({"trials": [3]}, "bench"),
    ],
)
def test_bench_that_is_none(content, says):
    with pytest.raises(ModelFileError, match=says):
        read_bench(content, "bench")


# --- what a reading settles ----------------------------------------------------------------------


@pytest.mark.parametrize("error", [0.1, 1.0])
def test_share_explained_of_normals_is_the_squared_correlation(error):
    """y = x + e with deviations 1 and s: x is explained by 1/(1 + s^2)."""
    generator = np.random.default_rng(4)
    x = generator.standard_normal((16, 1024))
    read = x + error * generator.standard_normal(x.shape)
    weights = np.full(x.shape, 1.0 / x.size)
    found = explained([read], x, weights, 0.95)
    assert found.low < 1.0 / (1.0 + error**2) < found.high
    assert found.half_width < 0.02
    # Shares are of ranks: neither side's scale matters, nor a slip as far as a mile.
    assert explained([np.exp(read)], x**3, weights, 0.95).value == pytest.approx(found.value)


def test_interval_of_a_share_covers():
    """Of 50 seeds, the interval at 95 % holds 1/(1 + s^2) 44 times or more."""
    exact, held = 1.0 / (1.0 + 0.7**2), 0
    for seed in range(50):
        generator = np.random.default_rng(seed)
        x, e = generator.standard_normal((2, 16, 256))
        found = explained([x + 0.7 * e], x, np.full(x.shape, 1.0 / x.size), 0.95)
        held += found.low <= exact <= found.high
    assert held >= 44


def test_nothing_is_explained_by_what_has_no_part_in_it():
    generator = np.random.default_rng(4)
    x, other = generator.standard_normal((2, 16, 1024))
    found = explained([other], x, np.full(x.shape, 1.0 / x.size), 0.95)
    assert abs(found.value) < 2e-3
    assert found.low < 0.0 < found.high


def test_weights_count():
    """Half of the rows, told by their weights, have y = x; the rest are noise."""
    generator = np.random.default_rng(4)
    x, noise = generator.standard_normal((2, 16, 1024))
    right = generator.random(x.shape) < 0.5
    read = np.where(right, x, noise)
    found = explained([read], x, np.where(right, 1.0, 0.0) / right.sum(), 0.95)
    assert found.value == pytest.approx(1.0, abs=0.01)


class Sag(NamedTuple):
    height: Annotated[float, "mm", "height of the part"]
    stretch: Annotated[float, "mm", "how far it gives"]


def sagging(
    sag: Annotated[float, "mm", "what nobody has measured", "model"] = 0.0,
    give: Annotated[float, "mm", "another such thing", "model"] = 0.0,
    own: Annotated[float, "mm", "the part's own"] = 0.0,
) -> Sag:
    """A part that sags, and gives."""
    return Sag(own + sag, give)


def bench_trial(name, of, *, safe, error="0.1 mm"):
    return BenchTrial(
        name, name, safe, 5.0, (BenchReading(of, error),), ("Read: ____.",), ("Mind.",)
    )


def test_trials_are_ranked_safe_ones_first():
    """height reads own + sag, deviations .3 and .4: with a gauge of +-.1 (deviation .0577) it tells
    .25/(.25 + .0033) of the limit, and .16/.2533 of the doubt; stretch tells of its doubt alone.
    """
    study = sl.Study(
        models=[sagging],
        inputs={
            "own": sl.normal("0 mm", standard_deviation="0.3 mm"),
            "sag": sl.normal("0 mm", standard_deviation="0.4 mm", kind="model"),
            "give": sl.normal("0 mm", standard_deviation="0.5 mm", kind="model"),
        },
        limits=[sl.limit("height", at_most="0.5 mm")],
        sampling={"seed": 1, "replicates": 16, "points": 1024},
    )
    plan = plan_run(study, indices=False)
    known = posterior(plan, [])
    lit = bench_trial("height, in use", "height", safe=False)
    cold = bench_trial("height, cold", "height", safe=True)
    give = bench_trial("give, cold", "stretch", safe=True)
    found = next_trials(study, plan, known, [lit, give, cold])
    assert [one.trial.name for one in found] == ["height, cold", "give, cold", "height, in use"]
    best = found[0]
    total = 0.25 + 0.01 / 3.0
    assert best.of_part.value == pytest.approx(0.25 / total, abs=0.01)
    assert dict(best.doubts)["sag"].value == pytest.approx(0.16 / total, abs=0.02)
    assert "give" not in dict(best.doubts)
    assert found[1].of_part.low <= 0.005
    assert dict(found[1].doubts)["give"].value > 0.95
