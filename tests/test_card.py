"""The bench card: what it says is the study's own, in the builder's units, with room to write."""

import re
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import pytest

from sensitivity.answers.card import CLOSER, ToGauge, bench_card, labelled_drawing
from sensitivity.answers.report import first_drawing
from sensitivity.presentation.blocks import Figure, Page
from sensitivity.presentation.page import render, render_card
from sensitivity.study.file import read_study
from sensitivity.system.setting_out import sketch_numbers
from tests.conftest import invoke
from tests.strategies import GOOD

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "studies" / "bramble" / "stepped_pipe.toml"
INCHES = ROOT / "tests" / "inch_pipe.toml"
GAUGE = [ToGauge("burner_height", "steel_rule", 1.0), ToGauge("burner_tilt", "")]


@pytest.fixture(scope="module", params=[DEMO, INCHES], ids=["mm", "inch"])
def study(request):
    return read_study(request.param)


@pytest.fixture(scope="module")
def card(study):
    return bench_card(study, "About 27 work.", gauge=GAUGE, closer=["outlet_tilt", "wicks"])


def made(card):
    return {row[1].removesuffix(f" {CLOSER}"): row for table in card.make for row in table.rows}


def test_everything_that_is_made_stands_once_with_its_number_in_order(study, card):
    rows = made(card)
    wanted = [i for i in study.inputs if i.kind == "build" and (i.spread or i.nominal)]
    assert {item.name.replace("_", " ") for item in wanted} == set(rows)
    assert sum(len(table.rows) for table in card.make) == len(wanted)
    numbers = sketch_numbers(study.system)
    found = [int(row[0]) for row in rows.values()]
    assert found == sorted(numbers[item.name] for item in wanted)


def test_what_to_make_it_to_is_as_the_study_writes_it(study, card):
    rows = made(card)
    for item in study.inputs:
        if item.name.replace("_", " ") in rows and item.drawn:
            assert rows[item.name.replace("_", " ")][2].startswith(item.drawn)
    to = rows["rise"][2]
    assert to == ("8 mm ± 0.3 mm" if study.units == "mm" else to)
    assert "±" in to
    letter = rows["rise"][3]
    process = next(item.process for item in study.inputs if item.name == "rise")
    assert f"{letter}: {process.replace('_', ' ')}" in card.making if process else not letter


def test_what_gains_most_is_marked_a_group_by_its_members(card):
    marked = [row[1] for table in card.make for row in table.rows if row[1].endswith(CLOSER)]
    assert f"outlet tilt {CLOSER}" in marked
    assert f"wick pitch {CLOSER}" in marked
    assert f"rise {CLOSER}" not in marked
    assert card.making.startswith(CLOSER)


def test_gauging_and_setting_have_their_order_and_blanks(study, card):
    gauge, reached, setting, words = card.act
    assert [row[:2] for row in gauge.rows] == [("1", "burner height"), ("2", "burner tilt")]
    assert gauge.rows[0][2:4] == ("steel rule", "1 min")
    # As drawn, by the models alone: the demonstration's is 8 mm over the floor, and level.
    drawn = study.nominal_results()
    height, unit = gauge.rows[0][4].split(" ")
    assert float(height) * {"mm": 1.0, "in": 25.4}[unit] == pytest.approx(
        drawn["burner_height"], rel=0.01
    )
    assert gauge.rows[1][4] == "0 deg"
    assert "Burner height: axis of the burner pipe" in reached.text
    assert "no rule touches an axis" in reached.text
    assert setting.rows[0][0] == "breather height (2)"
    assert "--with burner_height=steel_rule" in words.text
    tables = [*card.make, gauge, setting, *card.holds]
    assert all(
        row[-1] == "" and len(row) == len(table.head) for table in tables for row in table.rows
    )


