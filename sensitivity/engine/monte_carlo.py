"""Running replicates, here or in other processes, until there are enough.

The procedure is the adaptive one of JCGM 101:2008, 7.9, with replicates for its batches and
Student's factor for its 2. Replicates are taken in their own order, whoever computed them, so
the answer does not depend on the number of workers.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Generator
from concurrent.futures import Executor
from contextlib import closing
from functools import partial
from typing import TypeVar

import numpy as np

from sensitivity import interrupts
from sensitivity.engine.intervals import proportion
from sensitivity.engine.memory import keep_freed_blocks
from sensitivity.engine.moments import crossing_plan
from sensitivity.engine.plan import Plan
from sensitivity.engine.progress import NoProgress, Progress
from sensitivity.engine.replicate import Summary, one_replicate
from sensitivity.engine.workers import by_executor, by_processes, kept_workers
from sensitivity.study.study import FEWEST_REPLICATES

Answer = TypeVar("Answer")

WORTH_A_POOL = 1.0
"""Seconds of work left below which starting other processes costs more than it saves."""
SURELY_WORTH_A_POOL = 0.05
"""The same of what is known to be the least: of a pipe's levels a twentieth (measured)."""


def run_replicates(
    plan: Plan,
    *,
    workers: int | None = None,
    executor: Executor | None = None,
    progress: Progress | None = None,
    meanwhile: Callable[[], object] | None = None,
) -> list[Summary]:
    """Run the replicates that the plan asks for.

    Parameters
    ----------
    plan : Plan
        As ``plan_run`` fixed it.
    workers : int, optional
        Processes on this machine; by default one a core where the work is worth it. The
        first replicate always runs here, so that a model's error is met at once.
    executor : concurrent.futures.Executor, optional
        Any executor to use instead; it is not shut down.
    progress : Progress, optional
        Who is told.
    meanwhile : callable, optional
        Called here, once, while other processes compute.

    Returns
    -------
    list of Summary
        In the order of the replicates.
    """
    progress = progress or NoProgress()
    summaries: list[Summary] = []
    stream = _stream(
        partial(one_replicate, crossing_plan(plan) if plan.groups else plan),
        _asked(plan),
        _most(plan),
        workers=workers,
        executor=executor,
        meanwhile=meanwhile,
    )
    try:
        with closing(stream):
            for summary in stream:
                interrupts.check()  # a library may have swallowed one
                summaries.append(summary)
                wanted = _wanted(plan, summaries)
                progress.done(len(summaries), max(wanted, len(summaries)))
                if len(summaries) >= wanted:
                    break
    finally:
        progress.close()
    return summaries


def each_replicate(
    task: Callable[[int], Answer],
    replicates: int,
    *,
    workers: int | None = None,
    executor: Executor | None = None,
    progress: Progress | None = None,
    meanwhile: Callable[[], object] | None = None,
    at_least: float = 0.0,
) -> list[Answer]:
    """Run any picklable task for replicates 0, 1, ... and return the answers in that order.

    Where they take ``at_least`` some seconds of work together, processes do the first one too.
    """
    progress = progress or NoProgress()
    answers = []
    stream = _stream(
        task,
        replicates,
        replicates,
        workers=workers,
        executor=executor,
        meanwhile=meanwhile,
        at_least=at_least,
    )
    try:
        with closing(stream):
            for answer in stream:
                interrupts.check()
                answers.append(answer)
                progress.done(len(answers), replicates)
    finally:
        progress.close()
    return answers


def _stream(
    task: Callable[[int], Answer],
    asked: int,
    most: int,
    *,
    workers: int | None,
    executor: Executor | None,
    meanwhile: Callable[[], object] | None,
    at_least: float = 0.0,
) -> Generator[Answer, None, None]:
    """Yield the answers of replicates 0, 1, ... in order.

    The first one is computed here, where no processes stand ready from an earlier stage and it is
    not known beforehand that they are worth it.
    """
    keep_freed_blocks()
    ready = 0
    if executor is None and workers != 1:
        ready = kept_workers()
        if not ready and at_least > SURELY_WORTH_A_POOL and asked > 1:
            ready = min(workers or _cores(), asked)
            ready = ready if ready > 1 else 0
    if ready:
        yield from by_processes(task, range(most), ready, meanwhile)
        return
    start = time.monotonic()
    yield task(0)
    left, rest = asked - 1, range(1, most)
    if executor is not None:
        yield from by_executor(task, rest, executor, max(left, 1), meanwhile)
        return
    count = _processes(left, workers, time.monotonic() - start)
    if count > 1:
        yield from by_processes(task, rest, count, meanwhile)
    else:
        if meanwhile is not None:
            meanwhile()
        yield from map(task, rest)


def _processes(left: int, workers: int | None, spent: float) -> int:
    """Find how many processes to use: never more than there are replicates left to do."""
    if workers is None:
        workers = _cores() if spent * left > WORTH_A_POOL else 1
    return min(workers, left)


def _cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


FEWEST_JUDGED = 16
"""Replicates below which it is not asked whether there are enough: judged by fewer, a run stops
where they happen to agree, and its interval holds in 92 or 93 of 100 (measured)."""


def _asked(plan: Plan) -> int:
    asked = max(plan.sampling.replicates, FEWEST_REPLICATES)
    if plan.sampling.target_half_width is None:
        return asked
    return max(asked, min(FEWEST_JUDGED, plan.sampling.max_replicates))


def _wanted(plan: Plan, summaries: list[Summary]) -> int:
    """Number of replicates wanted, judged by those at hand."""
    sampling = plan.sampling
    asked = _asked(plan)
    if sampling.target_half_width is None or len(summaries) < asked:
        return asked
    passes = np.array([summary.passes_all for summary in summaries])
    reached = proportion(passes, summaries[0].rows, sampling.confidence).half_width
    if reached <= sampling.target_half_width:
        return len(summaries)
    # The half-width falls about as the square root of the number of replicates.
    guess = int(np.ceil(len(summaries) * (reached / sampling.target_half_width) ** 2))
    return min(max(guess, len(summaries) + 1), _most(plan))


def _most(plan: Plan) -> int:
    """Largest number of replicates that may be wanted."""
    asked = _asked(plan)
    return (
        asked
        if plan.sampling.target_half_width is None
        else max(asked, plan.sampling.max_replicates)
    )
