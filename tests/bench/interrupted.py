"""Signals at random moments of real runs: nothing lost, nothing mixed, nobody left behind.

    python tests/bench/interrupted.py --signals 300 --seed 1

Each time a call is begun that writes to a results folder, where half of the times earlier results
stand; at a moment drawn from its length SIGINT, SIGTERM, SIGHUP or SIGKILL is sent to it, to one of
its workers or to the whole group. Afterwards the folder must hold the earlier results or the new
ones, byte for byte, once the next call has looked at it; the sentence and the exit status must say
which; and no process and no file may be left. Counts are printed; the exit status is 1 where
anything was wrong. Moments begin where the program's own first lines have run: before that a
signal is Python's to answer. Needs /proc.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import subprocess
import sys
import time
import uuid
from collections import Counter
from pathlib import Path
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.bench.from_outside import (
    CALL,
    Ended,
    Files,
    a_home,
    begun,
    ended,
    files_in,
    has_begun,
    marked,
    none_left,
    reference,
)

SIGNALS = ("SIGINT", "SIGTERM", "SIGHUP", "SIGKILL")
TARGETS = ("parent", "worker", "group")
CALLS = {
    "run": ("run", "study.toml", *CALL, "--workers", "2", "--out", "results", "--quiet"),
    "learn": (
        "learn", "study.toml", *CALL, "--workers", "2", "--out", "results", "--quiet",
        "--seen", "play=kept", "--save-doubts", "kept.json",
    ),
}  # fmt: skip
OFTEN = ("run", "run", "run", "learn")
NOTHING = "nothing was written, and what stood before still stands"
ALREADY = "the results had already been written to results"
TOO_OFTEN = "a worker process was killed, twice"


class Known(NamedTuple):
    """What a call writes undisturbed, with one seed and with another, and how long it takes."""

    earlier: Files
    new: Files
    seconds: float


class Trial(NamedTuple):
    """One signal: of what sort, to whom, at which share of the call's length."""

    call: str
    signal: str
    target: str
    share: float
    replacing: bool


def known(call: str) -> Known:
    """Run a call undisturbed, twice."""
    earlier = reference((*CALLS[call], "--seed", "1"))
    start = time.monotonic()
    new = reference((*CALLS[call], "--seed", "2"))
    return Known(earlier, new, time.monotonic() - start)


def tried(trial: Trial, undisturbed: Known) -> tuple[str, str]:
    """Send one signal; say which results stand then, and what was wrong (empty: nothing)."""
    mark = uuid.uuid4().hex
    with a_home(undisturbed.earlier if trial.replacing else None) as home:
        process = begun(home, (*CALLS[trial.call], "--seed", "2"), mark)
        if trial.target == "worker":
            _sent_to_worker(process, trial, undisturbed.seconds, mark)
        else:
            _sent(process, trial, undisturbed.seconds)
        done = ended(process)
        alone = none_left(mark)
        became, why = _judged(trial, undisturbed, home, done)
        return became, why or ("" if alone else "a process was left behind")


def _sent(process: subprocess.Popen[str], trial: Trial, seconds: float) -> None:
    while not has_begun(process) and process.poll() is None:
        time.sleep(0.002)
    time.sleep(trial.share * seconds)
    if process.poll() is None:
        send = os.killpg if trial.target == "group" else os.kill
        send(process.pid, getattr(signal, trial.signal))


def _sent_to_worker(
    process: subprocess.Popen[str], trial: Trial, seconds: float, mark: str
) -> None:
    """Wait until there are workers, and then for a share of the time that they live."""
    while process.poll() is None and len(marked(mark)) < 2:
        time.sleep(0.01)
    time.sleep(0.3 * trial.share * seconds)
    workers = [number for number in marked(mark) if number != process.pid]
    if workers:
        try:
            os.kill(workers[int(trial.share * len(workers))], getattr(signal, trial.signal))
        except ProcessLookupError:
            return  # it had just ended


