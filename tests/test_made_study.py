"""A study built in Python is the study of the file that says the same, faults and all."""

import pickle
from dataclasses import replace
from typing import Annotated, NamedTuple

import pytest

from sensitivity.engine.monte_carlo import run_replicates
from sensitivity.engine.plan import plan_run
from sensitivity.errors import ModelFileError, StudyError
from sensitivity.study import statements as say
from sensitivity.study.file import read_study
from sensitivity.study.made import make_study
from tests.strategies import GOOD

INPUTS = {
    "hole": say.rectangular("10 mm", plus_minus="0.2 mm", basis="drilled"),
    "pin": say.normal("9.8 mm", plus_minus="0.1 mm", kind="build", basis="turned by dial"),
    "warmth": say.between("5 degC", "40 degC", nominal="20 degC", kind="running"),
    "tilt": say.normal("0 deg", standard_deviation="0.1 deg", kind="model"),
}
LIMITS = [
    say.limit("play", at_least="0.05 mm", because="a tight pin seizes"),
    say.limit("lean", at_most="1.2 deg", because="a leaning pin wears"),
]
SAMPLING = {"seed": 1, "replicates": 8, "points": 64}


@pytest.fixture
def make(model_file):
    def make_one(**changed):
        stated = {
            "title": "A pin in a hole", "models": ["pin_fit"], "inputs": INPUTS,
            "limits": LIMITS, "sampling": SAMPLING, "model_files": [str(model_file)],
        }  # fmt: skip
        return make_study(**(stated | changed))

    return make_one


def test_same_study_as_the_file(make, read):
    in_file = read(GOOD)
    # A rectangular half-width is stated there without its shape, and said the same.
    assert replace(make(), text=GOOD) == in_file


def test_same_passes_as_the_file_to_the_last_burner(make, read):
    one, other = (
        [summary.passes_all for summary in run_replicates(plan_run(study))]
        for study in (make(), read(GOOD))
    )
    assert one == other


WAYS = [
    (say.held("10 mm"), "nominal = '10 mm'"),
    (say.held(), ""),
    ("10 mm", "nominal = '10 mm'"),
    (say.rectangular("10 mm", plus_minus="5 thou"),
     "nominal = '10 mm'\nplus_minus = '5 thou'\nshape = 'rectangular'"),
    (say.triangular("10 mm", plus_minus="0.1 mm", group="sizes"),
     "nominal = '10 mm'\nplus_minus = '0.1 mm'\nshape = 'triangular'\ngroup = 'sizes'"),
    (say.arcsine(plus_minus="0.1 mm"), "plus_minus = '0.1 mm'\nshape = 'arcsine'"),
    (say.trapezoidal("10 mm", plus_minus="0.1 mm", flat=0.5),
     "nominal = '10 mm'\nplus_minus = '0.1 mm'\nshape = 'trapezoidal'\nflat = 0.5"),
    (say.normal("10 mm", plus_minus="0.1 mm", coverage_factor=2.0),
     "nominal = '10 mm'\nplus_minus = '0.1 mm'\nshape = 'normal'\ncoverage_factor = 2"),
    (say.between("9 mm", "12 mm", nominal="10 mm", shape="log_uniform"),
     "nominal = '10 mm'\nbetween = ['9 mm', '12 mm']\nshape = 'log_uniform'"),
    (say.lognormal("10 mm", relative="12 %"), "nominal = '10 mm'\nlognormal = '12 %'"),
    (say.iso286("10 mm", "H11"), "nominal = '10 mm'\niso286 = 'H11'"),
    (say.iso2768("10 mm", "m", shape="normal"),
     "nominal = '10 mm'\niso2768 = 'm'\nshape = 'normal'"),
    (say.process("10 mm", "reamed_hole_h7"), "nominal = '10 mm'\nprocess = 'reamed_hole_h7'"),
    (say.measured("10 mm", "10.1 mm", instrument="micrometer"),
     "nominal = '10 mm'\nmeasured = '10.1 mm'\ninstrument = 'micrometer'"),
    (say.samples("10 mm", "pipes.csv:h_mm"), "nominal = '10 mm'\nsamples = 'pipes.csv:h_mm'"),
    (say.held("10 mm", adjust=["9 mm", "11 mm"], kind="running", basis="set"),
     "nominal = '10 mm'\nadjust = ['9 mm', '11 mm']\nkind = 'running'\nbasis = 'set'"),
]  # fmt: skip


@pytest.mark.parametrize(("statement", "keys"), WAYS)
def test_each_way_is_that_of_the_file(make, read, tmp_path, statement, keys):
    (tmp_path / "pipes.csv").write_text("h_mm\n9.9\n9.95\n10\n10.05\n10.2\n")
    in_file = read(f"models = ['pin_fit']\n[inputs.hole]\n{keys}\n")
    made = make(inputs={"hole": statement}, limits=[], sampling={}, title="study", folder=tmp_path)
    assert made.inputs == in_file.inputs
    assert replace(made, text=in_file.text) == in_file