def test_where_to_set_it_is_said_when_it_is_known(study):
    card = bench_card(study, "", at={"breather_height": 13.0 if study.units == "mm" else 12.7})
    (setting,) = card.act
    assert setting.rows[0][1] == ("13 mm" if study.units == "mm" else "1/2 in")


def test_limits_stand_in_words(study, card):
    held = {row[0]: row[1] for table in card.holds for row in table.rows}
    assert set(held) == {limit.result.replace("_", " ") for limit in study.limits}
    assert held["flood margin all"].startswith("at least 0")


class Card(HTMLParser):
    """Headings, links and words of a card."""

    def __init__(self, text):
        super().__init__()
        self.heads, self.open, self.links, self.tags = [], "", [], []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        self.open, found = tag, dict(attributes)
        self.tags.append((tag, found))
        self.links += [found["href"]] if tag == "a" else []

    def handle_data(self, data):
        if self.open in {"h1", "h2"} and data.strip():
            self.heads.append((self.open, data.strip()))


def test_a_card_stands_alone(study, card):
    text = render_card(card)
    page = Card(text)
    titles = ["Make", "Gauge and set", "It works if all of this holds", "Cautions"]
    assert page.heads == [("h1", study.title), *(("h2", title) for title in titles)]
    assert page.links == ["report.html"]
    assert not {"script", "link", "img", "iframe"} & {tag for tag, _ in page.tags}
    assert all(one["aria-label"] for tag, one in page.tags if tag == "svg")
    assert study.vocabulary.cautions in unescape(text)
    for blank in ("Engine", "Made by", "Date"):
        assert f"<dt>{blank}</dt><dd></dd>" in text
    if study.units == "inch":
        words = re.sub(r"<style>.*?</style>|<[^>]*>", " ", text, flags=re.S)
        assert not re.search(r"\d mm\b", words)


def test_drawing_on_the_card_has_the_numbers_of_its_table(study, card):
    drawn = {
        int(number)
        for column in card.drawing.columns
        for view in column
        for number in re.findall(r">(\d+)</text>", view.svg)
    }
    assert {int(row[0]) for row in made(card).values()} <= drawn
    assert labelled_drawing(study).legend == ""
    told = labelled_drawing(study, legend=True).legend
    assert told.startswith("1 outlet height, 2 breather height")


def test_models_of_ones_own_have_a_card_without_a_drawing(read):
    study = read(GOOD)
    card = bench_card(study, "")
    assert card.drawing is None
    assert {row[1] for table in card.make for row in table.rows} >= {"hole", "pin"}
    assert card.act == []
    assert "<figure" not in render_card(card)


def test_what_goes_with_a_thing_that_is_not_there_is_not_made(tmp_path):
    asked = invoke("new", "stepped_pipe", "fuel_level").stdout
    path = tmp_path / "bare.toml"
    path.write_text(re.sub(r'nominal = ""  # like (.*)', r"nominal = \1", asked), encoding="utf-8")
    bare = read_study(path)  # its bracket has no slack, so there is none
    told = made(bench_card(bare, ""))
    assert "bracket distance" not in told
    assert {"run 1", "rise", "wick lip height"} <= told.keys()


def test_a_drawing_of_many_views_is_a_sheet_behind_the_first_page():
    study = read_study(DEMO)
    at_hand = [Figure("drawing", "<svg></svg>", "words")]
    few = first_drawing(study, at_hand)
    assert (few.sheet, few.behind) == (None, at_hand)
    assert few.first == [labelled_drawing(study, legend=True)]
    whole = read_study(DEMO.parent / "whole_burner_improved.toml")
    drawn = first_drawing(whole, at_hand)
    assert (drawn.first, drawn.behind) == (at_hand, [])
    page = Page("", "", "", (), drawn.first, (), (), sheet=drawn.sheet)
    text = render(page)
    assert text.count('class="apart"') == 1
    assert "drawn on the next sheet" in text
    assert "drawn on the next sheet" not in render(page._replace(sheet=None))
