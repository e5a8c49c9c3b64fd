"""How often the intervals hold what they should: 200 seeds, against the binomial.

Of 200 independent intervals of 95 % that are right, the number that hold their value is binomial;
outside its central 99 % (181 to 197) they are too narrow or too wide. Row-resampled intervals
would hold it 200 times of 200, three and more times too wide (statistics-sources 7.1, measured).
Six indices at once each meet the band in 95 rounds of 100 or so, were the intervals perfect;
the seeds are 0 to 199, so that it is settled once.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from sensitivity.answers.compare.find import compare_designs
from sensitivity.engine.intervals import proportion, student
from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import plan_run
from sensitivity.engine.replicate import one_replicate
from sensitivity.pricing.variants import passes_difference
from sensitivity.study.file import read_study

ONE = RunOptions(workers=1)

MODELS = str(Path(__file__).with_name("statistics_models.py"))
SEEDS, REPLICATES, POINTS, CONFIDENCE = 200, 16, 128, 0.95


def read(folder, text):
    path = folder / "study.toml"
    path.write_text(
        text + f"[sampling]\npoints = {POINTS}\nreplicates = {REPLICATES}\n", encoding="utf-8"
    )
    return read_study(path, (MODELS,))


def runs(study, **options):
    """Replicates of the study for each seed in turn."""
    for seed in range(SEEDS):
        seeded = replace(study, sampling=replace(study.sampling, seed=seed))
        plan = plan_run(seeded, **options)
        yield [one_replicate(plan, replicate) for replicate in range(REPLICATES)]


def band(count=SEEDS):
    """Central 99 % of the number of intervals that hold their value."""
    low, high = stats.binom.interval(0.99, count, CONFIDENCE)
    return int(low), int(high)


def as_often_as_promised(held):
    """Assert the count (n, ...) of intervals that hold their value, each column in the band."""
    counts = np.sum(held, axis=0)
    low, high = band(len(held))
    print("held:", counts, "of", len(held))
    assert np.all((counts >= low) & (counts <= high)), f"{counts} of {len(held)}"


def holds(values, exact):
    """Tell whether Student's interval between replicates (r, ...) holds the exact value."""
    _, low, high = student(np.asarray(values), CONFIDENCE)
    return (low <= exact) & (exact <= high)


ISHIGAMI = 'models = ["ishigami"]\n' + "".join(
    f"[inputs.x{number}]\nplus_minus = {np.pi}\n" for number in (1, 2, 3)
)
# Ishigami and Homma 1990; statistics-sources 2.1
VARIANCE = 13.844587940719254
FIRST = np.array([0.313905191147811, 0.442411144790041, 0.0])
TOTAL = np.array([0.557588855209960, 0.442411144790041, 0.243683664062148])


def test_band():
    assert band() == (181, 197)


@pytest.fixture(scope="module")
def ishigami(tmp_path_factory):
    study = read(tmp_path_factory.mktemp("coverage"), ISHIGAMI)
    return list(runs(study))


def test_indices_of_ishigami(ishigami):
    as_often_as_promised(
        [
            np.concatenate(
                [holds([s.first[0] for s in run], FIRST), holds([s.total[0] for s in run], TOTAL)]
            )
            for run in ishigami
        ]
    )


def test_half_widths_of_ishigami_are_true(ishigami):
    # Besides holding, the width must be that of the scatter between seeds.
    for exact, name in ((FIRST, "first"), (TOTAL, "total")):
        values = np.array([[getattr(s, name)[0] for s in run] for run in ishigami])
        mean, low, high = student(values.swapaxes(0, 1), CONFIDENCE)
        scatter = stats.t.ppf(0.975, REPLICATES - 1) * mean.std(axis=0, ddof=1)
        assert np.sqrt(np.mean((0.5 * (high - low)) ** 2, axis=0)) == pytest.approx(
            scatter, rel=0.2
        )
        # No bias to speak of: the mean of 200 within four standard errors
        assert np.abs(mean.mean(axis=0) - exact).max() < 0.01
        assert np.all(np.abs(mean.mean(axis=0) - exact) < 4.0 * mean.std(axis=0) / SEEDS**0.5)


