"""Results that a gauge reaches: declared by a study or a model, offered, read and told."""

import json
import pickle
from dataclasses import replace

import numpy as np
import pytest

from sensitivity.answers.gauged_words import reached_in_words, should_read
from sensitivity.answers.measure import measure
from sensitivity.answers.measure.accepted import accepted_between
from sensitivity.answers.measure.find import find_measuring, measurable
from sensitivity.answers.measure.words import measure_verdict, said_in_words
from sensitivity.engine.options import RunOptions
from sensitivity.errors import CallError, StudyError
from sensitivity.pricing.readable import as_gauged, instruments_of, readable_of
from sensitivity.pricing.value_of_information import Decision
from sensitivity.study import statements as say
from sensitivity.study.file import read_study
from sensitivity.study.made import make_study
from sensitivity.study.study import Reading

ONE = RunOptions(workers=1)

MODEL = '''\
from typing import Annotated, NamedTuple

from models.arrays import Array


class Post(NamedTuple):
    top: Annotated[Array, "mm", "top of the post over the plate", "read as height"]
    lean: Annotated[Array, "deg", "lean of the post"]
    sag: Annotated[Array, "mm", "how far the top lies below where it is wanted"]
    chances: Annotated[Array, "", "a number of no size"]


def post(
    first: Annotated[Array, "mm", "lower half", "> 0"] = 20.0,
    second: Annotated[Array, "mm", "upper half", "> 0"] = 20.0,
    shim: Annotated[Array, "mm", "what it stands on", ">= 0"] = 1.0,
    heat: Annotated[Array, "degC", "how warm it is"] = 20.0,
    wanted: Annotated[Array, "mm", "where the top is wanted"] = 41.0,
) -> Post:
    """Two halves on a shim; a degree of warmth adds 0.02 mm."""
    top = first + second + 0.02 * (heat - 20.0)
    return Post(top, 0.0 * first, wanted - top - shim, 1.0 + 0.0 * first)
'''

STUDY = """\
title  = "A post of two halves"
models = ["post"]

[inputs.first]
nominal = "20 mm"
standard_deviation = "0.3 mm"

[inputs.second]
nominal = "20 mm"
standard_deviation = "0.3 mm"

[inputs.shim]
nominal = "1 mm"
adjust  = ["0 mm", "2.4 mm"]

[inputs.heat]
nominal = "20 degC"
between = ["10 degC", "30 degC"]
kind    = "running"

[limits.sag]
at_least = "-0.4 mm"
at_most  = "0.4 mm"

[sampling]
seed = 1
points = 64
replicates = 8
"""


@pytest.fixture
def study(tmp_path):
    def read(extra="", text=STUDY):
        (tmp_path / "posts.py").write_text(MODEL, encoding="utf-8")
        path = tmp_path / "post.toml"
        path.write_text(text + extra, encoding="utf-8")
        return read_study(path, (str(tmp_path / "posts.py"),))

    return read


COLD = '[readings.top]\nat = { heat = "20 degC" }\n'

# --- what is declared -----------------------------------------------------------------------------


def test_what_the_model_says_can_be_read_without_a_word_of_the_study(study):
    found = study().readings
    assert found["top"] == Reading("top", "mm", "top of the post over the plate", read_as="height")
    assert list(found) == ["top"]


def test_a_study_says_with_what_and_in_which_conditions(study):
    read = study('[readings.top]\ninstrument = "height_gauge"\nat = { heat = "25 degC" }\n')
    (top,) = read.readings.values()
    assert (top.instrument, dict(top.at), top.read_as) == ("height_gauge", {"heat": 25.0}, "height")
    assert pickle.loads(pickle.dumps(top)) == top


@pytest.mark.parametrize(
    ("extra", "says"),
    [
        ("[readings.tpo]\n", ['no model computes this; did you mean "top"']),
        ("[readings.first]\n", ["is an input, which can be read without this"]),
        ("[readings.sag]\n", ["wants the instrument that reads it"]),
        ('[readings.top]\ninstrument = "hight_gauge"\n', ['did you mean "height_gauge"']),
        ('[readings.top]\ninstrument = "protractor"\n', ["reads a tilt or an angle", "in mm"]),
        ('[readings.lean]\ninstrument = "steel_rule"\n', ["reads a length", "in deg"]),
        ('[readings.top]\nat = { heta = "3 degC" }\n', ['no input; did you mean "heat"']),
        ('[readings.top]\nat = { first = "3 mm" }\n', ['of kind "build", as the part has it']),
        ('[readings.top]\nat = { heat = "3 mm" }\n', ["does not convert"]),
        ("[readings.top]\nat = 3\n", ["should be a table"]),
        ("[readings.top]\nwith = 3\n", ["unknown key"]),
        ("readings = 3\n", ["should be tables, like [readings.name]"]),
    ],
)
def test_faults_of_a_reading_are_told_with_their_line(study, extra, says):
    text = extra + STUDY if extra.startswith("readings") else STUDY + extra
    with pytest.raises(StudyError) as refused:
        study(text=text)
    for words in says:
        assert words in str(refused.value)
    assert "line " in str(refused.value)


