"""What the page shows at once: the study as stated, its results as drawn, and what is wrong."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import ceil, floor, log10, nan
from typing import Any, get_args

from sensitivity.answers.check.find import Checked, Stacked
from sensitivity.answers.check.words import check_verdict
from sensitivity.drawing_board.html import blocks_html, named_rows
from sensitivity.drawing_board.page_words import on_the_page
from sensitivity.drawing_board.session import Session, quantities_of, system_of, units_of, units_on
from sensitivity.presentation import cells, wording
from sensitivity.presentation.blocks import Block, Words
from sensitivity.presentation.table import Cell, Column, Row, Table
from sensitivity.presentation.units_said import Manner, Said, said_by
from sensitivity.presentation.workshop_words import sizes_too, strays
from sensitivity.spreads.shape_words import shape_in_words
from sensitivity.spreads.workshop import Kind, quantity_of, workshop_table
from sensitivity.study.form import InputTable
from sensitivity.study.starter import not_counted
from sensitivity.study.starter_counted import counts_given, exact_beside_others
from sensitivity.study.study import Input, Limit, Study
from sensitivity.study.tubes import takes_a_tube
from sensitivity.system.catalogue import Quantity, available_models
from sensitivity.system.setting_out import SettingOut, setting_out_of, sketch_numbers
from sensitivity.system.together import exclusive
from sensitivity.system.vocabulary import NEUTRAL

_KINDS: tuple[Kind, ...] = ("process", "instrument")
_MANY = {"process": "processes", "instrument": "instruments"}
MOST_SETTINGS = 60
"""Settings between which a slider moves, at most."""
_SHAPES: tuple[str, ...] = get_args(get_args(InputTable.model_fields["shape"].annotation)[0])
"""Shapes that a study may state."""


def catalogue(session: Session) -> dict[str, Any]:
    """What can be chosen: models, and the workshop's processes and instruments."""
    units = units_on(session)
    said = Said(units)
    models = tuple(available_models(session.model_files))
    sets = exclusive(models)
    return {
        "units": units,
        "models": [
            {
                "name": model.name,
                "words": wording.in_words(model.name),
                "apart": [
                    wording.in_words(name)
                    for name in dict.fromkeys(name for names in sets for name in names)
                    if name != model.name and any({name, model.name} <= {*each} for each in sets)
                ],
                "about": model.description.split("\n\n")[0].replace("\n", " "),
            }
            for model in models
        ],
        "shapes": [{"name": shape, "words": shape_in_words(shape)} for shape in _SHAPES],
        **{
            _MANY[kind]: [
                {
                    "name": entry.name,
                    "words": wording.instrument(entry.name),
                    "says": sizes_too(entry.says, said),
                    "quantity": entry.quantity,
                    "leaves": strays(entry, said),
                    "basis": entry.basis,
                    "source": entry.source,
                }
                for entry in workshop_table(kind).values()
            ]
            for kind in _KINDS
        },
    }


def face(session: Session) -> dict[str, Any]:
    """Lay out the board: what is stated of each dimension, what follows, what is wrong."""
    sheet = session.sheet
    study = sheet.study if sheet else None
    said = said_by(study) if study else None
    return near(session) | {
        "file": session.path.name,
        "fresh": session.saved == "",
        "note": session.note,
        "changes": _changes(session),
        "cautions": (study.vocabulary if study else NEUTRAL).cautions,
        "units": units_on(session),
        "inputs": _inputs(session, said),
        "results": _results(session),
    }


def near(session: Session) -> dict[str, Any]:
    """What an edit is answered with first: the margins as drawn, and what is wrong."""
    sheet = session.sheet
    study = sheet.study if sheet else None
    found: dict[str, Any] = {
        "revision": session.revision,
        "empty": sheet is None,
        "title": str(sheet.content.get("title", session.path.stem)) if sheet else "",
        "unsaved": session.unsaved,
        "undo": bool(session.past),
        "redo": bool(session.future),
        "refused": session.refused,
        "faults": [
            {
                "key": fault.key,
                "problem": fault.problem,
                "like": fault.asked.example.strip('"') if fault.asked else None,
            }
            for fault in (sheet.faults if sheet else ())
        ],
        "whole": study is not None,
        "exact": _exact(session),
        "drawn": None,
    }
    if study is not None:
        found |= _followed(study, said_by(study))
    return found


