"""The table of workshop processes and instruments: whole, sane, and no better than its sources.

Read with tomllib alone, so that a fault of the data cannot hide behind the loader. "Seen" figures
come from the project's notes (checks.md; statistics-sources.md section 6) or from the reproduction
named beside the check; none of the standards was read in the original.
"""

import math
import re
import tomllib
from fractions import Fraction
from pathlib import Path

import pytest

TABLE = Path(__file__).parents[1] / "sensitivity" / "spreads" / "workshop.toml"
PROCESSES = tomllib.loads(TABLE.read_text("utf-8"))["process"]
INSTRUMENTS = tomllib.loads(TABLE.read_text("utf-8"))["instrument"]
ALTERNATIVES = tomllib.loads(TABLE.read_text("utf-8"))["alternatives"]

ALWAYS = {"says", "quantity", "shape", "minutes", "basis", "source"}
SPREADS = {"between", "plus_minus", "relative"}
UNIT = {"length": "mm", "angle": "deg", "time": "s", "mass": "g", "ratio": "%"}
SHAPES = {"normal", "rectangular", "triangular", "arcsine"}
UNSOURCED = "common practice, no source"

# Standards whose figures were seen, and so may stand without ", from memory".
SEEN = (
    "AND10387",
    "ASME B89.1.5",
    "ASTM B251",
    "DIN 862",
    "DIN 863-1",
    "ISO 286-1",
    "ISO 965-1",
    "ISO 2768-1",
    "ISO 9013",
    "Measuring Instruments Regulations 2016",
)

# The narrowest and widest half-width that can be meant (mm, deg, s, g, %); outside it is a slip of
# the pen (judgement, no source).
SANE = {
    "length": (0.004, 1.5),
    "angle": (0.02, 10.0),
    "time": (0.1, 60.0),
    "mass": (0.01, 5.0),
    "ratio": (0.5, 30.0),
}

INCH = 25.4

# ISO 286-1, um, sizes 0-3, 3-6, 6-10 mm: checks.md, "Tolerances" (seen in secondary print).
IT7 = (10, 12, 15)
IT8 = (14, 18, 22)
IT9 = (25, 30, 36)
IT10 = (40, 48, 58)
IT11 = (60, 75, 90)
IT13 = (140, 180, 220)


def number(text, unit):
    """Return the number of a quantity string, which must be in `unit`."""
    matched = re.fullmatch(r"(-?\d+(?:\.\d+)?) (\S+)", text)
    assert matched, f"{text!r} is not a number, a space and a unit"
    assert matched[2] == unit, f"{text!r} is not in {unit}"
    return float(matched[1])


def limits(entry):
    """Return the lowest and highest deviation, in the entry's unit (% where relative)."""
    unit = UNIT[entry["quantity"]]
    if "between" in entry:
        low, high = entry["between"]
        return number(low, unit), number(high, unit)
    if "relative" in entry:
        half = number(entry["relative"], "%")
    else:
        half = number(entry["plus_minus"], unit)
    return -half, half


def width(entry):
    low, high = limits(entry)
    return high - low


def half_width(entry):
    return width(entry) / 2


def faults(name, entry):
    """List what is wrong with one entry of the table."""
    found = []
    if not re.fullmatch(r"[a-z]+(_[a-z0-9]+)*", name):
        found.append("name is not snake_case")
    if missing := ALWAYS - entry.keys():
        return [*found, f"missing {sorted(missing)}"]
    if unknown := entry.keys() - ALWAYS - SPREADS - {"sizes", "making"}:
        found.append(f"unknown {sorted(unknown)}")
    if len(entry.keys() & SPREADS) != 1:
        return [*found, "not exactly one way to state the spread"]
    if entry["quantity"] not in UNIT:
        return [*found, "unknown quantity"]
    if entry["shape"] not in SHAPES:
        found.append("unknown shape")
    if not (isinstance(entry["minutes"], int | float) and 0 < entry["minutes"] <= 60):
        found.append("minutes are not between nought and an hour")
    if not 0 <= entry.get("making", 0) <= 60:
        found.append("minutes of making are not between nought and an hour")
    found += [
        f"{key} is not one plain line of 10 to 90 characters"
        for key in ("says", "basis", "source")
        if not re.fullmatch(r"\S.{8,88}[^\s.]", entry[key])
    ]
    seen = entry["source"].startswith(SEEN)
    if not (entry["source"] == UNSOURCED or seen or entry["source"].endswith(", from memory")):
        found.append("source is neither a standard that was seen, from memory, nor none")
    try:
        low, high = limits(entry)
    except (AssertionError, TypeError, ValueError) as fault:
        return [*found, str(fault)]
    if not low <= 0 <= high or low == high:
        found.append("the spread does not hold the size aimed at")
    kind = "ratio" if "relative" in entry else entry["quantity"]
    narrowest, widest = SANE[kind]
    if not narrowest <= (high - low) / 2 <= widest:
        found.append("the spread is not a workshop's")
    return found


