"""The command: every command and option, exit statuses, what goes to which stream."""

import gzip
import io
import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from sensitivity.spreads.workshop import workshop_table
from tests.strategies import GOOD, MODELS, QUICK

COMMANDS = ("run", "check", "models", "new", "processes", "compare")
ESCAPE = "\x1b["
COLOUR = re.compile(r"\x1b\[(?:\d+;)*(?:3[0-8]|4[0-8]|9[0-7]|10[0-7])(?:;\d+)*m")
HERE = [sys.executable, "-m", "sensitivity"]
UNSEEDED = GOOD.replace("seed       = 1\n", "")


# --- help ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("command", COMMANDS)
def test_help_of_every_command(run_command, command):
    ran = run_command(command, "--help")
    assert (ran.exit_code, ran.stderr) == (0, "")
    assert f"spiritlevel {command}" in ran.stdout or f" {command} " in ran.stdout


def test_help_lists_every_command(run_command):
    ran = run_command("--help")
    assert ran.exit_code == 0
    for command in COMMANDS:
        assert re.search(rf"^\s+{command}\s", ran.stdout, re.M)


@pytest.mark.parametrize(
    "option",
    ["--out", "--seed", "--replicates", "--points", "--workers", "--model-file", "--keep-samples",
     "--json", "--quiet", "--require-yield", "--pairs", "--totals"],
)  # fmt: skip
def test_help_of_run_lists_every_option(run_command, option):
    assert option in run_command("run", "--help").stdout


@pytest.mark.parametrize("words", [["--help"], ["run", "--help"], ["--version"]], ids=" ".join)
def test_help_imports_nothing_heavy(words):
    imported = {module.partition(".")[0] for module in _imported(words)}
    assert "typer" in imported  # the list was read
    heavy = {"numpy", "scipy", "pandas", "matplotlib", "seaborn", "SALib", "pint", "jinja2"}
    assert not imported & heavy


def test_a_check_waits_for_no_library_of_special_functions():
    """They take a fifth of a second to load; a stepped pipe's check and its spreads need none."""
    study = Path(__file__).parents[1] / "studies" / "bramble" / "stepped_pipe.toml"
    imported = _imported(["check", str(study)])
    assert "numpy" in imported
    assert not imported & {"scipy.special", "scipy.stats", "pandas", "matplotlib", "pint"}


