"""Quantities: spellings against SI factors from outside, and what must be refused."""

import contextlib
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from sensitivity.errors import QuantityError, StudyError
from sensitivity.quantities.quantity import (
    read_difference,
    read_half_width,
    read_quantity,
    split_number,
    suggesting,
)
from sensitivity.quantities.units import SPELLINGS, conversion, pint_expression
from sensitivity.study.file import read_study

# The project's own list of what must be right (checks.md, "Units that must be right"); the inch
# is 25.4 mm exactly (international yard and pound agreement, 1959), the psi from scipy.constants.
MUST_BE_RIGHT = [
    ("1 1/2 in", "mm", 38.1),
    ("1-1/2 in", "mm", 38.1),
    ("-1 1/2 in", "mm", -38.1),
    ('5/32"', "mm", 3.96875),
    ('5/32 "', "mm", 3.96875),
    ("3 thou", "mm", 0.0762),
    ("3 mil", "mm", 0.0762),
    ("13/32 in", "mm", 10.31875),
    ("0.41 in", "mm", 10.414),
    ("410 thou", "mm", 10.414),
    ("45 psi", "bar", 45 * constants.psi / constants.bar),
    ("3 ml/min", "m3/s", 5e-8),
    ("1 in 80", "%", 1.25),
    ("1 in 80", "", 0.0125),
    ("0.5 deg", "arcmin", 30.0),
    ("12 %", "", 0.12),
    ("4 cm2", "mm2", 400.0),
    ("4 cm²", "mm2", 400.0),
    ("20 ml", "m3", 2e-5),
    ("20 W/(m2 K)", "W/m2K", 20.0),
    ("1 N*m", "J", 1.0),
    ("1 mPa s", "Pa s", 1e-3),
    ("30 mN/m", "N/m", 0.03),
    ("1 g/min", "kg/h", 0.06),
    ("1.2 kg/m3", "g/l", 1.2),
    (".5 mm", "mm", 0.5),
    ("5. mm", "mm", 5.0),
    ("+2 mm", "mm", 2.0),
    ("-2e-1 mm", "mm", -0.2),
    ("  3mm ", "mm", 3.0),
    ("½ in", "mm", 12.7),
    ("1½ in", "mm", 38.1),
    ("1 ½ in", "mm", 38.1),
    ("1-½ in", "mm", 38.1),
    ("−1½ in", "mm", -38.1),
    ('⅛"', "mm", 3.175),
    ("1⁄8 in", "mm", 3.175),
    ("−3 mm", "mm", -3.0),
    ("1:80", "%", 1.25),
    ("1 : 50", "", 0.02),
    ("3\u00a0mm", "mm", 3.0),
]


@pytest.mark.parametrize(("text", "wanted", "value"), MUST_BE_RIGHT)
def test_what_must_be_right(text, wanted, value):
    assert read_quantity(text, wanted) == pytest.approx(value, rel=1e-12)


# SI value of one unit of each spelling, by what it measures. Factors that are not exact powers of
# ten: scipy.constants (NIST SP 811), and NIST SP 811, B.8, for the conventional columns of water.
INCH, MINUTE, DEGREE = constants.inch, constants.minute, constants.degree
SI = {
    "": {"": 1.0, "%": 0.01},
    "m": {
        "mm": 1e-3, "cm": 1e-2, "m": 1.0, "um": 1e-6, "µm": 1e-6, "μm": 1e-6, "micron": 1e-6,
        "nm": 1e-9, "in": INCH, "inch": INCH, "inches": INCH, '"': INCH, "″": INCH,
        "thou": constants.mil, "mil": constants.mil, "mils": constants.mil, "ft": constants.foot,
    },
    "rad": {
        "deg": DEGREE, "degree": DEGREE, "degrees": DEGREE, "°": DEGREE, "rad": 1.0, "mrad": 1e-3,
        "arcmin": constants.arcminute, "arcsec": constants.arcsecond,
    },
    "m3": {
        "ml": 1e-6, "mL": 1e-6, "cc": 1e-6, "l": constants.liter, "L": constants.liter,
        "litre": constants.liter,
    },
    "kg": {
        "ug": 1e-9, "mg": 1e-6, "g": 1e-3, "kg": 1.0, "oz": constants.oz, "lb": constants.lb,
    },
    "s": {"ms": 1e-3, "s": 1.0, "min": MINUTE, "h": constants.hour},
    "1/s": {"Hz": 1.0, "rpm": 1 / MINUTE},
    "N": {"N": 1.0, "mN": 1e-3},
    "Pa": {
        "Pa": 1.0, "mPa": 1e-3, "hPa": 1e2, "kPa": 1e3, "MPa": 1e6, "GPa": 1e9, "mbar": 1e2,
        "bar": constants.bar, "psi": constants.psi, "atm": constants.atm, "mmH2O": 9.80665,
        "inH2O": 249.0889,
    },
    "J": {"J": 1.0, "kJ": 1e3, "MJ": 1e6},
    "W": {"mW": 1e-3, "W": 1.0, "kW": 1e3},
    "mol": {"mol": 1.0},
    "A": {"A": 1.0},
    "V": {"V": 1.0},
    "ohm": {"ohm": 1.0},
}  # fmt: skip
TEMPERATURES = {"degC", "°C", "degF", "°F", "K"}