def _exact(session: Session) -> list[str]:
    """Name those held exactly beside others of their kind that vary."""
    system = system_of(session)
    stated = session.sheet.content.get("inputs", {}) if session.sheet else {}
    if system is None or not isinstance(stated, Mapping):
        return []
    return exact_beside_others(system, stated)


def _changes(session: Session) -> list[dict[str, str]]:
    """What differs from the file: each key with what stood there and what stands there now."""
    if session.sheet is None or not session.unsaved:
        return []
    before = dict(_keys(session.saved_content, ()))
    after = dict(_keys(session.sheet.content, ()))
    return [
        {
            "key": ".".join(path),
            "words": ", ".join(map(wording.in_words, path[1:] or path)),
            "before": before.get(path, ""),
            "after": after.get(path, ""),
        }
        for path in dict.fromkeys([*after, *before])
        if before.get(path) != after.get(path)
    ]


def _keys(value: Any, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], str]]:
    if isinstance(value, Mapping):
        for key, each in value.items():
            yield from _keys(each, (*path, str(key)))
    else:
        yield path, ", ".join(map(str, value)) if isinstance(value, list) else str(value)


def _inputs(session: Session, said: Said | None) -> list[dict[str, Any]]:
    """Every input in the order of the sketch numbers, then as the study has them."""
    sheet = session.sheet
    if sheet is None:
        return []
    quantities, _ = quantities_of(session)
    stated = sheet.content.get("inputs", {})
    stated = stated if isinstance(stated, Mapping) else {}
    study = sheet.study
    items = {item.name: item for item in study.inputs} if study else {}
    numbers, units = _numbers(session), units_of(session)
    system = system_of(session)
    less = not_counted(system, counts_given(system, stated)) if system else frozenset[str]()
    quantities = tuple(q for q in quantities if q.name in stated or q.name not in less)
    order = list(stated)
    rank = {name: place for place, name in enumerate(order)}
    quantities = tuple(
        sorted(
            quantities,
            key=lambda q: (numbers.get(q.name, 10**6), rank.get(q.name, 10**6)),
        )
    )
    out = setting_out_of(system.models) if system else SettingOut()
    counts = {by for by, _ in out.counted.values()} | {q.name for q in quantities if q.yes_or_no}
    return [
        _input(
            q,
            stated.get(q.name),
            items.get(q.name),
            said,
            numbers.get(q.name),
            units[q.name],
            q.name in counts,
        )
        for q in quantities
    ]


def _numbers(session: Session) -> Mapping[str, int]:
    sheet = session.sheet
    if sheet is None:
        return {}
    system = sheet.study.system if sheet.study else system_of(session)
    return sketch_numbers(system) if system else {}


def _input(
    quantity: Quantity,
    stated: Any,
    item: Input | None,
    said: Said | None,
    number: int | None,
    unit: str,
    counts: bool,
) -> dict[str, Any]:
    """Lay out one input; what is counted, or is a yes or a no, is not read with an instrument."""
    table = stated if isinstance(stated, Mapping) else {}
    return {
        "name": quantity.name,
        "words": wording.in_words(quantity.name),
        "meaning": quantity.meaning,
        "unit": unit,
        "quantity": "count" if counts else quantity_of(quantity.unit),
        "range": quantity.range.stated,
        "number": number,
        "kind": item.kind if item else table.get("kind", quantity.kind or "build"),
        "stated": {key: value for key, value in table.items() if _showable(value)},
        "given": isinstance(stated, Mapping),
        "drawn": said.drawn(item) if said and item else str(table.get("nominal", "")),
        "spread": said.stated(item) if said and item and item.spread else "",
        "sourced": item.sourced if item else True,
        "tube": takes_a_tube(quantity.name),
        "settings": _settings(item, said) if item and said else [],
        "at": setting(item.nominal, said.of(item.name)) if item and said else None,
    }


