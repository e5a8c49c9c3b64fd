"""How a run is carried out: one frozen value that every answer takes."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, replace

from sensitivity.engine.progress import NoProgress, Progress, unheard
from sensitivity.errors import CallError, shortened
from sensitivity.study.study import FEWEST_REPLICATES, MOST_REPLICATES, Study

FEWEST_POINTS, MOST_POINTS = 64, 1 << 20


@dataclass(frozen=True, kw_only=True)
class RunOptions:
    """How much is sampled, by whom, and who is told; what is None is as the study says.

    Parameters
    ----------
    seed : int, optional
        Seed of the sampling, 0 or more; drawn anew where neither this nor the study states one.
    replicates : int, optional
        Independent replicates, from 8 to 100000.
    points : int, optional
        Points a replicate, a power of two from 64 to 1048576.
    workers : int, optional
        Processes on this machine; by default one a core where the work is worth it.
    executor : concurrent.futures.Executor, optional
        Any executor to use instead; it is not shut down.
    progress : callable that gives a Progress
        Called at the start of each stage, so that each has its own time; nobody by default.
    meanwhile : callable, optional
        Called here, once, while other processes compute: what the caller wants ready by then.
    draws : bool
        Whether figures will be wanted: they are then drawn while other processes compute.
    told : callable of str
        Told what is known before the rest is; nobody by default.

    Raises
    ------
    CallError
        Where a number is out of its range.
    """

    seed: int | None = None
    replicates: int | None = None
    points: int | None = None
    workers: int | None = None
    executor: Executor | None = None
    progress: Callable[[], Progress] = NoProgress
    meanwhile: Callable[[], object] | None = None
    draws: bool = False
    told: Callable[[str], None] = unheard

    def __post_init__(self) -> None:
        if self.seed is not None and self.seed < 0:
            raise CallError(f"--seed: found {self.seed}; should be 0 or more")
        if self.replicates is not None and not (
            FEWEST_REPLICATES <= self.replicates <= MOST_REPLICATES
        ):
            raise CallError(
                f"--replicates: found {shortened(str(self.replicates))}; should be from "
                f"{FEWEST_REPLICATES} to {MOST_REPLICATES}"
            )
        if self.workers is not None and self.workers < 1:
            raise CallError(f"--workers: found {self.workers}; should be 1 or more")
        if self.points is not None and not (
            FEWEST_POINTS <= self.points <= MOST_POINTS and self.points & (self.points - 1) == 0
        ):
            raise CallError(
                f"--points: found {shortened(str(self.points))}; should be a power of two from "
                f"{FEWEST_POINTS} to {MOST_POINTS}, like 4096"
            )

    def asked_of(self, study: Study) -> Study:
        """Give the study the sampling that these options ask for instead of its own."""
        asked = {"seed": self.seed, "replicates": self.replicates, "points": self.points}
        given = {key: value for key, value in asked.items() if value is not None}
        return replace(study, sampling=replace(study.sampling, **given))


DEFAULTS = RunOptions()
"""All as the study says, here or in other processes as is worth it, nobody told."""
