"""``measure``: its estimators, its settings and instruments, and the command."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sensitivity.answers.measure import measure
from sensitivity.answers.measure.document import measure_body
from sensitivity.answers.measure.find import find_measuring
from sensitivity.answers.measure.words import measure_verdict
from sensitivity.drawing_board.page_words import on_the_page
from sensitivity.engine.intervals import Estimate
from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import plan_run
from sensitivity.errors import CallError
from sensitivity.presentation.page import render
from sensitivity.pricing.assembly_settings import (
    assembly_settings_of,
    place_of_best,
    sample_assemblies,
    set_at,
)
from sensitivity.pricing.instruments import instruments_for, reading_errors
from sensitivity.pricing.reading_bench import PricedReading, _advised
from sensitivity.pricing.round_settings import round_step_at_least, round_values
from sensitivity.pricing.value_of_information import (
    Decision,
    cross_fitted_choices,
    fold_of,
    payoffs_taken,
    regressors,
)
from sensitivity.spreads.workshop import workshop_table
from sensitivity.study.file import read_study
from sensitivity.study.study import Input, Reading
from sensitivity.system.vocabulary import Vocabulary

ONE = RunOptions(workers=1)

LINEAR = str(Path(__file__).parent / "published" / "measuring_models.py")

STUDY = """\
title  = "A gap closed by a shim"
models = ["shimmed_gap"]

[inputs.x1]
nominal = "0 mm"
standard_deviation = "0.04 mm"

[inputs.x2]
nominal = "0 mm"
standard_deviation = "0.04 mm"

[inputs.x3]
nominal = "0 mm"
standard_deviation = "0.02 mm"
kind = "running"

[inputs.shim]
nominal = "0 mm"
standard_deviation = "0.015 mm"
adjust = ["-0.4 mm", "0.4 mm"]

[limits.gap]
at_least = "-0.08 mm"
at_most  = "0.08 mm"

