"""The drawing board in a real browser: its main way, from an edit on it to a saved study."""

import re
import shutil
import signal
from pathlib import Path

from tests.browser.driven import SLOW, Board, Watched

STUDY = Path(__file__).parents[2] / "studies" / "bramble" / "stepped_pipe.toml"


def test_the_drawing_is_the_form_and_loses_nothing(browser, tmp_path):
    from playwright.sync_api import expect

    expect.set_options(timeout=SLOW)
    path = Path(shutil.copy(STUDY, tmp_path / "pipe.toml"))
    board = Board(tmp_path, "pipe.toml")
    watched = Watched(browser, viewport={"width": 1300, "height": 1000})
    page = watched.page
    try:
        page.goto(board.address)
        drop, field = page.locator(".view [data-input=drop]"), page.locator("#field-nominal")
        words = page.locator("#level-words")
        expect(words).to_have_attribute("data-revision", "1")
        first = words.inner_text()

        # Ten quick edits end in the right drawing, and in the right yield.
        drop.locator(".hit").first.click()
        for tenth in range(10):
            field.fill(f"{8.5 + tenth / 10:.1f}")
            field.press("Enter")
        expect(drop).to_contain_text("9.4 mm")
        expect(words).to_have_attribute("data-revision", "11")
        assert words.inner_text() != first
        assert re.search(r"\d", words.inner_text())

        # A wrong value shows its message and stays as typed, though the page is loaded again.
        field.fill("9 kg")
        field.press("Enter")
        expect(field).to_have_attribute("aria-invalid", "true")
        page.reload()
        drop.locator(".hit").first.click()
        expect(field).to_have_value("9 kg")
        expect(page.locator("#field-nominal-problem")).to_contain_text("kg")
        expect(drop).to_contain_text("9.4 mm")

        # By keyboard alone: in hand by Enter, and every control has a name.
        page.locator(".view [data-input=breather_height]").focus()
        page.keyboard.press("Enter")
        expect(page.locator("#card-title")).to_contain_text("breather height")
        assert page.evaluate(NAMELESS) == []
        for width in (360, 1300):
            page.set_viewport_size({"width": width, "height": 800})
            assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0

        # A killed program loses nothing.
        assert watched.complaints == []
        page.close()
        board.kill()
        assert 'nominal = "8 mm"' in path.read_text(encoding="utf-8")
        board = Board(tmp_path, "pipe.toml")
        page = watched.another()
        page.goto(board.address)
        expect(page.locator(".view [data-input=drop]")).to_contain_text("9.4 mm")
        page.locator("#save").click()
        expect(page.locator("#state")).to_have_text("saved")
        assert 'nominal = "9.4 mm"' in path.read_text(encoding="utf-8")

        # What was asked before it was saved, and is answered after, does not say it is unsaved.
        held: list = []

        def hold(route):
            held.append((route, route.fetch().text()))

        page.route("**/rest", hold, times=1)
        page.locator(".view [data-input=drop] .hit").first.click()
        page.locator("#field-nominal").fill("9.3")
        page.locator("#field-nominal").press("Enter")
        while not held:
            page.wait_for_timeout(20)
        page.wait_for_timeout(100)
        page.locator("#save").click()
        expect(page.locator("#state")).to_have_text("saved")
        route, late = held[0]
        with page.expect_response("**/rest"):
            route.fulfill(content_type="application/json", body=late)
        page.wait_for_timeout(300)
        expect(page.locator("#state")).to_have_text("saved", timeout=1)
        assert 'nominal = "9.3 mm"' in path.read_text(encoding="utf-8")
        page.close()
        board.process.send_signal(signal.SIGINT)
        assert board.process.wait(timeout=30) == 0
        assert watched.complaints == []
        watched.context.close()
        assert {url.split("/")[2].split(":")[0] for url in watched.asked} == {"127.0.0.1"}
    finally:
        board.kill()


NAMELESS = """() => [...document.querySelectorAll('input, select, button, [role=button]')]
    .filter(one => one.checkVisibility())
    .filter(one => !(one.labels?.length || one.getAttribute('aria-label')
                     || one.textContent.trim()))
    .map(one => one.outerHTML)"""