@pytest.mark.parametrize(
    ("unit", "base", "factor"),
    [(unit, base, factor) for base, units in SI.items() for unit, factor in units.items()],
)
def test_spelling_against_si(unit, base, factor):
    assert conversion(unit, base).factor == pytest.approx(factor, rel=2e-7)
    assert conversion(unit, base).offset == 0.0


def test_every_spelling_is_checked():
    assert set(SPELLINGS) == {unit for units in SI.values() for unit in units} | TEMPERATURES


@pytest.mark.parametrize("spelling", ["degC", "°C"])
@pytest.mark.parametrize("other", ["degF", "°F"])
def test_fixed_points_of_temperature(spelling, other):
    # Ice and steam points as the scales define them; -40 is common to both.
    assert read_quantity(f"0 {spelling}", "K") == pytest.approx(constants.zero_Celsius)
    assert read_quantity(f"32 {other}", "degC") == pytest.approx(0.0, abs=1e-9)
    assert read_quantity(f"212 {other}", "degC") == pytest.approx(100.0)
    assert read_quantity(f"-40 {other}", "degC") == pytest.approx(-40.0)
    assert read_quantity("0 K", "degF") == pytest.approx(-459.67)


def test_difference_of_temperature_is_in_kelvin():
    assert read_difference("5 K", "degC") == pytest.approx(5.0)
    assert read_difference("9 degF", "degC") == pytest.approx(5.0)
    with pytest.raises(QuantityError, match=r'"5 degC" is a temperature.*"5 K"'):
        read_difference("5 degC", "degC")


def test_difference_of_a_length_is_a_length():
    assert read_difference("5 thou", "mm") == pytest.approx(0.127)


@pytest.mark.parametrize("text", ["10.3", "1 1/2", "13/32", 10.3, 10])
def test_bare_number_is_refused_where_there_is_a_unit(text):
    with pytest.raises(QuantityError, match=r"has no unit; write .*mm"):
        read_quantity(text, "mm")


@pytest.mark.parametrize(("text", "value"), [("0.6", 0.6), (0.6, 0.6), (2, 2.0), ("3/4", 0.75)])
def test_bare_number_is_taken_where_there_is_none(text, value):
    assert read_quantity(text, "") == value


@pytest.mark.parametrize(
    "text",
    [
        "", " ", "mm", "mm 3", "three mm", "1,5 mm", "1,000 mm", "1_000 mm", "0x10 mm", "1.5/2 in",
        "1/2/3 in", "1 /2 in", "1 - 1/2 in", "1 2 mm", "3 mm mm", "3 + 4 mm", "--3 mm", "½3 in",
        "½½ in", "1.½ in", "1:0", "nan mm",
        "inf mm", "-inf mm", "1e999 mm", "1e306 m", "3 mm\n4 mm", "3 mm; 4",
        "3 MM", "3 Mm", "3 mm/", "3 /mm", "3 ()", "3 mm^x", "3 mm**2", "5/0 in", "1 5/0 in",
        "3 $mm",
    ],
)  # fmt: skip
def test_what_is_not_a_length_is_refused(text):
    with pytest.raises(QuantityError):
        read_quantity(text, "mm")


# (text, wanted): each was read as something else, or crashed, before the grammar was strict.
MISREAD = [
    ("1 mm0", "mm"), ("1 mm0", ""), ("5cm0", "mm"), ("5 cm^0", ""), ("\uff11\uff12 mm", "mm"),
    ("1\u0663 mm", "mm"), ("5 cm\uff12", "mm2"), ("6 deg mm", "mm"), ("12 mm/rad", "mm"),
    ("5 K K/K", "K"), ("5 K K/K", "degC"), ("5 K mm/mm", "degC"), ("1 9/8 in", "mm"),
    ("1 8/8 in", "mm"), ("-2-3/2 in", "mm"), ("9mil^", "mm"), ("9 mil^^2", "mm2"),
    ("4 cm2^2", "mm2"), ("4 cm2²", "mm2"), ("1 rpm", "deg/s"), ("1 Hz", "rad/s"),
    ("1e5e3 mm", "mm"), ("6 mm %", "mm"), ("6 %2", ""), ("6 % %", ""), ("3 mm mm", "mm2"),
    ("3 mm/(mm", "mm"), ("3 m/()", "m"), ("3 deg deg/deg", "deg"),
    ("5 \"2", "mm2"), ("5 W/((m2 K))", "W/m2K"), ("5 K m/mm", "degC"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "wanted"), MISREAD)
