"""Reading a study: every fault with its line, key, what was found and what is right, all at once.

A study with faults marks each faulty line with ``# here``: that is where the message must point.
"""

import numpy as np
import pytest

from sensitivity.errors import StudyError
from sensitivity.study import caps
from sensitivity.study.file import read_study
from sensitivity.study.study import Limit
from tests.strategies import GOOD

HEAD = 'title = "x"\nmodels = ["pin_fit"]\n'
HOLE = '[inputs.hole]\nnominal = "10 mm"\n'


@pytest.fixture
def faults_of(write_study, model_file):
    """Read a study that must be refused; return its faults."""

    def refuse(text):
        path = write_study(text)
        with pytest.raises(StudyError) as refused:
            read_study(path, [str(model_file)])
        assert refused.value.exit_status == 2
        assert str(refused.value).startswith(f"{path}: {len(refused.value.faults)} fault")
        return refused.value.faults

    return refuse


def lines_marked(text):
    return [number for number, line in enumerate(text.splitlines(), 1) if "# here" in line]


# (what is wrong, the study, key, what the message must say: found, right or nearest)
FAULTS = [
    ("top key", 'tilte = "x" # here\n', "tilte", ["unknown key", '"title"']),
    ("title a number", "title = 3 # here\n", "title", ["found 3", "text in quotes"]),
    ("input key", HOLE + "plusminus = 1 # here\n", "inputs.hole.plusminus", ['"plus_minus"']),
    ("limit key", '[limits.play]\nat_leest = "0 mm" # here\n', "limits.play.at_leest",
     ["unknown key", '"at_least"']),
    ("sampling key", "[sampling]\nreplicate = 9 # here\n", "sampling.replicate", ['"replicates"']),
    ("correlation key",
     "[[correlations]]\ninputs = ['hole', 'pin']\nrank = 0.5\nwhy = 'x' # here\n",
     "correlations.0.why", ["unknown key", "because"]),
    ("unknown input", "[inputs.hoel] # here\nnominal = '10 mm'\n", "inputs.hoel",
     ["no model takes", '"hole"']),
    ("a result as input", "[inputs.play] # here\nnominal = '1 mm'\n", "inputs.play",
     ['computed by the model "pin_fit"']),
    ("unknown result", "[limits.plai] # here\nat_least = '0 mm'\n", "limits.plai",
     ["no model computes", '"play"']),
    ("limit on an input", "[limits.hole] # here\nat_least = '0 mm'\n", "limits.hole",
     ["no model computes"]),
    ("unit of a nominal", "[inputs.hole]\nnominal = '10 g' # here\n", "inputs.hole.nominal",
     ['"g" does not convert to "mm"']),
    ("unknown unit", "[inputs.hole]\nnominal = '10 inchs' # here\n", "inputs.hole.nominal",
     ["inchs", '"inches"']),
    ("no unit", "[inputs.hole]\nnominal = 10.3 # here\n", "inputs.hole.nominal",
     ["10.3 has no unit", '"10.3 mm"']),
    ("nominal outside its range", "[inputs.hole]\nnominal = '-10 mm' # here\n",
     "inputs.hole.nominal", ["found -10 mm", "> 0"]),
    ("nominal on an open end", "[inputs.hole]\nnominal = '0 mm' # here\n", "inputs.hole.nominal",
     ["found 0 mm", "> 0"]),
    ("nominal above its range", "[inputs.share]\nnominal = 1.01 # here\n", "inputs.share.nominal",
     ["found 1.01", "0..1"]),
    ("nominal a list", "[inputs.hole]\nnominal = ['10 mm'] # here\n", "inputs.hole.nominal",
     ["['10 mm']", '"10.3 mm"']),
    ("nominal a date", "[inputs.hole]\nnominal = 1979-05-27 # here\n", "inputs.hole.nominal",
     ["1979", '"10.3 mm"']),
    ("nominal a truth", "[inputs.hole]\nnominal = true # here\n", "inputs.hole.nominal",
     ["True", '"10.3 mm"']),
    ("input a number", "[inputs]\nhole = 3 # here\n", "inputs.hole", ["found 3", "a table"]),
    ("unit of a limit", "[limits.play]\nat_least = '1 ml' # here\n", "limits.play.at_least",
     ['"ml" does not convert to "mm"']),
    ("limit without ends", "[limits.play] # here\nbecause = 'x'\n", "limits.play",
     ["at_least", "at_most"]),
    ("limits reversed", "[limits.play]\nat_least = '1 mm'\nat_most = '0.5 mm' # here\n",
     "limits.play.at_most", ["reversed", "1", "0.5"]),
    ("limits that leave nothing", "[limits.play]\nat_least = '1 mm'\nat_most = '1 mm' # here\n",
     "limits.play.at_most", ["1 mm"]),
    ("kind", HOLE + "kind = 'built' # here\n", "inputs.hole.kind", ["'built'", "'build'"]),
    ("shape", HOLE + "plus_minus = '0.1 mm'\nshape = 'gaussian' # here\n", "inputs.hole.shape",
     ["'gaussian'", "'normal'"]),
    ("basis a number", HOLE + "basis = 3 # here\n", "inputs.hole.basis", ["found 3", "text"]),
    ("adjust reversed", HOLE + "adjust = ['13 mm', '8 mm'] # here\n", "inputs.hole.adjust",
     ["13 mm", "lower"]),
    ("adjust in another unit", HOLE + "adjust = ['8 K', '13 K'] # here\n", "inputs.hole.adjust",
     ['"K" does not convert']),
    ("adjust of one", HOLE + "adjust = ['8 mm'] # here\n", "inputs.hole.adjust",
     ["two quantities", '["8 mm", "13 mm"]']),
    ("points", "[sampling]\npoints = 100 # here\n", "sampling.points",
     ["found 100", "power of two"]),
    ("points too few", "[sampling]\npoints = 32 # here\n", "sampling.points", ["found 32", "64"]),
    ("points too many", "[sampling]\npoints = 2097152 # here\n", "sampling.points", ["1048576"]),
    ("points a fraction", "[sampling]\npoints = 64.5 # here\n", "sampling.points",
     ["64.5", "power of two"]),
    ("replicates", "[sampling]\nreplicates = 7 # here\n", "sampling.replicates",
     ["found 7", "at least 8"]),
    ("max_replicates", "[sampling]\nmax_replicates = 7 # here\n", "sampling.max_replicates",
     ["found 7", "at least 8"]),
    ("replicates a fraction", "[sampling]\nreplicates = 8.5 # here\n", "sampling.replicates",
     ["8.5", "whole number"]),
    ("seed below zero", "[sampling]\nseed = -1 # here\n", "sampling.seed", ["-1", "at least 0"]),
    ("confidence 95", "[sampling]\nconfidence = 95 # here\n", "sampling.confidence",
     ["95", "below 1"]),
    ("target", "[sampling]\ntarget_half_width = 0.0 # here\n", "sampling.target_half_width",
     ["0", "above 0"]),
    ("sampling a list", "sampling = [] # here\n", "sampling", ["a table"]),
    ("inputs a number", "inputs = 3 # here\n", "inputs", ["found 3", "[inputs.name]"]),
    ("inputs a list", "inputs = [3] # here\n", "inputs", ["[inputs.name]"]),
    ("inputs a word", "inputs = 'hole' # here\n", "inputs", ["[inputs.name]"]),
    ("limits a number", "limits = 3 # here\n", "limits", ["[limits.name]"]),
    ("correlations a number", "correlations = 3 # here\n", "correlations", ["[[correlations]]"]),
    ("correlations a table", "[correlations] # here\nrank = 1\n", "correlations",
     ["[[correlations]]"]),
    ("schedule a number", "schedule = 3 # here\n", "schedule", ["[[schedule]]"]),
    ("schedule that nothing runs through", "[[schedule]] # here\nstep = 'up'\n", "schedule",
     ["none of these models"]),
]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "key", "says"), [case[1:] for case in FAULTS], ids=[case[0] for case in FAULTS]
)
def test_fault_names_line_key_found_and_right(faults_of, text, key, says):
    text = ("models = ['pin_fit']\n" if text.startswith(("title", "tilte")) else HEAD) + text
    (fault,) = faults_of(text)
    if key == "schedule":  # a list of tables may be named with its place
        assert fault.key.startswith(key)
    else:
        assert fault.key == key
    assert fault.line == lines_marked(text)[0]
    for words in says:
        assert words in fault.problem


