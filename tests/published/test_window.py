"""Yield against a nominal in closed form: sums of normals, and shapes that move by shares.

Outside source throughout: the normal distribution function of scipy.stats, and brentq of
scipy.optimize for the ends of a window. Each test's docstring derives its reference.
"""

from pathlib import Path

import numpy as np
import pytest
from scipy import optimize, stats

from sensitivity.answers.window.document import window_body
from sensitivity.answers.window.find import OUT_OF_RANGE, find_window
from sensitivity.answers.window.find_map import find_map
from sensitivity.answers.window.settings import Asked
from sensitivity.answers.window.words import map_verdict, window_verdict
from sensitivity.engine.options import RunOptions
from sensitivity.study.file import read_study

ONE = RunOptions(workers=1)

STATISTICS = str(Path(__file__).with_name("statistics_models.py"))
TWO_LEVELS = str(Path(__file__).with_name("two_level_models.py"))
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
    return read_study(path, (STATISTICS, TWO_LEVELS, str(models)))


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
        study(tmp_path, MAP), (Asked("x1", -1, 1), Asked("x2", -1, 1)), target=0.8, options=ONE
    )
    assert wanted - 12 <= at_80.holding <= wanted


# Two levels: parts that work, and moments that are kept

D, S_B, S_R, S_M = 2.0, 0.5, 0.4, 0.6


def two_level_text(nominal, limits="at_least = 0\nat_most = 4\n"):
    inputs = "".join(
        f'[inputs.{name}]\nnominal = {at}\nstandard_deviation = {deviation}\nkind = "{kind}"\n'
        for name, at, deviation, kind in (
            ("b1", nominal, S_B, "build"),
            ("r", 0, S_R / 0.5, "running"),
            ("m", 0, 0.5, "model"),
        )
    )
    return (
        'models = ["linear_margin"]\n' + inputs + "[inputs]\nwm = { nominal = 1.2 }\n"
        "[limits.margin]\n" + limits
    )


def furthest(keeps):
    """Where a part of |b + S_M m| = x keeps |x + S_R r| <= D at the share asked of its moments."""

    def kept(x):
        return stats.norm.cdf((D - x) / S_R) - stats.norm.cdf((-D - x) / S_R)

    return optimize.brentq(lambda x: kept(x) - keeps, 0.0, D)


def strip_of(half, at, deviation):
    return stats.norm.cdf((half - at) / deviation) - stats.norm.cdf((-half - at) / deviation)


def test_window_of_parts_that_work(tmp_path):
    """b about h, m and r normal; kept where |b + S_M m + S_R r| <= D.

    A part of b + S_M m = x works where |x| <= x*, at which its chance at a moment is 0.99. So
    W(h) = P(|x| <= x*), x normal about h with variance S_B^2 + S_M^2; E[R](h) is the same with D
    for x* and S_R^2 more variance. Both are highest at 0; the window that holds 0.8 of W ends
    where W does. At h W(m) is that of x normal about h + S_M m with deviation S_B, which at h = 1
    falls with m but for less than 1e-4: its ends are those at m = +-1.644854.
    """
    read = study(tmp_path, two_level_text(1))
    window = find_window(read, Asked("b1"), target=0.8, options=ONE)
    edge, s = furthest(0.99), np.hypot(S_B, S_M)

    def works(h):
        return strip_of(edge, h, s)

    priced = [setting for setting in window.settings if setting.works is not None]
    assert 5 <= len(priced) <= 17
    for setting in priced:
        close(setting.works, works(setting.value))
        assert setting.works.half_width < 0.02
    for setting in window.settings:
        close(setting.overall, strip_of(D, setting.value, np.hypot(s, S_R)))
    close(window.stated.works, works(1.0))
    close(window.stated.share, strip_of(D, 1.0, np.hypot(s, S_R)))
    close(window.there.works, works(window.settings[window.chosen].value))
    values = [setting.value for setting in window.settings]
    # At a moment the window would be half as wide again: what works is what it is made of.
    end = optimize.brentq(lambda h: works(h) - 0.8, 0.0, 2.0)
    at_a_moment = optimize.brentq(lambda h: strip_of(D, h, np.hypot(s, S_R)) - 0.8, 0.0, 2.0)
    assert at_a_moment > 1.5 * end
    low, high = (values[place] for place in window.held)
    # The edges are refined to a quarter of the first step, a tenth; lower ends are asked for.
    assert -end <= low < -end + 0.05
    assert end - 0.05 < high <= end
    assert abs(values[window.chosen]) < 0.25
    ends = [strip_of(edge, 1.0 + S_M * m, S_B) for m in (1.644854, -1.644854)]
    close(window.stated.band.low, ends[0])
    close(window.stated.band.high, ends[1])
    # In words and in JSON it is what works.
    said = window_verdict(window)
    assert "parts about" in said
    assert "work" in said
    assert "What the physics does not know" in said
    body = window_body(window)
    assert body["works_as_drawn"]["estimate"] == window.stated.value
    assert body["works"]["band"] == [window.there.band.low.value, window.there.band.high.value]
    assert body["yield_as_drawn"]["estimate"] == window.stated.share.value