def _imported(words):
    """Names of all modules that a call of the command imports."""
    done = subprocess.run(
        [sys.executable, "-X", "importtime", *HERE[1:], *words],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return {line.rpartition("|")[2].strip() for line in done.stderr.splitlines()}


def test_version(run_command):
    from sensitivity import __version__

    ran = run_command("--version")
    assert (ran.exit_code, ran.stdout) == (0, f"spiritlevel {__version__}\n")


@pytest.mark.parametrize(
    "words",
    [
        ["runn", "study.toml"], ["run"], ["check"], ["compare"], ["new"],
        ["run", "study.toml", "--no-such-option"], ["run", "study.toml", "--seed", "-1"],
        ["run", "study.toml", "--seed", "one"], ["run", "study.toml", "--replicates", "7"],
        ["run", "study.toml", "--workers", "0"], ["run", "study.toml", "--points", "63"],
        ["run", "study.toml", "--points", "32"], ["run", "study.toml", "--points", "100"],
        ["run", "study.toml", "--points", "2097152"], ["run", "study.toml", "--points", "-64"],
        ["run", "study.toml", "--points", "0"], ["run", "study.toml", "--replicates", "8.5"],
        ["run", "study.toml", "--replicates", "100001"],
        ["run", "study.toml", "--require-yield", "1"],
        ["run", "study.toml", "--require-yield", "100.5"],
        ["run", "study.toml", "--require-yield", "most"],
        ["run", "study.toml", "--require-yield", "-0.1"],
        ["run", "study.toml", "--require-yield", "nan"], ["run", "study.toml", "more.toml"],
    ],
    ids=" ".join,
)  # fmt: skip
def test_call_that_is_wrong(run_command, write_study, model_file, tmp_path, words):
    write_study(GOOD)
    more = ["--model-file", model_file] if words[0] == "run" and len(words) > 1 else []
    ran = run_command(*words, *more)
    assert ran.exit_code == 2
    assert ran.stdout == ""
    assert ran.stderr.strip()
    assert "Traceback" not in ran.stderr
    assert sorted(path.name for path in tmp_path.iterdir()) == ["study.toml"]


def test_points_message_says_found_and_right(run_study):
    ran = run_study(GOOD, "--points", 100)
    assert "--points" in ran.stderr
    assert "found 100" in ran.stderr
    assert "power of two" in ran.stderr


# --- run ----------------------------------------------------------------------------------------


def test_run_prints_the_story_in_order(finished):
    text = finished.ran.stdout
    places = [
        text.index(words)
        for words in (
            "A pin in a hole",
            "seed 1",
            "keep every limit",
            "Results against the limits",
            "all limits together",
            "Build dimensions: what care gains",
            "Running conditions",
            "Model doubts",
            "not a proof of safety",
            "Written to",
        )
    ]
    assert places == sorted(places)
    for words in ("≥ 0.05 mm", "≤ 1.2 deg", "a tight pin seizes", "hole", "± 0.2 mm"):
        assert words in text
    assert finished.ran.stderr == ""  # no progress: standard error is no terminal


def test_run_leaves_what_the_interface_names(finished):
    names = {str(path.relative_to(finished.folder)) for path in finished.folder.rglob("*")}
    assert {
        "report.html", "result.json", "study.toml", "samples.csv.gz", "tables", "figures",
        "tables/inputs.csv", "tables/outputs.csv", "tables/sensitivity.csv", "tables/advice.csv",
        "tables/second_order.csv", "figures/results.svg", "figures/what_matters.svg",
    } <= names  # fmt: skip
    assert (finished.folder / "study.toml").read_text(encoding="utf-8") == GOOD


def test_default_folder_stands_where_one_stands(run_command, tmp_path, model_file):
    (tmp_path / "far").mkdir()
    (tmp_path / "far" / "pins.v2.toml").write_text(GOOD)
    ran = run_command("run", "far/pins.v2.toml", "--model-file", model_file)
    assert ran.exit_code == 0
    assert "Written to pins.v2-results/" in ran.stdout
    assert (tmp_path / "pins.v2-results" / "result.json").exists()
    assert [path.name for path in (tmp_path / "far").iterdir()] == ["pins.v2.toml"]


@pytest.mark.usefixtures("no_figures")
def test_no_samples_unless_asked_for(run_study, tmp_path):
    ran = run_study(GOOD)
    assert ran.exit_code == 0
    assert not (tmp_path / "study-results" / "samples.csv.gz").exists()
    document = json.loads((tmp_path / "study-results" / "result.json").read_text())
    assert document["second_order"] == {}


def test_samples_are_every_burner(finished):
    with gzip.open(finished.folder / "samples.csv.gz", "rt") as stream:
        table = pd.read_csv(stream)
    assert len(table) == 8 * 64 * 2 == finished.document["yield"]["rows"]
    assert {"hole", "pin", "warmth", "tilt", "play", "lean", "leak", "meets_all_limits"} == set(
        table
    )
    passes = (table["play"] >= 0.05) & (table["lean"] <= 1.2)
    assert passes.sum() == finished.document["yield"]["passes"]
    assert (passes == (table["meets_all_limits"] == 1)).all()
    np.testing.assert_allclose(
        table["play"],
        table["hole"] * (1 + 1.7e-5 * (table["warmth"] - 20)) - table["pin"],
        atol=1.1e-5,  # both sizes are written with seven digits
    )


def test_pairs_are_every_pair(finished):
    for name in ("play", "lean", "meets_all_limits"):
        pairs = {frozenset(row["inputs"]) for row in finished.document["second_order"][name]}
        assert len(pairs) == 6
        assert all(pair <= {"hole", "pin", "warmth", "tilt"} for pair in pairs)


@pytest.mark.usefixtures("no_figures")
def test_json_alone_on_standard_output(run_study, tmp_path):
    ran = run_study(GOOD, "--json")
    assert (ran.exit_code, ran.stderr) == (0, "")
    assert ran.stdout == (tmp_path / "study-results" / "result.json").read_text(encoding="utf-8")
    assert json.loads(ran.stdout)["schema"] == 2


@pytest.mark.usefixtures("no_figures")
def test_json_alone_even_where_colour_is_forced(run_study, monkeypatch):
    monkeypatch.setenv("FORCE_COLOR", "1")
    ran = run_study(GOOD, "--json", "--quiet")
    assert ESCAPE not in ran.stdout
    assert json.loads(ran.stdout)["seed"] == 1


@pytest.mark.usefixtures("no_figures")
def test_json_alone_even_where_a_model_prints(run_command, write_study, tmp_path):
    path = tmp_path / "talks.py"
    path.write_text(MODELS.replace("    play = hole *", "    print('here')\n    play = hole *"))
    ran = run_command("run", write_study(), "--model-file", path, "--json")
    assert ran.exit_code == 0
    assert json.loads(ran.stdout)["seed"] == 1


@pytest.mark.usefixtures("no_figures")
def test_quiet_prints_the_verdict_alone(run_study, finished):
    ran = run_study(GOOD, "--quiet")
    assert (ran.exit_code, ran.stderr) == (0, "")
    assert " ".join(ran.stdout.split()) == finished.document["verdict"]


# --- seed ---------------------------------------------------------------------------------------


@pytest.mark.usefixtures("no_figures")
def test_zero_is_a_seed_like_any_other(run_study):
    by_option = run_study(GOOD, "--seed", 0, "--json").stdout
    again = run_study(GOOD, "--seed", 0, "--json").stdout
    in_study = run_study(GOOD.replace("seed       = 1", "seed       = 0"), "--json").stdout
    other = run_study(GOOD, "--json").stdout
    assert by_option == again
    assert json.loads(by_option)["seed"] == 0
    assert json.loads(by_option)["outputs"] == json.loads(in_study)["outputs"]
    assert json.loads(by_option)["outputs"] != json.loads(other)["outputs"]


@pytest.mark.usefixtures("no_figures")
def test_seed_that_was_not_given_is_drawn_printed_and_stored(run_study, tmp_path):
    first = run_study(UNSEEDED)
    document = json.loads((tmp_path / "study-results" / "result.json").read_text())
    assert isinstance(document["seed"], int)
    assert f"seed {document['seed']}," in first.stdout
    other = json.loads(run_study(UNSEEDED, "--json").stdout)
    assert other["seed"] != document["seed"]
    repeated = json.loads(run_study(UNSEEDED, "--seed", document["seed"], "--json").stdout)
    assert repeated == document


def test_same_bytes_whatever_the_number_of_workers(run_study, tmp_path):
    results = []
    for workers in (1, 2):
        target = tmp_path / f"by-{workers}"
        assert run_study(GOOD, "--workers", workers, "--pairs", "--out", target).exit_code == 0
        results.append({
            str(path.relative_to(target)): path.read_bytes()
            for path in target.rglob("*") if path.is_file()
        })  # fmt: skip
    assert results[0] == results[1]


@pytest.mark.usefixtures("no_figures")
def test_options_go_before_the_study(run_study):
    document = json.loads(
        run_study(GOOD, "--seed", 7, "--replicates", 9, "--points", 128, "--json").stdout
    )
    assert (document["seed"], document["replicates"], document["points"]) == (7, 9, 128)
    # A and B and four swapped samples
    assert document["evaluations"] == 9 * 128 * 6
    assert document["yield"]["rows"] == 9 * 128 * 2


@pytest.mark.usefixtures("no_figures")
def test_adaptive_run_says_how_many_it_took(run_study):
    document = json.loads(run_study(f"{GOOD}target_half_width = 0.004\n", "--json").stdout)
    low, high = document["yield"]["interval"]
    assert document["replicates"] > 8
    assert (high - low) / 2 <= 0.004


# --- --require-yield ----------------------------------------------------------------------------


@pytest.mark.usefixtures("no_figures")
def test_required_yield(run_study, finished, tmp_path):
    lowest = finished.document["yield"]["interval"][0]
    assert 0.5 < lowest < 0.99
    assert run_study(GOOD, "--require-yield", 0.5).exit_code == 0
    assert run_study(GOOD, "--require-yield", 50).exit_code == 0
    assert run_study(GOOD, "--require-yield", repr(lowest)).exit_code == 0
    above = run_study(GOOD, "--require-yield", repr(float(np.nextafter(lowest, 1))), "--json")
    assert above.exit_code == 3
    assert json.loads(above.stdout)["seed"] == 1
    assert "yield" in above.stderr
    assert (tmp_path / "study-results" / "result.json").exists()


def test_required_yield_of_a_study_without_limits(run_study):
    text = "models = ['pin_fit']\n[inputs.hole]\nplus_minus = '0.2 mm'\n" + QUICK
    ran = run_study(text, "--require-yield", 0.5)
    assert ran.exit_code == 2
    assert "[limits]" in ran.stderr


# --- check, models, new, processes --------------------------------------------------------------


def test_check_samples_and_writes_nothing(run_study, tmp_path, monkeypatch):
    monkeypatch.setattr("sensitivity.answers.run.find.run_replicates", None)
    ran = run_study(GOOD, command="check")
    assert (ran.exit_code, ran.stderr) == (0, "")
    for words in (
        "A pin in a hole",
        "root-sum-square",
        "worst case",
        "≥ 0.05 mm",
        "0.20 mm",
    ):
        assert words in ran.stdout
    # Worst case of the play by hand: (9.8 less 15 K of 1.7e-5) - 9.9 to (10.2 and 20 K) - 9.7 mm.
    assert "−0.10 to 0.50" in ran.stdout
    assert [path.name for path in tmp_path.iterdir()] == ["study.toml"]


def test_check_says_what_the_drawing_itself_breaks(run_study):
    ran = run_study(GOOD.replace('"0.05 mm"', '"0.3 mm"'), command="check")
    assert ran.exit_code == 0
    assert "As drawn it breaks: play" in ran.stdout


def test_check_of_a_study_in_which_nothing_varies(run_study):
    assert run_study("models = ['pin_fit']\n", command="check").exit_code == 0
    ran = run_study("models = ['pin_fit']\n")
    assert ran.exit_code == 2
    assert "no input varies" in ran.stderr


def test_models_lists_installed_ones_and_ones_own(run_command, model_file):
    ran = run_command("models", "--model-file", model_file)
    assert (ran.exit_code, ran.stderr) == (0, "")
    for name in ("fuel_level", "stepped_pipe", "bent_pipe", "pin_fit", "rattle_heard", "bolt"):
        assert re.search(rf"^\s*{name}\s", ran.stdout, re.M)
    assert "fuel_level" in run_command("models").stdout
    assert "pin_fit" not in run_command("models").stdout


def test_models_of_one_name_tells_all_of_it(run_command, model_file):
    ran = run_command("models", "pin_fit", "--model-file", model_file)
    assert (ran.exit_code, ran.stderr) == (0, "")
    flat = " ".join(ran.stdout.split())
    for words in (
        "Play and lean of a pin in a hole.", "bore of the hole; above 0", "9.8 mm",
        "degC", "share of the gap that is open; 0 to 1", "hole less pin", "ml/min",
    ):  # fmt: skip
        assert words in flat


def test_models_of_an_unknown_name(run_command):
    ran = run_command("models", "fuel_levl")
    assert ran.exit_code == 2
    assert '"fuel_level"' in ran.stderr


def test_brackets_in_a_meaning_are_shown_as_they_stand(run_command, tmp_path):
    path = tmp_path / "brackets.py"
    path.write_text(MODELS.replace("bore of the hole", "bore [mm] of the [/hole] :fire: [red]"))
    ran = run_command("models", "pin_fit", "--model-file", path)
    assert ran.exit_code == 0, ran.stderr
    for words in ("[mm]", "[/hole]", ":fire:", "[red]"):
        assert words in ran.stdout


def given(text):
    """A new study with every size that it asks for as its own example has it."""
    return re.sub(r'nominal = ""  # like (.*)', r"nominal = \1", text)


@pytest.mark.parametrize("names", [["pin_fit"], ["pin_fit", "rattle_heard"], ["rattle_heard"]])
def test_new_study_checks_once_its_sizes_are_given(run_command, write_study, model_file, names):
    ran = run_command("new", *names, "--model-file", model_file)
    assert (ran.exit_code, ran.stderr) == (0, "")
    content = tomllib.loads(ran.stdout)
    assert sorted(content["models"]) == sorted(names)
    if names == ["pin_fit"]:
        assert content["inputs"]["hole"] == {"nominal": ""}
    if len(names) == 2:
        assert "play" not in content["inputs"]  # it is a result of the other
    checked = run_command("check", write_study(given(ran.stdout)), "--model-file", model_file)
    assert checked.exit_code == 0, checked.stderr


@pytest.mark.parametrize("units", ["mm", "inch"])
@pytest.mark.parametrize("names", [["fuel_level"], ["stepped_pipe", "fuel_level"], ["bent_pipe"]])
def test_new_study_asks_for_every_size_by_its_number(run_command, write_study, names, units):
    ran = run_command("new", *names, "--units", units)
    study = write_study(ran.stdout)
    asked = run_command("check", study)
    assert asked.exit_code == 2
    empty = re.findall(r'\[inputs\.(\w+)\]  # (\(\d+\)).*\nnominal = ""', ran.stdout)
    assert empty
    for name, number in empty:
        assert re.search(rf"{re.escape(number)} +line \d+ +{name.replace('_', ' ')} ", asked.stderr)
    study.write_text(given(ran.stdout))
    assert run_command("check", study).exit_code == 0


def test_new_study_is_written_with_its_drawing_and_never_over_another(
    run_command, tmp_path, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    ran = run_command("new", "stepped_pipe", "fuel_level", "--units", "inch", "--out", "mine.toml")
    assert (ran.exit_code, ran.stderr) == (0, "")
    assert "spiritlevel check mine.toml" in ran.stdout
    text, drawing = Path("mine.toml").read_text(), Path("mine.svg").read_text()
    numbers = dict(re.findall(r"\[inputs\.(\w+)\]  # \((\d+)\)", text))
    labelled = re.findall(r'data-input="(\w+)" data-number="(\d+)"', drawing)
    assert len(labelled) == len(set(labelled))
    assert dict(labelled) == numbers
    for there in ("mine.toml", "mine.svg"):
        Path("other.toml").unlink(missing_ok=True)
        Path(there).rename("other" + there[4:])
        again = run_command("new", "fuel_level", "--out", "other.toml")
        assert again.exit_code == 2
        assert "left alone" in again.stderr
    assert Path("other.svg").read_text() == drawing


def test_new_study_that_does_not_fit_leaves_nothing(run_command, tmp_path, monkeypatch):
    plain = Path.open

    def full(self, *words, **more):
        if self.suffix == ".svg":  # the second of the two
            raise OSError(28, "No space left on device", str(self))
        return plain(self, *words, **more)

    monkeypatch.setattr(Path, "open", full)
    ran = run_command("new", "stepped_pipe", "--out", tmp_path / "mine.toml")
    assert ran.exit_code == 1
    assert "no space left" in ran.stderr
    assert not [path for path in tmp_path.iterdir() if path.name.startswith("mine")]


def test_new_study_of_ones_own_model_asks_for_what_has_no_default(
    run_command, write_study, model_file
):
    ran = run_command("new", "bolt", "--model-file", model_file)
    assert ran.exit_code == 0
    assert "free length" in ran.stdout
    checked = run_command("check", write_study(ran.stdout), "--model-file", model_file)
    assert checked.exit_code == 2
    assert "(1)" in checked.stderr
    checked = run_command("check", write_study(given(ran.stdout)), "--model-file", model_file)
    assert checked.exit_code == 0, checked.stderr


def test_process_that_a_new_study_names_exists(run_command):
    named = re.findall(r'process = "(\w+)"', run_command("new", "fuel_level").stdout)
    assert named
    assert set(named) <= set(workshop_table("process"))


def test_processes_lists_all_with_their_sources(run_command):
    ran = run_command("processes")
    assert (ran.exit_code, ran.stderr) == (0, "")
    # Long names and sources may be broken over lines: compare with all blanks taken out.
    tight = re.sub(r"\s", "", ran.stdout)
    processes, instruments = workshop_table("process"), workshop_table("instrument")
    assert len(processes) >= 20
    for name in (*processes, *instruments):
        assert name in tight
    assert "commonpractice" in tight
    assert "ASTMB251" in tight


def test_processes_of_some_words_and_a_kind(run_command, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    ran = run_command("processes", "Reaming")
    assert (ran.exit_code, ran.stderr) == (0, "")
    names = re.findall(r"^  (\w+)$", ran.stdout, re.M)
    assert {"reamed_by_hand", "reamed_hole_h7"} <= set(names)
    assert "drilled_with_a_hand_drill" not in names
    assert 'process = "NAME"' in ran.stdout
    assert max(map(len, ran.stdout.splitlines())) <= 80
    instruments = run_command("processes", "drill", "--kind", "instrument").stdout
    assert re.findall(r"^  (\w+)$", instruments, re.M) == ["drill_shanks"]
    assert "process =" not in instruments


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        (["drilled_1_to_2_mm"], 'the nearest is "drilled_1_to_3_mm"'),
        (["scribr"], 'nothing here has "scribr"; the nearest is "scriber"'),
        (["drill", "angle"], '"drill" and "angle" together'),
        (["drill", "--kind", "fit"], "write process or instrument"),
    ],
)
def test_processes_without_a_hit_name_the_nearest(run_command, words, answer):
    ran = run_command("processes", *words)
    assert (ran.exit_code, ran.stdout) == (2, "")
    assert answer in ran.stderr


def test_models_are_described_in_shop_words_at_80_columns(run_command, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    names = re.findall(r"^(\w+)  ", run_command("models").stdout, re.M)
    assert len(names) > 15
    for name in sorted({*names} - {"model"}):  # but the heads
        text = run_command("models", name).stdout
        assert max(map(len, text.splitlines())) <= 80
        assert not re.search(r"`|\*\*|NaN|broadcast|\bargument|>=|\.\.", text), name


# --- colour, streams, terminals -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("environment", "escapes"),
    [({}, False), ({"FORCE_COLOR": "1"}, True), ({"NO_COLOR": "1"}, False),
     ({"NO_COLOR": "1", "FORCE_COLOR": "1"}, None)],
    ids=["plain", "forced", "none", "both"],
)  # fmt: skip
@pytest.mark.parametrize("command", ["check", "models", "processes"])
def test_colour(run_study, run_command, monkeypatch, environment, escapes, command):
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    ran = run_study(GOOD, command="check") if command == "check" else run_command(command)
    assert ran.exit_code == 0
    if escapes is not None:
        assert (ESCAPE in ran.stdout) is escapes
    if "NO_COLOR" in environment:
        assert not COLOUR.search(ran.stdout)


def test_message_of_an_error_has_no_colour(run_study, monkeypatch):
    monkeypatch.setenv("NO_COLOR", "1")
    assert ESCAPE not in run_study("nonsense").stderr


@pytest.mark.usefixtures("no_figures")
def test_words_of_a_study_are_shown_as_they_stand(run_study):
    text = GOOD.replace("A pin in a hole", "Wicks :fire: [red]one[/red] [/] \\\\[bold]").replace(
        "a tight pin seizes", "it [/b] seizes :pig:"
    )
    ran = run_study(text)
    assert ran.exit_code == 0, ran.stderr
    assert "Wicks :fire: [red]one[/red] [/] \\[bold]" in ran.stdout
    assert "it [/b] seizes :pig:" in " ".join(ran.stdout.split())


def test_found_words_are_quoted_as_they_stand(run_study):
    ran = run_study('models = ["pin_fit"]\n[inputs.hole]\nsamples = "a:pig:[b].csv:x_mm"\n')
    assert ran.exit_code == 2
    assert "a:pig:[b].csv" in ran.stderr


def test_control_characters_of_a_study_do_not_reach_the_terminal(run_study):
    text = GOOD.replace("A pin in a hole", "A \\u001b]0;pin\\u0007 \\u001b[2Jin a hole")
    assert "\x1b" not in run_study(text, command="check").stdout
    text = GOOD.replace('"10 mm"', '"10 \\u001b[2Jmm"')
    assert "\x1b" not in run_study(text, command="check").stderr


@pytest.mark.parametrize(
    "groups",
    [
        ("[/x]", "[red]reamer"),
        ("$\\\\nocommand$", "$x$ and $y$"),
        ("a_b.c", "長さ"),
        ('<b>&amp;\\"', ":pig:"),
    ],
    ids=["markup", "formula", "words", "html"],
)
def test_groups_of_any_name(run_study, tmp_path, groups):
    text = GOOD
    for group, basis in zip(groups, ('"drilled"', '"turned by dial"'), strict=True):
        text = text.replace(f"basis      = {basis}", f'group = "{group}"')
    ran = run_study(text, "--pairs")
    assert (ran.exit_code, ran.stderr) == (0, "")
    document = json.loads((tmp_path / "study-results" / "result.json").read_text("utf-8"))
    for group in groups:
        name = json.loads(f'"{group}"')
        assert name in document["sensitivity"]["play"]
        assert name.replace("_", " ").replace(".", ", ") in ran.stdout


def test_progress_goes_to_standard_error_only_on_a_terminal(run_study, monkeypatch):
    from sensitivity.engine.progress import LineProgress, NoProgress, progress_for

    assert isinstance(progress_for(quiet=False), NoProgress)

    class Terminal(io.StringIO):
        def isatty(self):
            return True

    monkeypatch.setattr(sys, "stderr", Terminal())
    line = progress_for(quiet=False)
    assert isinstance(line, LineProgress)
    assert isinstance(progress_for(quiet=True), NoProgress)
    line.done(3, 16)
    line.done(16, 16)
    line.close()
    written = sys.stderr.getvalue()
    assert "3 of 16" in written
    assert "left" in written
    assert "\n" not in written
    assert written.rpartition("\r")[0].rpartition("\r")[2].strip() == ""  # wiped at the end


def test_reader_that_has_gone_is_no_fault(tmp_path):
    process = subprocess.Popen(
        [*HERE, "processes"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=tmp_path
    )
    process.stdout.close()
    stderr = process.stderr.read()
    process.stderr.close()
    assert (process.wait(timeout=60), stderr) == (0, b"")


def test_output_that_cannot_be_written_is_the_machines_fault(tmp_path):
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [*HERE, "models"],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            cwd=tmp_path,
            check=False,
        )
    assert done.returncode == 1
    assert "no space left on device" in done.stderr
    assert "Traceback" not in done.stderr


def test_output_to_a_file_of_another_encoding(write_study, model_file, tmp_path):
    # Output sent to a file has the encoding of the system, which need not know every sign.
    study = write_study(GOOD)
    done = subprocess.run(
        [*HERE, "check", str(study), "--model-file", str(model_file)],
        capture_output=True, cwd=tmp_path, check=False,
        env={"PYTHONIOENCODING": "cp1252", "PATH": "/usr/bin:/bin"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert b"A pin in a hole" in done.stdout


# --- where errors end ---------------------------------------------------------------------------


def test_interrupt(run_study, monkeypatch, tmp_path):
    def interrupted(*words, **more):
        raise KeyboardInterrupt

    monkeypatch.setattr("sensitivity.answers.run.find.run_replicates", interrupted)
    ran = run_study(GOOD)
    assert (ran.exit_code, ran.stdout) == (130, "")
    assert "interrupted" in ran.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["study.toml"]


@pytest.mark.parametrize(
    ("thrown", "says"),
    [
        (ValueError("a slip"), "a fault in spiritlevel itself"),
        (MemoryError(), "memory"),
        (OSError(28, "No space left on device"), "no space left on device"),
    ],
    ids=["bug", "memory", "disk"],
)
def test_faults_that_are_not_the_users(run_study, monkeypatch, thrown, says):
    def failing(*words, **more):
        raise thrown

    monkeypatch.setattr("sensitivity.answers.run.find.run_replicates", failing)
    ran = run_study(GOOD)
    assert (ran.exit_code, ran.stdout) == (1, "")
    assert says in ran.stderr
    assert "Traceback" not in ran.stderr


def test_traceback_of_a_bug_is_there_for_the_asking(run_study, monkeypatch):
    def failing(*words, **more):
        raise ValueError("a slip")

    monkeypatch.setattr("sensitivity.answers.run.find.run_replicates", failing)
    monkeypatch.setenv("SPIRITLEVEL_TRACEBACK", "1")
    with pytest.raises(ValueError, match="a slip"):
        run_study(GOOD)


def test_model_file_may_be_repeated(run_command, write_study, model_file, tmp_path):
    other = tmp_path / "other.py"
    other.write_text(MODELS.replace("def pin_fit", "def other_fit").replace("PinFit", "OtherFit"))
    study = write_study("models = ['other_fit', 'rattle_heard']\n")
    ran = run_command("check", study, "--model-file", model_file, "--model-file", other)
    assert ran.exit_code == 0, ran.stderr


# --- the calls ----------------------------------------------------------------------------------


def test_short_option_for_help_everywhere(run_command):
    from sensitivity.command_line.app import app

    commands = [command.callback.__name__ for command in app.registered_commands]
    assert {"run", "check", "window"} <= set(commands)
    for words in ([], *([command] for command in commands)):
        short, long = run_command(*words, "-h"), run_command(*words, "--help")
        assert (short.exit_code, short.stdout) == (0, long.stdout)


@pytest.mark.parametrize("words", [["check", "--help"], ["check"], ["chek"], []], ids="-".join)
def test_command_that_is_put_together_alone_answers_as_among_all(words, capsys):
    from sensitivity.command_line.app import program

    answers = []
    for app in (program(), program(words)):
        with pytest.raises(SystemExit) as ended:
            app(words, prog_name="spiritlevel")
        answers.append((ended.value.code, *capsys.readouterr()))
    assert answers[0] == answers[1]


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_shell_completion_knows_the_commands(shell):
    import os

    def asked(words):
        more = {"bash": {"COMP_WORDS": words, "COMP_CWORD": "1"}}.get(
            shell, {"_TYPER_COMPLETE_ARGS": words, "_TYPER_COMPLETE_FISH_ACTION": "get-args"}
        )
        return subprocess.run(
            HERE, capture_output=True, text=True, check=False,
            env=os.environ | {"_SPIRITLEVEL_COMPLETE": f"complete_{shell}", **more},
        )  # fmt: skip

    done = asked("spiritlevel win")
    assert done.stderr == ""
    assert "window" in done.stdout
    assert "measure" not in done.stdout


def test_progress_of_a_later_stage_has_its_own_time(monkeypatch):
    from sensitivity.engine import progress

    now = [0.0]
    monkeypatch.setattr(progress.time, "monotonic", lambda: now[0])
    line = progress.LineProgress(stream := io.StringIO())
    now[0] = 1000.0
    line.done(16, 16)
    line.close()
    now[0] = 1001.0  # a second a replicate in this stage
    line.done(1, 16)
    assert "replicate 1 of 16, 15 s left" in stream.getvalue()
