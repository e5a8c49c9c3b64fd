"""Advice: its rule, what it never rests on, and to whom it speaks."""

import json
import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensitivity.answers.ranking_tables import ranking_tables
from sensitivity.engine.intervals import Estimate
from sensitivity.pricing.ranking import Ranked, Ranking, word_of_advice
from sensitivity.pricing.worth import RULE, WORTH_IT, word_of_worth
from tests.strategies import GOOD, QUICK

CARE = {"measure", "watch"}


@st.composite
def estimates(draw):
    low, value, high = sorted(draw(st.tuples(*3 * [st.floats(-0.5, 1.5)])))
    return Estimate(value, low, high)


# The rule as the report states it, on each of its edges; the yardstick is 0.9.
@pytest.mark.parametrize(
    ("low", "value", "high", "word"),
    [
        (0.80, 0.90, 1.00, "measure"),
        (0.31, 0.40, 0.50, "measure"),
        (0.29, 0.40, 0.50, "watch"),
        (0.01, 0.05, 0.10, "watch"),
        (0.01, 0.05, 0.089, "good enough as stated"),
        (-0.02, 0.01, 0.05, "good enough as stated"),
        (-0.02, 0.05, 0.12, "not settled"),
        (0.0, 0.05, 0.12, "not settled"),
        (-0.02, 0.50, 1.02, "not settled"),
        (0.0, 0.0, 0.0, "good enough as stated"),
        (-0.03, -0.02, -0.01, "good enough as stated"),
    ],
)
def test_rule_on_its_edges(low, value, high, word):
    assert word_of_advice(Estimate(value, low, high), 0.9) == word


def test_rule_as_stated_names_every_word():
    for word in ("Make closer", "Move a nominal", "Good enough as stated", "Not settled"):
        assert word in RULE
    assert "point in 100" in RULE


# The rule by worth, on each of its edges: a point is 0.01.
@pytest.mark.parametrize(
    ("low", "value", "high", "word"),
    [
        (0.02, 0.05, 0.08, "make closer"),
        (0.001, 0.010, 0.019, "make closer"),
        (0.001, 0.009, 0.019, "not settled"),
        (0.001, 0.005, 0.009, "good enough as stated"),
        (-0.004, 0.002, 0.008, "good enough as stated"),
        (-0.010, 0.002, 0.014, "not settled"),
        (0.0, 0.020, 0.040, "not settled"),
        (-0.060, -0.020, 0.020, "not settled"),
        (-0.060, -0.056, -0.050, "move a nominal"),
        (-0.002, -0.001, 0.0, "good enough as stated"),
    ],
)
def test_rule_by_worth_on_its_edges(low, value, high, word):
    assert word_of_worth(Estimate(value, low, high)) == word
    assert word_of_worth(Estimate(value, low, high), any_work=False) == "not settled"


@given(estimates())
def test_closer_work_is_advised_only_where_it_is_settled_to_gain(halved):
    word = word_of_worth(halved)
    if word == "make closer":
        assert halved.low > 0.0
        assert halved.value >= WORTH_IT
    if word == "move a nominal":
        assert halved.high < 0.0
    if word == "good enough as stated":
        assert halved.high < WORTH_IT


@given(estimates(), st.floats(0.01, 1.5))
def test_no_word_of_care_rests_on_an_interval_that_reaches_zero(measure, yardstick):
    word = word_of_advice(measure, yardstick)
    if measure.low <= 0.0:
        assert word not in CARE
    if word == "measure":
        assert measure.low >= yardstick / 3 * (1 - 1e-12)
    if word == "good enough as stated":
        assert measure.high < yardstick / 10 or measure.high <= 0.0


@given(estimates(), estimates(), st.floats(0.01, 1.5))
def test_more_is_never_advised_less_care(one, other, yardstick):
    order = ["good enough as stated", "not settled", "watch", "measure"]
    if one.low <= other.low and one.high <= other.high:
        first, second = (order.index(word_of_advice(each, yardstick)) for each in (one, other))
        assert first <= second


@pytest.mark.parametrize("gains", [True, False])
def test_what_reading_gains_has_a_column_only_where_any_gains_alone(gains, read):
    halved, none = Estimate(0.03, 0.02, 0.04), Estimate(0.0, -0.002, 0.002)
    told = Estimate(0.05, 0.03, 0.07) if gains else none
    rows = tuple(
        Ranked(name, "build", "10 mm", "", halved, "make closer", halved=halved, read=gained)
        for name, gained in (("hole", told), ("pin", none))
    )
    table = ranking_tables(Ranking("total index", rows, ""), read())[0]
    heads = [column.head for column in table.columns if column.seen == "page"]
    assert ("if it alone is read" in heads) == gains
    assert {len(row.cells) for row in table.rows} == {len(table.columns)}
    told_of_hole = [cell.text for cell in table.rows[0].cells]
    assert ("+5.0 (3.0 to 7.0)" in told_of_hole) == gains


# --- in a run -----------------------------------------------------------------------------------


@pytest.fixture
def advised(run_study, no_figures):
    """Run a study; return its document and what was printed."""

    def run(text, *words):
        ran = run_study(text, *words)
        assert ran.exit_code == 0, ran.stderr
        with open("study-results/result.json", encoding="utf-8") as stream:
            return json.load(stream), " ".join(ran.stdout.split())

    return run


