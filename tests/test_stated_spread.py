"""Every way to state a spread, in millimetres and in inches, and what each refuses."""

import os

import numpy as np
import pytest

from sensitivity.errors import StudyError
from sensitivity.spreads import spread as spreads
from sensitivity.spreads.samples import LARGEST_FILE, MOST_VALUES, MOST_VALUES_OF_A_STUDY
from sensitivity.spreads.statement import WAYS as STATED_WAYS
from sensitivity.spreads.workshop import workshop_table
from sensitivity.study.file import read_study
from tests.strategies import MODELS

HEAD = "models = ['pin_fit']\n"
INCH = 25.4


@pytest.fixture
def spread_of(read):
    """Read the spread of the hole, or of another input, from the keys that state it."""

    def read_one(keys, name="hole"):
        lines = "\n".join(f"{key} = {value}" for key, value in keys.items())
        study = read(f"{HEAD}[inputs.{name}]\n{lines}\n")
        return next(item for item in study.inputs if item.name == name)

    return read_one


@pytest.fixture
def refusal(write_study, model_file):
    """The single fault of an input stated in a wrong way."""

    def refuse(keys, name="hole"):
        lines = "\n".join(f"{key} = {value}" for key, value in keys.items())
        with pytest.raises(StudyError) as refused:
            read_study(write_study(f"{HEAD}[inputs.{name}]\n{lines}\n"), [str(model_file)])
        (fault,) = refused.value.faults
        assert fault.line is not None
        return fault.key.removeprefix(f"inputs.{name}.").removeprefix("inputs."), fault.problem

    return refuse


