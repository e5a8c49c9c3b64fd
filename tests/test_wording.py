"""Numbers as they are printed: true minus signs, ends rounded outward, no false certainty."""

import re
from math import floor, log10

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensitivity.answers import narrow
from sensitivity.engine.intervals import Estimate, proportion
from sensitivity.presentation import wording
from sensitivity.study.study import Input, Limit

NUMBER = re.compile(r"−?\d+(?:\.\d+)?")


def values(text):
    return [float(found.replace("−", "-")) for found in NUMBER.findall(text)]


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        (1.234, 2, "1.23"), (-1.234, 2, "−1.23"), (-0.0001, 2, "0.00"), (-0.0, 1, "0.0"),
        (0.0, 0, "0"), (1e6, 0, "1000000"), (float("nan"), 2, "no answer"),
        (float("inf"), 2, "no answer"), (-0.005, 2, "−0.01"),
    ],
)  # fmt: skip
def test_number(value, decimals, text):
    if text == "−0.01":
        # -0.005 is a little more than that in binary: either way it is no bare minus zero
        assert wording.number(value, decimals) in {"−0.01", "0.00"}
    else:
        assert wording.number(value, decimals) == text


@pytest.mark.parametrize(
    ("scale", "decimals"),
    [(0.123, 2), (0.0123, 3), (1.23, 1), (12.3, 0), (1e6, 0), (0.0, 3), (-1.0, 3),
     (float("nan"), 3), (1e-30, 9)],
)  # fmt: skip
def test_decimals_show_a_scale_with_two_digits(scale, decimals):
    assert wording.decimals_for(scale) == decimals


@pytest.mark.parametrize(
    ("value", "text"),
    [(10.0, "10"), (9.81234, "9.812"), (-0.25, "−0.25"), (123456.0, "123456"),
     (0.00012345, "0.0001234"),
     (1e-9, "1e−09"), (float("nan"), "no answer"), (0.0, "0")],
)  # fmt: skip
def test_significant(value, text):
    assert wording.significant(value) == text


@given(st.floats(-1e6, 1e6))
def test_significant_keeps_four_digits(value):
    assert float(wording.significant(value).replace("−", "-")) == pytest.approx(value, rel=6e-4)


def test_units_stand_behind_and_pure_numbers_alone():
    assert wording.with_unit("3", "mm") == "3 mm"
    assert wording.with_unit("3", "") == "3"
    assert wording.value_range(-0.123, 4.0, "mm", 0.5) == "−0.12 to 4.00 mm"
    assert wording.value_range(float("nan"), 4.0, "mm", 0.5) == "no answer"


@given(st.tuples(*3 * [st.floats(-0.2, 1.3)]).map(sorted))
def test_index_has_its_ends_rounded_outward(ends):
    low, value, high = ends
    text = wording.index(Estimate(value, low, high))
    if text == "0":
        assert high < 0.0005
        return
    printed, first, last = values(text)
    assert first <= low + 1e-9
    assert last >= high - 1e-9
    assert first <= printed <= last
    step = 10.0 ** -len(text.split()[0].partition(".")[2])
    assert low - first <= 1.001 * step
    assert last - high <= 1.001 * step


def shares(counts, rows):
    return proportion(np.array(counts), rows, 0.95)


@given(
    st.integers(6, 17), st.lists(st.floats(0.0, 1.0), min_size=8, max_size=8), st.floats(0.0, 6.0)
)
def test_percentage_is_never_a_bare_hundred(power, parts, rarity):
    # replicates that fail in a share of 10^-rarity of the rows, or a little less
    rows = 2**power
    counts = [rows - int(rows * part * 10.0**-rarity) for part in parts]
    for share in (shares(counts, rows), shares([rows - count for count in counts], rows)):
        text = wording.percent(share)
        first, *ends = values(text)
        if share.failures == 0:
            assert text.startswith("above")
            assert first <= 100 * share.low
            assert "none failed" in text
        elif share.passes == 0:
            assert text.startswith("below")
            assert first >= 100 * share.high
            assert "none passed" in text
        else:
            assert 0.0 < first < 100.0
            assert ends[0] <= 100 * share.low + 1e-9
            assert ends[0] <= first
            if len(ends) > 1:
                assert ends[1] >= 100 * share.high - 1e-9
                assert ends[1] >= first
        assert ("*" in text) == (share.method == "clopper-pearson")


