"""spiritlevel from Python: the public names, and what every answer gives a notebook."""

import json
import runpy
import subprocess
import sys
from pathlib import Path
from typing import Annotated, NamedTuple

import pandas as pd
import pytest

import sensitivity as sl
from sensitivity.presentation.json_values import to_json
from tests.strategies import GOOD

ROOT = Path(__file__).parents[1]
OPTIONS = sl.RunOptions(seed=1, workers=1)
ANSWERS = {
    "run": sl.run,
    "check": lambda study, options: sl.check(study),
    "window": lambda study, options: sl.window(study, "hole", options=options),
    "window_map": lambda study, options: sl.window(study, "hole", "pin", options=options),
    "measure": sl.measure,
    "tighten": lambda study, options: sl.tighten(study, target=0.9, options=options),
    "redraw": sl.redraw,
    "learn": lambda study, options: sl.learn(study, seen={"play": "kept"}, options=options),
    "built": lambda study, options: sl.built(
        study,
        measured={"hole": "10.02 mm"},
        instruments={"hole": "digital_caliper"},
        options=options,
    ),
    "compare": lambda study, options: sl.compare(study, study, options=options),
}


@pytest.fixture(scope="module")
def good(tmp_path_factory):
    from tests.strategies import MODELS

    folder = tmp_path_factory.mktemp("python")
    (folder / "pins.py").write_text(MODELS, encoding="utf-8")
    (folder / "good.toml").write_text(GOOD, encoding="utf-8")
    return sl.read_study(folder / "good.toml", (str(folder / "pins.py"),))


@pytest.fixture(scope="module", params=ANSWERS)
def answer(request, good):
    return ANSWERS[request.param](good, options=OPTIONS)


class Fit(NamedTuple):
    gap: Annotated[float, "mm", "bore less shaft"]


def fit(bore: Annotated[float, "mm", "bore", "> 0"] = 10.1) -> Fit:
    """A bore on a shaft of 10 mm."""
    return Fit(bore - 10.0)


def made():
    return sl.Study(
        models=[fit],
        inputs={"bore": sl.normal("10.1 mm", plus_minus="0.08 mm")},
        limits=[sl.limit("gap", at_least="0.05 mm")],
        sampling={"replicates": 8, "points": 64},
    )


def test_every_public_name_is_there_and_none_else():
    assert all(callable(getattr(sl, name)) for name in sl.__all__)
    assert set(dir(sl)) == {*sl.__all__, "__version__"}
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = sl.nothing


def test_the_package_loads_nothing_until_it_is_asked():
    code = "import sys, sensitivity; sys.exit('numpy' in sys.modules or 'pint' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False).returncode == 0


def test_an_answer_says_what_it_is_in_one_line(answer):
    text = repr(answer)
    assert "\n" not in text
    assert len(text) < 120
    assert answer.verdict


def test_tables_are_frames_with_their_units(answer):
    tables = answer.tables()
    assert tables
    for table in tables.values():
        assert isinstance(table, pd.DataFrame)
        assert set(table.attrs["units"]) <= set(table.columns)


def test_a_notebook_shows_verdict_and_main_table(answer):
    html = answer._repr_html_()
    assert "<table" in html
    assert answer.verdict.split()[0] in html


def test_figures_are_svg_with_words(answer):
    for figure in answer.figures().values():
        assert figure._repr_svg_().startswith("<svg")
        assert figure.words


def test_the_folder_is_that_of_the_command(answer, tmp_path):
    folder = answer.save(tmp_path / "answer")
    saved = json.loads((folder / "result.json").read_text("utf-8"))
    assert saved["command"] == answer.command
    assert saved["verdict"] == answer.verdict
    assert {path.stem for path in (folder / "tables").glob("*.csv")} == {
        name for name, table in answer.tables().items() if len(table)
    }


def test_command_and_function_write_the_same_json(good, tmp_path, run_command):
    for name, text in (("pins.py", None), ("good.toml", GOOD)):
        source = text
        if source is None:
            from tests.strategies import MODELS

            source = MODELS
        (tmp_path / name).write_text(source, encoding="utf-8")
    out = tmp_path / "there"
    words = ["--model-file", tmp_path / "pins.py", "--seed", 1, "--workers", 1, "--out", out]
    assert run_command("run", tmp_path / "good.toml", *words).exit_code == 0
    found = sl.run(good, options=OPTIONS).to_dict()
    assert json.loads((out / "result.json").read_text("utf-8")) == json.loads(to_json(found))


def test_worked_example_runs(capsys):
    runpy.run_path(str(ROOT / "studies" / "from_python.py"))
    assert "Of 100 burners built as stated" in capsys.readouterr().out


def test_a_study_without_a_file_leaves_none(tmp_path):
    folder = sl.run(made(), options=OPTIONS).save(tmp_path / "made")
    assert not list(folder.glob("*.toml"))
    assert "built in Python" in (folder / "report.html").read_text("utf-8")
