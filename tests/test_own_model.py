"""The example of a model of one's own in DEVELOPERS.md, run as it is printed there."""

import json
import re
from pathlib import Path

import pytest

DEVELOPERS = Path(__file__).parents[1] / "DEVELOPERS.md"

STUDY = """
title  = "lip"
models = ["my_model"]

[inputs.lip_height]
nominal    = "14.6 mm"
plus_minus = "0.3 mm"
basis      = "made up for this test"

[inputs.level]
nominal = "12 mm"
between = ["11 mm", "13 mm"]
basis   = "made up for this test"

[limits.margin]
at_least = "2 mm"
"""


@pytest.fixture
def my_model(at_home):
    section = DEVELOPERS.read_text(encoding="utf-8").partition("\n## Add a model\n")[2]
    printed = re.search(r"```python\n(.*?)```", section, re.S)
    path = at_home / "my_model.py"
    path.write_text(printed[1], encoding="utf-8")
    return path


def test_it_is_told_of_as_any_model(run_command, my_model):
    ran = run_command("models", "my_model", "--model-file", my_model)
    assert (ran.exit_code, ran.stderr) == (0, "")
    flat = " ".join(ran.stdout.split())
    assert "lip above the sump floor; above 0" in flat
    assert "a condition of running, 11 to 13 mm" in flat


@pytest.mark.usefixtures("no_figures")
def test_a_study_runs_on_it(run_command, my_model, write_study):
    # Both are rectangular: margin = 2.6 + a - b, a within 0.3 and b within 1, each way. It is
    # below 2 where b > 0.6 + a: the mean over a of (0.4 - a)/2 is 0.2 of all.
    ran = run_command(
        "run", write_study(STUDY), "--model-file", my_model, "--seed", 1, "--points", 1024, "--json"
    )
    assert ran.exit_code == 0, ran.stderr
    found = json.loads(ran.stdout)["outputs"]["margin"]["yield"]
    assert found["interval"][0] <= 0.8 <= found["interval"][1]
    assert found["estimate"] == pytest.approx(0.8, abs=0.01)
