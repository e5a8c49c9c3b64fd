"""``learn`` as a builder meets it: words, files, refusals, what is kept, and what is told."""

import json
import os
from pathlib import Path

import pytest

import sensitivity as sl
from sensitivity.answers.learn.answer import check_doubts_file
from sensitivity.errors import FolderError, MachineError
from tests.strategies import GOOD

SET = GOOD.replace("[inputs.pin]\n", '[inputs.pin]\nadjust = ["9.7 mm", "9.9 mm"]\n')
OPTIONS = sl.RunOptions(seed=1, workers=1)
SEIZED = ("--seen", "a tight pin seizes", "--at", "warmth=20 degC")


@pytest.fixture
def learn(run_study):
    """Ask ``learn`` of the good study, or of another."""

    def ask(*words, text=GOOD):
        return run_study(text, *words, command="learn")

    return ask


def test_a_failure_points_to_what_it_hangs_on(learn):
    ran = learn(*SEIZED, "--json", text=SET)
    assert ran.exit_code == 0, ran.stderr
    found = json.loads(ran.stdout)
    assert found["fault"]["broken"] == ["play"]
    first = [one["name"] for one in found["fault"]["suspects"][:2]]
    assert set(first) == {"hole", "pin"}
    # What it hangs on can be made anew, and what can be set is set better.
    assert found["works"]["estimate"] < found["works_before"]["estimate"]
    remedies = {tuple(one["made_anew"]): one for one in found["fault"]["remedies"]}
    assert remedies["hole", "pin"]["gain"]["interval"][0] > 0.0
    assert found["best_setting"]["at"]["pin"] < 9.8
    assert found["expected"][0]["probability"] == pytest.approx(
        found["fault"]["expected"], abs=0.02
    )


def test_screen_says_it_in_words(learn):
    ran = learn(*SEIZED, text=SET)
    said = " ".join(ran.stdout.split())
    for words in (
        "What was seen",
        '"a tight pin',
        "before the trials",
        "as it stands",
        "Where to look first",
        "made anew",
        "A slip is allowed for in each of 2 dimensions, with a chance of 1 in 50",
        "Of 100 parts that behave as this one did",
        "What one reading would settle of the failure",
    ):
        assert words in said, words


def test_nothing_failed_and_no_fault_is_looked_for(learn):
    found = json.loads(learn("--seen", "play=kept", "--json").stdout)
    assert found["fault"] is None
    assert found["works"]["estimate"] >= found["works_before"]["estimate"] - 0.02
    said = learn("--seen", "play=kept").stdout
    assert "Where to look first" not in said


def test_chance_of_a_slip_is_the_studys(learn, read):
    none = read("blunder = 0\n" + GOOD)
    assert none.blunder == 0.0
    answer = sl.learn(none, seen={"play": "broken"}, options=OPTIONS)
    assert not answer.found.slips
    assert all(one.slip == (0.0, 0.0) for one in answer.found.fault.suspects)
    own = read(GOOD.replace("[inputs.pin]\n", '[inputs.pin]\nblunder = "1 in 10"\n'))
    slips = sl.learn(own, seen={"play": "broken"}, options=OPTIONS).found.slips
    assert (slips["pin"].flat, slips["hole"].flat) == (0.1, 0.02)
    assert (
        "No slip is allowed for" in learn("--seen", "play=kept", text="blunder = 0\n" + GOOD).stdout
    )


@pytest.mark.parametrize("stated", ['"1 mm"', "0.7", "-0.1", "true", '"often"'])
def test_chance_that_is_none_is_refused(learn, stated):
    ran = learn("--seen", "play=kept", text=f"blunder = {stated}\n{GOOD}")
    assert ran.exit_code == 2
    assert "line 1: blunder" in ran.stderr
    assert "1 in 50" in ran.stderr