def test_what_was_once_misread_is_refused(text, wanted):
    for reader in (read_quantity, read_difference):
        with pytest.raises(QuantityError):
            reader(text, wanted)


@pytest.mark.parametrize(
    ("text", "wanted", "value"),
    [
        ("3 1/min", "rpm", 3.0),
        ("0.9 kg/kg", "kg/kg", 0.9),
        ("2 deg/s", "deg/min", 120.0),
        ("5 W / (m2 K)", "W/m2K", 5.0),
        ("5 W m-2 K-1", "W/m2K", 5.0),
        ("5 W/m2/K", "W/m2K", 5.0),
        ("7 m^2", "cm2", 70000.0),
        ("0 1/2 in", "mm", 12.7),
    ],
)
def test_what_the_strict_grammar_still_reads(text, wanted, value):
    assert read_quantity(text, wanted) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(("text", "near"), [("3 milimeter", "units look like"), ("3 tho", "thou")])
def test_unknown_unit_names_the_nearest(text, near):
    with pytest.raises(QuantityError, match=near):
        read_quantity(text, "mm")


# What a keyboard, a phone or a word processor makes of a quantity, and the spelling to answer with.
ANSWERED = [
    ("1,5 mm", "mm", '"1.5 mm"'), ("-0,25 in", "mm", '"-0.25 in"'), ("0,5", "", '"0.5"'),
    ("1,500 mm", "mm", '"1500 mm" or "1.500 mm"'), ("0,500 mm", "mm", '"0.500 mm"'),
    ("3 MM", "mm", '"3 mm"'), ("1/8 IN", "mm", '"1/8 in"'), ("10 Thou", "mm", '"10 thou"'),
    ("1/4 in.", "mm", '"1/4 in"'), ("⅛”", "mm", '"1/8 in"'), ("1/8''", "mm", '"1/8 in"'),
    ("１２ mm", "mm", '"12 mm"'), ("1٣ mm", "mm", '"13 mm"'), ("3 ㎜", "mm", '"3 mm"'),
    ("ø3 mm", "mm", '"3 mm"'), ("dia. 3 mm", "mm", '"3 mm"'), ("± 3 mm", "mm", '"3 mm"'),
    ("–5 mm", "mm", '"-5 mm"'), ("- 1/2 in", "mm", '"-1/2 in"'), ("1 /2 in", "mm", '"1/2 in"'),
    ("10 millimetres", "mm", '"10 mm"'), ("20 deg C", "degC", '"20 degC"'),
    ("20 ℃", "degC", '"20 degC"'), ("68 F", "degC", '"68 degF"'), ("2 mins", "min", '"2 min"'),
    ("1-in-80", "%", '"1 in 80"'), ("1 IN 80", "%", '"1 in 80"'), ("5 percent", "", '"5 %"'),
    ("№ 60", "mm", '"No. 60"'), ("3 ml per min", "ml/min", '"3 ml/min"'),
]  # fmt: skip


@pytest.mark.parametrize(("text", "wanted", "right"), ANSWERED)
def test_what_is_not_read_is_answered_with_the_right_spelling(text, wanted, right):
    with pytest.raises(QuantityError) as refusal:
        read_quantity(text, wanted)
    assert str(refusal.value).endswith(f": write {right}")
    for spelling in right.split(" or "):
        assert read_quantity(spelling.strip('"'), wanted) is not None


def test_a_sign_that_cannot_be_seen_is_told():
    with pytest.raises(QuantityError, match=r'"3 mm" holds a sign that is not seen'):
        read_quantity("3 \u200bmm", "mm")


@pytest.mark.parametrize("text", ["4 thou", "±4 thou", "± 4 thou", "+-4 thou", "+/- 4 thou"])
def test_half_width_may_have_its_sign(text):
    assert read_half_width(text, "mm") == pytest.approx(0.1016)


def test_sign_of_a_half_width_stands_nowhere_else():
    for reader in (read_quantity, read_difference):
        with pytest.raises(QuantityError, match='write "4 thou"'):
            reader("± 4 thou", "mm")


@pytest.mark.parametrize(
    ("text", "wanted"),
    [("3 g", "mm"), ("3 mm", "deg"), ("3 mm", ""), ("3 %", "mm"), ("1 in 80", "mm"), ("3 K", "mm")],
)
def test_unit_that_does_not_convert_says_both(text, wanted):
    with pytest.raises(QuantityError, match="does not convert to"):
        read_quantity(text, wanted)


