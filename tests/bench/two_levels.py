"""How many burners work, by brute force: plain nested sampling, ten times as many burners.

Every burner of a block is tried at all moments of the block, drawn anew for each, and works where
it keeps every limit at the share of them that the study asks for. No sequence, no order of moments,
nothing dropped and nothing audited; the interval is Student's t between blocks. The band is of
W(m) at many points of the doubts, each by burners of its own number; with these its ends lie a
little too far apart, by what so many burners add at random.

    python tests/bench/two_levels.py                    # all demo studies without a schedule
    python tests/bench/two_levels.py stepped_pipe --no-band
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

import numpy as np
from scipy import stats

from sensitivity.engine.moments import cross, crossed_values, crossing_plan, failing, of_kinds
from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import Plan, plan_run
from sensitivity.engine.two_levels import two_levels
from sensitivity.engine.verdicts import counting_for
from sensitivity.study.file import read_study
from sensitivity.study.study import Study

STUDIES = Path(__file__).resolve().parents[2] / "studies" / "bramble"
TIMES, BLOCK, FINER = 10, 1024, 4
"""Burners by the default; burners of a block; moments by the default."""
BAND_POINTS, BAND_BURNERS = 128, 1024
FURTHEST = 4.5
"""Standard errors beyond which two answers differ."""


def uniforms(plan: Plan, generator: np.random.Generator, count: int) -> dict[str, np.ndarray]:
    """Draw plain random positions (count,) of every varying input."""
    return {item.name: generator.random(count) for item in plan.varying}


def works(plan: Plan, keeps: float, parts: dict, moments: dict, count: int) -> tuple:
    """Whether burners work (p,), and at which share of the moments they keep (p,)."""
    values = crossed_values(plan, cross(plan, parts, moments))
    size = next(iter(parts.values())).size
    failed = failing(plan, values, np.arange(size), np.arange(count)).sum(axis=1)
    return failed <= (1.0 - keeps) * count, 1.0 - failed / count


def brute(plan: Plan, study: Study, blocks: int, moments: int) -> np.ndarray:
    """Share of burners that work and of moments at which they keep, by block (blocks, 2)."""
    generator = np.random.default_rng(20)
    found = []
    for _ in range(blocks):
        parts, at = (uniforms(plan, generator, size) for size in (BLOCK, moments))
        good, kept = works(plan, study.keeps, parts, at, moments)
        found.append([good.mean(), kept.mean()])
    return np.array(found)


def band(plan: Plan, study: Study, moments: int) -> np.ndarray:
    """The 5 and 95 % quantiles of W over the doubts."""
    generator = np.random.default_rng(21)
    doubts = of_kinds(plan, "model")
    shares = []
    for _ in range(BAND_POINTS):
        parts, at = (uniforms(plan, generator, size) for size in (BAND_BURNERS, moments))
        parts |= {name: np.full(BAND_BURNERS, generator.random()) for name in doubts}
        shares.append(works(plan, study.keeps, parts, at, moments)[0].mean())
    return np.quantile(shares, [0.05, 0.95])


def compare(name: str, *, with_band: bool, times: float) -> bool:
    """Print both answers side by side; tell whether they agree."""
    study = RunOptions(seed=1).asked_of(read_study(STUDIES / f"{name}.toml"))
    plan = plan_run(study)
    start = time.monotonic()
    found = two_levels(plan, keeps=study.keeps)
    took = time.monotonic() - start
    plan = crossing_plan(plan)
    counting = counting_for(plan, study.keeps)
    moments = 1 if counting.moments == 1 else FINER * counting.moments
    blocks = max(2, round(times * found.parts) * plan.sampling.replicates // BLOCK)
    start = time.monotonic()
    shares = brute(plan, study, blocks, moments)
    error = shares.std(axis=0, ddof=1) / blocks**0.5
    half = stats.t.ppf(0.975, blocks - 1) * error
    value = shares.mean(axis=0)
    print(
        f"{name}: {found.evaluations:,} evaluations in {took:.1f} s, "
        f"{blocks * BLOCK * moments:,} in {time.monotonic() - start:.0f} s"
    )
    agree = True
    rows = (("work", found.works, 0), ("at random", found.share, 1))
    for label, share, place in rows:
        apart = (share.value - value[place]) / max(
            np.hypot(share.half_width / 2, error[place]), 1e-9
        )
        agree &= abs(apart) <= FURTHEST
        print(
            f"  {label:12}{share.value:.4f} ({share.low:.4f} to {share.high:.4f})   "
            f"brute force {value[place]:.4f} +- {half[place]:.4f}   {apart:+.1f} s.e."
            f"{'' if abs(apart) <= FURTHEST else '  FAILED'}"
        )
    if with_band and found.band is not None:
        low, high = band(plan, study, min(moments, counting.moments))
        for label, end, other in (
            ("band, low", found.band.low, low),
            ("high", found.band.high, high),
        ):
            print(
                f"  {label:12}{end.value:.4f} ({end.low:.4f} to {end.high:.4f})   "
                f"brute force {other:.4f}"
            )
    return agree


def main() -> int:
    """Compare; 1 where two answers differ by more than chance lets them."""
    asked = argparse.ArgumentParser(description="Burners that work, by brute force.")
    asked.add_argument("studies", nargs="*")
    asked.add_argument("--no-band", action="store_true")
    asked.add_argument("--times", type=float, default=TIMES, help="burners, by those of the answer")
    given = asked.parse_args()
    names = given.studies or [
        path.stem
        for path in sorted(STUDIES.glob("*.toml"))
        if "[[schedule]]" not in path.read_text()
    ]
    agree = True
    for name in names:
        if not read_study(STUDIES / f"{name}.toml").limits:
            continue
        agree &= compare(name, with_band=not given.no_band, times=given.times)
        sys.stdout.flush()
    return int(not agree)


if __name__ == "__main__":
    sys.exit(main())
