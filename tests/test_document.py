"""``result.json``: the promised keys, plain JSON, and figures that agree with each other."""

import json
import math

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from sensitivity import __version__
from sensitivity.presentation.json_values import to_json
from tests.strategies import GOOD, MODELS, QUICK

# Interface, section 4.
TOP = (
    "schema", "spiritlevel", "title", "seed", "replicates", "points", "confidence", "evaluations",
    "invalid", "inputs", "outputs", "yield", "sensitivity",
)  # fmt: skip
QUANTILES = ("0.005", "0.025", "0.05", "0.25", "0.5", "0.75", "0.95", "0.975", "0.995")


def no_constant(name):
    raise AssertionError(f"{name} is not JSON")


def strictly(text):
    return json.loads(text, parse_constant=no_constant)


def intervals(value, path=()):
    """Every estimate with an interval in a document, and where it stands."""
    if isinstance(value, dict):
        if {"estimate", "interval"} <= value.keys():
            yield path, value
        for key, item in value.items():
            yield from intervals(item, (*path, key))
    elif isinstance(value, list):
        for place, item in enumerate(value):
            yield from intervals(item, (*path, place))


def test_schema_comes_first_and_is_an_integer(finished):
    text = (finished.folder / "result.json").read_text(encoding="utf-8")
    assert text.lstrip("{ \n").startswith('"schema": 2,')
    assert next(iter(finished.document)) == "schema"
    assert type(finished.document["schema"]) is int


def test_promised_keys(finished):
    document = finished.document
    assert set(TOP) <= set(document)
    assert document["spiritlevel"] == __version__
    assert (document["title"], document["seed"]) == ("A pin in a hole", 1)
    assert (document["replicates"], document["points"], document["confidence"]) == (8, 64, 0.95)
    assert document["study"] == GOOD
    for item in document["inputs"].values():
        assert {"unit", "nominal", "mean", "standard_deviation", "kind", "basis"} <= set(item)
    for output in document["outputs"].values():
        assert {
            "unit", "nominal", "mean", "standard_deviation", "quantiles", "limit", "yield",
            "worst_case", "root_sum_square",
        } <= set(output)  # fmt: skip
        assert set(QUANTILES) <= set(output["quantiles"])
    assert document["outputs"]["play"]["limit"]["at_least"] == 0.05
    assert document["outputs"]["play"]["limit"]["at_most"] is None
    assert document["outputs"]["leak"]["limit"] is None
    assert document["outputs"]["leak"]["yield"] is None
    for name in ("play", "lean", "meets_all_limits"):
        for index in document["sensitivity"][name].values():
            assert {"first", "total"} <= set(index)


def test_plain_json(finished):
    text = (finished.folder / "result.json").read_text(encoding="utf-8")
    assert strictly(text) == finished.document
    assert to_json(finished.document) == text


def test_what_is_no_number_is_null():
    document = {
        "nan": math.nan, "inf": [math.inf, -math.inf, (1.0, math.nan)],
        "deep": {"x": {"y": math.nan}},
        "numpy": np.float64("nan"), "text": "NaN °", "none": None, "true": True, "count": 3,
    }  # fmt: skip
    assert strictly(to_json(document)) == {
        "nan": None, "inf": [None, None, [1.0, None]], "deep": {"x": {"y": None}}, "numpy": None,
        "text": "NaN °", "none": None, "true": True, "count": 3,
    }  # fmt: skip


@pytest.mark.usefixtures("no_figures")
def test_nulls_of_a_result_that_has_no_answers(run_command, write_study, tmp_path):
    path = tmp_path / "mine.py"
    # The drawing itself has an answer (a number), or it would be refused; no sample (array) has.
    lost = "return PinFit(play * (np.nan if np.ndim(play) else 1.0),"
    path.write_text(MODELS.replace("return PinFit(play,", lost))
    ran = run_command("run", write_study(), "--model-file", path, "--json")
    document = strictly(ran.stdout)
    play = document["outputs"]["play"]
    assert play["mean"] == {"estimate": None, "interval": [None, None]}
    assert play["worst_case"] == [None, None]
    assert set(play["quantiles"].values()) == {None}
    assert play["yield"]["estimate"] == 0.0
    assert document["yield"]["estimate"] == 0.0
    assert document["invalid"] == document["evaluations"] == 8 * 64 * 6
    assert "play" not in document["sensitivity"]
    assert document["no_indices"]["play"]


