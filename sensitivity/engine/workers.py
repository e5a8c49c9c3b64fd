"""Processes that compute replicates: none outlives its parent, and a killed one is replaced.

A run of several stages keeps them from one to the next (``one_crew``), and may have whole stages
done by one of them (``aside``).
"""

from __future__ import annotations

import logging
import os
import signal
import sys
import threading
import warnings
from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import dataclass
from itertools import islice
from typing import TypeVar

from sensitivity import interrupts
from sensitivity.engine.memory import keep_freed_blocks
from sensitivity.errors import MachineError

Answer = TypeVar("Answer")
UnderWay = deque[tuple[int, "Future[Answer]"]]

AHEAD, AHEAD_MEANWHILE = 3, 8
"""Replicates handed over to each process: enough to go on with while this one is busy, and while it
does something else altogether."""

SECONDS_TO_END = 2.0

PARENT_DEATH_SIGNAL = 1
"""``PR_SET_PDEATHSIG`` of Linux's ``prctl``."""


MOST_ASIDE = 4
"""Processes up to which a whole stage is one's: of more, each had better do its replicates."""


@dataclass
class _Crew:
    """Processes that stages have in common; none before the first stage that is worth some."""

    pool: ProcessPoolExecutor | None = None
    workers: int = 0


_crews: list[_Crew] = []


@contextmanager
def one_crew() -> Iterator[None]:
    """Keep the processes that one stage starts for those that follow, and end them all after."""
    crew = _Crew()
    _crews.append(crew)
    try:
        yield
    except BaseException:
        if crew.pool is not None:
            _end(crew.pool)
        raise
    else:
        if crew.pool is not None:
            crew.pool.shutdown(wait=True, cancel_futures=True)
    finally:
        _crews.remove(crew)


def kept_workers() -> int:
    """Processes that stand ready from an earlier stage; 0 where none do."""
    return _crews[-1].workers if _crews and _crews[-1].pool is not None else 0


def aside(task: Callable[[], Answer], *, workers: int | None) -> Callable[[], Answer] | None:
    """Begin a whole stage in one of the processes that stand ready; call what is given for its end.

    None where none stand ready, or many do, which had better share its replicates.

    Parameters
    ----------
    task : callable
        Picklable, with a picklable answer.
    workers : int, optional
        As the call asked; with 1 all is done here.
    """
    if workers == 1 or not 1 < kept_workers() <= MOST_ASIDE:
        return None
    pool = _crews[-1].pool
    assert pool is not None
    try:
        with interrupts.held():
            future = pool.submit(task)
    except BrokenExecutor:
        return None

    def answer() -> Answer:
        try:
            return future.result()
        except BrokenExecutor:
            return task()  # its process was killed

    return answer


def by_executor(
    task: Callable[[int], Answer],
    replicates: Iterable[int],
    executor: Executor,
    ahead: int,
    meanwhile: Callable[[], object] | None = None,
) -> Generator[Answer, None, None]:
    """Compute by an executor of the caller's, which is not shut down.

    Parameters
    ----------
    task : callable of int
        What to compute, by the number of the replicate; picklable where the executor pickles.
    replicates : iterable of int
        Their numbers.
    executor : concurrent.futures.Executor
        Who computes.
    ahead : int
        How many to have under way at once.
    meanwhile : callable, optional
        Called here, once, when the first are under way.

    Yields
    ------
    answer
        In the order of the replicates.

    Raises
    ------
    MachineError
        Where the executor itself breaks.
    """
    waiting: UnderWay[Answer] = deque()
    remaining = iter(replicates)
    try:
        while True:
            _top_up(waiting, task, remaining, executor, ahead)
            if meanwhile is not None:
                meanwhile()
                meanwhile = None
            if not waiting:
                return
            answer = waiting[0][1].result()
            waiting.popleft()
            yield answer
    except BrokenExecutor as error:
        raise MachineError(f"the executor that was given broke: {error}") from error
    finally:
        for _, future in waiting:
            future.cancel()


