"""The reports in a real browser: no faults, nobody asked, readable wide, narrow, dark, on paper."""

import re
from itertools import pairwise
from pathlib import Path

import pytest

from sensitivity.answers.card import ToGauge, bench_card
from sensitivity.engine import doubt_band, worst_case
from sensitivity.presentation.page import render_card
from sensitivity.pricing import assembly_verdicts, finalists, reading_worth
from sensitivity.study.file import read_study
from tests.browser.driven import Watched
from tests.conftest import invoke

STUDIES = Path(__file__).parents[2] / "studies" / "bramble"
INCHES = Path(__file__).parents[1] / "inch_pipe.toml"
FEW = ["--seed", 1, "--replicates", 8, "--points", 64, "--workers", 1]
COMMANDS = {
    "run": ["run", STUDIES / "stepped_pipe.toml"],
    "compare": ["compare", STUDIES / "stepped_pipe.toml", STUDIES / "bent_pipe.toml"],
}
SMALLER = (
    (reading_worth, {"PARTS": 32, "SETTINGS": 4, "POINTS": 64}),
    (worst_case, {"SCATTER": 64, "STARTS": 1, "ROUNDS": 2}),
    (finalists, {"PARTS": 64}),
    (assembly_verdicts, {"PARTS": 64}),
    (doubt_band, {"POINTS": 16, "BUILDS_EACH": 32}),
)
"""Sizes of what these reports are made of: here their looks are tried, and not their numbers."""
OTHER_CARDS = {
    "card in inches": INCHES,
    "card of the whole burner": STUDIES / "whole_burner.toml",
    "card of the firebox": STUDIES / "deflector_gap.toml",
}
NARROW, WIDE = {"width": 360, "height": 740}, {"width": 1100, "height": 900}


@pytest.fixture(scope="module")
def reports(browser, tmp_path_factory):
    """Each command's report, written once; after the browser, so that none is written in vain."""
    folder = tmp_path_factory.mktemp("reports")
    found = {}
    with pytest.MonkeyPatch.context() as smaller:
        for module, sizes in SMALLER:
            for name, size in sizes.items():
                smaller.setattr(module, name, size)
        for name, words in COMMANDS.items():
            target = folder / name.replace(" ", "_")
            ran = invoke(*words, *FEW, "--out", target)
            assert ran.exit_code == 0, ran.stderr
            found[name] = target / "report.html"
    found["card"] = folder / "run" / "card.html"
    gauge = [ToGauge("burner_height", "steel_rule", 1.0), ToGauge("burner_tilt", "", None)]
    for name, study in OTHER_CARDS.items():
        found[name] = folder / f"{name.replace(' ', '_')}.html"
        card = bench_card(read_study(study), "About 27 of 100 work.", gauge=gauge)
        found[name].write_text(render_card(card), encoding="utf-8")
    return found


@pytest.fixture
def opened(browser, reports):
    """Open a command's report in a window of a size, with a colour scheme and so on."""
    contexts = []

    def open_report(name, viewport=WIDE, **options):
        one = Watched(browser, viewport=viewport, **options)
        one.page.goto(reports[name].as_uri())
        contexts.append(one.context)
        return one

    yield open_report
    for context in contexts:
        context.close()


each_report = pytest.mark.parametrize("name", COMMANDS)
each_card = pytest.mark.parametrize("name", ["card", *OTHER_CARDS])
SHEET = {"width": round(184 / 25.4 * 96), "height": 1000}
"""Between the margins of an A4 sheet, 184 mm."""


@each_report
def test_nothing_is_asked_of_anyone_and_nothing_complains(opened, reports, name):
    one = opened(name)
    unfold(one.page)
    one.page.mouse.wheel(0, 20_000)
    one.page.wait_for_timeout(50)
    assert one.asked == [reports[name].as_uri()]
    assert one.complaints == []


def unfold(page):
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true })")


@each_report
def test_folded_parts_unfold_by_mouse_and_by_key(opened, name):
    page = opened(name).page
    folded = page.locator("main > section > details")
    assert folded.count() >= 2
    for place in range(folded.count()):
        one = folded.nth(place)
        shut = one.bounding_box()["height"]
        summary = one.locator("> summary")
        summary.click()
        assert one.evaluate("one => one.open")
        assert one.bounding_box()["height"] > shut
        summary.focus()
        page.keyboard.press("Enter")
        assert not one.evaluate("one => one.open")


@each_report
def test_links_lead_to_their_sections(opened, name):
    page = opened(name).page
    links = page.locator("nav a")
    assert links.count() >= 6
    for place in range(links.count()):
        link = links.nth(place)
        target = link.get_attribute("href")
        link.click()
        assert page.evaluate("location.hash") == target
        heading = page.locator(f"[id='{target[1:]}']")
        assert heading.inner_text() == link.inner_text()
        top = heading.bounding_box()["y"]
        assert -1 <= top < WIDE["height"]


def test_skip_link_comes_first_and_is_seen_when_it_has_the_focus(opened):
    page = opened("run").page
    page.keyboard.press("Tab")
    first = page.locator(":focus")
    assert first.get_attribute("class") == "skip"
    assert first.bounding_box()["x"] >= 0
    page.keyboard.press("Enter")
    assert page.evaluate("location.hash") == "#report"