# (keys in mm, the same in inches, shape, ends of the tolerance box, mean, standard deviation).
# Deviations in closed form: half-width/sqrt(3) rectangular, /sqrt(6) triangular, /sqrt(2) arcsine,
# a sqrt((1 + flat^2)/6) trapezoidal (JCGM 101:2008, 6.4).
HALF = 0.254
WAYS = [
    ({"nominal": "'25.4 mm'", "plus_minus": "'0.254 mm'"},
     {"nominal": "'1 in'", "plus_minus": "'10 thou'"},
     "rectangular", (INCH - HALF, INCH + HALF), INCH, HALF / 3**0.5),
    ({"nominal": "'25.4 mm'", "plus_minus": "'0.254 mm'", "shape": "'normal'"},
     {"nominal": "'1 in'", "plus_minus": "'0.01 in'", "shape": "'normal'"},
     "normal", (INCH - HALF, INCH + HALF), INCH, HALF / 3),
    ({"nominal": "'25.4 mm'", "plus_minus": "'0.254 mm'", "shape": "'normal'",
      "coverage_factor": "2"},
     {"nominal": "'1 in'", "plus_minus": "'10 mil'", "shape": "'normal'", "coverage_factor": "2.0"},
     "normal", (INCH - HALF, INCH + HALF), INCH, HALF / 2),
    ({"nominal": "'25.4 mm'", "plus_minus": "'0.254 mm'", "shape": "'triangular'"},
     {"nominal": "'1 in'", "plus_minus": "'1/100 in'", "shape": "'triangular'"},
     "triangular", (INCH - HALF, INCH + HALF), INCH, HALF / 6**0.5),
    ({"nominal": "'25.4 mm'", "plus_minus": "'0.254 mm'", "shape": "'arcsine'"},
     {"nominal": "'1 in'", "plus_minus": "'10 thou'", "shape": "'arcsine'"},
     "arcsine", (INCH - HALF, INCH + HALF), INCH, HALF / 2**0.5),
    ({"nominal": "'25.4 mm'", "plus_minus": "'0.254 mm'", "shape": "'trapezoidal'", "flat": "0.5"},
     {"nominal": "'1\"'", "plus_minus": "'10 thou'", "shape": "'trapezoidal'", "flat": "0.5"},
     "trapezoidal", (INCH - HALF, INCH + HALF), INCH, HALF * (1.25 / 6) ** 0.5),
    ({"nominal": "'12.7 mm'", "between": "['12.7 mm', '19.05 mm']"},
     {"nominal": "'1/2 in'", "between": "['1/2 in', '3/4 in']"},
     "rectangular", (12.7, 19.05), 15.875, 6.35 / 12**0.5),
    ({"nominal": "'12.7 mm'", "between": "['12.7 mm', '19.05 mm']", "shape": "'triangular'"},
     {"nominal": "'1/2 in'", "between": "['1/2 in', '0.75 in']", "shape": "'triangular'"},
     "triangular", (12.7, 19.05), 12.7 + 6.35 / 3, 6.35 / 18**0.5),
    ({"nominal": "'12.7 mm'", "between": "['12.7 mm', '19.05 mm']", "shape": "'normal'"},
     {"nominal": "'1/2 in'", "between": "['1/2 in', '0.75 in']", "shape": "'normal'"},
     "normal", (12.7, 19.05), 15.875, 6.35 / 6),
    ({"nominal": "'25.4 mm'", "standard_deviation": "'0.254 mm'"},
     {"nominal": "'1 in'", "standard_deviation": "'10 thou'"},
     "normal", (INCH - 3 * HALF, INCH + 3 * HALF), INCH, HALF),
    ({"nominal": "'25.4 mm'", "iso286": "'H11'"}, {"nominal": "'1 in'", "iso286": "'H11'"},
     "rectangular", (INCH, INCH + 0.13), INCH + 0.065, 0.13 / 12**0.5),
    ({"nominal": "'25.4 mm'", "iso286": "'h9'", "shape": "'normal'"},
     {"nominal": "'1 in'", "iso286": "'h9'", "shape": "'normal'"},
     "normal", (INCH - 0.052, INCH), INCH - 0.026, 0.052 / 6),
    ({"nominal": "'25.4 mm'", "iso2768": "'m'"}, {"nominal": "'1 in'", "iso2768": "'m'"},
     "rectangular", (INCH - 0.2, INCH + 0.2), INCH, 0.2 / 3**0.5),
    ({"nominal": "'25.4 mm'", "process": "'reamed_hole_h7'"},
     {"nominal": "'1 in'", "process": "'reamed_hole_h7'"},
     "rectangular", (INCH, INCH + 0.015), INCH + 0.0075, 0.015 / 12**0.5),
    ({"nominal": "'25.4 mm'", "measured": "'25.654 mm'", "instrument": "'micrometer'"},
     {"nominal": "'1 in'", "measured": "'1.01 in'", "instrument": "'micrometer'"},
     "rectangular", (25.644, 25.664), 25.654, 0.01 / 3**0.5),
]  # fmt: skip


@pytest.mark.parametrize("case", WAYS, ids=lambda case: " ".join([*case[0]][1:]) + " " + case[2])
@pytest.mark.parametrize("inches", [False, True], ids=["mm", "in"])
def test_way_to_state_a_spread(spread_of, case, inches):
    in_mm, in_inches, shape, ends, mean, deviation = case
    item = spread_of(in_inches if inches else in_mm)
    assert item.spread.shape == shape
    assert (item.spread.low, item.spread.high) == pytest.approx(ends, rel=1e-9)
    assert item.mean == pytest.approx(mean, rel=1e-9)
    assert item.standard_deviation == pytest.approx(deviation, rel=1e-9)
    assert item.unit == "mm"
    assert item.stated
    assert item.origin == [*in_mm][1]


def test_ways_at_hand_are_those_of_the_interface():
    tested = {key for case in WAYS for key in case[0]} | {"lognormal", "samples"}
    assert set(STATED_WAYS) <= tested


