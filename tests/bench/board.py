"""How soon the drawing board follows an edit, in a real browser; prints, and asserts nothing.

    python tests/bench/board.py                  # the demo pipe, 20 edits
    python tests/bench/board.py STUDY NAME FROM STEP UNIT

Each edit types another nominal of one dimension and waits until the page has painted the margins,
then the first yield. Of each the server's part is told apart (from the request to its answer, or to
the message) from the browser's (until it is painted).
"""

from __future__ import annotations

import os
import shutil
import statistics
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.browser.driven import Board, Watched, chromium  # noqa: E402 - the path is set above

DEMO = (str(ROOT / "studies" / "bramble" / "stepped_pipe.toml"), "drop", "8.05", "0.05", "mm")
EDITS = 20

HEARD = """
const Source = EventSource;
window.heardAt = [];
window.EventSource = class extends Source {
  constructor(...all) {
    super(...all);
    this.addEventListener("message", (event) => {
      const { kind, stage, revision } = JSON.parse(event.data);
      window.heardAt.push({ kind, stage, revision, at: performance.now() });
    });
  }
};
"""
"""Notes when each message comes, before the page sees it."""

EDIT = """async ([value, revision]) => {
  const field = document.querySelector("#field-nominal");
  const until = (ready) => new Promise((done) => {
    const painted = () => done(performance.now());
    const look = () => requestAnimationFrame(ready() ? painted : look);
    look();
  });
  const at = (id) => Number(document.getElementById(id).dataset.revision ?? 0);
  performance.clearResourceTimings();
  const start = performance.now();
  field.value = value;
  field.dispatchEvent(new Event("change", { bubbles: true }));
  const [margins, drawing, level] = await Promise.all(
    ["drawn", "views", "level-words"].map((id) => until(() => at(id) >= revision)));
  const asked = performance.getEntriesByType("resource")
    .find((each) => each.name.endsWith("/edit"));
  const heard = window.heardAt.find((each) => each.kind === "level" && each.revision >= revision);
  return { margins: margins - start, "margins, server": asked.responseEnd - asked.requestStart,
    drawing: drawing - start, yield: level - start, "yield, server": heard.at - start };
}"""


def measured(study: str, name: str, first: float, step: float, unit: str) -> dict[str, list[float]]:
    """Make the edits in a browser; milliseconds of each part of each."""
    found: dict[str, list[float]] = {}
    with tempfile.TemporaryDirectory() as folder, chromium() as browser:
        path = Path(shutil.copy(study, folder))
        board = Board(folder, path.name)
        page = Watched(browser, viewport={"width": 1300, "height": 1000}).page
        page.add_init_script(HEARD)
        try:
            page.goto(board.address)
            page.wait_for_selector("#level-words[data-revision]")
            page.locator(f".view [data-input={name}] .hit").first.click()
            for edit in range(EDITS):
                took = page.evaluate(EDIT, [f"{first + edit * step:.10g} {unit}", edit + 2])
                for part, each in took.items():
                    found.setdefault(part, []).append(each)
                page.wait_for_timeout(300)
        finally:
            board.kill()
    return found


def main() -> None:
    """Measure, and print median and worst."""
    study, name, first, step, unit = sys.argv[1:] or DEMO
    found = measured(study, name, float(first), float(step), unit)
    print(f"{Path(study).name}, {name}, {EDITS} edits, load {os.getloadavg()[0]:.1f}; milliseconds")
    for part, each in found.items():
        print(f"{part:18}median {statistics.median(each):5.0f}, worst {max(each):5.0f}")


if __name__ == "__main__":
    main()
