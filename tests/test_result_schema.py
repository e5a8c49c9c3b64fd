"""The published schema of ``result.json`` holds for every command, and for nothing else.

Judged by jsonschema, a library of its own, under draft 2020-12.
"""

import copy
import json
from importlib.resources import files

import pytest
from jsonschema import Draft202012Validator

from tests.conftest import invoke
from tests.strategies import GOOD

SCHEMA = json.loads(
    (files("sensitivity.presentation") / "schema" / "result.schema.json").read_text("utf-8")
)
JUDGE = Draft202012Validator(SCHEMA)

SET = GOOD.replace("[inputs.pin]\n", '[inputs.pin]\nadjust = ["9.7 mm", "9.9 mm"]\n')
NO_LIMITS = GOOD.partition("[limits.play]")[0] + "\n[sampling]\nseed = 0\npoints = 64\n"
RARE = GOOD.replace('"0.05 mm"', '"-0.1 mm"').replace("1.2 deg", "1.9 deg")
REDRAWN = GOOD.replace("[inputs.hole]\n", '[inputs.hole]\nredraw = ["9.9 mm", "10.4 mm"]\n')

CALLS = {
    "run": (GOOD, "run", "--pairs", "--totals"),
    "run without limits": (NO_LIMITS, "run"),
    "run, rare failures": (RARE, "run"),
    "check": (GOOD, "check"),
    "check without limits": (NO_LIMITS, "check"),
    "window": (GOOD, "window", "hole"),
    "window that none holds": (GOOD, "window", "hole", "--target", "0.999999"),
    "window of two": (GOOD, "window", "hole", "pin"),
    "measure": (GOOD, "measure"),
    "measure what can be set": (SET, "measure"),
    "built": (GOOD, "built", "--measured", "pin=9.81 mm", "--with", "pin=micrometer"),
    "built and set": (SET, "built", "--measured", "hole=10.02 mm", "--with", "hole=steel_rule"),
    "tighten": (GOOD, "tighten"),
    "tighten to a target": (GOOD, "tighten", "--target", "0.9"),
    "tighten by weights": (GOOD, "tighten", "--by-weights"),
    "learn": (SET, "learn", "--seen", "play=broken", "--at", "warmth=20 degC"),
    "learn of what was kept": (GOOD, "learn", "--seen", "play=kept"),
    "redraw": (REDRAWN, "redraw"),
    "redraw without a range": (GOOD, "redraw"),
}


@pytest.fixture(scope="module")
def answer(tmp_path_factory, model_file):
    """What a command answers as JSON; each is asked once."""
    home, heard = tmp_path_factory.mktemp("answers"), {}

    def ask(name):
        if name not in heard:
            text, command, *words = CALLS[name]
            study = home / f"{len(heard)}.toml"
            study.write_text(text, encoding="utf-8")
            if command != "run":
                words.append("--json")
            else:
                words += ["--json", "--out", home / "results"]
            ran = invoke(command, study, *words, "--model-file", model_file)
            assert ran.exit_code == 0, ran.stderr
            heard[name] = json.loads(ran.stdout)
        return copy.deepcopy(heard[name])

    return ask


def faults(document):
    found = []
    for error in JUDGE.iter_errors(document):
        # Of the commands that it might be, the fault is in the one that it says it is.
        inner = [e for e in error.context or () if e.validator != "const"]
        found += [f"{e.json_path}: {e.message[:200]}" for e in inner or [error]]
    return found


def test_schema_is_one():
    Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("name", CALLS)
def test_answer_keeps_to_the_schema(answer, name):
    document = answer(name)
    assert JUDGE.is_valid(document), "\n".join(faults(document))


def test_comparison_keeps_to_the_schema(tmp_path, model_file):
    for name, hole in (("a", "10 mm"), ("b", "9.98 mm")):
        (tmp_path / f"{name}.toml").write_text(GOOD.replace("10 mm", hole), encoding="utf-8")
    ran = invoke(
        "compare", tmp_path / "a.toml", tmp_path / "b.toml", "--json", "--model-file", model_file
    )
    document = json.loads(ran.stdout)
    assert JUDGE.is_valid(document), "\n".join(faults(document))


def spoilt(document, path, value):
    *way, last = path
    for step in way:
        document = document[step]
    if value is None:
        del document[last]
    else:
        document[last] = value


@pytest.mark.parametrize(
    ("name", "path", "value"),
    [
        ("run", ("verdict",), None),
        ("run", ("schema",), 0),
        ("run", ("command",), "walk"),
        ("run", ("command",), "measure"),
        ("run", ("seed",), -1),
        ("run", ("extra",), 1),
        ("run", ("yield", "estimate"), "0.9"),
        ("run", ("yield", "method"), "guess"),
        ("run", ("outputs", "play", "quantiles", "0.5"), None),
        ("run", ("outputs", "play", "worst_case"), [1.0]),
        ("run", ("inputs", "hole", "kind"), "other"),
        ("run", ("inputs", "hole", "colour"), "red"),
        ("check", ("seed",), 1),
        ("window", ("settings", 0, "yield", "rows"), None),
        ("window of two", ("inputs",), []),
        ("built", ("measured", "pin", "verdict"), 3),
        ("tighten to a target", ("set", "reached"), "yes"),
        ("measure", ("steps",), {}),
        ("redraw", ("moves", 0, "open_end"), 1),
        ("learn", ("fault", "suspects", 0, "named"), "yes"),
        ("learn", ("expected", 0, "probability"), 2),
    ],
)
def test_what_is_not_so_is_refused(answer, name, path, value):
    document = answer(name)
    assert JUDGE.is_valid(document)
    spoilt(document, path, value)
    assert not JUDGE.is_valid(document)