# --- figures that agree -------------------------------------------------------------------------


def test_every_estimate_lies_in_its_interval(finished):
    found = list(intervals(finished.document))
    assert len(found) > 30
    for path, value in found:
        low, high = value["interval"]
        assert low <= value["estimate"] <= high, path


def test_yields_are_counts_over_counts(finished):
    document = finished.document
    shares = [
        document["yield"],
        document["outputs"]["play"]["yield"],
        document["outputs"]["lean"]["yield"],
    ]
    for share in shares:
        assert share["estimate"] == share["passes"] / share["rows"]
        assert 0.0 <= share["interval"][0] <= share["interval"][1] <= 1.0
        assert share["rows"] == 8 * 64 * 2
    assert shares[0]["estimate"] <= min(share["estimate"] for share in shares[1:])


def test_quantiles_increase(finished):
    for output in finished.document["outputs"].values():
        values = [output["quantiles"][key] for key in QUANTILES]
        assert values == sorted(values)


def test_evaluations_are_counted(finished):
    # with pairs: A, B, A with each of four from B, and B with each from A
    assert finished.document["evaluations"] == 8 * 64 * (2 + 4 + 4)
    assert finished.document["invalid"] == 0


def test_inputs_as_stated(finished):
    inputs = finished.document["inputs"]
    assert inputs["hole"] == inputs["hole"] | {
        "unit": "mm", "nominal": 10.0, "mean": 10.0, "kind": "build", "basis": "drilled",
    }  # fmt: skip
    assert inputs["hole"]["standard_deviation"] == pytest.approx(0.2 / 3**0.5)
    assert inputs["pin"]["standard_deviation"] == pytest.approx(0.1 / 3)
    assert inputs["warmth"]["mean"] == pytest.approx(22.5)
    assert inputs["depth"]["standard_deviation"] == 0.0


def test_play_against_closed_form(finished):
    """Play is all but a sum: rectangular hole, normal pin; the warmth adds 4 um at most."""
    play = finished.document["outputs"]["play"]
    hole, pin = 0.2 / 3**0.5, 0.1 / 3
    assert play["nominal"] == pytest.approx(0.2)
    assert play["mean"]["estimate"] == pytest.approx(0.2 + 10 * 1.7e-5 * 2.5, abs=1e-3)
    deviation = math.hypot(hole, pin)
    assert play["standard_deviation"]["estimate"] == pytest.approx(deviation, rel=0.01)
    # 512 burners a sample, 8 replicates: the quantiles are good to a few um.
    samples = stats.uniform(-0.2, 0.4).ppf((np.arange(2000) + 0.5) / 2000)[:, None] - stats.norm(
        0, pin
    ).ppf((np.arange(2000) + 0.5) / 2000)
    for key in ("0.05", "0.5", "0.95"):
        assert play["quantiles"][key] == pytest.approx(
            0.2 + 4e-4 + np.quantile(samples, float(key)), abs=0.01
        )
    half = 1.959964 * deviation
    assert play["root_sum_square"] == pytest.approx(
        [0.2 + 4e-4 - half, 0.2 + 4e-4 + half], abs=2e-3
    )
    assert play["worst_case"] == pytest.approx(
        [9.8 * (1 - 15 * 1.7e-5) - 9.9, 10.2 * (1 + 20 * 1.7e-5) - 9.7], abs=1e-6
    )
    # First-order indices of a sum are its shares of variance.
    for name, variance in (("hole", hole**2), ("pin", pin**2)):
        index = finished.document["sensitivity"]["play"][name]
        for key in ("first", "total"):
            low, high = index[key]["interval"]
            room = 0.5 * (
                high - low
            )  # the interval is missed one time in twenty; not by as much again
            assert low - room <= variance / deviation**2 <= high + room


