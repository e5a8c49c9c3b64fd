"""A user's own code at its worst: a message with its line, and never a wrong number."""

import json
import os
import subprocess
import sys

import numpy as np
import pytest

from sensitivity.errors import ModelError, ModelFileError
from sensitivity.system.catalogue import companion, find_models, installed_model, models_in_file
from sensitivity.system.system import wire
from tests.strategies import GOOD, MODELS

HEAD = """\
from typing import Annotated, NamedTuple
import datetime
import decimal
import numpy as np

class Out(NamedTuple):
    found: Annotated[float, "mm", "what is found"]

def model(a: Annotated[float, "mm", "a length"] = 1.0) -> Out:
"""
POINTS = np.array([1.0, 2.0, 3.0])


def system_of(folder, body, name="mine.py"):
    path = folder / name
    path.write_text(HEAD + "\n".join(f"    {line}" for line in body.splitlines()) + "\n")
    return wire(find_models(("model",), (str(path),)))


# --- what is returned ---------------------------------------------------------------------------


def test_masked_values_have_no_answer(tmp_path):
    system = system_of(tmp_path, "return Out(np.ma.masked_greater(a, 1.5))")
    np.testing.assert_array_equal(system.evaluate({"a": POINTS})["found"], [1.0, np.nan, np.nan])


def test_masked_whole_numbers_and_the_masked_constant_have_no_answer(tmp_path):
    system = system_of(tmp_path, "return Out(np.ma.array([1, 2, 3], mask=[0, 1, 0]))")
    np.testing.assert_array_equal(system.evaluate({"a": POINTS})["found"], [1.0, np.nan, 3.0])
    system = system_of(tmp_path, "return Out(np.ma.masked)", "other.py")
    assert np.isnan(system.evaluate({"a": POINTS})["found"])


@pytest.mark.usefixtures("no_figures")
def test_masked_value_does_not_pass_a_limit(run_command, write_study, tmp_path, finished):
    path = tmp_path / "pins.py"
    masked = "return PinFit(np.ma.masked_greater(play, 0.25),"
    path.write_text(MODELS.replace("return PinFit(play,", masked))
    ran = run_command("run", write_study(), "--model-file", path, "--json")
    assert ran.exit_code == 0, ran.stderr
    document = json.loads(ran.stdout)
    assert document["invalid"] > 0
    plain = finished.document["outputs"]["play"]["yield"]["estimate"]
    assert document["outputs"]["play"]["yield"]["estimate"] < plain - 0.1


@pytest.mark.parametrize(
    ("body", "found"),
    [
        ("return Out(np.full(3, np.datetime64('2020-01-01')))", "datetime64"),
        ("return Out(np.full(3, np.timedelta64(5, 's')))", "timedelta64"),
        ("return Out(datetime.datetime(2020, 1, 1))", "datetime"),
        ("return Out(np.array([1.0, 2.0, 3.0], dtype=object))", "object"),
        ("return Out(decimal.Decimal(3))", "Decimal"),
        ("return Out(a.astype(complex))", "complex128"),
        ("return Out(np.array([1j, None, 2]))", "object"),
        ("return Out('3.5')", "str"),
        ("return Out(np.array(['1', '2', '3']))", "str"),
        ("return Out({1.0, 2.0, 3.0})", "set"),
        ("return Out(a.astype('V8'))", "void"),
    ],
)
def test_what_is_no_number_is_refused(tmp_path, body, found):
    with pytest.raises(ModelError, match=rf'"found": found {found}.*not numbers'):
        system_of(tmp_path, body).evaluate({"a": POINTS})


def test_quantity_with_a_unit_of_its_own_is_refused(tmp_path):
    body = "import pint\nreturn Out(pint.UnitRegistry().Quantity(a, 'inch'))"
    with pytest.raises(ModelError, match=r'"found": found a quantity.*"mm"'):
        system_of(tmp_path, body).evaluate({"a": POINTS})


# --- what is raised -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("body", "says"),
    [
        ("a = a + 0\nraise ValueError('no such bore')", "ValueError: no such bore"),
        ("import sys\nsys.exit('gone')", "SystemExit: gone"),
        ("class Odd(BaseException): pass\nraise Odd('odd')", "Odd: odd"),
        (
            "def deeper():\n    return np.linalg.inv(np.zeros((2, 2)))\nreturn deeper()",
            "LinAlgError",
        ),
        ("class Bad(Exception):\n    def __str__(self): raise OSError\nraise Bad", "Bad: "),
        (
            "class Lazy:\n    @property\n    def found(self): raise GeneratorExit\nreturn Lazy()",
            "GeneratorExit",
        ),
    ],
    ids=["error", "exit", "its own", "in a library", "no text", "late"],
)
def test_what_a_model_raises_is_told_with_its_line(tmp_path, body, says):
    line = len((HEAD + body).splitlines()) - (1 if "return " in body else 0)
    with pytest.raises(ModelError, match=says) as told:
        system_of(tmp_path, body).evaluate({"a": POINTS})
    assert f"(line {line} of mine.py)" in str(told.value)