[sampling]
seed = 1
replicates = 8
points = 128
"""
FIXED = STUDY.replace('adjust = ["-0.4 mm", "0.4 mm"]\n', "")


@pytest.fixture(scope="module")
def every(tmp_path_factory):
    """The answer for the study as it stands, once."""
    path = tmp_path_factory.mktemp("every") / "gap.toml"
    path.write_text(STUDY, encoding="utf-8")
    return find_measuring(read_study(path, (LINEAR,)), options=ONE)


@pytest.fixture
def linear(tmp_path):
    def read(text=STUDY):
        path = tmp_path / "gap.toml"
        path.write_text(text, encoding="utf-8")
        return read_study(path, (LINEAR,))

    return read


def numbers(shape, seed):
    return np.random.default_rng(seed).standard_normal(shape)


# --- the estimator ------------------------------------------------------------------------------


@pytest.mark.parametrize("points", [None, np.linspace(-1.0, 1.0, 7)[:, None]])
@settings(max_examples=8)
@given(seed=st.integers(0, 1000))
def test_a_choice_does_not_know_the_burners_it_is_scored_on(points, seed):
    """Whatever the burners of one fold pay, their own choices stay as they are."""
    guides, readings = numbers((8, 200, 1), seed), numbers((8, 200, 2), seed + 1)
    payoffs = numbers((8, 200, 7), seed + 2) + guides * np.linspace(-1.0, 1.0, 7)
    known = regressors(readings)
    first = cross_fitted_choices(Decision(payoffs, guides, points=points), known)
    changed, other = payoffs.copy(), guides.copy()
    held = fold_of(8) == seed % 4
    changed[held] = numbers((2, 200, 7), seed + 3) * 50.0
    other[held] = numbers((2, 200, 1), seed + 4)
    second = cross_fitted_choices(Decision(changed, other, points=points), known)
    assert np.array_equal(first[held], second[held])
    assert not np.array_equal(first[~held], second[~held])


def test_a_choice_follows_what_is_known():
    """Payoffs fall with the distance of a way from the reading: the nearest way is chosen."""
    reading = numbers((8, 1000), 3)
    points = np.linspace(-2.0, 2.0, 9)[:, None]
    payoffs = -np.abs(reading[..., None] - points[:, 0])
    choice = Decision(payoffs, reading[..., None], points=points)
    choices = cross_fitted_choices(choice, regressors(reading[..., None]))
    nearest = np.abs(reading[..., None] - points[:, 0]).argmin(axis=2)
    assert np.mean(choices == nearest) > 0.95


@pytest.mark.parametrize(
    "readings",
    [np.zeros((8, 64, 1)), np.repeat(numbers((8, 64, 1), 1), 3, axis=2), numbers((8, 64, 9), 2)],
    ids=["constant", "thrice the same", "nine"],
)
@pytest.mark.parametrize("guides", [np.full((8, 64, 1), np.nan), numbers((8, 64, 1), 5)])
def test_readings_that_tell_nothing_do_no_harm(readings, guides):
    payoffs = np.zeros((8, 64, 3))
    payoffs[..., 1] = 1.0
    choice = Decision(payoffs, guides, points=np.arange(3.0)[:, None])
    assert np.all(cross_fitted_choices(choice, regressors(readings)) == 1)
    assert np.all(payoffs_taken(payoffs, cross_fitted_choices(choice, None)) == 1.0)


def test_features_are_one_then_readings_their_squares_and_products():
    z = numbers((8, 50, 3), 4)
    columns = regressors(z)
    assert columns.shape == (8, 50, 1 + 3 + 6)
    assert np.all(columns[..., 0] == 1.0)
    assert regressors(numbers((8, 50, 7), 4)).shape == (8, 50, 1 + 7 + 7)
    scaled = (z - z.mean(axis=(0, 1))) / z.std(axis=(0, 1))
    assert np.allclose(columns[..., 4], scaled[..., 0] ** 2)
    assert np.allclose(columns[..., 5], scaled[..., 0] * scaled[..., 1])


# --- settings -----------------------------------------------------------------------------------


@given(
    low=st.floats(-1e3, 1e3), width=st.floats(1e-3, 1e3), share=st.floats(-0.5, 1.5),
    most=st.integers(5, 40),
)  # fmt: skip
def test_round_values_cover_the_range(low, width, share, most):
    high = low + width
    nominal = low + share * width
    values = round_values(low, high, nominal, most)
    assert values[0] == low
    assert values[-1] == high
    assert np.all(np.diff(values) > 0.0)
    assert values.size <= most + 2
    step = round_step_at_least(width / (most - 1))
    assert np.diff(values).max() <= step * (1.0 + 1e-6)
    assert not 0.0 <= share <= 1.0 or np.abs(values - nominal).min() <= 1e-6 * step


def test_round_steps():
    assert [round_step_at_least(x) for x in (0.15625, 0.25, 0.021, 1.0, 0.9, 6.0)] == pytest.approx(
        [0.2, 0.25, 0.025, 1.0, 1.0, 10.0]
    )


def test_settings_keep_their_spread_and_the_burners_are_the_same(linear):
    plan = plan_run(linear(), indices=False)
    tried = assembly_settings_of(plan)
    place = int(np.flatnonzero(tried.points[:, 0] == 0.0)[0])
    burners = sample_assemblies(plan, tried, ["x1"], options=ONE)
    assert np.array_equal(burners.works[..., place], burners.as_drawn)
    assert burners.values.shape == (8, 256, 1)
    moved = next(i for i in set_at(plan.inputs, {"shim": 0.2}) if i.name == "shim")
    assert (moved.nominal, moved.spread.centre, moved.spread.scale) == (0.2, 0.2, 0.015)
    there = sample_assemblies(replace(plan, inputs=set_at(plan.inputs, {"shim": 0.2})), None, ())
    place = int(np.flatnonzero(tried.points[:, 0] == 0.2)[0])
    assert np.array_equal(burners.works[..., place], there.as_drawn)


def test_a_wide_range_is_divided_again_where_some_work(linear):
    wide = linear(STUDY.replace('["-0.4 mm", "0.4 mm"]', '["-20 mm", "20 mm"]'))
    values = assembly_settings_of(plan_run(wide)).points[:, 0]
    assert np.abs(values).max() < 2.0
    assert np.diff(values).max() < 0.11
    assert values.size > 15


@pytest.mark.parametrize(("count", "least", "most"), [(2, 49, 170), (3, 64, 512), (4, 64, 64)])
def test_several_adjustable_inputs(linear, count, least, most):
    text = STUDY
    for name in ("x1", "x2", "x3")[: count - 1]:
        text = text.replace(f"[inputs.{name}]", f'[inputs.{name}]\nadjust = ["-0.2 mm", "0.3 mm"]')
    study = linear(text)
    tried = assembly_settings_of(plan_run(study))
    assert tried.points.shape[1] == count
    assert least <= len(tried.points) <= most
    for item, values in zip(tried.inputs, tried.points.T, strict=True):
        assert item.adjust[0] <= values.min()
        assert values.max() <= item.adjust[1]


def test_nothing_to_set(linear):
    assert assembly_settings_of(plan_run(linear(FIXED))) is None


def test_best_place_of_a_plateau_is_its_middle():
    assert place_of_best(np.array([1, 5, 5, 5, 2])) == 2
    assert place_of_best(np.array([0, 0, 0])) == 1
    assert place_of_best(np.array([1, 2, 9])) == 2


def test_a_sample_too_large_to_keep_is_refused(linear):
    study = linear()
    huge = replace(study, sampling=replace(study.sampling, points=1 << 20, replicates=64))
    with pytest.raises(CallError, match="fewer --points"):
        find_measuring(huge, options=ONE)


# --- instruments --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("read_as", "size", "first", "absent"),
    [
        ("outside size", "1 mm", "steel_rule", "drill_shanks"),
        ("outside size", "42.5 mm", "steel_rule", "micrometer"),  # one of 0 to 25 mm
        ("outside size", "0.4 mm", "vernier_caliper", "steel_rule"),  # less than a division
        ("bore", "8 mm", "caliper_inside_jaws", "micrometer"),
        ("bore", "3.2 mm", "drill_shanks", "caliper_inside_jaws"),  # jaws go into 5 mm or more
        ("gap", "0.5 mm", "feeler_gauges", "drill_shanks"),
        ("gap", "3 mm", "drill_shanks", "feeler_gauges"),
        ("height", "7 mm", "steel_rule", "micrometer"),
        ("height", "7 mm", "steel_rule", "protractor"),
        ("angle", "1 deg", "protractor", "height_gauge"),
        ("time", "6 min", "stopwatch", "pocket_scale"),
        ("mass", "30 g", "pocket_scale", "stopwatch"),
        (None, "1 mm", "steel_rule", "drill_shanks"),
        (None, "1 deg", "protractor", "steel_rule"),
        ("height", "0 mm", "steel_rule", "protractor"),  # an error: about what size, nobody says
    ],
)
def test_instruments_that_do_the_job(read_as, size, first, absent):
    """Those of the kind that is read, that take its size: a dimension, and a result as drawn."""
    number, unit = size.split()
    item = Input("size", unit, "what it is", float(number), read_as=read_as)
    result = Reading("size", unit, "what it is", read_as=read_as)
    assert instruments_for(result, size=float(number)) == instruments_for(item)
    found = [entry.name for entry in instruments_for(item)]
    assert found[0] == first
    assert absent not in found
    minutes = [workshop_table("instrument")[one].minutes for one in found]
    assert minutes == sorted(minutes)


def test_instruments_at_hand():
    length, angle = Input("rise", "mm", "", 1.0), Input("tilt", "deg", "", 1.0)
    hand = ("micrometer", "protractor", "steel_rule")
    assert [e.name for e in instruments_for(length, hand)] == ["steel_rule", "micrometer"]
    assert [e.name for e in instruments_for(angle, hand)] == ["protractor"]
    assert not instruments_for(Input("area", "cm2", "", 1.0))
    assert not instruments_for(Input("share", "", "", 1.0), hand)


def test_at_hand_counts_what_does_the_job_alone():
    """A height gauge and no caliper for a height; a reading's own instrument where it is stated."""
    height = Input("rise", "mm", "", 8.0, read_as="height")
    hand = ("digital_caliper", "height_gauge", "protractor")
    assert [e.name for e in instruments_for(height, hand)] == ["height_gauge"]
    stated = Reading("level", "mm", "", "height", instrument="depth_micrometer")
    assert [e.name for e in instruments_for(stated)] == ["depth_micrometer"]
    assert not instruments_for(stated, hand)