@pytest.mark.parametrize(("name", "entry"), [*PROCESSES.items(), *INSTRUMENTS.items()])
def test_entry_is_whole_and_sane(name, entry):
    assert faults(name, entry) == []


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"source": ""}, "source"),
        ({"source": "everyone knows"}, "source"),
        ({"source": "ISO 13225"}, "source"),
        ({"basis": "judged."}, "basis"),
        ({"says": "two\nlines of words"}, "says"),
        ({"cost": 4}, "unknown"),
        ({"shape": "gaussian"}, "shape"),
        ({"quantity": "volume"}, "quantity"),
        ({"minutes": 0}, "minutes"),
        ({"minutes": "4"}, "minutes"),
        ({"making": 90}, "making"),
        ({"relative": "10 %"}, "one way"),
        ({"plus_minus": "0.1 in"}, "not in mm"),
        ({"plus_minus": "0.1"}, "not a number"),
        ({"plus_minus": "-0.1 mm"}, "size aimed at"),
        ({"plus_minus": "100 mm"}, "workshop"),
        ({"plus_minus": "0.0001 mm"}, "workshop"),
    ],
)
def test_faulty_entry_is_found(change, fault):
    assert any(fault in found for found in faults("parted_off", PROCESSES["parted_off"] | change))


def test_missing_key_is_found():
    whole = PROCESSES["parted_off"]
    for key in [*ALWAYS, "plus_minus"]:
        assert faults("parted_off", {k: v for k, v in whole.items() if k != key})


def test_table_has_its_parts_and_enough_of_each():
    assert set(tomllib.loads(TABLE.read_text("utf-8"))) == {"process", "instrument", "alternatives"}
    assert len(PROCESSES) >= 26
    assert len(INSTRUMENTS) >= 10


def test_no_name_stands_for_both_a_process_and_an_instrument():
    assert not PROCESSES.keys() & INSTRUMENTS.keys()


def test_instruments_read_the_same_both_ways():
    assert all({"plus_minus", "relative"} & set(entry) for entry in INSTRUMENTS.values())


def test_instruments_of_lengths_say_what_sizes_they_take():
    """Whole ranges, ends in order, and where an instrument says its own sizes, those."""
    assert not any("sizes" in entry for entry in PROCESSES.values())
    for name, entry in INSTRUMENTS.items():
        assert ("sizes" in entry) == (entry["quantity"] == "length"), name
        if "sizes" in entry:
            low, high = (number(end, "mm") for end in entry["sizes"])
            assert 0.0 <= low < high <= 300.0
            assert high > 20.0 * limits(entry)[1], name  # else it could not tell one from another
    assert INSTRUMENTS["micrometer"]["sizes"] == ["0 mm", "25 mm"]  # "0 to 25 mm", as it says
    assert INSTRUMENTS["caliper_inside_jaws"]["sizes"][0] == "5 mm"  # "a hole of 5 mm or more"


def test_no_two_entries_say_the_same():
    said = [entry["says"] for entry in [*PROCESSES.values(), *INSTRUMENTS.values()]]
    assert len(set(said)) == len(said)


def test_words_are_british_and_lines_fit():
    text = TABLE.read_text("utf-8")
    assert not re.findall(r"\b(gage|center|color|caliber|vise|aluminum)\w*", text, re.IGNORECASE)
    assert max(map(len, text.splitlines())) <= 100