@pytest.mark.parametrize("raises", ["raise SystemExit(3)", "raise GeneratorExit", "1 / 0"])
def test_what_a_model_file_raises_is_told_with_its_line(tmp_path, raises):
    path = tmp_path / "mine.py"
    path.write_text(f"import os\n\n{raises}\n")
    with pytest.raises(ModelFileError, match=r"\(line 3 of mine\.py\)"):
        models_in_file(str(path))


def test_annotation_that_leaves_is_refused(tmp_path):
    path = tmp_path / "mine.py"
    path.write_text(
        "from __future__ import annotations\nimport sys\n\ndef f(a: sys.exit(0)) -> int: ...\n"
    )
    with pytest.raises(ModelFileError, match="SystemExit"):
        models_in_file(str(path))


def test_model_that_leaves_is_a_message_of_the_command(run_command, write_study, tmp_path):
    path = tmp_path / "pins.py"
    path.write_text(
        MODELS.replace("    play = hole *", "    raise GeneratorExit\n    play = hole *")
    )
    ran = run_command("check", write_study(), "--model-file", path)
    assert (ran.exit_code, ran.stdout) == (2, "")
    assert "GeneratorExit" in ran.stderr
    assert "of pins.py)" in ran.stderr


# --- the same call ------------------------------------------------------------------------------

FORGETFUL = {
    "random": "play = hole * np.random.default_rng().normal(1.0, 1e-3) *",
    "counts": "global CALLS\n    CALLS = globals().get('CALLS', 0) + 1\n    play = CALLS + hole *",
}


@pytest.mark.parametrize("way", FORGETFUL)
@pytest.mark.parametrize("command", ["run", "check", "tighten"])
def test_model_that_answers_differently_is_noticed(
    run_command, write_study, tmp_path, way, command
):
    path = tmp_path / "pins.py"
    path.write_text(MODELS.replace("play = hole *", FORGETFUL[way], 1))
    ran = run_command(command, write_study(), "--model-file", path)
    assert (ran.exit_code, ran.stdout) == (2, "")
    assert 'model "pin_fit"' in ran.stderr
    assert "answers differently to the same call" in ran.stderr
    assert sorted(each.name for each in tmp_path.iterdir() if each.is_dir()) in (
        [],
        ["__pycache__"],
    )


# --- files and packages -------------------------------------------------------------------------


def test_files_of_one_stem_do_not_hide_each_other(tmp_path):
    models = []
    for place, factor in (("one", 2.0), ("two", 3.0)):
        (tmp_path / place).mkdir()
        path = tmp_path / place / "mine.py"
        text = HEAD.replace("def model", f"def {place}") + "    return Out(helper(a))\n\n"
        path.write_text(
            text
            + f"def helper(a):\n    return {factor} * a\n\n"
            + f"def {place}_figure(axes):\n    return {factor}\n"
        )
        models += find_models((place,), (str(path),))
    for model, factor in zip(models, (2.0, 3.0), strict=True):
        assert model.function(POINTS).found == pytest.approx(factor * POINTS)
        assert companion(model, "figure")(None) == factor