def test_errors_of_reading_are_the_instruments_own():
    rule = workshop_table("instrument")["steel_rule"]
    u = (np.arange(10_000) + 0.5) / 10_000
    errors = reading_errors(rule, "mm", np.full(10_000, 8.0), u)
    assert np.abs(errors).max() <= 0.25
    assert errors.std() == pytest.approx(0.25 / np.sqrt(3.0), rel=1e-3)
    inches = reading_errors(rule, "in", np.full(10_000, 0.3), u)
    assert np.allclose(inches * 25.4, errors)
    share = replace(rule, relative=True, low=-0.03, high=0.03)
    assert np.allclose(reading_errors(share, "mm", np.full(10_000, -8.0), u), errors * 0.96)


def test_the_cheapest_within_the_interval_of_the_best_is_advised():
    def reading(name, minutes, value):
        return PricedReading(name, minutes, Estimate(value, value - 0.02, value + 0.02))

    rows = [reading("rule", 1, 0.02), reading("caliper", 2, 0.095), reading("micrometer", 3, 0.11)]
    assert _advised(rows, [True, True, True]).instrument == "caliper"
    assert _advised(rows, [True, False, True]).instrument == "micrometer"
    assert _advised(rows, [False, False, False]) is None
    assert _advised([], []) is None