def _judged(trial: Trial, undisturbed: Known, home: Path, done: Ended) -> tuple[str, str]:
    earlier = undisturbed.earlier if trial.replacing else {}
    hard = trial.signal == "SIGKILL" and trial.target != "worker"
    before_mending = {path.name for path in home.iterdir()}
    mended = _mended(home)
    found = files_in(home / "results")
    which = "new" if found == undisturbed.new else "earlier" if found == earlier else "MIXED"
    for words in ("Traceback", "Error:", "resource_tracker", "a fault in spiritlevel"):
        if words in done.err or words in done.out:
            return which, f"{words} in {done.err[-300:]!a}"
    if mended or which == "MIXED":
        return which, mended or f"neither the earlier nor the new results: {sorted(found)}"
    expected = {"study.toml", "pins.py", "results", "results.unfinished" if hard else "results"}
    if trial.call == "learn":
        expected |= {"kept.json"}
    left = before_mending - expected
    if not hard:
        left |= {path.name for path in (home.parent / "temporary").iterdir()}
    elif left and all(name.startswith(".kept.json") for name in left):
        left = set()  # nobody can take away what he was killed over
    if left or "results.unfinished" in {path.name for path in home.iterdir()}:
        return which, f"left {sorted(left) or 'results.unfinished'}"
    return which, _said(trial, done, which)


def _mended(home: Path) -> str:
    """Let the next call look at the folder, as it does before all else."""
    from sensitivity.errors import SpiritlevelError
    from sensitivity.presentation.folder import check_folder

    try:
        check_folder(home / "results")
    except SpiritlevelError as error:
        return str(error)
    return ""


def _said(trial: Trial, done: Ended, which: str) -> str:
    """See that exit status and sentence say what became of the folder."""
    lines = done.err.strip().splitlines()
    number = int(getattr(signal, trial.signal))
    if done.status == 0:
        return "" if which == "new" and not lines else f"status 0, {which} results, {lines}"
    if done.status == -signal.SIGKILL and trial.signal == "SIGKILL" and trial.target != "worker":
        return ""
    if trial.target == "worker":
        if done.status == 1 and TOO_OFTEN in done.err:
            return "" if which == "earlier" else "a refusal, and new results"
        return f"status {done.status}: {lines}"
    if done.status != 128 + number or len(lines) != 1:
        return f"status {done.status}: {lines}"
    truth = ALREADY if which == "new" else NOTHING
    return "" if truth in lines[0] else f"{which} results, and it says {lines[0]}"


def trials(rng: random.Random, count: int) -> list[Trial]:
    """Draw trials: every signal to everybody in turn, at random moments."""
    pairs = [(name, target) for name in SIGNALS for target in TARGETS]
    return [
        Trial(rng.choice(OFTEN), *pairs[n % len(pairs)], rng.uniform(0.0, 1.0), rng.random() < 0.5)
        for n in range(count)
    ]


def main() -> int:
    """Send signals and count; 1 where anything was wrong."""
    asked = argparse.ArgumentParser(description="Signals at random moments of real runs.")
    asked.add_argument("--signals", type=int, default=300)
    asked.add_argument("--seed", type=int, default=1)
    options = asked.parse_args()
    undisturbed = {call: known(call) for call in CALLS}
    counts: Counter[tuple[str, str]] = Counter()
    wrong: Counter[tuple[str, str]] = Counter()
    for trial in trials(random.Random(options.seed), options.signals):
        became, why = tried(trial, undisturbed[trial.call])
        key = (trial.signal, trial.target)
        counts[key] += 1
        counts["folder", became] += 1
        if why:
            wrong[key] += 1
            print(f"WRONG {trial}: {why}", flush=True)
    print(f"{options.signals} signals with seed {options.seed}; wrong: {wrong.total()}")
    for name in SIGNALS:
        row = [f"{target} {counts[name, target]}/{wrong[name, target]}" for target in TARGETS]
        print(f"  {name:8} tried/wrong to {', '.join(row)}")
    print(f"  the folder held new results {counts['folder', 'new']} times, and what stood before "
          f"{counts['folder', 'earlier']} times")  # fmt: skip
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
