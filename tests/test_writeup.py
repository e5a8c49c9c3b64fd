"""The report: one file that opens offline, readable by all, with the numbers of ``result.json``."""

import re
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from sensitivity.system.vocabulary import NEUTRAL
from tests.strategies import GOOD

VOID = {"meta", "br", "link", "img", "hr", "input"}
LOADING = {"src", "srcset", "data", "poster", "action", "background", "ping", "manifest"}


class Page(HTMLParser):
    """Elements in order with their attributes, and the text of each table cell."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.elements, self.open, self.faults = [], [], []
        self.tables, self.cell, self.words = [], None, []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attributes):
        self.elements.append((tag, dict(attributes)))
        if tag not in VOID:
            self.open.append(tag)
        if tag == "table":
            self.tables.append([])
        elif tag == "tr" and self.tables:
            self.tables[-1].append([])
        elif tag in {"td", "th"}:
            self.cell = []
        elif tag == "br" and self.cell is not None:
            self.cell.append(" ")

    def handle_startendtag(self, tag, attributes):
        self.elements.append((tag, dict(attributes)))

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.faults.append(tag)
        if tag in {"td", "th"}:
            self.tables[-1][-1].append(" ".join("".join(self.cell).split()))
            self.cell = None

    def handle_data(self, data):
        self.words.append(data)
        if self.cell is not None:
            self.cell.append(data)

    def all(self, tag):
        return [attributes for name, attributes in self.elements if name == tag]

    def table_with(self, heading):
        return next(table for table in self.tables if heading in table[0])


@pytest.fixture(scope="module")
def text(finished):
    return (finished.folder / "report.html").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def page(text):
    return Page(text)


def test_well_formed(text, page):
    assert text.startswith("<!DOCTYPE html>")
    assert page.faults == []
    assert page.open == []
    assert page.all("html")[0]["lang"] == "en"
    assert {"charset": "utf-8"} in page.all("meta")
    assert any(one.get("name") == "viewport" for one in page.all("meta"))
    assert len(page.all("title")) >= 1
    assert "A pin in a hole" in text


def test_nothing_is_fetched(text, page):
    assert not page.all("script")
    assert not page.all("link")
    assert not page.all("iframe")
    assert not page.all("object")
    for tag, attributes in page.elements:
        for name, value in attributes.items():
            assert name not in LOADING, (tag, name)
            if name.rpartition(":")[2] == "href":
                assert value.startswith("#") or value == "card.html", (tag, value)
            if "http" in (value or ""):
                # names of vocabularies, which nothing fetches
                assert name.startswith("xmlns") or tag.startswith(("rdf:", "cc:", "dc:")), (
                    tag,
                    name,
                )
    assert all(target.startswith("#") for target in re.findall(r"url\(\s*['\"]?([^)]*)", text))
    assert "@import" not in text


def test_headings_go_down_by_one(page):
    levels = [int(tag[1]) for tag, _ in page.elements if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert levels.count(2) >= 5
    assert all(later <= earlier + 1 for earlier, later in pairwise(levels))


def test_tables_say_what_their_headings_head(page):
    assert page.tables
    for attributes in page.all("th"):
        assert attributes.get("scope") in {"col", "row"}
    for table in page.tables:
        assert len({len(row) for row in table}) == 1
        assert all(table[0])  # no column without a heading


def test_figures_are_there_and_are_named_for_those_who_cannot_see_them(page, finished):
    small = "spread of "  # the curves in the table of inputs
    figures = [one for one in page.all("svg") if not one["aria-label"].startswith(small)]
    assert len(figures) == len(list((finished.folder / "figures").glob("*.svg"))) >= 2
    for attributes in figures:
        assert attributes["role"] == "img"
        assert len(attributes["aria-label"]) > 20
    assert len(page.all("figcaption")) == len(figures)


def test_identifiers_are_unique(page):
    found = [attributes["id"] for _, attributes in page.elements if "id" in attributes]
    assert sorted(set(found)) == sorted(found)


def test_cautions_and_what_is_needed_to_repeat_it(page):
    words = " ".join("".join(page.words).split())
    assert " ".join(NEUTRAL.cautions.split()) in words
    assert "spiritlevel run study.toml --pairs --seed 1 --replicates 8 --points 64" in words
    assert "--model-file pins.py" in words
    assert " ".join(GOOD.split()) in words
    for heading in ("What matters", "What was assumed", "How sure this is", "Cautions"):
        assert heading in words


def test_figures_files_are_the_same_and_stand_alone(finished):
    for path in (finished.folder / "figures").glob("*.svg"):
        svg = path.read_text(encoding="utf-8")
        assert svg.startswith("<?xml")
        assert "<script" not in svg
        assert all(one.startswith("#") for one in re.findall(r'href="([^"]*)"', svg))


# --- numbers ------------------------------------------------------------------------------------

NUMBER = r"(−?\d+(?:\.\d+)?)"
THREE = re.compile(rf"{NUMBER}(?: %)? \({NUMBER} to {NUMBER}\)")


def value(text):
    return float(text.replace("−", "-"))


def agrees(cell, estimate, low, high, scale=1.0):
    """Whether a printed estimate and interval are those of the document, ends rounded outward."""
    printed = THREE.search(cell)
    assert printed, cell
    step = 10.0 ** -len(printed[1].partition(".")[2])
    assert value(printed[1]) == pytest.approx(scale * estimate, abs=0.5001 * step)
    for end, true, sign in ((printed[2], low, 1), (printed[3], high, -1)):
        beyond = sign * (scale * true - value(end))
        assert -1e-9 <= beyond <= 1.0001 * step, (cell, true)


def test_results_against_the_limits(page, finished):
    outputs = finished.document["outputs"]
    header, *rows = page.table_with("must be")
    found = {row[0]: dict(zip(header, row, strict=True)) for row in rows}
    assert set(found) == {"play", "lean", "all limits together"}
    for name in ("play", "lean"):
        cells, output = found[name], outputs[name]
        share = output["yield"]
        agrees(cells["keeps within"], share["estimate"], *share["interval"], scale=100)
        low, high = map(value, re.findall(NUMBER, cells["95 % of parts"])[:2])
        assert (low, high) == pytest.approx(
            (output["quantiles"]["0.025"], output["quantiles"]["0.975"]), abs=0.006
        )
        low, high = map(value, re.findall(NUMBER, cells["worst case"])[:2])
        assert (low, high) == pytest.approx(output["worst_case"], abs=0.006)
        assert output["unit"] in cells["as drawn"]
    share = finished.document["yield"]
    agrees(
        found["all limits together"]["keeps within"],
        share["estimate"],
        *share["interval"],
        scale=100,
    )
    assert found["play"]["must be"] == "at least 0.05 mm"
    assert found["play"]["why"] == "a tight pin seizes"


def test_ranking_and_advice(page, finished):
    header, *rows = page.table_with("advice")
    found = {row[0]: dict(zip(header, row, strict=True)) for row in rows}
    advice = finished.document["advice"]["rows"]
    assert set(found) == {row["name"] for row in advice} == {"hole", "pin"}
    for row in advice:
        cells = found[row["name"]]
        assert cells["advice"] == row["advice"]
        if row["interval"][1] >= 0.0005:
            agrees(cells["total-effect index"], row["estimate"], *row["interval"])
        gained = row["halved"]
        ends = (100 * end for end in (gained["estimate"], *gained["interval"]))
        agrees(cells["if halved"].removeprefix("+"), *ends)
    assert finished.document["advice"]["rule"] in " ".join("".join(page.words).split())


def test_advice_stands_with_build_dimensions_alone(page):
    assert sum("advice" in table[0] for table in page.tables) == 1


def test_every_input_with_its_basis(page, finished):
    _, *rows = page.table_with("how it is spread")
    varying = {row[0].split()[0]: row for row in rows}
    head = ["input", "as drawn", "basis"]
    _, *rows = next(table for table in page.tables if table[0] == head)
    held = {row[0].split()[0]: row for row in rows}
    inputs = finished.document["inputs"]
    assert set(varying) == {name for name, one in inputs.items() if one["shape"] is not None}
    assert set(held) == set(inputs) - set(varying)
    assert "drilled" in varying["hole"]
    assert "not stated" in varying["warmth"]  # it varies, and nobody says why
    assert inputs["depth"]["unit"] in held["depth"][1]


def test_verdict_is_that_of_the_document(page, finished):
    assert finished.document["verdict"] in " ".join("".join(page.words).split())


# --- what a study says is shown, not run --------------------------------------------------------


def test_words_of_a_study_stay_words(run_study, tmp_path):
    text = (
        GOOD.replace("A pin in a hole", "<script>alert(1)</script> & <b>")
        .replace('"drilled"', "\"<img src='x' onerror='y'>\"\ngroup = '\"><i>'")
        .replace("a tight pin seizes", "</table><h1>")
    )
    assert run_study(text).exit_code == 0
    page = Page((tmp_path / "study-results" / "report.html").read_text(encoding="utf-8"))
    assert page.faults == []
    assert not page.all("script")
    assert not page.all("img")
    assert not page.all("i")
    assert len(page.all("h1")) == 1
    words = "".join(page.words)
    for part in ("<script>alert(1)</script> & <b>", "</table><h1>", "<img src='x' onerror='y'>"):
        assert part in words
