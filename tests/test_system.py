"""Models wired by name: order, units, what is refused, and that a part evaluated is the whole."""

import contextlib
from typing import Annotated, NamedTuple

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensitivity.errors import ModelError, StudyError, WiringError
from sensitivity.study.file import read_study
from sensitivity.system.catalogue import find_models, read_model
from sensitivity.system.system import inside_range, wire

MM = Annotated[float, "mm", "a length"]
POSITIVE = Annotated[float, "mm", "a length", "> 0"]


class Step1(NamedTuple):
    middle: MM


class Step2(NamedTuple):
    high: Annotated[float, "um", "height"]
    low: MM


class Step3(NamedTuple):
    end: MM


def one(a: MM = 1.0, b: POSITIVE = 2.0) -> Step1:
    return Step1(a * a + b)


def two(middle: MM = 0.0, c: MM = 3.0) -> Step2:
    return Step2(1000.0 * (middle - c), middle + np.sin(c))


def three(high: MM = 0.0, b: Annotated[float, "in", "the same b"] = 1.0, d: MM = 4.0) -> Step3:
    return Step3(high + b * d)


def system_of(*functions):
    return wire(tuple(read_model(f.__name__, f, f"test:{f.__name__}") for f in functions))


VALUES = {"a": 1.5, "b": 25.4, "c": 3.0, "d": 4.0}


@pytest.mark.parametrize("order", [(one, two, three), (three, two, one), (two, three, one)])
def test_results_feed_inputs_whatever_the_order(order):
    system = system_of(*order)
    assert {item.name for item in system.inputs} == {"a", "b", "c", "d"}
    assert {item.name for item in system.results} == {"middle", "high", "low", "end"}
    found = system.evaluate(VALUES)
    middle = 1.5**2 + 25.4
    assert found["middle"] == pytest.approx(middle)
    assert found["high"] == pytest.approx(1000 * (middle - 3.0))  # kept in its own um
    assert found["low"] == pytest.approx(middle + np.sin(3.0))
    # "high" arrives in mm; b, shared, in inches where it is wanted so: 25.4 mm are 1 in.
    assert found["end"] == pytest.approx((middle - 3.0) + 1.0 * 4.0)


def test_models_of_a_file_are_wired_with_their_units(model_file):
    models = find_models(("rattle_heard", "pin_fit"), (str(model_file),))
    system = wire(models)
    inputs = {item.name: item.default for item in system.inputs}
    assert "play" not in inputs
    found = system.evaluate(inputs)
    assert found["play"] == pytest.approx(0.2)
    assert found["rattle"] == pytest.approx(100.0)


def test_held_inputs_stay_numbers_and_arrays_broadcast():
    system = system_of(one, two, three)
    found = system.evaluate(VALUES | {"d": np.array([0.0, 1.0, 2.0])})
    assert isinstance(found["middle"], float)
    assert found["end"].shape == (3,)
    assert found["end"] == pytest.approx(found["high"] / 1000 + np.array([0.0, 1.0, 2.0]))


# --- a part evaluated is the whole --------------------------------------------------------------

NAMES = ("a", "b", "c", "d")


@given(
    st.lists(st.floats(0.1, 9.0), min_size=8, max_size=8),
    st.sets(st.sampled_from(NAMES)),
    st.sets(st.sampled_from(NAMES)),
)
def test_evaluating_what_changed_equals_evaluating_all(numbers, changed, held):
    base = {
        name: number if name in held else number * np.array([1.0, 1.1, 0.7, -0.2])
        for name, number in zip(NAMES, numbers[:4], strict=True)
    }
    other = dict(base)
    for name, number in zip(NAMES, numbers[4:], strict=True):
        if name in changed:
            other[name] = number * np.array([1.0, -3.0, 0.5, 2.0])
    system = system_of(one, two, three)
    known = system.evaluate(base)
    part = system.evaluate(other, known, frozenset(changed))
    whole = system.evaluate(other)
    assert part.keys() == whole.keys()
    for name, value in whole.items():
        np.testing.assert_array_equal(
            np.broadcast_to(part[name], (4,)), np.broadcast_to(value, (4,))
        )


@pytest.mark.parametrize(
    ("changed", "called"),
    [
        (set(), []),
        ({"a"}, ["one", "two", "three"]),
        ({"b"}, ["one", "two", "three"]),
        ({"c"}, ["two", "three"]),
        ({"d"}, ["three"]),
    ],
)
def test_only_what_a_change_reaches_is_computed(changed, called, monkeypatch):
    calls = []
    system = system_of(one, two, three)
    for model in system.models:
        plain = model.function

        def watched(plain=plain, name=model.name, **arguments):
            calls.append(name)
            return plain(**arguments)

        object.__setattr__(model, "function", watched)
    known = system.evaluate(VALUES)
    assert calls == ["one", "two", "three"]
    calls.clear()
    system.evaluate(VALUES | dict.fromkeys(changed, 7.0), known, frozenset(changed))
    assert calls == called


# --- what cannot be wired -----------------------------------------------------------------------


def again(a: MM = 1.0) -> Step1: ...