def test_far_reading_is_a_conflict_until_it_is_believed(learn):
    read = ("--seen", "hole=11.5 mm", "--with", "hole=micrometer")
    refused = learn(*read, text="blunder = 0\n" + GOOD)
    assert refused.exit_code == 2
    assert "hole" in refused.stderr
    rare = ("--seen", "lean=2.2 deg", "--with", "lean=protractor")
    ran = learn(*rare)
    assert ran.exit_code == 2
    assert "--believe" in ran.stderr
    believed = learn(*rare, "--believe")
    assert believed.exit_code == 0, believed.stderr
    assert "Taken as seen in spite of a conflict" in " ".join(believed.stdout.split())


def test_without_anything_seen_it_says_how(learn):
    ran = learn()
    assert ran.exit_code == 2
    assert "--trials FILE.toml" in ran.stderr


def test_without_limits_nothing_can_be_said(learn):
    ran = learn("--seen", "play=10 um", text=GOOD.partition("[limits.play]")[0])
    assert ran.exit_code == 2


def test_where_only_conditions_vary_nothing_is_learnt(learn):
    text = GOOD.replace('"build"', '"running"').replace('"model"', '"running"')
    text = text.replace('"drilled"', '"drilled"\nkind = "running"')
    ran = learn("--seen", "play=kept", text=text)
    assert ran.exit_code == 2
    assert "no dimension varies and no doubt is stated" in ran.stderr


@pytest.mark.parametrize("kind", ["model", "running"])
def test_study_without_one_kind_is_learnt_of(learn, kind):
    text = GOOD.replace(f'"{kind}"', '"build"') if kind == "running" else GOOD
    text = text.replace('kind               = "model"\n', "") if kind == "model" else text
    ran = learn("--seen", "play=broken", "--json", text=text)
    assert ran.exit_code == 0, ran.stderr
    assert json.loads(ran.stdout)["fault"]["suspects"][0]["name"] in ("hole", "pin")


def test_doubts_are_kept_and_taken(run_command, write_study, model_file, tmp_path):
    path, kept = write_study(GOOD), tmp_path / "physics.json"
    more = ("--model-file", model_file)
    lean = ("--seen", "tilt=0.12 deg", "--with", "tilt=digital_level_box")
    ran = run_command("learn", path, *more, *lean, "--save-doubts", kept)
    assert ran.exit_code == 0, ran.stderr
    assert json.loads(kept.read_text("utf-8"))["names"] == ["tilt"]
    taken = write_study('doubts = "physics.json"\n' + GOOD, "next.toml")
    study = sl.read_study(taken, (str(model_file),))
    before = sl.read_study(path, (str(model_file),))
    (tilt,) = [item for item in study.inputs if item.name == "tilt"]
    (wide,) = [item for item in before.inputs if item.name == "tilt"]
    # N(0, .1) read .12 +- .2 rectangular: within -.08 to .32.
    assert tilt.standard_deviation < 0.9 * wide.standard_deviation
    assert tilt.mean > 0.02
    again = run_command("learn", taken, *more, *lean)
    assert again.exit_code == 2
    assert "heard already, in physics.json" in again.stderr
    assert run_command("run", taken, *more, "--quiet", "--out", tmp_path / "out").exit_code == 0


def test_doubts_go_over_no_other_file(run_command, write_study, model_file, tmp_path):
    other = tmp_path / "other.json"
    other.write_text("{}", encoding="utf-8")
    ran = run_command(
        "learn", write_study(GOOD), "--model-file", model_file, "--seen", "play=kept",
        "--save-doubts", other,
    )  # fmt: skip
    assert ran.exit_code == 2
    assert "no file of kept doubts" in ran.stderr
    assert other.read_text("utf-8") == "{}"


def test_doubts_go_nowhere_that_has_no_end(tmp_path, monkeypatch):
    def read(*_, **__):
        raise AssertionError("would never end")

    os.mkfifo(tmp_path / "pipe.json")
    monkeypatch.setattr(Path, "read_text", read)
    for name in ("pipe.json", "gone/physics.json"):
        with pytest.raises(FolderError):
            check_doubts_file(tmp_path / name)