@pytest.mark.parametrize("stated", ["'12 %'", "0.12", "'0.12'"])
def test_lognormal_is_relative_to_its_mean(spread_of, stated):
    item = spread_of({"nominal": "'3 ml/min'", "lognormal": stated}, "flow")
    assert item.standard_deviation / item.mean == pytest.approx(0.12, rel=1e-12)
    assert spreads.quantile(item.spread, np.array([0.5]))[0] == pytest.approx(3.0)


def test_log_uniform_between_its_ends(spread_of):
    item = spread_of({"nominal": "'2 mm'", "between": "['1 mm', '4 mm']", "shape": "'log_uniform'"})
    assert spreads.quantile(item.spread, np.array([0.5]))[0] == pytest.approx(2.0)


def test_iso_2768_of_an_angle_is_by_its_leg(spread_of):
    # ISO 2768-1, class m: 1 deg up to 10 mm of leg, 30' up to 50 mm (from memory).
    plain = spread_of({"nominal": "'0 deg'", "iso2768": "'m'"}, "tilt")
    assert (plain.spread.low, plain.spread.high) == (-1.0, 1.0)
    longer = spread_of({"nominal": "'0 deg'", "iso2768": "'m'", "leg": "'1 in'"}, "tilt")
    assert (longer.spread.low, longer.spread.high) == (-0.5, 0.5)


def test_difference_of_temperature_is_in_kelvin(spread_of, refusal):
    item = spread_of({"nominal": "'20 degC'", "plus_minus": "'5 K'"}, "warmth")
    assert (item.spread.low, item.spread.high) == pytest.approx((15.0, 25.0))
    other = spread_of({"nominal": "'68 degF'", "plus_minus": "'9 degF'"}, "warmth")
    assert (other.spread.low, other.spread.high) == pytest.approx((15.0, 25.0))
    ends = spread_of({"between": "['41 degF', '40 degC']"}, "warmth")
    assert (ends.spread.low, ends.spread.high) == pytest.approx((5.0, 40.0))
    key, problem = refusal({"nominal": "'20 degC'", "plus_minus": "'5 degC'"}, "warmth")
    assert key == "plus_minus"
    assert '"5 K"' in problem


def test_input_without_a_spread_is_held(spread_of):
    item = spread_of({"nominal": "'10 mm'", "basis": "'x'"})
    assert (item.spread, item.standard_deviation, item.mean) == (None, 0.0, 10.0)


@pytest.mark.parametrize("name", workshop_table("process"))
def test_every_process_makes_a_spread(spread_of, name):
    entry = workshop_table("process")[name]
    on, nominal = {
        "length": ("hole", "'8 mm'"),
        "angle": ("tilt", "'1 deg'"),
        "ratio": ("share", "0.5"),
    }[entry.quantity]
    item = spread_of({"nominal": nominal, "process": f"'{name}'"}, on)
    size = item.nominal if entry.relative else 1.0
    assert (item.spread.low, item.spread.high) == pytest.approx(
        (item.nominal + size * entry.low, item.nominal + size * entry.high)
    )
    assert item.process == name


# --- measured values in a file ------------------------------------------------------------------

VALUES = (9.81, 9.93, 10.02, 10.04, 10.05, 10.11, 10.2)


@pytest.mark.parametrize(
    ("column", "factor", "name", "unit", "nominal"),
    [
        ("hole_mm", 1.0, "hole", "mm", "'10 mm'"),
        ("hole_in", INCH, "hole", "mm", "'10 in'"),
        ("left_hole_um", 1e-3, "hole", "mm", "'10 um'"),
        ("tilt_deg", 1.0, "tilt", "deg", "'10 deg'"),
        ("warmth_degC", 1.0, "warmth", "degC", "'10 degC'"),
        ("share_%", 0.01, "share", "", "'10 %'"),
        ("flow_ml/min", 1.0, "flow", "ml/min", "'10 ml/min'"),
        ("flow_l/h", 1000 / 60, "flow", "ml/min", "'10 l/h'"),
    ],
)
def test_samples_from_a_file(spread_of, tmp_path, column, factor, name, unit, nominal):
    rows = "".join(f"{number},{value}\n" for number, value in enumerate(VALUES))
    (tmp_path / "pipes.csv").write_text(f"# measured one evening\npart,{column}\n{rows}\n")
    item = spread_of({"nominal": nominal, "samples": f"'pipes.csv:{column}'"}, name)
    assert item.unit == unit
    assert item.spread.shape == "empirical"
    assert item.mean == pytest.approx(np.mean(VALUES) * factor)
    assert item.standard_deviation == pytest.approx(np.std(VALUES) * factor)
    assert "7 measured" in item.stated