@pytest.mark.parametrize(
    ("text", "wanted", "right"),
    [("45 deg", "%", 100.0), ("45 deg", "", 1.0), ("100 %", "deg", 45.0), ("1 in 1", "deg", 45.0)],
)
def test_angle_is_no_ratio(text, wanted, right):
    # The slope of 45 deg is 1 in 1. To take the angle in radians for the ratio is wrong in silence
    # (78.5 % here): it has to be refused, or read as the tangent.
    try:
        value = read_quantity(text, wanted)
    except QuantityError:
        return
    assert value == pytest.approx(right)


@pytest.mark.parametrize(
    "text",
    ["1" + "0" * 400 + " mm", "1" + "0" * 400 + "/3 mm", "1/1" + "0" * 400 + " mm",
     "1" + "0" * 400 + " 1/2 mm", "1" + "0" * 5000 + "/3 mm"],
    ids=["decimal", "fraction", "small fraction", "mixed", "more digits than Python reads"],
)  # fmt: skip
def test_numbers_past_all_sense(text):
    with contextlib.suppress(QuantityError):  # and no other exception
        assert abs(read_quantity(text, "mm")) < 1e-300


def test_whole_number_too_large_for_a_float():
    with pytest.raises(QuantityError):
        read_quantity(10**400, "")


def test_unit_below_the_line_wants_brackets():
    with pytest.raises(QuantityError, match="brackets"):
        read_quantity("5 W/m2 K", "W/m2K")


@given(st.integers(0, 500), st.integers(0, 200), st.integers(1, 200), st.sampled_from(" -"))
def test_mixed_numbers_as_fractions(whole, above, less, gap):
    below = above + less
    value, unit = split_number(f"{whole}{gap}{above}/{below} in")
    assert (value, unit) == (float(whole + Fraction(above, below)), "in")


@given(st.floats(-1e12, 1e12, allow_nan=False))
def test_decimals_as_python_reads_them(value):
    assert split_number(f"{value!r} mm") == (value, "mm")


@given(
    st.sampled_from([units for units in SI.values() if len(units) > 1]).flatmap(
        lambda units: st.tuples(*3 * [st.sampled_from(sorted(units))])
    )
)
def test_conversions_chain_and_turn_back(units):
    first, second, third = units
    there, back = conversion(first, second).factor, conversion(second, first).factor
    assert there * back == pytest.approx(1.0, rel=1e-12)
    assert there * conversion(second, third).factor == pytest.approx(
        conversion(first, third).factor, rel=1e-12
    )


# Besides any text, what is written like a quantity: any text rarely meets the grammar's letters.
LIKE_QUANTITIES = st.lists(
    st.sampled_from(["1", "2", "60", "/", "½", "¾", " ", "in", "mm", "No. ", "SWG", "x", ",", ".",
                     "-", "−", "±", "#", "letter ", "BA", " tapping", ":", "(", "degC", "１",
                     "\u200b"]),
    max_size=8,
).map("".join)  # fmt: skip


@given(
    st.one_of(st.text(max_size=12), LIKE_QUANTITIES),
    st.sampled_from(["mm", "", "%", "degC", "ml/min"]),
)
def test_any_text_is_read_or_refused(text, wanted):
    for reader in (read_quantity, read_difference, read_half_width):
        with contextlib.suppress(QuantityError):  # and no other exception
            assert float("-inf") < reader(text, wanted) < float("inf")


@given(st.text("mkgsW/()*^23 -²°%", max_size=8))
def test_any_unit_is_translated_or_refused(text):
    with contextlib.suppress(QuantityError):  # and no other exception
        assert pint_expression(text)


@pytest.mark.parametrize(
    ("text", "inches", "written"),
    [
        ("10.3", False, '"10.3 mm" or "10.3 in"'),
        ("0.245", True, '"0.245 in" or "0.245 mm"'),
        ("5", True, '"5 thou" or "5 mm"'),
        ("3/8", True, '"3/8 in" or "3/8 mm"'),
        ("3/8", False, '"3/8 in" or "3/8 mm"'),  # nobody writes a fraction of a millimetre
        ("1 1/2", False, '"1 1/2 in" or "1 1/2 mm"'),
    ],
)
def test_a_unit_is_asked_for_as_the_study_is_written(text, inches, written):
    with suggesting(inches=inches), pytest.raises(QuantityError) as refused:
        read_quantity(text, "mm")
    assert str(refused.value).endswith(f"has no unit; write {written}")


def test_a_study_in_inches_is_asked_for_inches_first(tmp_path):
    study = tmp_path / "inch.toml"
    text = 'models = ["fuel_level"]\nunits = "inch"\n[inputs.reach]\nnominal = "0.245"\n'
    study.write_text(text, encoding="utf-8")
    with pytest.raises(StudyError, match=r'write "0\.245 in" or "0\.245 mm"'):
        read_study(study)
