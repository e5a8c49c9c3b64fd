"""The trade's sizes against lists of other hands, in `trade_sizes.toml`, and a general library."""

import tomllib
from itertools import pairwise
from pathlib import Path

import pytest
from fluids.piping import wire_schedules

from sensitivity.quantities.quantity import read_quantity
from sensitivity.quantities.trade_sizes import SERIES, series

PRINTED = tomllib.loads(Path(__file__).with_name("trade_sizes.toml").read_text(encoding="utf-8"))


def half_a_digit(printed):
    return 0.5 * 10.0 ** -len(printed.partition(".")[2]) + 1e-9


def agree(names, printed, unit):
    for name, size in zip(names, printed, strict=True):
        found = read_quantity(name, unit)
        assert found == pytest.approx(float(size), rel=0.0, abs=half_a_digit(size)), name


def test_number_drills():
    printed = PRINTED["number_drills"]["printed"].split()
    agree([f"No. {number}" for number in range(80, 0, -1)], printed, "in")
    for table, unit in (("some_number_drills", "in"), ("some_small_number_drills", "mm")):
        some = PRINTED[table]["printed"]
        agree([f"No. {number}" for number in some], some.values(), unit)


def test_letter_drills():
    names = [f"letter {letter}" for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ"]
    agree(names, PRINTED["letter_drills"]["printed"].split(), "in")


def test_wire_gauge_as_a_table_prints_it():
    # 29 and 30 SWG are 0.0136 and 0.0124 in, 0.345 and 0.315 mm.
    printed = PRINTED["standard_wire_gauge"]["printed"].split()
    agree([f"{number} SWG" for number in range(34)], printed, "mm")


def test_wire_gauge_as_a_general_library_has_it():
    # fluids' schedule BSWG; it counts 7/0 to 2/0 as 0.143 to 0.5, which are the first six.
    _, inches, _, _ = wire_schedules["BSWG"]
    gauges = [f"{count}/0 SWG" for count in range(7, 1, -1)]
    gauges += [f"{number} SWG" for number in range(51)]
    assert [read_quantity(gauge, "in") for gauge in gauges] == pytest.approx(inches, rel=1e-9)


@pytest.mark.parametrize("number", range(13))
def test_drills_for_ba_taps_suit_the_thread_of_the_standard(number):
    threads = PRINTED["ba_threads"]
    pitch, major, minor = (threads[key][number] for key in ("pitch", "major", "minor"))
    tapping = read_quantity(f"{number} BA tapping", "mm")
    assert minor <= tapping <= minor + PRINTED["ba_nuts"]["over"] * pitch
    assert major < read_quantity(f"{number} BA clearance", "mm") < major + 0.5 * pitch


@pytest.mark.parametrize(
    ("major", "turns"),
    [("1/8", 40), ("5/32", 40), ("3/16", 40), ("7/32", 40), ("1/4", 40), ("9/32", 32),
     ("5/16", 32), ("3/8", 32), ("7/16", 26), ("1/2", 26)],
)  # fmt: skip
def test_drills_for_me_taps_leave_a_thread_of_whitworth_form(major, turns):
    # Depth of the Whitworth form: 0.640327 of the pitch on each side (BS 84). The table says that
    # its drills leave about 75 in 100 of it; the nearest drill of a fine thread is 15 off at most.
    outside = read_quantity(f"{major} in", "in")
    tapping = read_quantity(f"{major} x {turns} ME tapping", "in")
    assert 0.6 <= (outside - tapping) / (2.0 * 0.640327 / turns) <= 0.9
    assert outside < read_quantity(f"{major} x {turns} ME clearance", "in") < 1.12 * outside


def test_metric_drills_are_as_many_as_are_said_below_14_mm():
    # BS 328: 230 sizes from 0.2 mm, 48 of them by quarters from 14 mm.
    assert sum(size.millimetres < 14.0 for size in series("metric drills")) == 230 - 48


@pytest.mark.parametrize("name", SERIES)
def test_sizes_rise_and_are_named_once(name):
    sizes = series(name)
    assert all(one.millimetres < other.millimetres for one, other in pairwise(sizes))
    assert len({size.name for size in sizes}) == len(sizes)
    for size in sizes:
        assert read_quantity(size.name, "mm") == pytest.approx(size.millimetres, rel=1e-12)