TWO_KINDS = """
models = ["margins"]
[inputs.height]
nominal = "1.3 mm"
[inputs.lower]
standard_deviation = "0.35 mm"
[inputs.upper]
standard_deviation = "0.35 mm"
kind = "running"
[limits.below]
at_least = "0 mm"
[limits.above]
at_least = "0 mm"
"""


def test_best_for_parts_is_not_the_best_at_a_moment(tmp_path):
    """Height h is held; its lower error is the part's, its upper the moment's.

    Kept at a moment: F(h/0.35) F((2 - h)/0.35), highest at 1 by symmetry. A part keeps at
    F((2 - h)/0.35) of its moments if its own error lets it: 0.99 where h <= 2 - 2.326 x 0.35 =
    1.1858, and then F(h/0.35) of the parts work, so it is best just below that; above it, none.
    """
    read = study(tmp_path, TWO_KINDS)
    window = find_window(read, Asked("height", 0.6, 1.6, 0.05), target=0.999, options=ONE)
    verge = 2.0 - stats.norm.ppf(0.99) * 0.35
    for setting in window.settings:
        if setting.works is not None and abs(setting.value - verge) > 0.01:
            works = stats.norm.cdf(setting.value / 0.35) if setting.value < verge else 0.0
            assert abs(setting.works.value - works) <= 2.0 * setting.works.half_width
    assert window.settings[window.at_a_moment].value == pytest.approx(1.0, abs=0.051)
    chosen = window.settings[window.chosen]
    assert 0.9 < chosen.value < verge
    assert window.stated.works.passes == 0
    assert window.stated.share.value > 0.9
    assert "No height" in window_verdict(window)


HILLS = '''
from typing import Annotated, NamedTuple


class Hills(NamedTuple):
    away: Annotated[float, "mm", "from the nearer of five either way"]


def hills(x: Annotated[float, "mm", "what is set"] = 4.0) -> Hills:
    """Distance from -5 or 5 mm, whichever is nearer."""
    return Hills(abs(abs(x) - 5.0))
'''


def test_the_hill_near_the_drawing_is_looked_at(tmp_path):
    """x normal about its setting (sd 0.2), wanted within 0.5 of -5 or of 5: two hills alike.

    Drawn at 4, the one about 5 is meant; half of its best is left 0.5 from 5 at the most.
    """
    (tmp_path / "hills.py").write_text(HILLS, encoding="utf-8")
    path = tmp_path / "hills.toml"
    text = 'models = ["hills"]\n[inputs.x]\nnominal = "4 mm"\nstandard_deviation = "0.2 mm"\n'
    path.write_text(text + '[limits.away]\nat_most = "0.5 mm"\n' + SAMPLING, encoding="utf-8")
    window = find_window(read_study(path, (str(tmp_path / "hills.py"),)), Asked("x"), options=ONE)
    values = [setting.value for setting in window.settings]
    assert min(values) > 0.0
    assert max(values) < 10.0
    assert values[window.chosen] == pytest.approx(5.0, abs=0.1)