BAD_MODELS = [
    ("no models", "title = 'x'\n", ["is missing", 'models = ["fuel_level"]']),
    ("empty list", "models = [] # here\n", ['models = ["fuel_level"]']),
    ("a word", "models = 'pin_fit' # here\n", ['models = ["fuel_level"]']),
    ("numbers", "models = [3] # here\n", ['models = ["fuel_level"]']),
    ("unknown", "models = ['pin_fits'] # here\n", ["pin_fits", '"pin_fit"', "--model-file"]),
    ("twice", "models = ['pin_fit', 'pin_fit'] # here\n", ["named twice", "pin_fit"]),
    ("two unknown", "models = ['pin_fits', 'bolts'] # here\n", ['"pin_fit"', '"bolt"']),
]


@pytest.mark.parametrize(
    ("text", "says"), [case[1:] for case in BAD_MODELS], ids=[case[0] for case in BAD_MODELS]
)
def test_models_that_are_not_there(faults_of, text, says):
    (fault,) = faults_of(text)
    assert fault.key == "models"
    assert fault.line == (lines_marked(text) or [None])[0]
    for words in says:
        assert words in fault.problem


def test_input_without_default_has_to_be_stated(faults_of):
    (fault,) = faults_of("models = ['bolt']\n")
    assert fault.key == "inputs.length"
    assert "no default" in fault.problem
    assert "free length" in fault.problem
    assert "mm" in fault.problem
    (fault,) = faults_of("models = ['bolt']\n[inputs.length] # here\nbasis = 'x'\n")
    assert (fault.key, fault.line) == ("inputs.length", 2)
    assert 'nominal = "1 mm"' in fault.problem