def test_advice_names_build_inputs_alone(finished):
    rows = finished.document["advice"]["rows"]
    assert {row["name"] for row in rows} == {"hole", "pin"}
    assert {row["kind"] for row in rows} == {"build"}
    assert rows[0] == rows[0] | {"name": "hole", "advice": "make closer"}
    # A hole of half the spread is hardly ever tight or loose; no interval reaches zero.
    assert rows[0]["halved"]["interval"][0] > 0.1
    assert [row["estimate"] for row in rows] == sorted(
        (row["estimate"] for row in rows), reverse=True
    )


def test_condition_that_decides_all_is_not_advised_upon(advised):
    text = GOOD.replace('basis      = "drilled"', 'kind = "running"')
    document, printed = advised(text)
    assert {row["name"] for row in document["advice"]["rows"]} == {"pin"}
    after = printed[printed.index("Running conditions") :]
    assert re.search(r"hole \d\.\d+[ ,]", after)
    assert "measure" not in after[: after.index("Model doubts")]


def test_advice_of_a_run_follows_its_rule(finished):
    index = finished.document["sensitivity"]["meets_all_limits"]
    for row in finished.document["advice"]["rows"]:
        total = index[row["name"]]["total"]
        assert [row["estimate"], row["interval"]] == [total["estimate"], total["interval"]]
        halved = Estimate(row["halved"]["estimate"], *row["halved"]["interval"])
        assert row["advice"] == word_of_worth(halved)


def test_group_of_build_and_running_is_not_advised_upon(advised):
    text = GOOD.replace('basis      = "drilled"', 'group = "both"').replace(
        'kind    = "running"', 'kind    = "running"\ngroup = "both"'
    )
    document, _ = advised(text)
    assert {row["name"] for row in document["advice"]["rows"]} == {"pin"}


def test_study_without_limits_has_no_advice(advised):
    document, printed = advised(GOOD.split("[limits.play]")[0] + QUICK)
    assert document["advice"]["rows"] == []
    assert "No limits are stated" in printed


# Play is 0.2 mm, and its least is 10 - 0.2 - 9.8 less a normal pin of 0.0333 mm: at least -0.3 mm
# never breaks, at least 0.6 mm always does, and -0.05 mm breaks in about one burner in 300.
def with_least(play):
    head, _, _ = GOOD.partition("[limits.play]")
    return f'{head}[limits.play]\nat_least = "{play} mm"\n{QUICK}'


def test_where_nothing_fails_nothing_is_advised(advised):
    document, printed = advised(with_least(-0.3))
    assert document["advice"]["rows"] == []
    assert re.search(r"above 99\.\d+ %", printed)
    assert re.search(r"Not one of \d+ parts", document["verdict"])
    assert "100 %" not in printed


def test_where_all_fail_nothing_is_advised(advised):
    document, printed = advised(with_least(0.6))
    assert document["advice"]["rows"] == []
    assert "a nominal is off" in printed
    assert re.search(r"below 0\.\d+ %", printed)


def test_where_failures_are_rare_the_distance_ranks(advised):
    document, printed = advised(with_least(-0.05), "--points", 1024)
    assert 0.0 < 1.0 - document["yield"]["estimate"] < 0.01
    assert document["advice"]["measured_by"] == "distance"
    assert "meets_all_limits" not in document["sensitivity"]
    distance = document["failure_distances"]
    assert set(distance) == {"hole", "pin", "warmth", "tilt"}
    # Failing needs a small hole and a large pin; warmth and tilt have nothing to do with it.
    assert min(distance[name]["estimate"] for name in ("hole", "pin")) > 0.5
    assert max(distance[name]["interval"][0] for name in ("warmth", "tilt")) < 0.1
    # One in 300 fails: no closer work can gain a point in 100.
    assert {row["advice"] for row in document["advice"]["rows"]} == {"good enough as stated"}
    assert "mean nothing" in printed


# --- the verdict --------------------------------------------------------------------------------

SHARE = re.compile(r"about (\d+(?:\.\d+)?) \(sampling: (\d+(?:\.\d+)?) to (\d+(?:\.\d+)?)\)")


@pytest.mark.parametrize("least", [0.3, 0.05, -0.03, -0.05])
def test_verdict_gives_the_yield_with_its_interval(advised, least):
    document, printed = advised(with_least(least), "--points", 1024)
    works = document["works"]
    low, high = works["interval"]
    assert document["verdict"] in printed
    value, first, last = map(float, SHARE.search(document["verdict"]).groups())
    assert first <= 100 * low
    assert last >= 100 * high
    assert value < 100.0
    # In whole parts of a hundred: the sampling is finer than the physics.
    assert value == pytest.approx(100 * works["estimate"], abs=0.5)
    assert works["estimate"] <= document["yield"]["estimate"] + 1e-9
    assert "play should be at least" in document["verdict"]


def test_bound_of_the_verdict_is_not_rounded_up(advised):
    document, _ = advised(with_least(-0.5), "--points", 8192)
    found = re.search(r"below (\d+(?:\.\d+)?) in a million", document["verdict"])
    bound = 100 * (1 - float(found[1]) / 1e6)
    # Clopper and Pearson 1934, none of n: the lower end is 0.025^(1/n).
    assert document["yield"]["interval"][0] == pytest.approx(
        0.025 ** (1 / (8 * 8192 * 2)), rel=1e-9
    )
    assert bound <= 100 * document["yield"]["interval"][0] + 1e-12
    assert math.isclose(bound, 100 * document["yield"]["interval"][0], abs_tol=0.01)
