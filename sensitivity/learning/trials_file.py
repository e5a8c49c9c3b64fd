"""Reading what was seen in trials: from a file, or from a call, with the same checks as a study.

All faults at once, each with its line, its key, what was found and what would be right. A file of
trials is data: it runs no code, and names no other file.
"""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sensitivity.errors import Fault, MachineError, QuantityError, StudyError, nearest, shortened
from sensitivity.learning.observations import EventSeen, Seen, Trial
from sensitivity.learning.seen_values import value_seen
from sensitivity.learning.symptoms import Symptom, meant_by
from sensitivity.presentation import wording
from sensitivity.presentation.units_said import said_by
from sensitivity.quantities.quantity import read_quantity, suggesting
from sensitivity.quantities.text_files import UnreadableError, as_text, read_regular
from sensitivity.study.caps import LONGEST_NAME, LONGEST_TITLE
from sensitivity.study.faults import Faults
from sensitivity.study.form import echo
from sensitivity.study.study import Input, Limit, Study
from sensitivity.study.toml_lines import Path as KeyPath
from sensitivity.study.toml_lines import outline

LARGEST_TRIALS = 64 << 10  # bytes
MOST_TRIALS = 100
SHORT = 30
"""Letters of the words that a limit is listed with."""
MOST_SEEN = 20
"""Things seen in one trial."""
OWN_KEYS = ("title", "identifier", "seen")


@dataclass(frozen=True, slots=True)
class ToldTrial:
    """A trial and how it was told.

    Attributes
    ----------
    trial : Trial
    conditions : tuple of str
        What was held, in words: ``grade 0.5 %``.
    seen : tuple of str
        What was seen, in words, as many as the trial has.
    """

    trial: Trial
    conditions: tuple[str, ...]
    seen: tuple[str, ...]


def read_trials(
    path: str | Path, study: Study, symptoms: Sequence[Symptom] = ()
) -> tuple[ToldTrial, ...]:
    """Read a file of trials in a study's names and units.

    Parameters
    ----------
    path : str or Path
        A TOML file of ``[[trials]]``.
    study : Study
        What was built and tried.
    symptoms : sequence of Symptom
        What a builder's words may mean.

    Raises
    ------
    StudyError
        With all the faults of the file.
    MachineError
        Where it may not be read.
    """
    path = Path(path)

    def refuse(problem: str, line: int | None = None) -> StudyError:
        return StudyError(str(path), [Fault("", problem, line)], where="these trials")

    try:
        text = as_text(read_regular(path, LARGEST_TRIALS))
    except UnreadableError as error:
        raise refuse(str(error)) from None
    except OSError as error:
        raise MachineError(f"{path} cannot be read: {(error.strerror or '').lower()}") from None
    found = outline(text)
    if found.too_much is not None:
        raise refuse(*found.too_much)
    try:
        content = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise refuse(f"not TOML: {shortened(str(error))}") from None
    faults = Faults(found.lines)
    with suggesting(inches=study.units == "inch"):
        return trials_from_tables(content, study, symptoms, faults=faults, where=str(path))


def trials_in_call(
    study: Study,
    symptoms: Sequence[Symptom],
    *,
    seen: Iterable[str],
    at: Iterable[str] = (),
    instruments: Iterable[str] = (),
) -> tuple[ToldTrial, ...]:
    """Read the one trial that a call tells of.

    Parameters
    ----------
    study : Study
        What was built and tried.
    symptoms : sequence of Symptom
        What a builder's words may mean.
    seen : iterable of str
        ``RESULT=broken``, ``RESULT=kept``, ``RESULT=QUANTITY``, or words: "it floods".
    at : iterable of str
        ``INPUT=QUANTITY``, what was held.
    instruments : iterable of str
        ``RESULT=INSTRUMENT``, with what a quantity was read.

    Raises
    ------
    StudyError
        With all faults.
    """
    faults = Faults()
    used = _pairs(instruments, "--with", faults)
    table: dict[str, Any] = dict(_pairs(at, "--at", faults))
    told: dict[str, Any] = {}
    for text in seen:
        name, equals, value = (part.strip() for part in text.partition("="))
        if not equals:
            told[name] = "broken"
        elif value in ("broken", "kept") or name not in used:
            told[name] = value
        else:
            told[name] = {"value": value, "instrument": used.pop(name)}
    for name in used:
        faults.add((f"--with {name}",), f"nothing was read of it; {nearest(name, told)}")
    content = {"trials": [{"title": "as told in the call", **table, "seen": told}]}
    return trials_from_tables(content, study, symptoms, faults=faults, where="--seen", root=())


