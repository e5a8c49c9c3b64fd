"""The commands as actions of the page: the same answers, the same folders, the same words."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import replace
from typing import Any

from sensitivity.answers.answer import Answer, Call
from sensitivity.answers.built import built
from sensitivity.answers.check import check
from sensitivity.answers.compare import compare
from sensitivity.answers.compare.answer import CompareAnswer
from sensitivity.answers.learn import learn
from sensitivity.answers.learn.answer import LearnAnswer, check_doubts_file
from sensitivity.answers.measure import measure
from sensitivity.answers.redraw import redraw
from sensitivity.answers.run import run
from sensitivity.answers.run.answer import RunAnswer
from sensitivity.answers.tighten import tighten
from sensitivity.answers.window import window
from sensitivity.answers.window.answer import WindowAnswer
from sensitivity.drawing_board.differing import side_by_side
from sensitivity.drawing_board.face import setting
from sensitivity.drawing_board.html import blocks_html, named_rows
from sensitivity.drawing_board.page_words import blocks_on_the_page, on_the_page
from sensitivity.drawing_board.task import AS_SAVED, SEED, Action, Task
from sensitivity.engine.options import RunOptions
from sensitivity.presentation import wording
from sensitivity.presentation.page import CARD, REPORT
from sensitivity.presentation.units_said import said_by
from sensitivity.study.file import read_study, study_of_text
from sensitivity.study.study import Study

Answers = Callable[[Study, Action, RunOptions], Answer[Any]]

TARGET = 0.95
"""Share that is to work, where the page asks for none."""


def act(task: Task, options: RunOptions) -> dict[str, Any]:
    """Do what was asked on what is on the board.

    Returns
    -------
    dict
        The answer's screen as HTML, its verdict, the command for the same, and the folder that
        was written, if one was wanted.

    Raises
    ------
    SpiritlevelError
        As the command does.
    """
    action = task.action
    study = task.study
    assert action is not None
    assert study is not None
    seed = SEED if study.sampling.seed is None else study.sampling.seed
    options = replace(options, seed=seed)
    if action.command == "compare":
        answer: Answer[Any] = _compared(study, task, action, options)
    elif action.command == "learn":
        answer = _learnt(study, task, action, options)
    elif action.command == "built":
        answer = _built(study, task, action, options)
    else:
        answer = _ANSWERS[action.command](study, action, options)
    told = told_of(answer)
    if isinstance(answer, CompareAnswer):
        called = [each.name for each in answer.studies]
        told["sides"] = (
            side_by_side(reversed(answer.studies), reversed(called))
            if (action.other == AS_SAVED)
            else side_by_side(answer.studies, called)
        )
    if isinstance(answer, WindowAnswer):
        told["strip"] = strip_of(answer)
    with ExitStack() as stack:
        put_in_place = None
        if isinstance(answer, LearnAnswer) and action.doubts:
            beside = answer.doubts_beside(task.path.with_name(action.doubts))
            put_in_place = stack.enter_context(beside)
        if action.write:
            folder = task.path.with_name(f"{task.path.stem}{action.suffix}")
            answer.save(folder)
            told["folder"] = folder.name
            told["pages"] = [name for name in (REPORT, CARD) if (folder / name).is_file()]
        if put_in_place is not None:
            put_in_place()
            told["doubts"] = action.doubts
    return {"action": action.command, **told}


def told_of(answer: Answer[Any]) -> dict[str, Any]:
    """What the page shows of an answer: its screen, and the command for the same."""
    blocks = list(blocks_on_the_page(answer.screen()))
    names = frozenset(item.name for study in answer.studies for item in study.inputs)
    results = frozenset(q.name for study in answer.studies for q in study.system.results)
    return {
        "command": answer.repeat,
        "verdict": on_the_page(answer.verdict),
        "wanted": _wanted(answer),
        "html": blocks_html(blocks),
        "rows": named_rows(blocks, names | results),
    }


def _wanted(answer: Answer[Any]) -> list[dict[str, str]]:
    """Name the fields that the answer would have filled in: of which input, and which."""
    asked = answer.found.nominal.asked if isinstance(answer, RunAnswer) else None
    if asked is None:
        return []
    name = asked.nominal.item.name
    return [{"name": name, "words": wording.in_words(name), "key": "redraw"}]


def strip_of(answer: WindowAnswer) -> dict[str, Any]:
    """Lay the window out for a slider: each setting as a study writes it, and what works there."""
    found = answer.found
    manner = said_by(found.study).of(found.item.name)
    return {
        "name": found.item.name,
        "chosen": found.chosen,
        "best": found.best,
        "target": found.target,
        "single": bool(found.stated.one_level),
        "settings": [
            {
                **setting(one.value, manner),
                "works": None if one.works is None else one.works.value,
                "keeps": one.overall.value,
            }
            for one in found.settings
        ],
    }


def _compared(study: Study, task: Task, action: Action, options: RunOptions) -> Answer[Any]:
    if action.other == AS_SAVED:
        before = study_of_text(task.saved, task.path, task.model_files)
        edited = replace(study, name=f"{study.name}_edited")
        return compare(before, edited, options=options)
    path = task.path.with_name(action.other)
    return compare(
        study, read_study(path, task.model_files), paths=(task.path, path), options=options
    )


def _window(study: Study, action: Action, options: RunOptions) -> Answer[Any]:
    target = TARGET if action.target is None else action.target
    return window(
        study,
        *action.inputs,
        lowest=action.lowest,
        highest=action.highest,
        step=action.step,
        target=target,
        options=options,
    )


def _measure(study: Study, action: Action, options: RunOptions) -> Answer[Any]:
    return measure(study, target=action.target, at_hand=action.at_hand, options=options)


def _built(study: Study, task: Task, action: Action, options: RunOptions) -> Answer[Any]:
    answer = built(
        study,
        measured=action.measured,
        instruments=action.instruments,
        readings=task.path.parent / action.readings if action.readings else None,
        believe=action.believe,
        options=options,
    )
    said: dict[str, object] = {"--readings": action.readings or None, "--believe": action.believe}
    return _as_typed(answer, said)


def _as_typed(answer: Answer[Any], said: dict[str, object]) -> Answer[Any]:
    """Give an answer with its call as somebody types it who stands in the study's folder."""
    return replace(answer, call=Call(answer.call.words, {**answer.call.options, **said}))


def _learnt(study: Study, task: Task, action: Action, options: RunOptions) -> Answer[Any]:
    if action.doubts:
        check_doubts_file(task.path.with_name(action.doubts))
    answer = learn(
        study,
        task.path.parent / action.trials if action.trials else None,
        seen=action.seen,
        at=action.at,
        instruments=action.instruments,
        believe=action.believe,
        options=options,
    )
    return _as_typed(
        answer, {"--trials": action.trials or None, "--save-doubts": action.doubts or None}
    )


_ANSWERS: dict[str, Answers] = {
    "run": lambda study, action, options: run(study, options=options),
    "check": lambda study, action, options: check(study),
    "window": _window,
    "measure": _measure,
    "tighten": lambda study, action, options: tighten(study, target=action.target, options=options),
    "redraw": lambda study, action, options: redraw(study, options=options),
}
