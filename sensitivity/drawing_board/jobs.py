"""One computation at a time: each in a process of its own, killed when something newer is asked.

Where the system can fork, processes are forked from one that has everything loaded; elsewhere each
loads for itself, which takes a second or two.
"""

from __future__ import annotations

import multiprocessing
import threading
from collections.abc import Callable, Mapping
from multiprocessing.connection import Connection
from typing import Any

from sensitivity.drawing_board.task import Task

Hear = Callable[[Mapping[str, Any]], None]

_WARM = "sensitivity.drawing_board.warm"


class Jobs:
    """Who computes: at most one process, the newest asked.

    Processes are started and ended by a thread of its own, so that whoever asks need not wait.
    """

    def __init__(self, hear: Hear) -> None:
        """Take whom to tell; he is told from a thread of its own."""
        ways = multiprocessing.get_all_start_methods()
        self._context: Any = multiprocessing.get_context(
            "forkserver" if "forkserver" in ways else "spawn"
        )
        if "forkserver" in ways:
            self._context.set_forkserver_preload([_WARM])
        self._usual = multiprocessing.get_start_method()
        self._hear = hear
        self._changed = threading.Condition()
        self._number = 0
        self._wanted: Task | None = None
        self._over = False
        self._process: Any = None
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def start(self, task: Task) -> None:
        """Have a task done; what is under way ends, and no more is told of it."""
        self._want(task)

    def cancel(self) -> None:
        """End what is under way; nothing more is told of it."""
        self._want(None)

    def close(self) -> None:
        """End what is under way, and begin nothing more."""
        with self._changed:
            self._over = True
        self._want(None)
        self._thread.join(timeout=5.0)

    def _want(self, task: Task | None) -> None:
        with self._changed:
            self._number += 1
            self._wanted = task
            if self._process is not None:
                self._process.kill()
            self._changed.notify_all()

    def _run(self) -> None:
        """Start what is wanted, hear it to its end, and start what is wanted then."""
        if "forkserver" in multiprocessing.get_all_start_methods():
            from multiprocessing.forkserver import ensure_running

            ensure_running()  # it loads while the page does
        while True:
            with self._changed:
                while self._wanted is None and not self._over:
                    self._changed.wait()
                if self._over:
                    return
                task, self._wanted, number = self._wanted, None, self._number
            assert task is not None
            self._do(task, number)

    def _do(self, task: Task, number: int) -> None:
        from sensitivity.drawing_board.thinking import work

        listening, telling = self._context.Pipe(duplex=False)
        process = self._context.Process(target=work, args=(task, telling, self._usual))
        process.start()
        telling.close()
        with self._changed:
            self._process = process
            if number != self._number:
                process.kill()
        self._listen(listening, number)
        with self._changed:
            self._process = None
        process.join(timeout=5.0)
        process.close() if process.exitcode is not None else process.kill()

    def _listen(self, listening: Connection, number: int) -> None:
        done = False
        try:
            while True:
                # Workers of a killed process may hold its end open for a while: not waited for.
                while not listening.poll(0.05):
                    if not self._newest(number):
                        return
                message = listening.recv()
                done = done or message["kind"] == "done"
                if not self._tell(message, number):
                    return
        except (EOFError, OSError):
            if not done:
                self._tell({"kind": "ended"}, number)
        finally:
            listening.close()

    def _newest(self, number: int) -> bool:
        with self._changed:
            return number == self._number

    def _tell(self, message: Mapping[str, Any], number: int) -> bool:
        """Tell it if it is still the newest; tell whether it is."""
        with self._changed:
            if number != self._number:
                return False
            self._hear(message)
            return True