@each_report
def test_headings_go_down_by_one_and_every_picture_has_a_name(opened, name):
    page = opened(name).page
    unfold(page)
    levels = page.evaluate(
        "[...document.querySelectorAll('h1, h2, h3, h4')].map(one => Number(one.tagName[1]))"
    )
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(later <= earlier + 1 for earlier, later in pairwise(levels))
    pictures = page.locator("svg, img")
    named = page.get_by_role("img")
    assert pictures.count() == named.count() > 10
    labels = named.evaluate_all("all => all.map(one => one.getAttribute('aria-label'))")
    assert min(map(len, labels)) > 20


@pytest.mark.parametrize("viewport", [NARROW, WIDE], ids=["narrow", "wide"])
def test_tables_stay_tables_for_those_who_hear_them(opened, viewport):
    """Stacked rows are still rows with headed cells in the browser's own accessibility tree."""
    one = opened("compare", viewport)
    unfold(one.page)
    session = one.context.new_cdp_session(one.page)
    nodes = session.send("Accessibility.getFullAXTree")["nodes"]
    heard = [node["role"]["value"] for node in nodes if not node["ignored"] and "role" in node]
    written = one.page.evaluate(
        "['table', 'tr', 'td', 'th[scope=col]', 'th[scope=row]']"
        ".map(what => [...document.querySelectorAll(what)]"
        ".filter(one => getComputedStyle(one).display !== 'none').length)"
    )
    roles = ("table", "row", "cell", "columnheader", "rowheader")
    assert [heard.count(role) for role in roles] == written
    assert min(written) > 5


@each_report
@pytest.mark.parametrize("width", [320, 360, 768])
def test_narrow_page_does_not_scroll_sideways(opened, name, width):
    page = opened(name, {"width": width, "height": 740}).page
    unfold(page)
    inner, scroll = page.evaluate("[innerWidth, document.documentElement.scrollWidth]")
    assert inner == width
    assert scroll <= inner
    beyond = page.evaluate(
        """() => [...document.querySelectorAll('main *')]
            .filter(one => !one.closest('.sheet, thead'))
            .filter(one => one.getBoundingClientRect().right > innerWidth + 1)
            .map(one => one.tagName + ' ' + one.textContent.slice(0, 40))"""
    )
    assert beyond == []


@pytest.mark.parametrize("name", ["run", "card", "card in inches"])
def test_figures_can_be_read_on_a_phone(opened, name):
    """They stack, or scroll inside their own sheet, which the keyboard reaches."""
    page = opened(name, NARROW).page
    unfold(page)
    sheets = page.locator(".sheet")
    assert sheets.count() >= 7
    found = sheets.evaluate_all(
        """all => all.map(one => [one.scrollWidth > one.clientWidth, one.tabIndex,
            one.getBoundingClientRect().width,
            Math.min(...[...one.querySelectorAll('svg text')]
            .map(text => text.getBoundingClientRect().height).filter(size => size > 0))])"""
    )
    for scrolls, tab, width, letters in found:
        assert width <= NARROW["width"]
        assert 7 < letters < 40
        assert tab == 0 or not scrolls


OF_TWO_SHEETS = "card of the whole burner"
"""Its drawing has too many views for a part of a sheet."""


@each_card
def test_card_is_one_sheet_and_a_phone_holds_it(opened, name):
    page = opened(name, NARROW).page
    assert page.evaluate("document.documentElement.scrollWidth") <= NARROW["width"]
    blanks = page.locator(".card td:empty")
    assert blanks.count() > 8
    page.emulate_media(media="print")
    page.set_viewport_size(SHEET)
    printed = page.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == (2 if name == OF_TWO_SHEETS else 1)
    beyond = page.evaluate(
        """() => [...document.querySelectorAll('main *')]
            .filter(one => !one.closest('svg, caption'))
            .filter(one => one.getBoundingClientRect().right > innerWidth + 1)
            .map(one => one.tagName + ' ' + one.textContent.slice(0, 40))"""
    )
    assert beyond == []


def test_a_drawing_of_many_views_can_be_read_on_its_sheet(opened):
    page = opened(OF_TWO_SHEETS, SHEET).page
    page.emulate_media(media="print")
    letters = page.locator(".apart svg text").evaluate_all(
        "all => all.map(one => one.getBoundingClientRect().height).filter(size => size > 0)"
    )
    assert len(letters) > 70
    assert min(letters) > 2.0 / 25.4 * 96  # 2 mm, the height of letters on a drawing of small size
    said = page.locator(".card").first.inner_text()
    assert "second sheet" in said


