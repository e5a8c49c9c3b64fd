"""Values said back as a builder wrote them: thou, fractions, decimal inches, or mm."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensitivity.errors import StudyError
from sensitivity.presentation.table import Cell, Column, Row, Table
from sensitivity.presentation.units_said import Manner, said_by, unit_said
from sensitivity.quantities.quantity import read_quantity

PIN = 'nominal = "0.375 in"'
INCH = 25.4  # exactly, by definition of the international inch (1959)


@pytest.fixture
def study(read):
    def made(hole='nominal = "13/32 in"', *, pin=PIN, limit='at_least = "1/64 in"', top=""):
        return read(
            f'title = "pins"\nmodels = ["pin_fit"]\n{top}\n[inputs.hole]\n{hole}\n'
            f"[inputs.pin]\n{pin}\n[limits.play]\n{limit}\n"
        )

    return made


def test_what_was_written_is_said_as_written(study):
    said = said_by(study('nominal = "0.245 in"\nplus_minus = "3 thou"'))
    assert said.of("hole").text(0.245 * INCH) == "0.245 in"
    assert said.of("hole").text(0.245 * INCH, scale=5.0) == "0.245 in"
    assert said.spread_of("hole").text(0.003 * INCH) == "3 thou"


def test_a_limit_written_as_a_fraction_is_said_as_one(study):
    made = study()
    said = said_by(made)
    assert said.limit(made.limits[0]) == "at least 1/64 in"
    assert said.of("play").text(INCH / 64) == "1/64 in"
    assert said.of("play").text(INCH / 32) == "1/32 in"
    assert said.of("play").text(0.79) == "0.031 in"


def test_a_name_written_in_thou_is_said_in_thou(study):
    made = study(limit='at_least = "5 thou"\nat_most = "40 thou"')
    said = said_by(made)
    assert said.limit(made.limits[0]) == "5 to 40 thou"
    assert said.of("play").text(1.75) == "69 thou"
    assert said.of("play").unit == "thou"
    assert said.of("hole").unit == "in"


def test_a_step_of_a_call_is_answered_on_its_grid(study):
    said = said_by(study('nominal = "0.4 in"')).stepped("hole", "1/32 in")
    assert said.of("hole").text(12 / 32 * INCH) == "3/8 in"
    assert said.of("hole").text(45 / 32 * INCH) == "1 13/32 in"
    assert said.of("hole").pair(11 / 32 * INCH, 12 / 32 * INCH) == "11/32 to 3/8 in"


def test_a_reading_of_a_call_is_said_as_it_was_written(study):
    said = said_by(study()).also("hole", "0.245 in")
    assert said.of("hole").text(0.245 * INCH) == "0.245 in"


def test_most_lengths_decide_and_a_statement_overrules(study):
    metric = study('nominal = "10 mm"', pin='nominal = "9 mm"', limit='at_least = "1/64 in"')
    assert metric.units == "mm"
    assert said_by(metric).limit(metric.limits[0]) == "at least 0.3969 mm"
    stated = study('nominal = "10 mm"', pin='nominal = "9 mm"', top='units = "inch"')
    assert said_by(stated).drawn(stated.inputs[0]) == "10 mm"
    assert said_by(stated).of("play").text(1.0) == "0.039 in"
    with pytest.raises(StudyError, match='should be "mm" or "inch"'):
        study(top='units = "feet"')


def test_spreads_of_a_process_are_in_the_studys_units(study):
    made = study('nominal = "13/32 in"\nprocess = "filed_to_a_height_gauge_line"')
    hole = made.inputs[0]
    half = hole.spread.high - hole.nominal
    shown = f"{half / INCH:.4f}".rstrip("0")
    assert said_by(made).stated(hole).startswith(f"± {shown} in")


def test_units_in_which_values_are_said():
    said = {unit: unit_said(unit, "inch") for unit in ("mm", "cm2", "mm2", "mm/s", "ml/mm")}
    assert list(said.values()) == ["in", "in2", "in2", "in/s", "ml/in"]
    assert unit_said("um", "inch") == "thou"
    for unit in ("m/s2", "ml", "degC", "Pa", "W", "mmH2O", "W/m2K", "%", "", "deg", "ml/min"):
        assert unit_said(unit, "inch") == unit


def test_a_table_is_converted_for_files(study):
    columns = (Column("", ("name",)), Column("", ("a", "b"), "mm"), Column("", ("c", "unit")))
    cells = (Cell("", ("x",)), Cell("", (25.4, None)), Cell("", (50.8, "mm"), unit="mm"))
    table = Table("t", "", columns, (Row(cells),))
    found = said_by(study()).table(table)
    assert found.records() == [{"name": "x", "a": 1.0, "b": None, "c": 2.0, "unit": "in"}]
    assert found.units() == {"a": "in", "b": "in"}
    metric = study('nominal = "10 mm"', pin='nominal = "9 mm"')
    assert said_by(metric).table(table) is table


@given(st.integers(-500, 500), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_a_fraction_said_reads_back_as_the_same_value(parts, below):
    manner = Manner("mm", "in", 1 / INCH, denominator=64)
    text = manner.text(parts / below * INCH).replace("−", "-")
    assert read_quantity(text, "mm") == pytest.approx(parts / below * INCH, abs=1e-9)


@given(st.floats(-300, 300))
def test_decimal_inches_read_back_to_half_a_thou(value):
    text = Manner("mm", "in", 1 / INCH).text(value).replace("−", "-")
    assert float(text.removesuffix(" in")) * INCH == pytest.approx(value, abs=0.5001e-3 * INCH)


def test_numbers_for_an_axis_are_in_its_unit():
    manner = Manner("mm", "thou", 1000 / INCH)
    np.testing.assert_allclose(manner.numbers(np.array([25.4, 0.0254])), [1000.0, 1.0])


def test_a_spread_of_several_thou_has_no_tenths():
    thou = Manner("mm", "thou", 1000.0 / 25.4)
    assert thou.pair(3.043, 3.937, 0.22) == "120 to 155 thou"
    assert thou.pair(0.0508, 0.0762, 0.02) == "2.0 to 3.0 thou"