def test_rule_of_three_is_what_none_failed_says():
    # 0 of n at 95 %, two-sided: 1 - 0.025^(1/n) (checks.md, "Intervals for a proportion").
    share = shares([64] * 8, 64)
    assert share.low == pytest.approx(0.025 ** (1 / 512), rel=1e-12)
    assert wording.percent(share) == "above 99.28 %, none failed *"


@given(st.integers(4, 16), st.lists(st.floats(0.0, 1.0), min_size=8, max_size=20))
def test_in_short_it_is_neither_all_nor_finer_than_what_is_rarer(power, parts):
    share = shares([round(part**9 * 2**power) for part in parts], 2**power)
    text = wording.percent_in_short(share)
    if share.failures and share.passes and "above" not in text:
        printed = text.partition(" %")[0]
        rarer = 100 * min(share.value, 1 - share.value)
        assert float(printed) < 100
        assert len(printed.partition(".")[2]) <= max(1, -floor(log10(rarer)))


def test_ten_of_a_hundred():
    # Clopper-Pearson 10 of 100: 0.0490 to 0.1762 (checks.md), here of equal replicates.
    share = shares([1] * 10, 10)
    assert (share.low, share.high) == pytest.approx((0.0490, 0.1762), abs=5e-5)
    assert values(wording.percent(share))[1:] == pytest.approx([4.9, 17.7], abs=0.11)


@given(st.tuples(*3 * [st.floats(-1.0, 1.0)]).map(sorted))
def test_difference_has_its_sign_and_its_ends_outward(ends):
    low, value, high = ends
    text = wording.points_of_percent(Estimate(value, low, high))
    assert "points" in text
    printed, first, last = values(text)
    assert text.startswith("+") == (printed > 0)  # nought has no sign
    assert text.startswith("−") == (printed < 0)
    assert first <= 100 * low + 1e-9
    assert last >= 100 * high - 1e-9
    assert printed == pytest.approx(100 * value, abs=0.051)


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [(0.0, None, "at least 0 mm"), (None, 1.5, "at most 1.5 mm"), (-0.25, 3.0, "−0.25 to 3 mm")],
)
def test_limits_in_words(low, high, text):
    assert wording.limit(Limit("play", "mm", low, high)) == text


def test_nominal_is_shown_as_it_was_drawn():
    drawn = Input("hole", "mm", "x", 38.1, drawn="1 1/2 in")
    assert wording.drawn(drawn) == "1 1/2 in"
    assert wording.drawn(Input("hole", "mm", "x", 38.1)) == "38.1 mm"
    assert wording.in_words("flood_margin") == "flood margin"


@pytest.mark.parametrize(
    ("share", "text"),
    [(0.12, "12 of 100"), (0.5, "50 of 100"), (0.012, "1 of 100"), (0.0042, "4 of 1000"),
     (3e-4, "3 of 10000"), (2e-6, "2 of 1000000"), (1.0, "100 of 100")],
)  # fmt: skip
def test_shares_as_so_many(share, text):
    assert wording.out_of_a_hundred(share) == text


@given(st.floats(1e-6, 1.0, exclude_max=True))
def test_share_below_all_is_not_all(share):
    count, _, base = wording.out_of_a_hundred(share).partition(" of ")
    assert float(count) < float(base)
    assert float(count) / float(base) == pytest.approx(share, rel=0.51)


def test_an_index_that_is_not_settled_has_a_bound_alone():
    few = Estimate(0.002, 0.0003, 0.0061)
    assert wording.index(few, settled=False) == "not settled, below 0.0061"
    assert wording.index(Estimate(0.0, 0.0, 0.06249), settled=False) == "not settled, below 0.063"
    assert wording.index(Estimate(0.0, 0.0, 0.0004), settled=False) == "0"
    assert wording.index(few).startswith("0.00")


@pytest.mark.parametrize(
    ("value", "low", "high", "text"),
    [
        (1e-9, -2e-9, 2e-9, "(0.00)"),
        (-1e-9, -2e-9, 2e-9, "(0.00)"),
        (0.0123456, 0.0123455, 0.0123457, "+1.23"),
        (-0.0123456, -0.0123457, -0.0123455, "−1.23"),
        (0.135, 0.12, 0.15, "+13.5"),
    ],
)
def test_a_gain_that_stands_alone_has_hundredths_at_most(value, low, high, text):
    assert narrow.gain(Estimate(value, low, high)) == text
