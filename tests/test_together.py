"""Which models go together and which exclude each other, and how the catalogue says so."""

import re
from typing import Annotated, NamedTuple

import pytest

from sensitivity.errors import WiringError
from sensitivity.system.catalogue import available_models, find_models, function_model
from sensitivity.system.system import wire
from sensitivity.system.together import exclusive, takes_from
from tests.conftest import invoke

INSTALLED = available_models()
SIZE = Annotated[float, "mm", "a size"]


class Low(NamedTuple):
    low: SIZE


class High(NamedTuple):
    high: SIZE


class Both(NamedTuple):
    low: SIZE
    high: SIZE


def test_of_a_set_that_excludes_each_other_no_two_can_be_wired():
    sets = exclusive(INSTALLED)
    assert ("bent_pipe", "laid_pipe", "stepped_pipe") in sets
    for names in sets:
        for second in names[1:]:
            with pytest.raises(WiringError):
                wire(find_models((names[0], second), ()))


@pytest.mark.parametrize("model", INSTALLED, ids=lambda model: model.name)
def test_what_a_model_is_said_to_take_it_takes_when_wired(model):
    """The wiring itself is the witness: with a supplier beside it, an input is asked no more."""
    for names in takes_from(model, INSTALLED):
        for name in names:
            asked = {quantity.name for quantity in wire((model,)).inputs}
            both = wire((model, *find_models((name,), ())))
            supplied = asked - {quantity.name for quantity in both.inputs}
            assert supplied, (model.name, name)
            given = {result.name for result in find_models((name,), ())[0].results}
            assert supplied <= given


def test_three_that_exclude_each_other_but_for_two_are_two_sets():
    def made(name, result):
        def function(drawn=1.0):
            return None

        function.__name__ = name
        function.__annotations__ = {"drawn": SIZE, "return": result}
        return function_model(function)

    models = [made("a", Low), made("b", Both), made("c", High)]
    assert exclusive(models) == [("a", "b"), ("b", "c")]


def test_what_another_model_supplies_is_not_listed_as_to_be_given(run_command, monkeypatch):
    monkeypatch.setenv("COLUMNS", "300")
    told = run_command("models", "wicks").stdout
    given, supplied = told.split("Inputs that another model supplies")
    for name in ("flood_margin", "wick_starve_margin", "sump_starve_margin"):
        assert not re.search(rf"^{name} ", given, re.MULTILINE)
        assert re.search(rf"^{name} .* supplied by fuel_level: ", supplied, re.MULTILINE)
    assert re.search(r"^wick_pitch ", given, re.MULTILINE)


def test_the_list_says_which_to_take_together_and_which_one_of(run_command, monkeypatch):
    monkeypatch.setenv("COLUMNS", "300")
    told = run_command("models").stdout
    assert re.search(r"^surge_margin +tank_surge, wicks *$", told, re.MULTILINE)
    assert "Only one of these in a study, for they give the same: bent_pipe, laid_pipe" in told


METRIC = re.compile(r"(?<![A-Za-z])(?:mm|cm)2?(?![A-Za-z0-9])")


@pytest.mark.parametrize("name", [model.name for model in INSTALLED])
def test_a_model_is_said_in_inches_where_they_are_asked_for(name):
    ran = invoke("models", name, "--units", "inch")
    told = ran.stdout.split("How it is computed")[0].split("Inputs")[1]
    assert METRIC.findall(told) == []


def test_the_workshop_is_said_in_inches_where_they_are_asked_for(run_command):
    told = run_command("processes", "--units", "inch").stdout
    said = re.findall(r"^ {6}(?:±|−?[\d.]+ to)[^\n]*", told, re.MULTILINE)
    assert len(said) > 60
    assert [line for line in said if METRIC.search(line)] == []
    # 0.25 mm is 9.84 thou; 25 mm is 0.984 in.
    assert "± 9.8 thou" in said[0]
    assert "0 to 25 mm (0 to 0.98 in), by its ratchet" in " ".join(told.split())


@pytest.mark.parametrize("call", [("models",), ("processes",), ("new", "fuel_level")])
def test_other_units_are_refused(run_command, call):
    ran = run_command(*call, "--units", "furlong")
    assert ran.exit_code == 2
    assert 'found "furlong"; write mm or inch' in ran.stderr


def test_wicks_alone_say_whose_the_margins_at_the_first_wick_are(tmp_path):
    """Another model computes them; where a study joins it, or states them, nothing is said."""
    path = tmp_path / "alone.toml"
    asked = invoke("new", "wicks", "--out", str(path)).stdout
    assert "flood margin, wick starve margin and sump starve margin: neither asked for" in asked
    assert "among the models: fuel_level." in asked
    text = re.sub(r'nominal = ""  # like (.*)', r"nominal = \1", path.read_text(encoding="utf-8"))
    assert "# Neither asked for nor computed here" in text
    path.write_text(text, encoding="utf-8")
    told = invoke("check", str(path)).stdout
    assert "flood margin 1.5 mm" in " ".join(told.split())
    assert "fuel_level among the models would compute them" in " ".join(told.split())
    margins = ("flood_margin", "wick_starve_margin", "sump_starve_margin")
    stated = "".join(f'[inputs.{name}]\nnominal = "2 mm"\n' for name in margins)
    path.write_text(f"{text}\n{stated}", encoding="utf-8")
    assert "Neither computed" not in invoke("check", str(path)).stdout
    assert "Neither" not in invoke("new", "fuel_level", "wicks").stdout