def test_no_doubts_are_kept_of_an_answer_that_cannot_be_written(learn, tmp_path, monkeypatch):
    def full(*_, **__):
        raise MachineError("no space left on device")

    monkeypatch.setattr("sensitivity.command_line.learn.deliver", full)
    ran = learn("--seen", "play=kept", "--save-doubts", tmp_path / "physics.json")
    assert ran.exit_code == 1
    assert not list(tmp_path.glob("*physics.json*"))
    assert not list(tmp_path.glob(".*"))


@pytest.mark.parametrize("replicates", [9, 12])
def test_any_number_of_replicates_will_do(read, replicates):
    options = sl.RunOptions(seed=1, workers=1, replicates=replicates)
    found = sl.learn(read(SET), seen={"play": "broken"}, options=options).found
    assert found.fault.named
    assert found.known.weights.shape[0] == replicates


def test_same_seed_says_the_same(read):
    study = read(SET)
    seen = {"play": "broken"}
    found = [
        sl.learn(study, seen=seen, options=sl.RunOptions(seed=1, workers=w)).to_dict()
        for w in (1, 2)
    ]
    assert found[0] == found[1]


def test_repeat_is_the_call(read):
    answer = sl.learn(
        read(SET), seen=["a tight pin seizes"], at={"warmth": "20 degC"}, options=OPTIONS
    )
    assert "learn study.toml --seen 'a tight pin seizes' --at 'warmth=20 degC'" in answer.repeat
    assert "--seed 1 --replicates 8 --points 64" in answer.repeat


def test_odd_reading_is_a_symptom_too(read):
    """A pin that leans as one in a hundred does: the hole is too wide, or the pin too thin."""
    answer = sl.learn(
        read(GOOD),
        seen={"lean": "2.2 deg"},
        instruments={"lean": "protractor"},
        believe=True,
        options=OPTIONS,
    )
    fault = answer.found.fault
    assert fault.seen == ("lean",)
    assert [one.item.name for one in fault.named] == ["hole", "pin"]
    assert fault.together == (("hole", "pin"),)
    # Only a slip can be so far out.
    assert sum(one.if_one for one in fault.named) == pytest.approx(1.0)
    assert all(one.out[1] > 0.3 for one in fault.named)


# --- the demo's own trials -----------------------------------------------------------------------

DEMO = Path(__file__).parents[1] / "studies" / "bramble"


@pytest.fixture(scope="module")
def first_lighting():
    study = sl.read_study(DEMO / "stepped_pipe.toml")
    options = sl.RunOptions(seed=1, replicates=8)
    return sl.learn(study, DEMO / "trials" / "first_lighting.toml", options=options)


@pytest.mark.slow
def test_flood_on_the_bench_points_to_the_angles(first_lighting):
    found = first_lighting.found
    named = [one.item.name for one in found.fault.named]
    assert named[0] == "outlet_tilt"
    assert {"joint_error_1", "joint_error_2"} <= set(named)
    assert found.now.high < 0.02 < found.before.low
    # One height says more of it than any of the angles that it adds up.
    assert found.readings[0].name == "burner_height"
    (hold,) = [one for one in found.doubts if one.item.name == "wick_hold"]
    assert hold.before[1] - hold.before[0] > 4.0
    assert 3.0 <= hold.after[0] < 3.5 < hold.after[1] <= 4.0


@pytest.mark.slow
def test_next_trial_of_the_demo_is_a_cold_one_with_its_procedure(first_lighting):
    best = first_lighting.found.trials[0]
    assert best.trial.safe
    assert best.trial.name == "tilted_until_it_floods"
    assert best.of_part.low > 0.3
    page = first_lighting.page()
    (section,) = [one for one in page.sections if one.title == "Which trial next"]
    assert any("____" in str(block) for block in section.blocks)


@pytest.mark.slow
def test_verdict_of_the_demo_is_said_in_burners(first_lighting):
    said = first_lighting.verdict
    assert "burners that behave as this one did" in said
    assert "outlet tilt" in said
    assert "Next trial: tilted in a tray until it floods" in said
