"""From an empty page to a bench card, in a real browser and without a line of TOML.

The demo's pipe, of the invented engine Bramble. An action is a click, a choice from a list, or a
value typed and entered.
"""

import json
import re
import shutil
import tomllib
from itertools import groupby
from pathlib import Path

import pytest

from tests.browser.accessible import faults_of, order_of_tab
from tests.browser.driven import SLOW, Board, Watched
from tests.conftest import invoke

MOST_ACTIONS = 60
MODELS = ("tank_fill", "stepped_pipe", "pipe_room", "fuel_level", "wicks")
DEMO = Path(__file__).parents[2] / "studies" / "bramble" / "stepped_pipe.toml"
SIZES = {
    name: str(table["nominal"])
    for name, table in tomllib.loads(DEMO.read_text(encoding="utf-8"))["inputs"].items()
    if "nominal" in table
}
"""What the builder knows of the engine: the demo's own nominals."""
FEWER = """() => fetch("/edit", { method: "POST", headers: { "content-type": "application/json" },
  body: JSON.stringify({ changes: [["replicates", 8], ["points", 64], ["seed", 1]].map(
    ([key, value]) => ({ path: ["sampling", key], value })) }) }).then((found) => found.ok)"""
"""No builder's action: ways are tried here, and not numbers, so fewer points will do."""


class Hand:
    """A builder at the page, whose actions are counted."""

    def __init__(self, page):
        self.page, self.actions = page, 0

    def click(self, selector, **words):
        """Click what is there."""
        self.actions += 1
        self.page.locator(selector, **words).first.click()

    def enter(self, selector, value):
        """Type a value and enter it."""
        self.actions += 1
        field = self.page.locator(selector)
        field.fill(value)
        field.press("Enter")


def test_the_demo_pipe_from_an_empty_page(browser, tmp_path, monkeypatch):
    from playwright.sync_api import expect

    expect.set_options(timeout=SLOW)
    monkeypatch.chdir(tmp_path)
    board = Board(tmp_path)
    watched = Watched(browser, viewport={"width": 1280, "height": 1000})
    page = watched.page
    hand = Hand(page)
    card, words = page.locator("#card"), page.locator("#level-words")
    try:
        page.goto(board.address)
        page.wait_for_selector("#models input")
        assert faults_of(page) == []
        for name in MODELS:
            hand.click(f"#model-{name}")
        hand.click("#begin-form button")
        expect(page.locator("#to-give")).to_be_visible()
        assert page.evaluate(FEWER)

        # What is still to be given comes to hand in turn, each to be typed and entered.
        given = []
        while page.locator("#to-give").count():
            name = card.get_attribute("data-name")
            given.append(name)
            hand.enter("#field-nominal", SIZES[name])
            page.wait_for_function(
                "(name) => !document.getElementById('to-give')"
                " || document.getElementById('card').dataset.name !== name",
                arg=name,
            )
        assert len(set(given)) == len(given)
        expect(words).to_contain_text("burner")
        for name in ("outlet_reach", "lateral"):
            hand.click(f".view [data-input={name}] .hit")
            hand.enter("#field-nominal", SIZES[name])
        expect(page.locator(".view [data-input=lateral]")).to_contain_text(SIZES["lateral"])

        # The breather can be set, and the window is a strip along its slider.
        hand.click(".view [data-input=breather_height] .hit")
        hand.click("#card-body summary")
        hand.enter("#field-adjust-0", "9 mm")
        hand.enter("#field-adjust-1", "16 mm")
        expect(page.locator("#setting")).to_be_visible()
        hand.click("#card button", has_text="Where to set it")
        expect(page.locator(".window .strip")).to_be_visible()
        hand.actions += 1
        page.locator("#setting").press("ArrowRight")
        expect(page.locator("#undo")).to_be_enabled()
        hand.click("#save")
        expect(page.locator("#state")).to_have_text("saved")

        # A plain button has the bench card written and leads to it.
        hand.click("#paper button", has_text="Print the bench card")
        link = page.locator("#paper-links a[data-page='card.html']")
        expect(link).to_be_focused()
        with watched.context.expect_page() as opened:
            link.press("Enter")
        assert "burner-results" in opened.value.url
        opened.value.close()
        # What was found is there again when the page is loaded again.
        page.reload()
        expect(page.locator(".window .strip")).to_be_visible()
        expect(link).to_be_visible()
        expect(page.locator("#acted h3")).to_have_text("Answer of run")

        # What to gauge, and the card of it, which prints on one sheet.
        hand.click("#write")
        hand.click("#actions button", has_text="What to measure")
        expect(page.locator("#acted h3")).to_have_text("Answer of measure")
        expect(page.locator("#acted pre")).to_contain_text("spiritlevel measure burner.toml")
        assert page.locator("#acted").inner_text().count("burner") > 0
        assert faults_of(page) == []
        with watched.context.expect_page() as opened:
            hand.click(".written a", has_text="card")
        opened.value.wait_for_load_state()
        printed = opened.value.pdf(prefer_css_page_size=True)
        assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1
        assert hand.actions <= MOST_ACTIONS
        assert page.locator("#cautions").inner_text() in opened.value.locator("body").inner_text()
        assert watched.complaints == []
        page.close()

        # The terminal finds the study whole, and the results folder as its own.
        ran = invoke("check", "burner.toml")
        assert ran.exit_code == 0, ran.stderr
        assert {path.name for path in (tmp_path / "burner-measure-results").iterdir()} > {
            "report.html", "card.html", "result.json",
        }  # fmt: skip
    finally:
        board.kill()


