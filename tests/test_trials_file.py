"""What was seen in trials: read strictly, all faults at once, in the words of a builder too."""

from pathlib import Path

import pytest
from hypothesis import given

from sensitivity.errors import StudyError
from sensitivity.learning.observations import EventSeen, ValueSeen
from sensitivity.learning.symptoms import meant_by, symptoms_of
from sensitivity.learning.trials_file import (
    LARGEST_TRIALS,
    MOST_TRIALS,
    read_trials,
    trials_in_call,
)
from sensitivity.study.file import read_study
from tests.strategies import GOOD, TRIALS, mutated_studies

TRADE = {"play": ("it seizes", "the pin is stuck"), "lean": ("it rocks", "the pin wobbles")}


@pytest.fixture
def study(read):
    return read(GOOD)


@pytest.fixture
def symptoms(study):
    return symptoms_of(study, TRADE)


@pytest.fixture
def heard(tmp_path, study, symptoms):
    """Write trials and read them back."""

    def read_text(text=TRIALS):
        path = tmp_path / "trials.toml"
        path.write_text(text, encoding="utf-8")
        return read_trials(path, study, symptoms)

    return read_text


def faults_of(heard, text):
    with pytest.raises(StudyError) as refused:
        heard(text)
    return refused.value


def test_trials_are_read_in_the_studys_units(heard):
    cold, warm = heard()
    assert cold.trial.title == "cold"
    assert cold.trial.held == {"warmth": 10.0}
    event, value = cold.trial.seen
    assert event == EventSeen("play", broken=False)
    assert isinstance(value, ValueSeen)
    assert (value.result, value.value) == ("hole", 10.03)
    assert (value.error.low, value.error.high) == pytest.approx((-0.07, 0.07))
    assert warm.trial.identifier == "the second"
    assert warm.trial.held["warmth"] == pytest.approx(35.0)
    assert warm.trial.seen[0] == EventSeen("lean", broken=True)
    assert warm.trial.seen[1].error.high == pytest.approx(0.2)
    assert cold.seen == (
        "play at least 0.05 mm",
        "hole 10.03 mm, drill shanks (± 0.07 mm)",
    )
    assert warm.seen[0] == "lean over 1.2 deg"


def test_trial_without_identifier_has_one_by_what_it_says(heard):
    first, again = heard()[0], heard()[0]
    other = heard(TRIALS.replace("10 degC", "11 degC"))[0]
    assert first.trial.identifier == again.trial.identifier
    assert first.trial.identifier.startswith("cold (")
    assert other.trial.identifier != first.trial.identifier


def test_all_faults_at_once_with_their_lines(heard):
    text = (
        TRIALS.replace("warmth = ", "warmht = ")
        .replace("10.03 mm", "10.03")
        .replace('"broken"', '"brokn"')
        .replace('plus_minus = "0.2 ml/min"', 'plusminus = "0.2 ml/min"')
    )
    error = faults_of(heard, text)
    assert [(fault.line, fault.key) for fault in error.faults] == [
        (5, "trials.0.warmht"),
        (6, "trials.0.seen.hole"),
        (12, "trials.1.seen.lean"),
        (12, "trials.1.seen.leak.plusminus"),
    ]
    said = str(error)
    assert "4 faults in these trials; nothing was run" in said
    assert 'did you mean "warmth"?' in said
    assert '"10.03" has no unit; write "10.03 mm"' in said
    assert 'did you mean "plus_minus"?' in said


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("[[trials]]", "[[trial]]", 'did you mean "trials"?'),
        ('title  = "cold"', "title = 3", "should be text in quotes"),
        ('"10 degC"', "true", "should be what it was held at"),
        ('"10 degC"', '"10 mm"', "warmth"),
        ('play = "kept"', 'tilt = "kept"', "no limit of this study"),
        ("hole =", "hloe =", 'did you mean "hole"?'),
        ('"drill_shanks"', '"drill_shank"', "no instrument"),
        ('"drill_shanks"', '"protractor"', "is for an angle"),
        ('plus_minus = "0.2 ml/min"', 'instrument = "steel_rule"', "is for a length"),
        ('plus_minus = "0.2 ml/min"', 'plus_minus = "0 ml/min"', "should be above 0"),
        (', plus_minus = "0.2 ml/min"', "", "say with what it was read"),
        ('"the second"', '"cold"', None),
    ],
)
def test_fault_says_what_would_be_right(heard, old, new, says):
    text = TRIALS.replace(old, new)
    if says is None:
        assert heard(text)[1].trial.identifier == "cold"
        return
    assert says in str(faults_of(heard, text))


