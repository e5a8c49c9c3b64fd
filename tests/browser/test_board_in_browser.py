"""The drawing board in a real browser: its main way, from an edit on it to a saved study."""

import os
import re
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

STUDY = Path(__file__).parents[2] / "studies" / "bramble" / "stepped_pipe.toml"
SLOW = 60_000


def _none(reason):
    if os.environ.get("SPIRITLEVEL_EXPECT_BROWSER"):
        pytest.fail(f"a browser is expected here: {reason}")
    pytest.skip(f"not run: {reason}")


@pytest.fixture
def browser():
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        _none("no chromium on this machine")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        _none("Playwright is not installed")
    with sync_playwright() as driver:
        started = driver.chromium.launch(
            executable_path=path, args=["--no-sandbox", "--disable-background-networking"]
        )
        yield started
        started.close()


def start(folder):
    """Start the command; the process and the address that it prints."""
    process = subprocess.Popen(
        [sys.executable, "-m", "sensitivity", "open", "pipe.toml", "--no-browser"],
        cwd=folder, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    process.stdout.readline()
    return process, process.stdout.readline().strip()


def end(process):
    """Kill a process that was started here."""
    process.kill()
    process.wait()
    process.stdout.close()


def watched(context, complaints, asked):
    """Open a page that notes what it complains of and whom it asks."""
    page = context.new_page()
    page.set_default_timeout(SLOW)
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))
    return page


def test_the_drawing_is_the_form_and_loses_nothing(browser, tmp_path):
    from playwright.sync_api import expect

    expect.set_options(timeout=SLOW)
    path = Path(shutil.copy(STUDY, tmp_path / "pipe.toml"))
    process, address = start(tmp_path)
    context = browser.new_context(viewport={"width": 1300, "height": 1000})
    complaints, asked = [], []
    page = watched(context, complaints, asked)
    try:
        page.goto(address)
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
        assert complaints == []
        page.close()
        end(process)
        assert 'nominal = "8 mm"' in path.read_text(encoding="utf-8")
        process, address = start(tmp_path)
        page = watched(context, complaints, asked)
        page.goto(address)
        expect(page.locator(".view [data-input=drop]")).to_contain_text("9.4 mm")
        page.locator("#save").click()
        expect(page.locator("#state")).to_have_text("saved")
        assert 'nominal = "9.4 mm"' in path.read_text(encoding="utf-8")
        page.close()
        process.send_signal(signal.SIGINT)
        assert process.wait(timeout=30) == 0
        assert complaints == []
        context.close()
        assert {url.split("/")[2].split(":")[0] for url in asked} == {"127.0.0.1"}
    finally:
        end(process)


NAMELESS = """() => [...document.querySelectorAll('input, select, button, [role=button]')]
    .filter(one => one.checkVisibility())
    .filter(one => !(one.labels?.length || one.getAttribute('aria-label')
                     || one.textContent.trim()))
    .map(one => one.outerHTML)"""