def test_samples_of_a_pure_number_need_no_unit(spread_of, tmp_path):
    (tmp_path / "shares.csv").write_text("open\n0.41\n0.44\n0.48\n0.52\n0.57\n")
    item = spread_of({"samples": "'shares.csv:open'"}, "share")
    assert item.mean == pytest.approx(0.484)


def test_samples_of_a_temperature_take_their_zero_along(spread_of, tmp_path):
    (tmp_path / "evenings.csv").write_text("t_degF\n41\n50\n59\n68\n77\n")
    item = spread_of({"samples": "'evenings.csv:t_degF'"}, "warmth")
    assert item.mean == pytest.approx(15.0)


def test_samples_lie_beside_the_study(model_file, tmp_path, monkeypatch):
    (tmp_path / "away").mkdir()
    (tmp_path / "away" / "pipes.csv").write_text("h_mm\n" + "\n".join(map(str, VALUES)))
    study = tmp_path / "away" / "study.toml"
    study.write_text(HEAD + "[inputs.hole]\nsamples = 'pipes.csv:h_mm'\n")
    monkeypatch.chdir(tmp_path)
    assert read_study(study, [str(model_file)]).varying[0].spread.shape == "empirical"


SECRET = "hunter2"
BAD_FILES = [
    ("no such file", None, "pipes.csv:h_mm", ["pipes.csv", "cannot be read", "no such file"]),
    ("no such column", b"hunter2,hole_mm\n1,1\n2,2\n", "pipes.csv:holl_mm",
     ["holl_mm", "2 that its first line names", "column 2 is nearest"]),
    ("no column named", b"h_mm\n1\n", "pipes.csv", ["pipes.csv:height_mm"]),
    ("column without unit", b"hole\n1\n2\n3\n4\n5\n", "pipes.csv:hole", ["unit", "hole_mm"]),
    ("column of another unit", b"h_g\n1\n2\n3\n4\n5\n", "pipes.csv:h_g", ["does not convert"]),
    ("a word among numbers", b"h_mm\n1\n2\nhunter2\n4\n5\n", "pipes.csv:h_mm",
     ["line 4", "h_mm", "not a number"]),
    ("a gap", b"part,h_mm\na,1\nb,2\nhunter2\nd,4\ne,5\n", "pipes.csv:h_mm",
     ["line 4", "there is nothing"]),
    ("infinite", b"h_mm\n1\n2\ninf\n4\n5\n", "pipes.csv:h_mm", ["line 4", "not a number"]),
    ("not a number", b"h_mm\n1\n2\nnan\n4\n5\n", "pipes.csv:h_mm", ["line 4", "not a number"]),
    ("past all floats", b"h_mm\n1\n2\n1e999\n4\n5\n", "pipes.csv:h_mm", ["line 4", "any size"]),
    ("digits in groups", b"h_mm\n1\n2\n1_000\n4\n5\n", "pipes.csv:h_mm", ["line 4", "number"]),
    ("digits of another script", "h_mm\n1\n2\n\uff19\n4\n5\n".encode(), "pipes.csv:h_mm",
     ["line 4", "not a number"]),
    ("too few", b"h_mm\n1\n2\n3\n4\n", "pipes.csv:h_mm", ["4 values", "at least 5"]),
    ("all the same", b"h_mm\n2\n2\n2\n2\n2\n", "pipes.csv:h_mm", ["all the same"]),
    ("empty", b"", "pipes.csv:h_mm", ["nothing in it"]),
    ("binary", bytes(range(256)), "pipes.csv:h_mm", ["cannot be read", "not text"]),
    ("zeros", b"h_mm\n1\n\x00\n3\n4\n5\n", "pipes.csv:h_mm", ["h_mm", "line 3"]),
    ("a quote that never closes", b'h_mm\n1\n"' + b"2\n" * 4_000, "pipes.csv:h_mm",
     ["pipes.csv", "quotation mark"]),
    ("a folder", None, ".:h_mm", ["cannot be read", "a folder"]),
    # What was misread in silence: 9,9 was 9.
    ("decimal commas", b"h_mm\n9,9\n9,8\n9,7\n9,6\n9,5\n", "pipes.csv:h_mm",
     ["line 2", "2 values", "decimal comma", "semicolon", "point"]),
    ("decimal commas in quotes", b'h_mm\n9.9\n"9,8"\n9.7\n9.6\n9.5\n', "pipes.csv:h_mm",
     ["line 3", "decimal comma", "semicolon"]),
    ("thousands and decimal commas", b"h_mm\n1.009,8\n9,7;\n", "pipes.csv:h_mm", ["line 2"]),
    ("a row longer than the first", b"h_mm,part\n9,a\n9,b,hunter2\n", "pipes.csv:h_mm",
     ["line 3", "3 values", "2 columns"]),
    ("longer in semicolons", b"h_mm;part\n9;a\n9;b;hunter2\n", "pipes.csv:h_mm",
     ["line 3", "3 values", "2 columns"]),
    ("a column named twice", b"h_mm,part,h_mm\n9,a,99\n", "pipes.csv:h_mm",
     ["named twice", "first is 1, then 3"]),
    ("a unit that slipped", b"h_mm\n0.98\n0.99\n1\n1.01\n1.02\n", "pipes.csv:h_mm",
     ["nowhere near the nominal, 10 mm", "slipped"]),
    ("too large", b"# " + b"x" * LARGEST_FILE, "pipes.csv:h_mm", ["cannot be read", "larger than"]),
    ("too many values", b"h_mm\n" + b"9\n" * (MOST_VALUES + 1), "pipes.csv:h_mm",
     ["more than 5,000 rows"]),
    ("too many columns", b"h_mm," * 2000 + b"\n", "pipes.csv:h_mm", ["more than 1,000 columns"]),
]  # fmt: skip


