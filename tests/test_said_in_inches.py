"""A study in inches is answered in inches, wherever a reader looks."""

import csv
import io
import re
from pathlib import Path

import pytest

import sensitivity as sl
from sensitivity.presentation.terminal import show
from sensitivity.study.file import study_of_text

STUDY = Path(__file__).parent / "inch_level.toml"
QUICK = sl.RunOptions(seed=1, points=64, replicates=8, workers=1)
METRIC = re.compile(r"(?<![A-Za-z])(?:mm|cm)2?(?![A-Za-z0-9])")
"""Millimetres, square or not, as a unit of its own."""

COMMANDS = ["run", "check", "compare"]


@pytest.fixture(scope="module")
def answers():
    """An answer of each command to the study; compared with the same of a looser wick lip."""
    study = sl.read_study(STUDY)
    text = STUDY.read_text(encoding="utf-8")
    other = text.replace('"17/64 in"', '"9/32 in"').replace('"1/64 in"\nshape', '"1/32 in"\nshape')
    looser = study_of_text(other, Path("looser.toml"))
    return {
        "run": sl.run(study, options=QUICK),
        "check": sl.check(study),
        "compare": sl.compare(study, looser, options=QUICK),
    }


def screen_of(answer, capsys, monkeypatch, width=80):
    monkeypatch.setenv("COLUMNS", str(width))
    show(answer.title, answer.screen())
    return capsys.readouterr().out


def read_aloud(html, answer):
    """Text of a page without what others wrote: the models' own accounts and the study's text."""
    told = re.sub(r"<(script|style|pre)\b.*?</\1>", " ", html, flags=re.DOTALL)
    return re.sub(r"<[^>]*>", " ", told)


@pytest.mark.parametrize("command", COMMANDS)
def test_a_terminal_says_no_millimetres(answers, command, capsys, monkeypatch):
    told = screen_of(answers[command], capsys, monkeypatch)
    assert METRIC.findall(told) == []
    assert "17/64 in" in told if command == "compare" else "1/64 in" in told


@pytest.mark.parametrize("command", COMMANDS)
def test_a_folder_says_no_millimetres(answers, command, tmp_path):
    answer = answers[command]
    folder = answer.save(tmp_path / "results")
    report = (folder / "report.html").read_text(encoding="utf-8")
    assert METRIC.findall(read_aloud(report, answer)) == []
    for path in [*folder.glob("figures/*.svg"), *folder.glob("tables/*.csv")]:
        text = re.sub(r"<[^>]*>", " ", path.read_text(encoding="utf-8"))
        assert METRIC.findall(text) == [], path.name


def test_a_table_holds_inches_and_says_so(answers, tmp_path):
    folder = answers["run"].save(tmp_path / "results")
    text = (folder / "tables" / "inputs.csv").read_text(encoding="utf-8")
    rows = {row["input"]: row for row in csv.DictReader(io.StringIO(text))}
    assert rows["breather_height"]["unit"] == "in"
    assert float(rows["breather_height"]["nominal"]) == 0.545
    assert rows["sump_free_area"]["unit"] == "in2"
    assert float(rows["sump_free_area"]["nominal"]) == 0.62
    outputs = answers["run"].tables()["outputs"].set_index("output")
    assert outputs.loc["flood_margin", "at_least"] == 1 / 64
    assert outputs.loc["flood_margin", "unit"] == "in"


def test_samples_are_in_inches_and_the_document_in_the_models_units(answers):
    run = answers["run"]
    assert run.samples.attrs["units"]["breather_height"] == "in"
    assert run.samples["breather_height"].mean() == pytest.approx(0.545, abs=0.01)
    item = run.to_dict()["inputs"]["breather_height"]
    assert (item["unit"], item["nominal"]) == ("mm", pytest.approx(0.545 * 25.4))


@pytest.mark.parametrize("command", COMMANDS)
def test_every_line_fits_eighty_columns_and_no_word_is_split(answers, command, capsys, monkeypatch):
    answer = answers[command]
    told = screen_of(answer, capsys, monkeypatch)
    assert max(map(len, told.splitlines())) <= 80
    shown = set(told.split())
    for block in answer.screen():
        if block.kind != "table":
            continue
        assert {word for column in block.columns_on_terminal for word in column.head.split()} <= {
            *shown,
            *re.split(r"(?=_)|\s", " ".join(c.head for c in block.columns_on_terminal)),
        }
        for texts, _ in block.rows_on_terminal:
            assert {word for text in texts for word in text.split()} <= shown


def test_a_run_fits_about_sixty_lines(answers, capsys, monkeypatch):
    told = screen_of(answers["run"], capsys, monkeypatch)
    assert len(told.splitlines()) <= 70
