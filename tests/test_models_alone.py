"""Every installed model runs alone, as `new` prints it; what cannot be built is refused."""

import math
import re
from dataclasses import replace

import pytest

from sensitivity.engine.monte_carlo import run_replicates
from sensitivity.engine.plan import plan_run
from sensitivity.engine.result import assemble
from sensitivity.errors import CallError, StudyError
from sensitivity.study.file import read_study
from sensitivity.study.starter import starter_study
from sensitivity.system.catalogue import available_models
from sensitivity.system.system import wire

MODELS = [model.name for model in available_models()]


def test_the_whole_burner_is_at_hand():
    assert set(MODELS) == {
        "stepped_pipe",
        "bent_pipe",
        "fuel_level",
        "tank_surge",
        "needle_valve",
        "blower_jet",
        "firebox_heat",
        "steam_balance",
        "feed_cycle",
        "wicks",
        "wick_supply",
        "burner_fit",
        "laid_pipe",
        "fuel_heating",
        "smokebox_draught",
        "follow_the_fire",
        "boiler_run",
        "tank_fill",
        "surge_margin",
        "pipe_room",
    }


@pytest.mark.parametrize("name", MODELS)
def test_starter_study_has_an_answer_for_every_result(name, tmp_path):
    model = next(model for model in available_models() if model.name == name)
    asked = starter_study(wire((model,)))
    given = re.sub(r'nominal = ""  # like (.*)', r"nominal = \1", asked)
    (tmp_path / "new.toml").write_text(given)
    results = read_study(tmp_path / "new.toml").nominal_results()
    assert not [key for key, value in results.items() if not math.isfinite(value)]


IMPOSSIBLE = [
    ("fuel_level", "breather_bore", '"0 mm"'),
    ("fuel_level", "fuel_temperature", '"79 degC"'),
    ("fuel_level", "wick_lip_height", '"1 mm"'),
    ("stepped_pipe", "pipe_bore", '"0 mm"'),
    ("bent_pipe", "bend_radius", '"0 mm"'),
    ("firebox_heat", "deflector_gap", '"60 mm"'),
    ("firebox_heat", "deflector_gap", '"0 mm"'),
    ("firebox_heat", "draught", '"0 Pa"'),
    ("needle_valve", "seat_bore", '"0 mm"'),
    ("blower_jet", "jet_bore", '"0 mm"'),
]


@pytest.mark.parametrize(("model", "name", "nominal"), IMPOSSIBLE)
def test_impossible_drawing_is_refused(model, name, nominal, tmp_path):
    other = "fuel_water" if model not in ("blower_jet",) else "steam_dryness"
    low, high = ("0.03", "0.12") if other == "fuel_water" else ("0.92", "0.98")
    (tmp_path / "bad.toml").write_text(
        f'models = ["{model}"]\n[inputs.{name}]\nnominal = {nominal}\n'
        f"[inputs.{other}]\nbetween = [{low}, {high}]\n"
    )
    with pytest.raises((StudyError, CallError), match="physically"):
        plan_run(read_study(tmp_path / "bad.toml"))


def test_impossible_samples_are_counted_and_fail(tmp_path):
    (tmp_path / "wide.toml").write_text(
        'models = ["firebox_heat"]\n[inputs.deflector_gap]\nplus_minus = "6 mm"\n'
        '[limits.heat_to_boiler]\nat_least = "1 W"\n[sampling]\nseed = 1\npoints = 64\n'
    )
    study = read_study(tmp_path / "wide.toml")
    study = replace(study, sampling=replace(study.sampling, replicates=8))
    plan = plan_run(study)
    result = assemble(study, plan, run_replicates(plan, workers=1))
    # The gap of 5 mm, plus and minus 6, is impossible below 0: one burner in twelve.
    assert result.outside["deflector_gap"] / (8 * 128) == pytest.approx(1 / 12, abs=0.01)
    assert result.invalid >= result.outside["deflector_gap"]
    assert result.overall.value <= 1 - 1 / 12 + 0.01