@pytest.mark.parametrize("value", ["inf", "-inf", "nan"])
@pytest.mark.parametrize("key", ["nominal", "plus_minus", "standard_deviation", "measured"])
def test_no_number_may_be_infinite(faults_of, key, value):
    text = f"{HEAD}[inputs.share]\n{key} = {value} # here\n"
    fault = next(fault for fault in faults_of(text) if fault.key == f"inputs.share.{key}")
    assert fault.line == lines_marked(text)[0]
    assert value.strip("-") in fault.problem
    assert "finite" in fault.problem


# --- correlations -------------------------------------------------------------------------------

VARY = HEAD + "".join(
    f"[inputs.{name}]\nnominal = '{size} mm'\nplus_minus = '0.1 mm'\n"
    for name, size in (("hole", 10), ("pin", 9), ("depth", 20))
)


def correlated(first, second, rank):
    return f"[[correlations]]\ninputs = ['{first}', '{second}'] # here\nrank = {rank}\n"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (correlated("hole", "hole", 0.5), ["itself", "two inputs"]),
        (correlated("hole", "pni", 0.5), ['"pni"', '"pin"']),
        (correlated("hole", "warmth", 0.5), ['"warmth" does not vary']),
        ("[[correlations]]\ninputs = 'hole' # here\nrank = 0.5\n", ["two inputs", "hole"]),
        ("[[correlations]]\ninputs = ['hole'] # here\nrank = 0.5\n", ["two inputs"]),
        ("[[correlations]]\ninputs = ['hole', 3] # here\nrank = 0.5\n", ["two inputs"]),
    ],
)
def test_inputs_that_cannot_be_correlated(faults_of, text, says):
    (fault,) = faults_of(VARY + text)
    assert fault.key == "correlations.0.inputs"
    assert fault.line == lines_marked(VARY + text)[0]
    for words in says:
        assert words in fault.problem


