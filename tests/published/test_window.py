"""Yield against a nominal in closed form: sums of normals, and shapes that move by shares.

Outside source throughout: the normal distribution function of scipy.stats, and brentq of
scipy.optimize for the ends of a window. Each test's docstring derives its reference.
"""

from pathlib import Path

import numpy as np
import pytest
from scipy import optimize, stats

from sensitivity.answers.window.find import OUT_OF_RANGE, find_map, find_window
from sensitivity.answers.window.settings import Asked
from sensitivity.engine.options import RunOptions
from sensitivity.study.file import read_study

ONE = RunOptions(workers=1)

STATISTICS = str(Path(__file__).with_name("statistics_models.py"))
SAMPLING = "[sampling]\nseed = 3\nreplicates = 16\npoints = 1024\n"

MARGINS = '''
from typing import Annotated, NamedTuple


class Margins(NamedTuple):
    below: Annotated[float, "mm", "room below"]
    above: Annotated[float, "mm", "room above"]


def margins(
    height: Annotated[float, "mm", "what is set", ">= 0"] = 1.0,
    lower: Annotated[float, "mm", "error of the one"] = 0.0,
    upper: Annotated[float, "mm", "error of the other"] = 0.0,
) -> Margins:
    """Room above zero and below two, each with an error of its own."""
    return Margins(height + lower, 2.0 - height + upper)
'''


def study(folder, text):
    models = folder / "margins.py"
    models.write_text(MARGINS, encoding="utf-8")
    path = folder / "study.toml"
    path.write_text(text + SAMPLING, encoding="utf-8")
    return read_study(path, (STATISTICS, str(models)))


def close(share, exact):
    """Assert that the exact yield is within twice the half-width, a Clopper-Pearson one inside."""
    assert abs(share.value - exact) <= 2.0 * share.half_width, (share, exact)


LINEAR = """
models = ["weighted_sum"]
[inputs.x1]
nominal = 0.4
standard_deviation = 0.3
[inputs.x2]
standard_deviation = 0.4
[limits.y]
at_least = -1
at_most = 1
"""


def linear_yield(m):
    return stats.norm.cdf((1.0 - m) / 0.5) - stats.norm.cdf((-1.0 - m) / 0.5)


def test_yield_against_the_nominal_of_a_sum(tmp_path):
    """Y = x1 + x2 is normal about the nominal m of x1, variance 0.3^2 + 0.4^2 = 0.5^2.

    Yield(m) = F((1 - m)/0.5) - F((-1 - m)/0.5), highest at m = 0, and the window that holds
    0.9 ends where that is 0.9.
    """
    window = find_window(study(tmp_path, LINEAR), Asked("x1"), target=0.9, options=ONE)
    for setting in window.settings:
        close(setting.overall, linear_yield(setting.value))
        close(setting.shares["y"], linear_yield(setting.value))
    close(window.stated, linear_yield(0.4))
    values = np.array([setting.value for setting in window.settings])
    step = np.diff(values).max()
    end = optimize.brentq(lambda m: linear_yield(m) - 0.9, 0.0, 1.0)
    assert window.held is not None
    low, high = (values[place] for place in window.held)
    assert -end <= low <= -end + 1.5 * step
    assert end - 1.5 * step <= high <= end
    assert window.centre == pytest.approx(0.0, abs=step)
    # Within a point of the best: where the yield is its highest less 0.01.
    level = optimize.brentq(lambda m: linear_yield(m) - linear_yield(0.0) + 0.01, 0.0, 1.0)
    low, high = (values[place] for place in window.flat)
    assert low == pytest.approx(-level, abs=1.5 * step)
    assert high == pytest.approx(level, abs=1.5 * step)
    assert abs(values[window.chosen]) <= step
    # The range went out to where less than half of the best is left, and no further than needed.
    half = optimize.brentq(lambda m: linear_yield(m) - 0.5 * linear_yield(0.0), 0.0, 3.0)
    assert half <= values[-1] <= 2.0 * half
    assert -2.0 * half <= values[0] <= -half


HELD = """
models = ["margins"]
[inputs.height]
nominal = "1.5 mm"
[inputs.lower]
standard_deviation = "0.2 mm"
[inputs.upper]
standard_deviation = "0.4 mm"
[limits.below]
at_least = "0 mm"
[limits.above]
at_least = "0 mm"
"""


def held_yield(h):
    return stats.norm.cdf(h / 0.2) * stats.norm.cdf((2.0 - h) / 0.4)


def test_held_input_and_which_limit_closes_which_side(tmp_path):
    """Height h is held; the two errors are apart: yield F(h/0.2) F((2 - h)/0.4).

    Lower, the first factor falls, higher the second; the best is where the logarithm's slope is
    nothing.
    """
    window = find_window(study(tmp_path, HELD), Asked("height", 0.0, 2.0), target=0.9, options=ONE)
    for setting in window.settings:
        close(setting.overall, held_yield(setting.value))
        close(setting.shares["below"], stats.norm.cdf(setting.value / 0.2))
        close(setting.shares["above"], stats.norm.cdf((2.0 - setting.value) / 0.4))
    assert (window.closed_below, window.closed_above) == ("below", "above")
    best = optimize.minimize_scalar(lambda h: -held_yield(h), bounds=(0, 2), method="bounded").x
    assert window.settings[window.best].value == pytest.approx(best, abs=0.1)
    ends = [
        optimize.brentq(lambda h: held_yield(h) - 0.9, *side) for side in ((0, best), (best, 2))
    ]
    assert window.held is not None
    held = [window.settings[place].value for place in window.held]
    assert held == pytest.approx(ends, abs=0.1)
    assert held[0] >= ends[0]
    assert held[1] <= ends[1]