# That closer work costs more is the one thing asked of the minutes, which are judgement (common
# practice, no source).
@pytest.mark.parametrize("row", ALTERNATIVES.values(), ids=ALTERNATIVES)
def test_closer_work_costs_more(row):
    assert {"loosest_first"} <= row.keys() <= {"loosest_first", "sizes"}
    names = row["loosest_first"]
    assert len(names) > 1
    # Processes or instruments: nobody makes a hole by reading it.
    assert set(names) <= PROCESSES.keys() or set(names) <= INSTRUMENTS.keys()
    entries = [(PROCESSES | INSTRUMENTS)[name] for name in names]
    assert len({entry["quantity"] for entry in entries}) == 1
    widths = [width(entry) for entry in entries]
    minutes = [entry["minutes"] + entry.get("making", 0) for entry in entries]
    assert widths == sorted(set(widths), reverse=True)
    assert minutes == sorted(set(minutes))


def test_there_are_alternatives_for_most_jobs():
    assert len(ALTERNATIVES) >= 24
    named = {name for row in ALTERNATIVES.values() for name in row["loosest_first"]}
    assert len(named & PROCESSES.keys()) >= 40
    assert not any(name.startswith("bought_") for name in named)  # the maker holds it, not we


def test_sizes_of_a_list_are_those_its_processes_are_for():
    for name, row in ALTERNATIVES.items():
        matched = re.fullmatch(r"hole_size_(\d+)_to_(\d+)_mm", name)
        sizes = [f"{end} mm" for end in matched.groups()] if matched else None
        assert row.get("sizes") == sizes


def test_filing_is_no_closer_than_the_line_it_follows():
    for marking, filing in [
        ("marked_with_rule_and_scriber", "sawn_and_filed_to_a_scribed_line"),
        ("marked_with_height_gauge", "filed_to_a_height_gauge_line"),
        ("marked_with_rule_and_scriber", "hole_centre_punched_by_eye"),
        ("marked_with_height_gauge", "hole_punched_on_height_gauge_lines"),
        ("marked_with_rule_and_scriber", "hand_folded_plate_position"),
        ("squared_by_eye", "silver_soldered_angle_by_eye"),
    ]:
        assert half_width(PROCESSES[marking]) < half_width(PROCESSES[filing])


@pytest.mark.parametrize(
    ("name", "row", "over_inch"),
    # AND10387 as reproduced by engineersedge.com, "Machinist Drilled Hole Tolerance Capabilities":
    # to 0.125 in +0.004, to 0.250 in +0.005, to 0.500 in +0.006, all -0.001 in.
    [
        ("drilled_1_to_3_mm", 0, "0.004"),
        ("drilled_3_to_6_mm", 1, "0.005"),
        ("drilled_6_to_10_mm", 2, "0.006"),
    ],
)
def test_drilled_hole_holds_the_standard_limits(name, row, over_inch):
    low, high = limits(PROCESSES[name])
    over = float(over_inch) * INCH
    assert over <= high < over + 0.015  # the standard's figure rounded up, no more
    assert low <= -0.001 * INCH
    # Drill h8 (checks.md, "Trap"; Hartner catalogue p. 463): -0.014, -0.018, -0.022 mm. A drill
    # cuts no smaller than itself.
    assert low <= -IT8[row] / 1000
    assert f"-{IT8[row] / 1000:.3f} mm" in PROCESSES[name]["basis"]
    # "H11 to H13 is a fair prior" for such a hole: statistics-sources.md 6.3.
    assert IT11[row] / 1000 <= width(PROCESSES[name]) <= IT13[row] / 1000


def test_reamed_holes():
    # H7 over 6 to 10 mm, 0 to +0.015 mm: checks.md, ISO 286-1. Below 6 mm H7 is narrower.
    assert limits(PROCESSES["reamed_hole_h7"]) == (0.0, IT7[2] / 1000)
    # DIN 1420 reamers for H7, Dormer catalogue p. 568: +0.004/+0.008 to 3 mm, +0.005/+0.010 to
    # 6 mm, +0.006/+0.012 to 10 mm: the reamer's own size is inside.
    assert limits(PROCESSES["reamed_hole_h7"])[1] > 0.012
    # By hand about H9 over 3 to 6 mm (common practice, no source).
    assert limits(PROCESSES["reamed_by_hand"]) == (0.0, IT9[1] / 1000)