def _settings(item: Input, said: Said) -> list[dict[str, Any]]:
    """Lay out what an input can be set to when assembled: as a study writes it, and as it reads."""
    if item.adjust is None:
        return []
    manner = said.of(item.name)
    low, high = (end * manner.factor for end in item.adjust)
    step = _round_step((high - low) / MOST_SETTINGS)
    first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
    drawn = item.nominal * manner.factor
    values = sorted(
        {
            low,
            high,
            *([drawn] if low <= drawn <= high else []),
            *(step * place for place in range(first, last + 1)),
        }
    )
    return [setting(value / manner.factor, manner) for value in values]


def setting(value: float, manner: Manner) -> dict[str, Any]:
    """Lay a value out for a slider, whatever unit it was typed in: all in the study's own."""
    own = value * manner.factor
    return {
        "value": own,
        "stated": f"{own:.10g} {manner.unit}".rstrip(),
        "reads": manner.text(value),
    }


def _round_step(least: float) -> float:
    """Round a step up to 1, 2 or 5 of a power of ten."""
    power = 10.0 ** floor(log10(least))
    return power * next(digit for digit in (1.0, 2.0, 5.0, 10.0) if digit * power >= 0.999 * least)


def _showable(value: Any) -> bool:
    return isinstance(value, str | int | float | bool | list)


def _results(session: Session) -> list[dict[str, Any]]:
    sheet = session.sheet
    if sheet is None:
        return []
    (_, quantities), units = quantities_of(session), units_of(session)
    stated = sheet.content.get("limits", {})
    stated = stated if isinstance(stated, Mapping) else {}
    return [
        {
            "name": q.name,
            "words": wording.in_words(q.name),
            "meaning": q.meaning,
            "unit": units[q.name],
            "quantity": quantity_of(q.unit),
            "read": q.read_as is not None,
            "stated": dict(stated[q.name]) if isinstance(stated.get(q.name), Mapping) else None,
        }
        for q in quantities
    ]


def _followed(study: Study, said: Said) -> dict[str, Any]:
    """Results as drawn, each limit with its margin, and in words what is broken."""
    results = study.nominal_results()
    blocks: list[Block] = [Words(_as_drawn(study, results)), margins_table(study, results, said)]
    return {
        "drawn": {
            "html": blocks_html(blocks),
            "rows": named_rows(blocks, frozenset(results)),
        }
    }


def _as_drawn(study: Study, results: Mapping[str, float]) -> str:
    """Say what ``check`` does of the nominals alone, before its stack-ups are worked out."""
    limits = {limit.result: limit for limit in study.limits}
    none = (nan, nan)
    stacked = tuple(
        Stacked(name, "", value, none, none, limits.get(name)) for name, value in results.items()
    )
    return on_the_page(check_verdict(Checked(study, stacked, 0.0)))


def margins_table(study: Study, results: Mapping[str, float], said: Said) -> Table:
    """Lay out each limit: what must be, what is as drawn, and how far inside that lies."""
    return Table(
        "margins",
        "As drawn",
        (
            Column("result", ("output",)),
            Column("must be", ("at_least", "at_most")),
            Column("as drawn", ("nominal",), right=True),
            Column("to spare", ("margin",), right=True),
        ),
        tuple(_row(limit, results[limit.result], said) for limit in study.limits),
    )


def _row(limit: Limit, value: float, said: Said) -> Row:
    manner, margin = said.of(limit.result), float(limit.margin(value))
    if manner.yes_or_no:
        spare = "kept" if margin >= 0.0 else "broken"
    else:
        spare = manner.text(margin) if margin >= 0.0 else f"{manner.text(margin)}: broken"
    return Row(
        (
            cells.named(limit.result),
            Cell(said.limit(limit), (limit.at_least, limit.at_most)),
            Cell(manner.text(value), (value,)),
            Cell(spare if margin == margin else wording.NO_VALUE, (margin,)),
        )
    )