# --- the answer ---------------------------------------------------------------------------------


def test_order_and_yields(every):
    found = every
    assert [step.name for step in found.steps] == ["x1", "x2"]
    shares = [found.set_well.overall.value, *(step.overall.value for step in found.steps)]
    assert shares == sorted(shares)
    for before, step in zip(shares, found.steps, strict=False):
        assert step.overall.value - before == pytest.approx(step.reading.gain.value, abs=1e-12)
        assert step.reading.gain.value >= 0.02 * (1.0 - before)
    assert found.final.value <= found.ceiling.value
    assert "x3" not in {row.name for row in found.candidates}  # a running condition
    assert found.minutes == sum(step.reading.minutes for step in found.steps)


def test_target_stops_the_order(linear, every):
    low = every.steps[0].overall.low - 0.01
    found = find_measuring(linear(), target=low, options=ONE)
    assert len(found.steps) == 1
    assert f"reaches {100 * low:.6g}"[:12] in measure_verdict(found)
    assert not find_measuring(linear(), target=0.01, options=ONE).steps
    far = find_measuring(linear(), target=0.9999, options=ONE)
    assert len(far.steps) == len(every.steps)
    assert "falls short of 99.99 of 100" in measure_verdict(far)


def test_nothing_to_set_leaves_burners_unlit(linear):
    found = find_measuring(linear(FIXED), options=ONE)
    assert found.set_well is None
    assert found.ceiling is None
    assert {row.name for row in found.candidates} == {"x1", "x2", "shim"}
    assert "nothing can be set" in measure_verdict(found)
    # The report says it without the file's grammar, and the board where its field is.
    assert "adjust = [" not in measure_verdict(found)
    assert 'under "More"' in on_the_page(measure_verdict(found))
    for step in found.steps:
        assert step.overall is None
        assert step.rejection.accepted.rows + step.rejection.share.passes == 8 * 256
    assert found.steps[-1].rejection.accepted.value > found.as_drawn.value


@pytest.mark.parametrize(
    "limits", ['at_least = "90 mm"', 'at_least = "-90 mm"'], ids=["none", "all"]
)
@pytest.mark.parametrize("text", [STUDY, FIXED], ids=["shim", "fixed"])
def test_all_fail_or_all_work(linear, text, limits):
    text = text.replace('at_least = "-0.08 mm"\nat_most  = "0.08 mm"', limits)
    found = find_measuring(linear(text), options=ONE)
    assert not found.steps
    assert all(abs(row.perfect.value) < 1e-12 for row in found.candidates)
    assert json.dumps(measure_body(found), allow_nan=False)
    assert measure_verdict(found)