@pytest.mark.parametrize(
    ("content", "samples", "says"), [case[1:] for case in BAD_FILES],
    ids=[case[0] for case in BAD_FILES],
)  # fmt: skip
def test_file_of_samples_that_cannot_be_used(refusal, tmp_path, content, samples, says):
    if content is not None:
        (tmp_path / "pipes.csv").write_bytes(content)
    key, problem = refusal({"samples": f"'{samples}'"})
    assert key == "samples"
    for words in says:
        assert words in problem
    assert len(problem) < 2000
    assert SECRET not in problem  # what stands in a file is never said


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_decimal_commas_between_semicolons_are_read(spread_of, tmp_path, ending):
    rows = ["part;h_mm", *(f"{n};{str(value).replace('.', ',')}" for n, value in enumerate(VALUES))]
    (tmp_path / "pipes.csv").write_bytes((ending.join(rows) + ending).encode())
    item = spread_of({"samples": "'pipes.csv:h_mm'"})
    assert item.mean == pytest.approx(np.mean(VALUES))


def test_values_of_a_whole_study_are_counted(write_study, model_file, tmp_path):
    count = MOST_VALUES_OF_A_STUDY // 2
    (tmp_path / "pipes.csv").write_text("h_mm\n" + "".join(f"9.{n:05}\n" for n in range(count)))
    table = "[inputs.{}]\nsamples = 'pipes.csv:h_mm'\n"
    text = HEAD + "".join(table.format(name) for name in ("hole", "pin"))
    read_study(write_study(text), [str(model_file)])
    with pytest.raises(StudyError, match="more than 10,000 measured values in one study"):
        read_study(write_study(text + table.format("depth")), [str(model_file)])