def test_another_package_of_the_name_models_is_not_run(tmp_path):
    (tmp_path / "models").mkdir()
    (tmp_path / "models" / "__init__.py").write_text("print('it was run')\n")
    (tmp_path / "models" / "pipe_run.py").write_text("print('it was run')\n")
    done = subprocess.run(
        [sys.executable, "-m", "sensitivity", "models", "stepped_pipe"],
        env=os.environ | {"PYTHONPATH": str(tmp_path)}, cwd=tmp_path.parent,
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (2, "")
    assert "it was run" not in done.stderr
    for words in ('another package "models"', str(tmp_path / "models"), "PYTHONPATH"):
        assert words in done.stderr


def test_models_that_come_with_it_are_its_own():
    assert installed_model("stepped_pipe").origin == "models.pipe_run:stepped_pipe"


def test_study_and_model_file_whose_names_are_not_utf_8(tmp_path):
    for name, text in ((b"caf\xe9.toml", GOOD), (b"caf\xe9.py", MODELS)):
        with open(os.fsencode(tmp_path) + b"/" + name, "w", encoding="utf-8") as stream:
            stream.write(text)
    (tmp_path / "good.toml").write_text(GOOD)
    (tmp_path / "good.py").write_text(MODELS)
    for words in ([b"caf\xe9.toml", "--model-file", "good.py"],
                  ["good.toml", "--model-file", b"caf\xe9.py"],
                  ["good.toml", "--model-file", "good.py", "--out", b"caf\xe9"]):  # fmt: skip
        done = subprocess.run(
            [sys.executable, "-m", "sensitivity", "run", *words],
            cwd=tmp_path, capture_output=True, check=False,
        )  # fmt: skip
        assert (done.returncode, done.stdout) == (2, b"")
        assert b"is not UTF-8" in done.stderr
        assert b"Traceback" not in done.stderr
    assert len(list(tmp_path.iterdir())) == 4 + (tmp_path / "__pycache__").exists()


# --- what is drawn ------------------------------------------------------------------------------


@pytest.mark.parametrize("raises", ["raise SystemExit(0)", "raise GeneratorExit", "1 / 0"])
def test_answer_survives_a_figure_and_a_drawing_that_fail(
    run_command, write_study, tmp_path, raises
):
    path = tmp_path / "pins.py"
    figure = f"\n\ndef pin_fit_figure(axes, nominal, sample):\n    print('here')\n    {raises}\n"
    drawing = f"\n\ndef pin_fit_drawing(design):\n    {raises}\n"
    path.write_text(MODELS + figure + drawing)
    ran = run_command("run", write_study(), "--model-file", path, "--json")
    assert ran.exit_code == 0
    assert json.loads(ran.stdout)["seed"] == 1
    assert (tmp_path / "study-results" / "report.html").exists()
    last = len(path.read_text().splitlines())
    for what, line in (("figure", last - 4), ("drawing", last)):
        assert f'the {what} of model "pin_fit" raised' in ran.stderr
        assert f"(line {line} of pins.py); it is left out" in ran.stderr


# --- where it stands ----------------------------------------------------------------------------

OWN = """\
from typing import Annotated, NamedTuple


class Answer(NamedTuple):
    margin: Annotated[float, "mm", "what is left"]


def mine(
    height: Annotated[float, "mm", "a height", "> 0"] = 12.0,
    drop: Annotated[float, "mm", "a drop"] = 2.0,
) -> Answer:
    return Answer(height - drop)
"""


@pytest.mark.parametrize(
    ("before", "after", "line", "says"),
    [
        ('"mm", "a drop"', '"furlong", "a drop"', 10, '"furlong" is not a unit'),
        ('"mm", "what is left"', '"mm"', 5, 'annotate "margin"'),
        ('Annotated[float, "mm", "a drop"]', "float", 10, 'annotate "drop"'),
        ('"> 0"', '"positive"', 9, 'range "positive"'),
        ("= 12.0", "= -1.0", 9, "should be > 0"),
        ("= 2.0", '= "2 mm"', 10, "must be a number, its unit stands in the annotation"),
        (" -> Answer", "", 8, "-> Answer"),
        ("height - drop)", "height - drop", 12, "SyntaxError: '(' was never closed"),
        ("import Annotated", "import Anotated", 1, "ImportError"),
        ("Annotated[float", "Anotated[float", 5, "NameError"),
    ],
)
def test_what_a_file_lacks_is_told_with_its_line(tmp_path, before, after, line, says):
    path = tmp_path / "mine.py"
    path.write_text(OWN.replace(before, after, 1))
    with pytest.raises(ModelFileError) as told:
        models_in_file(str(path))
    assert f"(line {line} of mine.py)" in str(told.value)
    assert says in str(told.value)


def test_a_name_that_stands_twice_is_told(tmp_path):
    twice = tmp_path / "twice.py"
    twice.write_text(OWN + OWN.partition("\n\n\n")[2].partition("\n\n\n")[2])
    with pytest.raises(ModelFileError, match=r"defined at line 8 and again at line 13 of twice"):
        models_in_file(str(twice))


def test_a_choice_for_one_value_is_told_how_to_choose_for_many(tmp_path):
    with pytest.raises(ModelError, match=r"line 10 of mine\.py\).*np\.where"):
        system_of(tmp_path, "if a > 1: a = 1\nreturn Out(a)").evaluate({"a": POINTS})


def test_a_figure_and_a_drawing_that_fail_are_warnings(run_command, write_study, tmp_path):
    path = tmp_path / "pins.py"
    path.write_text(
        MODELS
        + '\n\ndef pin_fit_figure(axes, nominal, parts):\n    """Play."""\n    axes.plott(1)\n'
        + '\n\ndef pin_fit_drawing():\n    """A pin."""\n'
    )
    lines = path.read_text().splitlines()
    ran = run_command("run", write_study(), "--model-file", path, "--points", 64, "--out", "there")
    assert ran.exit_code == 0
    plott, drawing = lines.index("    axes.plott(1)") + 1, lines.index("def pin_fit_drawing():") + 1
    assert f"(line {plott} of pins.py); it is left out" in ran.stderr
    assert f"(line {drawing} of pins.py); it is left out" in ran.stderr
    assert (tmp_path / "there" / "report.html").is_file()
