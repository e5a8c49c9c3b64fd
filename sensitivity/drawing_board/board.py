"""The board as the page knows it: what it may ask, and what it is told.

One session, one computation. Every change gets a new revision, ends what is under way and begins
anew; whatever is told bears the revision that it is about.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Mapping
from pathlib import Path
from typing import Any

from sensitivity.drawing_board import session as sessions
from sensitivity.drawing_board.beside import beside
from sensitivity.drawing_board.edits import read_changes
from sensitivity.drawing_board.face import face, near
from sensitivity.drawing_board.jobs import Jobs
from sensitivity.drawing_board.session import Session
from sensitivity.drawing_board.task import Action, Task, read_action
from sensitivity.errors import CallError, SpiritlevelError
from sensitivity.presentation.json_values import to_json
from sensitivity.presentation.page import CARD, REPORT

MOST_LISTENING = 16
"""Pages of one browser that are told at once."""
MOST_WAITING = 400
"""Messages that a page may be behind; one that is further behind begins anew."""
UNASKED = 0.25
"""Seconds after an edit when work on it begins, though no page has told that it is shown."""


class Board:
    """A session, who computes for it, and the pages that listen."""

    def __init__(self, session: Session) -> None:
        """Take the session; nothing is computed before a page listens."""
        self.session = session
        self._written: dict[str, dict[str, Any]] = {}
        self._acted: dict[str, Any] | None = None
        self._windows: dict[str, dict[str, Any]] = {}
        self.stopping = asyncio.Event()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._listening: set[asyncio.Queue[str]] = set()
        self._told: dict[str, str] = {}
        self._jobs = Jobs(self._heard)
        self._begun = 0
        self._known: tuple[str, ...] = ()
        self._acting = False

    # --- what the page asks -------------------------------------------------------------------

    def state(self) -> dict[str, Any]:
        """What the page shows at once."""
        there = beside(self.session.path)
        return (
            face(self.session)
            | {"others": there.studies, "trials": there.trials}
            | {"readings": there.readings}
        )

    def edit(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        """Change what is stated; tell the margins, and the rest when the page has shown these."""
        changes = read_changes(asked.get("changes"))
        return self._moved(lambda session: {"taken": sessions.edit(session, changes)})

    def rest(self) -> dict[str, Any]:
        """What the page shows once it has painted the margins; what takes longer begins."""
        self._think_of(self.session.revision)
        return self.state()

    def step(self, move: Callable[[Session], None]) -> dict[str, Any]:
        """Undo or redo."""

        def moved(session: Session) -> dict[str, Any]:
            move(session)
            return {}

        return self._moved(moved)

    def _moved(self, move: Callable[[Session], dict[str, Any]]) -> dict[str, Any]:
        """Make a change, and tell what the margins are then."""
        before = self.session.revision
        told = move(self.session)
        if self.session.revision != before:
            self._forget()
            if self._loop is not None:
                self._loop.call_later(UNASKED, self._think_of, self.session.revision)
        return near(self.session) | told

    def save(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        """Write the study's file."""
        sessions.save(self.session, over=asked.get("over") is True)
        return self.state()

    def begin(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        """Lay a new study of the models asked for on the board."""
        names, file = asked.get("models"), asked.get("file")
        if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
            raise CallError("choose one model or more")
        sessions.begin(
            self.session,
            names,
            file if isinstance(file, str) and file else None,
            "inch" if asked.get("units") == "inch" else "mm",
        )
        self.think()
        return self.state()

    def act(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        """Do what a command does, on what is on the board."""
        action = read_action(asked, beside(self.session.path))
        if self.session.sheet is None or self.session.sheet.study is None:
            raise CallError("the study is not whole yet; see what is still to be given")
        self._start(action)
        return {"revision": self.session.revision}

    def stop_acting(self) -> dict[str, Any]:
        """End what is under way, and go on thinking about the study."""
        self._told.pop("progress", None)
        self._start(None)
        return {"revision": self.session.revision}

    # --- what is computed ---------------------------------------------------------------------

    def think(self) -> None:
        """Begin on what is on the board now."""
        self._forget()
        self._begun = self.session.revision
        if self.session.sheet is not None:
            self._start(None)

    def _forget(self) -> None:
        """End what is about an older drawing."""
        self._jobs.cancel()
        self._told.clear()
        self._known = ()

    def _think_of(self, revision: int) -> None:
        """Begin on a revision that is still the newest, and was not begun on yet."""
        if revision == self.session.revision != self._begun and not self.stopping.is_set():
            self.think()

    def _start(self, action: Action | None) -> None:
        sheet = self.session.sheet
        assert sheet is not None
        self._acting = action is not None
        self._jobs.start(
            Task(
                revision=self.session.revision,
                study=sheet.study,
                text=sheet.text,
                saved=self.session.saved,
                path=self.session.path,
                model_files=self.session.model_files,
                action=action,
                known=self._known,
            )
        )

    def _heard(self, message: Mapping[str, Any]) -> None:
        """Hear from the computation, in its own thread."""
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._tell, dict(message))

    def _tell(self, message: dict[str, Any]) -> None:
        revision = message.setdefault("revision", self.session.revision)
        if revision != self.session.revision:
            return
        kind = message["kind"]
        if kind == "stage":
            self._known = (*self._known, str(message["stage"]))
            return
        if kind == "acted":
            self._keep(message)
        if kind in ("done", "refused", "ended"):
            self._told.pop("progress", None)
        text = to_json(message, lines=0).strip()
        if kind not in ("done", "acted"):
            self._told[kind] = text
        for queue in list(self._listening):
            if queue.qsize() < MOST_WAITING:
                queue.put_nowait(text)
        if kind == "done" and self._acting and "whole" not in self._known:
            self._start(None)  # what the action came in between of

    def _keep(self, message: dict[str, Any]) -> None:
        """Keep an action's answer for a page that is loaded again, the drawing changed or not."""
        revision = message["revision"]
        self._acted = message
        if "folder" in message:
            folder = message["folder"]
            about = {key: message[key] for key in ("folder", "pages", "action", "revision")}
            self._written.pop(folder, None)
            self._written[folder] = about
        if "strip" in message:
            strip = message["strip"]
            self._windows[strip["name"]] = {"strip": strip, "revision": revision}

    def _kept(self) -> str:
        """Tell what earlier actions found and wrote."""
        return to_json(
            {
                "kind": "kept",
                "revision": self.session.revision,
                "acted": self._acted,
                "windows": self._windows,
                "written": list(self._written.values()),
            },
            lines=0,
        ).strip()

    async def events(self) -> AsyncIterator[str]:
        """Tell one page what is found, from what is known already on; until it goes."""
        self._loop = asyncio.get_running_loop()
        if len(self._listening) >= MOST_LISTENING:
            return
        queue: asyncio.Queue[str] = asyncio.Queue()
        for text in (self._kept(), *self._told.values()):
            queue.put_nowait(text)
        self._listening.add(queue)
        self._think_of(self.session.revision)
        try:
            yield "retry: 800\n\n"
            while not self.stopping.is_set():
                try:
                    text = await asyncio.wait_for(queue.get(), timeout=0.5)
                except TimeoutError:
                    yield ": still here\n\n"
                else:
                    yield f"data: {text}\n\n"
        finally:
            self._listening.discard(queue)

    def page_written(self, folder: str, name: str) -> Path | None:
        """Find a report or a card that was written from this page; None for anything else."""
        if folder not in self._written or name not in (REPORT, CARD):
            return None
        return self.session.path.with_name(folder) / name

    def close(self) -> None:
        """End what is under way."""
        self.stopping.set()
        self._jobs.close()


def refused(error: SpiritlevelError) -> dict[str, Any]:
    """What the page is told of what cannot be done."""
    return {"problem": str(error)}
