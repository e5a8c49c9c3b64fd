"""Texts of a study where they are shown: nothing unseen is sent, no spreadsheet runs a cell.

What counts as unseen is Unicode's own: general categories Cc, Cf, Cs, Zl and Zp.
"""

import csv
import io
import json
import os
import subprocess
import sys
import tomllib
import unicodedata
import xml.etree.ElementTree as ET
from html import unescape

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensitivity.presentation.figure_style import figure_style, new_figure, to_svg
from sensitivity.presentation.json_values import to_json
from sensitivity.presentation.results_folder import csv_text
from sensitivity.presentation.texts import shown, shown_in_json, text_cell
from tests.strategies import GOOD

BELL, ESCAPE, RIGHT_TO_LEFT, ISOLATE, LINE = "\x07", "\x1b", "\u202e", "\u2066", "\u2028"
NASTY = f"pin{BELL}{ESCAPE}[31m red {RIGHT_TO_LEFT}fdp.exe{ISOLATE} end{LINE}. \x9b5n"
# As a study may have it: TOML takes such characters in quotes if they are spelt out.
SPELT = NASTY.encode("unicode_escape").decode().replace("\\x", "\\u00")


def unseen(text):
    """Characters that nobody sees; a line's end, a tab and what joins letters are not meant."""
    kept = "\n\t\u00ad\u200c\u200d"
    return {c for c in text if unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp")} - {*kept}


@pytest.fixture(scope="module")
def nasty_run(tmp_path_factory, model_file):
    """A run of a study whose every text has characters in it that nobody sees."""
    home = tmp_path_factory.mktemp("nasty")
    text = GOOD.replace("A pin in a hole", SPELT).replace('"drilled"', f'"=1+1 {SPELT}"')
    text = text.replace("a tight pin seizes", SPELT).replace(
        'basis      = "turned', f'group = "@{SPELT}"\nbasis = "turned'
    )
    assert tomllib.loads(text)["title"] == NASTY
    (home / "study.toml").write_text(text, encoding="utf-8")
    ran = subprocess.run(
        [sys.executable, "-m", "sensitivity", "run",
         "study.toml", "--model-file", str(model_file),
         "--workers", "1"],
        cwd=home, capture_output=True, check=False, env={**os.environ, "COLUMNS": "200"},
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr
    return home / "study-results", ran.stdout.decode()


def test_terminal_is_sent_nothing_unseen(nasty_run):
    _, printed = nasty_run
    assert unseen(printed) == set()
    assert "\\u202efdp.exe" in printed


def test_files_hold_nothing_unseen(nasty_run):
    folder, _ = nasty_run
    found = [path for path in folder.rglob("*") if path.is_file() and path.suffix != ".gz"]
    assert {path.suffix for path in found} == {".html", ".json", ".svg", ".csv", ".toml"}
    for path in found:
        assert unseen(path.read_text(encoding="utf-8")) == set(), path.name


def test_report_shows_the_study_as_it_can_be_saved_again(nasty_run):
    folder, _ = nasty_run
    report = unescape((folder / "report.html").read_text(encoding="utf-8"))
    assert "\\u202efdp.exe" in report
    assert (folder / "study.toml").read_text(encoding="utf-8").strip() in report


def test_json_still_reads_as_what_the_study_says(nasty_run):
    folder, _ = nasty_run
    assert json.loads((folder / "result.json").read_text(encoding="utf-8"))["title"] == NASTY


def test_svg_stays_well_formed(nasty_run):
    folder, _ = nasty_run
    drawn = list((folder / "figures").glob("*.svg"))
    assert drawn
    for path in drawn:
        ET.parse(path)
    assert any("\\u202e" in path.read_text(encoding="utf-8") for path in drawn)


def test_no_cell_of_a_table_is_run_by_a_spreadsheet(nasty_run):
    folder, _ = nasty_run
    cells = [
        cell
        for path in (folder / "tables").glob("*.csv")
        for row in csv.reader(path.read_text(encoding="utf-8").splitlines())
        for cell in row
    ]
    assert any(cell.startswith("'=1+1 pin") for cell in cells)
    assert any(cell.startswith("'@pin") for cell in cells)
    assert not [cell for cell in cells if cell[:1] in "=+@\t\r" and cell]


def test_drawing_of_a_model_is_well_formed_and_shows_what_is_unseen(read):
    from sensitivity.presentation.drawing import _document, _title

    svg = _document([_title(f"a {NASTY} <b> & c", 0.0, 0.0)], 100.0, NASTY)
    ET.fromstring(svg)
    assert unseen(svg) == set()


# --- one text -----------------------------------------------------------------------------------


@given(st.text())
def test_shown_has_nothing_unseen_and_leaves_the_rest(text):
    found = shown(text)
    assert unseen(found) == set()
    if not unseen(text) and "\r" not in text and not any(ord(c) >= 0xFDD0 for c in text):
        assert found == text
    found.encode("utf-8")


@given(st.text(st.characters()))
def test_json_reads_back_whatever_the_text(text):
    written = to_json({"text": text, text: 1})
    assert unseen(written) == set()
    assert json.loads(written) == {"text": text, text: 1} | ({"text": 1} if text == "text" else {})


def test_half_a_character_can_be_written():
    # What Python makes of a file name that is not UTF-8.
    assert shown("pin\udcff") == "pin\\udcff"
    assert shown_in_json('"pin\udcff"') == '"pin\\udcff"'


@pytest.mark.parametrize("first", ["=", "+", "-", "@", "\t", "\r", "\n", " =", "\uff1d", "\t="])
def test_text_that_a_spreadsheet_would_run_is_marked_as_text(first):
    written = csv_text([{"a": f'{first}HYPERLINK("x")', f"{first}head": 1.0}])
    head, row = csv.reader(io.StringIO(written, newline=""))
    assert head[1].startswith("'")
    assert row[0].startswith("'")
    assert row[1] == "1.0"


def test_numbers_are_never_marked():
    rows = [{"a": -1.5, "b": -2, "c": None, "d": float("-inf"), "e": True, "f": "plain - text"}]
    assert csv_text(rows) == "a,b,c,d,e,f\n-1.5,-2,,-inf,True,plain - text\n"
    frame = pd.read_csv(io.StringIO(csv_text(rows)))
    assert frame["a"][0] + frame["b"][0] == -3.5
    assert text_cell(-1.5) == -1.5


# --- figures ------------------------------------------------------------------------------------


def drawn(text, name="f"):
    with figure_style():
        figure = new_figure(3.0, 2.0)
        axes = figure.subplots()
        axes.set_title(text)
        axes.set_xticks([0.0005], ["0.0005"])
        return to_svg(figure, name)


@pytest.mark.parametrize("text", [NASTY, 'a <b> & "c" id="d"', "cost $5 or $6", "%&_#{}", "\ufffe"])
def test_any_text_in_a_figure(text):
    svg = drawn(text)
    seen = ["".join(each.itertext()) for each in ET.fromstring(svg).iter() if "text" in each.tag]
    assert shown(text) in seen
    assert unseen(svg) == set()


def test_numbers_that_are_read_keep_their_digits():
    # The digits of places in the drawing are cut, not those of its labels.
    assert ">0.0005<" in drawn("a")


MATPLOTLIBRC = """
text.usetex: True
figure.facecolor: red
font.size: 40
backend: nothing_of_that_name
axes.grid: nonsense
"""

DRAWS = """
import sys
from sensitivity.presentation.figure_style import figure_style, new_figure, to_svg
with figure_style():
    figure = new_figure(3.0, 2.0)
    figure.subplots().set_title("a_b $x^2$")
    sys.stdout.write(to_svg(figure, "f"))
"""


def draws(folder, **surroundings):
    ran = subprocess.run(
        [sys.executable, "-c", DRAWS],
        cwd=folder, capture_output=True, text=True, check=False,
        env={**os.environ, **surroundings},
    )  # fmt: skip
    assert (ran.returncode, ran.stderr) == (0, "")
    return ran.stdout


@pytest.mark.parametrize("sort", ["settings", "not UTF-8", "elsewhere", "backend"])
def test_no_settings_that_lie_about_are_obeyed(tmp_path, sort):
    (tmp_path / "plain").mkdir()
    (tmp_path / "odd").mkdir()
    surroundings = {}
    if sort == "settings":
        (tmp_path / "odd" / "matplotlibrc").write_text(MATPLOTLIBRC)
    elif sort == "not UTF-8":
        (tmp_path / "odd" / "matplotlibrc").write_bytes(b"font.size: \xff\xfe\n")
    elif sort == "elsewhere":
        (tmp_path / "mine").write_text("text.usetex: True\nfont.size: 40\n")
        surroundings["MATPLOTLIBRC"] = str(tmp_path / "mine")
    else:
        surroundings["MPLBACKEND"] = "nothing_of_that_name"
    assert draws(tmp_path / "odd", **surroundings) == draws(tmp_path / "plain")
