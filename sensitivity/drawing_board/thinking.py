"""What is worked out in a process of its own: how many work, the drawing, then ever closer.

It tells what it finds as it finds it, and is killed when something newer is asked: so nothing
late is ever told, and no model need be asked to stop.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from multiprocessing import parent_process
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import numpy as np

from sensitivity.answers.levels import headline, sampled
from sensitivity.answers.run import run
from sensitivity.drawing_board.acting import act, told_of
from sensitivity.drawing_board.task import LAST_QUICK, SEED, Task
from sensitivity.engine.intervals import Proportion, proportion
from sensitivity.engine.moments import of_kinds
from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import Plan, plan_run
from sensitivity.engine.two_levels import LevelSizes, TwoLevels, plain_passes, two_levels
from sensitivity.errors import SpiritlevelError
from sensitivity.presentation.drawing import plan_drawings, study_drawings
from sensitivity.presentation.labelled import blank_views, labelled_views
from sensitivity.presentation.page import inline_svg
from sensitivity.presentation.units_said import said_by
from sensitivity.study.starter import not_counted
from sensitivity.study.starter_counted import counts_given
from sensitivity.study.study import Study
from sensitivity.system.catalogue import find_models
from sensitivity.system.system import wire

FIRST = (4, 512)
"""Replicates and points of the first yield: there within half a second. Few calls of many rows."""
QUICK = (8, 256)
"""Of the first count of those that work."""
WHOLE = (8, 1024)
"""Of what decides it and what to do first."""

Send = Callable[[Mapping[str, Any]], None]


def work(connection: Connection, usual: str) -> None:
    """Wait for a task, do it and tell what is found, until all is told or nobody listens.

    ``usual`` is how this system starts processes, of which the task may want some of its own: they
    would else be started as this one was, and load everything again.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(os, "setsid"):
        os.setsid()  # so that this and its workers are ended together
    multiprocessing.set_start_method(usual, force=True)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    try:
        task = connection.recv()
    except EOFError:
        return
    _do(task, connection)


def _do(task: Task, connection: Connection) -> None:
    lock = threading.Lock()

    def send(message: Mapping[str, Any]) -> None:
        with lock:
            connection.send({"revision": task.revision, **message})

    try:
        if task.action is None:
            think(task, send)
        else:
            told = act(task, options_of(send, "it is being worked out"))
            send({"kind": "acted", **told})
    except SpiritlevelError as error:
        send({"kind": "refused", "problem": str(error)})
    except BrokenPipeError:
        return
    except Exception as error:
        send(
            {
                "kind": "refused",
                "problem": "a fault in spiritlevel itself, not in your study: "
                f"{type(error).__name__}: {error}",
            }
        )
    send({"kind": "done", "acted": task.action is not None})


def think(task: Task, send: Send) -> None:
    """Find how many work coarsely, draw the study, then count closer, then what decides it."""
    study = task.study
    if study is None:
        send({"kind": "views", "views": _blank(task)})
        return
    judged = bool(study.limits and study.varying)
    stages: dict[str, Callable[[], dict[str, Any] | None]] = {
        "moments": lambda: (judged and _first(study)) or None,
        "views": lambda: {"kind": "views", "views": _labelled(study)},
        "drawing": lambda: {"kind": "drawing", "drawings": _to_scale(study)},
        "parts": lambda: (judged and _counted(study, send)) or None,
        "whole": lambda: (judged and _whole(study, send)) or None,
        "closer": lambda: (judged and _closer(study, send)) or None,
    }
    for stage, find in stages.items():
        if stage in task.known:
            continue
        found = find()
        if found is not None:
            send({"stage": stage, **found})
        send({"kind": "stage", "stage": stage})
        if stage == LAST_QUICK:
            _make_way()


def _make_way() -> None:
    """Let the page and the next edit come first from here on."""
    if hasattr(os, "nice"):
        os.nice(5)
    with contextlib.suppress(OSError):  # Linux shares the processor by sessions, others do not
        Path("/proc/self/autogroup").write_text("5", encoding="ascii")


def quick(study: Study) -> None:
    """Do what comes first after an edit, for practice: what is read but once is then read."""
    if study.limits and study.varying:
        _first(study)
    _labelled(study)


def _first(study: Study) -> dict[str, Any]:
    return {"kind": "level", **first_yield(study, _plan(study, *FIRST))}


def _to_scale(study: Study) -> list[dict[str, str]]:
    if not study.varying:
        return _drawings(study_drawings(study, {}))
    return _drawings(plan_drawings(study, _plan(study, *FIRST)))


def _counted(study: Study, send: Send) -> dict[str, Any]:
    options = options_of(send, f"{study.vocabulary.many} are being counted", workers=1)
    sizes = LevelSizes(builds=16)
    levels = two_levels(_plan(study, *QUICK), keeps=study.keeps, sizes=sizes, options=options)
    return {"kind": "level", **_level(levels, study)}