@pytest.mark.parametrize("adjust", ["", 'adjust = ["90 mm", "99 mm"]'], ids=["fixed", "set"])
def test_burners_without_an_answer_fail_whatever_is_read(read, adjust):
    """A hole of 2 mm give or take 20 mm is often below nothing, where the model has no answer."""
    study = read(
        'models = ["pin_fit"]\n[inputs.hole]\nnominal = "2 mm"\nstandard_deviation = "20 mm"\n'
        f'[inputs.pin]\nnominal = "1 mm"\nplus_minus = "0.5 mm"\n{adjust}\n'
        '[limits.play]\nat_least = "-120 mm"\n[sampling]\nseed = 1\nreplicates = 8\npoints = 64\n'
    )
    found = find_measuring(study, options=ONE)
    assert found.as_drawn.value == pytest.approx(0.54, abs=0.02)
    assert json.dumps(measure_body(found), allow_nan=False)
    if found.ceiling is not None:
        assert found.ceiling.value <= 0.56
    else:
        assert found.steps[0].rejection.accepted.value > 0.9  # by the hole alone, against 0.54


def test_the_same_whatever_the_number_of_workers(linear, every):
    assert measure_body(find_measuring(linear(), options=RunOptions(workers=2))) == measure_body(
        every
    )


def test_faults_of_the_call(linear):
    no_limits = linear(STUDY.partition("[limits")[0] + "[sampling]\nseed = 1\n")
    with pytest.raises(CallError, match="no limits"):
        find_measuring(no_limits)
    running = linear(FIXED.replace("standard_deviation", 'kind = "running"\nstandard_deviation', 2)
                     .replace('"0.015 mm"', '"0.015 mm"\nkind = "model"'))  # fmt: skip
    with pytest.raises(CallError, match="nothing to measure"):
        find_measuring(running)
    with pytest.raises(CallError, match="did you mean") as refused:
        find_measuring(linear(), at_hand=("stel_rule", "micrometr"))
    assert "steel_rule" in str(refused.value)
    assert "micrometer" in str(refused.value)


# --- the command --------------------------------------------------------------------------------


@pytest.fixture
def run_measure(run_command, tmp_path):
    def run(*words, text=STUDY):
        path = tmp_path / "gap.toml"
        path.write_text(text, encoding="utf-8")
        return run_command("measure", path, "--model-file", LINEAR, "--workers", 1, *words)

    return run


def test_command_prints_the_order(run_measure, tmp_path):
    ran = run_measure()
    assert (ran.exit_code, ran.stderr) == (0, "")
    for words in (
        "A gap closed by a shim",
        "1. x1",
        "2. x2",
        "set shim to suit",
        "nothing, as drawn",
    ):
        assert words in ran.stdout
    assert {path.name for path in tmp_path.iterdir()} == {"gap.toml"}


def test_command_quietly_prints_one_sentence_and_no_table(run_measure):
    ran = run_measure("--quiet")
    assert ran.stdout.startswith("Of 100 parts")
    assert "─" not in ran.stdout


def test_command_writes_json(run_measure):
    document = json.loads(run_measure("--json", "--target", "0.9").stdout)
    assert next(iter(document)) == "schema"
    assert document["seed"] == 1
    assert document["target"] == 0.9
    assert document["steps"][0]["name"] == "x1"
    works = document["steps"][-1]["works"]
    assert works["interval"][0] < works["estimate"] == document["works_at_last"]["estimate"]
    assert works["keeps"] == document["works_as_drawn"]["keeps"] == 0.99
    assert {row["name"] for row in document["alone"]} == {"x1", "x2"}


def test_command_writes_a_folder_and_leaves_others_alone(run_measure, tmp_path):
    target = tmp_path / "answer"
    assert run_measure("--out", target, "--quiet").exit_code == 0
    names = {str(path.relative_to(target)) for path in target.rglob("*") if path.is_file()}
    assert names == {
        "card.html",
        "report.html",
        "result.json", "study.toml", "tables/order.csv", "tables/alone.csv",
        "figures/measuring.svg", "manifest.json",
    }  # fmt: skip
    assert (target / "figures" / "measuring.svg").read_text().count("<svg") == 1
    other = tmp_path / "letters"
    other.mkdir()
    (other / "one.txt").write_text("mine")
    ran = run_measure("--out", other)
    assert (ran.exit_code, (other / "one.txt").read_text()) == (2, "mine")


def test_command_takes_only_what_is_at_hand(run_measure):
    document = json.loads(run_measure("--json", "--with", "steel_rule").stdout)
    used = {row["instrument"] for each in document["alone"] for row in each["instruments"]}
    assert used == {"steel_rule"}
    ran = run_measure("--with", "stel_rule")
    assert (ran.exit_code, ran.stdout) == (2, "")
    assert 'did you mean "steel_rule"?' in ran.stderr