LEVEL = """
models = ["margins"]
[inputs.height]
nominal = "{}"
plus_minus = "0.2 mm"
[limits.below]
at_least = "0.5 mm"
"""


def test_what_is_level_to_the_end_of_the_search_has_no_middle(tmp_path):
    """Height h is even within 0.2 of its setting and wanted at 0.5 or more: all from 0.7 mm on.

    Nothing closes it above, so the nearest adequate setting is taken, 0.7, and not the middle of
    what was tried; drawn at 1.5, that stays.
    """
    for drawn, chosen in (("0.6 mm", 0.7), ("1.5 mm", 1.5)):
        window = find_window(study(tmp_path, LEVEL.format(drawn)), Asked("height"), options=ONE)
        values = [setting.value for setting in window.settings]
        assert values[window.chosen] == pytest.approx(chosen, abs=0.03)
        assert window.held[1] == len(values) - 1
        assert window.centre is None
        assert window.ends[1] == "search"
        assert window.closed_below == "below"
        assert values[window.held[0]] == pytest.approx(0.69, abs=0.02)
        assert "The search ended at" in window_verdict(window)
    asked = Asked("height", 0.0, 3.0)
    window = find_window(study(tmp_path, LEVEL.format("0.6 mm")), asked, options=ONE)
    assert window.ends == ("physics", "call")
    assert "Higher than 3.0" in window_verdict(window)
    assert "was not asked for" in window_verdict(window)


def test_without_running_inputs_what_keeps_works(tmp_path):
    """One level: every setting's figure is the yield, exactly, and is said once."""
    window = find_window(study(tmp_path, HELD), Asked("height", 0.0, 2.0), target=0.9, options=ONE)
    assert all(setting.works == setting.overall for setting in window.settings)
    assert window.there.works == window.settings[window.chosen].overall
    assert "moment" not in window_verdict(window)


HURTS = """
models = ["margins"]
[inputs.height]
nominal = "1 mm"
[inputs.lower]
standard_deviation = "0.4 mm"
kind = "{kind}"
[inputs.upper]
standard_deviation = "0.3 mm"
[limits.below]
at_least = "0 mm"
because = "the fire comes out"
hurts = true
ceiling = {ceiling}
[limits.above]
at_least = "0 mm"
"""


@pytest.mark.parametrize("kind", ["build", "running"])
def test_a_limit_that_hurts_is_not_traded(kind, tmp_path):
    """Below 0 mm at F(-h/0.4): a chance of 0.001 or less from h = 3.0902 x 0.4 = 1.236 mm on.

    Without it the best would be lower. Where both errors are the part's, F(h/0.4) F((2 - h)/0.3)
    is highest about 1.15; where the lower is the moment's, F((2 - h)/0.3) of the parts work from
    h = 2.326 x 0.4 = 0.93 on.
    """
    text = HURTS.format(kind=kind, ceiling=0.001)
    asked = Asked("height", 0.0, 2.0, 0.1)
    window = find_window(study(tmp_path, text), asked, target=0.9, options=ONE)
    least = stats.norm.ppf(0.999) * 0.4
    for setting in window.settings:
        if abs(setting.value - least) > 0.02:
            assert (setting.danger <= 1.0) == (setting.value > least)
        if kind == "running" and setting.danger > 1.0:
            assert setting.works is None
    assert window.settings[window.chosen].value >= least
    assert window.settings[window.best].value >= least
    assert window.held is None or window.settings[window.held[0]].value >= least
    assert window_verdict(window).startswith("This can hurt: below")
    free = find_window(
        study(tmp_path, text.replace("hurts = true\nceiling = 0.001\n", "")),
        asked,
        target=0.9,
        options=ONE,
    )
    assert free.settings[free.best].value < least
    assert "hurt" not in window_verdict(free)