def _pairs(stated: Iterable[str], option: str, faults: Faults) -> dict[str, str]:
    found: dict[str, str] = {}
    for pair in stated:
        name, equals, text = (part.strip() for part in pair.partition("="))
        if name and equals and text:
            found[name] = text
        else:
            faults.add((option,), f'found "{pair}"; write it like {option} NAME=VALUE')
    return found


def trials_from_tables(
    content: Mapping[str, Any],
    study: Study,
    symptoms: Sequence[Symptom],
    *,
    faults: Faults,
    where: str,
    root: KeyPath | None = None,
) -> tuple[ToldTrial, ...]:
    """Check the plain tables of a file of trials.

    Parameters
    ----------
    content : mapping
        As TOML gives it.
    study, symptoms : Study, sequence of Symptom
        What was built, and what a builder's words may mean.
    faults : Faults
        Takes what is wrong.
    where : str
        What a message names.
    root : tuple, optional
        Of the keys of the one trial there is; ``trials.0`` and so on in a file.

    Raises
    ------
    StudyError
        With all faults.
    """
    for key in content:
        if key != "trials":
            faults.add((key,), f"unknown key; {nearest(key, ('trials',))}")
    rows = content.get("trials", [])
    told: list[ToldTrial] = []
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        faults.add(("trials",), "should be written as [[trials]], one for each trial")
    elif len(rows) > MOST_TRIALS:
        faults.add(
            ("trials", MOST_TRIALS), f"{len(rows)} trials; at most {MOST_TRIALS} can be read"
        )
    elif not rows:
        faults.add((), "no trials; write [[trials]] with what was seen")
    else:
        told = [
            _trial(row, place, study, symptoms, ("trials", place) if root is None else root, faults)
            for place, row in enumerate(rows)
        ]
        _check_apart(told, faults)
    if faults.found:
        raise StudyError(where, faults.found, where="these trials")
    return tuple(told)


def _check_apart(told: Sequence[ToldTrial], faults: Faults) -> None:
    first: dict[str, int] = {}
    for place, one in enumerate(told):
        name = one.trial.identifier
        if name in first:
            problem = (
                f'"{name}" is the trial number {first[name] + 1} again; tell it once, or give '
            )
            problem += 'each an identifier = "..." of its own'
            faults.add(("trials", place), problem)
        first.setdefault(name, place)


def _trial(
    row: Mapping[str, Any],
    place: int,
    study: Study,
    symptoms: Sequence[Symptom],
    path: KeyPath,
    faults: Faults,
) -> ToldTrial:
    title = _text(row, "title", f"trial {place + 1}", LONGEST_TITLE, path, faults)
    digest = hashlib.sha256(json.dumps(row, sort_keys=True, default=str).encode()).hexdigest()
    identifier = _text(row, "identifier", f"{title} ({digest[:8]})", LONGEST_NAME, path, faults)
    held, conditions = _held(row, study, path, faults)
    seen, words = _seen(row.get("seen"), study, symptoms, (*path, "seen"), faults)
    return ToldTrial(Trial(identifier, title, held, seen), conditions, words)


def _text(
    row: Mapping[str, Any], key: str, default: str, longest: int, path: KeyPath, faults: Faults
) -> str:
    value = row.get(key, default)
    if not isinstance(value, str) or not value.strip():
        faults.add((*path, key), f'found {echo(value)}; should be text in quotes, like "..."')
        return default
    if len(value) > longest and key in row:
        faults.add((*path, key), f"found {echo(value)}; should be at most {longest} characters")
    return value.strip()


def _held(
    row: Mapping[str, Any], study: Study, path: KeyPath, faults: Faults
) -> tuple[dict[str, float], tuple[str, ...]]:
    """Read what was held, by input; a value of a step may stand in a table of its own."""
    held: dict[str, float] = {}
    words = []
    for key, stated, where in _flat(row, path):
        # A condition of a schedule is held in all its steps where none is named.
        items = [i for i in study.inputs if i.name == key or i.name.startswith(f"{key}.")]
        if not items:
            known = {*(item.name for item in study.inputs), *OWN_KEYS}
            faults.add(where, f"no input to hold; {nearest(key, known)}")
            continue
        values = {item.name: _held_at(item, stated, study, where, faults) for item in items}
        found = {name: value for name, value in values.items() if value is not None}
        if len(found) == len(items):
            held.update(found)
            words.append(f"{wording.in_words(key)} {stated}")
    return held, tuple(words)