@pytest.mark.parametrize("rank", ["1.0", "-1", "1.5", "'high'", "nan"])
def test_rank_outside_its_range(faults_of, rank):
    text = f"{VARY}[[correlations]]\ninputs = ['hole', 'pin']\nrank = {rank} # here\n"
    (fault,) = faults_of(text)
    assert (fault.key, fault.line) == ("correlations.0.rank", lines_marked(text)[0])


def test_pair_correlated_twice(faults_of):
    text = (
        VARY + correlated("hole", "pin", 0.5).replace("# here", "") + correlated("pin", "hole", 0.4)
    )
    (fault,) = faults_of(text)
    assert (fault.key, fault.line) == ("correlations.1.inputs", lines_marked(text)[0])
    assert "already" in fault.problem


def test_ranks_that_contradict_each_other_are_named(faults_of):
    text = (
        VARY + correlated("hole", "pin", 0.9) + correlated("pin", "depth", 0.9)
        + correlated("hole", "depth", -0.9)
    )  # fmt: skip
    (fault,) = faults_of(text)
    assert fault.key.startswith("correlations")
    for words in ("hole with pin 0.9", "pin with depth 0.9", "hole with depth -0.9"):
        assert words in fault.problem
    assert "not positive definite" in fault.problem
    assert fault.line in lines_marked(text) or fault.line - 1 in lines_marked(text)


def test_faulty_input_is_not_also_said_not_to_vary(faults_of):
    text = VARY.replace("plus_minus = '0.1 mm'\n[inputs.pin]", "plus_minus = '0.1 K'\n[inputs.pin]")
    assert [fault.key for fault in faults_of(text + correlated("hole", "pin", 0.5))] == [
        "inputs.hole.plus_minus"
    ]


# --- all at once --------------------------------------------------------------------------------

MANY = """\
titel = "x" # here
models = ["pin_fit"]
[inputs.hole]
nominal = "10 g" # here
[inputs.pin]
plusminus = "0.1 mm" # here
[inputs.hoel] # here
nominal = "1 mm"
[inputs.share]
nominal = 2.0 # here
[inputs.warmth]
nominal = "20 degC"
plus_minus = "5 degC" # here
[limits.play]
at_least = "1 s" # here
[limits.leen] # here
at_most = "1 deg"
[[correlations]]
inputs = ["hole", "hole"] # here
rank = 0.5
"""


def test_all_faults_at_once_in_the_order_of_the_file(faults_of):
    found = faults_of(MANY)
    assert sorted({fault.line for fault in found}) == lines_marked(MANY)
    assert [fault.line for fault in found] == sorted(fault.line for fault in found)


def test_fault_of_the_sampling_does_not_hide_the_others(faults_of):
    text = MANY + "[sampling]\npoints = 100 # here\n"
    assert sorted({fault.line for fault in faults_of(text)}) == lines_marked(text)


def test_unknown_model_does_not_hide_faults_of_form(faults_of):
    text = (
        'models = ["pin_fits"] # here\n[inputs.hole]\nplusminus = 3 # here\n'
        "[sampling]\npoints = 9 # here\n"
    )
    assert sorted({fault.line for fault in faults_of(text)}) == lines_marked(text)


@pytest.mark.parametrize(
    "table",
    [
        "nominal = '10 g' # here\nplusminus = '0.1 mm' # here\n",
        "nominal = '10 g' # here\nplus_minus = '5 K' # here\n",
        "nominal = '10 g' # here\nadjust = ['8 K', '9 K'] # here\n",
        "nominal = '10 mm'\nplus_minus = '5 K' # here\nadjust = ['8 K', '9 K'] # here\n",
        "nominal = '10 mm'\nkind = 'built' # here\nplus_minus = '5 K' # here\n",
    ],
    ids=["key and unit", "both units", "unit and range", "spread and range", "kind and unit"],
)
def test_both_faults_of_one_input(faults_of, table):
    text = f"{HEAD}[inputs.hole]\n{table}"
    assert sorted({fault.line for fault in faults_of(text)}) == lines_marked(text)


