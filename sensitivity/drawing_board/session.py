"""What is on the board: one study's text, every edit of it, and what was refused."""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sensitivity.drawing_board import journal
from sensitivity.drawing_board.edits import (
    Change,
    asked_back,
    value_at,
    with_its_unit,
    with_those_counted,
)
from sensitivity.drawing_board.texts import study_of, tables_of
from sensitivity.drawing_board.whose_word import with_whose_word
from sensitivity.errors import CallError, Fault, MachineError, SpiritlevelError, StudyError
from sensitivity.presentation.units_said import unit_said
from sensitivity.quantities.text_files import UnreadableError, as_text, read_regular
from sensitivity.study.caps import LARGEST_STUDY
from sensitivity.study.starter import starter_study
from sensitivity.study.study import Study, Units
from sensitivity.system.catalogue import Quantity, available_models, find_models
from sensitivity.system.system import System, wire

_FILE = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _-]{0,60}\.toml")


@dataclass(frozen=True)
class Sheet:
    """One text of a study, read: the study itself, or what is still wrong with it."""

    text: str
    content: Mapping[str, Any]
    study: Study | None
    faults: tuple[Fault, ...] = ()


def read_sheet(text: str, path: Path, model_files: tuple[str, ...]) -> Sheet:
    """Read a study's text by the study's own checks.

    Raises
    ------
    StudyError
        Where it is no TOML at all.
    """
    try:
        study = study_of(text, path, model_files)
    except StudyError as error:
        try:
            content = tables_of(text)
        except (ValueError, RecursionError):
            raise error from None
        return Sheet(text, content, None, error.faults)
    return Sheet(text, tables_of(text), study)


@dataclass
class Session:
    """The board: where the study stands, its text as saved and as it is, and the way there.

    Attributes
    ----------
    path : Path
        The study's file; there need be none yet.
    model_files : tuple of str
        Named on the command line; the page can name none.
    sheet : Sheet or None
        What is on the board; None until models are chosen.
    saved : str
        What stands in the file.
    revision : int
        Goes up with each change of the text: an answer to an older one is not shown.
    refused : dict
        Values that were typed and are wrong, by dotted key, with what is wrong.
    note : str
        What the builder should know of how it began.
    """

    path: Path
    model_files: tuple[str, ...] = ()
    sheet: Sheet | None = None
    saved: str = ""
    revision: int = 1
    past: list[str] = field(default_factory=list)
    future: list[str] = field(default_factory=list)
    refused: dict[str, dict[str, str]] = field(default_factory=dict)
    note: str = ""

    @property
    def saved_content(self) -> Mapping[str, Any]:
        """What stands in the file, as plain tables."""
        return tables_of(self.saved)

    @property
    def unsaved(self) -> bool:
        """Whether what is on the board is not what stands in the file."""
        return self.sheet is not None and self.sheet.text != self.saved


def open_session(path: Path, model_files: tuple[str, ...] = (), *, new: bool = False) -> Session:
    """Lay a study on the board, with what was not saved of it.

    Parameters
    ----------
    path : Path
        The study.
    model_files : tuple of str
        Files with models of one's own.
    new : bool
        Whether there need be no file yet.

    Raises
    ------
    StudyError
        Where the file cannot be read as TOML.
    """
    path = path.resolve()
    session = Session(path, model_files)
    if not (new and not path.exists()):
        session.saved = _on_disk(path)
        session.sheet = read_sheet(session.saved, path, model_files)
    kept = journal.read_journal(path)
    if kept is not None:
        _recover(session, kept)
    return session


def _recover(session: Session, kept: journal.Kept) -> None:
    """Take up what was not saved; of an older text of the file, it can be undone in one step."""
    texts = list(kept.texts)
    session.refused = dict(kept.refused)
    if not texts:
        return
    same = kept.of == journal.mark_of(session.saved)
    try:
        sheet = read_sheet(texts[-1], session.path, session.model_files)
    except StudyError:
        session.note = f"{journal.place_of(session.path).name} cannot be read and is left alone."
        return
    session.past = [session.saved, *texts[:-1]] if same else [session.saved]
    session.past = [text for text in session.past if text]
    session.sheet = sheet
    if not session.unsaved:
        return
    session.note = (
        "Edits that were not saved are back on the board."
        if same
        else f"{session.path.name} was changed elsewhere since these edits, which were not saved. "
        "They are on the board; undo gives the file as it stands."
    )