def test_what_is_set_at_assembly_and_a_whole_schedule_can_be_held(study):
    read = study('[readings.top]\nat = { shim = "1.5 mm" }\n')
    assert dict(read.readings["top"].at) == {"shim": 1.5}


def test_the_same_in_python(study, tmp_path):
    stated = study('[readings.top]\ninstrument = "height_gauge"\nat = { heat = "25 degC" }\n')
    made = make_study(
        models=["post"],
        inputs={"heat": say.held("20 degC", kind="running")},
        readings=[say.reading("top", instrument="height_gauge", at={"heat": "25 degC"})],
        model_files=[str(tmp_path / "posts.py")],
    )
    assert made.readings == stated.readings
    with pytest.raises(StudyError, match="stated twice"):
        make_study(
            models=["post"],
            readings=[say.reading("top"), say.reading("top")],
            model_files=[str(tmp_path / "posts.py")],
        )


# --- what is offered ------------------------------------------------------------------------------


def test_dimensions_and_results_are_offered_alike(study):
    found = find_measuring(study(COLD), options=ONE)
    assert {row.name for row in found.candidates} == {"first", "second", "top"}
    assert found.steps[0].name == "top"
    used = {one.instrument for row in found.candidates for one in row.readings}
    assert "micrometer" in used  # of a half, 20 mm
    of_top = next(row for row in found.candidates if row.name == "top")
    assert {one.instrument for one in of_top.readings} <= {
        "steel_rule", "height_gauge", "dial_gauge_on_a_surface_plate",
    }  # fmt: skip


def test_a_result_read_at_any_moment_is_worth_what_the_moment_leaves_of_it(study):
    """Ten degrees either way are 0.2 mm of the top: not held, its reading errs by as much."""
    held, free = (
        {row.name: row for row in find_measuring(study(extra), options=ONE).candidates}
        for extra in (COLD, "")
    )
    assert held["top"].perfect.low > free["top"].perfect.high
    assert held["first"].perfect == free["first"].perfect


def test_a_result_that_is_the_same_for_all_parts_is_not_offered(study):
    found = find_measuring(study('[readings.lean]\ninstrument = "protractor"\n'), options=ONE)
    assert "lean" not in {row.name for row in found.candidates}


def test_one_of_two_correlated_dimensions_is_not_offered_but_their_sum_is(study):
    """``built`` refuses a reading that would tell of another input; of the sum it tells no more."""
    both = study('[[correlations]]\ninputs = ["first", "second"]\nrank = 0.5\n')
    assert readable_of(both).names == ("top",)
    assert {row.name for row in find_measuring(both, options=ONE).candidates} == {"top"}


def test_nothing_to_read_where_all_are_correlated_and_no_gauge_reaches_a_result(study):
    bare = study('[[correlations]]\ninputs = ["first", "second"]\nrank = 0.5\n')
    with pytest.raises(CallError, match="each dimension is correlated"):
        measurable(replace(bare, readings={}))


def test_instruments_take_the_size_of_a_result_as_drawn(study):
    """40 mm as drawn: no micrometer of 0 to 25 mm, and no feeler gauges, for a gap or a size."""
    read = study()
    sized = {
        kind: Reading("top", "mm", "", read_as=kind) for kind in ("outside size", "gap", "height")
    }
    for kind, absent in (("outside size", "micrometer"), ("gap", "feeler_gauges")):
        readables = readable_of(read)
        one = type(readables)((), (sized[kind],))
        (found,) = instruments_of(read, one)
        assert absent not in {entry.name for entry in found}
    (heights,) = instruments_of(read, type(readables)((), (sized["height"],)), ("digital_caliper",))
    assert heights == ()


