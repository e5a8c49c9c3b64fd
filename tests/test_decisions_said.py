"""Decisions in the builder's units and words, at 80 columns: inches are answered in inches."""

import re
import tomllib
from pathlib import Path

import pytest

import sensitivity as sl
from sensitivity.answers.next_commands import ORDER, Ask, next_in_words
from sensitivity.learning.bench import steps_said
from sensitivity.presentation.page import render
from sensitivity.presentation.terminal import show

ROOT = Path(__file__).parent.parent
STUDY = ROOT / "tests" / "inch_level.toml"
QUICK = sl.RunOptions(seed=1, points=64, replicates=8, workers=1)
METRIC = re.compile(r"(?<![A-Za-z])(?:mm|cm)2?(?![A-Za-z0-9])")
"""Millimetres, square or not, as a unit of its own."""
WRITTEN_UP = ("window", "redraw", "built", "learn")
"""Whose reports are read too; those of the others are of the same tables and sentences."""

ASKS = {
    "window": lambda study: sl.window(study, "breather_height", options=QUICK),
    "map": lambda study: sl.window(
        study, "breather_height", "wick_lip_height", step=("1/32 in", "1/64 in"), options=QUICK
    ),
    "measure": lambda study: sl.measure(study, options=QUICK),
    "tighten": lambda study: sl.tighten(study, target=0.95, options=QUICK),
    "redraw": lambda study: sl.redraw(study, options=QUICK),
    "built": lambda study: sl.built(
        study,
        measured={"wick_lip_height": "0.271 in"},
        instruments={"wick_lip_height": "digital_caliper"},
        options=QUICK,
    ),
    "learn": lambda study: sl.learn(
        study,
        seen={"flood_margin": "broken", "wick_lip_height": "0.262 in"},
        instruments={"wick_lip_height": "digital_caliper"},
        at={"grade": "0 %"},
        believe=True,
        options=QUICK,
    ),
}


@pytest.fixture(scope="module")
def answers():
    study = sl.read_study(STUDY)
    return {name: ask(study) for name, ask in ASKS.items()}


def screen_of(answer, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    show(answer.title, answer.screen())
    return capsys.readouterr().out


@pytest.mark.parametrize("name", ASKS)
def test_no_millimetres_are_said_of_a_study_in_inches(answers, name, capsys, monkeypatch, tmp_path):
    answer = answers[name]
    assert METRIC.findall(screen_of(answer, capsys, monkeypatch)) == []
    assert METRIC.findall(answer.verdict) == []
    told = [answer.said.table(table).to_frame().to_csv() for table in answer.sheets.values()]
    told += [figure.svg for figure in answer.figures().values()]
    if name in WRITTEN_UP:
        told.append(render(answer.page()))
    for text in told:
        # What others wrote stays as it is: the study's text, the models' own accounts.
        plain = re.sub(r"<(script|style|pre)\b.*?</\1>", " ", text, flags=re.DOTALL)
        assert METRIC.findall(re.sub(r"<[^>]*>", " ", plain)) == []


@pytest.mark.parametrize("name", ASKS)
def test_every_row_is_read_at_80_columns(answers, name, capsys, monkeypatch):
    told = screen_of(answers[name], capsys, monkeypatch)
    assert max(map(len, told.splitlines())) <= 80
    shown = set(told.split())
    for block in answers[name].screen():
        if block.kind != "table":
            continue
        for texts, _ in block.rows_on_terminal:
            assert {word for text in texts for word in text.split()} <= shown


def test_a_step_of_a_rule_is_answered_on_its_lines(answers):
    """Multiples of 1/32 in from nothing, and the drawing, 0.545 in, which lies on none of them."""
    found = answers["map"].found
    said = {found.said.of("breather_height").text(value) for value in found.first}
    assert {"13/32 in", "15/32 in", "1/2 in", "0.545 in"} <= said
    parts = [value / 25.4 * 32 for value in found.first if abs(value - 0.545 * 25.4) > 1e-9]
    assert parts == pytest.approx([round(part) for part in parts])


def test_what_is_set_at_assembly_is_round_in_inches(answers):
    """A builder who writes 0.545 in is told hundredths of an inch, not tenths of a millimetre."""
    settings = answers["measure"].found.settings.points[:, 0] / 25.4
    other = [each for each in settings if min(abs(each - k) for k in (0.545, 3 / 8, 5 / 8)) > 1e-9]
    hundredths = [100 * each for each in other]
    assert hundredths == pytest.approx([round(each) for each in hundredths])


def test_a_reading_is_said_as_it_was_written(answers, capsys, monkeypatch):
    assert "0.271 in" in screen_of(answers["built"], capsys, monkeypatch)
    assert "0.262 in" in " ".join(screen_of(answers["learn"], capsys, monkeypatch).split())


def test_files_are_in_inches_and_the_document_in_millimetres(answers):
    redrawn = answers["redraw"]
    rows = redrawn.tables()["nominals"].set_index("nominal")
    assert rows.loc["wick_lip_height", "drawn"] == pytest.approx(17 / 64)
    (item,) = (n for n in redrawn.to_dict()["nominals"] if n["input"] == "wick_lip_height")
    assert (item["unit"], item["nominal"]) == ("mm", pytest.approx(17 / 64 * 25.4))
    slope = rows.loc["wick_lip_height", "gain_per_unit"]
    assert slope == pytest.approx(item["gain_per_unit"]["estimate"] * 25.4)


def test_commands_point_onward_and_never_back(answers):
    study = answers["window"].studies[0]
    asks = [Ask(command, "says more") for command in ORDER]
    for place, command in enumerate(ORDER):
        told = next_in_words(study, command, *asks)
        named = re.findall(r"spiritlevel (\w+)", told)
        assert named == list(ORDER[place + 1 : place + 3])


def test_steps_of_the_bench_leave_blanks_in_inches():
    trials = tomllib.loads((ROOT / "models" / "bench.toml").read_text(encoding="utf-8"))["trials"]

    class Told:
        def __init__(self, steps):
            self.steps = steps

    for trial in trials:
        steps = " ".join(steps_said(Told(trial["steps"]), "inch"))
        assert METRIC.findall(steps) == []
        assert "millimetre" not in steps
        assert steps_said(Told(trial["steps"]), "mm") == trial["steps"]
