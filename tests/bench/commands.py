"""What each command takes on the demo, by the clock and of the processors, and a run's headline.

    python tests/bench/commands.py                     # three times each
    python tests/bench/commands.py --times 1 run check
    python tests/bench/commands.py --beside OTHER      # in turn with the code of another checkout

Both run in this environment, each from its own folder, in turn, so that a machine whose speed
wanders tells something all the same: see the ratio of processor time. On a machine that does
nothing else the clock can be held to what was asked for, which is printed beside it.
"""

from __future__ import annotations

import argparse
import math
import os
import pty
import shutil
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[2]
STUDIES = ROOT / "studies" / "bramble"
HEADLINE = b"Of 100"

CALLS: dict[str, tuple[str, ...]] = {
    "check": ("check", "stepped_pipe.toml"),
    "run": ("run", "stepped_pipe.toml", "--seed", "1", "--out", "results"),
    "window": ("window", "stepped_pipe.toml", "breather_height", "--seed", "1"),
    "measure": ("measure", "stepped_pipe.toml", "--seed", "1"),
    "tighten": ("tighten", "stepped_pipe.toml", "--seed", "1"),
    "target": ("tighten", "stepped_pipe.toml", "--target", "95", "--seed", "1"),
    "bank": ("run", "run_up_the_bank.toml", "--points", "1024", "--seed", "1", "--out", "bank"),
}
ASKED = {
    "check": 0.8, "run": 5.0, "headline": 2.0, "window": 3.0, "measure": 5.0, "tighten": 5.0,
    "target": 5.0, "bank": 20.0,
}  # fmt: skip
"""Seconds by the clock on two cores that were asked for."""


class Took(NamedTuple):
    """Seconds by the clock until its first headline, if any, and until its end; of processor."""

    headline: float
    wall: float
    processor: float


def called(words: tuple[str, ...], code: Path, folder: str) -> Took:
    """Call a command of the code in one folder from another, at a terminal of 110 columns.

    Raises
    ------
    SystemExit
        Where the command fails.
    """
    start = time.perf_counter()
    process, terminal = pty.fork()
    if process == 0:
        os.chdir(folder)
        wanted = {"PYTHONPATH": str(code), "COLUMNS": "110"}
        own = {
            name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"
        }
        os.execve(sys.executable, [sys.executable, "-m", "sensitivity", *words], own | wanted)
    headline, told = float("nan"), b""
    while True:
        try:
            more = os.read(terminal, 65_536)
        except OSError:  # a terminal whose other end is closed
            break
        if not more:
            break
        told += more
        if math.isnan(headline) and HEADLINE in told:
            headline = time.perf_counter() - start
    _, status, used = os.wait4(process, 0)
    wall = time.perf_counter() - start
    os.close(terminal)
    if status:
        raise SystemExit(f"{' '.join(words)} ended with {status}:\n{told.decode(errors='replace')}")
    return Took(headline, wall, used.ru_utime + used.ru_stime)


def line(name: str, seconds: list[float], processor: list[float], others: list[Took]) -> str:
    """Lay out what a command took, and its limit; the other code's beside it."""
    text = f"{name:10}{', '.join(f'{each:.2f}' for each in sorted(seconds)):>22}"
    text += f"{', '.join(f'{each:.1f}' for each in sorted(processor)):>20}{ASKED[name]:>8.1f}"
    if others:
        walls = sorted(each.headline if name == "headline" else each.wall for each in others)
        text += f"{', '.join(f'{each:.2f}' for each in walls):>24}"
        if processor:
            text += f"{sum(processor) / sum(each.processor for each in others):>8.2f}"
    return text


def main() -> None:
    """Time the commands asked for, in turn, and print a table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("commands", nargs="*", metavar="COMMAND", help=", ".join(CALLS))
    parser.add_argument("--times", type=int, default=3)
    parser.add_argument("--beside", type=Path, help="folder of another checkout")
    asked = parser.parse_args()
    names = asked.commands or [*CALLS]
    if unknown := set(names) - CALLS.keys():
        parser.error(f"no such command here: {', '.join(sorted(unknown))}")
    codes = [ROOT, *([asked.beside.resolve()] if asked.beside else [])]
    took: dict[tuple[str, Path], list[Took]] = {}
    with tempfile.TemporaryDirectory() as folder:
        for name in ("stepped_pipe.toml", "run_up_the_bank.toml"):
            shutil.copy(STUDIES / name, folder)
        for _ in range(asked.times):
            for name in names:
                for code in codes:
                    took.setdefault((name, code), []).append(called(CALLS[name], code, folder))
    load = os.getloadavg()[0]
    head = f"{'':10}{'s by the clock':>22}{'s of processor':>20}{'asked':>8}"
    print(f"demo, two workers, load {load:.1f} on {os.cpu_count()} cores")
    print(head + (f"{'the other, clock':>24}{'ratio':>8}" if asked.beside else ""))
    for name in names:
        own = took[name, ROOT]
        others = took[name, codes[1]] if asked.beside else []
        print(line(name, [each.wall for each in own], [each.processor for each in own], others))
        if name == "run":
            print(line("headline", [each.headline for each in own], [], others))


if __name__ == "__main__":
    main()