def test_no_window_where_the_best_falls_short(tmp_path):
    """The best of F(h/0.2) F((2 - h)/0.4) is 0.9998: nothing holds more than that."""
    best = optimize.minimize_scalar(lambda h: -held_yield(h), bounds=(0, 2), method="bounded").fun
    assert 0.99 < -best < 0.99995
    window = find_window(study(tmp_path, HELD), Asked("height"), target=0.99999, options=ONE)
    assert window.held is None
    assert window.centre is None
    assert (window.closed_below, window.closed_above) == ("below", "above")


def test_steps_are_multiples_from_the_nominal(tmp_path):
    """Whatever the range, only 1.5 mm and whole steps of 0.35 mm from it can be set."""
    window = find_window(study(tmp_path, HELD), Asked("height", 0.0, 2.0, 0.35), options=ONE)
    values = [setting.value for setting in window.settings]
    assert values == pytest.approx([0.1, 0.45, 0.8, 1.15, 1.5, 1.85])
    assert [window.settings[place].value for place in window.held] == pytest.approx([0.45, 1.15])


def test_lognormal_moves_by_its_share(tmp_path):
    """X lognormal about its median m with relative deviation 0.2: s^2 = ln(1 + 0.2^2).

    P(x <= 2) = F(ln(2/m)/s), the same s wherever m is.
    """
    text = """
models = ["weighted_sum"]
[inputs.x1]
nominal = 1
lognormal = 0.2
[limits.y]
at_most = 2
"""
    s = np.sqrt(np.log(1.04))
    window = find_window(study(tmp_path, text), Asked("x1", 0.5, 3.0), options=ONE)
    for setting in window.settings:
        close(setting.overall, stats.norm.cdf(np.log(2.0 / setting.value) / s))


def test_a_share_of_the_size_stays_a_share(tmp_path):
    """A bought wall is within 12 % of its nominal h, all values alike (ASTM B251 in the table).

    P(h (1 + 0.12 v) <= 2) with v even in -1..1 is (2/h - 0.88)/0.24, cut to 0..1.
    """
    text = """
models = ["margins"]
[inputs.height]
nominal = "1.5 mm"
process = "bought_copper_tube_wall"
[limits.above]
at_least = "0 mm"
"""
    window = find_window(study(tmp_path, text), Asked("height", 1.0, 3.0), options=ONE)
    for setting in window.settings:
        close(setting.overall, np.clip((2.0 / setting.value - 0.88) / 0.24, 0.0, 1.0))


def test_spread_that_cannot_be_closes_the_window(tmp_path):
    """Height is 0 mm or more: set at h with half-width 0.5, even, (0.5 - h)/1 of them cannot be."""
    text = """
models = ["margins"]
[inputs.height]
nominal = "1 mm"
plus_minus = "0.5 mm"
[limits.below]
at_least = "-1 mm"
[limits.above]
at_least = "-1 mm"
"""
    window = find_window(study(tmp_path, text), Asked("height", 0.0, 3.0), options=ONE)
    for setting in window.settings:
        low, high = max(setting.value - 0.5, 0.0), min(setting.value + 0.5, 3.0)
        close(setting.overall, high - low)
    assert (window.closed_below, window.closed_above) == (OUT_OF_RANGE, "above")


MAP = """
models = ["two_magnitudes"]
[inputs.x1]
nominal = 0.8
standard_deviation = 0.5
[inputs.x2]
nominal = -0.6
standard_deviation = 0.4
[limits.first]
at_most = 1
[limits.second]
at_most = 1
"""


def test_map_of_two_nominals(tmp_path):
    """|x1| <= 1 and |x2| <= 1 apart: the yield is the product of two normal strips.

    Highest at (0, 0); the nearest pair to the drawing that is within a point of that is where
    the strips' product is the highest less 0.01.
    """

    def strip(m, s):
        return stats.norm.cdf((1.0 - m) / s) - stats.norm.cdf((-1.0 - m) / s)

    found = find_map(
        study(tmp_path, MAP),
        (Asked("x1", -1, 1), Asked("x2", -1, 1)),
        options=ONE,
    )
    for i, x in enumerate(found.first):
        for j, y in enumerate(found.second):
            close(found.overall[i][j], strip(x, 0.5) * strip(y, 0.4))
    assert abs(found.first[found.best[0]]) <= 0.1
    assert abs(found.second[found.best[1]]) <= 0.1
    highest = strip(0.0, 0.5) * strip(0.0, 0.4)
    gain = highest - strip(0.8, 0.5) * strip(-0.6, 0.4)
    assert abs(found.gain.value - gain) <= 2.0 * found.gain.half_width
    assert found.chosen is not None
    x, y = found.first[found.chosen[0]], found.second[found.chosen[1]]
    assert x >= 0.0 >= y  # on the drawing's side
    assert strip(x, 0.5) * strip(y, 0.4) > highest - 0.012
    wanted = sum(strip(x, 0.5) * strip(y, 0.4) >= 0.8 for x in found.first for y in found.second)
    at_80 = find_map(
        study(tmp_path, MAP), (Asked("x1", -1, 1), Asked("x2", -1, 1)), target=0.8, workers=1
    )
    assert wanted - 12 <= at_80.holding <= wanted