def test_unknown_input_with_a_fault_inside(faults_of):
    text = f"{HEAD}[inputs.hoel] # here\nplusminus = '0.1 mm' # here\n"
    assert sorted({fault.line for fault in faults_of(text)}) == lines_marked(text)


def test_fault_behind_and_in_a_long_value_has_its_line(faults_of):
    text = HEAD + f'{HOLE}basis = "{"x" * 3000}"\nkind = "{"y" * 3000}" # here\n'
    text += f'plus_minus = "{"9" * 3000} mm" # here\n'
    assert sorted({fault.line for fault in faults_of(text)}) == lines_marked(text)


PARTLY = """\
models = ["pin_fit", "pin_fits"] # here
[inputs.hole]
nominal = "10 g" # here
[inputs.pin]
nominal = "9.8 mm"
plus_minus = "0 mm" # here
[inputs.of_the_unknown]
nominal = "3 ml/min"
plus_minus = "1 mm" # here
basis = 3 # here
[inputs.of_it_too]
nominal = "3 mm"
process = "reamed_by_hnad" # here
[inputs.of_no_nominal]
plus_minus = "0.1 mm"
[inputs.held_by_it]
nominal = "3 inchs" # here
[inputs.share]
nominal = 1.5 # here
[limits.play]
at_least = "1 s" # here
[limits.computed_by_it]
at_least = "2 mm"
at_most = "1 mm" # here
[limits.computed_too]
at_least = "20 degC"
[limits.nothing] # here
because = "x"
[[correlations]]
inputs = ["hole", "hole"] # here
rank = 0.5
[[correlations]]
inputs = ["of_no_nominal", "of_it_too"]
rank = 0.5
[[correlations]]
inputs = ["nowhere", "pin"] # here
rank = 0.5
"""


def test_unknown_model_hides_no_other_fault(faults_of):
    assert sorted({fault.line for fault in faults_of(PARTLY)}) == lines_marked(PARTLY)


@pytest.mark.parametrize("models", ["['pin_fits']", "['pin_fit', 'pin_fit']", "[]", "3"])
def test_no_model_at_all_hides_no_other_fault(faults_of, models):
    text = PARTLY.replace('["pin_fit", "pin_fits"]', models)
    wanted = set(lines_marked(text))
    if "'pin_fit'" not in models:  # then nobody knows what these are in
        wanted -= {text[: text.index(words)].count("\n") + 1 for words in ("10 g", "1.5", "1 s")}
    assert {fault.line for fault in faults_of(text)} == wanted


def test_models_that_cannot_be_joined_hide_no_other_fault(faults_of, tmp_path):
    models = "models = ['pin_fit', 'rattle_heard', 'bolt'] # here\n"
    text = f"{models}[inputs.hole]\nnominal = '10 g' # here\n[[schedule]] # here\nstep = 'up'\n"
    found = faults_of(text.replace("] # here", "]", 1))
    assert {fault.key for fault in found} == {"inputs.hole.nominal", "inputs.length", "schedule"}


# --- how much a study may have ------------------------------------------------------------------


def correlations(count):
    return "".join(
        f"[[correlations]]{' # here' if n == caps.MOST_CORRELATIONS else ''}\n"
        f"inputs = ['hole', 'pin{n}']\nrank = 0.1\n"
        for n in range(count)
    )


