"""The answer of ``learn``, as one value."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

from sensitivity.answers.answer import Answer, Call
from sensitivity.answers.learn.document import learn_body
from sensitivity.answers.learn.find import Learnt, find_learnt
from sensitivity.answers.learn.screen import learn_screen
from sensitivity.answers.learn.tables import (
    dimensions_table,
    next_table,
    readings_table,
    suspects_table,
    trials_table,
    works_table,
)
from sensitivity.answers.learn.words import learn_verdict
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.errors import CallError, FolderError, MachineError
from sensitivity.learning.bench import bench_of
from sensitivity.learning.symptoms import symptoms_of
from sensitivity.learning.trials_file import ToldTrial, read_trials, trials_in_call
from sensitivity.presentation.blocks import Block, Figure, Page
from sensitivity.presentation.table import Table
from sensitivity.quantities.text_files import UnreadableError, as_text, read_regular
from sensitivity.study.doubts import LARGEST_DOUBTS, DoubtsError, read_doubts
from sensitivity.study.study import Study


@dataclass(frozen=True, repr=False)
class LearnAnswer(Answer[Learnt]):
    """What trials say: how it stands, where to look, what of the physics, which trial next."""

    command: ClassVar[str] = "learn"

    @property
    def verdict(self) -> str:
        """How it stands, where to set it, where to look first, which trial next."""
        return learn_verdict(self.found)

    def screen(self) -> Sequence[Block]:
        """What was seen, how many work, suspects, readings, what was learnt, the next trial."""
        return learn_screen(self.found)

    def page(self) -> Page:
        """The write-up, with procedures to print."""
        from sensitivity.answers.learn.report import learn_page

        return learn_page(self.found, self.drawings, self.repeat)

    def body(self) -> dict[str, Any]:
        """All that the trials say, as plain values."""
        return learn_body(self.found)

    def save_doubts(self, path: str | Path) -> Path:
        """Keep what was learnt of the physics in a file that a next study takes.

        Raises
        ------
        CallError
            Where the study has no doubts to learn of.
        FolderError
            Where the file is there and is not such a file.
        MachineError
            Where it cannot be written.
        """
        with self.doubts_beside(path) as put_in_place:
            put_in_place()
        return Path(path)

    @contextmanager
    def doubts_beside(self, path: str | Path) -> Iterator[Callable[[], None]]:
        """As ``save_doubts`` in two steps: written beside the file, then put in its place.

        Between the two something else may be written, and where that fails, or this is never put
        in place, no file is left.
        """
        target = Path(path)
        if self.found.kept is None:
            raise CallError(f"{self.found.study.name} has no input of kind model that varies")
        check_doubts_file(target)
        beside = target.with_name(f".{target.name}.{os.getpid()}")
        try:
            with _written(target):
                beside.write_text(self.found.kept.to_json(), encoding="utf-8")

            def put_in_place() -> None:
                with _written(target):
                    beside.replace(target)

            yield put_in_place
        finally:
            beside.unlink(missing_ok=True)

    def _sheets(self) -> Sequence[Table]:
        found = self.found
        dimensions, doubts = "What the trials say of each dimension", "What they say of the physics"
        return [
            works_table(found),
            trials_table(found),
            *([] if found.fault is None else [suspects_table(found, found.fault)]),
            readings_table(found),
            dimensions_table(found, found.dimensions, "dimensions", dimensions),
            dimensions_table(found, found.doubts, "doubts", doubts),
            next_table(found),
        ]

    def _drawn(self) -> Sequence[Figure]:
        from sensitivity.answers.learn.figures import learn_figures

        return learn_figures(self.found)


@contextmanager
def _written(target: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        reason = (error.strerror or "a fault of the machine").lower()
        raise MachineError(f"{target} cannot be written: {reason}") from None


def check_doubts_file(path: Path) -> None:
    """Refuse to write over a file that is there and is not one of kept doubts."""
    if not path.parent.is_dir():
        raise FolderError(f"{path.parent} is not a folder; name another file with --save-doubts")
    if not path.exists():
        return
    try:
        read_doubts(as_text(read_regular(path, LARGEST_DOUBTS)))
    except (OSError, UnreadableError, DoubtsError):
        raise FolderError(
            f"{path} is there and is no file of kept doubts; name another, or move it away"
        ) from None


def learn(
    study: Study,
    trials: str | Path | None = None,
    *,
    seen: Mapping[str, str] | Sequence[str] = (),
    at: Mapping[str, str] | Sequence[str] = (),
    instruments: Mapping[str, str] | Sequence[str] = (),
    believe: bool = False,
    options: RunOptions = DEFAULTS,
) -> LearnAnswer:
    """Learn from trials: of this part, its dimensions, the physics, and the fault.

    Parameters
    ----------
    study : Study
        As drawn, with limits.
    trials : str or Path, optional
        A TOML file of ``[[trials]]``.
    seen : mapping or sequence of str
        What was seen in one trial more: ``{"flood_margin": "broken", "rise": "8.2 mm"}``, or
        words: ``["it floods"]``.
    at : mapping or sequence of str
        What was held in that trial: ``{"grade": "0.5 %"}``.
    instruments : mapping or sequence of str
        With what each value of it was read: ``{"rise": "digital_caliper"}``.
    believe : bool
        Go on in spite of a conflict with what is stated.
    options : RunOptions
        How much is sampled, by whom, and who is told.

    Returns
    -------
    LearnAnswer
        Shares with their intervals; inputs in their own units.

    Raises
    ------
    StudyError
        With all the faults of the trials.
    CallError
        Where the study has no limits, nothing was seen, a trial was heard already, or what was
        seen is in conflict with what is stated.
    """
    symptoms = symptoms_of(study, bench_of(study).symptoms)
    told: tuple[ToldTrial, ...] = ()
    if trials is not None:
        told = read_trials(trials, study, symptoms)
    words, held, used = _pairs(seen), _pairs(at), _pairs(instruments)
    if words or held or used:
        told += trials_in_call(study, symptoms, seen=words, at=held, instruments=used)
    if not told:
        raise CallError(
            'nothing was seen: say --trials FILE.toml, or --seen "it floods" --at grade="0.5 %"'
        )
    call = Call(
        (),
        {
            "--trials": None if trials is None else str(trials),
            "--seen": words,
            "--at": held,
            "--with": used,
            "--believe": believe,
        },
    )
    found = find_learnt(options.asked_of(study), told, believe=believe, options=options)
    return LearnAnswer(found, call)


def _pairs(stated: Mapping[str, str] | Sequence[str]) -> tuple[str, ...]:
    """Write what is stated of each name as a call does: ``name=words``."""
    if isinstance(stated, Mapping):
        return tuple(f"{name}={words}" for name, words in stated.items())
    return tuple(stated)