# --- a study reads its own folder ---------------------------------------------------------------


def outside(tmp_path):
    away = tmp_path.parent / f"{tmp_path.name}_away"
    away.mkdir()
    (away / "pipes.csv").write_text("h_mm\n" + "\n".join(map(str, VALUES)))
    return away


@pytest.mark.parametrize(
    "way", ["absolute", "up", "up and down", "link", "folder linked", "circle"]
)
def test_nothing_outside_the_folder_is_read(refusal, tmp_path, way):
    away = outside(tmp_path)
    (tmp_path / "below").mkdir()
    if way == "link":
        (tmp_path / "link.csv").symlink_to(away / "pipes.csv")
    elif way == "folder linked":
        (tmp_path / "linked").symlink_to(away)
    elif way == "circle":
        (tmp_path / "link.csv").symlink_to(tmp_path / "link.csv")
    name = {
        "absolute": str(away / "pipes.csv"),
        "up": f"../{away.name}/pipes.csv",
        "up and down": f"below/../../{away.name}/pipes.csv",
        "folder linked": "linked/pipes.csv",
    }.get(way, "link.csv")
    key, problem = refusal({"samples": f"'{name}:h_mm'"})
    assert key == "samples"
    assert "cannot be read" in problem
    if way != "circle":
        assert "folder" in problem


def test_a_link_within_the_folder_is_followed(spread_of, tmp_path):
    (tmp_path / "below").mkdir()
    (tmp_path / "below" / "pipes.csv").write_text("h_mm\n" + "\n".join(map(str, VALUES)))
    (tmp_path / "link.csv").symlink_to("below/pipes.csv")
    for name in ("link.csv", "below/pipes.csv"):
        assert spread_of({"samples": f"'{name}:h_mm'"}).mean == pytest.approx(np.mean(VALUES))


def test_a_pipe_that_nobody_writes_to_is_not_waited_for(refusal, tmp_path):
    os.mkfifo(tmp_path / "pipe.csv")
    key, problem = refusal({"samples": "'pipe.csv:h_mm'"})
    assert key == "samples"
    assert "cannot be read" in problem


@pytest.mark.parametrize("name", ["/dev/zero", "/proc/self/environ"])
def test_no_device_and_nobodys_environment(refusal, monkeypatch, name):
    monkeypatch.setenv("SECRET", SECRET)
    key, problem = refusal({"samples": f"'{name}:h_mm'"})
    assert key == "samples"
    assert SECRET not in problem


@pytest.mark.parametrize(
    ("keys", "near"),
    [
        ({"nominal": "'10 mm'", "measured": "'12.1 mm'"}, True),
        ({"nominal": "'10 mm'", "measured": "'121 mm'"}, False),
        ({"nominal": "'10 mm'", "measured": "'1.01 mm'"}, False),
        ({"nominal": "'10 mm'", "measured": "'10 in'"}, False),
        ({"nominal": "'0.02 mm'", "measured": "'0.07 mm'"}, True),  # the instrument cannot tell
    ],
)
def test_reading_nowhere_near_the_nominal_is_told(spread_of, refusal, keys, near):
    keys = keys | {"instrument": "'digital_caliper'"}
    if near:
        assert spread_of(keys).origin == "measured"
        return
    key, problem = refusal(keys)
    assert key == "measured"
    assert "nowhere near the nominal, 10 mm" in problem


def test_file_name_that_no_system_takes(refusal):
    key, _ = refusal({"samples": '"pipes\\u0000.csv:h_mm"'})
    assert key == "samples"


# --- what is refused ----------------------------------------------------------------------------