def test_shortest_interval_holds_95_percent_and_is_no_longer_than_the_central_one(finished):
    play = finished.document["outputs"]["play"]
    low, high = play["shortest_interval"]["interval"]
    assert play["shortest_interval"]["coverage"] == 0.95
    central = play["quantiles"]["0.975"] - play["quantiles"]["0.025"]
    assert 0.9 * central < high - low < 1.02 * central


# --- tables -------------------------------------------------------------------------------------


def test_tables_say_what_the_document_says(finished):
    # Cells as text, and each number by Python: the oldest pandas misses the last bit of some.
    tables = {
        path.stem: pd.read_csv(path, dtype=str)
        for path in (finished.folder / "tables").glob("*.csv")
    }
    document = finished.document
    inputs = tables["inputs"].set_index("input")
    assert list(inputs.index) == list(document["inputs"])
    hole = document["inputs"]["hole"]
    assert float(inputs.loc["hole", "standard_deviation"]) == hole["standard_deviation"]
    outputs = tables["outputs"].set_index("output")
    for name, output in document["outputs"].items():
        assert float(outputs.loc[name, "mean"]) == output["mean"]["estimate"]
        assert float(outputs.loc[name, "quantile_0.975"]) == output["quantiles"]["0.975"]
        if output["yield"]:
            assert float(outputs.loc[name, "yield"]) == output["yield"]["estimate"]
    table = tables["sensitivity"].set_index(["output", "input_or_group"])
    for name, groups in document["sensitivity"].items():
        for group, index in groups.items():
            row = table.loc[(name, group)]
            assert [float(row[end]) for end in ("first", "first_low", "first_high")] == [
                index["first"]["estimate"], *index["first"]["interval"],
            ]  # fmt: skip
            assert float(row["total"]) == index["total"]["estimate"]
    advice = tables["advice"].set_index("input_or_group")
    for row in document["advice"]["rows"]:
        assert advice.loc[row["name"], "advice"] == row["advice"]
        assert float(advice.loc[row["name"], "value"]) == row["estimate"]


@pytest.mark.usefixtures("no_figures")
def test_study_without_limits(run_study):
    text = GOOD.split("[limits.play]")[0] + QUICK
    document = strictly(run_study(text, "--json").stdout)
    assert document["yield"] is None
    assert "meets_all_limits" not in document["sensitivity"]
    assert all(output["yield"] is None for output in document["outputs"].values())


@pytest.mark.usefixtures("no_figures")
def test_correlated_inputs_have_indices_only_together(run_study):
    pair = '\n[[correlations]]\ninputs = ["hole", "pin"]\nrank = 0.6\nbecause = "one reamer"\n'
    apart = strictly(run_study(GOOD + pair, "--json").stdout)
    assert apart["sensitivity"] == {}
    assert "hole and pin" in apart["no_indices"]["play"]
    assert "group" in apart["no_indices"]["play"]
    assert apart["yield"]["estimate"] > 0.5
    assert apart["correlations"] == [
        {"inputs": ["hole", "pin"], "rank": 0.6, "because": "one reamer"}
    ]
    text = GOOD.replace('"drilled"', '"drilled"\ngroup = "reamer"').replace(
        '"turned by dial"', '"turned by dial"\ngroup = "reamer"'
    )
    together = strictly(run_study(text + pair, "--json").stdout)
    assert set(together["sensitivity"]["play"]) == {"reamer", "warmth", "tilt"}
    index = together["sensitivity"]["play"]["reamer"]["first"]
    assert index["interval"][0] - 0.01 <= 1.0 <= index["interval"][1] + 0.01


@pytest.mark.usefixtures("no_figures")
def test_physically_impossible_draws_are_counted_in_the_document(run_study):
    text = GOOD + "\n[inputs.share]\nnominal = 0.9\nplus_minus = 0.2\n"
    document = strictly(run_study(text, "--json").stdout)
    # A quarter of a rectangular spread of 0.7 to 1.1 lies above 1: 256 of A and B's 1024.
    assert document["outside_physical_range"] == {"share": pytest.approx(256, abs=8)}
    assert document["outputs"]["leak"]["invalid"] == document["outside_physical_range"]["share"]
    assert document["yield"]["estimate"] <= 0.76
