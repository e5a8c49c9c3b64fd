"""Names of sizes as a builder writes them, what is nearly one, and tubes."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensitivity.errors import QuantityError
from sensitivity.quantities.quantity import read_difference, read_quantity
from sensitivity.quantities.trade_sizes import SERIES, either_side, named, series, trade_size
from sensitivity.quantities.tube import read_tube


@pytest.mark.parametrize(
    ("text", "name", "inches"),
    [
        ("No. 60", "No. 60", 0.040), ("no 60", "No. 60", 0.040), ("#60", "No. 60", 0.040),
        ("No 60 drill", "No. 60", 0.040), ("number 60", "No. 60", 0.040),
        ("letter F", "letter F", 0.257), ("LETTER f drill", "letter F", 0.257),
        ("F drill", "letter F", 0.257), ("22 SWG", "22 SWG", 0.028), ("swg 22", "22 SWG", 0.028),
        ("22swg", "22 SWG", 0.028), ("22 s.w.g.", "22 SWG", 0.028), ("3/0 SWG", "3/0 SWG", 0.372),
        ("2 BA tapping", "2 BA tapping drill", 0.152),
        ("2BA clearance", "2 BA clearance drill", 0.189),
        ("1/4 x 40 ME tapping", "1/4 x 40 ME tapping drill", 0.228),
        ('1/4" × 40 tpi ME tapping drill', "1/4 x 40 ME tapping drill", 0.228),
    ],
)  # fmt: skip
def test_spellings(text, name, inches):
    size = trade_size(text)
    assert size is not None
    assert (size.name, size.millimetres) == (name, pytest.approx(25.4 * inches))
    assert read_quantity(text, "in") == pytest.approx(inches)


@pytest.mark.parametrize(
    ("text", "answer"),
    [
        ("No. 81", "No. 80 to No. 1"), ("No. 0", "No. 80 to No. 1"),
        ("51 SWG", "7/0 SWG to 50 SWG"),
        ("8/0 SWG", "7/0 SWG to 50 SWG"), ("60 drill", 'write "No. 60"'), ("F", 'write "letter F"'),
        ("22 gauge", 'Write "22 SWG" if it is that'), ("22 AWG", 'Write "22 SWG" if it is that'),
        ("2 BA", 'write "2 BA tapping" or "2 BA clearance"'), ("13 BA tapping", "0 BA to 12 BA"),
        ("1/4 x 32 ME tapping", "there are 1/8 x 40, "),
    ],
)  # fmt: skip
def test_what_is_nearly_a_name_is_answered(text, answer):
    with pytest.raises(QuantityError) as refusal:
        read_quantity(text, "mm")
    assert answer in str(refusal.value)


def test_a_size_is_a_length_and_no_difference():
    with pytest.raises(QuantityError, match=r'"No. 60" is a length; this is in deg'):
        read_quantity("No. 60", "deg")
    with pytest.raises(QuantityError, match=r'"22 SWG" is a size; write a difference'):
        read_difference("22 SWG", "mm")


def test_series_are_found_by_name_in_any_capitals():
    assert series("swg") == series("SWG")
    with pytest.raises(QuantityError, match='did you mean "number drills"'):
        series("numbr drills")
    with pytest.raises(QuantityError, match='there are "number drills", "letter drills"'):
        series("taps")


def test_sizes_either_side():
    assert [size.name for size in either_side(1.02, "number drills")] == ["No. 60", "No. 59"]
    assert [size.name for size in either_side(1.016, "number drills")] == ["No. 60", "No. 60"]
    assert either_side(0.1, "number drills")[0] is None
    assert either_side(99.0, "number drills")[1] is None
    assert named(1.016, "number drills").name == "No. 60"
    assert named(1.02, "number drills") is None


@given(st.floats(0.01, 30.0), st.sampled_from(SERIES))
def test_no_size_is_nearer_than_those_either_side(wanted, name):
    below, above = either_side(wanted, name)
    for size in series(name):
        assert below is None or size.millimetres <= below.millimetres or size.millimetres > wanted
        assert above is None or size.millimetres >= above.millimetres or size.millimetres < wanted


def test_tube():
    # 0.125 - 2 x 0.028 in; the wall of 22 SWG by the table of the standard.
    tube = read_tube("1/8 in x 22 SWG")
    assert tube.bore == pytest.approx(25.4 * 0.069)
    assert (tube.wall_written, tube.wall) == ("22 SWG", pytest.approx(0.7112))
    assert read_tube("4 mm × 0.5 mm").bore == pytest.approx(3.0)
    assert read_tube('5/32" OD x 24 swg').outside == pytest.approx(25.4 * 5 / 32)


@pytest.mark.parametrize(
    ("text", "answer"),
    [
        ("1/8 in", "outside diameter x wall"), ("1/8 in x 22 SWG x 3", "outside diameter x wall"),
        ("22 SWG x 1/8 in", "the outside diameter comes first"), ("1/8 x 22 SWG", '"1/8 in"'),
        ("1/8 in x 22", '"22 in"'), ("0 in x 22 SWG", "above zero"), ("1/8 in x 99 SWG", "50 SWG"),
    ],
)  # fmt: skip
def test_what_is_no_tube_is_answered(text, answer):
    with pytest.raises(QuantityError) as refusal:
        read_tube(text)
    assert answer in str(refusal.value)