def test_same_trial_twice_is_refused(heard):
    said = str(faults_of(heard, TRIALS + TRIALS))
    assert "is the trial number 1 again" in said
    assert "is the trial number 2 again" in said


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "no trials"),
        ("trials = 3\n", "should be written as [[trials]]"),
        ("[[trials]]\n", "wants what was seen"),
        ("[[trials]]\nseen = []\n", "wants what was seen"),
        ("[[trials]\n", "not TOML"),
        ('[[trials]]\nseen = { play = "kept" }\n' * (MOST_TRIALS + 1), "at most 100"),
        ("#" * (LARGEST_TRIALS + 1), "larger than 64 KiB"),
    ],
)
def test_file_that_is_no_file_of_trials(heard, text, says):
    assert says in str(faults_of(heard, text))


def test_missing_file_is_told(study):
    with pytest.raises(StudyError, match="no such file"):
        read_trials("none.toml", study)


@given(mutated_studies(TRIALS))
def test_whatever_stands_there_is_read_or_refused(heard, text):
    faults = ()
    try:
        told = heard(text)
    except StudyError as error:
        told, faults = (), error.faults
    assert told or faults


# --- the builder's own words ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "result"),
    [
        ("it seizes", "play"),
        ("Seized solid", "play"),
        ("the pin got stuck when warm", "play"),
        ("it rocks", "lean"),
        ("a leaning pin wears", "lean"),
        ("lean", "lean"),
        ("play", "play"),
    ],
)
def test_words_find_their_limit(symptoms, said, result):
    assert [one.limit.result for one in meant_by(said, symptoms)] == [result]


def test_words_that_may_mean_either_or_nothing_find_none(symptoms):
    assert len(meant_by("the pin", symptoms)) == 2
    assert not meant_by("steam falls on the bank", symptoms)


def test_words_are_heard_in_a_file_and_in_a_call(heard, study, symptoms):
    (filed,) = heard('[[trials]]\nwarmth = "10 degC"\nseen = ["it rocks"]\n')
    (called,) = trials_in_call(
        study,
        symptoms,
        seen=["it rocks", "hole=10.03 mm", "play=kept"],
        at=["warmth=10 degC"],
        instruments=["hole=steel_rule"],
    )
    assert filed.trial.seen == (EventSeen("lean", broken=True),)
    assert filed.trial.held == called.trial.held
    assert called.trial.seen[0] == filed.trial.seen[0]
    assert called.trial.seen[2] == EventSeen("play", broken=False)
    assert filed.seen == ('"it rocks": lean over 1.2 deg',)


def test_call_is_refused_with_all_its_faults(study, symptoms):
    with pytest.raises(StudyError) as refused:
        trials_in_call(
            study,
            symptoms,
            seen=["the pin", "hole=10.03 mm"],
            at=["warmth"],
            instruments=["pin=micrometer"],
        )
    said = str(refused.value)
    assert said.startswith("--seen: 4 faults in these trials")
    assert "may be any of several limits" in said
    assert 'found "warmth"; write it like --at NAME=VALUE' in said
    assert "--with pin: nothing was read of it" in said
    assert "seen.hole: say with what it was read" in said


def test_condition_of_a_schedule_is_held_in_all_its_steps_or_in_one(tmp_path):
    study = read_study(Path(__file__).parents[1] / "studies" / "bramble" / "run_up_the_bank.toml")
    path = tmp_path / "trials.toml"
    path.write_text(
        '[[trials]]\ngrade = "0 %"\nseen = { minutes_to_wick_out = "14.5 min" }\n'
        '[[trials]]\ngrade.up_the_bank = "1 in 80"\nseen = { run_flood_margin = "kept" }\n',
        encoding="utf-8",
    )
    every, one = read_trials(path, study, symptoms_of(study, {}))
    steps = {"grade.level", "grade.up_the_bank", "grade.over_the_top"}
    assert set(every.trial.held) == {"grade", *steps}
    assert one.trial.held == {"grade.up_the_bank": pytest.approx(1.25)}
    # A time by the watch is out by half of its last digit: three seconds.
    (time,) = every.trial.seen
    assert time.error.high == pytest.approx(0.05)
    assert every.seen == ("minutes to wick out 14.5 min, by the watch (± 3 s)",)