def test_points_are_fewer_unless_asked_for(run_measure):
    few = STUDY.replace("points = 128\n", "")
    assert json.loads(run_measure("--json", text=few).stdout)["points"] == 2048
    assert json.loads(run_measure("--json", "--points", 64, text=few).stdout)["points"] == 64
    assert json.loads(run_measure("--json").stdout)["points"] == 128


def test_fixed_study_prints_what_is_left_unlit(run_measure):
    ran = run_measure(text=FIXED)
    assert ran.exit_code == 0
    assert "not used" in ran.stdout
    assert "remake what is likelier to fail than to work" in ran.stdout


# --- in Python ----------------------------------------------------------------------------------


def test_answer_is_one_value_with_its_tables(linear, tmp_path):
    answer = measure(linear(), target=0.9, at_hand=("steel_rule", "micrometer"), options=ONE)
    assert repr(answer).startswith("<measure of gap: Of 100 parts")
    order, alone = answer.tables()["order"], answer.tables()["alone"]
    assert list(order["dimension"]) == [step.name for step in answer.found.steps]
    assert list(order["works"]) == [step.overall.value for step in answer.found.steps]
    # A row for each dimension known exactly, its instrument empty, then one for each instrument.
    exact = alone[alone["instrument"] == ""]
    assert list(exact["gain"]) == [row.perfect.value for row in answer.found.candidates]
    assert set(alone["instrument"]) == {"", "steel_rule", "micrometer"}
    assert alone["advised"].sum() == sum(row.advised is not None for row in answer.found.candidates)
    assert answer.repeat == (
        "spiritlevel measure gap.toml --target 0.9 --with steel_rule --with micrometer --seed 1 "
        "--replicates 8 --points 128 --model-file measuring_models.py"
    )
    saved = json.loads((answer.save(tmp_path / "there") / "result.json").read_text())
    assert saved["verdict"] == answer.verdict


def test_options_go_before_the_study(linear):
    answer = measure(linear(), options=RunOptions(seed=3, points=64, workers=1))
    assert (answer.plan.seed, answer.plan.sampling.points) == (3, 64)


def test_page_and_terminal_show_the_same_table(linear):
    """One table for both, in short on a terminal; instruments with their decimal points."""
    answer = measure(linear(), at_hand=("pin_gauges_in_0_05_mm_steps",), options=ONE)
    order = answer.sheets["order"]
    for (short, _), row in zip(order.rows_on_terminal, order.rows_on_page, strict=True):
        assert short[:3] == row[:3]
        for figure, at_length in zip(short[3:], row[3:], strict=True):
            assert at_length.startswith(figure.strip("()").partition(" (")[0])
    assert "pin gauges in 0.05 mm steps" in answer.verdict
    page = render(answer.page())
    assert "pin gauges in 0.05" in page
    assert "in 0 05" not in page


def test_no_words_tell_how_a_length_is_read():
    """A head above a level, a bore and a gap by name alone: nothing but the model says so."""
    plain = [entry.name for entry in instruments_for(Input("rise", "mm", "", 8.0))]
    for name, meaning in (("tank_head", "fuel above that in the sump"), ("bore", "gap, depth")):
        assert [e.name for e in instruments_for(Input(name, "mm", meaning, 8.0))] == plain


def test_words_of_the_models_are_said_throughout(linear):
    """Models of a file bring no words, so the engine says parts; what others bring is said."""
    words = Vocabulary(one="kettle", many="kettles", use="boil", used="boiled", unused="cold")
    plain = linear(FIXED)
    study = replace(plain, system=replace(plain.system, vocabulary=words))
    answer, again = (measure(one, at_hand=("micrometer",), options=ONE) for one in (study, plain))
    assert answer.found.steps
    assert "Of 100 kettles" in answer.verdict
    assert "stay cold, and of 100 that are boiled" in answer.verdict
    heads = [column.head for column in answer.sheets["order"].columns]
    assert "not boiled" in heads
    assert "burner" not in repr(answer.screen())
    assert "Of 100 parts" in again.verdict
    assert "kettle" not in repr(again.screen())
    assert answer.body() == again.body()