def _held_at(
    item: Input, stated: Any, study: Study, where: KeyPath, faults: Faults
) -> float | None:
    """Read at what one input was held; None, and a fault, where it cannot have been."""
    if not isinstance(stated, str | int | float) or isinstance(stated, bool):
        problem = f"found {echo(stated)}; should be what it was held at, like "
        faults.add(where, f'{problem}"{wording.drawn(item)}"; leave out what was not')
        return None
    try:
        value = read_quantity(stated, item.unit)
    except QuantityError as error:
        faults.add(where, str(error))
        return None
    physical = next(each.range for each in study.system.inputs if each.name == item.name)
    if not physical.holds(value):
        shown = wording.with_unit(f"{value:g}", item.unit)
        faults.add(where, f"found {shown}; physically it is {physical.stated}")
        return None
    return value


def _flat(row: Mapping[str, Any], path: KeyPath) -> Iterable[tuple[str, Any, KeyPath]]:
    for key, stated in row.items():
        if key in OWN_KEYS:
            continue
        if isinstance(stated, Mapping):
            for step, value in stated.items():
                yield f"{key}.{step}", value, (*path, key, step)
        else:
            yield key, stated, (*path, key)


def _seen(
    told: Any,
    study: Study,
    symptoms: Sequence[Symptom],
    path: KeyPath,
    faults: Faults,
) -> tuple[tuple[Seen, ...], tuple[str, ...]]:
    if isinstance(told, str):
        told = [told]
    if isinstance(told, list):
        if not all(isinstance(text, str) for text in told):
            faults.add(path, 'should be words in quotes, like seen = ["it floods"]')
            return (), ()
        told = dict.fromkeys(told, "broken")
    if not isinstance(told, Mapping) or not told:
        faults.add(path, 'wants what was seen, like seen = { flood_margin = "broken" }')
        return (), ()
    if len(told) > MOST_SEEN:
        faults.add(path, f"{len(told)} things seen; at most {MOST_SEEN} in one trial")
        return (), ()
    seen: list[Seen] = []
    words: list[str] = []
    for name, stated in told.items():
        found = _one(name, stated, study, symptoms, (*path, name), faults)
        if found is None:
            continue
        if any(one.result == found[0].result for one in seen):
            faults.add((*path, name), f"{found[0].result} is seen twice in one trial")
            continue
        seen.append(found[0])
        words.append(found[1])
    return tuple(seen), tuple(words)


def _one(
    name: str,
    stated: Any,
    study: Study,
    symptoms: Sequence[Symptom],
    path: KeyPath,
    faults: Faults,
) -> tuple[Seen, str] | None:
    known = {item.name: item.unit for item in study.system.results}
    known |= {item.name: item.unit for item in study.inputs}
    if stated in ("broken", "kept"):
        limit = _limit(name, symptoms, path, faults)
        if limit is None:
            return None
        text = (
            f"{wording.in_words(limit.limit.result)} {event_in_words(study, limit.limit, stated)}"
        )
        if name != limit.limit.result:
            text = f'"{name}": {text}'
        return EventSeen(limit.limit.result, stated == "broken"), text
    if name not in known:
        faults.add(path, f"no result; {nearest(name, known)}")
        return None
    return value_seen(name, stated, said_by(study).spread_of(name), path, faults)


def event_in_words(study: Study, limit: Limit, stated: str) -> str:
    """Write a limit as it was seen: ``at least 0 mm``, or ``under 0 mm`` where it was broken."""
    words = said_by(study).limit(limit)
    if stated == "kept":
        return words
    if limit.at_least is not None and limit.at_most is not None:
        return f"outside {words}"
    kept, turned = ("at least", "under") if limit.at_least is not None else ("at most", "over")
    return words.replace(kept, turned, 1)


def _limit(name: str, symptoms: Sequence[Symptom], path: KeyPath, faults: Faults) -> Symptom | None:
    """Find the limit that is named, or that a builder's words mean."""
    meant = meant_by(name, symptoms)
    if len(meant) == 1:
        return meant[0]
    shown = "; ".join(
        f"{each.limit.result} ({each.words[0]})"
        if len(each.words[0]) <= SHORT
        else each.limit.result
        for each in meant or symptoms
    )
    if meant:
        faults.add(path, f"may be any of several limits; name one: {shown}")
    else:
        faults.add(path, f"is no limit of this study, nor words for one; there are: {shown}")
    return None