def begin(
    session: Session, names: Sequence[str], file: str | None = None, units: Units = "mm"
) -> None:
    """Lay a starter study of these models on the board: what ``spiritlevel new`` writes.

    Raises
    ------
    CallError
        Where a study is there already, or the file's name will not do.
    WiringError
        Where a model is not known, or they do not join.
    """
    if session.sheet is not None:
        raise CallError("a study is on the board already")
    if file is not None and file != session.path.name:
        if not _FILE.fullmatch(file):
            raise CallError(f'"{file[:60]}": a plain name in this folder, like "my burner.toml"')
        session.path = session.path.with_name(file)
    if session.path.exists():
        raise CallError(f"{session.path.name} is there already; give another name")
    known = {model.name for model in available_models(session.model_files)}
    if not names or not set(names) <= known:
        raise CallError("choose one model or more of those listed")
    system = wire(find_models(tuple(dict.fromkeys(names)), session.model_files))
    _step(session, starter_study(system, units))


def edit(session: Session, changes: Sequence[Change]) -> bool:
    """Make changes if the study's own checks take them; tell whether they do.

    What they do not take is kept as typed, with what is wrong, and nothing else is lost. While a
    study is not whole yet, a change need only bring no fault of its own.
    """
    if session.sheet is None:
        raise CallError("no study is on the board yet")
    units = units_of(session)
    full = [
        with_its_unit(one, units.get(one.path[1], "")) if len(one.path) == 3 else one
        for one in changes
    ]
    if any(_asked_back(session, *each, units) for each in zip(changes, full, strict=True)):
        return False
    full = with_whose_word(full, session.sheet.content)
    text = with_those_counted(session.sheet.text, full, system_of(session), units_on(session))
    sheet = read_sheet(text, session.path, session.model_files)
    new = _new_faults(session.sheet, sheet, full)
    keys = {".".join(change.path) for change in changes}
    if new:
        typed = {".".join(one.path): one.value for one in changes if one.value is not None}
        at = next((fault.key for fault in new if fault.key in typed), None)
        key = at or next(iter(typed), new[0].key)
        session.refused[key] = {
            "value": _as_typed(typed.get(key, "")),
            "problem": "; ".join(dict.fromkeys(fault.problem for fault in new)),
        }
        journal.add_step(session.path, session.saved, {"refused": session.refused})
        return False
    cleared = {key: each for key, each in session.refused.items() if key not in keys}
    if cleared != session.refused:
        session.refused = cleared
        journal.add_step(session.path, session.saved, {"refused": cleared})
    if sheet.text != session.sheet.text:
        _step(session, sheet.text, sheet)
    return True


def _asked_back(session: Session, typed: Change, one: Change, units: Mapping[str, str]) -> bool:
    """Ask once whether a size is meant that is far from what stood there."""
    if session.sheet is None or len(one.path) != 3:
        return False
    unit, key = units.get(one.path[1], ""), ".".join(one.path)
    problem = asked_back(one, value_at(session.sheet.content, one.path), unit)
    before = typed._replace(value=session.refused.get(key, {}).get("value"))
    if not problem or with_its_unit(before, unit) == one:
        return False
    session.refused[key] = {"value": _as_typed(typed.value), "problem": problem}
    journal.add_step(session.path, session.saved, {"refused": session.refused})
    return True


def undo(session: Session) -> None:
    """Take the last step back."""
    if session.sheet is not None and session.past:
        text = session.past.pop()
        session.future.append(session.sheet.text)
        _lay(session, text)


def redo(session: Session) -> None:
    """Take a step that was taken back again."""
    if session.sheet is not None and session.future:
        text = session.future.pop()
        session.past.append(session.sheet.text)
        _lay(session, text)