SIZE = {"nominal": "'10 mm'"}
REFUSED = [
    ("two ways", {"plus_minus": "'1 mm'", "iso2768": "'m'"}, ["plus_minus", "iso2768"],
     ["one way", "plus_minus and iso2768"]),
    ("negative half-width", {"plus_minus": "'-0.1 mm'"}, ["plus_minus"], ["-0.1 mm", "above zero"]),
    ("no half-width", {"plus_minus": "'0 mm'"}, ["plus_minus"], ["0 mm", "above zero"]),
    ("negative deviation", {"standard_deviation": "'-1 mm'"}, ["standard_deviation"],
     ["-1 mm", "above zero"]),
    ("no deviation", {"standard_deviation": "'0 mm'"}, ["standard_deviation"], ["above zero"]),
    ("negative share", {"lognormal": "'-12 %'"}, ["lognormal"], ["-12 %", "above zero"]),
    ("reversed", {"between": "['11 mm', '9 mm']"}, ["between"], ["11 mm", "9 mm", "below"]),
    ("no width", {"between": "['10 mm', '10 mm']"}, ["between"], ["below"]),
    ("nominal left out", {"between": "['11 mm', '12 mm']"}, ["between"], ["11 mm", "nominal 10"]),
    ("three ends", {"between": "['9 mm', '10 mm', '11 mm']"}, ["between"], ["two quantities"]),
    ("another unit", {"plus_minus": "'1 deg'"}, ["plus_minus"], ['"deg" does not convert to "mm"']),
    ("no unit", {"plus_minus": "0.1"}, ["plus_minus"], ["no unit", '"0.1 mm"']),
    ("per cent of a length", {"plus_minus": "'5 %'"}, ["plus_minus"], ["does not convert"]),
    ("trapezoid without its top", {"plus_minus": "'1 mm'", "shape": "'trapezoidal'"}, ["shape"],
     ["flat = 0.5"]),
    ("flat of another shape", {"plus_minus": "'1 mm'", "flat": "0.5"}, ["flat"], ["trapezoidal"]),
    ("flat above one", {"plus_minus": "'1 mm'", "shape": "'trapezoidal'", "flat": "1.5"}, ["flat"],
     ["1.5", "at most 1"]),
    ("coverage of another shape", {"plus_minus": "'1 mm'", "coverage_factor": "2"},
     ["coverage_factor"], ["normal"]),
    ("no coverage", {"plus_minus": "'1 mm'", "shape": "'normal'", "coverage_factor": "0"},
     ["coverage_factor"], ["above 0"]),
    ("shape of nothing", {"shape": "'normal'"}, ["shape"], ["plus_minus"]),
    ("shape of a deviation", {"standard_deviation": "'1 mm'", "shape": "'normal'"}, ["shape"],
     ["plus_minus"]),
    ("log-uniform through nothing", {"between": "['0 mm', '20 mm']", "shape": "'log_uniform'"},
     ["shape"], ["above zero"]),
    ("class of ISO 286", {"iso286": "'g6'"}, ["iso286"], ["g6", "H11"]),
    ("class of ISO 2768", {"iso2768": "'M'"}, ["iso2768"], ["M", '"m"']),
    ("leg of a length", {"iso2768": "'m'", "leg": "'20 mm'"}, ["leg"], ["angle"]),
    ("unknown process", {"process": "'reamed_by_hnad'"}, ["process"],
     ["reamed_by_hnad", '"reamed_by_hand"', "spiritlevel processes"]),
    ("process of another quantity", {"process": "'bent_by_eye'"}, ["process"],
     ["bent_by_eye", "angle", '"mm"']),
    ("measured with nothing", {"measured": "'10 mm'"}, ["measured", "instrument"],
     ["with what", "micrometer"]),
    ("instrument without a reading", {"instrument": "'micrometer'"}, ["instrument"], ["measured"]),
    ("unknown instrument", {"measured": "'10 mm'", "instrument": "'micrometre'"}, ["instrument"],
     ["micrometre", '"micrometer"']),
    ("instrument of another quantity", {"measured": "'10 mm'", "instrument": "'protractor'"},
     ["instrument"], ["protractor", "angle"]),
    ("reading in another unit", {"measured": "'10 g'", "instrument": "'micrometer'"}, ["measured"],
     ["does not convert"]),
]  # fmt: skip


