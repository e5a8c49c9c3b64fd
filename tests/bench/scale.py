"""What a run of the demo's level study costs by the number of its base points, and two workers.

Each size runs in a process of its own, whose largest resident memory is printed beside its
processor time. Every replicate takes the same, and what is kept of one is small, so that cost is
linear and memory all but level; 10^8 base points take about an hour.

    python tests/bench/scale.py                          # 10^4, 10^5, 10^6
    python tests/bench/scale.py --up-to 8 --figure cost.svg
    python tests/bench/scale.py --memory                 # that of 10^8 without its hour
    python tests/bench/scale.py --workers                # one worker and two, a run of over 10 s
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

STUDY = Path(__file__).parents[2] / "studies" / "bramble" / "stepped_pipe.toml"

SIZES = {4: (10, 1024), 5: (12, 8192), 6: (122, 8192), 7: (153, 65_536), 8: (1526, 65_536)}
"""Replicates, and base points of each, by the power of ten that they make together."""

LOWEST = 4


def one(replicates: int, points: int, workers: int) -> None:
    """Run the study here; print what it took as JSON."""
    from sensitivity.engine.monte_carlo import run_replicates
    from sensitivity.engine.plan import plan_run
    from sensitivity.engine.result import assemble, without_samples
    from sensitivity.study.file import read_study

    study = read_study(STUDY, [])
    asked = replace(study.sampling, seed=1, replicates=replicates, points=points)
    study = replace(study, sampling=asked)
    plan = plan_run(study)
    unsampled = without_samples(study, plan)
    wall, cpu = time.perf_counter(), processor_time()
    summaries = run_replicates(plan, workers=workers)
    wall, cpu = time.perf_counter() - wall, processor_time() - cpu
    result = assemble(study, plan, summaries, unsampled=unsampled)
    assert result.overall is not None
    own = resource.getrusage(resource.RUSAGE_SELF)
    print(
        json.dumps(
            {
                "points": replicates * points,
                "wall": wall,
                "cpu": cpu,
                "mebibytes": own.ru_maxrss / 1024,
                "yield": result.overall.value,
                "half_width": result.overall.half_width,
            }
        )
    )


def processor_time() -> float:
    """Seconds of this process and of the workers that have ended."""
    both = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(each.ru_utime + each.ru_stime for each in both)


def apart(replicates: int, points: int, workers: int = 1) -> dict[str, float]:
    """Run one size in a process of its own."""
    call = [sys.executable, __file__, "--one", f"{replicates},{points},{workers}"]
    return json.loads(subprocess.run(call, check=True, capture_output=True, text=True).stdout)


def sizes(up_to: int) -> list[dict[str, float]]:
    """Run 10^4 base points and ten times as many each, and print a row of each."""
    print("base points   processor s   us a point   peak MiB   yield of 100")
    rows = []
    for power in range(LOWEST, up_to + 1):
        row = apart(*SIZES[power])
        rows.append(row)
        print(
            f"{row['points']:11,}   {row['cpu']:11.1f}   {1e6 * row['cpu'] / row['points']:10.1f}"
            f"   {row['mebibytes']:8.0f}   {100 * row['yield']:.3f} +- "
            f"{100 * row['half_width']:.3f}",
            flush=True,
        )
    return rows


def memory() -> None:
    """Bound the memory of 10^8 base points: one replicate of it, and what is kept of all."""
    replicates, points = SIZES[8]
    few, large = apart(8, 64), apart(8, points)
    many = apart(replicates, 64)
    kept = many["mebibytes"] - few["mebibytes"]
    print(f"a program that samples next to nothing     {few['mebibytes']:6.0f} MiB")
    print(f"8 replicates of {points:,} points             {large['mebibytes']:6.0f} MiB")
    print(f"what is kept of {replicates:,} replicates            {kept:6.0f} MiB more")
    print(f"10^8 base points, so                       {large['mebibytes'] + kept:6.0f} MiB")


def workers() -> None:
    """Run one worker and two, alternately; the better of two each."""
    found: dict[int, list[dict[str, float]]] = {1: [], 2: []}
    for _ in range(2):
        for count, rows in found.items():
            rows.append(apart(64, 8192, count))
    alone, both = (min(rows, key=lambda row: row["wall"]) for rows in found.values())
    least = {count: min(row["cpu"] for row in rows) for count, rows in found.items()}
    print(f"one worker   {alone['wall']:6.1f} s by the clock, {least[1]:6.1f} s of processor")
    print(f"two workers  {both['wall']:6.1f} s by the clock, {least[2]:6.1f} s of processor")
    print(f"by the clock {alone['wall'] / both['wall']:.2f} times as fast", end="")
    print(f" (load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores; other work tells here)")
    print(f"two workers take {100 * (least[2] / least[1] - 1):.0f} % more of the processor's time,")
    # The first replicate of a run is computed before there are workers.
    serial = least[1] / 64
    alike = least[1] / (serial + 0.5 * (least[2] - serial))
    print(f"so that on two idle cores they would be {alike:.2f} times as fast, starting them apart")


def figure(rows: list[dict[str, float]], out: Path) -> None:
    """Draw processor time and memory by the number of base points."""
    from matplotlib.figure import Figure

    drawn = Figure(figsize=(6.4, 2.6), layout="constrained")
    left, right = drawn.subplots(1, 2)
    points = [row["points"] for row in rows]
    left.loglog(points, [row["cpu"] for row in rows], "o-", color="#1b4f72")
    left.set(xlabel="base points", ylabel="processor time, s")
    right.semilogx(points, [row["mebibytes"] for row in rows], "o-", color="#1b4f72")
    right.axhline(500, color="#9b2d1f", linewidth=0.8)
    right.annotate("limit", (points[0], 500), xytext=(0, -11), textcoords="offset points")
    right.set(xlabel="base points", ylabel="largest memory, MiB", ylim=(0, 560))
    drawn.savefig(out)


def main() -> None:
    """Read what is asked for and print it."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--up-to", type=int, default=6, choices=tuple(SIZES), help="power of ten")
    parser.add_argument("--figure", type=Path, help="file to draw the sizes into")
    parser.add_argument("--memory", action="store_true")
    parser.add_argument("--workers", action="store_true")
    parser.add_argument("--one", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.one:
        one(*(int(number) for number in asked.one.split(",")))
    elif asked.memory:
        memory()
    elif asked.workers:
        workers()
    else:
        rows = sizes(asked.up_to)
        if asked.figure:
            figure(rows, asked.figure)


if __name__ == "__main__":
    main()