def test_where_everything_hurts_the_least_is_named(tmp_path):
    """A ceiling of 1e-9 that no setting up to 1 mm keeps: the highest has the least chance."""
    text = HURTS.format(kind="running", ceiling=1e-9)
    window = find_window(
        study(tmp_path, text), Asked("height", 0.2, 1.0, 0.1), target=0.5, options=ONE
    )
    assert window.least_only
    assert window.settings[window.chosen].value == 1.0
    assert "Nothing tried keeps to that" in window_verdict(window)


@pytest.mark.parametrize("kind", ["build", "running"])
def test_map_does_not_trade_a_limit_that_hurts(kind, tmp_path):
    """As above, with the nominal u of the upper error set too: room above is 2 + u - h.

    The chance of breaking the lower limit is F(-h/0.4) whatever u is, so what it forbids are all
    pairs below h = 1.236 mm. Where nothing can hurt the highest u and an h below that are best.
    """
    text = HURTS.format(kind=kind, ceiling=0.001)
    axes = Asked("height", 0.6, 1.6, 0.1), Asked("upper", -0.5, 0.0, 0.25)
    found = find_map(study(tmp_path, text), axes, target=0.9, options=ONE)
    least = stats.norm.ppf(0.999) * 0.4
    heights = np.array(found.first)
    assert np.any(heights < least)
    assert all(heights[i] >= least for i, _ in (*found.works, found.best, found.at_a_moment))
    # As drawn, at 1 mm, it is forbidden: somewhere else is named whatever that costs.
    assert heights[found.chosen[0]] == pytest.approx(1.3)
    assert found.kept_out
    assert not found.least_only
    said = map_verdict(found)
    assert said.startswith("This can hurt: below")
    assert "the fire comes out" in said
    free = find_map(
        study(tmp_path, text.replace("hurts = true\nceiling = 0.001\n", "")),
        axes,
        target=0.9,
        options=ONE,
    )
    assert free.first[free.best[0]] < least
    assert free.second[free.best[1]] == 0.0
    assert not free.kept_out
    assert "hurt" not in map_verdict(free)


def test_map_where_everything_hurts_names_the_least(tmp_path):
    """A ceiling of 1e-9 that no height up to 1 mm keeps: the highest has the least chance."""
    found = find_map(
        study(tmp_path, HURTS.format(kind="running", ceiling=1e-9)),
        (Asked("height", 0.2, 1.0, 0.2), Asked("upper", -0.5, 0.0, 0.25)),
        target=0.5,
        options=ONE,
    )
    assert found.least_only
    assert {found.first[i] for i, _ in (*found.works, found.best)} == {1.0}
    assert "Nothing tried keeps to that" in map_verdict(found)


def test_map_of_parts_that_work(tmp_path):
    """b1 about x and d about y, held apart: |x - y + 2 + ...| as one sum, kept where in 0..4.

    The margin is d - b1 - S_M m - S_R r about y - x, so W depends on y - x - 2 alone, as in the
    window, and is highest along the line y = x + 2. As drawn, y - x - 2 = -1.
    """
    text = two_level_text(1).replace("wm =", "d = { nominal = 2 }\nwm =")
    found = find_map(
        study(tmp_path, text),
        (Asked("b1", -1.0, 1.0, 0.25), Asked("d", 1.0, 3.0, 0.25)),
        target=0.8,
        options=ONE,
    )
    edge, s = furthest(0.99), np.hypot(S_B, S_M)
    assert 5 <= len(found.works) <= 8
    for (i, j), share in found.works.items():
        close(share, strip_of(edge, found.second[j] - found.first[i] - 2.0, s))
    close(found.stated.works, strip_of(edge, -1.0, s))
    gain = strip_of(edge, 0.0, s) - strip_of(edge, -1.0, s)
    assert abs(found.gain.value - gain) <= 2.0 * found.gain.half_width + 0.01
    x, y = found.first[found.chosen[0]], found.second[found.chosen[1]]
    assert abs(y - x - 2.0) <= 0.25
    close(found.there.works, strip_of(edge, y - x - 2.0, s))
    assert found.holding == sum(share.low >= 0.8 for share in found.works.values())
