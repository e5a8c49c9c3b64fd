"""One computation at a time: each in a process of its own, killed when something newer is asked.

Where the system can fork, processes are forked from one that has everything loaded; elsewhere each
loads for itself, which takes a second or two. So the next one is started in good time, and waits.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from multiprocessing.connection import Connection
from typing import Any

from sensitivity.drawing_board.task import LAST_QUICK, Task

Hear = Callable[[Mapping[str, Any]], None]

_WARM = "sensitivity.drawing_board.warm"


@dataclass(frozen=True)
class _Hand:
    """A process that does one task, and how it is spoken with."""

    process: Any
    connection: Connection

    def end(self) -> None:
        """End it, whatever it does."""
        self.kill()
        self.process.join(timeout=5.0)
        self.connection.close()

    def kill(self) -> None:
        """End it and its workers at once."""
        if hasattr(os, "killpg"):
            with contextlib.suppress(OSError):  # gone, or only just begun
                os.killpg(self.process.pid, signal.SIGKILL)
        self.process.kill()


class Jobs:
    """Who computes: at most one process, the newest asked, and the next that stands ready.

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
        self._hand: _Hand | None = None
        self._ready: _Hand | None = None
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
            if self._hand is not None:
                self._hand.kill()
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
                    break
                task, self._wanted, number = self._wanted, None, self._number
            assert task is not None
            self._do(task, number)
        if self._ready is not None:
            self._ready.end()

    def _do(self, task: Task, number: int) -> None:
        """Have a task done by the process that stands ready, and hear it to its end."""
        hand = self._ready or self._begun()
        self._ready = None
        with self._changed:
            self._hand = hand
            newest = number == self._number
        if newest:
            with contextlib.suppress(OSError):  # it is gone; its end is heard below
                hand.connection.send(task)
            self._listen(hand.connection, number)
        with self._changed:
            self._hand = None
        hand.end()

    def _begun(self) -> _Hand:
        """Start a process that waits for a task."""
        from sensitivity.drawing_board.thinking import work

        connection, theirs = self._context.Pipe()
        process = self._context.Process(target=work, args=(theirs, self._usual))
        process.start()
        theirs.close()
        return _Hand(process, connection)

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
                if self._ready is None and (done or message.get("stage") == LAST_QUICK):
                    self._ready = self._begun()  # so that the next edit need not wait for one
        except (EOFError, OSError):
            if not done:
                self._tell({"kind": "ended"}, number)

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