def test_mean_of_ishigami(ishigami):
    as_often_as_promised([[holds([s.mean[0] for s in run], 3.5)] for run in ishigami])


def test_standard_deviation_of_ishigami(ishigami):
    as_often_as_promised(
        [[holds([s.deviation[0] for s in run], VARIANCE**0.5)] for run in ishigami]
    )


def test_standard_deviation_of_a_sum_of_rectangles(tmp_path):
    # JCGM 101:2008, 9.2.3: u = 2 exactly. Here a sequence does best, and the interval is narrow.
    text = 'models = ["weighted_sum"]\n' + "".join(
        f"[inputs.x{number}]\nplus_minus = {3.0**0.5}\n" for number in range(1, 5)
    )
    study = read(tmp_path, text)
    as_often_as_promised(
        [[holds([s.deviation[0] for s in run], 2.0)] for run in runs(study, indices=False)]
    )


SUM_OF_FIVE = 'models = ["sum_thrice"]\n' + "".join(
    f"[inputs.x{number}]\nstandard_deviation = 1\n" for number in range(1, 6)
)
# The last expects ten failures: either rule by turns.
SHARES = {"y": 0.9, "again": 0.99, "once_more": 1.0 - 10.0 / (2 * REPLICATES * POINTS)}
LIMITS = "".join(
    f"[limits.{name}]\nat_most = {5.0**0.5 * stats.norm.ppf(share)}\n"
    for name, share in SHARES.items()
)


@pytest.fixture(scope="module")
def sums_of_five(tmp_path_factory):
    study = read(tmp_path_factory.mktemp("sums"), SUM_OF_FIVE + LIMITS)
    return list(runs(study, indices=False))


def yields(found, name):
    """The yield of one limit, by seed."""
    place = list(SHARES).index(name)
    return [
        proportion(np.array([s.passes[place] for s in run]), run[0].rows, CONFIDENCE)
        for run in found
    ]


@pytest.mark.parametrize("name", ["y", "again"])
def test_yield_of_five_normals(name, sums_of_five):
    found = yields(sums_of_five, name)
    assert {each.method for each in found} == {"student"}
    as_often_as_promised([[each.low <= SHARES[name] <= each.high] for each in found])


def test_yield_where_ten_failures_are_expected(sums_of_five):
    # Clopper-Pearson's interval is wider than need be: not too seldom, that is all.
    found = yields(sums_of_five, "once_more")
    assert {each.method for each in found} == {"student", "clopper-pearson"}
    held = sum(each.low <= SHARES["once_more"] <= each.high for each in found)
    print("held:", held, "of", SEEDS)
    assert held >= band()[0]


def test_difference_of_two_designs(tmp_path, sums_of_five):
    # Common random numbers: y of five normals, and with one of them three times as wide.
    wide = SUM_OF_FIVE.replace("standard_deviation = 1\n", "standard_deviation = 3\n", 1)
    one, other = (read(tmp_path, text + LIMITS) for text in (SUM_OF_FIVE, wide))
    exact = stats.norm.cdf(5.0**0.5 * stats.norm.ppf(0.9) / 13.0**0.5) - 0.9
    found = [
        passes_difference(
            np.array([s.passes[0] for s in after]),
            np.array([s.passes[0] for s in before]),
            before[0].rows,
            CONFIDENCE,
        )
        for before, after in zip(sums_of_five, runs(other, indices=False), strict=True)
    ]
    as_often_as_promised([[each.low <= exact <= each.high] for each in found])
    # That is what `compare` finds, which takes its time over much else.
    for seed in (0, 17):
        first = replace(one, sampling=replace(one.sampling, seed=seed))
        found_there = compare_designs((first, other), options=ONE).designs[1]
        assert found_there.differences["y"] == found[seed]


def test_a_wrong_value_is_not_held(ishigami):
    # The count can fail: the first indices of x1 and x2 for a = 5 in place of 7 are not held.
    one, two, rest = 0.5 * (1.0 + 0.02 * np.pi**4) ** 2, 5.0**2 / 8.0, 0.243683664 * VARIANCE
    wrong = np.array([one, two]) / (one + two + rest)
    held = [holds([s.first[0, :2] for s in run], wrong) for run in ishigami]
    assert np.all(np.sum(held, axis=0) < 20)
