"""What an annotation says beside unit and meaning."""

import tomllib
from typing import Annotated, NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray

from sensitivity.errors import StudyError, WiringError
from sensitivity.study.made import make_study
from sensitivity.study.starter import starter_study
from sensitivity.study.statements import normal
from sensitivity.system.catalogue import read_model
from sensitivity.system.remarks import RemarkError, read_remarks
from sensitivity.system.system import wire

Array = NDArray[np.float64] | float


class Out(NamedTuple):
    gap: Annotated[Array, "mm", "what is left", "read as height"]


def fit(
    height: Annotated[Array, "mm", "of the mouth", "> 0", "read as height"] = 12.0,
    grade: Annotated[Array, "%", "of the track", "running: +-0.8 normal"] = 0.0,
    clings: Annotated[Array, "", "a doubt", "0..1", "model: 0.6..1 triangular"] = 0.9,
) -> Out:
    """A fit."""
    return Out(height * clings + grade)


@pytest.mark.parametrize(
    ("text", "unit", "kind", "spread"),
    [
        ("model", "mm", "model", ()),
        ("running: +-0.8 normal", "%", "running", (("plus_minus", "0.8 %"), ("shape", "normal"))),
        ("model: 0.6..1", "", "model", (("between", (0.6, 1.0)),)),
        ("running: +-3", "degC", "running", (("plus_minus", "3 K"),)),
        ("running: 5..40", "degC", "running", (("between", ("5 degC", "40 degC")),)),
        (
            "model: 3..20 log_uniform", "Pa",
            "model", (("between", ("3 Pa", "20 Pa")), ("shape", "log_uniform")),
        ),
        ("model: lognormal 50 %", "", "model", (("lognormal", "50 %"),)),
    ],
)  # fmt: skip
def test_kind_and_honest_spread(text, unit, kind, spread):
    said = read_remarks([text], unit)
    assert (said.kind, said.spread) == (kind, spread)


def test_each_remark_is_told_by_its_form():
    said = read_remarks(["> 0", "running", "read as bore", "per step"], "mm")
    assert (said.range.stated, said.kind, said.read_as, said.per_step) == (
        "> 0", "running", "bore", True,
    )  # fmt: skip


@pytest.mark.parametrize(
    "text", ["about 3", "model: some", "read as thing", "build: 1..", "running: 2"]
)
def test_what_has_no_form_is_refused(text):
    with pytest.raises(RemarkError):
        read_remarks([text], "mm")


def test_new_study_leaves_to_the_model_what_it_declares():
    text = starter_study(wire((read_model("fit", fit, "here"),)))
    content = tomllib.loads(text)
    assert content["unstated"] == "as declared"
    assert content["inputs"] == {"height": {"nominal": ""}}


@pytest.mark.parametrize("unstated", [None, "held"])
def test_what_is_not_stated_is_held(unstated):
    study = make_study(models=[fit], inputs={"height": "11 mm"}, unstated=unstated)
    assert not study.varying


def test_what_is_not_stated_may_be_as_its_model_declares():
    study = make_study(models=[fit], inputs={"height": "11 mm"}, unstated="as declared")
    found = {item.name: item for item in study.inputs}
    said = {"normal": "grade", "triangular": "clings"}
    for shape, name in said.items():
        item = found[name]
        assert item.spread.shape == shape
        assert (item.given, item.sourced, item.borrowed) == (False, False, False)
    assert (found["grade"].spread.low, found["grade"].spread.high) == (-0.8, 0.8)
    assert (found["clings"].spread.low, found["clings"].spread.high) == (0.6, 1.0)
    assert found["height"].given
    # What is stated goes before what is declared.
    study = make_study(models=[fit], inputs={"grade": "0.1 %"}, unstated="as declared")
    assert [item.name for item in study.varying] == ["clings"]


def test_a_way_that_is_none_is_refused():
    with pytest.raises(StudyError, match='should be "held" or "as declared"'):
        make_study(models=[fit], unstated="free")


def test_a_dimension_that_is_not_stated_is_the_models_own():
    """12 mm is `fit`'s default: some other part's height, whether its spread is stated or not."""
    for inputs in ({}, {"height": normal(plus_minus="0.1 mm")}):
        study = make_study(models=[fit], inputs=inputs)
        assert [item.name for item in study.inputs if item.borrowed] == ["height"]
    study = make_study(models=[fit], inputs={"height": "12 mm"})
    assert not [item.name for item in study.inputs if item.borrowed]


def test_a_nominal_left_empty_is_asked_for_all_at_once():
    with pytest.raises(StudyError) as caught:
        make_study(models=[fit], inputs={"height": "", "grade": " "}, units="inch")
    asked = [fault.asked for fault in caught.value.faults]
    assert [(one.number, one.name, one.example) for one in asked] == [
        (1, "height", '"1/2 in"'),  # 12 mm is 0.472 in: 1/2 in is 8 sixteenths, 0.472 * 16 = 7.6
        (0, "grade", '"0 %"'),
    ]
    assert "(1)" in str(caught.value)
    assert 'nominal = "1/2 in"' in str(caught.value)


# --- one input of two models --------------------------------------------------------------------


def taking(remark, name="other"):
    """A model that takes ``grade`` too, and says this of it."""

    class Its(NamedTuple):
        its: Annotated[Array, "%", "what comes of it"]

    def other(grade: Annotated[Array, "%", "of the track", remark] = 0.0) -> Its:
        return Its(grade)

    return read_model(name, other, "elsewhere")


def grade_of(*models):
    return next(one for one in wire(models).inputs if one.name == "grade")


@pytest.mark.parametrize("turned", [False, True])
def test_input_of_two_models_is_as_either_says(turned):
    models = (read_model("fit", fit, "here"), taking("read as height"))
    grade = grade_of(*(reversed(models) if turned else models))
    assert (grade.kind, grade.read_as) == ("running", "height")
    assert grade.spread == (("plus_minus", "0.8 %"), ("shape", "normal"))


def test_first_spread_stands_and_one_without_takes_what_the_other_says():
    bare, wide, narrow = taking("running", "bare"), taking("running: +-2"), taking("running: +-1")
    assert grade_of(bare).spread == ()
    one = read_model("fit", fit, "here")
    assert grade_of(one, wide).spread == one.arguments[1].spread
    assert grade_of(wide, one).spread == (("plus_minus", "2 %"),)
    with pytest.raises(WiringError, match="computed twice"):
        wire((wide, narrow))


@pytest.mark.parametrize(
    ("first", "further", "what"),
    [
        ("running", "model", 'kind: "running" before, "model" in "fit_too"'),
        ("read as gap", "read as bore", 'reading: "gap" before, "bore" in "fit_too"'),
    ],
)
def test_models_that_part_over_an_input_are_not_joined(first, further, what):
    class Also(NamedTuple):
        also: Annotated[Array, "%", "what comes of it"]

    def fit_too(grade: Annotated[Array, "%", "of the track", further] = 0.0) -> Also:
        return Also(grade)

    with pytest.raises(WiringError) as refused:
        wire((taking(first), read_model("fit_too", fit_too, "there")))
    assert '"grade"' in str(refused.value)
    assert what in str(refused.value)