TOO_MUCH = [
    ("inputs", HEAD + "".join(f"[inputs.x{n}]\nnominal = 1\n" for n in range(201)),
     "inputs.x200", "201 inputs; at most 200"),
    ("limits", HEAD + "".join(f"[limits.x{n}]\nat_least = 1\n" for n in range(101)),
     "limits.x100", "101 limits; at most 100"),
    ("correlations", HEAD + correlations(201), "correlations.200", "201 correlations; at most 200"),
    ("steps", HEAD + "".join(f"[[schedule]]\nstep = 's{n}'\n" for n in range(61)),
     "schedule.60", "61 steps; at most 60"),
    ("inputs of steps",
     HEAD + "".join(f"[[schedule]]\nstep = 's{n}'\na=1\nb=1\nc=1\nd=1\n" for n in range(60)),
     "schedule", "240 inputs with those of its steps; at most 200"),
    ("models", f"models = {[f'm{n}' for n in range(51)]}\n", "models",
     "51 models; at most 50"),
    ("title", HEAD.replace('"x"', f'"{"x" * 501}"'), "title", "at most 500 characters"),
    ("basis", HEAD + f"[inputs.hole]\nbasis = '{'x' * 5001}'\n", "inputs.hole.basis",
     "at most 5000 characters"),
    ("step", HEAD + f"[[schedule]]\nstep = '{'x' * 101}'\n", "schedule.0.step",
     "at most 100 characters"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "key", "says"), [case[1:] for case in TOO_MUCH], ids=[case[0] for case in TOO_MUCH]
)
def test_more_than_a_study_has_is_refused(faults_of, text, key, says):
    fault = next(fault for fault in faults_of(text) if says in fault.problem)
    assert fault.key == key
    assert fault.line is not None


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (HEAD + "".join(f"key{n} = 1\n" for n in range(5000)), "more than 3,000 keys"),
        (HEAD + "a" + ".a" * 50_000 + " = 1\n", "more than 8 parts"),
        (HEAD + "x" + " . y" * 470 + "\n", "more than 8 parts"),
        (HEAD + "title" + "[" * 20 + "\n", "not TOML"),
        (HEAD + "x = " + "[" * 20 + "\n", "more than 16 deep"),
        (HEAD + "#" * caps.LARGEST_STUDY, "larger than 128 KiB"),
        (HEAD + "x = 0x" + "f" * 5000, "more than 1,000 characters"),
    ],
)
def test_text_past_all_bounds_is_one_fault(faults_of, text, says):
    (fault,) = faults_of(text)
    assert says in fault.problem


def test_thousands_of_faults_are_counted_and_a_hundred_listed(write_study, model_file):
    text = HEAD + "".join(f"key{n} = 1\n" for n in range(2500))
    with pytest.raises(StudyError, match="2500 faults") as refused:
        read_study(write_study(text), [str(model_file)])
    assert len(refused.value.faults) == 2500
    assert str(refused.value).endswith("and 2,400 more")


def test_line_that_is_no_toml_is_quoted_of_a_study_alone(tmp_path):
    path = tmp_path / "environ"
    path.write_text("SECRET=hunter2")
    with pytest.raises(StudyError, match="not TOML") as refused:
        read_study(path)
    assert "hunter2" not in str(refused.value)


def test_a_study_is_named_by_text_or_path(write_study, model_file):
    path = write_study(GOOD)
    assert (
        read_study(str(path), [str(model_file)]).inputs
        == read_study(path, [str(model_file)]).inputs
    )


# --- a study is its fields ----------------------------------------------------------------------


def test_fields_that_were_once_read_from_the_text(read):
    study = read(GOOD)
    assert (study.models, study.units) == (("pin_fit",), "mm")
    both = read("models = ['rattle_heard', 'pin_fit']\n[limits.play]\nat_least = '2 thou'\n")
    assert both.models == ("rattle_heard", "pin_fit")
    assert [model.name for model in both.system.models] == ["pin_fit", "rattle_heard"]
    assert both.units == "inch"


@pytest.mark.parametrize(
    ("line", "units"),
    [
        ("nominal = '25/64 in'", "inch"),
        ("nominal = '25/64\"'", "inch"),
        ("nominal = '394 thou'", "inch"),
        ("adjust = ['0.3in', '0.4in']", "inch"),
        ("nominal = '1 cm'", "mm"),
        ("basis = '3 in'", "mm"),
    ],
)
def test_units_are_those_of_the_quantities(read, line, units):
    assert read(f"{HEAD}[inputs.hole]\n{line}\n").units == units