def test_every_fault_at_once_in_the_words_of_the_file(make, write_study, model_file):
    text = (
        "titel = 'x'\nmodels = ['pin_fit']\n[inputs.hole]\nnominal = '10 g'\nplus_minus = '1 mm'\n"
        "shape = 'rectangular'\n[inputs.hoel]\nnominal = '1 mm'\n[limits.play]\nat_least = '1 s'\n"
        "because = ''\n[[correlations]]\ninputs = ['hole', 'hole']\nrank = 0.5\nbecause = ''\n"
        "[sampling]\npoints = 100\n"
    ).removeprefix("titel = 'x'\n")
    with pytest.raises(StudyError) as in_file:
        read_study(write_study(text), [str(model_file)])
    with pytest.raises(StudyError) as in_python:
        make(
            inputs={
                "hole": say.rectangular("10 g", plus_minus="1 mm"), "hoel": say.held("1 mm")
            },
            limits=[say.limit("play", at_least="1 s")],
            correlations=[say.correlation("hole", "hole", rank=0.5)],
            sampling={"points": 100},
        )  # fmt: skip
    said = [(fault.key, fault.problem) for fault in in_python.value.faults]
    assert sorted(said) == sorted((fault.key, fault.problem) for fault in in_file.value.faults)
    assert {fault.line for fault in in_python.value.faults} == {None}
    assert len(said) == 5


def test_limit_stated_twice_is_a_fault(make):
    with pytest.raises(StudyError, match=r"limits\.play: is stated twice"):
        make(limits=[*LIMITS, say.limit("play", at_most="1 mm")])


def test_number_that_python_cannot_write_is_a_fault(make):
    with pytest.raises(StudyError, match="thousands of digits"):
        make(title=10**5000)


# --- functions as models ------------------------------------------------------------------------


class Gap(NamedTuple):
    gap: Annotated[float, "mm", "what is left"]


def gap_left(
    slot: Annotated[float, "mm", "width of the slot", "> 0"] = 5.0,
    bar: Annotated[float, "mm", "width of the bar", "> 0"] = 4.0,
) -> Gap:
    """What a bar leaves of a slot."""
    return Gap(slot - bar)


def test_a_function_of_ones_own(make):
    study = make(
        models=[gap_left],
        inputs={"slot": say.normal("5 mm", plus_minus="0.3 mm")},
        limits=[say.limit("gap", at_least="0.9 mm")],
    )
    assert study.models == ("gap_left",)
    assert study.nominal_results() == {"gap": pytest.approx(1.0)}
    summaries = run_replicates(plan_run(study))
    # P(N(1, 0.1) > 0.9) = 0.8413, the normal distribution function at 1.
    share = sum(s.passes_all for s in summaries) / sum(s.rows for s in summaries)
    assert share == pytest.approx(0.8413, abs=0.01)
    assert study.text == ""


def test_a_function_travels_to_another_process(make):
    study = make(models=[gap_left], inputs={}, limits=[])
    again = pickle.loads(pickle.dumps(study.system))
    assert again.evaluate({"slot": 5.0, "bar": 4.5}) == {"gap": 0.5}


def test_an_installed_function_is_the_installed_model(make):
    from importlib.metadata import entry_points

    point = next(iter(entry_points(group="spiritlevel.models")))
    study = make(models=[point.load()], inputs={}, limits=[], model_files=[])
    assert study.models == (point.name,)
    assert study.system.models[0].origin == point.value


def test_functions_of_one_name_and_functions_that_are_no_models(make):
    def gap_left(size: Annotated[float, "mm", "size"] = 1.0) -> Gap:
        return Gap(size)

    with pytest.raises(ModelFileError, match='two functions are called "gap_left"'):
        make(models=[gap_left, globals()["gap_left"]])
    with pytest.raises(ModelFileError, match="annotate"):
        make(models=[lambda x: x])
    with pytest.raises(StudyError, match="named twice"):
        make(models=["pin_fit", "pin_fit"])


def test_steps_of_a_schedule(make, tmp_path):
    models = tmp_path / "climb.py"
    models.write_text(
        "from typing import Annotated, NamedTuple\n"
        "class Top(NamedTuple):\n    top: Annotated[float, 'mm', 'height']\n"
        "def climb(rise: Annotated[float, 'mm', 'rise', '', 'per step'] = 1.0) -> Top:\n"
        "    return Top(rise.sum(axis=0))\n"
    )
    steps = [{"step": "up the bank", "rise": say.rectangular("2 mm", plus_minus="1 mm")},
             {"step": "level", "rise": "0 mm"}, {"step": "stand"}]  # fmt: skip
    study = make(models=["climb"], inputs={}, limits=[], schedule=steps, model_files=[str(models)])
    assert [item.name for item in study.varying] == ["rise.up_the_bank"]
    assert study.varying[0].kind == "running"
    assert study.nominal_results() == {"top": 3.0}