def by_processes(
    task: Callable[[int], Answer],
    replicates: Iterable[int],
    workers: int,
    meanwhile: Callable[[], object] | None = None,
) -> Generator[Answer, None, None]:
    """Compute in processes of this machine, as ``by_executor``.

    Where a process is killed, what was under way is computed again by fresh ones. All of them end
    with this generator, whatever ends it, and with this process.

    Raises
    ------
    MachineError
        Where a process is killed a second time at the same replicate.
    """
    waiting: UnderWay[Answer] = deque()
    remaining = iter(replicates)
    broken_at = -1
    crew = _crews[-1] if _crews else _Crew()
    pool = crew.pool or _new_pool(workers)
    crew.pool, crew.workers = pool, crew.workers or workers
    try:
        while True:
            try:
                ahead = AHEAD if meanwhile is None else AHEAD_MEANWHILE
                _top_up(waiting, task, remaining, pool, ahead * workers)
                if meanwhile is not None:
                    meanwhile()
                    meanwhile = None
                if not waiting:
                    break
                answer = waiting[0][1].result()
            except BrokenExecutor as error:
                replicate = waiting[0][0]
                if replicate == broken_at:
                    raise MachineError(
                        f"a worker process was killed, twice, at replicate {replicate}: most "
                        "often for want of memory, or by a model that crashes; ask for fewer "
                        "--points or for --workers 1"
                    ) from error
                broken_at = replicate
                _end(pool)
                crew.pool = pool = _new_pool(workers)
                again = [number for number, _ in waiting]
                remaining = _chained(again, remaining)
                waiting.clear()
                continue
            waiting.popleft()
            yield answer
    except GeneratorExit:
        if waiting or not _crews:  # enough of them: what is under way is not waited for
            _end(pool)
            crew.pool = None
        raise
    except BaseException:
        _end(pool)
        crew.pool = None
        raise
    if not _crews:
        pool.shutdown(wait=True, cancel_futures=True)


def _chained(first: list[int], then: Iterator[int]) -> Iterator[int]:
    yield from first
    yield from then


def _top_up(
    waiting: UnderWay[Answer],
    task: Callable[[int], Answer],
    remaining: Iterator[int],
    executor: Executor,
    ahead: int,
) -> None:
    """Have so many replicates under way; one that cannot be handed over is not forgotten."""
    for replicate in islice(remaining, max(ahead - len(waiting), 0)):
        lost: Future[Answer] = Future()
        waiting.append((replicate, lost))
        try:
            with _begun_whole(executor):
                waiting[-1] = (replicate, executor.submit(task, replicate))
        except BrokenExecutor as error:
            lost.set_exception(error)


def _begun_whole(executor: Executor) -> AbstractContextManager[object]:
    """Put an interrupt off while our own pool may begin a process: Python would swallow it there.

    A caller's executor may wait, and is left to be interrupted.
    """
    return interrupts.held() if isinstance(executor, ProcessPoolExecutor) else nullcontext()


def _new_pool(workers: int) -> ProcessPoolExecutor:
    # What each of them needs is loaded once, before they are born of this process.
    import sensitivity.spreads.special_functions  # noqa: F401  for its being imported

    alone = interrupts.are_ours()  # as a program of its own, and not in someone's notebook
    return ProcessPoolExecutor(workers, initializer=_begin, initargs=(alone,))


def _end(pool: ProcessPoolExecutor) -> None:
    """End a pool's processes now; a softer signal can be lost on one that is just being born."""
    processes = list((getattr(pool, "_processes", None) or {}).values())
    manager = getattr(pool, "_executor_manager_thread", None)
    pool.shutdown(wait=False, cancel_futures=True)
    for process in processes:
        process.kill()
    if manager is not None:
        # Or it shuts its pipe while Python, on its way out, writes to it.
        manager.join(SECONDS_TO_END)


def _begin(hushed: bool) -> None:
    """Begin a worker: interrupts are the parent's to handle, and the worker ends with it."""
    _crews.clear()  # those are the parent's
    keep_freed_blocks()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    for name in interrupts.SIGNALS:
        number = getattr(signal, name)
        if signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, signal.SIG_DFL)
    if hushed:
        # A process that is not forked has nothing of what its parent said of libraries.
        warnings.simplefilter("ignore")
        logging.getLogger().addHandler(logging.NullHandler())
    if sys.platform == "linux":
        _ask_kernel_to_end_with_parent()
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _ask_kernel_to_end_with_parent() -> None:
    """Be killed when the parent ends, even inside a model that gives no thread its turn."""
    try:
        import ctypes

        ctypes.CDLL(None).prctl(PARENT_DEATH_SIGNAL, int(signal.SIGKILL), 0, 0, 0)
    except (ImportError, OSError, AttributeError):
        return  # the thread that watches the parent does it, if a little later


def _end_with_parent() -> None:
    import multiprocessing

    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