@pytest.mark.parametrize(
    ("name", "grade"),
    # Narayana, Kannaiah and Venkata Reddy, Machine Drawing, fig. 15.2, "Degree of accuracy
    # expected of manufacturing process": centre lathe turning and boring, reaming 8; milling 10;
    # drilling 11 (read in an extract; the authors from memory). A model engineer's shop is held
    # no better than the trade's, at the 6 to 10 mm row of checks.md. The H7 hole is tried with a
    # plug and so is not in this list.
    [
        ("turned_by_dial", IT8),
        ("turned_with_micrometer", IT8),
        ("bored_by_dial", IT8),
        ("bored_to_a_plug_gauge", IT8),
        ("reamed_by_hand", IT8),
        ("milled_by_dial", IT10),
        ("milled_with_readout", IT10),
        ("drilled_6_to_10_mm", IT11),
        ("drilled_then_opened_out", IT11),
        ("drilled_with_a_hand_drill", IT11),
    ],
)
def test_home_workshop_is_no_better_than_the_trade(name, grade):
    assert width(PROCESSES[name]) >= grade[2] / 1000


def test_small_jet():
    # "blower drill +-0.03 mm": physics-sources.md E.4; the drill itself is a little under (h8).
    assert math.isclose(half_width(PROCESSES["jet_drilled_with_a_pin_vice"]), 0.03)
    assert sum(limits(PROCESSES["jet_drilled_with_a_pin_vice"])) > 0


def test_bought_parts_to_general_tolerances():
    # ISO 2768-1 class m: 0.1 to 3 mm, 0.1 to 6 mm, 0.2 to 30 mm (checks.md, "Tolerances").
    assert half_width(PROCESSES["cnc_part_up_to_6_mm"]) == 0.1
    assert half_width(PROCESSES["cnc_part_6_to_30_mm"]) == 0.2
    # ISO 9013 class 1, sheet over 1 to 3.15 mm: 0.10 to 3 mm, 0.15 to 10 mm, 0.20 to 35 mm
    # (modulusmetal.com table of the standard's limits).
    assert half_width(PROCESSES["laser_cut_part"]) == max(0.10, 0.15, 0.20)


# ASTM B251 wall tolerance, inch, by wall (statistics-sources.md 6.4, H&H Tube data sheet):
# wall over, to, tolerance for 1/32 to 1/8 in outside, tolerance for over 1/8 to 5/8 in.
B251_WALL = [
    ("0.000", "0.017", "0.002", "0.001"),
    ("0.017", "0.024", "0.003", "0.002"),
    ("0.024", "0.034", "0.003", "0.0025"),
    ("0.034", "0.057", "0.003", "0.003"),
    ("0.057", "0.082", None, "0.0035"),
]


def b251_share(wall, column):
    """Tolerance as a share of the wall (mm), in the row of ASTM B251 the wall falls in."""
    inches = wall / INCH
    row = next(row for row in B251_WALL if float(row[0]) < inches <= float(row[1]))
    return float(row[column]) / inches


def test_bought_tube_outside_diameter():
    # ASTM B251, mean outside diameter: 0.002 in to 1/8 in and from there to 5/8 in (6.4).
    value = half_width(PROCESSES["bought_copper_tube_outside_diameter"])
    assert value == pytest.approx(0.002 * INCH, abs=0.0005)


def test_bought_tube_wall_holds_every_row_of_the_standard():
    share = half_width(PROCESSES["bought_copper_tube_wall"]) / 100
    walls = [0.25 + 0.01 * step for step in range(120)]
    worst = max(b251_share(wall, 3) for wall in walls)
    assert worst <= share < worst + 0.01
    assert b251_share(0.5, 3) == pytest.approx(0.10, abs=0.005)  # as its basis says
    share = half_width(PROCESSES["bought_small_copper_tube_wall"]) / 100
    walls = [0.30 + 0.01 * step for step in range(60)]
    worst = max(b251_share(wall, 2) for wall in walls)
    assert worst <= share < worst + 0.01