CONTRASTS = """() => {
    const channels = colour => colour.match(/[\\d.]+/g).map(Number);
    const linear = c => (c /= 255) <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
    const luminance = c => 0.2126 * linear(c[0]) + 0.7152 * linear(c[1]) + 0.0722 * linear(c[2]);
    const behind = one => {
        for (; one; one = one.parentElement) {
            const c = channels(getComputedStyle(one).backgroundColor);
            if (c.length < 4 || c[3] > 0) return c;
        }
        return [255, 255, 255];
    };
    const found = {};
    for (const one of document.querySelectorAll('body *')) {
        const own = [...one.childNodes].some(node => node.nodeType === 3 && node.data.trim());
        const box = one.getBoundingClientRect();
        if (!own || one.closest('style') || box.width === 0) continue;
        const drawn = one.closest('svg');
        const style = getComputedStyle(one);
        const ink = channels(drawn ? style.fill : style.color);
        const paper = drawn ? behind(drawn) : behind(one);
        const [a, b] = [luminance(ink), luminance(paper)].sort((x, y) => y - x);
        const ratio = (a + 0.05) / (b + 0.05);
        const key = `${one.tagName} ${ink} on ${paper}`;
        found[key] = Math.min(found[key] ?? Infinity, ratio);
    }
    return found;
}"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["run", "compare"])
def test_text_stands_out_from_its_ground(opened, name, scheme):
    """Contrast of 4.5 to 1 or more, by the formula of WCAG 2.1, 1.4.3; figures' letters too."""
    page = opened(name, color_scheme=scheme).page
    unfold(page)
    found = page.evaluate(CONTRASTS)
    kinds = {key.split()[0] for key in found}
    assert {"P", "TD", "TH", "A", "SUMMARY", "FIGCAPTION", "CODE", "tspan", "text"} & kinds >= {
        "P", "TD", "TH", "A", "SUMMARY", "FIGCAPTION", "tspan",
    }  # fmt: skip
    assert {key: ratio for key, ratio in found.items() if ratio < 4.5} == {}
    if scheme == "dark":
        ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
        assert max(map(int, re.findall(r"\d+", ground))) < 64


@each_report
def test_paper_cuts_no_row_and_no_figure(opened, name):
    page = opened(name).page
    page.emulate_media(media="print")
    for what in ("tr", "figure", ".items li"):
        found = page.evaluate(
            "what => [...document.querySelectorAll(what)]"
            ".map(one => getComputedStyle(one).breakInside)",
            what,
        )
        assert found
        assert set(found) == {"avoid"}, what
    heads = page.evaluate(
        "[...document.querySelectorAll('thead')].map(one => getComputedStyle(one).display)"
    )
    assert set(heads) == {"table-header-group"}
    for hidden in ("nav", ".skip"):
        assert not page.locator(hidden).first.is_visible()
    breaks = page.locator("h2").evaluate_all(
        "all => all.map(one => getComputedStyle(one).breakAfter)"
    )
    assert set(breaks) == {"avoid"}


def test_paper_is_a4_and_nothing_runs_off_it(opened, tmp_path):
    """No table or figure is wider than the sheet; the demo is told on six at most."""
    page = opened("run", SHEET).page
    page.emulate_media(media="print")
    inner, scroll = page.evaluate("[innerWidth, document.documentElement.scrollWidth]")
    assert scroll <= inner
    printed = page.pdf(prefer_css_page_size=True)
    boxes = set(re.findall(rb"/MediaBox\s*\[([^\]]*)\]", printed))
    assert boxes
    for box in boxes:
        *_, width, height = map(float, box.split())
        assert (width, height) == pytest.approx((595.3, 841.9), abs=1.5)
    assert 4 <= len(re.findall(rb"/Type\s*/Page\b", printed)) <= 6


@each_report
def test_first_page_is_one_sheet(opened, name):
    """Between margins of 12 mm an A4 sheet is 273 mm high; the rest begins on the next."""
    page = opened(name, SHEET).page
    page.emulate_media(media="print")
    high = page.locator(".first").bounding_box()["height"]
    assert high <= 273 / 25.4 * 96
    assert page.locator(".first").evaluate("one => getComputedStyle(one).breakAfter") == "page"
    for part in ("h1", ".verdict", "figure svg", "#what-it-hangs-on", "#cautions"):
        assert page.locator(f".first {part}").first.is_visible()


def test_letters_of_the_drawings_lie_clear_of_each_other(opened):
    page = opened("run").page
    unfold(page)
    drawings = page.evaluate(
        """() => [...document.querySelectorAll('.views svg, #drawn-to-scale + details svg')]
            .map(svg => [...svg.querySelectorAll('text')]
                .map(one => [one.textContent, one.getBoundingClientRect()])
                .map(([words, box]) => [words, box.left, box.top, box.right, box.bottom]))"""
    )
    assert sum(map(len, drawings)) > 100
    for boxes in drawings:
        for place, (one, left, top, right, bottom) in enumerate(boxes):
            for other, x1, y1, x2, y2 in boxes[place + 1 :]:
                across = min(right, x2) - max(left, x1)
                down = min(bottom, y2) - max(top, y1)
                assert across <= 1 or down <= 3, (one, other)


def test_box_at_the_top_is_seen_without_scrolling(opened):
    page = opened("run", {"width": 1280, "height": 800}).page
    box = page.locator(".brief").bounding_box()
    assert box["y"] + box["height"] <= 800