def _whole(study: Study, send: Send) -> dict[str, Any]:
    replicates, points = WHOLE
    points = min(points, study.sampling.points)
    options = replace(
        options_of(send, "what decides it"), seed=_seed(study), replicates=replicates, points=points
    )
    found = run(study, options=options)
    level = {} if found.levels is None else _level(found.levels, study)
    return {"kind": "answer", "level": level, **told_of(found)}


def _closer(study: Study, send: Send) -> dict[str, Any]:
    plan = _plan(study, study.sampling.replicates, study.sampling.points)
    options = options_of(send, "the figure is made closer")
    return {"kind": "level", **_level(two_levels(plan, keeps=study.keeps, options=options), study)}


def first_yield(study: Study, plan: Plan) -> dict[str, Any]:
    """Find how often every limit is kept at random, from a few points; and say so.

    That is no count of those that work, unless every moment is alike: it is told as what it is,
    and has no place on the scale of those.
    """
    passes = np.array([plain_passes(plan, each) for each in range(plan.sampling.replicates)])
    share = proportion(passes, 2 * plan.sampling.points, plan.sampling.confidence)
    moments = bool(of_kinds(plan, "running"))
    levels = TwoLevels(
        works=share,
        share=share,
        keeps=study.keeps,
        moments=1,
        parts=1,
        evaluations=share.rows,
        correction=0.0,
        pilot=1,
        band=None,
        no_band=None,
        one_level=None if moments else "no running inputs",
    )
    if not moments:
        return _level(levels, study)
    many = study.vocabulary.many
    kept = sampled(share).partition(" (")[0]
    return {
        "words": f"Kept at a moment taken at random: {kept} of 100. "
        f"{many.capitalize()} that work: being counted.",
        "short": f"{many} that work: being counted",
        "counted": False,
        **_share(share),
    }


def _level(levels: TwoLevels, study: Study) -> dict[str, Any]:
    band = None if levels.band is None else [levels.band.low.value, levels.band.high.value]
    words = " ".join(headline(levels, study))
    work = sampled(levels.works).partition(" (")[0]
    return {
        "words": words,
        "short": f"{work} of 100 {study.vocabulary.many} work",
        "counted": True,
        "band": band,
        **_share(levels.works),
    }


def _share(share: Proportion) -> dict[str, Any]:
    return {"value": share.value, "low": share.low, "high": share.high}


def _plan(study: Study, replicates: int, points: int) -> Plan:
    return plan_run(_sampled(study, replicates, points))


def _sampled(study: Study, replicates: int, points: int) -> Study:
    sampling = replace(
        study.sampling,
        seed=_seed(study),
        replicates=replicates,
        points=points,
        target_half_width=None,
    )
    return replace(study, sampling=sampling)


def _seed(study: Study) -> int:
    return SEED if study.sampling.seed is None else study.sampling.seed


def _labelled(study: Study) -> list[dict[str, Any]]:
    said = said_by(study)
    return [
        {"title": view.title, "svg": view.svg, "names": list(view.names)}
        for view in labelled_views(study, said.drawn)
    ]


def _blank(task: Task) -> list[dict[str, Any]]:
    import tomllib

    content = tomllib.loads(task.text)
    names, stated = content.get("models", []), content.get("inputs", {})
    if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
        return []
    try:
        system = wire(find_models(tuple(names), task.model_files))
    except SpiritlevelError:
        return []
    given = {
        name: str(table["nominal"])
        for name, table in (stated.items() if isinstance(stated, dict) else ())
        if isinstance(table, dict) and isinstance(table.get("nominal"), str | int | float)
    }
    sizes = counts_given(system, stated)
    return [
        {"title": view.title, "svg": view.svg, "names": list(view.names)}
        for view in blank_views(system, given, sizes=sizes, without=not_counted(system, sizes))
    ]


def _drawings(drawn: Mapping[str, tuple[str, str]]) -> list[dict[str, str]]:
    return [
        {"name": name, "words": words, "svg": str(inline_svg(svg, name, words))}
        for name, (svg, words) in drawn.items()
    ]


@dataclass
class _Told:
    """Progress, told to the page."""

    send: Send
    stage: str

    def done(self, count: int, total: int) -> None:
        """Tell how far it is."""
        self.send({"kind": "progress", "stage": self.stage, "count": count, "total": total})

    def close(self) -> None:
        """Tell nothing: the next stage will."""


def options_of(send: Send, stage: str, workers: int | None = None) -> RunOptions:
    """Options of a run whose progress the page is told."""
    return RunOptions(workers=workers, progress=lambda: _Told(send, stage))


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        if hasattr(os, "killpg"):
            os.killpg(0, signal.SIGKILL)
        os._exit(1)