def test_the_whole_page_is_for_everyone(browser, tmp_path):
    shutil.copy(DEMO, tmp_path / "pipe.toml")
    board = Board(tmp_path, "pipe.toml")
    page = Watched(browser, viewport={"width": 1280, "height": 1000}).page
    try:
        page.goto(board.address)
        page.wait_for_selector("#drawings svg")
        page.locator(".view [data-input=breather_height] .hit").first.click()
        page.locator("#card-body [data-keep=more] summary").click()
        for scheme in ("dark", "light"):
            page.emulate_media(color_scheme=scheme)
            for width in (390, 1280, 1920):
                page.set_viewport_size({"width": width, "height": 900})
                assert faults_of(page) == [], (scheme, width)
        stops = order_of_tab(page)
        parts = [part for part, _ in groupby(stop["section"] for stop in stops)]
        assert parts == [
            "",
            "views",
            "level",
            "drawn",
            "card",
            "answer",
            "scaled",
            "schedule",
            "block",
        ]
        assert all(stop["shown"] for stop in stops)
    finally:
        board.kill()


@pytest.mark.nightly
def test_every_command_is_an_action(browser, tmp_path):
    text = DEMO.read_text(encoding="utf-8") + "\n[sampling]\nreplicates = 8\npoints = 64\n"
    (tmp_path / "pipe.toml").write_text(text, encoding="utf-8")
    (tmp_path / "sloped.toml").write_text(
        text.replace('nominal = "12.3 mm"', 'nominal = "12.8 mm"'), encoding="utf-8"
    )
    (tmp_path / "trials").mkdir()
    shutil.copy(DEMO.parent / "trials" / "first_lighting.toml", tmp_path / "trials")
    (tmp_path / "read.csv").write_text(
        "input,measured,instrument\nrise,14 mm,steel_rule\n", encoding="utf-8"
    )
    board = Board(tmp_path, "pipe.toml")
    watched = Watched(browser, viewport={"width": 1280, "height": 1000})
    page = watched.page
    page.set_default_timeout(600_000)

    def act(button, command, *words, seen=""):
        page.get_by_role("button", name=button, exact=True).click()
        page.wait_for_function(
            "(command) => document.querySelector('#acted h3')?.textContent"
            " === `Answer of ${command}`",
            arg=command,
        )
        line = page.locator("#acted .command pre").inner_text()
        assert line.startswith(f"spiritlevel {command} pipe.toml")
        assert all(word in line for word in words)
        assert seen in page.locator("#acted").inner_text()
        assert page.locator("#refused").inner_text() == ""
        assert faults_of(page) == []

    try:
        page.goto(board.address)
        page.wait_for_selector("#drawings svg")
        act("Worst case", "check")
        act("What to make closer", "tighten", "--target", seen="minutes")
        act("What to draw elsewhere", "redraw")
        act("Run it in full", "run")
        page.locator("#measure-target").fill("90")
        act("What to measure", "measure", "--target 0.9", seen="100 burners")
        page.locator("#actions [data-keep=at-hand] summary").click()
        page.locator("#at-hand-steel_rule").check()
        act("What to measure", "measure", "--with steel_rule", seen="rule")
        page.locator("#other").select_option("sloped.toml")
        act("Compare", "compare", "sloped.toml", seen="12.8 mm")
        marked = page.locator(".sides .differs")
        assert {each.get_attribute("data-input") for each in marked.all()} == {"breather_height"}
        page.locator("#trials").select_option("trials/first_lighting.toml")
        act("Learn from a trial", "learn", "--trials trials/first_lighting.toml", seen="trial")
        page.locator("#trials").select_option("")
        page.locator("#seen").fill("it floods")
        page.locator("#at").fill("grade 0.5 %")
        act("Learn from a trial", "learn", "it floods", "--at", seen="grade")
        page.locator("#save-doubts").fill("learnt.json")
        act("Learn from a trial", "learn", "--save-doubts learnt.json", seen="learnt.json")
        assert json.loads((tmp_path / "learnt.json").read_text(encoding="utf-8"))
        page.locator(".view [data-input=breather_height] .hit").first.click()
        page.locator("#card-body [data-keep=window] summary").click()
        page.locator("#window-second").select_option("drop")
        for field, value in (("window-from", "11"), ("window-second-from", "6 mm")):
            page.locator(f"#{field}").fill(value)
        act(
            "Where to set it", "window", "breather_height drop", "--from '11 mm' --from '6 mm'",
            seen="drop",
        )  # fmt: skip

        # Of several readings the first is noted: of a result, as a gauge reaches it.
        page.locator("#limit-new").select_option("burner_height")
        page.locator("#reads").fill("8.2")
        page.get_by_role("button", name="Note it").click()
        page.locator(".view [data-input=drop] .hit").first.click()
        page.locator("#reads").fill("8.1 mm")
        act("Is it good?", "built", "burner_height=8.2 mm", "drop=8.1 mm", seen="8.1 mm")
        page.get_by_role("button", name="Forget the reading of drop").click()
        act("Is it good, as read?", "built", "burner_height=8.2 mm", seen="8.2 mm")
        page.locator("#readings").select_option("read.csv")
        page.locator("#built-believe").check()
        act("Is it good, as read?", "built", "--readings read.csv", "--believe", seen="14 mm")
        page.locator("#field-nominal").fill("8.5 mm")
        page.locator("#field-nominal").press("Enter")
        act("Compare with this one as saved", "compare", seen="8.5 mm")
        assert watched.complaints == []
    finally:
        board.kill()
