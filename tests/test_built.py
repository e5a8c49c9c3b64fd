"""``built``: readings, the decision on each part, and the command."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from sensitivity.answers.built import built
from sensitivity.answers.built.conformity import conformity
from sensitivity.answers.built.document import built_body
from sensitivity.answers.built.find import _best, _run_about, find_built
from sensitivity.answers.built.knowledge import study_with_readings
from sensitivity.answers.built.readings import heard_in_call, heard_in_file, read_measured
from sensitivity.answers.built.words import built_verdict
from sensitivity.engine.monte_carlo import run_replicates
from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import plan_run
from sensitivity.errors import CallError
from sensitivity.learning.conflict import ConflictError
from sensitivity.learning.widening import rarity_of, widened
from sensitivity.presentation.page import render
from sensitivity.pricing.assembly_settings import AssemblySettings
from sensitivity.pricing.finalists import Finalists, priced_in_parts
from sensitivity.spreads.spread import normal, quantile, share_below, standard_deviation
from sensitivity.study.file import read_study
from sensitivity.study.study import Input
from tests.strategies import probabilities, spreads
from tests.test_measuring import FIXED, LINEAR, STUDY

ONE = RunOptions(workers=1)


@pytest.fixture
def linear(tmp_path):
    def read(text=STUDY):
        path = tmp_path / "gap.toml"
        path.write_text(text, encoding="utf-8")
        return read_study(path, (LINEAR,))

    return read


def readings(study, **read):
    """Readings of ``name="quantity, instrument"``."""
    pairs = {name: [part.strip() for part in words.split(",")] for name, words in read.items()}
    return read_measured(
        study,
        heard_in_call(
            [f"{name}={quantity}" for name, (quantity, _) in pairs.items()],
            [f"{name}={instrument}" for name, (_, instrument) in pairs.items()],
        ),
    )


# --- shares and decisions -----------------------------------------------------------------------


@given(spread=spreads(), parts=probabilities())
def test_share_below_is_the_inverse_of_the_quantile(spread, parts):
    u = np.array(parts)
    x = quantile(spread, u)
    assert np.allclose(share_below(spread, x), u, atol=1e-6)
    ends = share_below(spread, np.array([-np.inf, np.inf]))
    assert ends.tolist() == [0.0, 1.0]


@given(reading=st.floats(-1.0, 1.0), u=st.floats(0.001, 0.2), farther=st.floats(0.0, 1.0))
def test_a_reading_farther_out_is_never_better(reading, u, farther):
    near, far = abs(reading), abs(reading) + farther
    first = conformity((-0.5, 0.5), near, normal(near, u))
    second = conformity((-0.5, 0.5), far, normal(far, u))
    assert second.probability <= first.probability + 1e-12
    mirrored = conformity((-0.5, 0.5), -far, normal(-far, u))
    assert mirrored.probability == pytest.approx(second.probability, abs=1e-12)
    assert mirrored.verdict == second.verdict


# --- readings -----------------------------------------------------------------------------------


HELD = STUDY.replace(
    '[inputs.x1]\nnominal = "0 mm"\nstandard_deviation = "0.04 mm"', '[inputs.x1]\nnominal = "0 mm"'
)


def test_a_reading_of_what_is_held_is_what_measured_in_a_study_is(linear):
    """Nothing is stated for it to join: the same burners pass, to the last one."""
    there = HELD.replace(
        '[inputs.x1]\nnominal = "0 mm"',
        '[inputs.x1]\nnominal = "0.05 mm"\nmeasured = "0.05 mm"\ninstrument = "digital_caliper"',
    )
    study = linear(HELD)
    here = study_with_readings(study, readings(study, x1="0.05 mm, digital_caliper"))
    passes = [
        [summary.passes_all for summary in run_replicates(plan_run(one), workers=1)]
        for one in (here, linear(there))
    ]
    assert passes[0] == passes[1]
    found = find_built(study, readings(study, x1="0.05 mm, digital_caliper"), options=ONE)
    assert found.known.method == "prior"
    assert abs(found.known.values["x1"] - 0.05).max() <= 0.03


def test_a_reading_joins_what_is_stated(linear):
    """x1 ~ N(0, 0.04) read 0.05 within +-0.03: the normal, cut off (its mean by quadrature)."""
    study = linear()
    found = find_built(study, readings(study, x1="0.05 mm, digital_caliper"), options=ONE)
    size = found.parts[0].measured.size
    ends = np.array([size.low, size.high]) / 0.04
    cut = np.diff(stats.norm.cdf(ends))[0]
    mean = -0.04 * np.diff(stats.norm.pdf(ends))[0] / cut
    assert size.low < mean < 0.05
    assert found.known.mean(found.known.values["x1"]).value == pytest.approx(mean, abs=1e-4)
    change = found.now.works.value - found.drawn.works.value
    assert found.change.value == pytest.approx(change, abs=1e-9)


def test_units_and_instruments_in_other_units(linear):
    study = linear()
    (one,) = readings(study, x1="2 thou, micrometer")
    assert one.value == pytest.approx(0.0508)
    assert (one.size.low, one.size.high) == pytest.approx((0.0408, 0.0608))
    assert one.stated == "measured 2 thou ± 0.01 mm, anywhere within"


def test_an_adjustable_input_that_was_measured_is_set(linear):
    study = linear()
    found = find_built(study, readings(study, shim="0.1 mm, micrometer"), options=ONE)
    assert found.settings is None
    assert found.best is None
    both = find_built(study, readings(study, x1="0.04 mm, micrometer"), options=ONE)
    assert both.best.at["shim"] == pytest.approx(-0.12, abs=0.03)
    assert both.set_well is both.best
    assert both.best.level[0] <= both.best.at["shim"] <= both.best.level[1]


def test_parts_conditions_and_coarse_instruments(linear):
    study = linear()
    found = find_built(
        study,
        readings(study, x1="0.05 mm, micrometer", x2="0.13 mm, micrometer", x3="0 mm, micrometer",
                 shim="0.02 mm, steel_rule"),
        options=ONE,
    )  # fmt: skip
    parts = {part.measured.item.name: part for part in found.parts}
    assert [parts[n].conformity.verdict for n in ("x1", "x2", "x3", "shim")] == [
        "good", "not good", "no tolerance", "too close to say",
    ]  # fmt: skip
    assert parts["shim"].coarse
    assert not parts["x1"].coarse
    assert parts["shim"].deciding_instrument == "micrometer"
    assert [one.measured.item.name for one in found.widened] == ["x2"]
    words = built_verdict(found)
    assert "As drawn: x1, but even so most that are made of such parts fail" in words
    assert "Not as drawn: x2." in words
    assert "Too close for steel rule to say: shim; micrometer would tell." in words
    assert "X2 reads 0.13 mm, which is seen less than once in a hundred as stated" in words
    assert not found.matters


def test_what_matters_now_leaves_out_what_was_measured(linear):
    study = linear()
    found = find_built(study, readings(study, x1="0 mm, micrometer"), options=ONE)
    assert [one.item.name for one in found.matters] == ["x2"]
    (row,) = built_body(found)["matters_now"]["rows"]
    assert row["name"] == "x2"
    assert row["estimate"] > 0.0


TIED = '[[correlations]]\ninputs = ["{}", "{}"]\nrank = 0.5\nbecause = "one setting"\n'


GAUGED = STUDY.replace(
    "[limits.gap]",
    '[readings.gap]\ninstrument = "micrometer"\nat = { shim = "0 mm", x3 = "0 mm" }\n[limits.gap]',
)


def test_a_reading_that_contradicts_what_it_is_made_of_is_refused(linear):
    study = linear(GAUGED)
    read = readings(study, gap="0.9 mm, micrometer")
    with pytest.raises(ConflictError, match=r"gap 0\.9 mm is seen less than once in") as refused:
        find_built(study, read, options=ONE)
    assert "x1 by" in str(refused.value)
    assert "--believe" in str(refused.value)
    found = find_built(study, read, believe=True, options=ONE)
    assert built_body(found)["believed"]
    assert "(--believe): gap 0.9 mm is seen less than once" in built_verdict(found)


def test_readings_that_contradict_each_other_are_refused(linear):
    """Each by itself could be: 3 x1 - 2 x2 = 0.1 with x1 = 0.04 and x2 = 0.05 is 0.08 off."""
    study = linear(GAUGED)
    read = readings(
        study, gap="0.1 mm, micrometer", x1="0.04 mm, micrometer", x2="0.05 mm, micrometer"
    )
    with pytest.raises(ConflictError, match="each by itself could be, but all"):
        find_built(study, read, options=ONE)


def test_a_result_that_no_gauge_reaches_is_no_reading(linear):
    with pytest.raises(CallError, match=r"state \[readings.gap\] in the study"):
        readings(linear(), gap="0.1 mm, micrometer")


@settings(max_examples=40)
@given(spread=spreads(), far=st.floats(0.0, 30.0))
def test_what_is_contradicted_is_widened_just_enough(spread, far):
    deviation = standard_deviation(spread)
    value = spread.centre + far * deviation  # beyond one end of a spread on one side of it
    error = normal(0.0, 0.1 * deviation)
    wider, factor = widened(spread, spread.centre, value, error)
    if rarity_of(spread, value, error) >= 0.01:
        assert (wider, factor) == (spread, 1.0)
    else:
        assert factor > 1.0
        assert rarity_of(wider, value, error) >= 1.0 / 3.0


def test_a_reading_tells_of_what_is_correlated_with_it(linear):
    """Normals of correlation r = 2 sin(pi 0.5/6): x2 follows by r times what x1 moved.

    x1 ~ N(0, 0.04) read within 0.04 and 0.06: the normal, cut off at one deviation and 1.5.
    """
    study = linear(STUDY + TIED.format("x1", "x2"))
    found = find_built(study, readings(study, x1="0.05 mm, micrometer"), options=ONE)
    r = 2.0 * np.sin(np.pi * 0.5 / 6.0)
    moved = found.known.mean(found.known.values["x1"]).value
    cut = np.diff(stats.norm.cdf([1.0, 1.5]))[0]
    assert moved == pytest.approx(-0.04 * np.diff(stats.norm.pdf([1.0, 1.5]))[0] / cut, abs=2e-4)
    told = {one.item.name: one.after for one in found.told}
    assert told["x2"][0] == pytest.approx(r * moved, abs=5e-4)
    assert told["x2"][1] == pytest.approx(0.04 * np.sqrt(1.0 - r**2), rel=0.03)


def test_what_stands_alone_is_read_with_what_it_is_correlated_with(linear):
    study = linear(STUDY + TIED.format("shim", "x2"))
    with pytest.raises(CallError, match="measure x2 too"):
        readings(study, shim="0 mm, micrometer")
    found = study_with_readings(
        study, readings(study, shim="0 mm, micrometer", x2="0 mm, micrometer")
    )
    assert found.correlations == ()
    other = study_with_readings(study, readings(study, x1="0 mm, micrometer"))
    assert len(other.correlations) == 1


def test_best_setting_is_scored_on_replicates_it_was_not_chosen_by():
    """Sixty settings of the same yield: the largest share is above it, the one given is not."""
    generator = np.random.default_rng(4)
    item = Input("shim", "mm", "", 0.0, adjust=(0.0, 60.0))
    settings = AssemblySettings((item,), np.arange(60.0)[:, None])
    given_, largest = [], []
    for _ in range(60):
        together = generator.binomial(100, 0.5, (8, 61))
        best = _best(Finalists(0.99, together / 100, 100, 0.95), settings)
        given_.append(best.overall.value)
        largest.append(together[:, 1:].mean(axis=0).max() / 100)
    error = np.std(given_, ddof=1) / np.sqrt(60)
    assert abs(np.mean(given_) - 0.5) < 3.0 * error
    assert np.mean(largest) > 0.5 + 10.0 * error


def test_run_about_a_place():
    near = np.array([True, False, True, True, True, False, True])
    assert _run_about(near, 3) == slice(2, 5)
    assert _run_about(near, 0) == slice(0, 1)
    assert _run_about(np.ones(4, dtype=bool), 2) == slice(0, 4)


def test_no_limits(linear):
    study = linear(STUDY.partition("[limits")[0])
    with pytest.raises(CallError, match="no limits"):
        find_built(study, readings(study, x1="0 mm, micrometer"))


def test_the_same_whatever_the_number_of_workers(linear):
    study = linear()
    read = readings(study, x1="0.03 mm, micrometer")
    assert built_body(find_built(study, read, options=ONE)) == built_body(
        find_built(study, read, options=RunOptions(workers=2))
    )


# --- the command --------------------------------------------------------------------------------


@pytest.fixture
def run_built(run_command, tmp_path):
    def run(*words, text=STUDY):
        path = tmp_path / "gap.toml"
        path.write_text(text, encoding="utf-8")
        return run_command("built", path, "--model-file", LINEAR, "--workers", 1, *words)

    return run


READ = ("--measured", "x1=0.05 mm", "--with", "x1=digital_caliper")


def test_command_prints_how_it_stands(run_built, tmp_path):
    ran = run_built(*READ)
    assert (ran.exit_code, ran.stderr) == (0, "")
    for words in (
        "0.05 mm",
        "digital caliper",
        "is it as drawn",
        "as drawn, unmeasured",
        "Set shim at",
    ):
        assert words in ran.stdout
    assert {path.name for path in tmp_path.iterdir()} == {"gap.toml"}
    quiet = run_built(*READ, "--quiet").stdout
    assert quiet.startswith("Of 100 parts that read as this one does")
    assert "─" not in quiet


def test_command_refuses_a_contradiction_but_for_believe(run_built):
    read = ("--measured", "gap=0.5 mm", "--with", "gap=micrometer")
    ran = run_built(*read, text=GAUGED)
    assert (ran.exit_code, ran.stdout) == (2, "")
    assert "gap 0.5 mm is seen once in" in ran.stderr
    assert "go on in spite of it with --believe" in " ".join(ran.stderr.split())
    believed = run_built(*read, "--believe", "--json", text=GAUGED)
    assert believed.exit_code == 0
    assert json.loads(believed.stdout)["believed"]


def test_command_reads_a_file(run_built, tmp_path):
    path = tmp_path / "readings.csv"
    path.write_text(
        "\ufeff# on the bench\ninput, measured, instrument\n\nx1, 0.05 mm, digital_caliper\n",
        encoding="utf-8",
    )
    by_file = json.loads(run_built("--readings", path, "--json").stdout)
    by_call = json.loads(run_built(*READ, "--json").stdout)
    assert by_file == by_call
    assert next(iter(by_call)) == "schema"
    assert by_call["measured"]["x1"]["verdict"] == "good"
    twice = run_built("--readings", path, *READ)
    assert (twice.exit_code, twice.stdout) == (2, "")
    assert "readings.csv, line 4, x1: was measured twice" in twice.stderr


def test_command_names_all_faults_at_once(run_built, tmp_path):
    path = tmp_path / "bad.csv"
    path.write_text(
        "input,measured,instrument\nx4,1 mm,micrometer\n\nx2,1 deg,protractor\n", encoding="utf-8"
    )
    ran = run_built(
        "--readings", path, "--measured", "x1=5", "--measured", "x3", "--measured", "shim=1 mm",
        "--with", "x1=micrometr", "--with", "x9=micrometer", "--out", tmp_path / "never",
    )  # fmt: skip
    assert (ran.exit_code, ran.stdout) == (2, "")
    for words in (
        'found "x3"; write it like --measured rise="12.1 mm"', "--with x9: was not measured",
        '--measured x1: "5" has no unit; write "5 mm"', 'did you mean "micrometer"?',
        "--measured shim: say with what", 'bad.csv, line 2, x4: gap has no such input',
        'bad.csv, line 4, x2: "deg" does not convert to "mm"', "protractor reads a tilt or angle",
        "8 faults in what was measured; nothing was run",
    ):  # fmt: skip
        assert words in ran.stderr
    assert not (tmp_path / "never").exists()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("x1,1 mm,micrometer\n", "no column input or measured or instrument"),
        ("input,measured\nx1,1 mm\n", "no column instrument"),
        ('input,measured,instrument\nx1,"1 mm,micrometer\n', "not CSV"),
        ("", "there is nothing in it"),
    ],
)
def test_files_that_are_no_readings(run_built, tmp_path, text, words):
    path = tmp_path / "readings.csv"
    path.write_text(text, encoding="utf-8")
    ran = run_built("--readings", path)
    assert (ran.exit_code, ran.stdout) == (2, "")
    assert words in ran.stderr


def test_files_that_are_not_there_or_no_text(tmp_path):
    assert "no such file" in str(heard_in_file(tmp_path / "nothing.csv").faults[0])
    assert "a folder" in str(heard_in_file(tmp_path).faults[0])
    (tmp_path / "binary.csv").write_bytes(b"\xff\xfe\x00\x9f")
    assert "not text" in str(heard_in_file(tmp_path / "binary.csv").faults[0])


def test_a_row_with_too_few_or_too_many_cells(linear, tmp_path):
    path = tmp_path / "readings.csv"
    path.write_text("input,measured,instrument\nx1\nx2,0 mm,micrometer\n", encoding="utf-8")
    with pytest.raises(CallError, match="line 2, x1") as refused:
        read_measured(linear(), heard_in_file(path))
    assert "x2" not in str(refused.value)
    path.write_text("input,measured,instrument\nx2,0 mm,micrometer,more\n", encoding="utf-8")
    with pytest.raises(CallError, match="line 2 has 4 values"):
        read_measured(linear(), heard_in_file(path))


def test_nothing_measured(run_built):
    ran = run_built()
    assert ran.exit_code == 2
    assert "nothing was measured" in ran.stderr


def test_command_writes_a_folder(run_built, tmp_path):
    target = tmp_path / "answer"
    assert run_built(*READ, "--out", target, "--quiet").exit_code == 0
    names = {str(path.relative_to(target)) for path in target.rglob("*") if path.is_file()}
    assert names == {
        "card.html",
        "report.html",
        "result.json", "study.toml", "tables/measured.csv", "tables/settings.csv",
        "tables/matters_now.csv", "figures/built.svg", "manifest.json",
    }  # fmt: skip


def test_a_study_with_nothing_to_set(run_built, tmp_path):
    ran = run_built(*READ, "--out", tmp_path / "answer", text=FIXED)
    assert ran.exit_code == 0
    assert "Set " not in ran.stdout
    assert not (tmp_path / "answer" / "tables" / "settings.csv").exists()


def test_pure_numbers_need_no_unit(tmp_path):
    path = tmp_path / "water.toml"
    path.write_text(
        'models = ["fuel_level"]\n[inputs.fuel_water]\nnominal = 0.06\nplus_minus = 0.03\n'
        '[limits.flood_margin]\nat_least = "0 mm"\n',
        encoding="utf-8",
    )
    study = read_study(Path(path))
    (one,) = readings(study, fuel_water="0.05, weighing")
    assert (one.value, one.entry.name) == (0.05, "weighing")


def test_drawing_keeps_the_correlation(linear):
    together = '\n[[correlations]]\ninputs = ["x1", "x2"]\nrank = 0.9\nbecause = "one setting"\n'
    study = linear(STUDY.replace('adjust = ["-0.4 mm", "0.4 mm"]\n', "") + together)
    found = find_built(
        study, readings(study, x1="0 mm, vernier_caliper", x2="0 mm, vernier_caliper"), options=ONE
    )

    def works(study):
        plan = plan_run(study, indices=False)
        return priced_in_parts(plan, [], keeps=0.99, parts=256, options=ONE).works(0)

    drawn = works(study)
    assert abs(found.drawn.value - drawn.value) < found.drawn.half_width + drawn.half_width
    assert found.change.value == pytest.approx(found.now.works.value - found.drawn.works.value)
    # Sampled without it the drawing would be far from what it is.
    assert abs(works(replace(study, correlations=())).value - found.drawn.works.value) > 0.1


# --- in Python ----------------------------------------------------------------------------------


def test_answer_is_one_value_with_its_tables(linear, tmp_path):
    study, read = linear(), {"x1": "0.05 mm", "x2": "0 mm"}
    used = {"x1": "digital_caliper", "x2": "micrometer"}
    answer = built(study, measured=read, instruments=used, options=ONE)
    pairs = [f"{name}={words}" for name, words in read.items()]
    again = built(
        study, measured=pairs, instruments=[f"{n}={w}" for n, w in used.items()], options=ONE
    )
    assert answer.to_dict() == again.to_dict()
    assert repr(answer).startswith("<built of gap: Of 100 parts")
    measured, settings = answer.tables()["measured"], answer.tables()["settings"]
    assert list(measured["input"]) == ["x1", "x2"]
    assert list(measured["measured"]) == [0.05, 0.0]
    assert list(settings["works"]) == [share.value for share in answer.found.at_settings]
    assert settings.attrs["units"]["shim"] == "mm"
    matters = answer.tables()["matters_now"]
    assert not {"x1", "x2"} & set(matters["name"])
    assert answer.repeat.startswith(
        "spiritlevel built gap.toml --measured 'x1=0.05 mm' --measured 'x2=0 mm' "
        "--with x1=digital_caliper --with x2=micrometer --seed 1"
    )
    assert (answer.save(tmp_path / "there") / "report.html").exists()


def test_readings_in_a_file_from_python(linear, tmp_path):
    path = tmp_path / "readings.csv"
    path.write_text("input,measured,instrument\nx1,0.05 mm,digital_caliper\n", encoding="utf-8")
    answer = built(linear(), readings=str(path), options=ONE)
    assert [part.measured.item.name for part in answer.found.parts] == ["x1"]
    with pytest.raises(CallError, match="nothing was measured"):
        built(linear(), options=ONE)


def test_page_and_terminal_name_an_instrument_alike(linear):
    answer = built(
        linear(),
        measured={"x1": "0.05 mm"},
        instruments={"x1": "pin_gauges_in_0_05_mm_steps"},
        options=ONE,
    )
    table = answer.sheets["measured"]
    assert table.rows_on_page[0][3] == "pin gauges in 0.05 mm steps"
    assert table.rows_on_terminal[0][0][3] == "pin gauges in 0.05 mm steps"
    assert "in 0 05" not in render(answer.page())
