"""A real browser, and the drawing board in it: for the tests of this folder and for the bench."""

import shutil
import subprocess
import sys
from contextlib import contextmanager

SLOW = 60_000
"""Milliseconds that a loaded machine may take over anything that is waited for."""


class NoBrowserError(Exception):
    """Why there is no browser here."""


@contextmanager
def chromium():
    """Start Chromium from the system's packages, driven by Playwright."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        raise NoBrowserError("no chromium on this machine")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        raise NoBrowserError("Playwright is not installed") from None
    with sync_playwright() as driver:
        started = driver.chromium.launch(
            executable_path=path, args=["--no-sandbox", "--disable-background-networking"]
        )
        yield started
        started.close()


class Watched:
    """A page in a context of its own, what it complained of and whom it asked."""

    def __init__(self, browser, **options):
        self.context = browser.new_context(**options)
        self.asked, self.complaints = [], []
        self.page = self.another()

    def another(self):
        """Open a page more in the same context, watched too."""
        page = self.context.new_page()
        page.set_default_timeout(SLOW)
        page.on("request", lambda request: self.asked.append(request.url))
        page.on("console", lambda message: self.complaints.append(message.text))
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        return page


class Board:
    """``spiritlevel open`` in a folder, in a process of its own."""

    def __init__(self, folder, *words):
        self.process = subprocess.Popen(
            [sys.executable, "-m", "sensitivity", "open", *words, "--no-browser"],
            cwd=folder, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        self.process.stdout.readline()
        self.address = self.process.stdout.readline().strip()

    def kill(self):
        """End it at once, as a power cut would."""
        self.process.kill()
        self.process.wait()
        self.process.stdout.close()