def test_bought_tube_bore_follows_from_outside_and_wall():
    """Bore = D - 2 w. The triangle spans the worst case and has at least the exact variance.

    D and w rectangular with half-widths a and b: variance (a^2 + 4 b^2)/3; triangular with
    half-width c: c^2/6 (JCGM 101:2008, table 1: statistics-sources.md 1.1).
    """
    bore = PROCESSES["bought_copper_tube_bore"]
    c = half_width(bore)
    a, b = 0.002 * INCH, 0.002 * INCH  # ASTM B251, wall over 0.017 to 0.024 in
    assert bore["shape"] == "triangular"
    assert a + 2 * b <= c < 1.15 * (a + 2 * b)
    assert 1.0 <= (c**2 / 6) / ((a**2 + 4 * b**2) / 3) < 1.2


def test_thread_pitch_error_still_screws_together():
    """An error of pitch over the length engaged takes sqrt(3) of itself from the pitch diameter.

    ISO metric flanks stand at 30 degrees to the radial: cot 30 deg = sqrt(3) (ISO 68-1, ISO 965-1,
    from memory). M3 x 0.5, 6H: 0.100 mm (Yamawa catalogue 2021 p. 646, table of ISO limits);
    engagement to 4.5 mm counts as normal (ISO 965-1, from memory).
    """
    share = half_width(PROCESSES["tapped_thread_pitch"]) / 100
    allowed = 0.100 / math.sqrt(3) / 4.5
    assert share < allowed < 1.5 * share
    assert share / allowed == pytest.approx(4 / 5, abs=0.03)  # "four fifths", as its basis says


@pytest.mark.parametrize(
    ("name", "permissible"),
    [
        # DIN 862 (extract, scribd.com 564783692): vernier 0.05 mm 50 um, digital 20 um at 100 mm;
        # 20 um more for inside and depth.
        ("vernier_caliper", 0.050),
        ("digital_caliper", 0.020),
        ("caliper_depth_rod", 0.040),
        ("caliper_inside_jaws", 0.040),
        # DIN 863 (the same extract): 4 um, 0 to 25 mm; 5 um of reading to half a division.
        ("micrometer", 0.009),
        # Measuring Instruments Regulations 2016, schedule 1I: a + bL = 0.1 + 0.1 x 1 mm, class I.
        ("steel_rule", 0.2),
        # Half a step and class ZZ 0.005 mm (pin makers' tables of ASME B89.1.5).
        ("pin_gauges_in_0_05_mm_steps", 0.025 + 0.005),
        ("pin_gauges_in_0_01_mm_steps", 0.005 + 0.005),
        # Half a step of 0.1 mm and a drill to h8 that may be 0.018 mm under at 3 to 6 mm.
        ("drill_shanks", 0.05 + 0.018),
        # Half a step of 0.05 mm; the blades' own error on top.
        ("feeler_gauges", 0.025),
    ],
)
def test_instrument_is_no_better_than_its_standard(name, permissible):
    value = half_width(INSTRUMENTS[name])
    assert permissible <= value + 1e-12
    assert value <= 2.5 * permissible


def test_angles_of_instruments():
    # A vernier of 5 minutes of arc: 5/60 degree, and the hand on top.
    assert half_width(INSTRUMENTS["vernier_bevel_protractor"]) > Fraction(5, 60)
    # 0.5 mm in a metre is 0.029 degree, as builders' levels are sold (sourcebyspec.com).
    vial = math.degrees(math.atan(0.5 / 1000))
    assert vial == pytest.approx(0.029, abs=0.0005)
    assert vial < half_width(INSTRUMENTS["level_and_surface_plate"]) < 2 * vial


def test_weighing_the_burner():
    # "weigh the burner for ten minutes: doubt falls ... to about 3 %": physics.md, "Burn rate".
    assert half_width(INSTRUMENTS["weighing"]) == 3


def test_a_depth_rule_reads_no_better_than_a_rule_and_worse_than_a_rod():
    """Half a division of half a millimetre, as on a steel rule; its crosspiece on top."""
    assert half_width(INSTRUMENTS["steel_rule"]) <= half_width(INSTRUMENTS["depth_rule"])
    assert half_width(INSTRUMENTS["depth_rule"]) < 2 * half_width(INSTRUMENTS["steel_rule"])
    assert half_width(INSTRUMENTS["depth_rule"]) > half_width(INSTRUMENTS["caliper_depth_rod"])
