"""What the installed models declare of their arguments: kind, honest spread, how it is read."""

import re
import tomllib
from pathlib import Path

import numpy as np
import pytest

from sensitivity.spreads.samples import SampleFiles
from sensitivity.spreads.spread import quantile
from sensitivity.spreads.stated import stated_spread
from sensitivity.spreads.workshop import quantity_of
from sensitivity.study.file import read_study
from sensitivity.study.form import InputTable
from sensitivity.system.catalogue import available_models, find_models, installed_points
from sensitivity.system.system import wire
from tests.conftest import invoke

WHOLE_BURNER = Path(__file__).parents[1] / "studies" / "bramble" / "whole_burner.toml"
MODELS = sorted(installed_points())
DECLARED = [
    pytest.param(quantity, id=f"{model.name}-{quantity.name}")
    for model in available_models()
    for quantity in model.arguments
    if quantity.spread
]
ANSWERS = {
    "bend_ratio", "burner_height", "burner_tilt", "dip_length", "pipe_length",
    "pipe_loss_burn_rate",
}  # fmt: skip
"""Results of a model that another takes and that are dimensions, or plain statements, by hand."""


def whole_burner():
    return tuple(tomllib.loads(WHOLE_BURNER.read_text(encoding="utf-8"))["models"])


@pytest.mark.parametrize("quantity", DECLARED)
def test_declared_spread_is_sound_and_holds_the_default(quantity):
    table = InputTable.model_validate(dict(quantity.spread))
    spread, _ = stated_spread(
        table.spread_statement(), quantity.default, quantity.unit, SampleFiles(Path())
    )
    low, default_low, high = quantile(spread, np.array([1e-9, 0.5, 1 - 1e-9]))
    assert np.isfinite(default_low)
    assert low - 1e-6 <= quantity.default <= high + 1e-6
    assert quantity.range.holds(spread.low if np.isfinite(spread.low) else low)
    assert quantity.range.holds(spread.high if np.isfinite(spread.high) else high)


def test_models_say_the_same_of_an_argument_that_they_share():
    said = {}
    for model in available_models():
        for one in model.arguments:
            said.setdefault(one.name, []).append((one.unit, one.kind, one.spread, one.read_as))
    shared = {name: ways for name, ways in said.items() if len(ways) > 1}
    assert len(shared) > 60
    assert not {name: ways for name, ways in shared.items() if len(set(ways)) > 1}


def test_models_that_share_an_argument_have_one_default():
    """The first of them would decide otherwise: only runs of other pipes and runs part."""
    defaults = {}
    for model in available_models():
        for one in model.arguments:
            defaults.setdefault(one.name, set()).add(one.default)
    parted = {name for name, values in defaults.items() if len(values) > 1}
    assert parted == {"run_1", "run_2", "run_3", "duration", "auxiliary_draught"}


def test_everything_that_another_model_works_out_is_a_doubt_when_it_is_stated_by_hand():
    models = available_models()
    results = {quantity.name for model in models for quantity in model.results}
    taken = {one.name: one for model in models for one in model.arguments if one.name in results}
    assert len(taken) > 15
    assert {name for name, one in taken.items() if one.kind in (None, "build")} <= ANSWERS


def test_gauges_of_results_are_for_what_they_measure():
    """And a height is not read as a depth in one pipe and as a height in another."""
    said = {}
    for model in available_models():
        for one in model.results:
            if one.read_as is not None:
                wanted = "angle" if one.read_as == "angle" else "length"
                assert quantity_of(one.unit) == wanted, f"{model.name}: {one.name}"
                said.setdefault(one.name, set()).add(one.read_as)
    assert said["burner_height"] == {"height"}
    assert all(len(read) == 1 for read in said.values())


def test_gauges_are_named_for_bores_gaps_and_heights():
    for model in available_models():
        for one in model.arguments:
            where = f"{model.name}: {one.name}"
            if one.read_as is None:
                continue
            assert quantity_of(one.unit) == ("angle" if one.read_as == "angle" else "length"), where
            assert one.kind in (None, "build"), where
            if one.name.endswith("_bore"):
                assert one.read_as == "bore", where


@pytest.mark.parametrize("names", [*((name,) for name in MODELS), whole_burner()], ids="-".join)
def test_new_study_takes_what_is_declared_and_asks_for_the_rest(names, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    written = invoke("new", *names)
    assert written.exit_code == 0, written.stderr
    given = re.sub(r'nominal = ""  # like (.*)', r"nominal = \1", written.stdout)
    (tmp_path / "new.toml").write_text(given, encoding="utf-8")
    checked = invoke("check", "new.toml")
    assert checked.exit_code == 0, checked.stderr
    study = read_study(tmp_path / "new.toml")
    declared = {one.name: one for one in wire(find_models(names, ())).inputs}
    assert {item.name for item in study.inputs} == set(declared)
    for item in study.inputs:
        one = declared[item.name]
        assert item.kind == (one.kind or "build")
        assert bool(item.basis) == (item.spread is not None)
        assert not item.group
        assert not item.borrowed
        if one.kind in ("running", "model"):
            assert (item.spread is not None) == bool(one.spread)


def test_no_doubt_is_without_a_spread_but_what_a_model_works_out():
    """A setting and a time have none by themselves; a margin stated by hand has none either."""
    bare = {
        one.name
        for model in available_models()
        for one in model.arguments
        if one.kind in ("model", "running") and not one.spread
    }
    assert bare == {
        "auxiliary_draught", "blower_opening", "duration", "feed_water", "valve_opening",
        "flood_margin", "flood_margin_all", "starve_margin_all", "sump_starve_margin",
        "surge_rise", "wick_starve_margin",
    }  # fmt: skip


def test_models_screen_says_kind_and_spread(monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")  # no cell is folded
    shown = " ".join(invoke("models", "tank_surge").stdout.split())
    assert "a doubt of the physics, 0.6 to 1, more near the middle" in shown
    assert "a condition of running, ± 18 %" in shown