class Back(NamedTuple):
    a: MM


def turn(end: MM = 1.0) -> Back: ...
def itself(middle: MM = 1.0) -> Step1: ...
def warm(middle: Annotated[float, "degC", "no length"] = 1.0) -> Step3: ...


@pytest.mark.parametrize(
    ("functions", "says"),
    [
        ((one, again), r'"middle" is computed twice: by "one" and by "again"'),
        ((one, two, three, turn), r"circle.*one"),
        ((itself,), r"circle.*itself"),
        ((one, warm), r'"middle" of model "warm".*"mm" does not convert to "degC"'),
        ((), "at least one model"),
    ],
    ids=["name twice", "cycle", "feeds itself", "units", "none"],
)
def test_what_cannot_be_wired(functions, says):
    with pytest.raises(WiringError, match=says):
        system_of(*functions)


def test_shared_input_of_two_units_that_do_not_convert():
    def cold(a: Annotated[float, "s", "no length"] = 1.0) -> Step3: ...

    with pytest.raises(WiringError, match='"a" of model "cold"'):
        system_of(one, cold)


def test_fault_of_wiring_is_a_fault_of_the_study(write_study, tmp_path):
    models = tmp_path / "twice.py"
    models.write_text(
        "from typing import Annotated, NamedTuple\n"
        "class Out(NamedTuple):\n    out: Annotated[float, 'mm', 'x']\n"
        "def first(a: Annotated[float, 'mm', 'x'] = 1.0) -> Out: ...\n"
        "def second(a: Annotated[float, 'mm', 'x'] = 1.0) -> Out: ...\n"
    )
    with pytest.raises(StudyError, match=r'line 1: models: "out" is computed twice'):
        read_study(write_study("models = ['first', 'second']\n"), [str(models)])


def test_range_of_every_model_that_shares_an_input_holds(write_study, tmp_path):
    # The first model takes any length, the second none below zero: a nominal below zero is
    # outside the physical range of the system.
    models = tmp_path / "shared.py"
    models.write_text(
        "from typing import Annotated, NamedTuple\n"
        "class Left(NamedTuple):\n    left: Annotated[float, 'mm', 'x']\n"
        "class Right(NamedTuple):\n    right: Annotated[float, 'mm', 'x']\n"
        "def first(size: Annotated[float, 'mm', 'x'] = 1.0) -> Left:\n    return Left(size)\n"
        "def second(size: Annotated[float, 'mm', 'x', '> 0'] = 1.0) -> Right:\n"
        "    return Right(size)\n"
    )
    for order in ("'first', 'second'", "'second', 'first'"):
        text = f"models = [{order}]\n[inputs.size]\nnominal = '-1 mm'\n"
        with pytest.raises(StudyError, match="> 0"):
            read_study(write_study(text), [str(models)])


# --- physical ranges ----------------------------------------------------------------------------


def test_values_outside_their_range_become_nan_and_are_counted():
    quantity = next(item for item in system_of(one).inputs if item.name == "b")
    found, count = inside_range(np.array([1.0, 0.0, -1.0, 2.0, np.nan]), quantity)
    assert count == 2
    np.testing.assert_array_equal(found, [1.0, np.nan, np.nan, 2.0, np.nan])
    inside = np.array([1.0, 2.0])
    found, count = inside_range(inside, quantity)
    assert count == 0
    np.testing.assert_array_equal(found, inside)


@given(st.lists(st.floats(-2.0, 3.0), min_size=1, max_size=20))
def test_range_with_closed_ends(values):
    def model(x: Annotated[float, "", "share", "0..1"] = 0.5) -> Step1: ...

    (quantity,) = system_of(model).inputs
    found, count = inside_range(np.array(values), quantity)
    outside = [value for value in values if not 0.0 <= value <= 1.0]
    assert count == len(outside) == int(np.isnan(found).sum())


def test_held_number_outside_its_range_stays_a_number():
    quantity = next(item for item in system_of(one).inputs if item.name == "b")
    found, count = inside_range(-1.0, quantity)
    assert np.isnan(found)
    assert count == 1
    assert isinstance(found, float)  # a held input is a number, not an array of no dimensions


# --- models that misbehave ----------------------------------------------------------------------

POINTS = np.linspace(1.0, 2.0, 5)


def misbehaving(answer):
    """A model that returns what ``answer`` makes of its argument."""

    def model(a: MM = 1.0) -> Step2:
        return answer(a)

    return system_of(model)