@pytest.mark.parametrize(
    ("keys", "at", "says"), [case[1:] for case in REFUSED], ids=[case[0] for case in REFUSED]
)
def test_statement_that_is_refused(refusal, keys, at, says):
    key, problem = refusal(SIZE | keys)
    assert key in at
    for words in says:
        assert words in problem


@pytest.mark.parametrize(
    ("keys", "at"),
    [
        ({"plus_minus": "'1 mm'", "shape": "'trapezoidal'", "flat": "'half'"}, "flat"),
        ({"plus_minus": "true", "shape": "'normal'"}, "plus_minus"),
        ({"plus_minus": "'1 mm'", "shape": "'gaussian'", "coverage_factor": "2"}, "shape"),
        ({"measured": "[3]", "instrument": "'micrometer'"}, "measured"),
        ({"measured": "'10 mm'", "instrument": "3"}, "instrument"),
        ({"iso2768": "3", "shape": "'normal'"}, "iso2768"),
    ],
)
def test_fault_of_one_key_is_not_blamed_on_its_companion(refusal, keys, at):
    key, _ = refusal(SIZE | keys)
    assert key == at


def test_leg_in_another_unit_is_a_fault_of_the_leg(refusal):
    key, problem = refusal({"nominal": "'0 deg'", "iso2768": "'m'", "leg": "'3 K'"}, "tilt")
    assert key == "leg"
    assert "does not convert" in problem


@pytest.mark.parametrize("shape", ["normal", "rectangular", "triangular", "arcsine", "log_uniform"])
def test_half_width_that_vanishes_beside_the_nominal_is_no_spread(refusal, shape):
    # 10 mm and 1e-20 mm are 10 mm in floating point: a spread of no width, to be divided by.
    key, problem = refusal(SIZE | {"plus_minus": "'1e-20 mm'", "shape": f"'{shape}'"})
    assert key == "plus_minus"
    assert "1e-20 mm" in problem


@pytest.mark.parametrize("keys", [{"process": "'tapped_thread_pitch'"}, {"lognormal": "'12 %'"}])
def test_share_of_nothing_is_no_spread(write_study, tmp_path, keys):
    models = tmp_path / "loose.py"
    models.write_text(MODELS.replace('"bore of the hole", "> 0"', '"bore of the hole"'))
    lines = "\n".join(f"{key} = {value}" for key, value in keys.items())
    path = write_study(f"{HEAD}[inputs.hole]\nnominal = '0 mm'\n{lines}\n")
    with pytest.raises(StudyError) as refused:
        read_study(path, [str(models)])
    assert refused.value.faults[0].key == f"inputs.hole.{next(iter(keys))}"


@pytest.mark.parametrize(
    "keys",
    [
        {"nominal": "'10 mm'", "lognormal": "'1e200'"},
        {"nominal": "'1e308 mm'", "plus_minus": "'1e308 mm'"},
        {"nominal": "'10 mm'", "standard_deviation": "'1e308 mm'"},
        {"nominal": "'10 mm'", "plus_minus": "'1 mm'", "shape": "'normal'",
         "coverage_factor": "1e-320"},
        {"nominal": "'10 mm'", "lognormal": "'1e150'"},
    ],
    ids=["share squared", "sum", "three deviations", "no coverage", "lognormal of all sizes"],
)  # fmt: skip
def test_spread_that_leaves_the_floating_point_numbers_is_refused(write_study, model_file, keys):
    lines = "\n".join(f"{key} = {value}" for key, value in keys.items())
    with pytest.raises(StudyError):
        read_study(write_study(f"{HEAD}[inputs.hole]\n{lines}\n"), [str(model_file)])