def save(session: Session, *, over: bool = False) -> None:
    """Write the study's file, whole or not at all.

    Parameters
    ----------
    session : Session
        What is on the board.
    over : bool
        Write over what was changed elsewhere meanwhile.

    Raises
    ------
    CallError
        Where the file was changed elsewhere since it was read.
    MachineError
        Where it cannot be written.
    """
    if session.sheet is None:
        raise CallError("no study is on the board yet")
    path = session.path
    there = _on_disk(path) if path.exists() else ""
    if there not in (session.saved, session.sheet.text) and not over:
        raise CallError(
            f"{path.name} was changed elsewhere since it was opened here. Save again to write over "
            "that, or copy it away first"
        )
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
        try:
            with os.fdopen(handle, "w", encoding="utf-8", newline="") as stream:
                stream.write(session.sheet.text)
                stream.flush()
                os.fsync(stream.fileno())
            if path.exists():
                shutil.copymode(path, name)
            else:
                os.chmod(name, 0o644)
            os.replace(name, path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise MachineError(
            f"{path.name} cannot be written: {(error.strerror or '').lower()}"
        ) from None
    session.saved = session.sheet.text
    session.note = ""
    journal.end_journal(path)
    if session.refused:
        journal.add_step(path, session.saved, {"refused": session.refused})


def quantities_of(session: Session) -> tuple[tuple[Quantity, ...], tuple[Quantity, ...]]:
    """Inputs and results of the models on the board; none where they do not join."""
    system = system_of(session)
    return (system.inputs, system.results) if system else ((), ())


def system_of(session: Session) -> System | None:
    """The models on the board, joined; None where they do not join."""
    if session.sheet is None:
        return None
    if session.sheet.study is not None:
        return session.sheet.study.system
    names = session.sheet.content.get("models", [])
    if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
        return None
    try:
        return wire(find_models(tuple(names), session.model_files))
    except SpiritlevelError:
        return None


def units_of(session: Session) -> dict[str, str]:
    """Unit of each input and result by name, as the study says it: in inches or in mm."""
    units = units_on(session)
    return {
        quantity.name: unit_said(quantity.unit, units)
        for group in quantities_of(session)
        for quantity in group
    }


def units_on(session: Session) -> Units:
    """Units in which what is on the board is said."""
    sheet = session.sheet
    if sheet is not None and sheet.study is not None:
        return sheet.study.units
    return "inch" if sheet is not None and sheet.content.get("units") == "inch" else "mm"


def _step(session: Session, text: str, sheet: Sheet | None = None) -> None:
    """Lay a new text on the board, and keep it before anybody is told."""
    sheet = sheet or read_sheet(text, session.path, session.model_files)
    journal.add_step(session.path, session.saved, {"text": text})
    if session.sheet is not None:
        session.past = [*session.past, session.sheet.text][-journal.MOST_STEPS :]
    session.future = []
    session.sheet = sheet
    session.revision += 1


def _lay(session: Session, text: str) -> None:
    sheet = read_sheet(text, session.path, session.model_files)
    if text == session.saved and not session.refused:
        journal.end_journal(session.path)
    else:
        journal.add_step(session.path, session.saved, {"text": text})
    session.sheet = sheet
    session.revision += 1


def _new_faults(before: Sheet, after: Sheet, changes: Sequence[Change]) -> list[Fault]:
    """Faults that changes bring: all of a study that was whole, else those at what is changed."""
    if before.study is not None:
        return list(after.faults)
    old = {(fault.key, fault.problem) for fault in before.faults}
    keys = {".".join(one.path) for one in changes if one.value is not None}
    tables = {".".join(one.path[:2]) for one in changes if len(one.path) == 3}
    return [
        fault
        for fault in after.faults
        if (fault.key, fault.problem) not in old and (fault.key in keys or fault.key in tables)
    ]


def _as_typed(value: Any) -> str:
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)


def _on_disk(path: Path) -> str:
    try:
        return as_text(read_regular(path, LARGEST_STUDY))
    except UnreadableError as error:
        raise StudyError(str(path), [Fault("", str(error))]) from None
    except OSError as error:
        raise MachineError(f"{path} cannot be read: {(error.strerror or '').lower()}") from None