def test_origin_of_each_spread(read):
    study = read(GOOD + "[inputs.depth]\nnominal = '20 mm'\n")
    assert {item.name: item.origin for item in study.inputs} == {
        "hole": "plus_minus", "pin": "plus_minus", "warmth": "between",
        "tilt": "standard_deviation", "depth": "held", "share": "held", "flow": "held",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("limit", "met", "margin"),
    [
        (Limit("x", "mm", at_least=1.0), [False, True, True, True, False], [-1, 0, 1, 2, np.nan]),
        (Limit("x", "mm", at_most=2.0), [True, True, True, False, False], [2, 1, 0, -1, np.nan]),
        (Limit("x", "mm", 1.0, 2.0), [False, True, True, False, False], [-1, 0, 0, -1, np.nan]),
    ],
)
def test_limit_met_and_margin(limit, met, margin):
    values = np.array([0.0, 1.0, 2.0, 3.0, np.nan])
    assert limit.met(values).tolist() == met
    assert limit.margin(values) == pytest.approx(np.array(margin), nan_ok=True)
    assert len(limit.margins(values)) == sum(
        end is not None for end in (limit.at_least, limit.at_most)
    )
    assert [bool(limit.met(float(value))) for value in values] == met


def test_fault_of_an_input_in_dotted_keys_has_its_line(faults_of):
    text = f"inputs.hoel.nominal = '10 mm' # here\n{HEAD}"
    (fault,) = faults_of(text)
    assert (fault.key, fault.line) == ("inputs.hoel", 1)


# --- what is right ------------------------------------------------------------------------------


def test_good_study_is_read_whole(read):
    study = read(GOOD)
    assert (study.title, study.name, study.text) == ("A pin in a hole", "study", GOOD)
    assert [item.name for item in study.varying] == ["hole", "pin", "warmth", "tilt"]
    assert {item.name for item in study.inputs} == {
        "hole", "pin", "warmth", "tilt", "depth", "share", "flow",
    }  # fmt: skip
    kinds = {item.name: item.kind for item in study.inputs}
    assert (kinds["hole"], kinds["warmth"], kinds["tilt"]) == ("build", "running", "model")
    assert {limit.result: (limit.at_least, limit.at_most) for limit in study.limits} == {
        "play": (0.05, None),
        "lean": (None, 1.2),
    }
    assert study.limits[0].because == "a tight pin seizes"
    sampling = study.sampling
    assert (sampling.seed, sampling.replicates, sampling.points) == (1, 8, 64)
    assert (sampling.confidence, sampling.target_half_width) == (0.95, None)


def test_defaults_of_the_sampling(read):
    sampling = read(HEAD).sampling
    assert (sampling.seed, sampling.replicates, sampling.points) == (None, 16, 2048)


def test_title_is_the_files_name_where_none_is_stated(read):
    assert read("models = ['pin_fit']\n").title == "study"


def test_limit_in_another_unit(read):
    (limit,) = read(HEAD + "[limits.play]\nat_least = '2 thou'\nat_most = '1/64 in'\n").limits
    assert (limit.at_least, limit.at_most) == pytest.approx((0.0508, 25.4 / 64))
    assert limit.unit == "mm"


def test_input_held_at_another_nominal(read):
    held = next(item for item in read(HEAD + "[inputs.depth]\nnominal = '1 in'\n").inputs)
    assert (held.name, held.nominal, held.spread) == ("depth", 25.4, None)


def test_adjust_is_read_in_the_models_unit(read):
    text = HEAD + "[inputs.hole]\nadjust = ['1/4 in', '13 mm']\n"
    assert next(iter(read(text).inputs)).adjust == pytest.approx((6.35, 13.0))


def test_study_with_a_byte_order_mark_and_windows_lines(write_study, model_file):
    path = write_study("")
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert read_study(path, [str(model_file)]).title == "A pin in a hole"