@pytest.mark.parametrize(
    ("answer", "says"),
    [
        (lambda a: 1 / 0, "raised ZeroDivisionError"),
        (lambda a: [][1], "raised IndexError"),
        (lambda a: Step2(np.ones(3), a), r'"high": shape \(3,\).*\(5,\)'),
        (lambda a: Step2(a, np.ones((5, 1))), r'"low": shape \(5, 1\).*\(5,\)'),
        (lambda a: Step2(a[:1], a), r'"high": shape \(1,\)'),
        (lambda a: Step2("high", a), '"high": found str, not numbers'),
        (lambda a: Step2([[1], [2, 3]], a), '"high"'),
        (lambda a: Step2(None, a), '"high": found NoneType'),
        (lambda a: Step2(a * (1 + 1j), a), '"high".*complex'),
        (lambda a: Step1(a), 'without the result "high"'),
        (lambda a: {"high": a, "low": a}, 'returned dict without the result "high"'),
        (lambda a: (a, a), 'returned tuple without the result "high"'),
        (lambda a: None, 'returned NoneType without the result "high"'),
    ],
    ids=[
        "raises", "raises another", "too short", "turned", "one for all", "words", "ragged", "none",
        "complex", "other results", "dict", "tuple", "nothing",
    ],
)  # fmt: skip
def test_model_that_misbehaves_is_named_with_its_result(answer, says):
    with pytest.raises(ModelError, match=says) as refused:
        misbehaving(answer).evaluate({"a": POINTS})
    assert 'model "model" (test:model)' in str(refused.value)


def test_model_that_leaves_is_an_error_and_no_exit():
    def leave(a):
        raise SystemExit(0)

    with pytest.raises(ModelError, match="SystemExit"):
        misbehaving(leave).evaluate({"a": POINTS})


def test_infinite_results_have_no_answer():
    found = misbehaving(lambda a: Step2(np.where(a > 1.3, np.inf, a), -np.inf)).evaluate(
        {"a": POINTS}
    )
    np.testing.assert_array_equal(np.isnan(found["high"]), POINTS > 1.3)
    assert np.isnan(found["low"])


def test_results_of_one_number_hold_for_all_points():
    assert misbehaving(lambda a: Step2(3, np.float32(2.5))).evaluate({"a": POINTS}) == {
        "high": 3.0,
        "low": 2.5,
    }


def test_very_large_results_are_numbers_like_others():
    found = misbehaving(lambda a: Step2(0 * a + 1.7e308, a)).evaluate({"a": POINTS})
    assert (found["high"] == 1.7e308).all()


def test_floating_point_warnings_of_a_model_stay_in_it():
    found = misbehaving(lambda a: Step2(np.log(a - 1.5), np.sqrt(a - 1.5) / (a - a))).evaluate(
        {"a": POINTS}
    )
    assert np.isnan(found["low"]).all()


def test_model_cannot_change_what_it_is_given():
    def scribble(a):
        a *= 2.0
        return Step2(a, a)

    given = POINTS.copy()
    with contextlib.suppress(ModelError):  # to refuse it is as good as to give it a copy
        misbehaving(scribble).evaluate({"a": given})
    np.testing.assert_array_equal(given, POINTS)


# --- schedules ----------------------------------------------------------------------------------

SCHEDULED = """\
from typing import Annotated, NamedTuple
import numpy as np

class Run(NamedTuple):
    work: Annotated[float, "mm", "the whole of it"]

def run_of(
    slope: Annotated[float, "", "slope", "0..1", "per step"] = 0.1,
    length: Annotated[float, "mm", "length of a step", "per step"] = 10.0,
    drag: Annotated[float, "mm", "drag"] = 1.0,
) -> Run:
    return Run(np.sum(slope * length, axis=0) + drag)
"""

STEPS = """\
models = ["run_of"]
[inputs.length]
nominal = "20 mm"
[[schedule]]
step = "on the level"
slope = 0.0
[[schedule]]
step = "up the bank"
slope = { nominal = 0.5, plus_minus = 0.1 }
length = "5 mm"
"""


@pytest.fixture
def scheduled(tmp_path):
    path = tmp_path / "schedule.py"
    path.write_text(SCHEDULED)
    return [str(path)]


def test_step_has_its_own_value_or_the_plain_one(write_study, scheduled):
    study = read_study(write_study(STEPS), scheduled)
    assert [item.name for item in study.varying] == ["slope.up_the_bank"]
    values = {item.name: item.nominal for item in study.inputs}
    assert study.system.evaluate(values)["work"] == pytest.approx(0.0 * 20 + 0.5 * 5 + 1.0)
    values["slope.up_the_bank"] = np.array([0.4, 0.5, 0.6])
    assert study.system.evaluate(values)["work"] == pytest.approx(np.array([3.0, 3.5, 4.0]))


@pytest.mark.parametrize(
    ("old", "new", "line", "says"),
    [
        ("slope = 0.0", "slop = 0.0", 6, '"slope"'),
        ("slope = 0.0", "slope = 3.0", 6, "0..1"),
        ("slope = 0.0", "slope = '3 mm'", 6, "does not convert"),
        ("slope = 0.0", "slope = { nominal = 0.1, plusminus = 0.1 }", 6, '"plus_minus"'),
        ('step = "up the bank"', 'step = "on the level"', 8, "named twice"),
        ('step = "up the bank"\n', "", 7, "wants its name"),
        ("slope = 0.0", "drag = '1 mm'", 6, "for each step"),
    ],
)
def test_fault_of_a_step_has_its_line(write_study, scheduled, old, new, line, says):
    with pytest.raises(StudyError) as refused:
        read_study(write_study(STEPS.replace(old, new)), scheduled)
    assert any(fault.line == line and says in fault.problem for fault in refused.value.faults), (
        refused.value
    )