def test_a_gap_of_parts_that_meet_is_none():
    values = np.array([0.4, -0.3, np.nan])
    gap = as_gauged(Reading("gap", "mm", "", read_as="gap"), values, 3)
    assert gap[:2].tolist() == [0.4, 0.0]
    assert np.isfinite(gap).all()
    height = as_gauged(Reading("height", "mm", ""), values, 3)
    assert height[1] == -0.3


def test_with_several_to_be_set_the_same_parts_are_accepted_or_not(study):
    """Two to set take fewer parts than one, and what comes of setting neither is of those parts."""
    text = STUDY.replace('nominal = "1 mm"', 'nominal = "1 mm"\nstandard_deviation = "0.02 mm"')
    more = '[inputs.wanted]\nnominal = "41 mm"\nadjust = ["40.5 mm", "41.5 mm"]\n'
    read = study(COLD + more, text.replace("points = 64", "points = 256"))
    found = find_measuring(read, options=ONE)
    assert len(found.settings.inputs) == 2
    step = found.steps[-1]
    rejected = step.rejection.share
    assert rejected.rows == found.as_drawn.rows == 8 * 256
    assert step.rejection.accepted.rows == rejected.rows - rejected.passes


# --- what is said ---------------------------------------------------------------------------------


def test_the_sum_says_it(study):
    """Once the top is read with a dial gauge the halves are not worth a reading, and it is said."""
    found = find_measuring(study(COLD), at_hand=("dial_gauge_on_a_surface_plate",), options=ONE)
    assert [step.name for step in found.steps] == ["top"]
    words = said_in_words(found)
    assert words.startswith("Top is made of first and second, and one reading of it says it for")
    assert "known exactly as well, would add nothing that is clear of zero" in words
    assert "Measure top (dial gauge on a surface plate)" in measure_verdict(found)


def test_what_it_gains_a_minute_stands_beside_what_it_gains(study):
    answer = measure(study(COLD), options=ONE)
    alone = answer.tables()["alone"]
    read = alone[alone["instrument"] != ""]
    assert np.allclose(read["gain_per_minute"], read["gain"] / read["minutes"])
    heads = [column.head for column in answer.sheets["alone"].columns]
    assert "a minute" in heads
    body = json.loads(json.dumps(answer.body(), allow_nan=False))
    assert body["said_by_results"][0]["result"] == "top"
    assert body["steps"][0]["gain_per_minute"] > 0.0


# What it reads as drawn, and between which readings to accept


def test_what_it_reads_as_drawn_is_the_models_with_what_is_held(study):
    """Two halves of 20 mm are 40 mm, and 0.02 mm more for each degree: at 30 degrees 40.2 mm."""
    made = study('[readings.top]\nat = { heat = "30 degC" }\n')
    assert should_read(made, "top") == "40.2 mm"
    assert should_read(study(COLD), "top") == "40 mm"
    assert should_read(made, "first") == "20 mm"
    assert reached_in_words(made, ["first", "top"]) == "Top: top of the post over the plate."


def decided(x, good):
    """Parts (r, n) of one dimension that work where ``good`` says, their margin beside them."""
    margin = np.where(good, 1.0, -1.0) * np.minimum(np.abs(x + 1.0), np.abs(x - 1.0))
    accepted = np.where(good, 1.0, -1.0)
    ways = np.stack([accepted, np.zeros_like(x)], axis=2)
    return Decision(ways, np.stack([x + 1.0, 1.0 - x], axis=2), np.clip(margin, -2.0, 2.0))


def test_accepted_readings_are_those_that_keep_both_limits():
    # Read exactly, a part within plus or minus one is good, and no other: that is the range.
    x = np.random.default_rng(3).normal(0.0, 1.0, (16, 512))
    found = accepted_between(decided(x, np.abs(x) < 1.0), x)
    assert (found.low, found.high) == pytest.approx((-1.0, 1.0), abs=0.05)


def test_a_reading_that_errs_is_accepted_where_it_is_likelier_good():
    # Good above nought, read with an even error: by symmetry likelier good where it reads above.
    rng = np.random.default_rng(5)
    x = rng.normal(0.0, 1.0, (16, 512))
    found = accepted_between(decided(x, x > 0.0), x + rng.normal(0.0, 0.5, x.shape))
    assert found.low == pytest.approx(0.0, abs=0.1)
    assert found.high == np.inf


def test_where_all_are_good_nothing_is_said_of_which_to_accept():
    x = np.random.default_rng(3).normal(0.0, 0.1, (16, 512))
    assert accepted_between(decided(x, np.abs(x) < 1.0), x) is None
